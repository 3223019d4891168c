"""What is passed over before it is tried: never anything that would have been found. Against `re` and Hypothesis."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from voicereport.evaluation.corpus import read_corpus
from voicereport.statements.tables import tells, told_tables
from voicereport.trades import find_claims, load_trade
from voicereport.trades.screens import Screen, needed_strings
from voicereport.wording.clock import begins_time, clock_time
from voicereport.wording.lexemes import lex
from voicereport.wording.numbers import find_numbers, holds_number, scan
from voicereport.wording.quantities import find_circuit_words, find_quantities

TRADES = ("dishwashing", "domestic-refrigeration", "laundry")
LINES = [
    words
    for narration in read_corpus(Path(__file__).parent / "corpus" / "shared").narrations
    for _, words in narration.lines
]

#: pieces of expressions as they stand in the packs
_ATOMS = st.sampled_from(
    [r"\b", "plug", "off", "it", "on", "no", " ", "-", r"\w+", r".*", "[ -]", "(?:a|an|the) ", r"(?: \w+){0,2}",
     "s?", "(?:ed|ing)?", "(?:un)?", "(?=.*off)", "(?!no)", "(?<!’s )", "(?:line|l)(?:,| and)+", "o{2}", "^", "$", "’s"]
)  # fmt: skip
_ROWS = st.lists(_ATOMS, min_size=1, max_size=6).map("".join)
_EXPRESSIONS = st.lists(_ROWS, min_size=1, max_size=3).map(lambda rows: "|".join(f"(?:{row})" for row in rows))
_WORDS = st.sampled_from(
    "plug plugs unplug off it on no a an the line l and ’s plugged, -on off. ofF “it” plug-off é noon on_".split()  # noqa: SIM905
)


@given(_EXPRESSIONS, st.lists(_WORDS, max_size=10).map(" ".join))
def test_what_a_text_matches_is_never_ruled_out(pattern: str, text: str) -> None:
    if re.search(pattern, text):
        assert Screen([pattern]).may_match(text) == [0]


@given(st.data(), _EXPRESSIONS)
def test_what_is_made_to_match_is_never_ruled_out(data: st.DataObject, pattern: str) -> None:
    try:
        text = data.draw(st.from_regex(pattern))
    except Exception:  # two assertions that exclude each other: nothing matches
        return
    assert Screen([pattern]).may_match(text) == [0]


@pytest.mark.parametrize(
    ("pattern", "strings"),
    [
        (r"\b(turned|switched) it\b", {" turned it ", " switched it "}),
        (r"\b(?:in|on)\b", {" in ", " on "}),
        (r"\b off\b", {" off "}),
        (r"(?=.*\bline\b)\w+", {" line "}),
        (r"plugs? \w+ off\b", {"plug ", "plugs "}),
        ("(?i)plug", None),
        ("(?a)plug", None),
        ("(?i:plug)", None),
        (r"\w+", None),
        ("(?!)", set()),
    ],
)
def test_strings_that_an_expression_needs(pattern: str, strings: set[str] | None) -> None:
    """Written out by hand from what the expressions mean."""
    assert needed_strings(pattern) == strings


def _patterns(name: str) -> Iterator[re.Pattern[str]]:
    trade = load_trade(name)
    yield from (claim.any for claim in trade.claims if claim.any is not None)
    yield from (cue.pattern for cue in trade.words.cues)
    yield from (phrase.pattern for phrase in trade.words.phrases)
    yield from (pattern for rows in told_tables().values() for pattern in rows.values())


@pytest.mark.parametrize("name", TRADES)
def test_expressions_of_the_packs_lose_nothing(name: str) -> None:
    patterns = list(_patterns(name))
    examples = [e for claim in load_trade(name).claims for e in (*claim.examples, *claim.counter_examples)]
    texts = [line.lower() for line in (*LINES, *examples)]
    screen, found, tried = Screen(p.pattern for p in patterns), 0, 0
    for text in texts:
        hits = {n for n, pattern in enumerate(patterns) if pattern.search(text)}
        possible = screen.may_match(text)
        assert hits <= set(possible), text
        found, tried = found + len(hits), tried + len(possible)
    assert found > 1000  # they do find things here
    assert tried < len(patterns) * len(texts) / 2


@pytest.mark.parametrize("name", TRADES)
def test_claims_are_found_as_without_a_screen(name: str) -> None:
    trade = load_trade(name)
    for line in LINES:
        assert trade.claims_in(line) == find_claims(line, trade.claims)


def test_what_a_sentence_tells_is_what_its_expression_finds() -> None:
    for line in LINES:
        for group in ("complaint", "topics", "no_topics"):
            for name, pattern in told_tables()[group].items():
                assert tells(group, name, line.lower()) == bool(pattern.search(line.lower()))


_SPOKEN = st.lists(
    st.sampled_from(
        """the a an of and one two ten twenty half quarter third thirds couple pair dozen dozens hundred thousand point
        oh o zero nought minus negative plus double triple first second tree ait wun comma to past noon midday o'clock
        hour hours minute minutes ohms inch millimetre screws plug off er um 9 9:15 2.5 1/2 ½ -4 5th two-hole twenty-one
        P.S.I. A. "four" seven, eight. 6mm K kay below zero open circuit O.L. short dead volts""".split()  # noqa: SIM905
    ),
    max_size=7,
)


@given(_SPOKEN)
def test_words_passed_over_hold_no_number_and_no_quantity(tokens: list[str]) -> None:
    lexemes = lex(tokens)
    if not holds_number(tokens):
        assert not scan(lexemes)
        assert not any(x.kind == "ordinal" for x in lexemes)
        assert not find_numbers(tokens)
    if not holds_number(tokens) and not {"a", "an"} & {t.lower() for t in tokens}:
        assert not [q for q in find_quantities([*tokens, "1"]) if q.last <= len(tokens)]


@given(_SPOKEN)
def test_a_word_that_begins_no_time_has_none(tokens: list[str]) -> None:
    for at, token in enumerate(tokens):
        if clock_time(tokens, at) is not None or clock_time(tokens, at, split=True) is not None:
            assert begins_time(token)


def test_spelled_out_numbers_are_not_passed_over() -> None:
    """Spelled by num2words."""
    for value in (*range(200), 1_000, 1_905, 20_000, 0.5, 3.07):
        assert holds_number(num2words(value).replace(",", "").split())
    for value in range(1, 13):
        assert holds_number(num2words(value, to="ordinal").split())


@pytest.mark.parametrize("words", ["it's reading O.L.", "dead short to earth", "wide open circuit"])
def test_circuit_words_are_not_passed_over(words: str) -> None:
    """A figure before them makes the whole be read; what is found is the same, and is found here."""
    alone, beside = find_circuit_words(words.split()), find_circuit_words(["9,", *words.split()])
    assert [q.spoken for q in alone] == [q.spoken for q in beside]
    assert alone
