"""Counts that a later number of their line says anew: "four screws, no, five", "three screws … where is it … four"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

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
    if not any(_is_counted(a) for a in here):
        return acts
    line = _Line(sentences)
    for old, new in line.changes():
        acts = _with_change(acts, old, new, out)
    for value, times in line.each():
        acts = _without_each(acts, value, times)
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
        for one, other in zip(self.numbers, self.numbers[1:], strict=False):
            between = [t.text for t in self.tokens[one.at + 1 : other.at]]
            if not other.alone or len(between) > _FAR or {one.kind, other.kind} - {None, one.kind}:
                continue
            corrected = one.value != other.value and self._is_corrected(one, between)
            one_more = other.value == one.value + 1 > 2 and other.kind is None
            if corrected or (one_more and self._goes_on(one, other, between)):
                out.append((one.value, other.value))
        return out

    def each(self) -> list[tuple[float, float]]:
        """The numbers that are those of each side, with how many sides there are where that is said."""
        found = []
        for n in self.numbers:
            after = " ".join(t.text for t in self.tokens[n.at + 1 : n.at + 3])
            if grammar().patterns["apiece"].match(after):
                found.append((n.value, 2.0))
        return found

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
