"""Electrical physics of a reading: heater power, the triangle of V, I, R and P, windings, copper and temperature.

Volts, amperes, ohms and watts throughout; temperatures in °C.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from voicereport.units import written

Letter = Literal["V", "I", "R", "P"]
_UNIT = {"V": "V", "I": "A", "R": "Ohm", "P": "W"}
COPPER_ZERO = 234.5  #: °C below zero at which copper's resistance would vanish, IEC 60034-1
TEENS = {13: 30, 14: 40, 15: 50, 16: 60, 17: 70, 18: 80, 19: 90}


@dataclass(frozen=True, kw_only=True, slots=True)
class Triangle:
    """Whether volts, amperes, ohms and watts agree."""

    agrees: bool
    worst: float  #: largest relative difference between a value and what the others make it, 0.1 = 10 %
    odd: Letter | None  #: the one value that disagrees with all the others, where there is exactly one
    expected: float | None  #: what the others make of the odd one
    worked: str


def _expected(letter: Letter, pair: Mapping[Letter, float]) -> float | None:
    """`letter` from two of the others; None where they do not fix it."""
    v, i, r, p = pair.get("V"), pair.get("I"), pair.get("R"), pair.get("P")
    if letter == "V":
        return i * r if i and r else math.sqrt(p * r) if p and r else p / i if p and i else None
    if letter == "I":
        return v / r if v and r else p / v if p and v else math.sqrt(p / r) if p and r else None
    if letter == "R":
        return v / i if v and i else v * v / p if v and p else p / (i * i) if p and i else None
    return v * i if v and i else v * v / r if v and r else i * i * r if i and r else None


def _formula(letter: Letter, pair: Mapping[Letter, float], result: float) -> str:
    """The formula for `letter` from `pair`, with its numbers: "R = V / I = 115 V / 4.7 A = 24.47 Ω"."""
    forms = {
        ("V", "IR"): "I · R",
        ("V", "PR"): "√(P · R)",
        ("V", "IP"): "P / I",
        ("I", "RV"): "V / R",
        ("I", "PV"): "P / V",
        ("I", "PR"): "√(P / R)",
        ("R", "IV"): "V / I",
        ("R", "PV"): "V² / P",
        ("R", "IP"): "P / I²",
        ("P", "IV"): "V · I",
        ("P", "RV"): "V² / R",
        ("P", "IR"): "I² · R",
    }
    form = forms[letter, "".join(sorted(pair))]
    numbers = form
    for key in pair:
        numbers = numbers.replace(key, f"({written(pair[key], _UNIT[key])})" if f"{key}²" in form else f"\0{key}")
    for key in pair:
        numbers = numbers.replace(f"\0{key}", written(pair[key], _UNIT[key]))
    return f"{letter} = {form} = {numbers} = {written(result, _UNIT[letter])}"


def _checks(values: Mapping[Letter, float]) -> Iterator[tuple[Letter, dict[Letter, float], float, float]]:
    """Each value against each two others that fix it: letter, the two, what they make it, relative difference."""
    for letter, value in values.items():
        for pair in combinations([k for k in values if k != letter], 2):
            given = {k: values[k] for k in pair}
            expected = _expected(letter, given)
            if expected:
                yield letter, given, expected, abs(value - expected) / expected


def triangle(values: Mapping[Letter, float], *, tolerance: float = 0.10) -> Triangle | None:
    """Whether at least three of V, I, R and P (V, A, Ω, W) agree within `tolerance`; None where fewer are known.

    With all four the odd one is named where leaving it out makes the rest agree.
    """
    known: dict[Letter, float] = {k: v for k, v in values.items() if v > 0}
    if len(known) < 3:
        return None
    letter, pair, expected, _ = min(_checks(known), key=lambda c: ("RPIV".index(c[0]), c[3]))
    worst = max(c[3] for c in _checks(known))
    odd: Letter | None = None
    if worst > tolerance and len(known) == 4:
        rest = [k for k in known if max(c[3] for c in _checks({j: known[j] for j in known if j != k})) <= tolerance]
        odd = rest[0] if len(rest) == 1 else None
    if odd is not None:
        letter, pair, expected, _ = next(c for c in _checks(known) if c[0] == odd)
    worked = f"{_formula(letter, pair, expected)}; measured {written(known[letter], _UNIT[letter])}"
    difference = abs(known[letter] - expected) / expected
    return Triangle(
        agrees=worst <= tolerance,
        worst=worst,
        odd=odd,
        expected=expected if odd else None,
        worked=f"{worked}, {difference * 100:.1f} % apart",
    )


def heater_watts(volts: float, ohms: float) -> tuple[float, str]:
    """The power of a resistive load in watts, and the worked line."""
    watts = volts * volts / ohms
    return watts, f"P = V² / R = ({written(volts, 'V')})² / {written(ohms, 'Ohm')} = {written(watts, 'W')}"


def heater_amps(volts: float, ohms: float) -> tuple[float, str]:
    """The current of a resistive load in amperes, and the worked line."""
    amps = volts / ohms
    return amps, f"I = V / R = {written(volts, 'V')} / {written(ohms, 'Ohm')} = {written(amps, 'A')}"


def heater_ohms(volts: float, watts: float) -> tuple[float, str]:
    """The resistance that a rated power at a rated voltage means, in ohms, and the worked line."""
    ohms = volts * volts / watts
    return ohms, f"R = V² / P = ({written(volts, 'V')})² / {written(watts, 'W')} = {written(ohms, 'Ohm')}"


def rated_power_band(watts: float) -> tuple[float, float]:
    """Least and most power of a heating appliance rated `watts`, in watts: IEC 60335-1 clause 10.1 (from memory).

    Above 200 W: -10 % and +5 % or 20 W, whichever is greater; above 25 W: ±10 %; up to 25 W: ±20 %.
    """
    if watts > 200:
        return watts * 0.9, watts + max(0.05 * watts, 20.0)
    share = 0.10 if watts > 25 else 0.20
    return watts * (1 - share), watts * (1 + share)


def rated_ohms_band(volts: float, watts: float) -> tuple[float, float]:
    """Least and most resistance of a heater rated `watts` at `volts`, in ohms."""
    least, most = rated_power_band(watts)
    return volts * volts / most, volts * volts / least


def winding_sum(run: float, start: float, both: float) -> tuple[bool, str]:
    """Whether run + start = the two in series, within 5 % or 0.3 Ω (common practice, from memory); the worked line."""
    total = run + start
    off = abs(both - total)
    worked = (
        f"{written(run, 'Ohm')} + {written(start, 'Ohm')} = {written(total, 'Ohm')}; measured {written(both, 'Ohm')}, "
        f"{written(off, 'Ohm')} apart"
    )
    return off <= max(0.05 * total, 0.3), worked


def balanced(ohms: tuple[float, ...], *, tolerance: float = 0.05) -> bool:
    """Windings that are alike, as those of a three-phase motor: all within `tolerance` of their mean."""
    mean = sum(ohms) / len(ohms)
    return all(abs(x - mean) <= tolerance * mean for x in ohms)


def copper_at(ohms: float, at: float, to: float) -> tuple[float, str]:
    """The resistance of a copper winding at `to` °C that measured `ohms` at `at` °C, and the worked line."""
    result = ohms * (COPPER_ZERO + to) / (COPPER_ZERO + at)
    worked = (
        f"R₂ = R₁ · (234.5 + t₂) / (234.5 + t₁) = {written(ohms, 'Ohm')} · (234.5 + {written(to)}) / "
        f"(234.5 + {written(at)}) = {written(result, 'Ohm')}"
    )
    return result, worked


def copper_lead_ohms(metres: float, square_mm: float) -> float:
    """The resistance of a copper conductor at 20 °C in ohms: 0.01724 Ω·mm²/m (IEC 60028, annealed copper)."""
    return 0.017241 * metres / square_mm


def teen_neighbours(value: float) -> tuple[float, ...]:
    """What a value spoken with -teen may have been with -ty, and the other way: 115 -> (150,), 24 -> (), 1.8 -> ()."""
    swap = TEENS | {ty: teen for teen, ty in TEENS.items()}
    whole, rest = divmod(abs(value), 1)
    tail, head = int(whole) % 100, int(whole) // 100
    if tail not in swap:
        return ()
    return (math.copysign(head * 100 + swap[tail] + rest, value),)
