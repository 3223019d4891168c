"""Units against the factors of NIST SP 811, Appendix B.8, and against exact definitions."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicereport.units import UNITS, UnitError, convert, dimension, same_dimension, si, written

# NIST Special Publication 811 (2008), Appendix B.8, to its seven figures
SP811 = [
    ("[psi]", "kPa", 6.894757),
    ("[in_i'Hg]", "kPa", 3.386389),
    ("mm[Hg]", "Pa", 133.3224),
    ("um[Hg]", "Pa", 0.1333224),
    ("[in_i'H2O]", "Pa", 249.0889),
    ("[oz_av]", "g", 28.34952),
    ("[lb_av]", "kg", 0.4535924),
    ("[ft_i].[lbf_av]", "N.m", 1.355818),
    ("[in_i].[lbf_av]", "N.m", 0.1129848),
    ("[Btu_IT]/h", "W", 0.2930711),
    ("[cft_i]/min", "m3/h", 1.699011),
    ("[gal_us]", "L", 3.785412),
    ("[in_i]", "mm", 25.4),
    ("[foz_us]", "mL", 29.57353),
    ("bar", "[psi]", 14.50377),
    ("atm", "[psi]", 14.69595),
    ("atm", "[in_i'Hg]", 29.9213),
    ("atm", "um[Hg]", 760_000),
]


@pytest.mark.parametrize(("unit", "to_unit", "factor"), SP811)
def test_factors_are_those_of_sp_811(unit: str, to_unit: str, factor: float) -> None:
    assert convert(1.0, unit, to_unit) == pytest.approx(factor, rel=5e-6)


# Exact: 1 in = 25.4 mm, so the sixteenths are exact decimals
FRACTIONS = [
    (1 / 16, 1.5875),
    (1 / 8, 3.175),
    (3 / 16, 4.7625),
    (1 / 4, 6.35),
    (5 / 16, 7.9375),
    (3 / 8, 9.525),
    (7 / 16, 11.1125),
    (1 / 2, 12.7),
    (5 / 8, 15.875),
    (3 / 4, 19.05),
    (7 / 8, 22.225),
]


@pytest.mark.parametrize(("inches", "millimetres"), FRACTIONS)
def test_fractions_of_an_inch(inches: float, millimetres: float) -> None:
    assert convert(inches, "[in_i]", "mm") == pytest.approx(millimetres, rel=1e-12)


# SP 811 B.8: t/°C = (t/°F - 32)/1.8
@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(41, 5.0), (40, 4.4444), (0, -17.7778), (-0.4, -18.0), (-40, -40.0), (77, 25.0)]
)
def test_temperatures_as_points(fahrenheit: float, celsius: float) -> None:
    assert convert(fahrenheit, "[degF]", "Cel") == pytest.approx(celsius, abs=1e-4)
    assert convert(celsius, "Cel", "[degF]") == pytest.approx(fahrenheit, abs=1e-3)


def test_a_difference_is_no_point() -> None:
    assert convert(10, "[degF]", "K", difference=True) == pytest.approx(5.5556, abs=1e-4)  # SP 811: 1 °F = 1/1.8 K
    assert convert(10, "[degF]", "Cel") == pytest.approx(-12.2222, abs=1e-4)
    assert convert(6, "Cel", "K", difference=True) == 6


def test_ounces_of_mass_are_neither_fluid_nor_troy() -> None:
    # troy ounce 31.10348 g (SP 811)
    assert convert(1, "[oz_av]", "g") != pytest.approx(31.10348, rel=1e-3)
    with pytest.raises(UnitError, match="measures mass"):
        convert(1, "[oz_av]", "mL")


def test_micron_of_vacuum_is_no_length() -> None:
    assert dimension("um[Hg]") == "pressure"
    assert convert(500, "um[Hg]", "Pa") == pytest.approx(66.66, abs=0.01)


def test_revolutions_are_no_angles() -> None:
    assert convert(1500, "{rpm}", "Hz") == pytest.approx(25.0)


def test_unknown_units_and_other_dimensions_are_refused() -> None:
    with pytest.raises(UnitError, match="is not known"):
        convert(1, "micron", "Pa")
    with pytest.raises(UnitError, match="measures voltage"):
        convert(1, "V", "Ohm")
    with pytest.raises(UnitError, match="no SI unit"):
        si(40, "dB")
    assert not same_dimension("V", "cfm")
    assert not same_dimension(None, "V")


@given(st.sampled_from([u for u in UNITS if u != "dB"]), st.floats(-1e6, 1e6))
def test_there_and_back(unit: str, value: float) -> None:
    there, target = si(value, unit)
    assert convert(there, target, unit) == pytest.approx(value, rel=1e-9, abs=1e-6)


@given(st.integers(1, 3), st.integers(0, 999_999))
def test_ounces_come_back_at_their_own_decimals(decimals: int, number: int) -> None:
    spoken = round(number / 10**decimals, decimals)
    assert round(convert(convert(spoken, "[oz_av]", "g"), "g", "[oz_av]"), decimals) == spoken


def test_written_for_people() -> None:
    assert written(24.4894, "Ohm") == "24.49 Ω"
    assert written(-18, "Cel") == "−18 °C"
    assert written(64, "%") == "64%"
    assert written(1_500_000, "Ohm") == "1500000 Ω"
