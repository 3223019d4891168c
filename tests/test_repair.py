"""Misheard words of the trade: what is put right, and what is never touched.

The mishearings are common practice, no source. Likeness is metaphone (L. Philips, 1990) and letters.
"""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
import yaml  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import strategies as st

from voicereport.errors import PackError
from voicereport.paths import models_dir
from voicereport.trades import load_trade
from voicereport.transcript import Segment, Transcript, spread
from voicereport.wording import repair
from voicereport.wording.lexemes import NUMBER_WORDS

TRADE = load_trade("domestic-refrigeration")
CORPUS = Path(__file__).parent / "corpus"


def _said(text: str, **doubtful: float) -> Transcript:
    """A transcript of one segment, 10 s long; `doubtful` gives words their probability."""
    words = tuple(
        replace(w, probability=doubtful.get(w.word.strip(".,").lower(), 1.0)) for w in spread(text, 0.0, 10.0)
    )
    segment = Segment(id="r1s001", recording="a", start=0.0, end=10.0, heard=text, text=text, words=words)
    return Transcript(recordings=(), segments=(segment,))


def _repaired(text: str, **doubtful: float) -> str:
    found = repair(_said(text, **doubtful), TRADE).segments[0]
    assert found.heard == text
    assert found.text == " ".join(w.word for w in found.words)
    assert len(found.words) == len(found.text.split())
    return found.text


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("I took the evaporated fan off.", "I took the evaporator fan off."),
        ("Evaporate a fan, that's out", "Evaporator fan, that's out"),
        ("the gas kit on the door is torn", "the gasket on the door is torn"),
        ("unplugged the moll x, then the fan", "unplugged the molex, then the fan"),
        ("the defrost by metal is open", "the defrost bimetal is open"),
        ("the sir clip went back", "the circlip went back"),
        ("Great off the compressor end, three screws", "Grate off the compressor end, three screws"),
    ],
)
def test_listed_mishearings_are_repaired_even_without_doubt(heard: str, meant: str) -> None:
    assert _repaired(heard) == meant


@pytest.mark.parametrize(
    "text",
    [
        "That is great, off it comes.",
        "It is a great big panel.",
        "I used the gas kit for the soldering",  # nothing near it that has a gasket
        "the coil is held by metal straps",
        "the water evaporated, fan is next",  # two clauses
        "I tried the dryer joint",  # a word of the trade already
    ],
)
def test_look_alikes_of_listed_mishearings_stay(text: str) -> None:
    assert _repaired(text) == text


@pytest.mark.parametrize(
    ("heard", "doubt", "meant"),
    [
        ("the condensor fan is back in", {"condensor": 0.3}, "the condenser fan is back in"),
        ("checked the inlet value for leaks", {"value": 0.4}, "checked the inlet valve for leaks"),
        ("the evaporater, it was iced up", {"evaporater": 0.2}, "the evaporator, it was iced up"),
        ("I pulled the compresser off", {"compresser": 0.2}, "I pulled the compressor off"),
        ("the thermostaat was stuck", {"thermostaat": 0.1}, "the thermostat was stuck"),
    ],
)
def test_doubtful_words_are_repaired_by_sound(heard: str, doubt: dict[str, float], meant: str) -> None:
    assert _repaired(heard, **doubt) == meant


@pytest.mark.parametrize(
    ("text", "doubt"),
    [
        ("checked the inlet value for leaks", {"value": 0.9}),  # not in doubt
        ("the value was four", {"value": 0.2}),  # no neighbour makes it a valve
        ("the bloke said it was fine", {"bloke": 0.1}),  # decides who says so
        ("the fan is not connected", {"not": 0.1, "connected": 0.1}),
        ("I unplugged the fan", {"unplugged": 0.1}),
        ("evaporator minus eighteen degrees", {"minus": 0.1, "eighteen": 0.1, "degrees": 0.1}),
        ("inlet four value", {"value": 0.1}),  # a number between
        ("the inlet, value it", {"value": 0.1}),  # punctuation between
    ],
)
def test_words_that_carry_the_meaning_stay(text: str, doubt: dict[str, float]) -> None:
    assert _repaired(text, **doubt) == text


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("The covers off and the fan harnesses plugged in.", "The cover's off and the fan harness is plugged in."),
        ("Ice bins out, new ice makers in.", "Ice bin's out, new ice maker's in."),
        ("It ran and the cabinets at minus one.", "It ran and the cabinet's at minus one."),
        ("Both covers off.", "Both covers off."),
        ("Two covers off.", "Two covers off."),
        ("Took the covers off.", "Took the covers off."),
        ("The covers are off.", "The covers are off."),
        ("Screws out, connectors off.", "Screws out, connectors off."),
        ("Plugs out.", "Plugs out."),
        ("If the covers off", "If the covers off"),
    ],
)
def test_a_plural_that_is_a_thing_and_a_short_is_becomes_that(heard: str, meant: str) -> None:
    """ "cover's off" and "covers off" sound the same; of two covers, of screws and of what feeds the appliance the
    plural stays."""
    assert _repaired(heard) == meant


def test_a_word_for_a_unit_after_a_number_becomes_the_unit_and_stays_in_doubt() -> None:
    found = repair(_said("It reads 4.1 kylomes. Now 3 homes."), TRADE).segments[0]
    assert found.text == "It reads 4.1 kilohms. Now 3 ohms."
    assert [w.alternative for w in found.words if w.alternative] == ["kylomes.", "homes."]
    assert _repaired("It reads 4.1 kylens.", kylens=0.3) == "It reads 4.1 kilohms."
    assert _repaired("It reads 4.1 kylens.") == "It reads 4.1 kylens."
    assert _repaired("He drives homes.") == "He drives homes."
    assert _repaired("16 millivolts and 3 gallons", millivolts=0.1, gallons=0.1) == "16 millivolts and 3 gallons"


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("Vore screws out.", "Four screws out."),
        ("Panel on. Doose screws.", "Panel on. Two screws."),
        ("Cover's on, for screws.", "Cover's on, four screws."),
        ("All for screws back in.", "All four screws back in."),
        ("For screws I use a tray.", "For screws I use a tray."),
        ("I looked for screws out there.", "I looked for screws out there."),
        ("Went back to screws.", "Went back to screws."),
        ("Too late, screws out.", "Too late, screws out."),
        ("I ate screws out of a tin.", "I ate screws out of a tin."),
        ("For the cover, out.", "For the cover, out."),
        ("Not for screws.", "Not for screws."),
    ],
)
def test_a_word_that_sounds_like_a_count_before_fasteners_becomes_it(heard: str, meant: str) -> None:
    """Spoken English: "four", "for"; a preposition has a verb or a clause to belong to, a count has neither."""
    found = repair(_said(heard), TRADE).segments[0]
    assert (found.heard, found.text) == (heard, meant)
    changed = [w for w, old in zip(found.words, heard.split(), strict=True) if w.word != old]
    assert all(w.alternative for w in changed)  # the count stays in doubt


def test_am_after_decimals_is_no_time_of_day() -> None:
    assert _repaired("Before it was 1.8 am, now 1.1.") == "Before it was 1.8 amps, now 1.1."
    assert _repaired("I was there at 8 am.") == "I was there at 8 am."


def test_numbers_counted_aloud_are_no_one_number() -> None:
    found = repair(_said("Connectors 12345 and they click."), TRADE).segments[0]
    assert found.text == "Connectors 1, 2, 3, 4, 5 and they click."
    assert found.words[1].alternative == "12345"
    assert _repaired("Serial number 12345.") == "Serial number 12345."
    assert _repaired("Screws, 54321 on the bag.") == "Screws, 54321 on the bag."


def test_fasteners_begin_no_name() -> None:
    """A plural is no first half of an English compound."""
    assert _repaired("Two screws motor out.") == "Two screws, motor out."
    assert _repaired("All screws panel back on.") == "All screws, panel back on."
    assert _repaired("Two screws hold the motor.") == "Two screws hold the motor."
    assert _repaired("Two screw heads are gone.") == "Two screw heads are gone."


def test_times_and_doubt_of_a_repaired_word_are_those_of_what_was_heard() -> None:
    said = _said("the moll x connector", moll=0.8)
    old = said.segments[0].words
    new = repair(said, TRADE).segments[0].words
    assert [w.word for w in new] == ["the", "molex", "connector"]
    assert (new[1].start, new[1].probability) == (old[1].start, 0.8)
    assert new[1].end == pytest.approx(old[2].end, abs=0.01)
    assert (new[0], new[2]) == (old[0], old[3])


def _texts() -> list[str]:
    """The sentences of the corpora that were written by people, unheard by any recogniser."""
    files = sorted(CORPUS.rglob("sentences*.yaml"))
    found = [str(row["say"]) for f in files for row in yaml.safe_load(f.read_text(encoding="utf-8"))]
    assert len(found) > 400
    return [" ".join(text.split()) for text in found]


def test_nothing_is_repaired_in_what_people_wrote() -> None:
    changed = [t for t in _texts() if repair(_said(t), TRADE) != _said(t)]
    assert changed == []


def test_doubt_about_every_word_changes_hardly_any_word_of_what_people_wrote() -> None:
    """Every word doubted: the words of these sentences are right, so each repair is a false one."""
    words = {w for t in _texts() for w in t.split()}
    false = []
    for text in _texts():
        said = _said(text)
        doubted = replace(said.segments[0], words=tuple(replace(w, probability=0.1) for w in said.segments[0].words))
        new = repair(replace(said, segments=(doubted,)), TRADE).segments[0]
        false += [(a, b.word) for a, b in zip(text.split(), new.words, strict=True) if a != b.word]
    assert len(false) <= len(words) * 0.002, false


@given(
    st.lists(
        st.sampled_from([*sorted(NUMBER_WORDS), "not", "never", "didn't", "15", "3.2", "ohms", "removed", "unplugged"])
    )
)
def test_numbers_denials_units_and_verbs_never_change(words: list[str]) -> None:
    assert _repaired(" ".join(words), **{w.lower(): 0.01 for w in words}) == " ".join(words)


@pytest.mark.parametrize("name", ["domestic-refrigeration", "laundry"])
def test_shipped_mishearings_have_no_numbers_and_mean_words_of_the_trade(name: str) -> None:
    trade = load_trade(name)
    known = {w for key in (*trade.words.parts, *trade.words.heads) for w in key} | {"number"}
    known |= {w for supply in trade.words.supplies for name in supply.words for w in name.split()}
    assert trade.repairs.listed
    for listed in trade.repairs.listed:
        assert not {*listed.heard, *listed.meant} & (NUMBER_WORDS - {"a"})
        assert listed.meant[-1] in known or listed.meant[0] in known, listed


def test_a_mishearing_that_takes_a_denial_away_is_a_fault(tmp_path: Path) -> None:
    for folder in ("domestic-refrigeration", "common"):
        shutil.copytree(models_dir() / "trades" / folder, tmp_path / folder)
    with (tmp_path / "domestic-refrigeration" / "mishearings.toml").open("a", encoding="utf-8") as file:
        file.write('\n[[mishearings]]\nheard = ["not the fan", "removed fan"]\nmeant = "the fan"\n')
    with pytest.raises(PackError, match=r"may not change not.*may not change removed"):
        load_trade("domestic-refrigeration", extra_dirs=(tmp_path,))
