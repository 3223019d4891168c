"""Quantities as they are spoken: vectors of the trade, generated speech, and what is no reading."""

from __future__ import annotations

import time
from typing import Any, get_args

import pytest
from bench_quantities import right, run
from spoken_quantities import by_cldr, by_num2words, many

from voicereport.report import QuantityName
from voicereport.units import UNITS, dimension
from voicereport.wording.quantities import Quantity, find_circuit_words, find_quantities, quantity_of


def one(words: str, **options: Any) -> Quantity:
    found = find_quantities(words.split(), **options)
    assert len(found) == 1, (words, found)
    return found[0]


# Common practice of the trade, no source; values by arithmetic, units by UCUM
VECTORS = [
    ("one fifteen volts", 115, "V", "exact"),
    ("twenty four and a half ohms", 24.5, "Ohm", "exact"),
    ("twenty four point five oh ohms", 24.5, "Ohm", "exact"),
    ("four point seven k", 4.7, "kOhm", "exact"),
    ("four K seven", 4.7, "kOhm", "exact"),
    ("4K7", 4.7, "kOhm", "exact"),
    ("four point four K ohms", 4.4, "kOhm", "exact"),
    ("sixteen point three kay at thirty two", 16.3, "kOhm", "exact"),
    ("half an ohm", 0.5, "Ohm", "exact"),
    ("point one five of an ohm", 0.15, "Ohm", "exact"),
    ("better than five hundred meg", 500, "MOhm", "at_least"),
    ("three quarters of an inch", 0.75, "[in_i]", "exact"),
    ("one and three quarter ounces", 1.75, "[oz_av]", "exact"),
    ("four inches of vacuum", 4, "[in_i'Hg]", "exact"),
    ("five hundred microns", 500, "um[Hg]", "exact"),
    ("two fifty microns", 250, "um[Hg]", "exact"),
    ("point five torr", 0.5, "mm[Hg]", "exact"),
    ("below three hundred microns", 300, "um[Hg]", "at_most"),
    ("under a milliamp", 1, "mA", "at_most"),
    ("about two gallons", 2, "[gal_us]", "about"),
    ("two gallons or so", 2, "[gal_us]", "about"),
    ("zero ohms", 0, "Ohm", "exact"),
    ("twelve hundred kilopascals", 1200, "kPa", "exact"),
    ("one thirty five P S I", 135, "[psi]", "exact"),
    ("half a gallon a minute", 0.5, "[gal_us]/min", "exact"),
    ("twenty inch pounds", 20, "[in_i].[lbf_av]", "exact"),
    ("a hundred and twenty mils went in", 120, "mL", "exact"),
    ("two below zero Fahrenheit", -2, "[degF]", "exact"),
    ("minus nineteen point five Celsius", -19.5, "Cel", "exact"),
    ("26.4 Ω", 26.4, "Ohm", "exact"),
    ("115V", 115, "V", "exact"),
    ("-18°C", -18, "Cel", "exact"),
    ("3.6 A", 3.6, "A", "exact"),
    ("1,500 ohms", 1500, "Ohm", "exact"),
    ("60 Hz", 60, "Hz", "exact"),
    ("twelve-volt", 12, "V", "exact"),
    ("eighteen degrees below zero Fahrenheit", -18, "[degF]", "exact"),
    ("forty mil long", 40, "mm", "exact"),
    ("forty mil went in", 40, "mL", "exact"),
    ("trough, inch and a half thick.", 1.5, "[in_i]", "exact"),
    ("gallon and a quarter came out.", 1.25, "[gal_us]", "exact"),
    ("six mil or so of frost", 6, "mm", "about"),
    ("ten point eight D C volts", 10.8, "V", "exact"),
    ("three point eight micros", 3.8, "uF", "exact"),
    ("two hundred and, er, eighty two ohms", 282, "Ohm", "exact"),
    ("minus, uh, nineteen degrees Celsius", -19, "Cel", "exact"),
]


@pytest.mark.parametrize(("words", "value", "unit", "qualifier"), VECTORS)
def test_vectors(words: str, value: float, unit: str, qualifier: str) -> None:
    found = one(words)
    assert (found.value, found.unit, found.qualifier) == (pytest.approx(value), unit, qualifier)


@pytest.mark.parametrize(
    ("words", "minutes"),
    [
        ("an hour and ten", 70),
        ("hour five", 65),
        ("three quarters of an hour", 45),
        ("half an hour", 30),
        ("a quarter of an hour", 15),
        ("an hour and a half", 90),
        ("one hour forty minutes", 100),
        ("three hours fifteen", 195),
        ("two and a half hours", 150),
        ("one hour and half", 90),
        ("2 hours 15", 135),
    ],
)
def test_durations_in_minutes(words: str, minutes: float) -> None:
    found = one(words)
    assert (found.value, found.unit) == (minutes, "min")


def test_corrections_leave_the_corrected_value() -> None:
    for words, value in [
        ("Forty, correction, forty four ohms", 44),
        ("One oh nine, sorry, one nineteen volts", 119),
        ("Three hundred, wait, no, three hundred twelve ohms.", 312),
        ("forty ohms, sorry, forty four", 44),
        ("thirty, no, thirty five grams", 35),
        ("three gallons, no, more like two and a half", 2.5),
        ("ten bar, no, I tell a lie, eight, I only went to eight", 8),
        ("six point eight ohms, no, I've the leads crossed, sixteen point eight, on the start winding", 16.8),
    ]:
        found = one(words)
        assert (found.value, found.first) == (value, 0)


def test_what_only_looks_like_a_correction() -> None:
    for words, values in [
        ("ten bar, no more than twelve", [10]),
        ("forty ohms, no, on the other side it was open", [40]),
        ("forty ohms, no reading on the next, and six volts", [40, 6]),
    ]:
        assert [q.value for q in find_quantities(words.split())] == values, words


def test_two_times_side_by_side_are_a_range_and_three_are_none() -> None:
    found = one("ten, twelve minutes, till it was all clear")
    assert (found.value, found.value_high, found.qualifier) == (10, 12, "range")
    assert [q.value for q in find_quantities(["ten,", "fifteen,", "twenty", "minutes"])] == [10, 15, 20]
    assert [q.qualifier for q in find_quantities(["six,", "eight", "ohms"])] == ["exact", "exact"]


def test_a_shared_unit() -> None:
    found = find_quantities(["six", "point", "two,", "six", "point", "two,", "six", "point", "three", "ohms"])
    assert [(q.value, q.unit) for q in found] == [(6.2, "Ohm"), (6.2, "Ohm"), (6.3, "Ohm")]


@pytest.mark.parametrize(
    "words",
    [
        "between five and six amps",
        "five to six amps",
        "five or six amps",
        "5-6 amps",
        "somewhere between five and six amps",
        "from five to six amps",
    ],
)
def test_ranges(words: str) -> None:
    found = one(words)
    assert (found.value, found.value_high, found.qualifier) == (5, 6, "range")


def test_a_range_of_negative_values_rises() -> None:
    found = one("between minus sixteen and minus twenty one Celsius")
    assert (found.value, found.value_high) == (-21, -16)


def test_a_change_is_two_values_and_no_range() -> None:
    for words in ("went from 400 to 600 microns", "dropped from twelve to four amps"):
        assert [q.qualifier for q in find_quantities(words.split())] == ["exact", "exact"]


def test_bare_degrees_follow_the_setting_and_say_so() -> None:
    for unit in ("Cel", "[degF]"):
        found = one("thirty eight degrees", temperature_unit=unit)
        assert (found.unit, found.unit_assumed) == (unit, True)
    assert not one("thirty eight degrees C", temperature_unit="[degF]").unit_assumed


def test_gauge_absolute_and_vacuum_are_only_what_was_said() -> None:
    assert one("ten bar gauge").reference == "gauge"
    assert one("fourteen P S I A").reference == "absolute"
    assert one("two inches of vacuum").reference == "vacuum"
    assert one("ten bar").reference is None


def test_differences_are_told_from_points() -> None:
    assert one("ten Fahrenheit between the supply air and the return air").quantity == "temperature_difference"
    assert one("six kelvin").quantity == "temperature_difference"
    assert one("a superheat of six K").unit == "K"
    assert one("ten Fahrenheit").quantity == "temperature"


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("six quarter inch hex screws", 0.25),
        ("a ten millimetre socket", 10),
        ("two ten millimetre bolts", 10),
        ("3/8 inch nut driver", 0.375),
    ],
)
def test_sizes_of_fasteners_and_tools_are_marked(words: str, value: float) -> None:
    found = one(words)
    assert (found.role, found.value) == ("size", value)


@pytest.mark.parametrize(
    "words",
    [
        "sixty two of six hundred A",
        "one three four A",
        "wait a second",
        "X R three two two K",
        "serial two zero seven seven one K",
        "four screws",
        "fourteen years old",
        "half past two",
        "ten fifteen minutes",
        "five two ten ohms",
        "forty dollars",
        "that cost him forty pounds",
        "sixty pounds plus VAT",
        "twice a minute",
    ],
)
def test_what_is_no_quantity(words: str) -> None:
    assert find_quantities(words.split()) == ()


@pytest.mark.parametrize(
    "words", ["a ten amp fuse", "the 12 volt supply", "a four hundred watt heater", "a two litre bottle"]
)
def test_ratings_before_a_noun_are_no_values(words: str) -> None:
    assert one(words).role == "size"


def test_a_plural_unit_is_a_value() -> None:
    for words in (
        "one eighteen volts at the outlet",
        "ten amps on the fuse",
        "point one ohm, passed",
        "ten bar on the pump",
    ):
        assert one(words).role == "value"


def test_a_fraction_after_the_unit_belongs_to_it() -> None:
    assert (one("an amp and a half").value, one("two inches and a quarter").value) == (1.5, 2.25)


def test_vague_words_before_the_unit() -> None:
    for words in ("twenty odd ohms", "thirty-ish ohms", "30ish ohms", "~30 ohms", "two and a bit ohms"):
        assert one(words).qualifier == "about"


def test_a_tolerance_is_no_negative_value() -> None:
    assert find_quantities(["plus", "or", "minus", "five", "percent"]) == ()
    assert find_quantities(["±5%"]) == ()


def test_circuit_words() -> None:
    for words in ("it is open", "O L on the display", "no continuity", "reads infinity", "wide open"):
        assert [q.qualifier for q in find_circuit_words(words.split())] == ["open_circuit"], words
    for words in ("dead short across the winding", "reads shorted", "is a straight short", "gone short"):
        assert [q.qualifier for q in find_circuit_words(words.split())] == ["short_circuit"], words
    assert find_circuit_words(["twenty", "four", "ohms"]) == ()
    assert all(q.value is None and q.unit is None for q in find_circuit_words(["dead", "short"]))


def test_every_spoken_unit_is_in_the_whitelist() -> None:
    from voicereport.trades.spoken_units import shipped_units

    for unit in shipped_units().units:
        assert unit.code in UNITS
        assert dimension(unit.code)
        assert quantity_of(unit.code) in get_args(QuantityName)


def test_generated_by_num2words_none_is_wrong() -> None:
    outcome = run(by_num2words, 2500, 1)
    assert outcome.wrong == ()
    assert len(outcome.unread) < 0.02 * outcome.of


def test_generated_by_cldr_none_is_wrong() -> None:
    pytest.importorskip("icu")
    outcome = run(by_cldr, 2500, 2)
    assert outcome.wrong == ()
    assert len(outcome.unread) < 0.02 * outcome.of


def test_a_wrong_reading_counts_as_wrong() -> None:
    spoken = next(many(1, by_num2words, seed=1))
    found = find_quantities(spoken.words.split())
    assert right(found, spoken)
    assert not right(find_quantities(["seven", "volts"]), spoken)
    assert not right((), spoken)


def test_a_thousand_sentences_a_second() -> None:
    sentences = [s.words.split() for s in many(1000, by_num2words, seed=3)]
    start = time.perf_counter()
    for sentence in sentences:
        find_quantities(sentence)
    assert time.perf_counter() - start < 1.0
