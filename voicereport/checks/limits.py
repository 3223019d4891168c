"""Readings to verdicts: by the job's own specification, by published limits whose conditions are known, by physics."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from voicereport.checks.between import judge_between
from voicereport.checks.physics import rated_ohms_band, teen_neighbours
from voicereport.checks.physics_refrigerant import ATMOSPHERE, absolute
from voicereport.report import Evidence, Reading, Report, Verdict
from voicereport.trades import Trade
from voicereport.trades.limits import Band, Limit, Limits
from voicereport.units import convert, same_dimension, written

_SUPPLY = "power supply"  #: the contract's name
_ROUNDING = 1e-9  #: relative: a converted value that equals a limit is not over it
Fits = Literal["within", "outside", "open"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Bounds:
    """What a reading is held against, in the reading's unit."""

    low: float | None
    high: float | None
    source: str
    unit: str
    tolerance: float = 0.0
    usual: tuple[float | None, float | None] = (None, None)


def judge_readings(
    readings: tuple[Reading, ...],
    *,
    limits: Limits | None,
    facts: Mapping[str, str],
    near: Mapping[str, Mapping[str, str]] | None = None,
    live: frozenset[str] = frozenset(),
) -> tuple[Reading, ...]:
    """`readings` with their verdicts, in order.

    facts: what is known of the job by the names in limits.toml ([facts]), all as text: {"profile": "US"}. A limit whose
    conditions are not all known gives `not_checked` with the question to ask. limits: None judges only spoken
    specifications and doubts. near: facts of single readings, by their ids. live: ids of readings that were said while
    the supply was on.
    """
    limits = limits or Limits()
    near = near or {}
    judged = tuple(
        r.model_copy(update={"verdict": judge(r, limits, with_implied({**facts, **near.get(r.id, {})}, limits))})
        for r in readings
    )
    return judge_between(judged, limits, with_implied(facts, limits), live=live)


def judge_report(
    report: Report, trade: Trade, *, profile: str | None = None, facts: Mapping[str, str] | None = None
) -> Report:
    """`report` with its readings judged by the limits of `trade`.

    profile: whose rules hold ("US", "UK"). Facts that are heard in the words of the job are added to `facts`, which
    come first.
    """
    limits: Limits | None = trade.limits
    known = {
        **(facts_of(report, limits) if limits else {}),
        **({"profile": profile} if profile else {}),
        **(facts or {}),
    }
    near = _near_facts(report, limits) if limits else {}
    live = live_readings(report, frozenset(limits.physics.get("power_off_claims", ()))) if limits else frozenset()
    readings = judge_readings(report.readings, limits=limits, facts=known, near=near, live=live)
    return report.model_copy(update={"readings": readings})


def _near_facts(report: Report, limits: Limits) -> dict[str, dict[str, str]]:
    """By the id of a reading: the facts that are heard in the sentence in which it was said, and hold for it alone."""
    rows = [heard for heard in limits.heard if heard.near]
    texts = {(s.recording, s.id): s.text for s in report.transcript.segments}
    found: dict[str, dict[str, str]] = {}
    for reading in report.readings:
        said: dict[str, set[str]] = {}
        for evidence in reading.evidence:
            whole = texts.get((evidence.recording, evidence.segment), "")
            sentences = [s for s in re.split(r"(?<=[.?!])\s+", whole) if evidence.quote in s] or [whole]
            text = " ".join(sentences).lower()
            for heard in rows:
                if heard.pattern.search(text):
                    said.setdefault(heard.fact, set()).add(heard.value)
        found[reading.id] = {fact: next(iter(values)) for fact, values in said.items() if len(values) == 1}
    return found


def live_readings(report: Report, off: frozenset[str] = frozenset()) -> frozenset[str]:
    """The ids of the readings that were said after the supply was given back and before it was off again.

    off: claims that say that it is off. Before the first word about the supply of a visit nothing is known, and none is
    named.
    """
    order = {recording.name: n for n, recording in enumerate(report.recordings)}

    def at(visit: int, evidence: Sequence[Evidence]) -> tuple[int, int, float]:
        return (visit, order.get(evidence[0].recording, 0), evidence[0].start)

    power = {"restore_power": True, "isolate": False}
    turns = [
        (at(s.visit, s.evidence), power[s.action])
        for s in report.steps
        if s.evidence and s.part == _SUPPLY and s.status == "done" and s.action in power
    ]
    turns += [
        (at(c.visit, c.evidence), False) for c in report.claims if c.evidence and c.claim in off and c.status == "done"
    ]
    turns.sort()
    found = set()
    for reading in report.readings:
        if reading.evidence:
            here = at(reading.visit, reading.evidence)
            before = [on for place, on in turns if place[0] == here[0] and place <= here]
            if before and before[-1]:
                found.add(reading.id)
    return frozenset(found)


def facts_of(report: Report, limits: Limits) -> dict[str, str]:
    """The facts that are heard in the words of the job; one that is heard in two ways is left out."""
    text = " ".join(s.text for s in report.transcript.segments).lower()
    kind = report.job.appliance.kind
    text = f"{text} {kind.value.lower() if kind else ''}"
    found: dict[str, set[str]] = {}
    for heard in limits.heard:
        if not heard.near and heard.pattern.search(text):
            found.setdefault(heard.fact, set()).add(heard.value)
    return {fact: next(iter(values)) for fact, values in found.items() if len(values) == 1}


def with_implied(facts: Mapping[str, str], limits: Limits) -> dict[str, str]:
    """`facts` with those that follow from them; what is known stays as it is."""
    out = dict(facts)
    for row in limits.implied:
        if all(c.holds(out) is True for c in row.when):
            out = {**row.facts, **out}
    return out


def judge(reading: Reading, limits: Limits, facts: Mapping[str, str]) -> Verdict:
    """The verdict over one reading by itself."""
    say = limits.sentences
    if reading.doubt is not None:
        return Verdict(result="suspect", reason=_say(say, "doubt", value=_shown(reading), other=reading.doubt))
    if reading.qualifier in ("open_circuit", "short_circuit"):
        return _circuit(reading, limits)
    if reading.value is None or reading.unit is None:
        return Verdict(result="not_checked", reason=_say(say, "no_unit"))
    if reading.limit_low is not None or reading.limit_high is not None:
        spoken = Bounds(low=reading.limit_low, high=reading.limit_high, unit=reading.unit, source=_say(say, "stated"))
        return _compared(reading, spoken, limits)
    for band in limits.bands:
        if _concerns(reading, band, limits) and (verdict := _banded(reading, band, limits)) is not None:
            return verdict
    return _by_limits(reading, limits, facts)


def _by_limits(reading: Reading, limits: Limits, facts: Mapping[str, str]) -> Verdict:
    """The strictest verdict of the limits that apply; a question where facts are lacking; no limit known otherwise."""
    verdicts: list[Verdict] = []
    questions: list[str] = []
    for limit in limits.limits:
        if not _concerns(reading, limit, limits) or limit.stage not in (None, reading.stage):
            continue
        least = _in_unit(limit.ignore_below, limit.unit, reading)
        if least is not None and (reading.value_high or reading.value or 0.0) < least:
            continue
        held = [c.holds(facts) for c in limit.when]
        if False in held:
            continue
        if _below_atmosphere(reading, limits):
            return _coarse(reading, limits)
        if None in held:
            lacking = [c.fact for c, h in zip(limit.when, held, strict=True) if h is None]
            questions += [limits.questions[f] for f in lacking if limits.questions[f] not in questions]
            continue
        verdicts.append(_compared(reading, _bounds(reading, limit, facts), limits))
    rated = _rated(reading, limits, facts)
    if rated is not None:
        verdicts.append(rated)
    if verdicts:
        order = ("outside", "suspect", "not_checked", "within")
        return min(verdicts, key=lambda v: order.index(v.result))
    if questions:
        return Verdict(result="not_checked", reason=_say(limits.sentences, "ask", question=" ".join(questions)))
    return Verdict(result="not_checked", reason=_say(limits.sentences, "no_limit"))


def _below_atmosphere(reading: Reading, limits: Limits) -> bool:
    """The reading counts down from the atmosphere, as gauges in inches do, and not up from nothing."""
    if reading.quantity != "vacuum" or reading.reference == "absolute" or reading.unit is None:
        return False
    share = convert(reading.value or 0.0, reading.unit, "Pa") / ATMOSPHERE
    deep = share < float(limits.physics.get("vacuum_absolute_below", 0.1))
    return reading.unit in limits.physics.get("vacuum_gauge_units", ()) or (reading.reference == "vacuum" and not deep)


def _coarse(reading: Reading, limits: Limits) -> Verdict:
    """A vacuum by a gauge that cannot show a deep one: what it leaves, and no verdict."""
    unit = reading.unit or "Pa"
    left = absolute(reading.value or 0.0, unit, "vacuum")
    reason = _say(limits.sentences, "vacuum_coarse", value=_shown(reading), left=_figures(left, "um[Hg]"))
    worked = (
        f"{_figures(ATMOSPHERE, unit)} − {written(reading.value or 0.0, unit)} = {_figures(left, unit)} "
        f"= {_figures(left, 'um[Hg]')}"
    )
    return Verdict(result="not_checked", reason=reason, worked=worked)


def _figures(pascal: float, unit: str) -> str:
    return written(convert(pascal, "Pa", unit), unit, figures=4)


def _concerns(reading: Reading, rule: Limit | Band, limits: Limits) -> bool:
    """The rule is for this quantity and this subject."""
    if rule.quantity != reading.quantity or not same_dimension(rule.unit, reading.unit):
        return False
    groups = limits.groups(reading.subject)
    return (not rule.subjects or bool(groups & set(rule.subjects))) and not groups & set(rule.unless)


def _in_unit(value: float | None, unit: str, reading: Reading) -> float | None:
    if value is None or reading.unit is None:
        return None
    return convert(value, unit, reading.unit, difference=reading.quantity == "temperature_difference")


def _number(facts: Mapping[str, str], fact: str) -> float:
    """A fact as a number; 0 where it is not known, or is none."""
    try:
        return float(facts[fact])
    except (KeyError, ValueError):
        return 0.0


def _bounds(reading: Reading, limit: Limit, facts: Mapping[str, str]) -> Bounds:
    """The limit in the reading's unit, with what the facts add to it."""
    high = limit.high
    if limit.step is not None and high is not None:
        above = _number(facts, limit.step.fact) - limit.step.over
        high = min(limit.step.most, high + limit.step.add * max(0, int(above / limit.step.each)))
    low, unit = limit.low, reading.unit or limit.unit
    if limit.around is not None:
        low, high = limit.around.bounds(facts) or (low, high)
    return Bounds(
        low=_in_unit(low, limit.unit, reading), high=_in_unit(high, limit.unit, reading), unit=unit,
        source=f"{limit.title}: {limit.source}", tolerance=convert(limit.tolerance, limit.unit, unit, difference=True),
        usual=(_in_unit(limit.usual_low, limit.unit, reading), _in_unit(limit.usual_high, limit.unit, reading)),
    )  # fmt: skip


def _rated(reading: Reading, limits: Limits, facts: Mapping[str, str]) -> Verdict | None:
    """A heater's ohms against its rating, where that is known."""
    groups = limits.physics.get("triangle_subjects", ())
    if reading.quantity != "resistance" or not limits.groups(reading.subject) & set(groups) or reading.unit is None:
        return None
    try:
        watts, volts = float(facts["heater_watts"]), float(facts["heater_volts"])
    except (KeyError, ValueError):
        return None
    low, high = rated_ohms_band(volts, watts)
    rating = _say(limits.sentences, "heater_rating", watts=written(watts, "W"), volts=written(volts, "V"))
    bounds = Bounds(low=_in_unit(low, "Ohm", reading), high=_in_unit(high, "Ohm", reading), unit=reading.unit,
                    source=f"{limits.physics.get('heater_source', '')} {rating}".strip())  # fmt: skip
    return _compared(reading, bounds, limits)


def _fits(value: float, bounds: Bounds) -> bool:
    slack = bounds.tolerance + _ROUNDING * max(abs(value), 1.0)
    return (bounds.low is None or value >= bounds.low - slack) and (bounds.high is None or value <= bounds.high + slack)


def _fit(reading: Reading, bounds: Bounds) -> Fits:
    """Whether the reading lies within; "open" where its qualifier leaves that open."""
    value = reading.value or 0.0
    ends = [value] if reading.value_high is None else [value, reading.value_high]
    inside = [_fits(v, bounds) for v in ends]
    if reading.qualifier == "at_most":
        too_low = bounds.low is not None and not _fits(value, bounds) and value < bounds.low
        return "within" if inside[0] and bounds.low is None else "outside" if too_low else "open"
    if reading.qualifier == "at_least":
        too_high = bounds.high is not None and not _fits(value, bounds) and value > bounds.high
        return "within" if inside[0] and bounds.high is None else "outside" if too_high else "open"
    return "within" if all(inside) else "open" if any(inside) else "outside"


def _compared(reading: Reading, bounds: Bounds, limits: Limits) -> Verdict:
    """The verdict of one reading against one pair of bounds."""
    say = limits.sentences
    shown, limit = _shown(reading), _limit_words(bounds)
    low, high = (None if b is None else round(b, 4) for b in (bounds.low, bounds.high))

    def verdict(result: Any, reason: str) -> Verdict:
        return Verdict(result=result, low=low, high=high, unit=bounds.unit, source=bounds.source or None, reason=reason)

    fit = _fit(reading, bounds)
    if fit == "open":
        return verdict(
            "not_checked", _say(say, "straddles" if reading.value_high else "open_end", value=shown, limit=limit)
        )
    if fit == "within":
        usual = Bounds(low=bounds.usual[0], high=bounds.usual[1], source="", unit=bounds.unit)
        if reading.value is not None and not _fits(reading.value, usual):
            return verdict("within", _say(say, "unusual", value=shown, usual=_limit_words(usual)))
        return verdict("within", _say(say, "within", value=shown, limit=limit))
    for other, kind in _slips(reading, bounds, limits):
        return verdict(
            "suspect", _say(say, "neighbour", value=shown, limit=limit, other=other, kind=_say(say, f"kind_{kind}"))
        )
    return verdict("outside", _say(say, "outside", value=shown, limit=limit))


def _slips(reading: Reading, bounds: Bounds, limits: Limits) -> Iterator[tuple[str, str]]:
    """What a reading outside its limit may have been, where it does not make sense as it stands."""
    for other, kind in neighbours(reading, lambda v: _fits(v, bounds)):
        if kind == "scale":
            continue  # the other scale nearly always fits something
        if kind == "sign":
            if reading.stage == "as_left" and _far_outside(reading, bounds, limits):
                yield other, kind
        elif bounds.low is not None and bounds.high is not None:
            yield other, kind  # beyond a single bound there is no telling a fault from a slip


def _far_outside(reading: Reading, bounds: Bounds, limits: Limits) -> bool:
    """A temperature farther from its limit than an appliance that was just repaired can be."""
    if reading.value is None or reading.unit is None:
        return False
    ends = [abs(reading.value - b) for b in (bounds.low, bounds.high) if b is not None]
    far = float(limits.physics.get("sign_doubt_k", 30))
    return bool(ends) and convert(min(ends), reading.unit, "K", difference=True) > far


def _banded(reading: Reading, band: Band, limits: Limits) -> Verdict | None:
    """Suspect where the reading lies outside what it can be at all."""
    bounds = Bounds(low=_in_unit(band.low, band.unit, reading), high=_in_unit(band.high, band.unit, reading),
                    source=band.source, unit=reading.unit or band.unit)  # fmt: skip
    if _fit(reading, bounds) != "outside":
        return None
    say = limits.sentences
    low, high = (None if b is None else round(b, 4) for b in (bounds.low, bounds.high))
    reason = _say(say, "implausible", value=_shown(reading), why=band.why)
    for other, kind in neighbours(reading, lambda v: _fits(v, bounds)):
        reason = _say(
            say,
            "implausible_neighbour",
            value=_shown(reading),
            why=band.why,
            other=other,
            kind=_say(say, f"kind_{kind}"),
        )
        break
    return Verdict(result="suspect", low=low, high=high, unit=bounds.unit, source=band.source, reason=reason)


def neighbours(reading: Reading, fits: Callable[[float], bool]) -> Iterator[tuple[str, str]]:
    """What the reading may have been instead and would fit, as people read it, with the kind of slip."""
    if reading.value is None or reading.unit is None or reading.value_high is not None:
        return
    value, unit = reading.value, reading.unit
    for other in teen_neighbours(value):
        if fits(other):
            yield written(other, unit), "teen"
    if reading.quantity == "temperature":
        flipped = {"Cel": "[degF]", "[degF]": "Cel"}.get(unit)
        # a reading as found may be as warm as that; only a scale that nobody named, or a value left behind, is doubted
        if (
            flipped
            and (reading.unit_assumed or reading.stage == "as_left" or value > 25)
            and fits(convert(value, flipped, unit))
        ):
            yield written(value, flipped), "scale"
        if reading.stage == "as_left" and value and fits(-value):
            yield written(-value, unit), "sign"
        return
    for factor, kind in ((10.0, "ten"), (0.1, "ten"), (1000.0, "thousand"), (0.001, "thousand")):
        if (
            reading.quantity in ("resistance", "voltage", "current", "power", "capacitance")
            and value
            and fits(value * factor)
        ):
            yield written(value * factor, unit), kind


def _circuit(reading: Reading, limits: Limits) -> Verdict:
    """Open or short: outside where the part has to conduct, or has to have resistance."""
    groups = limits.groups(reading.subject)
    is_open = reading.qualifier == "open_circuit"
    wanted = set(limits.circuits.get("conducts" if is_open else "resists", ()))
    if groups & wanted:
        sentence = "open_outside" if is_open else "short_outside"
        return Verdict(
            result="outside", reason=_say(limits.sentences, sentence), source=_say(limits.sentences, "circuits_source")
        )
    return Verdict(result="not_checked", reason=_say(limits.sentences, "circuit_unknown"))


def _say(sentences: Mapping[str, str], name: str, **parts: str) -> str:
    """The sentence `name` of the pack with its parts filled in; the parts alone where a pack has no such sentence."""
    pattern = sentences.get(name)
    return pattern.format(**parts) if pattern else " ".join([name, *parts.values()])


def _shown(reading: Reading) -> str:
    """The value as people read it, at the decimals that were spoken."""
    if reading.value is None or reading.unit is None:
        return reading.spoken
    low = _digits(reading.value, reading)
    if reading.value_high is not None:
        return f"{low} to {written(reading.value_high, reading.unit, figures=6)}"
    return f"{low} {written(0, reading.unit).partition(' ')[2]}".strip()


def _digits(value: float, reading: Reading) -> str:
    if reading.decimals is not None:
        return f"{value:.{reading.decimals}f}".replace("-", "−")
    return written(value, figures=6)


def _limit_words(bounds: Bounds) -> str:
    if bounds.low is not None and bounds.high is not None:
        return f"{written(bounds.low)} to {written(bounds.high, bounds.unit)}"
    if bounds.high is not None:
        return f"≤ {written(bounds.high, bounds.unit)}"
    return f"≥ {written(bounds.low or 0.0, bounds.unit)}"
