"""Computations at the bench; the same checks as the physics, through the functions that the command calls."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicereport import compute
from voicereport.checks.physics_refrigerant import PhysicsError
from voicereport.paths import models_dir
from voicereport.trades.limits import Limits, load_limits
from voicereport.units import UnitError


@pytest.fixture(scope="module")
def limits() -> Limits:
    return load_limits(Path(models_dir()) / "trades" / "domestic-refrigeration")


def test_conversion_says_how() -> None:
    found = compute.conversion(41, "[degF]", "Cel")
    assert found.value == pytest.approx(5)  # NIST SP 811: (41 - 32)/1.8
    assert found.worked == "41 °F = 5 °C"
    assert compute.conversion(10, "[degF]", "K", difference=True).value == pytest.approx(5.5556, abs=1e-4)
    with pytest.raises(UnitError):
        compute.conversion(1, "V", "A")


def test_sensor_both_ways(limits: Limits) -> None:
    curve = compute.curve_of(limits, "10k-3977")
    assert compute.sensor_temperature(32_650, curve).value == pytest.approx(0, abs=0.01)  # a published 10 kΩ table
    assert compute.sensor_ohms(-18, curve).value == pytest.approx(86_439.2, rel=2e-4)
    assert compute.sensor_temperature(32_650, curve, unit="[degF]").value == pytest.approx(32, abs=0.02)
    assert compute.fitting_curves([(0, 32_650), (25, 10_000)], limits)[0].worked.startswith("10 kΩ, B 3977")
    with pytest.raises(compute.ComputeError, match="known are: 10k-3977"):
        compute.curve_of(limits, "Type II")
    with pytest.raises(compute.ComputeError):
        compute.sensor_temperature(-1, curve)


def test_refrigerant_states(limits: Limits) -> None:
    """CoolProp 8.0.0."""
    r134a = compute.refrigerant_of(limits, "r134a")
    assert compute.superheat(r134a, 2.0, "[psi]", -5.0, "Cel", reference="gauge").value == pytest.approx(
        18.25, abs=0.01
    )
    assert compute.subcooling(r134a, 125, "[psi]", 33, "Cel", reference="gauge").value == pytest.approx(5.0, abs=0.01)
    assert compute.saturation(r134a, 81.8, "[psi]", reference="gauge").value == pytest.approx(25, abs=0.05)
    with pytest.raises(PhysicsError):
        compute.saturation(r134a, 40, "[in_i'Hg]", reference="vacuum")
    with pytest.raises(compute.ComputeError, match="R-600a"):
        compute.refrigerant_of(limits, "R-999")


def test_heaters_copper_pressure_and_room(limits: Limits) -> None:
    """Ohm and Joule by hand; IEC 60034-1; ideal gas; EN 378."""
    assert compute.heater_watts(115, 24.5).value == pytest.approx(539.8, abs=0.05)
    assert compute.heater_amps(115, 24.5).value == pytest.approx(4.694, abs=1e-3)
    assert compute.heater_ohms(120, 600).value == 24
    assert compute.copper_ohms(10, 20, 55).value == pytest.approx(11.38, abs=0.005)
    assert compute.pressure_test(150, "[psi]", 30, 20).value == pytest.approx(144.57, abs=0.01)
    assert compute.least_room(compute.refrigerant_of(limits, "R-290"), 150, "g").value == pytest.approx(18.75)
    with pytest.raises(compute.ComputeError, match="not above zero"):
        compute.heater_watts(115, 0)
