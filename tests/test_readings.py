"""Which values of a line are readings: settings, ratings, limits and corrections beside them.

Sources: the report contract, Readings: what is a reading, its quantities and qualifiers. How such lines are put is
common practice of the trade, no source.
"""

from __future__ import annotations

import pytest

from voicereport.statements import Reading
from voicereport.statements.keys import load_keys
from voicereport.statements.reader import load_reader
from voicereport.statements.values import Measured
from voicereport.trades import load_trade
from voicereport.transcript import Segment, spread


def heard(*lines: str) -> Reading:
    """The lines, heard one after the other."""
    reading = Reading(load_trade("domestic-refrigeration"), "Cel", load_reader(), load_keys())
    for n, line in enumerate(lines):
        start = 10.0 * n
        reading.take_segment(Segment(id=f"s{n}", recording="r1", start=start, end=start + 8, heard=line, text=line,
                                     words=spread(line, start, start + 8)), 1)  # fmt: skip
    return reading


def read(*lines: str) -> list[Measured]:
    """The readings of the last line, heard after the others."""
    return [r for r in heard(*lines).statements().readings if r.span.segment == f"s{len(lines) - 1}"]


def values(*lines: str) -> list[tuple[str, float | None, str | None]]:
    return [(r.quantity, r.value, r.unit) for r in read(*lines)]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Oven centre's three hundred and ninety Fahrenheit with the knob at four hundred.",
         [("temperature", 390, "[degF]")]),
        ("Forty one degrees with the thermostat on forty.", [("temperature", 41, "Cel")]),
        ("Set point's minus eighteen, box is at minus eleven.", [("temperature", -11, "Cel")]),
        ("The box that should be at two is at nine degrees Celsius.", [("temperature", 9, "Cel")]),
        ("Pulled only twelve grams out of a sixty gram system.", [("mass", 12, "g")]),
        ("Forty grams went in of a sixty five gram charge.", [("mass", 40, "g")]),
        ("Rated ten amps, pulling nine point six.", [("current", 9.6, "A")]),
        ("Should be thirty ohms, and it is, dead on thirty.", [("resistance", 30, "Ohm")]),
        ("Book says twenty two ohms, I've got nineteen.", [("resistance", 19, "Ohm")]),
    ],
)  # fmt: skip
def test_a_setting_or_rating_beside_a_value(line: str, expected: list[tuple[str, float, str]]) -> None:
    """Contract: a specification, rating, setting or target is no reading; the value beside it is one."""
    assert values(line) == expected


@pytest.mark.parametrize(
    "line",
    [
        "Ten amps is the most that lead will take.",
        "Thirteen amps is all that plug's good for.",
        "Twenty bar is as much as this gauge goes to.",
        "The hose is good for ten bar.",
        "It's a two hundred and fifty volt rated switch.",
        "Three volts short of twelve.",
        "Down by four degrees.",
        "It dropped four bar.",
        "I didn't get fifty volts.",
    ],
)
def test_limits_ratings_and_changes_are_no_readings(line: str) -> None:
    assert values(line) == []


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Thirty ohms. Thirty three, sorry, bad contact.", [("resistance", 33, "Ohm")]),
        ("Thirty ohms. Make that thirty three.", [("resistance", 33, "Ohm")]),
        ("Three amps. Hang on. Three point six.", [("current", 3.6, "A")]),
        ("Twelve volts on the red. Scratch that, twenty four.", [("voltage", 24, "V")]),
        ("It wasn't fourteen ohms, it was forty.", [("resistance", 40, "Ohm")]),
        ("Fifteen, one five, amps on the clamp.", [("current", 15, "A")]),
        ("Reads seventy ohms, seven zero.", [("resistance", 70, "Ohm")]),
    ],
)
def test_a_value_said_anew_or_again_is_one_reading(line: str, expected: list[tuple[str, float, str]]) -> None:
    """Contract, Steps: a correction replaces; the retracted words stay in the transcript only."""
    assert values(line) == expected


def test_a_count_said_anew_leaves_the_reading() -> None:
    assert values("The heater reads thirty ohms. Four screws out. No, five.") == [("resistance", 30, "Ohm")]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Eleven point nine volts now, it was only six before.", [("voltage", 11.9, "V"), ("voltage", 6, "V")]),
        ("Drawing nine amps after, was eleven before.", [("current", 9, "A"), ("current", 11, "A")]),
        ("Two hundred and thirty volts at the plug, and the fridge was four.", [("voltage", 230, "V")]),
        ("Salad drawer three, top shelf five, freezer minus eighteen, all in Celsius.",
         [("temperature", 3, "Cel"), ("temperature", 5, "Cel"), ("temperature", -18, "Cel")]),
        ("Six degrees under zero, Celsius.", [("temperature", -6, "Cel")]),
    ],
)  # fmt: skip
def test_units_said_elsewhere(line: str, expected: list[tuple[str, float, str]]) -> None:
    assert values(line) == expected


@pytest.mark.parametrize(
    ("line", "quantity"),
    [
        ("Infinity across the door switch.", "resistance"),
        ("One point eight megohms across the thermistor.", "resistance"),
        ("Two hundred meg from the element to earth.", "insulation_resistance"),
        ("Point four of a megohm insulation on the heater.", "insulation_resistance"),
    ],
)
def test_insulation_is_measured_to_mass(line: str, quantity: str) -> None:
    """IEC 60335-1, 16.3 (from memory): insulation is tested between live parts and accessible ones."""
    assert [r.quantity for r in read(line)] == [quantity]


def test_a_resistance_at_a_temperature() -> None:
    """IEC 60539-1 (from memory): a thermistor's resistance is stated at a temperature, which is none of ohms."""
    line = "Thermistor reads ten k at twenty five."
    assert values(line) == [("resistance", 10, "kOhm"), ("temperature", 25, "Cel")]


def test_a_meter_keeps_what_it_was_set_to() -> None:
    assert values("Meter's on millivolts.", "Forty across the shunt.") == [("voltage", 40, "mV")]
    assert values("Meter's on kilohms now.", "Four point seven on the thermistor.") == [("resistance", 4.7, "kOhm")]


def test_the_same_again_is_the_reading_of_another_thing() -> None:
    (again,) = read("Pump coil's twelve ohms.", "Same again on the start winding.")
    assert (again.quantity, again.value, again.unit, again.subject) == ("resistance", 12, "Ohm", "start winding")
    assert again.spoken == "Same again on the start winding"


@pytest.mark.parametrize(
    "lines",
    [
        ("Pump coil's twelve ohms.", "Same on the left hinge."),
        ("Two screws out of the cover.", "Same again on the heater."),
        ("Earth's point one ohms.", "Same again on the motor."),
        ("Pump coil's twelve ohms, heater's forty ohms.", "Same again on the motor."),
    ],
)
def test_the_same_again_of_what_cannot_have_it_is_no_reading(lines: tuple[str, ...]) -> None:
    assert read(*lines) == []


def test_a_temperature_that_is_reached_is_no_difference() -> None:
    assert values("Warmed up to four degrees overnight.") == [("temperature", 4, "Cel")]


def test_a_bare_value_beside_one_in_kilohms_is_none_in_ohms() -> None:
    assert ("resistance", 6.1, "Ohm") not in values("Six kay on one, six point one on the other.")


@pytest.mark.parametrize(
    ("line", "quantity", "unit"),
    [
        ("Ammeter's sitting at nought point eight five on the compressor lead.", "current", "A"),
        ("Voltmeter says two thirty one.", "voltage", "V"),
        ("Ohmmeter shows forty four on the heater.", "resistance", "Ohm"),
    ],
)
def test_an_instrument_says_what_its_bare_number_is(line: str, quantity: str, unit: str) -> None:
    """An ammeter shows amperes: by its name."""
    assert [(r.quantity, r.unit) for r in read(line)] == [(quantity, unit)]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Ground check, bottom hinge to the ground pin, point one one ohm, point one one.", [0.11]),
        ("Meter says zero volts, zero.", [0]),
        ("Thirty one degrees in the cabinet, three one.", [31]),
        ("Ground, compressor shell to plug pin, zero point zero nine ohms. Zero point zero nine.", [0.09]),
        ("Test run, one point three amps, one point three and steady.", [1.3]),
        ("Live to neutral, zero volts, live to earth, zero.", [0, 0]),
        ("Two windings, eleven ohms, and the other, eleven.", [11, 11]),
    ],
)
def test_a_value_said_again_is_one_reading(line: str, expected: list[float]) -> None:
    assert [r.value for r in read(line)] == expected


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("She's at four hundred, naw, four twenty microns, and staying.", [("vacuum", 420, "um[Hg]")]),
        ("Ground, cabinet to the prong, uh, point two, naw, point one two.", [("earth_continuity", 0.12, "Ohm")]),
        ("Current is zero point, hmm, seven five ampere.", [("current", 0.75, "A")]),
        (
            "It drew nought point eight amps, and it's down to minus five and still dropping.",
            [("current", 0.8, "A"), ("temperature", -5, "Cel")],
        ),
        ("Fifty, fifty five, slow, slow, stop. Fifty eight grams of six hundred A is in.", [("mass", 58, "g")]),
        ("Put a hundred and fifty pounds of nitrogen on it.", [("pressure", 150, "[psi]")]),
        ("Says twelve microfarads on the side and it reads three point one.", [("capacitance", 3.1, "uF")]),
        ("Nitrogen, ten bar. Twenty minutes. Needle never moved.", [("pressure", 10, "bar"), ("time", 20, "min")]),
    ],
)
def test_values_as_they_are_put_right_and_beside_others(line: str, expected: list[object]) -> None:
    assert values(line) == expected


@pytest.mark.parametrize(
    "line",
    [
        "His other house had the same fridge, and that one came down to four degrees after I changed it.",
        "The one I did on Monday settled at minus eighteen.",
        "Same model at the school came down to three degrees.",
        "Next door's is sitting at four degrees.",
    ],
)
def test_a_value_of_another_appliance_is_no_reading(line: str) -> None:
    assert values(line) == []


@pytest.mark.parametrize(
    ("line", "stages"),
    [
        ("It were minus two in there when I came and it's minus five now.", ["as_found", "as_left"]),
        ("Freezer was forty eight, now nineteen.", ["as_found", "as_left"]),
        ("When I arrive it is minus six inside, now minus fifteen.", ["as_found", "as_left"]),
        ("It was at minus nine when I left.", ["as_left"]),
    ],
)
def test_words_that_date_a_value_to_the_coming(line: str, stages: list[str]) -> None:
    assert [r.stage for r in read("New fan fitted. Plug in.", line)] == stages


@pytest.mark.parametrize(
    ("line", "restored"),
    [
        ("And there's the dishwasher plugged back in for her.", False),
        ("I've plugged her washing machine back in.", False),
        ("That's her kettle plugged in again.", False),
        ("Plugged it back in beside the dishwasher.", True),
        ("That's the kettle back on and the fridge plugged in.", True),
        ("And there's the freezer plugged back in.", True),
    ],
)
def test_the_plug_of_another_appliance_restores_nothing(line: str, restored: bool) -> None:
    acts = heard(line).statements().acts
    assert ("restore_power" in {a.action for a in acts}) == restored
