"""What readings are judged by, as frozen values: limits with conditions, bands, sensors, refrigerants, facts."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from voicereport.report import QuantityName, Stage, VerdictResult


@dataclass(frozen=True, kw_only=True, slots=True)
class Condition:
    """A fact that must be known, and what it must be."""

    fact: str
    values: frozenset[str] = frozenset()
    low: float | None = None
    high: float | None = None

    def holds(self, facts: Mapping[str, str]) -> bool | None:
        """Whether it holds; None where the fact is not known, or is no number where one is needed."""
        known = facts.get(self.fact)
        if known is None:
            return None
        if self.values:
            return known in self.values
        try:
            number = float(known)
        except ValueError:
            return None
        return (self.low is None or number >= self.low) and (self.high is None or number <= self.high)


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """What each whole `each` of a fact above `over` adds to the upper limit, which it takes to `most` at most."""

    fact: str
    over: float
    each: float
    add: float
    most: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Around:
    """Bounds around a marked value: the fact that holds it, in the limit's unit, and the percentage or its fact.

    Or bounds by it: at least and at most so many per cent of it, with another fact added (a cylinder's own weight).
    """

    fact: str
    percent: float | None = None
    percent_fact: str | None = None
    least_percent: float | None = None
    most_percent: float | None = None
    plus_fact: str | None = None

    def bounds(self, facts: Mapping[str, str]) -> tuple[float | None, float | None] | None:
        """Low and high, None where it has no such bound; None altogether where a fact is not known or no number."""
        try:
            marked = float(facts[self.fact])
            plus = float(facts[self.plus_fact]) if self.plus_fact else 0.0
            if self.least_percent is not None or self.most_percent is not None:
                ends = (self.least_percent, self.most_percent)
                low, high = (None if end is None else marked * end / 100 + plus for end in ends)
                return low, high
            percent = self.percent if self.percent is not None else float(facts[self.percent_fact or ""])
        except (KeyError, ValueError):
            return None
        return marked * (1 - percent / 100), marked * (1 + percent / 100)


@dataclass(frozen=True, kw_only=True, slots=True)
class Example:
    """A reading with the verdict that it must get."""

    subject: str | None
    value: float | None
    unit: str | None
    result: VerdictResult
    stage: Stage | None = None
    facts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, slots=True)
class Limit:
    """One limit with its conditions and its source."""

    id: str
    title: str
    quantity: QuantityName
    unit: str
    source: str
    status: str  #: V verified, S from a secondary source, C computed, M from memory
    why: str
    subjects: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    tolerance: float = 0.0  #: in `unit`
    ignore_below: float | None = None  #: in `unit`; lower readings are none of this limit's
    usual_low: float | None = None
    usual_high: float | None = None
    step: Step | None = None
    around: Around | None = None  #: in place of low and high
    when: tuple[Condition, ...] = ()
    stage: Stage | None = None
    examples: tuple[Example, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Band:
    """What a reading can be at all."""

    id: str
    quantity: QuantityName
    unit: str
    why: str
    source: str
    subjects: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Curve:
    """A resistance-temperature curve of a sensor; exactly one of its three forms is given."""

    id: str
    title: str
    source: str
    steinhart: tuple[float, float, float] | None = None  #: A, B, C of 1/T = A + B ln R + C (ln R)^3, T in K, R in ohms
    scale: float = 1.0  #: ohms of this curve / ohms of the Steinhart-Hart one
    beta: tuple[float, float] | None = None  #: ohms at `reference`, and B in K
    reference: float = 25.0  #: °C
    table: tuple[tuple[float, float], ...] = ()  #: (°C, ohms), temperature rising


@dataclass(frozen=True, kw_only=True, slots=True)
class Refrigerant:
    """A refrigerant as CoolProp and the standards know it."""

    name: str
    fluid: str  #: CoolProp's name
    safety_class: str
    source: str
    flammable_limit: float | None = None  #: kg/m3
    practical_limit: float | None = None  #: kg/m3
    gwp: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Implied:
    """Facts that follow from others."""

    facts: Mapping[str, str]
    when: tuple[Condition, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """A fact that is heard in the words of the job."""

    fact: str
    value: str
    pattern: re.Pattern[str]
    near: bool = False  #: it holds for a reading only, in whose sentence it is heard


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """All that readings of one trade are judged by."""

    limits: tuple[Limit, ...] = ()
    bands: tuple[Band, ...] = ()
    sensors: tuple[Curve, ...] = ()
    refrigerants: Mapping[str, Refrigerant] = field(default_factory=dict)
    subjects: Mapping[str, tuple[tuple[str, ...], ...]] = field(default_factory=dict)
    questions: Mapping[str, str] = field(default_factory=dict)
    implied: tuple[Implied, ...] = ()
    heard: tuple[Heard, ...] = ()
    sentences: Mapping[str, str] = field(default_factory=dict)
    circuits: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    physics: Mapping[str, Any] = field(default_factory=dict)

    def groups(self, subject: str | None) -> frozenset[str]:
        """The groups of subjects that `subject` belongs to."""
        words = tuple(singular(w) for w in re.findall(r"[\w-]+", (subject or "").lower()))
        runs = {words[i:j] for i in range(len(words)) for j in range(i + 1, len(words) + 1)}
        return frozenset(name for name, phrases in self.subjects.items() if not runs.isdisjoint(phrases))


def singular(word: str) -> str:
    """`word` without the s of its plural, lower case."""
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")) else word
