"""Readings of one visit against each other: heaters, windings, sensors, superheat, subcooling, charge and room."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

from voicereport.checks import physics
from voicereport.checks.physics import Letter
from voicereport.checks.physics_refrigerant import (
    ATMOSPHERE,
    PhysicsError,
    absolute,
    co2_equivalent,
    least_room,
    pressure_after,
    saturation_temperature,
    subcooling,
    superheat,
    vacuum_decay,
)
from voicereport.checks.physics_sensors import identify, ohms_at, temperature_of
from voicereport.report import Reading, Verdict
from voicereport.trades.limits import Curve, Limits, Refrigerant
from voicereport.units import convert, sign, written

_LETTERS: dict[str, tuple[Letter, str]] = {
    "voltage": ("V", "V"),
    "current": ("I", "A"),
    "resistance": ("R", "Ohm"),
    "power": ("P", "W"),
}
_UNITS: dict[Letter, str] = dict(_LETTERS.values())
Judged = dict[str, Verdict]


def judge_between(
    readings: tuple[Reading, ...], limits: Limits, facts: Mapping[str, str], *, live: frozenset[str] = frozenset()
) -> tuple[Reading, ...]:
    """`readings` with what they say about each other added to their verdicts: worked lines, and doubts.

    live: ids of readings that were said while the supply was on.
    """
    if not limits.physics:
        return readings
    changed: Judged = {}
    for visit in sorted({r.visit for r in readings}):
        own = [r for r in readings if r.visit == visit]
        _triangles(own, limits, changed)
        _windings(own, limits, changed)
        _sensors(own, limits, facts, changed)
        _circuit_states(own, limits, facts, changed)
        _room(own, limits, facts, changed)
        _greenhouse(own, limits, facts, changed)
        _vacuums(own, limits, changed)
        _pressure_tests(own, limits, changed)
        _pull_down(own, limits, changed)
    _insulation(readings, limits, changed)
    _live_ohms(readings, live, limits, changed)
    return tuple(r.model_copy(update={"verdict": changed[r.id]}) if r.id in changed else r for r in readings)


def _exact(reading: Reading) -> bool:
    return reading.value is not None and reading.value_high is None and reading.qualifier in ("exact", "about")


def _amount(reading: Reading, unit: str) -> float:
    return convert(reading.value or 0.0, reading.unit or unit, unit)


def _belongs(reading: Reading, limits: Limits, name: str) -> bool:
    """The subject of the reading is in one of the groups that [physics] names under `name`."""
    return bool(limits.groups(reading.subject) & set(limits.physics.get(name, ())))


def _celsius(value: float) -> str:
    """A temperature to a tenth of a degree, as people read it."""
    return f"{round(value, 1) + 0.0:.1f} °C".replace("-", "−")


def _say(limits: Limits, name: str, **parts: str) -> str:
    pattern = limits.sentences.get(name)
    return pattern.format(**parts) if pattern else " ".join([name, *parts.values()])


def _add(changed: Judged, reading: Reading, reason: str, worked: str, *, suspect: bool) -> None:
    """Add a worked line to the verdict of `reading`, and make it suspect where it cannot be.

    A verdict that a limit gave keeps its reason; one that was not judged takes this one.
    """
    verdict = changed.get(reading.id, reading.verdict)
    if verdict.worked is not None and worked in verdict.worked:
        return
    lines = worked if verdict.worked is None else f"{verdict.worked}; {worked}"
    update: dict[str, object] = {"worked": lines}
    if suspect and verdict.result != "outside":
        update |= {"result": "suspect", "reason": reason}
    elif suspect or (verdict.result == "not_checked" and verdict.low is None and verdict.high is None):
        update |= {"reason": f"{verdict.reason} {reason}" if verdict.result == "outside" and verdict.reason else reason}
    changed[reading.id] = verdict.model_copy(update=update)


# ---------------------------------------------------------------------------- heaters


def _triangles(readings: Sequence[Reading], limits: Limits, changed: Judged) -> None:
    """Volts, amperes, ohms and watts of one heater at one stage."""
    tolerance = float(limits.physics.get("triangle_tolerance", 0.10))
    electrical = [r for r in readings if _exact(r) and r.quantity in _LETTERS]
    subjects = {r.subject for r in electrical if _belongs(r, limits, "triangle_subjects")}
    for subject in sorted(s for s in subjects if s):
        for stage in ("as_found", "as_left", None):
            own = _of_heater(electrical, subject, stage, limits)
            if not any(r.subject == subject for r, _ in own.values()):
                continue
            values = {letter: value for letter, (_, value) in own.items()}
            whose = {letter: r for letter, (r, _) in own.items()}
            if len(values) >= 3:
                _triangle(values, whose, limits, changed, tolerance)
                continue
            # what was measured at another stage may speak for a value, never against it: a part may have been replaced
            other = {
                k: v
                for s in ("as_found", "as_left", None)
                for k, v in _of_heater(electrical, subject, s, limits).items()
            }
            values = {letter: value for letter, (_, value) in {**other, **own}.items()}
            found = physics.triangle(values, tolerance=tolerance)
            if found is not None and found.agrees:
                _triangle(values, whose, limits, changed, tolerance)


def _of_heater(
    electrical: Sequence[Reading], subject: str, stage: str | None, limits: Limits
) -> dict[Letter, tuple[Reading, float]]:
    """The values of one heater at one stage, with the supply's volts where its own are not known."""
    own: dict[Letter, tuple[Reading, float]] = {}
    for reading in electrical:
        supply = reading.quantity == "voltage" and _belongs(reading, limits, "supply")
        if not (reading.subject == subject or supply):
            continue
        if reading.stage == stage or (supply and reading.stage is None):
            letter, unit = _LETTERS[reading.quantity]
            if letter not in own or reading.subject == subject:
                own[letter] = (reading, _amount(reading, unit))
    return own


def _triangle(
    values: Mapping[Letter, float], whose: Mapping[Letter, Reading], limits: Limits, changed: Judged, tolerance: float
) -> None:
    found = physics.triangle(values, tolerance=tolerance)
    if found is None:
        return
    if found.agrees:
        for reading in whose.values():
            _add(changed, reading, _say(limits, "triangle_agrees"), found.worked, suspect=False)
        return
    odd, other = (found.odd, found.expected) if found.odd else _slip(values, tolerance)
    for letter, reading in whose.items():
        if letter == "V" and odd != "V" and reading.verdict.result == "within":
            continue  # the supply is what it should be
        if odd is None:
            reason = _say(limits, "triangle_disagrees", tolerance=f"{tolerance * 100:.0f} %")
            _add(changed, reading, reason, found.worked, suspect=True)
        elif letter == odd and other is not None:
            shown = written(values[odd], _UNITS[odd])
            reason = _say(limits, "triangle_odd", value=shown, other=written(other, _UNITS[odd]))
            _add(changed, reading, reason, found.worked, suspect=True)


def _slip(values: Mapping[Letter, float], tolerance: float) -> tuple[Letter | None, float | None]:
    """The one value whose neighbour (-teen and -ty, a factor of ten) makes all agree, and that neighbour."""
    found: list[tuple[Letter, float]] = []
    for letter, value in values.items():
        for other in (*physics.teen_neighbours(value), value * 10, value / 10):
            tried = physics.triangle({**values, letter: other}, tolerance=tolerance)
            if tried is not None and tried.agrees:
                found.append((letter, other))
    return found[0] if len(found) == 1 else (None, None)


# ---------------------------------------------------------------------------- windings


def _windings(readings: Sequence[Reading], limits: Limits, changed: Judged) -> None:
    """Three ohms of one compressor or motor at one stage: run and start winding, and the two in series."""
    ohms = [r for r in readings if _exact(r) and r.quantity == "resistance" and r.unit and r.value]
    for stage in ("as_found", "as_left", None):
        own = [r for r in ohms if r.stage == stage and (_belongs(r, limits, "windings") or _named(r, limits))]
        named = [
            next((r for r in own if _belongs(r, limits, k)), None)
            for k in ("run_winding", "start_winding", "series_winding")
        ]
        if all(named):
            run, start, series = (r for r in named if r is not None)
        else:
            same = [r for r in own if not _named(r, limits)]
            if len(same) != 3 or len({r.subject for r in same}) != 1:
                continue
            run, start, series = sorted(same, key=lambda r: _amount(r, "Ohm"))
        _winding(run, start, series, limits, changed, certain=all(named))


def _named(reading: Reading, limits: Limits) -> bool:
    return any(_belongs(reading, limits, key) for key in ("run_winding", "start_winding", "series_winding"))


def _winding(run: Reading, start: Reading, series: Reading, limits: Limits, changed: Judged, *, certain: bool) -> None:
    values = [_amount(r, "Ohm") for r in (run, start, series)]
    if not certain and physics.balanced(tuple(values)):
        for reading in (run, start, series):
            _add(
                changed,
                reading,
                _say(limits, "winding_balanced"),
                " ≈ ".join(written(v, "Ohm") for v in values),
                suspect=False,
            )
        return
    fits, worked = physics.winding_sum(*values)
    for reading in (run, start, series):
        _add(
            changed, reading, _say(limits, "winding_agrees" if fits else "winding_disagrees"), worked, suspect=not fits
        )


# ---------------------------------------------------------------------------- sensors


def _sensors(readings: Sequence[Reading], limits: Limits, facts: Mapping[str, str], changed: Judged) -> None:
    """What a sensor's ohms mean, by a curve that is known or that a thermometer beside it points to."""
    for n, reading in enumerate(readings):
        if (
            not _exact(reading)
            or reading.quantity != "resistance"
            or not _belongs(reading, limits, "sensors")
            or not reading.value
        ):
            continue
        ohms = _amount(reading, "Ohm")
        beside = _thermometer(readings, n)
        known = next((c for c in limits.sensors if c.id == facts.get("sensor_curve")), None)
        if known is not None:
            _known_sensor(reading, ohms, known, beside, limits, changed)
        elif beside is not None:
            _unknown_sensor(reading, ohms, beside, limits, changed)
        elif reading.verdict.result == "not_checked" and reading.verdict.low is None and reading.verdict.high is None:
            _ask(changed, reading, _say(limits, "sensor_ask"))


def _ask(changed: Judged, reading: Reading, reason: str) -> None:
    verdict = changed.get(reading.id, reading.verdict)
    changed[reading.id] = verdict.model_copy(update={"reason": reason})


def _thermometer(readings: Sequence[Reading], n: int) -> float | None:
    """The temperature in °C read straight after the ohms, at the same stage: the thermometer beside the sensor."""
    for reading in readings[n + 1 : n + 2]:
        if (
            reading.quantity == "temperature"
            and _exact(reading)
            and reading.unit
            and reading.stage in (readings[n].stage, None)
        ):
            return _amount(reading, "Cel")
    return None


def _known_sensor(
    reading: Reading, ohms: float, curve: Curve, beside: float | None, limits: Limits, changed: Judged
) -> None:
    try:
        means = temperature_of(curve, ohms)
    except ValueError:
        return
    shown = _celsius(means)
    worked = f"{curve.title}: {written(ohms, 'Ohm')} → {shown}"
    off = beside is not None and abs(means - beside) > float(limits.physics.get("sensor_tolerance_k", 2.0))
    if off and beside is not None:
        at = _celsius(beside)
        reason = _say(
            limits, "sensor_misfits", temperature=at, curve=curve.title, value=written(ohms_at(curve, beside), "Ohm")
        )
    else:
        reason = _say(limits, "sensor_means", curve=curve.title, value=shown)
    _add(changed, reading, reason, worked, suspect=off)


def _unknown_sensor(reading: Reading, ohms: float, celsius: float, limits: Limits, changed: Judged) -> None:
    tolerance = float(limits.physics.get("sensor_tolerance_k", 2.0))
    found = identify([(celsius, ohms)], limits.sensors, tolerance=tolerance)
    at = _celsius(celsius)
    if found:
        titles = ", ".join(m.curve.title for m in found)
        worked = "; ".join(f"{m.curve.title}: {written(ohms_at(m.curve, celsius), 'Ohm')} at {at}" for m in found)
        _add(changed, reading, _say(limits, "sensor_fits", temperature=at, curve=titles), worked, suspect=False)
        return
    if not limits.sensors:
        return
    nearest = min(limits.sensors, key=lambda c: abs(ohms_at(c, celsius) / ohms - 1))
    expected = ohms_at(nearest, celsius)
    reason = _say(limits, "sensor_misfits", temperature=at, curve=nearest.title, value=written(expected, "Ohm"))
    _add(
        changed,
        reading,
        reason,
        f"{nearest.title}: {written(expected, 'Ohm')} at {at}; measured {written(ohms, 'Ohm')}",
        suspect=False,
    )


# ---------------------------------------------------------------------------- refrigerant circuit


def _circuit_states(readings: Sequence[Reading], limits: Limits, facts: Mapping[str, str], changed: Judged) -> None:
    """Superheat and subcooling from a pressure with its reference and the temperature of its line."""
    refrigerant = limits.refrigerants.get(facts.get("refrigerant", ""))
    if refrigerant is None:
        return
    altitude = _fact(facts, "altitude_m", otherwise=0.0)
    for pressure in readings:
        if pressure.quantity not in ("pressure", "vacuum") or not _exact(pressure) or pressure.reference is None:
            continue
        for side, line, name, work in (
            ("suction_pressure", "suction_line", "superheat", superheat),
            ("head_pressure", "liquid_line", "subcooling", subcooling),
        ):
            if _belongs(pressure, limits, side):
                lines = [
                    r
                    for r in readings
                    if r.quantity == "temperature"
                    and _exact(r)
                    and r.stage == pressure.stage
                    and _belongs(r, limits, line)
                ]
                _state(pressure, lines, refrigerant, altitude, name, work, limits, changed)


def _state(
    pressure: Reading,
    lines: Sequence[Reading],
    refrigerant: Refrigerant,
    altitude: float,
    name: str,
    work: Callable[[Refrigerant, float, float], tuple[float, str]],
    limits: Limits,
    changed: Judged,
) -> None:
    if pressure.reference is None:
        return
    before = changed.get(pressure.id)
    try:
        value = absolute(pressure.value or 0.0, pressure.unit or "Pa", pressure.reference, altitude_m=altitude)
        saturated = saturation_temperature(refrigerant, value)
        done = [(r, *work(refrigerant, value, _amount(r, "Cel"))) for r in lines[:1]]
    except PhysicsError as error:
        _add(changed, pressure, str(error), error.problem, suspect=True)
        return
    if not done:
        shown = _celsius(saturated)
        worked = f"{refrigerant.name}: {written(value / 1000, 'kPa')} absolute → {shown}"
        _add(changed, pressure, _say(limits, "saturated", value=shown), worked, suspect=False)
    for line, kelvin, worked in done:
        negative = kelvin < -0.5  # half a kelvin is the probes' own error
        reason = _say(limits, f"{name}_negative") if negative else _say(limits, name, value=f"{kelvin:.1f} K")
        for reading in (pressure, line):
            _add(changed, reading, reason, worked, suspect=negative)
    if name == "superheat" and value < ATMOSPHERE and changed.get(pressure.id) != before:
        starved = saturated < float(limits.physics.get("evaporator_least_c", -40))
        sentence = "low_side_starved" if starved else "low_side_below"
        _remark(changed, pressure, _say(limits, sentence, refrigerant=refrigerant.name, value=_celsius(saturated)))


def _remark(changed: Judged, reading: Reading, sentence: str) -> None:
    """Add a sentence to the reason, whatever the verdict."""
    verdict = changed.get(reading.id, reading.verdict)
    reason = f"{verdict.reason} {sentence}" if verdict.reason else sentence
    changed[reading.id] = verdict.model_copy(update={"reason": reason})


def _room(readings: Sequence[Reading], limits: Limits, facts: Mapping[str, str], changed: Judged) -> None:
    """The charge of a flammable refrigerant against the volume of the room, where that is known."""
    refrigerant = limits.refrigerants.get(facts.get("refrigerant", ""))
    if refrigerant is None or refrigerant.practical_limit is None:
        return
    for reading in readings:
        if (
            reading.quantity != "mass"
            or not _exact(reading)
            or not _belongs(reading, limits, "charge")
            or not reading.unit
            or reading.stage == "as_found"  # what came out
        ):
            continue
        room, worked = least_room(refrigerant, _amount(reading, "kg"))
        needed = _say(limits, "room_small", value=written(room, "m3", figures=3))
        _add(changed, reading, needed, worked, suspect=False)
        verdict = changed[reading.id]
        if verdict.reason and verdict.reason != needed:
            verdict = verdict.model_copy(update={"reason": f"{verdict.reason} {needed}"})
        if _fact(facts, "room_volume_m3", otherwise=room) < room:
            verdict = verdict.model_copy(update={"result": "outside", "reason": needed})
        changed[reading.id] = verdict


def _greenhouse(readings: Sequence[Reading], limits: Limits, facts: Mapping[str, str], changed: Judged) -> None:
    """The charge of a fluorinated refrigerant as tonnes of CO2, where the rules count them."""
    refrigerant = limits.refrigerants.get(facts.get("refrigerant", ""))
    rule = limits.physics.get("greenhouse", {})
    if refrigerant is None or refrigerant.gwp is None or facts.get("profile") not in rule.get("profiles", ()):
        return
    for reading in readings:
        if reading.quantity == "mass" and _exact(reading) and _belongs(reading, limits, "charge") and reading.unit:
            kilos = _amount(reading, "kg")
            tonnes = co2_equivalent(kilos, refrigerant.gwp)
            worked = f"{written(kilos, 'kg')} · {refrigerant.gwp:g} / 1000 = {written(tonnes)} t CO₂e"
            least = float(rule["tonnes"])
            name = "greenhouse_below" if tonnes < least else "greenhouse_above"
            _add(changed, reading, _say(limits, name, value=written(tonnes), least=f"{least:g}"), worked, suspect=False)


def _fact(facts: Mapping[str, str], name: str, *, otherwise: float) -> float:
    """A fact as a number; `otherwise` where it is not known, or is none."""
    try:
        return float(facts[name])
    except (KeyError, ValueError):
        return otherwise


# ---------------------------------------------------------------------------- vacuum


def _vacuums(readings: Sequence[Reading], limits: Limits, changed: Judged) -> None:
    """What a vacuum says that was read, shut off for a stated time and read again."""
    gauges = limits.physics.get("vacuum_gauge_units", ())
    deep = [n for n, r in enumerate(readings) if r.quantity == "vacuum" and r.value is not None
            and r.reference != "gauge" and r.unit not in gauges]  # fmt: skip
    if "vacuum_limit_um" not in limits.physics or len(deep) < 2:
        return
    first, second = readings[deep[0]], readings[deep[1]]
    times = [r for r in readings[max(0, deep[1] - 1) : deep[1] + 2] if r.quantity == "time" and _exact(r)]
    if first.qualifier != "exact" or second.value_high is not None or not times:
        return
    minutes = _amount(times[-1], "min")
    values = [_amount(readings[n], "um[Hg]") for n in deep[:3]]
    least = float(limits.physics["vacuum_least_min"])
    state = vacuum_decay(
        values[0],
        values[1],
        minutes,
        later=values[2] if len(values) > 2 else None,
        limit=float(limits.physics["vacuum_limit_um"]),
        restart=float(limits.physics["vacuum_restart_um"]),
        least_minutes=least,
    )
    worked = " → ".join(written(v) for v in values) + f" {sign('um[Hg]')}, {written(minutes, 'min')}"
    sentence = _say(limits, f"vacuum_{state}", least=written(least, "min"))
    verdict = changed.get(second.id, second.verdict)
    reason = f"{verdict.reason} {sentence}" if verdict.reason else sentence
    changed[second.id] = verdict.model_copy(update={"worked": worked, "reason": reason})


# ---------------------------------------------------------------------------- what changes with time


def _pull_down(readings: Sequence[Reading], limits: Limits, changed: Judged) -> None:
    """A compartment read again after a stated time: after a repair it gets colder, but for a defrost."""
    rise = float(limits.physics.get("pull_down_rise_k", 1.0))
    read = [n for n, r in enumerate(readings) if r.quantity == "temperature" and _exact(r) and r.unit
            and r.stage != "as_found" and _belongs(r, limits, "compartments")]  # fmt: skip
    for n, m in pairwise(read):
        first, second = readings[n], readings[m]
        if first.subject != second.subject or not any(r.quantity == "time" for r in readings[n + 1 : m + 2]):
            continue
        if _amount(second, "Cel") - _amount(first, "Cel") > rise:
            before, value = (_celsius(_amount(r, "Cel")) for r in (first, second))
            _remark(changed, second, _say(limits, "pull_down_rises", before=before, value=value))


def _insulation(readings: Sequence[Reading], limits: Limits, changed: Judged) -> None:
    """Insulation of one thing that falls from visit to visit."""
    share = float(limits.physics.get("insulation_fall_share", 0.5))
    read = [r for r in readings if r.quantity == "insulation_resistance" and r.value and r.value_high is None]
    for first, second in pairwise(read):
        fell = first.visit < second.visit and first.subject == second.subject and second.qualifier != "at_least"
        if fell and _amount(second, "MOhm") <= share * _amount(first, "MOhm"):
            before, value = (written(r.value or 0.0, r.unit or "MOhm") for r in (first, second))
            _remark(changed, second, _say(limits, "insulation_falls", before=before, value=value))


def _live_ohms(readings: Sequence[Reading], live: frozenset[str], limits: Limits, changed: Judged) -> None:
    """Ohms that are said to be read while the supply is on: they cannot be."""
    for reading in readings:
        if reading.id in live and reading.quantity == "resistance" and reading.stage != "as_found":
            verdict = changed.get(reading.id, reading.verdict)
            result = verdict.result if verdict.result == "outside" else "suspect"
            changed[reading.id] = verdict.model_copy(update={"result": result, "reason": _say(limits, "live_ohms")})


# ---------------------------------------------------------------------------- pressure tests


def _pressure_tests(readings: Sequence[Reading], limits: Limits, changed: Judged) -> None:
    """A test pressure read twice, the second against what the change of temperature makes of the first."""
    if "test_pressure" not in limits.physics:
        return
    tests = [n for n, r in enumerate(readings) if r.quantity == "pressure" and _exact(r) and r.reference == "gauge"
             and _belongs(r, limits, "test_pressure") and not _belongs(r, limits, "test_pressure_not")]  # fmt: skip
    for n, m in pairwise(tests):
        if readings[n].stage == readings[m].stage:
            _pressure_test(readings[n], readings[m], _around(readings, n, limits), _around(readings, m, limits),
                           limits, changed)  # fmt: skip


def _around(readings: Sequence[Reading], n: int, limits: Limits) -> float | None:
    """The room's temperature in °C that was read right beside the pressure at `n`, after it or before it."""
    for reading in (*readings[n + 1 : n + 2], *readings[max(0, n - 1) : n]):
        near = reading.subject is None or _belongs(reading, limits, "ambient")
        if reading.quantity == "temperature" and _exact(reading) and reading.unit and near:
            return _amount(reading, "Cel")
    return None


def _pressure_test(
    first: Reading, second: Reading, before: float | None, after: float | None, limits: Limits, changed: Judged
) -> None:
    start, end = _amount(first, "Pa"), _amount(second, "Pa")
    share = float(limits.physics.get("test_pressure_share", 0.01))
    unit = second.unit or "Pa"
    shown = {"before": written(_in(start, unit), unit), "value": written(_in(end, unit), unit)}
    if before is None or after is None:
        kept = abs(end - start) <= share * (start + ATMOSPHERE)
        if kept or end < start:
            _settle(changed, second, _say(limits, "pressure_kept" if kept else "pressure_ask", **shown), None)
        return
    expected, worked = pressure_after(start, before, after)
    slack = share * (expected + ATMOSPHERE)
    name = (
        "pressure_holds" if abs(end - expected) <= slack else "pressure_falls" if end < expected else "pressure_rises"
    )
    reason = _say(limits, name, expected=written(_in(expected, unit), unit), **shown)
    low, high = (round(_in(expected + side * slack, unit), 2) for side in (-1, 1))
    result = {"pressure_holds": "within", "pressure_falls": "outside", "pressure_rises": "suspect"}[name]
    source = _say(limits, "pressure_source", percent=f"{share * 100:g}")
    _settle(changed, second, reason, worked)
    changed[second.id] = changed[second.id].model_copy(
        update={"result": result, "low": low, "high": high, "unit": unit, "source": source}
    )


def _in(pascal: float, unit: str) -> float:
    return convert(pascal, "Pa", unit)


def _settle(changed: Judged, reading: Reading, reason: str, worked: str | None) -> None:
    verdict = changed.get(reading.id, reading.verdict)
    changed[reading.id] = verdict.model_copy(update={"reason": reason, "worked": worked or verdict.worked})
