"""Counts that go on: "the ninth came out in two pieces", "there goes the other", "nine, ten, that's the lot in"."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from voicereport.statements.acts import Memory
from voicereport.statements.grammar import grammar
from voicereport.statements.holding import still_out
from voicereport.statements.tokens import Sentence, Token, whole_of
from voicereport.statements.values import MOVED, Act
from voicereport.wording.numbers import find_numbers

_LEAST = 3  #: a count that ends on fewer may be anything
_NEAR = 6  #: acts back to which a count goes on


def counted_on(sentences: Sequence[Sentence], here: Sequence[Act], memory: Memory) -> list[Act]:
    """The acts of a line, `here`, with what its words count on from what was counted before and no act says.

    memory: with the acts of the line. Nothing goes back that is not out.
    """
    acts = list(here)
    for sentence in sentences:
        if sentence.question:
            continue
        for piece in _pieces(sentence):
            acts = _with_the_other(acts, sentence, piece)
            acts = _with_nth(acts, sentence, piece, memory)
        acts = _with_the_lot(acts, sentence, memory)
        acts = _with_the_rest(acts, sentence, memory)
    return acts


def _pieces(sentence: Sentence) -> Iterator[Sequence[Token]]:
    """The words between pauses."""
    first = 0
    for n, token in enumerate(sentence.tokens):
        if token.mark or n == len(sentence.tokens) - 1:
            yield sentence.tokens[first : n + 1]
            first = n + 1


def _text(piece: Sequence[Token]) -> str:
    return " ".join(t.text for t in piece)


def _is_said_after(act: Act, sentence: Sentence, piece: Sequence[Token], found: re.Match[str]) -> bool:
    """Whether an act is told in the words that were found or after them."""
    at = min(len(found.string[: found.start()].split()), len(piece) - 1)
    return sentence.begins(act.span) and act.span.first >= piece[at].word


def _moved(acts: Sequence[Act]) -> list[Act]:
    """The acts that take fasteners out or put them in."""
    return [a for a in acts if a.kind == "fastener" and a.action in {"remove", "refit"} and a.status in MOVED]


def _goes_the_same_way(act: Act, way: str | None) -> bool:
    """Whether a particle is of an act's way; one that says no way ("too") is of either."""
    words = set((way or "").split())
    inward, outward = grammar().words["inward"], grammar().words["outward"]
    return not words & (outward if act.action == "refit" else inward)


def _with_the_other(acts: list[Act], sentence: Sentence, piece: Sequence[Token]) -> list[Act]:
    """Two where one moved and then the other: "one's off, and there goes the other"."""
    found = grammar().patterns["the_other"].search(_text(piece))
    moved = _moved(acts)
    if found is None or not moved or moved[-1].count != 1 or not _goes_the_same_way(moved[-1], found["way"]):
        return acts
    last = moved[-1]
    if _is_said_after(last, sentence, piece, found):
        return acts  # an act says the other one
    same = [a for a in moved if (a.action, a.part, a.holds) == (last.action, last.part, last.holds)]
    return acts if len(same) > 1 else [replace(a, count=2.0, plural=True) if a is last else a for a in acts]


def _with_nth(acts: list[Act], sentence: Sentence, piece: Sequence[Token], memory: Memory) -> list[Act]:
    """One more where it is called by its place: "eight out, and the ninth came out in two pieces"."""
    told = _nth(_text(piece))
    if told is None:
        return acts
    number, way, found = told
    moved = _moved(acts)
    if not moved:
        return [*acts, *_alone(number, way, sentence, memory)]
    last = moved[-1]
    own = number == 2 and _is_said_after(last, sentence, piece, found)
    if own or last.count != number - 1 or not _goes_the_same_way(last, way):
        return acts
    return [replace(a, count=number, plural=True) if a is last else a for a in acts]


def _nth(text: str) -> tuple[float, str, re.Match[str]] | None:
    """The number and the way of one more that moved, and where that is said."""
    for found in grammar().patterns["nth_moved"].finditer(text):
        number = find_numbers([found["nth"] or found["one"]])
        if len(number) == 1 and number[0].style == "ordinal" and number[0].value > 1:
            return number[0].value, found["by"] or found["to"], found
    return None


def _alone(number: float, way: str, sentence: Sentence, memory: Memory) -> list[Act]:
    """The one that a line by itself tells of: "that's the eighth one in", after seven of eight went back."""
    moved = _moved(memory.acts)
    last = moved[-1] if moved and moved[-1] in memory.acts[-_NEAR:] else None
    if last is None or not last.holds or not _goes_the_same_way(last, way):
        return []
    same = [a for a in moved if (a.action, a.part, a.holds) == (last.action, last.part, last.holds)]
    if any(a.count is None for a in same) or sum(a.count or 0 for a in same) != number - 1:
        return []
    if last.action == "refit" and not still_out(memory, last.part).get(last.holds):
        return []
    clause = whole_of(sentence)
    return [replace(last, span=clause.span(), visit=sentence.visit, count=1.0, plural=False, new=False)]


def _with_the_lot(acts: list[Act], sentence: Sentence, memory: Memory) -> list[Act]:
    """All that are out, where the end of their count and "that's the lot" put them back: "nine, ten, that's the lot".

    Only where as many came out as the count ends on, of one thing alone.
    """
    end = _counted_to(sentence)
    if end is None or _moved(acts) or grammar().patterns["the_lot"].search(sentence.text) is None:
        return acts
    told = {t.text for t in sentence.tokens}
    if told & grammar().words["outward"]:
        return acts
    kinds = dict.fromkeys(a.part for a in _moved(memory.acts))
    left = [(kind, held, n) for kind in kinds for held, n in still_out(memory, kind).items()]
    if len(left) != 1 or _came_out(left[0][0], left[0][1], memory) != end:
        return acts
    kind, held, count = left[0]
    clause = whole_of(sentence)
    back = Act(action="refit", part=kind, kind="fastener", status="done", span=clause.span(), visit=sentence.visit,
               count=count, plural=count > 1, holds=held)  # fmt: skip
    return [*(a for a in acts if not (sentence.begins(a.span) and a.part in {held, "everything"})), back]


def _with_the_rest(acts: list[Act], sentence: Sentence, memory: Memory) -> list[Act]:
    """All that are still out, where the rest went back: "two in the top. The rest are in", of eight, are six."""
    if grammar().patterns["the_rest"].search(sentence.text) is None:
        return acts
    out: list[Act] = []
    for act in acts:
        last = next(reversed(_moved(out)), None)
        own = sentence.begins(act.span) and act.action == "refit" and act.status in MOVED
        if not own or last is None or last.action != "refit" or not last.holds:
            out.append(act)
            continue
        said_again = act.kind == "fastener" and act.part == last.part and act.holds == last.holds
        left = still_out(memory, last.part).get(last.holds, 0.0) + ((act.count or 0.0) if said_again else 0.0)
        if left and (act.part == "everything" or (said_again and act.count == last.count)):
            out.append(replace(last, span=act.span, visit=act.visit, count=left, plural=left > 1))
        else:
            out.append(act)
    return out


def _counted_to(sentence: Sentence) -> float | None:
    """The number that the sentence counts to by the last two of its numbers that stand alone: "nine, ten, and …"."""
    small = grammar().words["counting"]
    told = []
    for piece in _pieces(sentence):
        kept = [t.text for t in piece if t.text not in small]
        number = find_numbers(kept) if len(kept) == 1 else ()
        if number and number[0].style == "cardinal":
            told.append(number[0].value)
    rising = len(told) > 1 and all(b == a + 1 for a, b in pairwise(told))
    return told[-1] if rising and told[-1] >= _LEAST else None


def _came_out(kind: str, held: str, memory: Memory) -> float:
    """How many of a kind came out of a thing since all of them were in it."""
    out, left = 0.0, 0.0
    for act in _moved(memory.acts):
        if act.part != kind or act.holds != held:
            continue
        way = 1 if act.action == "remove" else -1
        out = (out if left else 0.0) + ((act.count or 1) if way > 0 else 0.0)
        left = max(0.0, left + way * (act.count or 1))
    return out
