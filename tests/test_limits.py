"""Verdicts over readings: published limits with their conditions, spoken specifications, slips, physics."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from voicereport.checks.limits import facts_of, judge_readings
from voicereport.errors import PackError
from voicereport.paths import models_dir
from voicereport.report import Reading, Report, SegmentEntry, TranscriptEntry, Verdict
from voicereport.trades.limits import Example, Limit, Limits, load_limits, plate_facts

TRADES = Path(models_dir()) / "trades"
PACKS = {name: load_limits(TRADES / name) for name in ("domestic-refrigeration", "laundry", "dishwashing")}
SHIPPED = PACKS["domestic-refrigeration"]


@pytest.fixture(scope="module")
def limits() -> Limits:
    return SHIPPED


def reading(
    quantity: str, subject: str | None, value: float | None, unit: str | None, number: int = 1, **more: Any
) -> Reading:
    return Reading.model_validate(
        {
            "id": f"x{number}",
            "quantity": quantity,
            "subject": subject,
            "value": value,
            "unit": unit,
            "spoken": "as said",
            **more,
        }
    )


def judged(limits: Limits, *readings: Reading, **facts: str) -> tuple[Verdict, ...]:
    return tuple(r.verdict for r in judge_readings(readings, limits=limits, facts=facts))


def alone(
    limits: Limits,
    quantity: str,
    subject: str | None,
    value: float | None,
    unit: str | None,
    facts: dict[str, str] | None = None,
    **more: Any,
) -> Verdict:
    return judged(limits, reading(quantity, subject, value, unit, **more), **(facts or {}))[0]


@pytest.mark.parametrize(
    ("pack", "limit", "example"),
    [
        pytest.param(name, x, e, id=f"{name}-{x.id}-{n}")
        for name, pack in PACKS.items()
        for x in pack.limits
        if name != "dishwashing" or x not in PACKS["laundry"].limits  # there without what is implied here
        for n, e in enumerate(x.examples)
    ],
)
def test_the_examples_of_every_limit(pack: str, limit: Limit, example: Example) -> None:
    verdict = alone(
        PACKS[pack],
        limit.quantity,
        example.subject,
        example.value,
        example.unit,
        dict(example.facts),
        stage=example.stage,
    )
    assert verdict.result == example.result, verdict


@pytest.mark.parametrize("name", PACKS)
def test_every_limit_names_its_source_and_its_reason(name: str) -> None:
    for limit in PACKS[name].limits:
        assert limit.source
        assert limit.why
        assert limit.status in "VSCM"
        # what nobody published says so
        assert (
            limit.status != "M"
            or "no source" in limit.source
            or "from memory" in limit.source
            or "ANSI" in limit.source
        )


# ------------------------------------------------------------------ conditions


def test_a_limit_without_its_conditions_asks_and_does_not_pass(limits: Limits) -> None:
    verdict = alone(limits, "insulation_resistance", "compressor", 200, "MOhm", qualifier="at_least")
    assert verdict.result == "not_checked"
    assert "protection class" in (verdict.reason or "")
    assert "500" not in (verdict.reason or "")


def test_insulation_of_a_refrigerator_with_and_without_a_heater(limits: Limits) -> None:
    """EN 50678/50699: 0.6 MΩ passes at 0.3 with a heater, fails at 1.0 without."""
    facts = {"protection_class": "I", "test_voltage_v": "500"}
    assert alone(limits, "insulation_resistance", None, 0.6, "MOhm", {**facts, "heater": "yes"}).result == "within"
    assert alone(limits, "insulation_resistance", None, 0.6, "MOhm", {**facts, "heater": "no"}).result == "outside"


def test_earth_path_grows_with_whole_steps_of_cord(limits: Limits) -> None:
    """EN 50678: 0.3 Ω to 5 m, 0.1 Ω more for each further 7.5 m, at most 1 Ω."""
    for metres, high in [("3", 0.3), ("5", 0.3), ("12", 0.3), ("12.5", 0.4), ("20", 0.5), ("200", 1.0)]:
        verdict = alone(
            limits, "earth_continuity", "cabinet", 0.1, "Ohm", {"protection_class": "I", "cord_length_m": metres}
        )
        assert verdict.high == pytest.approx(high), metres


def test_earth_of_no_ohms_is_suspect(limits: Limits) -> None:
    assert (
        alone(limits, "earth_continuity", "cabinet", 0.0, "Ohm", {"protection_class": "I", "cord_length_m": "2"}).result
        == "suspect"
    )


def test_forty_and_forty_one_fahrenheit_are_two_limits(limits: Limits) -> None:
    """FDA advice to consumers 40 °F, Food Code 41 °F; 40 °F is not 5 °C."""
    home, shop = {"profile": "US"}, {"profile": "US", "appliance_use": "commercial"}
    assert alone(limits, "temperature", "fridge", 41, "[degF]", home).result == "outside"
    assert alone(limits, "temperature", "fridge", 41, "[degF]", shop).result == "within"
    assert alone(limits, "temperature", "fridge", 5, "Cel", home).result == "outside"
    assert alone(limits, "temperature", "fridge", 4.4, "Cel", home).result == "within"


def test_touch_current_keeps_to_one_set_of_limits(limits: Limits) -> None:
    """EN 50678: 0.5 mA; a national code's 5 mA is contested and must not let 2 mA pass."""
    assert alone(limits, "current", "touch current", 2, "mA", {"protection_class": "II"}).result == "outside"


def test_charges(limits: Limits) -> None:
    """IEC 60335-2-24: 150 g = 5.29 oz; 83 FR 38969: 57 g = 2.01 oz before 2018."""
    facts = {"refrigerant": "R-600a"}
    assert alone(limits, "mass", "refrigerant", 5.29, "[oz_av]", facts).result == "within"
    assert alone(limits, "mass", "refrigerant", 5.30, "[oz_av]", facts).result == "outside"
    assert (
        alone(limits, "mass", "refrigerant", 2.02, "[oz_av]", {**facts, "profile": "US", "made_year": "2016"}).result
        == "outside"
    )
    assert alone(limits, "mass", "refrigerant", 110, "g", {"refrigerant": "R-134a"}).result == "not_checked"


def test_room_too_small_for_the_charge(limits: Limits) -> None:
    verdict = alone(limits, "mass", "refrigerant", 62, "g", {"refrigerant": "R-600a", "room_volume_m3": "4"})
    assert verdict.result == "outside"
    assert verdict.worked == "62 g / 11 g/m³ = 5.64 m³"
    assert (
        alone(limits, "mass", "refrigerant", 62, "g", {"refrigerant": "R-600a", "room_volume_m3": "12"}).result
        == "within"
    )


# ------------------------------------------------------------------ the job's own specification, doubt, circuits


def test_a_spoken_specification_comes_first(limits: Limits) -> None:
    verdict = alone(limits, "resistance", "defrost heater", 38, "Ohm", limit_low=44, limit_high=52, decimals=0)
    assert (verdict.result, verdict.low, verdict.high, verdict.source) == ("outside", 44, 52, "stated on the job")
    assert alone(limits, "resistance", "defrost heater", 48, "Ohm", limit_low=44, limit_high=52).result == "within"


def test_doubt_is_suspect_with_both_values(limits: Limits) -> None:
    verdict = alone(limits, "voltage", "outlet", 115, "V", {"profile": "US"}, doubt="150 volts", decimals=0)
    assert verdict.result == "suspect"
    assert "115 V" in (verdict.reason or "")
    assert "150 volts" in (verdict.reason or "")


def test_open_and_short_circuits(limits: Limits) -> None:
    assert alone(limits, "resistance", "defrost heater", None, None, qualifier="open_circuit").result == "outside"
    assert alone(limits, "resistance", "run winding", None, None, qualifier="short_circuit").result == "outside"
    assert alone(limits, "resistance", "door switch", None, None, qualifier="open_circuit").result == "not_checked"


def test_qualifiers_leave_open_what_they_leave_open(limits: Limits) -> None:
    assert alone(limits, "vacuum", None, 500, "um[Hg]", qualifier="at_most").result == "within"
    assert alone(limits, "vacuum", None, 800, "um[Hg]", qualifier="at_most").result == "not_checked"
    assert alone(limits, "vacuum", None, 400, "um[Hg]", qualifier="range", value_high=600).result == "not_checked"
    assert alone(limits, "vacuum", None, 600, "um[Hg]", qualifier="range", value_high=700).result == "outside"


def test_no_limit_is_never_within(limits: Limits) -> None:
    assert alone(limits, "torque", "hinge bolt", 9, "N.m").result == "not_checked"
    assert (
        judge_readings((reading("torque", None, 9, "N.m"),), limits=None, facts={})[0].verdict.result == "not_checked"
    )


# ------------------------------------------------------------------ slips


def test_fifty_for_fifteen(limits: Limits) -> None:
    verdict = alone(limits, "voltage", "outlet", 150, "V", {"profile": "US"}, decimals=0)
    assert verdict.result == "suspect"
    assert "150 V" in (verdict.reason or "")
    assert "115 V" in (verdict.reason or "")


def test_a_factor_of_ten_against_the_rating(limits: Limits) -> None:
    facts = {"heater_watts": "600", "heater_volts": "120"}
    assert alone(limits, "resistance", "defrost heater", 24.5, "Ohm", facts).result == "within"
    verdict = alone(limits, "resistance", "defrost heater", 245, "Ohm", facts)
    assert verdict.result == "suspect"
    assert "24.5 Ω" in (verdict.reason or "")
    assert alone(limits, "resistance", "defrost heater", 61, "Ohm", facts).result == "outside"


def test_fahrenheit_taken_for_celsius(limits: Limits) -> None:
    verdict = alone(limits, "temperature", "fridge", 41, "Cel", {"profile": "US"}, unit_assumed=True)
    assert verdict.result == "suspect"
    assert "41 °F" in (verdict.reason or "")


def test_a_freezer_still_pulling_down_is_outside_and_not_doubted(limits: Limits) -> None:
    assert alone(limits, "temperature", "freezer", 11, "[degF]", {"profile": "US"}, stage="as_left").result == "outside"
    assert alone(limits, "temperature", "freezer", -12, "Cel", {"profile": "UK"}, stage="as_left").result == "outside"


def test_a_dead_test_is_no_fault_of_the_supply(limits: Limits) -> None:
    assert alone(limits, "voltage", "outlet", 0, "V", {"profile": "US"}).result == "not_checked"
    assert (
        alone(limits, "voltage", "power supply", 1, "V", {"profile": "UK"}, qualifier="at_most").result == "not_checked"
    )


def test_a_value_of_another_stage_speaks_for_and_never_against(limits: Limits) -> None:
    """118²/34 = 409.5 W by hand."""

    def three(ohms: float) -> tuple[Verdict, ...]:
        return judged(
            limits,
            reading("resistance", "defrost heater", ohms, "Ohm", 1, stage="as_found"),
            reading("voltage", "defrost heater", 118, "V", 2, stage="as_left"),
            reading("power", "defrost heater", 405, "W", 3, stage="as_left"),
        )

    assert all(v.worked for v in three(34))
    assert {v.result for v in three(340)} == {"not_checked"}


def test_a_lost_sign_is_doubted_only_where_the_job_is_done(limits: Limits) -> None:
    facts = {"profile": "UK"}
    assert alone(limits, "temperature", "freezer", 18, "Cel", facts, stage="as_left").result == "suspect"
    assert alone(limits, "temperature", "freezer", 18, "Cel", facts, stage="as_found").result == "outside"


def test_more_vacuum_than_there_is_atmosphere(limits: Limits) -> None:
    assert alone(limits, "vacuum", None, 30, "[in_i'Hg]", reference="vacuum").result == "suspect"


def test_hours_that_were_ohms(limits: Limits) -> None:
    """Heard in noise: "two hundred and seventy five ohms" as hours."""
    assert alone(limits, "time", None, 275, "h").result == "suspect"
    assert alone(limits, "time", None, 72, "h").result != "suspect"


# ------------------------------------------------------------------ between readings


def test_heater_triangle_gets_a_worked_line(limits: Limits) -> None:
    volts, amps, ohms = judged(
        limits,
        reading("voltage", "outlet", 115, "V", 1),
        reading("current", "defrost heater", 4.7, "A", 2),
        reading("resistance", "defrost heater", 24.5, "Ohm", 3),
        profile="US",
    )
    assert volts.result == "within"
    for verdict in (amps, ohms):
        assert verdict.result == "not_checked"
        assert "24.47 Ω" in (verdict.worked or "")


def test_the_odd_one_of_the_triangle_is_suspect(limits: Limits) -> None:
    verdicts = judged(
        limits,
        reading("voltage", "outlet", 115, "V", 1),
        reading("current", "defrost heater", 4.7, "A", 2),
        reading("resistance", "defrost heater", 245, "Ohm", 3),
        reading("power", "defrost heater", 540, "W", 4),
        profile="US",
    )
    assert [v.result for v in verdicts] == ["within", "not_checked", "suspect", "not_checked"]
    assert "24.47 Ω" in (verdicts[2].reason or "")


def test_three_that_disagree_are_doubted_but_not_a_good_supply(limits: Limits) -> None:
    verdicts = judged(
        limits,
        reading("voltage", "outlet", 115, "V", 1),
        reading("current", "defrost heater", 4.7, "A", 2),
        reading("resistance", "defrost heater", 245, "Ohm", 3),
        profile="US",
    )
    assert [v.result for v in verdicts] == ["within", "suspect", "suspect"]


def test_windings(limits: Limits) -> None:
    def three(*ohms: float) -> set[str]:
        return {
            v.result
            for v in judged(limits, *(reading("resistance", "compressor", x, "Ohm", n) for n, x in enumerate(ohms)))
        }

    assert three(8.8, 4.1, 12.9) == {"not_checked"}
    assert three(6.2, 6.2, 6.3) == {"not_checked"}
    assert three(8.8, 4.1, 15.9) == {"suspect"}


def test_named_windings(limits: Limits) -> None:
    verdicts = judged(
        limits,
        reading("resistance", "compressor run winding", 4.1, "Ohm", 1),
        reading("resistance", "compressor start winding", 8.8, "Ohm", 2),
        reading("resistance", "run to start", 12.9, "Ohm", 3),
    )
    assert all("12.9 Ω" in (v.worked or "") for v in verdicts)


def test_sensor_beside_a_thermometer(limits: Limits) -> None:
    """15.0 kΩ at 16 °C by the Steinhart-Hart curve of the 10 kΩ sensor."""
    sensor, _ = judged(
        limits, reading("resistance", "thermistor", 15.1, "kOhm", 1), reading("temperature", None, 16, "Cel", 2)
    )
    assert "10 kΩ, B 3977" in (sensor.reason or "")
    assert alone(limits, "resistance", "thermistor", 32.65, "kOhm", {"sensor_curve": "10k-3977"}).reason == (
        "On the curve 10 kΩ, B 3977 this means 0.0 °C."
    )
    off, _ = judged(
        limits,
        reading("resistance", "thermistor", 32.65, "kOhm", 1),
        reading("temperature", None, 16, "Cel", 2),
        sensor_curve="10k-3977",
    )
    assert off.result == "suspect"


def test_superheat_of_two_readings(limits: Limits) -> None:
    pair = (
        reading("pressure", "low side", 2.0, "[psi]", 1, reference="gauge"),
        reading("temperature", "suction line", -5, "Cel", 2),
    )
    assert all("18.25 K" in (v.worked or "") for v in judged(limits, *pair, refrigerant="R-134a"))
    below = (
        reading("pressure", "low side", 20, "[psi]", 1, reference="gauge"),
        reading("temperature", "suction line", -25, "Cel", 2),
    )
    assert {v.result for v in judged(limits, *below, refrigerant="R-134a")} == {"suspect"}


def test_gauge_or_absolute_is_never_guessed(limits: Limits) -> None:
    pair = (reading("pressure", "low side", 2.0, "[psi]", 1), reading("temperature", "suction line", -5, "Cel", 2))
    assert all(v.worked is None for v in judged(limits, *pair, refrigerant="R-134a"))


def test_readings_of_two_visits_are_not_mixed(limits: Limits) -> None:
    verdicts = judged(
        limits,
        reading("voltage", "outlet", 115, "V", 1),
        reading("current", "defrost heater", 4.7, "A", 2),
        reading("resistance", "defrost heater", 245, "Ohm", 3, visit=2),
        profile="US",
    )
    assert all(v.worked is None for v in verdicts)


# ------------------------------------------------------------------ facts and files


def test_facts_are_heard_and_contradictions_left_out(limits: Limits) -> None:
    def report(text: str) -> Report:
        segment = SegmentEntry(id="s1", recording="a", start=0, end=1, heard=text, text=text, words=())
        return Report(transcript=TranscriptEntry(segments=(segment,)))

    assert facts_of(report("Charged thirty two grams of R six hundred A."), limits)["refrigerant"] == "R-600a"
    assert "refrigerant" not in facts_of(report("Label says 600a, bottle says 134a."), limits)
    assert facts_of(report("Upright freezer out in the garage."), limits) == {"compartment": "freezer"}


def test_every_fault_of_a_file_is_reported_at_once(tmp_path: Path) -> None:
    folder = tmp_path / "bicycles"
    folder.mkdir()
    (folder / "limits.toml").write_text(
        """
[[limits]]
id = "chain"
title = "chain"
quantity = "wear"
unit = "degreeC"
low = 5
high = 3
colour = "red"
subjects = ["chains"]
when = [{fact = "weather", is = ["wet"]}]
source = ""
status = "Q"
why = "It skips."
[[sensors]]
id = "s"
title = "s"
source = "s"
[rubbish]
""",
        encoding="utf-8",
    )
    with pytest.raises(PackError) as caught:
        load_limits(folder)
    for fault in (
        "unknown colour",
        "quantity 'wear'",
        "unit 'degreeC'",
        "no group 'chains'",
        "low 5.0 is above high 3.0",
        "fact 'weather'",
        "needs source",
        "status 'Q'",
        "needs examples",
        "exactly one of steinhart",
        "rubbish",
    ):
        assert fault in caught.value.problem, fault


def test_a_trade_without_words_of_its_own_has_the_common_limits(tmp_path: Path) -> None:
    folder = tmp_path / "bicycles"
    folder.mkdir()
    (folder / "limits.toml").write_text("", encoding="utf-8")
    found = load_limits(folder)
    assert any(x.id == "earth-path" for x in found.limits)
    assert found.refrigerants == {}


def test_a_vacuum_that_was_watched(limits: Limits) -> None:
    """An equipment manual: isolate for 30 minutes, at most 500 microns."""

    def watched(second: float, minutes: float, *later: float) -> Verdict:
        more = [reading("vacuum", None, x, "um[Hg]", 4 + n) for n, x in enumerate(later)]
        return judged(
            limits,
            reading("vacuum", None, 280, "um[Hg]", 1),
            reading("vacuum", None, second, "um[Hg]", 2),
            reading("time", None, minutes, "min", 3),
            *more,
        )[1]

    assert (watched(420, 30).result, watched(420, 30).worked) == ("within", "280 → 420 microns, 30 min")
    assert "held" in (watched(420, 30).reason or "")
    assert "too short" in (watched(420, 10).reason or "")
    assert "moisture" in (watched(1400, 30, 1420).reason or "")
    assert "leak" in (watched(1400, 30, 9000).reason or "")


def test_more_time_and_a_leak_are_seen_in_microns_that_are_called_vacuum(limits: Limits) -> None:
    rows = (
        reading("vacuum", None, 280, "um[Hg]", 1, reference="vacuum"),
        reading("time", None, 40, "min", 2),
        reading("vacuum", None, 390, "um[Hg]", 3, reference="vacuum"),
    )
    assert "held" in (judged(limits, *rows)[2].reason or "")


def test_inches_of_vacuum_show_no_deep_vacuum(limits: Limits) -> None:
    """29 inHg below an atmosphere of 29.92 inHg leave 23 400 microns (NIST SP 811)."""
    verdict = alone(limits, "vacuum", None, 29, "[in_i'Hg]", reference="vacuum")
    assert verdict.result == "not_checked"
    assert "23400 microns" in (verdict.reason or "")
    assert "29 inHg" in (verdict.worked or "")
    running = alone(limits, "vacuum", "low side", 12.7, "[in_i'Hg]", reference="vacuum")
    assert "micron" not in (running.reason or "")


# A pressure test over a change of temperature: ideal gas, (150 + 14.696) * 293.15 / 303.15 - 14.696 = 144.57 psi
@pytest.mark.parametrize(
    ("second", "result", "words"),
    [(144.6, "within", "No loss"), (141.0, "outside", "A loss"), (148.9, "suspect", "More than there can be")],
)
def test_a_pressure_test_allows_for_the_temperature(second: float, result: str, words: str, limits: Limits) -> None:
    rows = (
        reading("pressure", "nitrogen", 150, "[psi]", 1, reference="gauge"),
        reading("temperature", "room", 30, "Cel", 2),
        reading("time", None, 12, "h", 3),
        reading("pressure", "nitrogen", second, "[psi]", 4, reference="gauge"),
        reading("temperature", "room", 20, "Cel", 5),
    )
    verdict = judged(limits, *rows)[3]
    assert (verdict.result, words in (verdict.reason or "")) == (result, True), verdict
    assert verdict.low == pytest.approx(144.57 - 1.59, abs=0.02)
    assert "293.15 / 303.15" in (verdict.worked or "")


def test_a_pressure_test_without_temperatures_asks_for_them(limits: Limits) -> None:
    def second(pressure: float, **more: Any) -> Verdict:
        first = reading("pressure", "sealed system", 10, "bar", 1, reference="gauge")
        return judged(limits, first, reading("pressure", "sealed system", pressure, "bar", 2, **more))[1]

    kept, lower = second(10.0, reference="gauge"), second(9.6, reference="gauge")
    assert (kept.result, lower.result) == ("not_checked", "not_checked")
    assert "stayed" in (kept.reason or "")
    assert "How warm" in (lower.reason or "")
    assert "How warm" not in (second(9.6).reason or "")  # gauge or absolute was not said


def test_a_charge_says_which_room_it_needs(limits: Limits) -> None:
    """EN 378: 44 g over 11 g/m3 are 4 m3; what was recovered needs no room."""
    verdict = alone(limits, "mass", "refrigerant", 44, "g", {"refrigerant": "R-600a"}, stage="as_left")
    assert (verdict.result, verdict.worked) == ("within", "44 g / 11 g/m³ = 4 m³")
    assert (verdict.reason or "").endswith("needs at least 4 m³.")
    assert alone(limits, "mass", "refrigerant", 22, "g", {"refrigerant": "R-600a"}, stage="as_found").worked is None


def test_a_dryer_on_one_live_conductor() -> None:
    """ANSI C84.1: 240 V is twice 120 V; half of the supply is no supply of 240 V."""
    facts = {"profile": "US", "machine": "dryer"}
    assert alone(PACKS["laundry"], "voltage", "outlet", 121, "V", facts).result == "not_checked"
    told = {**facts, "supply_nominal": "240"}
    assert alone(PACKS["laundry"], "voltage", "outlet", 121, "V", told).result == "outside"


def test_dishwashers_have_the_limits_of_laundry_and_their_own() -> None:
    assert alone(PACKS["dishwashing"], "resistance", "drain pump", 14.2, "Ohm", {"profile": "US"}).result == "within"
    assert alone(PACKS["dishwashing"], "temperature", "water", 84, "Cel").result == "outside"
    assert alone(PACKS["laundry"], "temperature", "water", 84, "Cel").result == "within"


def test_water_does_not_boil_in_the_drum() -> None:
    """Water boils at 100 °C at 101.325 kPa; 140 spoken without a scale is Fahrenheit there."""
    verdict = alone(PACKS["laundry"], "temperature", "water", 140, "Cel", unit_assumed=True)
    assert verdict.result == "suspect"
    assert "140 °F" in (verdict.reason or "")


def test_facts_of_a_data_plate_file(tmp_path: Path, limits: Limits) -> None:
    path = tmp_path / "plates.toml"
    path.write_text(
        '[[plates]]\nmodel = "QZ418-N"\nrefrigerant = "R-600a"\nheater_watts = 400\nheater_volts = 115\n',
        encoding="utf-8",
    )
    facts = plate_facts(path, "qz 418n", limits)
    assert alone(limits, "resistance", "defrost heater", 33, "Ohm", facts).result == "within"
    assert plate_facts(path, "other", limits) == {}
    path.write_text('[[plates]]\ncolour = "white"\n[rubbish]\n', encoding="utf-8")
    with pytest.raises(PackError) as caught:
        plate_facts(path, "x", limits)
    assert all(word in caught.value.problem for word in ("colour", "needs model", "rubbish"))
