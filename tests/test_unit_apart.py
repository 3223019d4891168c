"""Numbers whose unit stands elsewhere, that are said twice, denied, or in two parts.

Values are by num2words (the words of a number) and by arithmetic; units by UCUM; factors by NIST SP 811, Appendix B.8.
How such sentences are put is common practice of the trade, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from voicereport.units import convert
from voicereport.wording.numbers import find_numbers
from voicereport.wording.quantities import Quantity, find_quantities

WHOLE = st.integers(min_value=13, max_value=99)
UNITS = st.sampled_from([("ohms", "Ohm"), ("volts", "V"), ("amps", "A"), ("microfarads", "uF"), ("Celsius", "Cel")])


def found(words: str, setting: str = "Cel") -> list[tuple[float | None, str | None]]:
    return [(q.value, q.unit) for q in quantities(words, setting)]


def quantities(words: str, setting: str = "Cel") -> tuple[Quantity, ...]:
    return find_quantities(words.split(), temperature_unit="Cel" if setting == "Cel" else "[degF]")


def said(number: int) -> str:
    return num2words(number).replace("-", " ")


def spelled(number: int) -> str:
    return " ".join(num2words(int(digit)) for digit in str(number))


@given(WHOLE, UNITS)
def test_a_unit_after_a_pause_is_of_the_number_before(number: int, unit: tuple[str, str]) -> None:
    word, code = unit
    for words in (
        f"{said(number)} on the left one, {word}",
        f"{said(number)}, that's {word}",
        f"{said(number)}, {word} that is, with it running",
    ):
        assert found(words) == [(number, code)], words


@given(st.lists(WHOLE, min_size=2, max_size=4), UNITS)
def test_a_unit_said_once_at_the_end_is_of_all(numbers: list[int], unit: tuple[str, str]) -> None:
    word, code = unit
    listed = ", ".join(
        f"{place} {said(n)}" for place, n in zip(["left", "right", "rear", "front"], numbers, strict=False)
    )
    assert found(f"{listed}, all {word}") == [(n, code) for n in numbers]


@pytest.mark.parametrize(
    "words",
    [
        "four clips off, ohms on the meter next",
        "zone four, in Celsius",
        "two brackets out, amps look right",
        "six screws, all plastic",
        "took the meter off, volts",
    ],
)
def test_a_word_for_a_unit_after_a_count_makes_it_no_value(words: str) -> None:
    assert quantities(words) == ()


@given(WHOLE, UNITS)
def test_a_number_said_again_digit_by_digit_is_one_value(number: int, unit: tuple[str, str]) -> None:
    word, code = unit
    for words in (
        f"{said(number)}, {spelled(number)}, {word}",
        f"{said(number)} {word}, {spelled(number)}",
        f"{said(number)} {word}, that's {spelled(number)}",
    ):
        assert found(words) == [(number, code)], words


def test_two_like_values_side_by_side_stay_two() -> None:
    assert found("six point two, six point two ohms") == [(6.2, "Ohm"), (6.2, "Ohm")]


@given(WHOLE, WHOLE, UNITS)
def test_what_is_denied_gives_its_unit_to_what_is_said_instead(wrong: int, right: int, unit: tuple[str, str]) -> None:
    word, code = unit
    for words in (
        f"it wasn't {said(wrong)} {word}, it was {said(right)}",
        f"it isn't {said(wrong)}, it's {said(right)} {word}",
        f"not {said(wrong)} {word}, {said(right)}",
        f"{said(right)} {word}, not {said(wrong)}",
    ):
        assert found(words) == [(right, code)], words


@pytest.mark.parametrize("words", ["it wasn't eight amps", "that isn't a fifteen volts", "not quite what I call ohms"])
def test_what_is_only_denied_is_no_value(words: str) -> None:
    assert quantities(words) == ()


@given(WHOLE, WHOLE, UNITS)
def test_a_bare_value_set_beside_another_has_its_unit(now: int, before: int, unit: tuple[str, str]) -> None:
    word, code = unit
    for words in (
        f"{said(now)} {word} now, it was only {said(before)} before",
        f"{said(now)} {word} on the new one, the old one was {said(before)}",
        f"should be {said(now)} {word}, I've got {said(before)}",
    ):
        assert found(words) == [(now, code), (before, code)], words


@pytest.mark.parametrize(
    "words",
    [
        "ten amps, and there's four screws in it",
        "nine volts on the board, that's three boards now",
        "thirty ohms, that's one of two",
        "it ran ten minutes and it was four",
        "a ten amp fuse, it was six",
        "two twenty before a gram went near it",
        "forty ohms, then I've got two clips left",
    ],
)
def test_a_bare_number_that_counts_or_stands_alone_has_no_unit(words: str) -> None:
    assert [q for q in quantities(words) if q.unit_from == "elsewhere"] == []


@given(st.integers(min_value=1, max_value=40))
def test_signs_after_the_number(number: int) -> None:
    for words in (
        f"{said(number)} degrees under zero",
        f"{said(number)} degrees below zero",
        f"{said(number)} degrees below in there",
        f"{said(number)} below in the box, that's Celsius",
        f"{said(number)} degrees below freezing",
    ):
        assert found(words) == [(-number, "Cel")], words
    assert find_numbers(f"{said(number)} under zero in the drawer".split())[0].value == -number
    assert found(f"{said(number)} degrees above zero") == [(number, "Cel")]


@pytest.mark.parametrize(
    ("words", "setting"),
    [
        ("ten degrees below freezing", "[degF]"),  # 32 degF is freezing (SP 811): neither -10 nor +10
        ("ten Fahrenheit below freezing", "Cel"),
        ("two degrees below the shelf", "Cel"),
        ("twelve under, Fahrenheit", "Cel"),
    ],
)
def test_a_sign_that_the_words_leave_open_is_no_value(words: str, setting: str) -> None:
    assert quantities(words, setting) == ()


def test_degrees_from_another_temperature_are_a_difference() -> None:
    for words in ("fifteen degrees above ambient", "three degrees below the set point", "two degrees under target"):
        assert [q.quantity for q in quantities(words)] == ["temperature_difference"], words


@given(st.integers(min_value=1, max_value=30), st.integers(min_value=5, max_value=59))
def test_minutes_and_seconds(minutes: int, seconds: int) -> None:
    assert found(f"it took {said(minutes)} minutes {said(seconds)}") == [(minutes * 60 + seconds, "s")]
    assert found(f"after {said(minutes)} minutes {said(seconds)} amps")[-1] == (seconds, "A")


@settings(deadline=None)  # the first conversion loads pint's table
@given(st.integers(min_value=1, max_value=30), st.integers(min_value=1, max_value=15))
def test_pounds_and_ounces(pounds: int, ounces: int) -> None:
    ((value, unit),) = found(f"{said(pounds)} pounds {said(ounces)} ounces")
    assert value is not None
    assert unit is not None
    grams = pounds * 453.59237 + ounces * 28.349523125
    assert convert(value, unit, "g") == pytest.approx(grams, rel=1e-6)


@given(st.integers(min_value=0, max_value=19), st.integers(min_value=1, max_value=9))
def test_a_decimal_comma_that_is_spoken_is_a_point(whole: int, tenth: int) -> None:
    assert found(f"{said(whole)} comma {said(tenth)} amps") == [(pytest.approx(whole + tenth / 10), "A")]


def test_a_fraction_before_a_minute_is_of_the_flow() -> None:
    assert found("a litre and a half a minute at the tap") == [(1.5, "L/min")]
    assert found("two gallons and a half per minute") == [(2.5, "[gal_us]/min")]


def test_a_correction_after_the_place_of_a_reading() -> None:
    assert found("six bar on the high side, no, sorry, eight") == [(8, "bar")]
    assert found("six bar on the high side, no leaks, eight clips") == [(6, "bar")]


def test_up_to_is_a_limit_only_where_nothing_goes_there() -> None:
    assert [q.qualifier for q in quantities("it went up to ten bar")] == ["exact"]
    assert [q.qualifier for q in quantities("takes up to ten bar")] == ["at_most"]


def test_a_kilowatt_hour_is_no_power() -> None:
    assert [(q.quantity, q.unit) for q in quantities("point eight of a kilowatt hour")] == [("other", "kW.h")]
    assert convert(1, "kW.h", "J") == pytest.approx(3.6e6)  # SP 811, B.8


@pytest.mark.parametrize(
    "words", ["I've not got twelve volts, I've got four", "didn't read twelve volts, it reads four"]
)
def test_a_denial_before_the_verb(words: str) -> None:
    assert found(words) == [(4, "V")]
