"""NTC sensors: ohms to temperature and back, which curve a sensor follows, and faults of a table. °C and ohms."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from voicereport.trades.limits import Curve

KELVIN = 273.15


def temperature_of(curve: Curve, ohms: float) -> float:
    """The temperature in °C that `ohms` means on `curve`. Raises ValueError outside a table, and for no ohms."""
    if ohms <= 0:
        raise ValueError(f"{ohms} ohms is no resistance of a sensor")
    if curve.steinhart is not None:
        a, b, c = curve.steinhart
        log = math.log(ohms / curve.scale)
        return 1 / (a + b * log + c * log**3) - KELVIN
    if curve.beta is not None:
        at, b = curve.beta
        return 1 / (1 / (curve.reference + KELVIN) + math.log(ohms / at) / b) - KELVIN
    return _interpolated([(math.log(r), t) for t, r in curve.table][::-1], math.log(ohms))


def ohms_at(curve: Curve, celsius: float) -> float:
    """The resistance of `curve` at a temperature in °C. Raises ValueError outside a table."""
    if curve.beta is not None:
        at, b = curve.beta
        return at * math.exp(b * (1 / (celsius + KELVIN) - 1 / (curve.reference + KELVIN)))
    if curve.steinhart is None:
        return math.exp(_interpolated([(t, math.log(r)) for t, r in curve.table], celsius))
    a, b, c = curve.steinhart
    # the real root of C x^3 + B x + (A - 1/T) = 0
    y = (a - 1 / (celsius + KELVIN)) / (2 * c)
    z = math.sqrt((b / (3 * c)) ** 3 + y * y)
    return curve.scale * math.exp(math.cbrt(z - y) - math.cbrt(z + y))


def _interpolated(points: Sequence[tuple[float, float]], x: float) -> float:
    """y at x between two of `points`, which rise in x."""
    for (x0, y0), (x1, y1) in pairwise(points):
        if x0 <= x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    raise ValueError(f"outside the table ({points[0][0]:.4g} to {points[-1][0]:.4g})")


@dataclass(frozen=True, kw_only=True, slots=True)
class Match:
    """A curve that measured points fit, with the largest error in kelvin."""

    curve: Curve
    worst: float


def identify(
    points: Sequence[tuple[float, float]], curves: Sequence[Curve], *, tolerance: float = 2.0
) -> tuple[Match, ...]:
    """The curves that (°C, ohms) points fit within `tolerance` kelvin, best first. Names of curves are no evidence.

    One point leaves several; two at least 15 K apart tell them apart.
    """
    found = []
    for curve in curves:
        try:
            worst = max(abs(temperature_of(curve, ohms) - celsius) for celsius, ohms in points)
        except ValueError:
            continue
        if worst <= tolerance:
            found.append(Match(curve=curve, worst=worst))
    return tuple(sorted(found, key=lambda m: m.worst))


def beta_of(cold: tuple[float, float], warm: tuple[float, float]) -> float:
    """B in K from two (°C, ohms) points."""
    return math.log(cold[1] / warm[1]) / (1 / (cold[0] + KELVIN) - 1 / (warm[0] + KELVIN))


def slope(first: tuple[float, float], second: tuple[float, float]) -> Literal["ntc", "ptc", "none"]:
    """Whether resistance falls (ntc) or rises (ptc) with temperature between two (°C, ohms) points."""
    change = (second[0] - first[0]) * (second[1] - first[1])
    return "none" if change == 0 else "ntc" if change < 0 else "ptc"


def sensitivity(curve: Curve, celsius: float) -> float:
    """Fall of resistance in % per kelvin at a temperature in °C."""
    return 100 * math.log(ohms_at(curve, celsius - 0.5) / ohms_at(curve, celsius + 0.5))


def misprints(table: Sequence[tuple[float, float]], *, tolerance: float = 0.01) -> tuple[float, ...]:
    """Temperatures of an evenly spaced table whose ohms break the run of their neighbours by `tolerance` or more."""
    out = []
    for n in range(1, len(table) - 1):
        between = math.sqrt(table[n - 1][1] * table[n + 1][1])
        if abs(table[n][1] / between - 1) >= tolerance:
            out.append(table[n][0])
    return tuple(out)
