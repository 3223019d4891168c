"""Counts that a later number of their line says anew: "four screws, no, five", "three screws … where is it … four"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from voicereport.statements.grammar import grammar
from voicereport.statements.holding import alike
from voicereport.statements.tokens import Sentence
from voicereport.statements.values import MOVED, Act
from voicereport.trades.words import singular
from voicereport.wording.numbers import find_numbers

_IN = frozenset({"refit", "replace"})
_WAYS = _IN | {"remove"}
_MOST = 40  #: nobody counts more screws in one place
_FAR = 16  #: tokens within which a number goes on from another
_SPELLED = 2  #: so many letters by themselves before a number spell a part number


@dataclass(frozen=True, slots=True)
class _Number:
    """A whole number of the line."""

    value: float
    at: int  #: token of the line
    kind: str | None  #: the fastener that it counts by name: "screw"
    alone: bool  #: nothing but a pause, or a word of where to, stands after it or after its fastener


def said_anew(sentences: Sequence[Sentence], here: Sequence[Act], out: Mapping[str, float]) -> list[Act | None]:
    """The acts of a line, `here`, in their order, with the counts it ends on; None for one that another includes.

    out: how many fasteners were out before the line, by what they hold. Nothing is put back that was not out.
    """
    acts: list[Act | None] = list(here)
    if not any(_is_counted_or_all(a) for a in here):
        return acts
    line = _Line(sentences)
    for old, new in line.changes():
        acts = _with_change(acts, old, new, out)
    for value, times in line.each():
        acts = _without_each(acts, value, times)
    for value, whole in line.of_each():
        acts = _with_whole(acts, value, whole)
    for told, left_out in line.all_but():
        acts = _without_left_out(acts, told, left_out, out)
    return _without_overfull(acts, out)


def _is_counted(act: Act | None) -> bool:
    return (
        act is not None and act.kind == "fastener" and bool(act.count) and act.action in _WAYS and act.status in MOVED
    )


class _Line:
    """The tokens of a line with its numbers."""

    def __init__(self, sentences: Sequence[Sentence]) -> None:
        told = [s for s in sentences if not s.question]
        self.tokens = [t for s in told for t in s.tokens]
        self.ends = {sum(len(s.tokens) for s in told[: n + 1]) - 1 for n in range(len(told))}
        self.numbers = [n for at in range(len(self.tokens)) if (n := self._number(at)) is not None]

    def changes(self) -> list[tuple[float, float]]:
        """The numbers that others take the place of, in the order of speech: "three screws, four … five".

        What is counted aloud from one is no such number.
        """
        out = []
        for one, other in [*pairwise(self.numbers), *self._found_at_last()]:
            between = [t.text for t in self.tokens[one.at + 1 : other.at]]
            if not other.alone or len(between) > _FAR or {one.kind, other.kind} - {None, one.kind}:
                continue
            corrected = one.value != other.value and self._is_corrected(one, between)
            one_more = other.value == one.value + 1 > 2 and other.kind is None
            if corrected or (one_more and self._goes_on(one, other, between)):
                out.append((one.value, other.value))
        return out

    def _found_at_last(self) -> list[tuple[_Number, _Number]]:
        """A count and the number that the line ends on, where one more was looked for between: "five in and … six"."""
        last = self.numbers[-1:]
        if not last or last[0].at != len(self.tokens) - 1 or not self._pauses(last[0].at - 1):
            return []
        told = [n for n in self.numbers if n.kind is not None and n.value == last[0].value - 1]
        between = {t.text for t in self.tokens[told[0].at : last[0].at]} if len(told) == 1 else set()
        lost = not grammar().words["strayed"].isdisjoint(between)
        return [(replace(told[0], at=max(told[0].at, last[0].at - _FAR + 1)), last[0])] if lost else []

    def each(self) -> list[tuple[float, float]]:
        """The numbers that are those of each side, with how many sides there are where that is said."""
        found = []
        for n in self.numbers:
            after = " ".join(t.text for t in self.tokens[n.at + 1 : n.at + 3])
            if grammar().patterns["apiece"].match(after):
                found.append((n.value, 2.0))
        return found

    def of_each(self) -> list[tuple[float, float]]:
        """The numbers that are those of each of several, with what they come to: "three apiece … both slides", 3 and 6.

        How many there are is two of sides, else said: "both", "the two hinges", or by the number of all.
        """
        found = []
        for n in self.numbers:
            after = self._after(n)
            if grammar().patterns["sides_each"].match(after):
                found.append((n.value, 2 * n.value))
            elif grammar().patterns["things_each"].match(after) and (times := self._things(n)) is not None:
                found.append((n.value, times * n.value))
        return found

    def all_but(self) -> list[tuple[float | None, float]]:
        """How many there are, None where that is not said, and how many of them not: "all but two of the eight"."""
        text = " ".join(t.text for t in self.tokens)
        out = []
        for match in grammar().patterns["all_but"].finditer(text):
            whole, left_out = _value(match["whole"] or match["of"]), _value(match["but"])
            at = len(text[: match.start()].split())
            before = [n.value for n in self.numbers if n.kind is not None and n.at < at]
            end = at + len(match.group().split())
            anew = left_out is None or any(n.value > left_out for n in self.numbers if n.at >= end)
            if left_out is not None and not anew:  # "all bar one, no, only joking, all seven"
                out.append((whole if whole is not None else before[-1] if before else None, left_out))
        return out

    def _after(self, number: _Number) -> str:
        """What follows a number and its own fastener as far as the next pause but one."""
        own = number.at + (2 if number.kind is not None else 1)
        return " ".join(t.text for t in self.tokens[own : own + 4])

    def _things(self, number: _Number) -> float | None:
        """How many things there are that have so many each."""
        others = (n for n in self.numbers if n is not number and n.alone and n.value > number.value)
        summed = (n.value for n in others if {t.text for t in self.tokens[max(0, n.at - 2) : n.at]} & _sums())
        wholes = [value / number.value for value in summed if value % number.value == 0]
        if wholes:
            return wholes[-1]
        text = " ".join(t.text for t in self.tokens)
        said = [m.group(1) or m.group(2) for m in grammar().patterns["how_many_things"].finditer(text)]
        told = {2.0 if (value := _value(word)) is None else value for word in said}
        return told.pop() if len(told) == 1 else None

    def _number(self, at: int) -> _Number | None:
        found = find_numbers([self.tokens[at].text])
        if len(found) != 1 or found[0].style != "cardinal" or not 0 < found[0].value <= _MOST:
            return None
        if found[0].value != int(found[0].value):
            return None
        last = at
        kind = None
        if not self._pauses(at) and at + 1 < len(self.tokens):
            noun = singular(self.tokens[at + 1].text)
            kind, last = (noun, at + 1) if noun in grammar().words["screwed"] else (None, at)
        after = self.tokens[last + 1].text if last + 1 < len(self.tokens) else ""
        alone = self._pauses(last) or after in grammar().words["particles"]
        return _Number(found[0].value, at, kind, alone)

    def _pauses(self, at: int) -> bool:
        return bool(self.tokens[at].mark) or at in self.ends

    def _is_corrected(self, one: _Number, between: Sequence[str]) -> bool:
        """Whether nothing but words that correct it, and its own fastener, stands between a number and the next."""
        own = between[1:] if one.kind is not None else between
        return bool(own) and grammar().patterns["corrects"].fullmatch(" ".join(own)) is not None

    def _goes_on(self, one: _Number, other: _Number, between: Sequence[str]) -> bool:
        """Whether the next number by itself counts one more: "three screws, and where is it, four"."""
        lists = grammar().words
        apart = other.at > 0 and self._pauses(other.at - 1)
        spelled = sum(len(w) == 1 and w.isalpha() and w not in lists["articles"] for w in between) >= _SPELLED
        breaks = not lists["counts_break"].isdisjoint(between)
        nth = any(n.style == "ordinal" and n.value == other.value for w in between for n in find_numbers([w]))
        return (one.kind is not None or nth) and apart and self._pauses(other.at) and not spelled and not breaks


def _with_change(acts: Sequence[Act | None], old: float, new: float, out: Mapping[str, float]) -> list[Act | None]:
    """The acts with the one count `old` as `new`; without it where another of them says `new` already."""
    mine = [a for a in acts if a is not None and _is_counted(a) and a.count == old]
    if len(mine) != 1:
        return list(acts)
    act = mine[0]
    left = next((n for held, n in out.items() if alike(held, act.holds or "")), None)
    if act.action in _IN and out and new > (max(out.values()) if left is None else left):
        return list(acts)
    says = (act.action, act.part, new)
    said = any(a is not None and _is_counted(a) and (a.action, a.part, a.count) == says for a in acts)
    told = None if said else replace(act, count=new, plural=new > 1)
    return [told if a is act else a for a in acts]


def _without_each(acts: Sequence[Act | None], value: float, times: float) -> list[Act | None]:
    """Without the number of each side where the number of both stands beside it: "six nuts off, three a side"."""
    whole = [a for a in acts if a is not None and _is_counted(a) and a.count == value * times]
    return [
        None if a is not None and _is_counted(a) and a.count == value and any(_same(a, w) for w in whole) else a
        for a in acts
    ]


def _with_whole(acts: Sequence[Act | None], value: float, whole: float) -> list[Act | None]:
    """The acts with the one count that is each's as that of all, and without one of how many things there are.

    "Three screws apiece on the two slides" are six; where another act says the six, nothing changes.
    """
    mine = [a for a in acts if a is not None and _is_counted(a)]
    each = [a for a in mine if a.count == value]
    if value == whole or len(each) != 1:
        return list(acts)
    if any(a.count == whole and _same(a, each[0]) for a in mine):
        return [None if a is each[0] else a for a in acts]
    if any(a.count == whole for a in mine):
        return list(acts)
    told = replace(each[0], count=whole, plural=True)
    things = [a for a in mine if a is not each[0] and a.count == whole / value and _same(a, told)]
    return [told if a is each[0] else None if any(a is t for t in things) else a for a in acts]


def _without_left_out(
    acts: Sequence[Act | None], told: float | None, left_out: float, out: Mapping[str, float]
) -> list[Act | None]:
    """The acts without those fasteners that are excepted: "all bar two are back", of eight that were out, are six.

    Where nobody said how many there are, none is said to be back: it would be wrong to put all back, or two.
    """
    mine = [a for a in acts if a is not None and _is_counted_or_all(a)]
    if len(mine) != 1:
        return list(acts)
    act = mine[0]
    open_of = [n for held, n in out.items() if alike(held, act.holds or "")] or list(out.values())
    there = told if told is not None else open_of[0] if len(open_of) == 1 and act.action in _IN else None
    if act.count not in {None, left_out, there}:
        return list(acts)
    if there is not None and there > left_out:
        moved: Act | None = replace(act, count=there - left_out, plural=there - left_out > 1)
    else:
        moved = None if act.action in _IN else replace(act, count=None, plural=True)
    return [moved if a is act else a for a in acts]


def _is_counted_or_all(act: Act) -> bool:
    return act.kind == "fastener" and act.action in _WAYS and act.status in MOVED


def _value(word: str | None) -> float | None:
    """The whole number that a word says."""
    found = find_numbers([word]) if word else ()
    return found[0].value if len(found) == 1 and found[0].value == int(found[0].value) else None


def _sums() -> frozenset[str]:
    return grammar().words["sum_before"]


def _without_overfull(acts: Sequence[Act | None], out: Mapping[str, float]) -> list[Act | None]:
    """Without counts of what goes back that the last one includes: three in, then four, where four were out."""
    kept = list(acts)
    for n, last in enumerate(acts):
        if last is None or not _is_counted(last) or last.action not in _IN:
            continue
        left = next((k for held, k in out.items() if alike(held, last.holds or "")), None)
        before = [k for k in range(n) if (a := kept[k]) is not None and _is_counted(a) and _same(a, last)]
        if before and left is not None and last.count == left:
            for k in [*before[1:], n]:
                kept[k] = None
            kept[before[0]] = replace(last, span=here.span) if (here := acts[before[0]]) is not None else None
    return kept


def _same(one: Act, other: Act) -> bool:
    return (one.action, one.part, one.holds) == (other.action, other.part, other.holds)
