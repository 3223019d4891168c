"""Fasteners that a line only numbers beside the part they hold, as the reader marks it: "Lid, two at the back, off"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from voicereport.report import Action
from voicereport.statements.acts import Memory
from voicereport.statements.grammar import grammar
from voicereport.statements.holding import alike
from voicereport.statements.implied import HELD, IN, MOST, OUT
from voicereport.statements.names import names_in
from voicereport.statements.naming import how_many
from voicereport.statements.placing import places
from voicereport.statements.reader import Mark, Marked
from voicereport.statements.tokens import Sentence, whole_of
from voicereport.statements.values import MOVED, Act
from voicereport.trades.words import Words, singular


@dataclass(frozen=True, slots=True)
class _Word:
    """A token where it stands in the line."""

    text: str
    mark: str  #: punctuation after it
    first: int  #: characters of the line
    last: int
    fastener: bool  #: it is of the name of a fastener


def numbered(
    told: Sequence[Sentence], marked: Marked, acts: Sequence[Act], start: int, words: Words, memory: Memory
) -> list[Act]:
    """The acts of fasteners that the marks number and none of the line's acts says.

    told: the sentences of the line. acts: of the recording so far, those of the line from `start` on.
    """
    here = list(acts[start:])
    line: list[_Word] | None = None
    out: list[Act] = []
    for mark in _with_their_things(marked.marks):
        if mark.status not in MOVED or mark.action not in OUT | IN or not mark.counts or len(mark.things) != 1:
            continue
        if mark.action == "peel":
            continue  # no fastener is peeled: "a foam strip down each side, I've peeled the two of them back"
        if any(m.action in {"run_test", "restore_power"} and set(m.counts) & set(mark.counts) for m in marked.marks):
            continue  # the seconds before it starts
        line = _words_of(told, words) if line is None else line
        part, count = _part_of(mark, line, here), _count(mark, line)
        if part is not None and _are_the_parts(mark, line, part, here):
            continue
        if count == 1 and not all(_stands_alone(line, span) for span in mark.counts):
            continue  # "one good pull", "the hinge pin, just the one"
        if part is None or count is None or _is_said(part, count, [*here, *out]):
            continue
        action: Action = "refit" if part.action in IN else "remove"
        act = replace(part, action=action, part=_kind(part, memory), kind="fastener", holds=part.part, count=count,
                      plural=count > 1, new=False, part_number=None)  # fmt: skip
        out.append(act)
        memory.acts.append(act)
    return out


def _are_the_parts(mark: Mark, line: Sequence[_Word], part: Act, here: Sequence[Act]) -> bool:
    """Whether "both" is of the two parts that moved before it: "relay off, and the overload after it. Both in hand"."""
    told = {w.text for span in mark.counts for w in _within(line, *span)}
    moved = {a.part for a in here if a.kind in HELD and a.action == part.action and a.status in MOVED and not a.plural}
    return "both" in told and len(moved) == 2


def _with_their_things(marks: Sequence[Mark]) -> list[Mark]:
    """The marks; one that only counts has the thing of the mark before it: "cover's up, and I've got the six in"."""
    out: list[Mark] = []
    for mark in marks:
        last = out[-1] if out else None
        alike = last is not None and (last.action, last.status) == (mark.action, mark.status) and not last.counts
        goes_on = mark.counts and not mark.things and not mark.holds
        out.append(replace(mark, things=last.things) if last is not None and alike and goes_on else mark)
    return out


def _words_of(told: Sequence[Sentence], words: Words) -> list[_Word]:
    out = []
    for sentence in told:
        named = {k for n in names_in(whole_of(sentence), words) if n.kind == "fastener" for k in range(n.first, n.last)}
        for k, (token, (first, last)) in enumerate(zip(sentence.tokens, places(sentence), strict=True)):
            out.append(_Word(token.text, token.mark, first, last, k in named))
    return out


def _within(line: Sequence[_Word], first: int, last: int) -> list[_Word]:
    return [w for w in line if w.first < last and first < w.last]


def _part_of(mark: Mark, line: Sequence[_Word], here: Sequence[Act]) -> Act | None:
    """The act of the one part that the mark moves; None where its number is of the things themselves."""
    thing = _within(line, *mark.things[0])
    if not thing or any(w.fastener for w in thing):
        return None
    head = singular(thing[-1].text)
    if head != thing[-1].text or head in grammar().words["plural_pronouns"] | grammar().words["unheld"]:
        return None
    if any(_touch(number, thing) for span in mark.counts if (number := _within(line, *span))):
        return None
    pronoun = head in grammar().words["single_pronouns"]
    own = (a for a in here if a.kind in HELD and a.status in MOVED and a.action == mark.action and not a.plural)
    return next((a for a in own if pronoun or a.part.split()[-1] == head), None)


def _stands_alone(line: Sequence[_Word], span: tuple[int, int]) -> bool:
    """Whether a number stands between pauses: "light, one, out"."""
    number = _within(line, *span)
    before = [w for w in line if w.last <= span[0]][-1:]
    return bool(number and number[-1].mark) and all(w.mark for w in before)


def _touch(number: Sequence[_Word], thing: Sequence[_Word]) -> bool:
    """ "Two shelf", "drawer two": the number is of the things, or names one of them."""
    first, second = (number, thing) if number[0].first < thing[0].first else (thing, number)
    return second[0].first <= first[-1].last + 1 and not first[-1].mark


def _count(mark: Mark, line: Sequence[_Word]) -> float | None:
    """How many the numbers of the mark come to: "five down the edge, one underneath", "two and two, four"."""
    spans = [span for span in mark.counts if _of_fasteners(line, span)]
    told = [n for span in spans if (n := how_many([w.text for w in _within(line, *span)], MOST)) is not None]
    if len(told) > 1 and told[-1] == sum(told[:-1]) and (len(told) > 2 or not _in_two_places(line, spans)):
        return told[-1]
    return sum(told) if told else None


def _in_two_places(line: Sequence[_Word], spans: Sequence[tuple[int, int]]) -> bool:
    """Whether a place of its own follows either number: "two at the front, two at the rear"."""
    where = grammar().words["implied_where"] | grammar().words["sides"]
    ends = [first for first, _ in spans[1:]] + [line[-1].last]
    between = [_within(line, last, end) for (_, last), end in zip(spans, ends, strict=True)]
    return all(any(w.text in where for w in words) for words in between)


def _of_fasteners(line: Sequence[_Word], span: tuple[int, int]) -> bool:
    """Whether what follows a number leaves it to fasteners: not "two goes"."""
    number = _within(line, *span)
    after = [w for w in line if w.first >= span[1]][:1]
    small = grammar().words["implied_words"] | grammar().words["implied_where"] | grammar().words["numbered_beside"]
    return bool(number and number[-1].mark) or all(w.fastener or w.text in small for w in after)


def _is_said(part: Act, count: float, acts: Sequence[Act]) -> bool:
    """Whether an act of the line says it: the same number, or fasteners of the same part, the same way."""
    ways = IN if part.action in IN else OUT
    return any(
        a.count == count or (a.holds is not None and alike(a.holds, part.part))
        for a in acts
        if a.kind == "fastener" and a.action in ways
    )


def _kind(part: Act, memory: Memory) -> str:
    """What its fasteners are called: as those of it that were moved before, else screws."""
    held = (a.part for a in reversed(memory.acts) if a.kind == "fastener" and a.holds and alike(a.holds, part.part))
    return next(held, "screw").split()[-1]
