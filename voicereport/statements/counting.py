"""Fasteners that are counted aloud through a line ("Screws. One. Two. Three.") and totals said at its end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from voicereport.report import Action
from voicereport.statements.absent import without_absent
from voicereport.statements.acts import Memory
from voicereport.statements.grammar import grammar
from voicereport.statements.holding import alike, still_out
from voicereport.statements.names import names_in
from voicereport.statements.onward import counted_on
from voicereport.statements.tokens import Sentence, whole_of
from voicereport.statements.values import MOVED, Act
from voicereport.trades.words import Words, singular
from voicereport.wording.numbers import find_numbers

_WAYS: dict[Action, Literal["remove", "refit"]] = {
    "remove": "remove", "open": "remove", "peel": "remove", "refit": "refit", "replace": "refit", "close": "refit",
}  # fmt: skip
_LEAST = 3  #: a count of fewer may be anything
_MOST = 40  #: nobody counts more screws in one place


def counted(
    sentences: Sequence[Sentence], acts: Sequence[Act], start: int, words: Words, memory: Memory
) -> tuple[Act, ...]:
    """The acts of a line, `acts[start:]`, with what it counts aloud and the total that it ends on.

    sentences: of the line. acts: all of the recording so far. A total counts only what is missing from the acts
    before it: "Two more. That's the eight."
    """
    here = _one_way(acts[start:], acts[:start])
    run = _run(sentences)
    if run is not None and _is_of_plugs(run, here):
        here = [replace(here[0], count=run.last)]
    elif run is not None and not _of_other_things(run, sentences, here, words):
        here = _with_run(run, sentences, here, acts[:start], words, memory)
    for sentence in sentences:
        number = total(sentence.text)
        if number is not None and not sentence.question:
            here = _with_total(number, sentence, here, acts[:start])
    here = _of_the_kind_named(counted_on(sentences, here, memory), sentences)
    return tuple(without_absent(_without_subtotals(here, sentences), sentences))


def _of_the_kind_named(here: Sequence[Act], sentences: Sequence[Sentence]) -> list[Act]:
    """Without acts of a kind that the line does not name, where it says as many of another: "its three long screws"."""
    told = {singular(t.text) for s in sentences for t in s.tokens}
    named = {(a.action, a.count, a.holds) for a in here if a.kind == "fastener" and a.part.split()[-1] in told}
    return [
        a
        for a in here
        if a.kind != "fastener" or a.count is None or a.part.split()[-1] in told
        or (a.action, a.count, a.holds) not in named
    ]  # fmt: skip


def _one_way(here: Sequence[Act], before: Sequence[Act]) -> list[Act]:
    """The acts of a line; of fasteners that the same words take out and put in, the way of the line's parts stays.

    Where it moves none, that of the work before it: "and the two by the floor".
    """
    last = next((a for a in reversed(before) if a.action in _WAYS and a.status in MOVED), None)
    parts = {_WAYS[a.action] for a in here if a.kind != "fastener" and a.action in _WAYS and a.status in MOVED}
    if last is None and len(parts) != 1:
        return list(here)
    way = parts.pop() if len(parts) == 1 or last is None else _WAYS[last.action]
    mine = [(a.part, a.count, a.holds, a.span) for a in here if a.kind == "fastener" and a.action == way]
    return [a for a in here if a.kind != "fastener" or a.action not in {"remove", "refit"} or a.action == way
            or (a.part, a.count, a.holds, a.span) not in mine]  # fmt: skip


def _without_subtotals(here: list[Act], sentences: Sequence[Sentence]) -> list[Act]:
    """Without counts that a later one of the same line includes: "two out. There's a third. Three out"."""
    out = list(here)
    told = {t.text for s in sentences for t in s.tokens}
    for n, last in enumerate(here):
        if last.kind != "fastener" or last.count is None or last.action not in _WAYS or last.status not in MOVED:
            continue
        own = (last.action, last.part, last.holds, last.status)
        every = [a for a in here if a in out and a is not last and (a.action, a.part, a.holds, a.status) == own
                 and a.count is not None]  # fmt: skip
        if len(every) > 1 and sum(a.count or 0 for a in every) == last.count and told & grammar().words["in_total"]:
            out = [a for a in out if a not in every]
            continue
        parts = [a for a in here[:n] if a in out and _is_counted(a) and (a.action, a.part) == own[:2]]
        summed = _is_a_total(last, sentences) or _is_summed_up(last, sentences)
        if len(parts) > 1 and sum(a.count or 0 for a in parts) == last.count and summed:
            out = [a for a in out if a not in parts]
            continue
        same = [a for a in here[:n] if a in every]
        if len(same) != 1:
            continue
        count = same[0].count or 0
        between = _words_between(same[0], last, sentences)
        nth = any(o.style == "ordinal" and o.value == last.count for w in between for o in find_numbers([w]))
        if nth and count == last.count and _is_bare(last, sentences):
            out.remove(last)
        elif (nth or between & grammar().words["the_last"]) and count + 1 == last.count:
            out.remove(same[0])
    return out


def _is_counted(act: Act) -> bool:
    return act.kind == "fastener" and act.count is not None and act.action in _WAYS and act.status in MOVED


def _is_a_total(act: Act, sentences: Sequence[Sentence]) -> bool:
    """Whether an act is told by its number alone, of nothing that its sentence names: "eight, they're all out"."""
    own = next((s for s in sentences if s.begins(act.span)), None)
    small = grammar().words["implied_words"] | grammar().words["counting"]
    return own is not None and all(t.text in small or find_numbers([t.text]) for t in own.tokens)


def _is_summed_up(act: Act, sentences: Sequence[Sentence]) -> bool:
    """Whether the last number of the sentence that is an act's count is said as what others come to: "so four out"."""
    own = next((s for s in sentences if s.begins(act.span)), None)
    texts = [t.text for t in own.tokens] if own is not None else []
    places = [n for n, t in enumerate(texts) if any(f.value == act.count for f in find_numbers([t]))]
    return bool(places) and not grammar().words["sum_before"].isdisjoint(texts[max(0, places[-1] - 2) : places[-1]])


def _words_between(one: Act, other: Act, sentences: Sequence[Sentence]) -> set[str]:
    """The words of the line from where one act begins to where the other one does."""
    return {t.text for s in sentences for t in s.tokens if one.span.first <= t.word < other.span.first}


def _is_bare(act: Act, sentences: Sequence[Sentence]) -> bool:
    """True where the sentence of an act is no more than its number and a particle: "Three in." """
    own = next((s for s in sentences if s.begins(act.span)), None)
    return own is not None and len(own.tokens) <= 2


@dataclass(frozen=True, slots=True)
class _Run:
    last: float
    sentence: Sentence
    first: int  #: the token at which its last sentence begins to count


def _is_of_plugs(run: _Run, here: Sequence[Act]) -> bool:
    """Whether the only act of the line is of the plugs or wires that it counts: "the wires, one, two, three"."""
    if len(here) != 1 or here[0].action not in {"disconnect", "reconnect"} or here[0].status not in MOVED:
        return False
    act = here[0]
    return act.plural and act.count is None and act.span.segment == run.sentence.segment.id


def _of_other_things(run: _Run, sentences: Sequence[Sentence], here: Sequence[Act], words: Words) -> bool:
    """Whether plugs, mounts, the seconds before a start are counted."""
    own = [n for n in names_in(whole_of(run.sentence), words) if n.first < run.first]
    gripping = grammar().words["gripping"] | grammar().words["pegs"]  # "the wire's in its clips, one, two, three"
    if own and own[-1].kind == "fastener" and own[-1].part.split()[-1] not in gripping:
        return False  # "fan's plugged in. Screws, one, two, three"
    if any(a.kind in {"connector", "wiring", "tube"} or a.action in {"restore_power", "run_test"} for a in here):
        return True
    before = [n for s in sentences[: sentences.index(run.sentence)] for n in names_in(whole_of(s), words)]
    before += own
    return bool(before) and before[-1].kind != "fastener" and before[-1].plural


def _run(sentences: Sequence[Sentence]) -> _Run | None:
    """The longest run of numbers from one, each on its own between pauses."""
    best: _Run | None = None
    reached = 0.0
    for sentence in sentences:
        if sentence.question:
            continue
        began = len(sentence.tokens)
        for at, words in _pieces(sentence):
            number = _alone(words, reached)
            if number is None and reached and _number_of(words) == reached + 1:
                number = reached + 1  # "Three's spinning on me, there, got it"
            if number is None:
                continue
            if number == 1:
                reached = 1.0
            elif reached and number == reached + 1:
                reached = number
            else:
                continue
            began = min(began, at)
            if reached >= max(_LEAST, best.last if best else 0):
                best = _Run(reached, sentence, began)
    if best is not None:
        told = next((t for s in sentences if (t := total(s.text)) is not None), None)
        best = (
            replace(best, last=told) if told == best.last + 1 else best
        )  # "and a fourth behind the rail. All four out."
    return best


def _pieces(sentence: Sentence) -> list[tuple[int, list[str]]]:
    """The words between pauses and "and", each with the token that it begins at."""
    out: list[tuple[int, list[str]]] = [(0, [])]
    for n, token in enumerate(sentence.tokens):
        if token.text == "and":
            out.append((n + 1, []))
        else:
            out[-1][1].append(token.text)
        if token.mark:
            out.append((n + 1, []))
    return [p for p in out if p[1]]


def _alone(piece: Sequence[str], reached: float) -> float | None:
    """The number that a piece consists of, but for small words: "there's four", "two in", "one nut", "the third"."""
    small = grammar().words["counting"]
    kept = [w for w in piece if w not in small and singular(w) not in small]
    if len(kept) != 1:
        return None
    found = find_numbers(kept)
    if len(found) != 1 or found[0].value != int(found[0].value) or not 0 < found[0].value <= _MOST:
        return None
    if found[0].style == "ordinal" and found[0].value != reached + 1:
        return None
    return found[0].value


def _number_of(piece: Sequence[str]) -> float | None:
    """The number that a piece is about: "three's spinning on me"; None where it is about anything else."""
    found = find_numbers(piece[:1])
    return found[0].value if len(found) == 1 and found[0].style == "cardinal" and piece[1:2] == ["’s"] else None


def total(text: str) -> float | None:
    """The number of a sentence that ends on a total: "so that's eight", "and that's your ten out"."""
    match = grammar().patterns["total"].search(text)
    found = find_numbers([match.group(1) or match.group(2)]) if match else ()
    return found[0].value if found and 1 < found[0].value <= _MOST else None


def _with_run(
    run: _Run, sentences: Sequence[Sentence], here: list[Act], before: Sequence[Act], words: Words, memory: Memory
) -> list[Act]:
    said = [n for n, a in enumerate(here) if a.kind == "fastener" and a.action in _WAYS and a.status in MOVED]
    if said:
        n = said[-1]
        told = here[n].count
        if len(said) == 1 and (told is None or told < run.last):
            here[n] = replace(here[n], count=run.last, plural=True)
        climbing = [here[k] for k in said]
        if _is_climbing(climbing, run):  # "One's off. Two's off. Three's off."
            here = [a for a in here if a not in climbing[:-1]]
        return here
    parts = [a for a in here if a.kind in {"part", "seal"} and a.action in _WAYS and a.status in MOVED]
    if any(a.status not in MOVED for a in here):
        return here
    last = next((a for a in reversed(before) if a.kind == "fastener" and a.action in _WAYS and a.status in MOVED), None)
    senses: dict[str, Action] = {"out": "remove", "in": "refit"}
    way: Action | None = _WAYS[parts[-1].action] if parts else senses.get(memory.sense or "")
    kind = next(
        (n.part.split()[-1] for s in sentences for n in names_in(whole_of(s), words) if n.kind == "fastener"), None
    )
    holds = (
        parts[-1].part if parts else _headed(run, sentences, words) or memory.holder or (last.holds if last else None)
    )
    kind = kind or _held_by(holds, before) or (last.part if last else "screw" if parts else None)
    if way is None or kind is None:
        return here
    if way == "refit" and not parts:
        out = still_out(memory, kind)
        enough = [p for p, n in out.items() if n >= run.last]
        if len(enough) == 1 and not any(alike(p, holds or "") for p in out):
            holds = enough[0]
    clause = whole_of(run.sentence)
    status = parts[-1].status if parts else "done"
    return [*here, Act(action=way, part=kind, kind="fastener", status=status, span=clause.span(),
                       visit=run.sentence.visit, count=run.last, plural=True, holds=holds)]  # fmt: skip


def _is_climbing(acts: Sequence[Act], run: _Run) -> bool:
    """Whether acts of the same fasteners are told by the numbers of a run from one, which the last one ends."""
    counts = [a.count or 0 for a in acts]
    same = len({(a.action, a.part, a.holds) for a in acts}) == 1
    return same and len(counts) > 1 and counts[0] == 1 and counts[-1] == run.last and counts == sorted(set(counts))


def _headed(run: _Run, sentences: Sequence[Sentence], words: Words) -> str | None:
    """The part that the line begins with where it counts on: "Kick strip, one, two, and where's the, three"."""
    first = sentences[0]
    name = next((n for n in names_in(whole_of(first), words) if n.known and n.part not in words.not_parts), None)
    if name is None or name.first > 2 or name.kind != "part" or not first.tokens[name.last - 1].mark:
        return None
    return name.part


def _held_by(part: str | None, acts: Sequence[Act]) -> str | None:
    return next((a.part for a in reversed(acts) if a.kind == "fastener" and a.holds and a.holds == part), None)


def _with_total(number: float, sentence: Sentence, here: list[Act], before: Sequence[Act]) -> list[Act]:
    """A total beside the counts before it.

    An act that says the total again keeps its own share; a share that nobody said is added.
    """
    every = [*before, *here]
    moved = [a for a in every if a.kind == "fastener" and a.status in MOVED]
    if not moved or moved[-1].action not in {"remove", "refit"} or len(every) - every.index(moved[-1]) > 4:
        return here
    last = moved[-1]
    if _is_of_a_later_part(number, sentence, last, here, before):
        return here
    group = _added_to(moved) if last in here else []
    in_all = sum(a.count or 0 for a in group) + (last.count or 0)  # "two more under the trim, so that's the seven"
    if group and in_all == number and (group[0].action, group[0].holds) != (last.action, last.holds):
        as_before = replace(last, action=group[0].action, holds=group[0].holds)
        return [as_before if a is last else a for a in here]
    row: list[Act] = []
    for act in reversed(moved):
        if act.part.split()[-1] != last.part.split()[-1] or (
            act.holds and last.holds and not alike(act.holds, last.holds)
        ):
            continue
        if act.action in {"remove", "refit"} and act.action != last.action:
            break
        if act.action == last.action:
            row.append(act)
    own = [a for a in row if sentence.begins(a.span)]
    rest = [a for a in row if a not in own]
    if any(a.count is None for a in row):
        return here
    told = sum(a.count or 0 for a in rest)
    if own and own[0].count == number and 0 < told <= number and len(own) == 1:
        n = max(k for k, a in enumerate(here) if a is own[0])
        if told == number:
            return here[:n] + here[n + 1 :]
        here[n] = replace(own[0], count=number - told)
        return here
    told += sum(a.count or 0 for a in own)
    if 0 < told < number:
        clause = whole_of(sentence)
        return [*here, replace(last, span=clause.span(), visit=sentence.visit, count=number - told, plural=True)]
    return here


def _is_of_a_later_part(
    number: float, sentence: Sentence, last: Act, here: Sequence[Act], before: Sequence[Act]
) -> bool:
    """Whether a total is of a part moved after the fasteners: "motor in, two screws, shroud on, that's four"."""
    parts = [a for a in here if a.kind in {"part", "seal"} and a.action in _WAYS and a.status in MOVED]
    later = [a for a in parts if sentence.begins(a.span) and a.span.first > last.span.first]
    part = later[-1].part if later else ""
    out = sum((a.count or 0) * (1 if a.action == "remove" else -1) for a in before
              if a.kind == "fastener" and a.action in {"remove", "refit"} and alike(a.holds or "", part))  # fmt: skip
    return bool(later) and out == number and not alike(last.holds or "", part)


def _added_to(moved: Sequence[Act]) -> list[Act]:
    """The acts just before the last one that moved its kind of fastener one way, of one thing."""
    last = moved[-1]
    out: list[Act] = []
    for act in reversed(moved[:-1]):
        same = act.part.split()[-1] == last.part.split()[-1] and act.action in {"remove", "refit"}
        if not same or act.count is None or (out and (act.action, act.holds) != (out[0].action, out[0].holds)):
            break
        out.append(act)
    return out
