"""Physics of readings against published tables, reference libraries and arithmetic; sources beside each check."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from voicereport.checks.physics import (
    balanced,
    copper_at,
    copper_lead_ohms,
    heater_amps,
    heater_ohms,
    heater_watts,
    rated_ohms_band,
    rated_power_band,
    teen_neighbours,
    triangle,
    winding_sum,
)
from voicereport.checks.physics_refrigerant import (
    PhysicsError,
    absolute,
    atmosphere_at,
    co2_equivalent,
    ice_point,
    least_room,
    pressure_after,
    room_to_lfl,
    saturation_pressure,
    saturation_temperature,
    subcooling,
    superheat,
    vacuum_decay,
)
from voicereport.checks.physics_sensors import beta_of, identify, misprints, ohms_at, sensitivity, slope, temperature_of
from voicereport.paths import models_dir
from voicereport.trades.limits import Curve, Limits, load_limits
from voicereport.units import convert


@pytest.fixture(scope="module")
def limits() -> Limits:
    return load_limits(Path(models_dir()) / "trades" / "domestic-refrigeration")


@pytest.fixture(scope="module")
def curves(limits: Limits) -> dict[str, Curve]:
    return {c.id: c for c in limits.sensors}


# ------------------------------------------------------------------ heaters: Ohm's and Joule's laws, by hand

RATED = [
    (115, 400, 33.06, 3.478),
    (115, 540, 24.49, 4.696),
    (115, 600, 22.04, 5.217),
    (120, 400, 36.00, 3.333),
    (120, 600, 24.00, 5.000),
    (230, 160, 330.6, 0.696),
    (230, 200, 264.5, 0.870),
    (230, 1000, 52.90, 4.348),
]
MEASURED = [
    (115, 24.5, 539.8, 4.694),
    (120, 24.5, 587.8, 4.898),
    (127, 24.5, 658.3, 5.184),
    (110, 24.5, 493.9, 4.490),
    (230, 330, 160.3, 0.697),
    (115, 33, 400.8, 3.485),
    (120, 2880, 5.0, 0.042),
    (240, 32, 1800, 7.500),
]


@pytest.mark.parametrize(("volts", "watts", "ohms", "amps"), RATED)
def test_ohms_and_amperes_of_a_rating(volts: float, watts: float, ohms: float, amps: float) -> None:
    assert heater_ohms(volts, watts)[0] == pytest.approx(ohms, rel=5e-4)
    assert heater_amps(volts, heater_ohms(volts, watts)[0])[0] == pytest.approx(amps, rel=5e-4)


@pytest.mark.parametrize(("volts", "ohms", "watts", "amps"), MEASURED)
def test_watts_and_amperes_of_measured_ohms(volts: float, ohms: float, watts: float, amps: float) -> None:
    assert heater_watts(volts, ohms)[0] == pytest.approx(watts, rel=2e-3)
    assert heater_amps(volts, ohms)[0] == pytest.approx(amps, rel=1.5e-2 if amps < 0.1 else 1e-3)


@pytest.mark.parametrize(
    ("volts", "nominal", "factor"), [(108, 120, 0.810), (126, 120, 1.1025), (207, 230, 0.810), (253, 230, 1.210)]
)
def test_power_goes_with_the_square_of_the_voltage(volts: float, nominal: float, factor: float) -> None:
    assert heater_watts(volts, 24)[0] / heater_watts(nominal, 24)[0] == pytest.approx(factor, abs=1e-9)


def test_the_worked_line_can_be_followed_by_hand() -> None:
    assert heater_watts(115, 24.5)[1] == "P = V² / R = (115 V)² / 24.5 Ω = 539.8 W"


def test_rated_bands() -> None:
    """IEC 60335-1 clause 10.1, from memory; the ohms by V²/P."""
    assert rated_ohms_band(120, 600) == (pytest.approx(22.86, abs=0.01), pytest.approx(26.67, abs=0.01))
    assert rated_ohms_band(115, 400) == (pytest.approx(31.49, abs=0.01), pytest.approx(36.74, abs=0.01))
    assert rated_power_band(100) == (pytest.approx(90), pytest.approx(110))


def test_a_triangle_that_agrees() -> None:
    found = triangle({"V": 115, "I": 4.7, "R": 24.5})
    assert found is not None
    assert found.agrees
    assert found.worst == pytest.approx(0.0013, abs=1e-4)
    assert "115 V / 4.7 A = 24.47 Ω" in found.worked


def test_the_odd_one_of_four_is_named() -> None:
    for odd, values in {
        "R": {"V": 115.0, "I": 4.7, "R": 245.0, "P": 540.0},
        "I": {"V": 115.0, "I": 0.47, "R": 24.5, "P": 540.0},
        "P": {"V": 115.0, "I": 4.7, "R": 24.5, "P": 54.0},
        "V": {"V": 150.0, "I": 4.7, "R": 24.5, "P": 540.0},
    }.items():
        found = triangle(values)  # type: ignore[arg-type]
        assert found is not None
        assert (found.agrees, found.odd) == (False, odd)


def test_two_values_say_nothing() -> None:
    assert triangle({"V": 115, "R": 24.5}) is None


def test_teens_and_tens() -> None:
    assert teen_neighbours(115) == (150,)
    assert teen_neighbours(90) == (19,)
    assert teen_neighbours(-18) == (-80,)
    assert teen_neighbours(13.5) == (30.5,)
    assert teen_neighbours(24.5) == ()


# ------------------------------------------------------------------ windings and copper


def test_copper_winding_at_another_temperature() -> None:
    """IEC 60034-1: 234.5 for copper; 10.00 Ω at 20 °C are 11.38 Ω at 55 °C."""
    assert copper_at(10.0, 20, 55)[0] == pytest.approx(11.38, abs=0.005)


@pytest.mark.parametrize(("square", "milliohms"), [(1.5, 11.5), (1.25, 13.8), (0.75, 23.0)])
def test_bare_copper_lead(square: float, milliohms: float) -> None:
    """IEC 60028: annealed copper, 1.7241e-8 Ω·m at 20 °C."""
    assert copper_lead_ohms(1.0, square) * 1000 == pytest.approx(milliohms, abs=0.05)


def test_winding_sum() -> None:
    """Common practice, from memory: run + start = both in series, within 5 % or 0.3 Ω."""
    assert winding_sum(4.1, 8.8, 12.9)[0]
    assert winding_sum(4.1, 8.8, 13.2)[0]
    assert not winding_sum(4.1, 8.8, 15.9)[0]
    assert balanced((6.2, 6.2, 6.3))
    assert not balanced((4.1, 8.8, 12.9))


# ------------------------------------------------------------------ sensors

#: °C: published 10 kΩ table (instrument manual), then 5 kΩ, B3950, B3435 by their formulas
TABLE = {
    -30: (176_804.8, 88_392, 200_204, 135_453),
    -20: (97_006.9, 48_500, 105_385, 77_523),
    -18: (86_439.2, 43_216, 93_252, 69_701),
    -10: (55_303.9, 27_651, 58_246, 46_290),
    0: (32_650.9, 16_325, 33_621, 28_704),
}


@pytest.mark.parametrize("celsius", TABLE)
def test_curves_against_the_published_table(celsius: float, curves: dict[str, Curve]) -> None:
    table, five, b3950, b3435 = TABLE[int(celsius)]
    assert ohms_at(curves["10k-3977"], celsius) == pytest.approx(table, rel=2e-4)
    assert ohms_at(curves["5k-3977"], celsius) == pytest.approx(five, rel=1e-4)
    assert ohms_at(curves["10k-3950"], celsius) == pytest.approx(b3950, rel=1e-4)
    assert ohms_at(curves["10k-3435"], celsius) == pytest.approx(b3435, rel=1e-4)


#: °F: kΩ, a refrigeration equipment maker's chart, an independent table; its 14 °F is 1.7 % off
CHART = {-10: 118.201, -4: 97.120, 0: 85.536, 5: 72.980, 23: 42.340, 32: 32.660, 41: 25.400, 50: 19.900}


@pytest.mark.parametrize("fahrenheit", CHART)
def test_curve_against_a_second_chart(fahrenheit: float, curves: dict[str, Curve]) -> None:
    celsius = convert(fahrenheit, "[degF]", "Cel")
    assert ohms_at(curves["10k-3977"], celsius) == pytest.approx(CHART[int(fahrenheit)] * 1000, rel=2.5e-3)


@pytest.mark.parametrize(
    ("ohms", "ten", "b3950", "five"),
    [
        (32_650, 0.00, 0.55, -13.03),
        (16_325, 14.18, 14.36, 0.00),
        (27_500, 3.40, 3.85, -9.90),
        (12_000, 20.89, 20.95, 6.15),
        (100_000, -20.52, -19.15, -31.97),
    ],
)
def test_ohms_to_temperature(ohms: float, ten: float, b3950: float, five: float, curves: dict[str, Curve]) -> None:
    """Steinhart-Hart and beta equations, worked once by hand with a calculator's logarithms."""
    assert temperature_of(curves["10k-3977"], ohms) == pytest.approx(ten, abs=0.006)
    assert temperature_of(curves["10k-3950"], ohms) == pytest.approx(b3950, abs=0.006)
    assert temperature_of(curves["5k-3977"], ohms) == pytest.approx(five, abs=0.006)


def test_the_third_curve_is_another_family(curves: dict[str, Curve]) -> None:
    """Air-conditioning manuals: 15 kΩ at 0 °C, B 3460; the printed table is rounded up to 4 % high."""
    for celsius, printed in {0: 15.0, 10: 9.7, 20: 6.4, 25: 5.3, 30: 4.3, 40: 3.1}.items():
        assert ohms_at(curves["15k-at-0"], celsius) == pytest.approx(printed * 1000, rel=0.045)


def test_two_points_tell_curves_apart_and_names_do_not(curves: dict[str, Curve]) -> None:
    everyone = list(curves.values())
    assert identify([(0, 32_650), (25, 10_000)], everyone, tolerance=0.3)[0].curve.id == "10k-3977"
    assert identify([(-20, 105_385), (25, 10_000)], everyone, tolerance=0.3)[0].curve.id == "10k-3950"
    assert identify([(0, 15_000), (25, 5190)], everyone, tolerance=0.5)[0].curve.id == "15k-at-0"
    # 33 621 Ω at 0 °C is what B 3950 gives; a sensor with 32 650 Ω there is none, whatever its name
    assert all(m.curve.id != "10k-3950" for m in identify([(0, 32_650)], everyone, tolerance=0.3))
    assert len(identify([(25, 10_000)], everyone, tolerance=0.3)) == 3
    assert identify([(0, 1000)], everyone) == ()


def test_beta_from_25_and_85_is_wrong_in_a_freezer(curves: dict[str, Curve]) -> None:
    """With B 3977 the published ohms at -30 °C decode 2.2 K too warm."""
    curve = curves["10k-3977"]
    b = beta_of((25, ohms_at(curve, 25)), (85, ohms_at(curve, 85)))
    assert b == pytest.approx(3976.8, abs=0.5)
    beta = Curve(id="b", title="b", source="b", beta=(10_000, 3977))
    assert temperature_of(beta, 176_804.8) == pytest.approx(-27.8, abs=0.05)
    assert temperature_of(beta, 97_006.9) == pytest.approx(-18.4, abs=0.05)


def test_sensitivity(curves: dict[str, Curve]) -> None:
    for celsius, percent in {-20: 5.8, 0: 5.1, 25: 4.4}.items():
        assert sensitivity(curves["10k-3977"], celsius) == pytest.approx(percent, abs=0.06)


def test_a_misprinted_table_is_found() -> None:
    """The second chart prints 19.884 kΩ at 51 °F where its neighbours imply 19.38."""
    chart = [(49, 20.45), (50, 19.90), (51, 19.884), (52, 18.88), (53, 18.38)]
    assert 51 in misprints(chart)
    assert misprints([(t, math.exp(-0.027 * t)) for t in range(10)]) == ()


def test_ntc_falls(curves: dict[str, Curve]) -> None:
    assert slope((0, 32_650), (25, 10_000)) == "ntc"
    assert slope((0, 10_000), (25, 32_650)) == "ptc"


def test_a_table_is_interpolated_and_not_left() -> None:
    curve = Curve(id="t", title="t", source="t", table=((0, 32_650.0), (25, 10_000.0)))
    assert temperature_of(curve, math.sqrt(32_650.0 * 10_000.0)) == pytest.approx(12.5)
    with pytest.raises(ValueError, match="outside the table"):
        temperature_of(curve, 50_000)
    with pytest.raises(ValueError, match="no resistance"):
        temperature_of(curve, 0)


# ------------------------------------------------------------------ refrigerants

#: °C: kPa absolute of R-134a, R-600a, R-290, from CoolProp 8.0.0; R-134a agrees with a supplier's table
SATURATION = {
    -40: (51.2, 28.7, 111.1),
    -30: (84.4, 46.6, 167.8),
    -25: (106.4, 58.4, 203.4),
    -20: (132.7, 72.5, 244.5),
    -10: (200.6, 108.5, 345.3),
    0: (292.8, 157.0, 474.5),
    5: (349.7, 186.7, 551.1),
    10: (414.6, 220.6, 636.6),
    20: (571.7, 302.2, 836.5),
    25: (665.4, 350.7, 952.1),
    30: (770.2, 404.7, 1079.0),
    40: (1016.6, 531.2, 1369.4),
    50: (1317.9, 684.9, 1713.3),
}


@pytest.mark.parametrize("celsius", SATURATION)
def test_saturation_pressures(celsius: float, limits: Limits) -> None:
    for name, kilopascal in zip(("R-134a", "R-600a", "R-290"), SATURATION[int(celsius)], strict=True):
        assert saturation_pressure(limits.refrigerants[name], celsius) / 1000 == pytest.approx(kilopascal, abs=0.06)


def test_saturation_temperatures_of_a_teaching_table(limits: Limits) -> None:
    """A printed thermodynamics table of R-134a; older tables differ by up to 0.14 K."""
    for megapascal, celsius in {0.10: -26.43, 0.14: -18.80, 0.20: -10.09, 0.24: -5.37}.items():
        assert saturation_temperature(limits.refrigerants["R-134a"], megapascal * 1e6) == pytest.approx(
            celsius, abs=0.2
        )


def test_normal_boiling_points(limits: Limits) -> None:
    for name, celsius in {"R-134a": -26.07, "R-600a": -11.75, "R-290": -42.11}.items():
        assert saturation_temperature(limits.refrigerants[name], 101_325) == pytest.approx(celsius, abs=0.02)


@pytest.mark.parametrize(
    ("name", "pressure", "unit", "reference", "line", "kelvin"),
    [
        ("R-134a", 2.0, "[psi]", "gauge", -5.0, 18.25),
        ("R-600a", 10.0, "[in_i'Hg]", "vacuum", -12.0, 9.69),
        ("R-290", 21.0, "[psi]", "gauge", -10.0, 9.82),
    ],
)
def test_superheat(
    name: str, pressure: float, unit: str, reference: str, line: float, kelvin: float, limits: Limits
) -> None:
    """CoolProp 8.0.0 for the saturation, the rest by subtraction."""
    found, worked = superheat(limits.refrigerants[name], absolute(pressure, unit, reference), line)  # type: ignore[arg-type]
    assert found == pytest.approx(kelvin, abs=0.01)
    assert convert(found, "K", "[degF]", difference=True) == pytest.approx(kelvin * 1.8, abs=0.02)
    assert "kPa absolute" in worked


@pytest.mark.parametrize(
    ("name", "pressure", "line", "kelvin"), [("R-134a", 125.0, 33.0, 5.00), ("R-600a", 55.0, 31.0, 5.23)]
)
def test_subcooling(name: str, pressure: float, line: float, kelvin: float, limits: Limits) -> None:
    assert subcooling(limits.refrigerants[name], absolute(pressure, "[psi]", "gauge"), line)[0] == pytest.approx(
        kelvin, abs=0.01
    )


def test_gauge_read_as_absolute_is_far_off(limits: Limits) -> None:
    """R-134a, "2 psi": -23.25 °C as gauge, -62.2 °C as absolute."""
    assert saturation_temperature(limits.refrigerants["R-134a"], absolute(2.0, "[psi]", "absolute")) == pytest.approx(
        -62.2, abs=0.1
    )


def test_altitude() -> None:
    """ISO 2533: 84.56 kPa at 1500 m."""
    assert atmosphere_at(1500) == pytest.approx(84_556, rel=1e-3)
    assert absolute(0, "[psi]", "gauge", altitude_m=1500) == pytest.approx(84_556, rel=1e-3)


def test_vacuum_deeper_than_nothing_is_refused() -> None:
    with pytest.raises(PhysicsError, match="below an absolute vacuum"):
        absolute(30, "[in_i'Hg]", "vacuum")
    assert absolute(4, "[in_i'Hg]", "vacuum") / 1000 == pytest.approx(87.78, abs=0.01)  # 4 inHg of vacuum: shallow


def test_rooms_for_flammable_refrigerants(limits: Limits) -> None:
    """EN 378 practical limits 0.011 and 0.008 kg/m3, ISO 817 flammable limits 0.043 and 0.038 kg/m3, by division."""
    isobutane, propane = limits.refrigerants["R-600a"], limits.refrigerants["R-290"]
    assert least_room(isobutane, 0.150)[0] == pytest.approx(13.6, abs=0.05)
    assert least_room(propane, 0.150)[0] == pytest.approx(18.75, abs=0.05)
    assert room_to_lfl(isobutane, 0.150) == pytest.approx(3.49, abs=0.005)
    assert room_to_lfl(propane, 0.150) == pytest.approx(3.95, abs=0.005)
    with pytest.raises(PhysicsError, match="not known to be flammable"):
        least_room(limits.refrigerants["R-134a"], 0.1)


def test_classes_of_flammability(limits: Limits) -> None:
    """ISO 817: R-290 is A3; a trade page that calls it A2L is wrong."""
    assert {n: r.safety_class for n, r in limits.refrigerants.items()} == {
        "R-134a": "A1",
        "R-600a": "A3",
        "R-290": "A3",
    }


def test_flammable_limits_as_volumes_of_air(limits: Limits) -> None:
    """ISO 817 in kg/m3 over the density of the vapour from CoolProp; tables print 1.8 % and 2.1 % by volume."""
    from CoolProp.CoolProp import PropsSI

    for name, density, percent in (("R-600a", 2.440, 1.76), ("R-290", 1.832, 2.07)):
        found = PropsSI("D", "T", 298.15, "P", 101_325, limits.refrigerants[name].fluid)
        assert found == pytest.approx(density, abs=5e-4)
        assert 100 * 1 / room_to_lfl(limits.refrigerants[name], found) == pytest.approx(percent, abs=0.01)


def test_pressure_classes_at_forty_degrees(limits: Limits) -> None:
    """CoolProp: R-600a 77.0, R-134a 147.4, R-290 198.6 psia at 104 °F."""
    for name, psia in {"R-600a": 77.0, "R-134a": 147.4, "R-290": 198.6}.items():
        found = convert(saturation_pressure(limits.refrigerants[name], 40), "Pa", "[psi]")
        assert found == pytest.approx(psia, abs=0.05)


def test_thirteen_inches_of_vacuum_are_normal_for_isobutane_only(limits: Limits) -> None:
    """R-600a boils at -25 °C at 12.7 inHg of vacuum (CoolProp); R-290 would be at -58 °C there."""
    pressure = absolute(12.7, "[in_i'Hg]", "vacuum")
    assert saturation_temperature(limits.refrigerants["R-600a"], pressure) == pytest.approx(-25, abs=0.1)
    assert saturation_temperature(limits.refrigerants["R-290"], pressure) < -50


def test_carbon_dioxide_equivalent() -> None:
    """GWP 1430 (from memory) and 2088: 0.15 kg of R-134a 0.2145 t; 5 t are 2.39 kg of R-410A (Regulation 517/2014)."""
    assert co2_equivalent(0.15, 1430) == pytest.approx(0.2145)
    assert co2_equivalent(2.395, 2088) == pytest.approx(5.0, abs=0.01)


def test_pressure_test_over_a_change_of_temperature() -> None:
    """Ideal gas: 150 psig at 30 °C are 144.57 psig at 20 °C without a leak."""
    found = pressure_after(convert(150, "[psi]", "Pa"), 30, 20)[0]
    assert convert(found, "Pa", "[psi]") == pytest.approx(144.57, abs=0.01)


@pytest.mark.parametrize(("microns", "celsius"), [(1000, -17.3), (500, -24.5), (200, -33.4)])
def test_boiling_points_of_ice(microns: float, celsius: float) -> None:
    """Magnus over ice (WMO-No. 8)."""
    assert ice_point(microns) == pytest.approx(celsius, abs=0.05)


def test_vacuum_decay() -> None:
    """An equipment manual: 30 min under 500 microns holds; level after a rise is moisture; the atmosphere a leak."""
    assert vacuum_decay(280, 420, 30) == "holds"
    assert vacuum_decay(280, 420, 5) == "too_short"
    assert vacuum_decay(500, 1400, 30, later=1420) == "moisture"
    assert vacuum_decay(500, 1400, 30, later=9000) == "leak"
    assert vacuum_decay(500, 1400, 30) == "high"
    assert vacuum_decay(300, 760_000, 30, later=760_000) == "leak"
