"""Numbers that go on with the count of a mark: "five down the edge, one underneath, all out"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise

from voicereport.statements.grammar import grammar
from voicereport.statements.naming import whole_number
from voicereport.statements.reader import Mark, Marked
from voicereport.statements.values import MOVED
from voicereport.wording.numbers import find_numbers

_WORD = re.compile(r"[\w'’\-]+")
_COUNTED = frozenset({"remove", "refit", "replace", "loosen", "tighten", "open", "close", "peel"})
_BEGINS = re.compile(r"[,;.:…]\s*(?:and |then |plus |another )*$|\b(?:and|plus) $")
_FEW = 6  #: words between two numbers of one count
_TURNED = frozenset({"isolate", "open", "restore_power", "close"})
_MOST = 20  #: a number beyond it is no count of screws that goes on


def continued(line: str, marked: Marked) -> tuple[Mark, ...]:
    """The marks of a line, each with the numbers that go on with its count and that no mark has."""
    out: list[Mark] = []
    marks = _brazed_in(line, _without_halves(marked.marks))
    for mark in (_unjoined(line, _put_right(line, m)) for m in marks):
        if mark.action in _COUNTED and mark.counts and mark.status in MOVED:
            out += _parted(
                replace(
                    mark, counts=tuple(sorted({*mark.counts, *_more(line, mark, marked), *_before(line, mark, marked)}))
                )
            )
        else:
            out.append(mark)
    return tuple(out)


def _brazed_in(line: str, marks: tuple[Mark, ...]) -> tuple[Mark, ...]:
    """The marks with that of a joint made after another act: "recovered the gas and brazed in a new drier".

    It has the status of the act before it; nothing is added where a mark is of the same words.
    """
    found = grammar().patterns["brazed_in"].search(line.lower())
    if found is None:
        return marks
    act, thing = found.span("act"), found.span("thing")
    before = [m for m in marks if m.last <= found.start()]
    if not before or any(m.first < thing[1] and act[0] < m.last for m in marks) or _covers(before[-1].things, *thing):
        return marks
    new = replace(before[-1], action="replace", first=act[0], last=act[1], things=(thing,), counts=(), holds=())
    return tuple(sorted((*marks, new), key=lambda m: m.first))


def _unjoined(line: str, mark: Mark) -> Mark:
    """ "Unbrazed the compressor": what a joint is opened on comes off."""
    opened = line[mark.first : mark.last].lower() in grammar().words["unjoins"]
    return replace(mark, action="remove") if opened and mark.action != "cut" else mark


def _put_right(line: str, mark: Mark) -> Mark:
    """The mark without counts that the speaker took back for the next: "I put eight in. Well, seven, one's gone"."""
    counts = sorted(mark.counts)
    kept = [a for a, b in pairwise(counts) if grammar().patterns["put_right"].search(line[a[1] : b[0]].lower()) is None]
    return mark if len(kept) + 1 >= len(counts) else replace(mark, counts=(*kept, counts[-1]))


def _without_halves(marks: tuple[Mark, ...]) -> tuple[Mark, ...]:
    """The marks without a verb whose particle says otherwise: "turned" of "turned on" is no "turned off"."""
    halves = [
        one if one.sure < other.sure else other
        for one, other in pairwise(marks)
        if other.first == one.last + 1 and one.things == other.things and {one.action, other.action} <= _TURNED
    ]
    return tuple(m for m in marks if m not in halves)


def _parted(mark: Mark) -> list[Mark]:
    """A mark for each number where each has a holder of its own: "four for the panel, two for the bracket, all in"."""
    counts, holds = sorted(mark.counts), sorted(mark.holds)
    pairs = list(zip(counts, holds, strict=False))
    ordered = [place for pair in pairs for place in pair]
    if len(counts) < 2 or len(counts) != len(holds) or len(mark.things) > 1 or ordered != sorted(ordered):
        return [mark]
    return [replace(mark, counts=(count,), holds=(held,)) for count, held in pairs]


def _more(line: str, mark: Mark, marked: Marked) -> list[tuple[int, int]]:
    """The places of the numbers that follow the mark's last one and that no mark has; none where they divide it."""
    own = {(mark.first, mark.last), *mark.counts}
    others = {s for m in marked.marks for s in ((m.first, m.last), *m.things, *m.holds, *m.counts)} - own
    out: list[tuple[int, int]] = []
    told: list[float] = []
    end, since = max(b for _, b in mark.counts), 0
    words = [m for m in _WORD.finditer(line) if m.start() >= end]
    for word, following in pairwise([*words, None]):
        assert word is not None
        text, (first, last) = word.group().lower(), word.span()
        if _covers(others, first, last):
            break
        number = whole_number([text], _MOST)
        if number is None:
            since += 1
            if since > _FEW or text in grammar().words["continued_breaks"]:
                break
            continue
        if following is not None and following.group().lower() in grammar().words["continued_stops"]:
            return []
        if _is_nth(number, line[end:first]):
            return []
        begins = _BEGINS.search(line[end:first]) is not None
        if not begins or _is_value(first, last, marked) or _covers(own, first, last):
            break
        out.append((first, last))
        told.append(number)
        end, since = last, 0
    parts = [whole_number([line[a:b].lower()], _MOST) for a, b in mark.counts]
    divided = sum(told) in parts and not (len(out) == len(parts) == 1 and _in_two_places(line, *mark.counts, *out))
    return [] if divided else out  # "nine are out, six long and three short"


def _in_two_places(line: str, one: tuple[int, int], other: tuple[int, int]) -> bool:
    """Whether a place of its own follows either number: "two at the front, two at the rear"."""
    where = grammar().words["implied_where"] | grammar().words["sides"]
    texts = (line[one[1] : other[0]], line[other[1] :])
    return all(not where.isdisjoint(_WORD.findall(text.lower())[:_FEW]) for text in texts)


def _before(line: str, mark: Mark, marked: Marked) -> list[tuple[int, int]]:
    """The place of the count that a mark's only one goes on from: "three long screws and two short ones"."""
    others = {s for m in marked.marks for s in m.counts}
    (first, last), *more = sorted(mark.counts)
    text = line.lower()
    found = grammar().patterns["and_ones"].search(text[:first])
    if more or found is None or grammar().patterns["ones"].match(text[last:]) is None:
        return []
    place = found.span("count")
    return [] if _covers(others, *place) else [place]


def _is_nth(number: float, between: str) -> bool:
    """ "Four, the fifth's hiding, got it, five": the number is how many there are with the one just spoken of."""
    said = (n for w in _WORD.findall(between.lower()) for n in find_numbers([w.removesuffix("'s").removesuffix("’s")]))
    return any(n.style == "ordinal" and n.value == number for n in said)


def _covers(places: Iterable[tuple[int, int]], first: int, last: int) -> bool:
    return any(a < last and first < b for a, b in places)


def _is_value(first: int, last: int, marked: Marked) -> bool:
    return any(a < last and first < b and chance >= 0.5 for a, b, chance in marked.number_chances)
