"""UCUM codes to and from pint: a whitelist, with points and differences of temperature kept apart."""

from __future__ import annotations

from functools import cache
from typing import Any

from voicereport.errors import VoiceReportError

#: UCUM code: (dimension, pint's name, sign that people read). Text never reaches pint but through this table:
#: left to itself it takes "cfm" for centifermi and "micron" for a length
_UNITS: dict[str, tuple[str, str, str]] = {
    "mOhm": ("resistance", "milliohm", "mΩ"),
    "Ohm": ("resistance", "ohm", "Ω"),
    "kOhm": ("resistance", "kiloohm", "kΩ"),
    "MOhm": ("resistance", "megaohm", "MΩ"),
    "GOhm": ("resistance", "gigaohm", "GΩ"),
    "mV": ("voltage", "millivolt", "mV"),
    "V": ("voltage", "volt", "V"),
    "kV": ("voltage", "kilovolt", "kV"),
    "uA": ("current", "microampere", "µA"),
    "mA": ("current", "milliampere", "mA"),
    "A": ("current", "ampere", "A"),
    "W": ("power", "watt", "W"),
    "kW": ("power", "kilowatt", "kW"),
    "J": ("energy", "joule", "J"),
    "kW.h": ("energy", "kilowatt_hour", "kWh"),
    "[Btu_IT]/h": ("power", "Btu_it/hour", "Btu/h"),
    "K": ("temperature", "kelvin", "K"),
    "Cel": ("temperature", "degree_Celsius", "°C"),
    "[degF]": ("temperature", "degree_Fahrenheit", "°F"),
    "Pa": ("pressure", "pascal", "Pa"),
    "hPa": ("pressure", "hectopascal", "hPa"),
    "kPa": ("pressure", "kilopascal", "kPa"),
    "MPa": ("pressure", "megapascal", "MPa"),
    "mbar": ("pressure", "millibar", "mbar"),
    "bar": ("pressure", "bar", "bar"),
    "atm": ("pressure", "standard_atmosphere", "atm"),
    "[psi]": ("pressure", "pound_force_per_square_inch", "psi"),
    "um[Hg]": ("pressure", "micrometer_Hg", "microns"),
    "mm[Hg]": ("pressure", "millimeter_Hg", "mmHg"),
    "[in_i'Hg]": ("pressure", "inch_Hg", "inHg"),
    "[in_i'H2O]": ("pressure", "inch_H2O", "inH₂O"),
    "mg": ("mass", "milligram", "mg"),
    "g": ("mass", "gram", "g"),
    "kg": ("mass", "kilogram", "kg"),
    "[oz_av]": ("mass", "ounce", "oz"),
    "[lb_av]": ("mass", "pound", "lb"),
    "s": ("time", "second", "s"),
    "min": ("time", "minute", "min"),
    "h": ("time", "hour", "h"),
    "d": ("time", "day", "d"),
    "um": ("length", "micrometer", "µm"),
    "mm": ("length", "millimeter", "mm"),
    "cm": ("length", "centimeter", "cm"),
    "m": ("length", "meter", "m"),
    "[in_i]": ("length", "inch", "in"),
    "[ft_i]": ("length", "foot", "ft"),
    "mL": ("volume", "milliliter", "mL"),
    "L": ("volume", "liter", "L"),
    "m3": ("volume", "meter**3", "m³"),
    "[gal_us]": ("volume", "gallon", "gal"),
    "[gal_br]": ("volume", "imperial_gallon", "imp gal"),
    "[foz_us]": ("volume", "US_fluid_ounce", "fl oz"),
    "mL/min": ("flow", "milliliter/minute", "mL/min"),
    "L/min": ("flow", "liter/minute", "L/min"),
    "L/s": ("flow", "liter/second", "L/s"),
    "L/h": ("flow", "liter/hour", "L/h"),
    "m3/h": ("flow", "meter**3/hour", "m³/h"),
    "m3/s": ("flow", "meter**3/second", "m³/s"),
    "[cft_i]/min": ("flow", "foot**3/minute", "cfm"),
    "[gal_us]/min": ("flow", "gallon/minute", "gal/min"),
    "[gal_br]/min": ("flow", "imperial_gallon/minute", "imp gal/min"),
    "Hz": ("frequency", "1/second", "Hz"),
    "kHz": ("frequency", "1/millisecond", "kHz"),
    "/min": ("frequency", "1/minute", "per minute"),
    "{rpm}": ("frequency", "1/minute", "rpm"),  # pint's rpm is an angle: 2π too much
    "%": ("ratio", "percent", "%"),
    "[ppm]": ("ratio", "ppm", "ppm"),
    "ppm": ("ratio", "ppm", "ppm"),
    "1": ("ratio", "dimensionless", ""),
    "N.m": ("torque", "newton*meter", "N·m"),
    "N.cm": ("torque", "newton*centimeter", "N·cm"),
    "[in_i].[lbf_av]": ("torque", "inch*force_pound", "in·lbf"),
    "[lbf_av].[in_i]": ("torque", "inch*force_pound", "in·lbf"),
    "[ft_i].[lbf_av]": ("torque", "foot*force_pound", "ft·lbf"),
    "[lbf_av].[ft_i]": ("torque", "foot*force_pound", "ft·lbf"),
    "nF": ("capacitance", "nanofarad", "nF"),
    "uF": ("capacitance", "microfarad", "µF"),
    "F": ("capacitance", "farad", "F"),
    "dB": ("level", "decibel", "dB"),
}
_SI = {
    "resistance": "Ohm",
    "voltage": "V",
    "current": "A",
    "power": "W",
    "energy": "J",
    "temperature": "K",
    "pressure": "Pa",
    "mass": "kg",
    "time": "s",
    "length": "m",
    "volume": "m3",
    "flow": "m3/s",
    "frequency": "Hz",
    "ratio": "1",
    "torque": "N.m",
    "capacitance": "F",
}
_DIFFERENCES = {"K": "kelvin", "Cel": "delta_degree_Celsius", "[degF]": "delta_degree_Fahrenheit"}
UNITS = tuple(_UNITS)


class UnitError(VoiceReportError):
    """A unit that is not known, or two that measure different things."""


def dimension(unit: str) -> str:
    """What `unit` (UCUM) measures: resistance, pressure, ... Raises UnitError for a unit outside the whitelist."""
    if unit not in _UNITS:
        raise UnitError(unit, "this unit is not known", f"known are {', '.join(UNITS)}")
    return _UNITS[unit][0]


def sign(unit: str) -> str:
    """`unit` as people read it: "Ω", "°C". Raises UnitError for a unit outside the whitelist."""
    dimension(unit)
    return _UNITS[unit][2]


def same_dimension(unit: str | None, other: str | None) -> bool:
    """Both units are known and measure the same."""
    return unit in _UNITS and other in _UNITS and _UNITS[unit][0] == _UNITS[other][0]


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=False)


@cache
def _factor(unit: str, to_unit: str, difference: bool) -> tuple[float, float]:
    """Scale and shift from `unit` to `to_unit`, from pint."""
    registry = _registry()
    names = [_DIFFERENCES[u] if difference else _UNITS[u][1] for u in (unit, to_unit)]
    at = [float(registry.Quantity(x, names[0]).to(names[1]).magnitude) for x in (0.0, 1.0)]
    if dimension(unit) != "temperature" or difference:
        return float(registry.Quantity(1.0, names[0]).to(names[1]).magnitude), 0.0
    return at[1] - at[0], at[0]


def convert(value: float, unit: str, to_unit: str, *, difference: bool = False) -> float:
    """`value` in `unit` as a value in `to_unit` (UCUM codes).

    difference: the value is a difference of temperature, 10 °F of superheat = 5.56 K; without it a point on the scale.
    Raises UnitError for an unknown unit, for two that measure different things, and for a level such as dB.
    """
    if unit == to_unit and dimension(unit):
        return value
    if dimension(unit) != dimension(to_unit):
        raise UnitError(unit, f"measures {dimension(unit)}, {to_unit} measures {dimension(to_unit)}")
    if dimension(unit) == "temperature":
        if difference:
            return value * _factor(unit, to_unit, True)[0]
        registry = _registry()
        return float(registry.Quantity(value, _UNITS[unit][1]).to(_UNITS[to_unit][1]).magnitude)
    return value * _factor(unit, to_unit, False)[0]


def si(value: float, unit: str, *, difference: bool = False) -> tuple[float, str]:
    """`value` in the SI unit of its dimension, and that unit (UCUM). Raises UnitError where there is none."""
    target = _SI.get(dimension(unit))
    if target is None:
        raise UnitError(unit, "has no SI unit")
    return convert(value, unit, target, difference=difference), target


def written(value: float, unit: str | None = None, *, figures: int = 4) -> str:
    """`value` with at most `figures` significant figures and the sign of its unit, "24.49 Ω", for people."""
    text = f"{value:.{figures}g}"
    if "e" in text:
        text = f"{value:.0f}" if abs(value) >= 1 else f"{value:.6f}".rstrip("0")
    text = text.replace("-", "−")
    if unit is None or not sign(unit):
        return text
    return f"{text}{'' if unit == '%' else ' '}{sign(unit)}"
