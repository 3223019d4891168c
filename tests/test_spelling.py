"""Figures as spoken words. Expected values: num2words (LGPL), a reference library for number words."""

from __future__ import annotations

import pytest
from num2words import num2words

from voicereport.statements.reader import load_reader
from voicereport.statements.spelling import in_words, spelled


@pytest.mark.parametrize("number", [*range(121), 199, 300, 999, 1000, 1001, 1300, 20_015, 120_400, 999_999])
def test_whole_numbers_are_spelled_as_the_reference_spells_them(number: int) -> None:
    expected = num2words(number).replace(" and ", " ").replace("-", " ").replace(",", "")
    assert in_words(str(number)) == expected


@pytest.mark.parametrize("number", ["0.96", "12.4", "300.05", "1.0"])
def test_decimals_are_spelled_figure_by_figure(number: str) -> None:
    whole, decimals = number.split(".")
    figures = " ".join(num2words(int(c)) for c in decimals)
    assert in_words(whole, decimals) == f"{num2words(int(whole)).replace('-', ' ')} point {figures}".replace(
        " and ", " "
    )


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("The vacuum is 300 microns.", "The vacuum is three hundred microns."),
        ("It reads -18.5 degrees, then 4.", "It reads minus eighteen point five degrees, then four."),
        ("1,250 ohms", "one thousand two hundred fifty ohms"),
        ("number 007", "number zero zero seven"),
    ],
)
def test_figures_of_a_line_become_words(line: str, words: str) -> None:
    assert spelled(line)[0] == words


@pytest.mark.parametrize(
    "line", ["R600a", "at 10:30", "a 3-pin plug", "1/4 turn", "no figures", "", "v1.2.3", "2-3 screws"]
)
def test_figures_within_a_word_a_time_or_a_range_stay(line: str) -> None:
    assert spelled(line)[0] == line


def test_every_character_says_what_it_stands_for() -> None:
    line = "Take 45 minutes, 6 screws."
    text, owner = spelled(line)
    assert len(owner) == len(text)
    where = text.index("forty five")
    assert {owner[k] for k in range(where, where + len("forty five"))} == {(5, 7)}
    assert [line[a:b] for a, b in owner[text.index("minutes") :]] == list("minutes, ") + ["6"] * 3 + list(" screws.")


def test_the_reader_reads_figures_as_words_and_marks_the_figures() -> None:
    reader = load_reader()
    assert reader is not None
    line = "4 screws out of the back panel."
    marks = reader.read(line).marks
    assert [[line[a:b] for a, b in m.counts] for m in marks] == [["4"]]
    figures, words = ("The vacuum is 300 microns.", "The vacuum is three hundred microns.")
    check = "system-evacuated"
    assert reader.read(figures).asserts[check] == pytest.approx(reader.read(words).asserts[check])
