"""Physics of the refrigerant circuit: saturation, superheat, subcooling, charge and room, vacuum, pressure tests.

Pressures in Pa absolute, temperatures in °C, masses in kg, unless a name says otherwise. CoolProp is loaded when used.
"""

from __future__ import annotations

import math
from typing import Literal

from voicereport.errors import VoiceReportError
from voicereport.report import Reference
from voicereport.trades.limits import Refrigerant
from voicereport.units import convert, written

KELVIN = 273.15
ATMOSPHERE = 101_325.0  #: Pa


class PhysicsError(VoiceReportError):
    """A state that cannot be: no such refrigerant, a pressure below nothing."""


def atmosphere_at(altitude_m: float) -> float:
    """Pressure of the standard atmosphere in Pa at `altitude_m` metres (ISO 2533)."""
    return ATMOSPHERE * math.pow(1 - 2.25577e-5 * altitude_m, 5.25588)


def absolute(value: float, unit: str, reference: Reference, *, altitude_m: float = 0.0) -> float:
    """A pressure reading as Pa absolute. Raises PhysicsError for one below absolute vacuum."""
    pressure = convert(value, unit, "Pa")
    around = atmosphere_at(altitude_m)
    out = pressure if reference == "absolute" else around + pressure if reference == "gauge" else around - pressure
    if out <= 0:
        raise PhysicsError(
            written(value, unit), "is below an absolute vacuum", "check the value, its unit and the gauge"
        )
    return out


def _props(output: str, key: str, value: float, quality: float, refrigerant: Refrigerant) -> float:
    from CoolProp.CoolProp import PropsSI

    try:
        return float(PropsSI(output, key, value, "Q", quality, refrigerant.fluid))
    except ValueError as error:
        raise PhysicsError(
            refrigerant.name, f"has no saturation at {key} = {value:.6g}", "check the value and its unit"
        ) from error


def saturation_temperature(refrigerant: Refrigerant, pressure: float, *, vapour: bool = True) -> float:
    """Saturation temperature in °C at `pressure` (Pa absolute): of the vapour (dew), or of the liquid (bubble)."""
    return _props("T", "P", pressure, 1.0 if vapour else 0.0, refrigerant) - KELVIN


def saturation_pressure(refrigerant: Refrigerant, celsius: float) -> float:
    """Saturation pressure in Pa absolute of the vapour at a temperature in °C."""
    return _props("P", "T", celsius + KELVIN, 1.0, refrigerant)


def superheat(refrigerant: Refrigerant, pressure: float, line: float) -> tuple[float, str]:
    """Superheat in K from suction pressure (Pa absolute) and line temperature in °C; the worked line."""
    saturated = saturation_temperature(refrigerant, pressure)
    worked = (
        f"{refrigerant.name}: {written(pressure / 1000, 'kPa', figures=5)} absolute → {saturated:.2f} °C saturated; "
        f"{line:.2f} − ({saturated:.2f}) = {line - saturated:.2f} K"
    )
    return line - saturated, worked.replace("-", "−").replace("R−", "R-")


def subcooling(refrigerant: Refrigerant, pressure: float, line: float) -> tuple[float, str]:
    """Subcooling in K from head pressure (Pa absolute) and liquid line temperature in °C; the worked line."""
    saturated = saturation_temperature(refrigerant, pressure, vapour=False)
    worked = (
        f"{refrigerant.name}: {written(pressure / 1000, 'kPa', figures=5)} absolute → {saturated:.2f} °C saturated; "
        f"{saturated:.2f} − ({line:.2f}) = {saturated - line:.2f} K"
    )
    return saturated - line, worked.replace("-", "−").replace("R−", "R-")


def _known(refrigerant: Refrigerant, limit: float | None) -> float:
    if limit is None:
        raise PhysicsError(refrigerant.name, "has no limit of flammability", "it is not known to be flammable")
    return limit


def least_room(refrigerant: Refrigerant, charge: float) -> tuple[float, str]:
    """Least volume of the room in m3 for `charge` kg: charge / practical limit (EN 378); the worked line."""
    limit = _known(refrigerant, refrigerant.practical_limit)
    room = charge / limit
    return room, f"{written(charge * 1000, 'g')} / {written(limit * 1000)} g/m³ = {written(room, 'm3', figures=3)}"


def room_to_lfl(refrigerant: Refrigerant, charge: float) -> float:
    """Volume in m3 that `charge` kg fills to the lower flammability limit."""
    return charge / _known(refrigerant, refrigerant.flammable_limit)


def co2_equivalent(charge: float, gwp: float) -> float:
    """Tonnes of CO2 equivalent of `charge` kg."""
    return charge * gwp / 1000


def pressure_after(
    pressure: float, before: float, after: float, *, atmosphere: float = ATMOSPHERE
) -> tuple[float, str]:
    """Gauge pressure in Pa that a tight system shows at `after` °C if it showed `pressure` (Pa gauge) at `before` °C.

    The worked line speaks of absolute pressures.
    """
    full = pressure + atmosphere
    result = full * (after + KELVIN) / (before + KELVIN) - atmosphere
    worked = (
        f"p₂ = p₁ · T₂ / T₁ = {written(full / 1000, 'kPa', figures=5)} · {after + KELVIN:.2f} / {before + KELVIN:.2f} "
        f"− {written(atmosphere / 1000, 'kPa', figures=6)} = {written(result / 1000, 'kPa', figures=5)} gauge"
    )
    return result, worked


Decay = Literal["holds", "moisture", "leak", "too_short", "high"]


def vacuum_decay(
    start: float,
    end: float,
    minutes: float,
    *,
    later: float | None = None,
    limit: float = 500.0,
    restart: float = 750.0,
    least_minutes: float = 30.0,
) -> Decay:
    """What a shut-off vacuum says; `start`, `end` and `later` in microns, `later` being read some time after `end`.

    holds: not over `limit`; moisture: over `restart` and level since; leak: still rising; high: risen, and not known
    whether it levelled; too_short: not over `limit`, but watched for less than `least_minutes`.
    """
    if end <= max(limit, start) and end <= limit:
        return "holds" if minutes >= least_minutes else "too_short"
    if later is None:
        return "high"
    return "moisture" if later - end <= 0.1 * end and later < convert(ATMOSPHERE, "Pa", "um[Hg]") / 10 else "leak"


def ice_point(microns: float) -> float:
    """Temperature in °C at which ice is in equilibrium with its vapour at `microns` of pressure (Magnus, over ice)."""
    hectopascal = convert(microns, "um[Hg]", "hPa")
    ratio = math.log(hectopascal / 6.112)
    return 272.62 * ratio / (22.46 - ratio)
