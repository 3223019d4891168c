"""What the bench asks without a recording: conversions, sensors, superheat, heaters. The same code as the verdicts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from voicereport import units
from voicereport.checks import physics, physics_refrigerant, physics_sensors
from voicereport.errors import VoiceReportError
from voicereport.report import Reference
from voicereport.trades.limits import Curve, Limits, Refrigerant
from voicereport.units import written


class ComputeError(VoiceReportError):
    """Something that cannot be computed from what was given."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Computed:
    """A result that a person can check by hand."""

    value: float
    unit: str  #: UCUM
    worked: str  #: formula, numbers in, result
    source: str  #: where the formula or the figures come from


def curve_of(limits: Limits, name: str) -> Curve:
    """The sensor curve `name` of a trade. Raises ComputeError that names the known ones."""
    for curve in limits.sensors:
        if name in (curve.id, curve.title):
            return curve
    known = ", ".join(c.id for c in limits.sensors) or "none"
    raise ComputeError(name, "there is no such sensor curve", f"known are: {known}")


def refrigerant_of(limits: Limits, name: str) -> Refrigerant:
    """The refrigerant `name` ("R-600a", "r600a") of a trade. Raises ComputeError that names the known ones."""
    plain = name.replace("-", "").lower()
    for known in limits.refrigerants.values():
        if known.name.replace("-", "").lower() == plain:
            return known
    raise ComputeError(name, "there is no such refrigerant", f"known are: {', '.join(limits.refrigerants) or 'none'}")


def conversion(value: float, unit: str, to_unit: str, *, difference: bool = False) -> Computed:
    """`value` in another unit; difference: of temperature. Raises UnitError."""
    result = units.convert(value, unit, to_unit, difference=difference)
    worked = f"{written(value, unit, figures=7)} = {written(result, to_unit, figures=7)}"
    return Computed(value=result, unit=to_unit, worked=worked, source="NIST SP 811 by way of pint")


def sensor_temperature(ohms: float, curve: Curve, *, unit: str = "Cel") -> Computed:
    """The temperature that `ohms` mean on `curve`. Raises ComputeError for ohms that the curve does not reach."""
    try:
        celsius = physics_sensors.temperature_of(curve, ohms)
    except ValueError as error:
        raise ComputeError(curve.id, str(error)) from error
    value = units.convert(celsius, "Cel", unit)
    return Computed(
        value=value,
        unit=unit,
        worked=f"{curve.title}: {written(ohms, 'Ohm', figures=6)} → {written(value, unit)}",
        source=curve.source,
    )


def sensor_ohms(celsius: float, curve: Curve) -> Computed:
    """The ohms of `curve` at a temperature in °C. Raises ComputeError outside its table."""
    try:
        ohms = physics_sensors.ohms_at(curve, celsius)
    except ValueError as error:
        raise ComputeError(curve.id, str(error)) from error
    worked = f"{curve.title}: {written(celsius, 'Cel')} → {written(ohms, 'Ohm', figures=5)}"
    return Computed(value=ohms, unit="Ohm", worked=worked, source=curve.source)


def fitting_curves(points: Sequence[tuple[float, float]], limits: Limits) -> tuple[Computed, ...]:
    """The curves that (°C, ohms) points fit, best first, each with its largest error in kelvin."""
    found = physics_sensors.identify(points, limits.sensors)
    return tuple(
        Computed(value=m.worst, unit="K", worked=f"{m.curve.title}: at most {m.worst:.2f} K off", source=m.curve.source)
        for m in found
    )


def _pressure(value: float, unit: str, reference: Reference, altitude_m: float) -> float:
    return physics_refrigerant.absolute(value, unit, reference, altitude_m=altitude_m)


def saturation(
    refrigerant: Refrigerant,
    pressure: float,
    unit: str,
    *,
    reference: Reference,
    altitude_m: float = 0.0,
    to_unit: str = "Cel",
) -> Computed:
    """Saturation temperature at a pressure. reference is never guessed. Raises PhysicsError, UnitError."""
    absolute = _pressure(pressure, unit, reference, altitude_m)
    value = units.convert(physics_refrigerant.saturation_temperature(refrigerant, absolute), "Cel", to_unit)
    worked = (
        f"{refrigerant.name}: {written(pressure, unit)} {reference} = "
        f"{written(absolute / 1000, 'kPa', figures=5)} absolute → {written(value, to_unit)}"
    )
    return Computed(value=value, unit=to_unit, worked=worked, source=refrigerant.source)


def superheat(
    refrigerant: Refrigerant,
    pressure: float,
    unit: str,
    line: float,
    line_unit: str,
    *,
    reference: Reference,
    altitude_m: float = 0.0,
) -> Computed:
    """Superheat in K from suction pressure and line temperature. Raises PhysicsError, UnitError."""
    absolute = _pressure(pressure, unit, reference, altitude_m)
    kelvin, worked = physics_refrigerant.superheat(refrigerant, absolute, units.convert(line, line_unit, "Cel"))
    return Computed(value=kelvin, unit="K", worked=worked, source=refrigerant.source)


def subcooling(
    refrigerant: Refrigerant,
    pressure: float,
    unit: str,
    line: float,
    line_unit: str,
    *,
    reference: Reference,
    altitude_m: float = 0.0,
) -> Computed:
    """Subcooling in K from head pressure and liquid line temperature. Raises PhysicsError, UnitError."""
    absolute = _pressure(pressure, unit, reference, altitude_m)
    kelvin, worked = physics_refrigerant.subcooling(refrigerant, absolute, units.convert(line, line_unit, "Cel"))
    return Computed(value=kelvin, unit="K", worked=worked, source=refrigerant.source)


def _positive(**values: float) -> None:
    for name, value in values.items():
        if value <= 0:
            raise ComputeError(name, f"{value} is not above zero")


def heater_watts(volts: float, ohms: float) -> Computed:
    """Power of a heater from volts and ohms. Raises ComputeError for values that are not above zero."""
    _positive(volts=volts, ohms=ohms)
    value, worked = physics.heater_watts(volts, ohms)
    return Computed(value=value, unit="W", worked=worked, source="Ohm's and Joule's laws")


def heater_amps(volts: float, ohms: float) -> Computed:
    """Current of a heater from volts and ohms. Raises ComputeError for values that are not above zero."""
    _positive(volts=volts, ohms=ohms)
    value, worked = physics.heater_amps(volts, ohms)
    return Computed(value=value, unit="A", worked=worked, source="Ohm's law")


def heater_ohms(volts: float, watts: float) -> Computed:
    """Ohms of a heater from its rating. Raises ComputeError for values that are not above zero."""
    _positive(volts=volts, watts=watts)
    value, worked = physics.heater_ohms(volts, watts)
    return Computed(value=value, unit="Ohm", worked=worked, source="Ohm's and Joule's laws")


def copper_ohms(ohms: float, at_celsius: float, to_celsius: float) -> Computed:
    """A copper winding's ohms at another temperature."""
    value, worked = physics.copper_at(ohms, at_celsius, to_celsius)
    return Computed(value=value, unit="Ohm", worked=worked, source="IEC 60034-1, copper")


def pressure_test(pressure: float, unit: str, before_celsius: float, after_celsius: float) -> Computed:
    """The gauge pressure that a tight system shows after a change of temperature. Raises UnitError."""
    value, worked = physics_refrigerant.pressure_after(
        units.convert(pressure, unit, "Pa"), before_celsius, after_celsius
    )
    return Computed(
        value=units.convert(value, "Pa", unit), unit=unit, worked=worked, source="ideal gas at constant volume"
    )


def least_room(refrigerant: Refrigerant, charge: float, unit: str) -> Computed:
    """Least volume of the room for a charge of a flammable refrigerant. Raises PhysicsError, UnitError."""
    value, worked = physics_refrigerant.least_room(refrigerant, units.convert(charge, unit, "kg"))
    return Computed(value=value, unit="m3", worked=worked, source=refrigerant.source)


def recovery(
    limits: Limits, refrigerant: Refrigerant, charge: float, recovered: float, unit: str, *, running: bool, made: int
) -> Computed:
    """How much of a charge was recovered, in per cent, against what the trade's rule asks for.

    running: the compressor ran; made: year of the appliance. A charge above that of a small appliance gives the vacuum
    to evacuate to instead, in inHg below the atmosphere or mmHg absolute. Raises ComputeError where the trade has no
    rule, UnitError.
    """
    rule = limits.physics.get("recovery")
    if rule is None:
        raise ComputeError("recovery", "the trade has no rule for it", "name a trade that has one by --trade")
    _positive(charge=charge)
    pounds = units.convert(charge, unit, "[lb_av]")
    if pounds > rule["small_lb"]:
        return _evacuation(rule, refrigerant, pounds)
    least = rule["before_1993"] if made <= 1993 else rule["running" if running else "stopped"]
    share = 100 * recovered / charge
    sign = "≥" if share >= least else "<"
    worked = f"{written(recovered, unit)} / {written(charge, unit)} = {written(share)}% {sign} {written(float(least))}%"
    return Computed(value=share, unit="%", worked=worked, source=rule["small_source"])


def _evacuation(rule: Mapping[str, Any], refrigerant: Refrigerant, pounds: float) -> Computed:
    """The vacuum that an appliance with so many pounds is evacuated to, by the pressure class of its refrigerant.

    It counts down from the atmosphere in inHg, or, where the class has it so, up from nothing in mmHg.
    """
    psia = units.convert(physics_refrigerant.saturation_pressure(refrigerant, 40.0), "Pa", "[psi]")
    name = next((name for name, end in rule["class_ends_psia"].items() if psia <= end), "very_high")
    records = "".join(f"; {row['text']}" for row in rule.get("records", ()) if row["from"] <= pounds < row["to"])
    source = f"{rule['large_source']}{records}"
    above = rule.get("evacuation_mmhg_absolute", {}).get(name)
    if above is not None:
        value, unit, how = float(above), "mm[Hg]", "absolute"
    elif rows := rule["evacuation_inhg"].get(name):
        row = max((row for row in rows if pounds >= row["from"]), key=lambda row: float(row["from"]))
        value, unit, how = float(row["inhg"]), "[in_i'Hg]", "below the atmosphere"
    else:
        raise ComputeError(refrigerant.name, f"at {psia:.0f} psia its pressure class has no row", "look it up")
    worked = (
        f"{written(pounds, '[lb_av]')} > {rule['small_lb']} lb; {refrigerant.name}: {psia:.1f} psia at 104 °F "
        f"→ {written(value, unit)} {how}"
    )
    return Computed(value=value, unit=unit, worked=worked, source=source)
