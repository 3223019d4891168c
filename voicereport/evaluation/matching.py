"""One-to-one matching of what the gold has with what a report has, and the tallies that come of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

Row = dict[str, Any]  #: an item as YAML or JSON gives it, not trusted
G = TypeVar("G")
S = TypeVar("S")


@dataclass(frozen=True, kw_only=True, slots=True)
class Tally:
    """True positives against what the gold has and what the report has."""

    hit: int = 0
    gold: int = 0
    said: int = 0

    @property
    def precision(self) -> float | None:
        return ratio(self.hit, self.said)

    @property
    def recall(self) -> float | None:
        return ratio(self.hit, self.gold)

    @property
    def f1(self) -> float | None:
        return ratio(2 * self.hit, self.gold + self.said)


@dataclass(frozen=True, kw_only=True, slots=True)
class Misses:
    """What was missed and what was invented, in words."""

    missed: tuple[str, ...] = ()
    spurious: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Share:
    """How many are right, of how many."""

    right: int = 0
    of: int = 0

    @property
    def value(self) -> float | None:
        return ratio(self.right, self.of)


def ratio(a: float, b: float) -> float | None:
    """a / b; None where there is nothing to divide by."""
    return a / b if b else None


def add(tallies: Iterable[Tally]) -> Tally:
    """The sum of tallies."""
    rows = list(tallies)
    return Tally(hit=sum(t.hit for t in rows), gold=sum(t.gold for t in rows), said=sum(t.said for t in rows))


def add_shares(shares: Iterable[Share]) -> Share:
    """The sum of shares."""
    rows = list(shares)
    return Share(right=sum(s.right for s in rows), of=sum(s.of for s in rows))


def pair(gold: Sequence[G], said: Sequence[S], same: Callable[[G, S], bool]) -> dict[int, int]:
    """The largest one-to-one matching of gold with said items, as {gold index: said index}."""
    owner: dict[int, int] = {}

    def place(g: int, seen: set[int]) -> bool:
        for s, item in enumerate(said):
            if s not in seen and same(gold[g], item):
                seen.add(s)
                if s not in owner or place(owner[s], seen):
                    owner[s] = g
                    return True
        return False

    for g, item in enumerate(gold):  # in order first, then by making room
        free = next((s for s in range(len(said)) if s not in owner and same(item, said[s])), None)
        if free is None:
            place(g, set())
        else:
            owner[free] = g
    return {g: s for s, g in owner.items()}


def optional(item: object) -> bool:
    """Whether a gold item may be left out of a report as well."""
    return isinstance(item, dict) and bool(item.get("optional", False))


def compare(
    gold: Sequence[G], said: Sequence[S], same: Callable[[G, S], bool], show: Callable[[G | S], str] = str
) -> tuple[Tally, Misses]:
    """The tally of gold against said items, with what was missed and what was invented.

    Optional gold items take part in the matching, after the others, so that they can account for said items;
    they and what matches them are then left out of the tally.
    """
    gold = sorted(gold, key=optional)
    matched = pair(gold, said, same)
    excused = sum(optional(gold[g]) for g in matched)
    required = sum(not optional(item) for item in gold)
    taken = set(matched.values())
    tally = Tally(hit=len(matched) - excused, gold=required, said=len(said) - excused)
    missed = tuple(show(x) for g, x in enumerate(gold) if g not in matched and not optional(x))
    return tally, Misses(missed=missed, spurious=tuple(show(x) for s, x in enumerate(said) if s not in taken))


def detail(gold: Sequence[G], said: Sequence[S], same: Callable[[G, S], bool], exact: Callable[[G, S], bool]) -> Share:
    """How many of the matched items have the detail right too, of how many matched."""
    return Share(right=len(pair(gold, said, exact)), of=len(pair(gold, said, same)))
