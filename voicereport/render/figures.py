"""Readings as people see them: figure, limit, verdict, and as found beside as left."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import zip_longest

from voicereport import units
from voicereport.render import text
from voicereport.render.wording import Wording
from voicereport.report import Reading


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """A number apart at its decimal point, so that figures can be set under each other."""

    whole: str = field(default="", metadata={"help": "sign and digits before the point; empty where there is none"})
    fraction: str = field(default="", metadata={"help": "the point and the digits after it"})
    unit: str = field(default="", metadata={"help": "sign of the unit, with its leading blank"})
    before: str = field(default="", metadata={"help": "a word before the number: about, at least"})
    words: str = field(default="", metadata={"help": "the whole value in words; holds the number too"})
    note: str = field(default="", metadata={"help": "what was assumed about the unit, or how pressure was meant"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Pair:
    """A quantity at one place, as found and as left; each may be lacking. A process value stands in `process`."""

    name: str
    found: Reading | None = None
    left: Reading | None = None
    process: Reading | None = None

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Those that there are."""
        return tuple(r for r in (self.found, self.left, self.process) if r is not None)

    @property
    def deciding(self) -> Reading:
        """The reading whose limit and verdict stand for the pair: as left before as found."""
        return self.left or self.found or self.readings[0]


def reading_name(reading: Reading, wording: Wording) -> str:
    """Place and quantity: "Evaporator fan motor, resistance"."""
    quantity = wording.word("quantity", reading.quantity)
    subject = text.shown(reading.subject) if reading.subject else ""
    if not subject:
        return text.capital(quantity)
    joined = subject if reading.quantity == "other" or quantity in subject else f"{subject}, {quantity}"
    return text.capital(joined)


def figure(reading: Reading, wording: Wording) -> Figure:
    """The value of a reading, ready to be set."""
    note = _note(reading, wording)
    if reading.qualifier in ("open_circuit", "short_circuit"):
        return Figure(words=wording.word("qualifier", reading.qualifier), note=note)
    if reading.value is None:
        return Figure(words=wording.word("qualifier", "none"), note=note)
    unit = _unit(reading.unit)
    low = text.number(reading.value, reading.decimals)
    template = wording.word("qualifier", reading.qualifier, value="\0")
    before, _, _ = template.partition("\0")
    if reading.qualifier == "range" and reading.value_high is not None:
        high = text.number(reading.value_high, reading.decimals)
        return Figure(words=wording.sentence("range", low=low, high=high) + unit, note=note)
    whole, point, fraction = low.partition(".")
    return Figure(whole=whole, fraction=point + fraction, unit=unit, before=before.strip(),
                  words=template.replace("\0", low) + unit, note=note)  # fmt: skip


def limits(reading: Reading) -> tuple[float | None, float | None, str | None]:
    """Low, high and unit of the limit the reading was judged by; else of the one that was spoken."""
    verdict = reading.verdict
    if verdict.low is not None or verdict.high is not None:
        return verdict.low, verdict.high, verdict.unit or reading.unit
    return reading.limit_low, reading.limit_high, reading.unit


def limit_words(reading: Reading, wording: Wording) -> str:
    """The limit in words: "45 to 55 Ω", "at most 1.0 Ω"; empty where there is none."""
    low, high, unit = limits(reading)
    sign = _unit(unit)
    if low is not None and high is not None:
        return wording.sentence("limit_between", low=text.number(low), high=text.number(high)) + sign
    if low is not None:
        return wording.sentence("limit_least", low=text.number(low)) + sign
    if high is not None:
        return wording.sentence("limit_most", high=text.number(high)) + sign
    return ""


def pairs(readings: Iterable[Reading], wording: Wording) -> tuple[Pair, ...]:
    """As-found readings beside the as-left readings of the same place, in the order of first mention.

    A place that was measured several times gives several pairs, first with first. Readings without a stage stay alone.
    """
    groups: dict[tuple[str, str | None], tuple[list[Reading], list[Reading], list[Reading]]] = {}
    for reading in readings:
        group = groups.setdefault((reading_name(reading, wording), reading.unit), ([], [], []))
        place = 0 if reading.stage == "as_found" else 1 if reading.stage == "as_left" else 2
        group[place].append(reading)
    return tuple(pair for (name, _), group in _joined(groups).items() for pair in _pairs_of(name, group))


_Group = tuple[list[Reading], list[Reading], list[Reading]]


def _joined(groups: dict[tuple[str, str | None], _Group]) -> dict[tuple[str, str | None], _Group]:
    """Groups without a unit (open circuit) joined to the group of the same name that has one."""
    joined: dict[tuple[str, str | None], _Group] = {}
    for (name, unit), group in groups.items():
        others = [key for key in groups if key[0] == name and key[1] is not None]
        key = others[0] if unit is None and others else (name, unit)
        into = joined.setdefault(key, ([], [], []))
        for mine, more in zip(into, group, strict=True):
            mine.extend(more)
    return joined


def _pairs_of(name: str, group: _Group) -> list[Pair]:
    found, left, process = group
    rows: list[Pair] = []
    for one, other in zip_longest(found, left):
        if one is not None and other is not None and _limits_differ(one, other):
            rows += [Pair(name=name, found=one), Pair(name=name, left=other)]
        else:
            rows.append(Pair(name=name, found=one, left=other))
    return rows + [Pair(name=name, process=reading) for reading in process]


def _limits_differ(one: Reading, other: Reading) -> bool:
    none = (None, None)
    return none != limits(one)[:2] != limits(other)[:2] != none


def unit_sign(code: str) -> str:
    """The sign of a UCUM unit as people read it; the code itself where it is not known."""
    try:
        return units.sign(code)
    except units.UnitError:
        return text.shown(code)


def _unit(code: str | None) -> str:
    return text.NO_BREAK + unit_sign(code) if code else ""


def _note(reading: Reading, wording: Wording) -> str:
    notes = [wording.word("reference", reading.reference)] if reading.reference else []
    if reading.unit_assumed:
        notes.append(wording.label("assumed"))
    return ", ".join(notes)
