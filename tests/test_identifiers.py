"""Dictated identifiers; the alphabet is ICAO Annex 10 Vol. II 5.2.1.3, the rest common practice, no source.

Two British telephone alphabets and the North American police one are from memory.
"""

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


TELEPHONE = (
    "Alfred Benjamin Charles David Edward Frederick George Harry Isaac Jack King London Mary Nellie Oliver Peter Queen "
    "Robert Samuel Tommy Uncle Victor William X-ray Yellow Zebra"
)
TELEPHONE_ALSO = (
    "Andrew Benjamin Charlie David Edward Frederick George Harry Isaac Jack King Lucy Mary Nellie Oliver Peter Queenie "
    "Robert Sugar Tommy Uncle Victor William Xmas Yellow Zebra"
)
POLICE = (
    "Adam Boy Charles David Edward Frank George Henry Ida John King Lincoln Mary Nora Ocean Paul Queen Robert Sam Tom "
    "Union Victor William X-ray Young Zebra"
)


@pytest.mark.parametrize("word", sorted({*TELEPHONE.split(), *TELEPHONE_ALSO.split(), *POLICE.split()}))
def test_other_alphabets(word: str) -> None:
    for said in (word, word.lower()):
        found = read_identifier(f"{said} Golf four two".split())
        assert found is not None
        assert found.value == f"{word[0]}G42"


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("Mary George six forty", "MG640"),
        ("King, Queen, four four oh one", "KQ4401"),
        ("Boy seven seven two one", "B7721"),
        ("Henry Ida eleven hundred Robert", "HI1100R"),
        ("nine nine oh two zebra", "9902Z"),
        ("starts with Peter, then five five oh", "P550"),
        # a person, no letter
        ("four four one two, David King", "4412"),
        ("four four one two William said", "4412"),
    ],
)
def test_names_are_letters_in_a_row_of_signs(words: str, value: str) -> None:
    found = read_identifier(words.split())
    assert found is not None
    assert found.value == value


@pytest.mark.parametrize(
    "words", ["for Peter, four four one", "Mary has four screws", "easy, four screws", "Frank and David"]
)
def test_names_of_people_are_no_letters(words: str) -> None:
    found = read_identifier(words.split(), reach=0)
    assert found is None or not found.value[0].isalpha()


VECTORS = [
    # spelled
    ("C, as in cat, D as in dog, thirty three", "CD33"),
    ("M, for Mary, R, for Robert, sixteen", "MR16"),
    ("U K, as in United Kingdom, forty", "UK40"),
    ("capital T, small a, lower case b, four", "TAB4"),
    ("letter P, letter O, digit zero, digit one", "PO01"),
    ("letters first, P Q R, then the numbers, six six", "PQR66"),
    # pieces
    ("first bit four four one, second bit nine oh, last bit slash B", "44190/B"),
    ("first half's seven seven oh, second half's one one two", "770112"),
    ("first letter's a K, then double four nine", "K449"),
    ("three lots of two, twenty one, forty three, oh five", "214305"),
    ("two two oh, seven one, and there's a W at the end", "22071W"),
    ("R F forty with a small x on the end", "RF40X"),
    ("L M and then it's four four oh nine", "LM4409"),
    ("eight, six, two, one, then the letter C", "8621C"),
    # numbers
    ("twenty two thousand and fifteen", "22015"),
    ("four hundred and six thousand one hundred and one", "406101"),
    ("one hundred and twenty thousand", "120000"),
    ("fifteen hundred and six", "1506"),
    # corrections
    ("six one two, no, make the last digit a three", "613"),
    ("six one two eight, sorry, not that last one, nine", "6129"),
    ("seven five one, scratch that last digit, two, then K", "752K"),
    ("K nine nine, hang on, that's a seven, K nine seven, four oh four", "K97404"),
    ("one one oh four, no, I tell a lie, one one four oh", "1140"),
    ("five five one two, I misread that, five five two one", "5521"),
    ("K B four two, from the top, K B two four", "KB24"),
    ("seven, seven, no wait, seven, eight, zero, one", "7801"),
    ("four four two oh eight seven, no, sorry, eight seven six at the end", "4420876"),
    ("K, no, not K, J, J for jam, two two", "J22"),
    ("J, no, K, K X two ten", "KX210"),
    ("eight one one, that's a one, not an I, four four", "81144"),
    ("three fifty, that's three five oh, not three fifteen, B", "350B"),
    ("M Z forty seven, no, six", "MZ46"),
    # false starts
    ("six one, uh, six one zero seven two", "61072"),
    ("four four two, let me see, four four two nine", "4429"),
    ("nine one K, er, nine one K double two", "91K22"),
    ("Q L, um, Q L four oh six", "QL406"),
    ("one seven zero, eight eight, um, eight eight eight", "170888"),
    ("two, um, two, um, two four six", "246"),
    ("J two, er, no, J three, er, J three four one", "J341"),
    ("four four one two, four four one two", "4412"),
    ("seven one four, seven one four two", "7142"),
    ("G G, G G four one oh", "GG410"),
    ("twenty two, uh, twenty two ten", "2210"),
    # denied, and said again
    ("T R two oh oh, not two hundred, two oh oh", "TR200"),
    ("T X fifteen, not fifty, fifteen", "TX15"),
    ("four four one, not four four seven, B", "441B"),
    # a pause, and no start again
    ("four uh four two one", "4421"),
    ("two nine, um, nine one", "2991"),
    ("seven one, seven one two", "71712"),
    ("one two, um, one two", "1212"),
    ("five five, then five five one", "55551"),
    ("K four, next line, K four two", "K4K42"),
    ("four four one two, okay, nine fifteen", "4412"),
    # said beside it
    ("four four, hang on, torch, nine two oh", "44920"),
    ("F G one, all one word, eighty", "FG180"),
    ("A zero zero, new line, bravo seven", "A00B7"),
    ("F M, Foxtrot Mike, eight oh one", "FM801"),
    ("T, the letter T, forty two", "T42"),
    ("M, as in Mike, and then three sixty five", "M365"),
    ("R T, then it's a hundred and ten, then F", "RT110F"),
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


@given(st.integers(min_value=1, max_value=999_999))
def test_cardinals_come_back(value: int) -> None:
    """Numbers in words by num2words, which says "one hundred and twelve thousand, four hundred and six"."""
    words = num2words(value).replace(",", "").split()
    found = read_identifier(["X", *words])
    assert found is not None
    assert found.value == f"X{value}"
