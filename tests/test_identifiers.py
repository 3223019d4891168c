"""Dictated identifiers; the alphabet is ICAO Annex 10 Vol. II 5.2.1.3, the rest common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from voicereport.wording.identifiers import read_identifier

ICAO = [
    "Alfa",
    "Bravo",
    "Charlie",
    "Delta",
    "Echo",
    "Foxtrot",
    "Golf",
    "Hotel",
    "India",
    "Juliett",
    "Kilo",
    "Lima",
    "Mike",
    "November",
    "Oscar",
    "Papa",
    "Quebec",
    "Romeo",
    "Sierra",
    "Tango",
    "Uniform",
    "Victor",
    "Whiskey",
    "X-ray",
    "Yankee",
    "Zulu",
]


@pytest.mark.parametrize("word", ICAO)
def test_the_icao_alphabet(word: str) -> None:
    found = read_identifier(f"{word} four".split())
    assert found is not None
    assert found.value == f"{word[0]}4"


VECTORS = [
    ("Q as in Quebec, Z as in Zulu, four one eight, dash, N", "QZ418-N"),
    ("alpha quebec three five zero bravo", "AQ350B"),
    ("double four, seven, oh, nine, T", "44709T"),
    ("K for king, Z for zebra, one hundred, slash, two", "KZ100/2"),
    ("D as in dog, dash, five five one two, dash, B", "D-5512-B"),
    ("sixty one twenty three", "6123"),
    ("triple seven two", "7772"),
    ("three double oh six", "3006"),
    ("M as in Mike, no, N as in November, four zero two eight", "N4028"),
    ("Q, R, V for Victor, ninety", "QRV90"),
    ("W O eleven forty nine", "WO1149"),
    ("B one two, B one three, that's bravo both times", "B12B13"),
    ("X T dash twenty four point five", "XT-24.5"),
    ("J W one eight is the model, that's J for jam", "JW18"),
    ("Zed P seventy two F is the model", "ZP72F"),
    ("S for sugar, F for Freddie, five, F for Freddie, five", "SF5F5"),
    ("C Q forty four, hyphen, S", "CQ44-S"),
    ("seventy seven, scratch that, seven seven four one Y", "7741Y"),
    ("Q S two four, uh, scratch that, Q S two five", "QS25"),
    ("Q Z four one eight, no, four one nine", "QZ419"),
    ("four zero two, no, three", "403"),
    ("E V M thirty one for the new motor", "EVM31"),
    ("on the door frame, three M one zero zero eight two", "3M10082"),
    ("six hundred and ten", "610"),
    ("X ray two", "X2"),
    ("alpha niner niner", "A99"),
    # as recognisers write them
    ("QZ418-N.", "QZ418-N"),
    ("0-94417B,", "0-94417B"),
    ("EFM-30", "EFM-30"),
    ("Q-Z-4-1-8", "QZ418"),
    ("QZ 418-N", "QZ418-N"),
    ("Q. Z. 418.", "QZ418"),
    ("1,149", "1149"),
    ("4028, I think", "4028"),
    ("W-O-1149", "WO1149"),
    ("A for apple, B for bravo, six", "AB6"),
    ("G H T, that's golf hotel tango, twenty", "GHT20"),
    ("is capital R, capital M, one two zero", "RM120"),
    ("nine double zero four seven one five B", "9004715B"),
    ("twelve double oh five", "12005"),
    ("D A, dash, six one one, and all four clips snapped", "DA-611"),
    ("W as in, er, window, nine", "W9"),
    ("bee, vee, two six", "BV26"),
    ("Z four, zed for zebra", "Z4"),
    ("Q, oblique, two", "Q/2"),
    ("four one, I mean one four, two two", "1422"),
    ("R forty, four star freezer", "R40"),
    ("em, four five five one", "4551"),
]


@pytest.mark.parametrize(("words", "value"), VECTORS)
def test_vectors(words: str, value: str) -> None:
    found = read_identifier(words.split())
    assert found is not None
    assert found.value == value


def test_link_words_are_passed_over_and_spans_are_tokens() -> None:
    found = read_identifier(["Model", "number", "is", "Q", "R", "nine,", "on", "the", "left"], 1)
    assert found is not None
    assert (found.value, found.first, found.last) == ("QR9", 3, 6)


def test_an_o_among_figures_keeps_both_readings() -> None:
    found = read_identifier(["four", "O", "one"])
    assert found is not None
    assert (found.value, found.alternative) == ("401", "4O1")


@pytest.mark.parametrize("words", ["on the back panel", "the customer is out", "", "I think so", "a new one"])
def test_ordinary_words_are_none(words: str) -> None:
    assert read_identifier(words.split()) is None


@given(
    st.text("ABCDEFGHJKLMNPQRSTUVWXYZ23456789", min_size=2, max_size=9).filter(lambda s: any(c.isdigit() for c in s))
)
def test_spelled_letters_and_digits_come_back(value: str) -> None:
    """Letters by the ICAO alphabet, digits by num2words."""
    words = [num2words(int(c)) if c.isdigit() else next(w for w in ICAO if w[0] == c) for c in value]
    found = read_identifier(words)
    assert found is not None
    assert found.value == value
