"""Which of several readings of a few words is believed, and the model of how people talk about the job."""

from __future__ import annotations

import importlib.util
import math
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicereport.audio import load
from voicereport.errors import WeightsError
from voicereport.speech import catalogue, open_engine
from voicereport.speech.choice import ChoiceModel, chosen
from voicereport.speech.engine import Decoded, Manner, Runner
from voicereport.speech.hear import HeardWindow
from voicereport.speech.recognise import likelier
from voicereport.speech.resume import Memory
from voicereport.speech.second_look import matters, plain
from voicereport.speech.talk import END, read_talk, shipped_talk
from voicereport.speech.windows import Piece, Window
from voicereport.transcript import Word

RECIPE = Path(__file__).resolve().parents[1] / "models" / "talk" / "recipe.py"
SHELF = catalogue()
WATCHED = SHELF.watched_words | SHELF.units
WINDOW = Window(pieces=(Piece(start=0.0, end=5.0, at=0.0),))
EAGER = replace(SHELF.choice, least=0.0)  #: makes every change that may be made at all


@pytest.fixture(scope="module")
def recipe() -> Iterator[ModuleType]:
    before = {name: sys.modules.pop(name, None) for name in ("recipe",)}
    found = importlib.util.spec_from_file_location("talk_recipe", RECIPE)
    assert found
    assert found.loader
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    yield module
    sys.modules.pop("recipe", None)
    sys.modules.update({name: old for name, old in before.items() if old})


def words(text: str, probability: float = 0.9) -> tuple[Word, ...]:
    return tuple(
        Word(word=w, start=0.4 * n, end=0.4 * n + 0.3, probability=probability) for n, w in enumerate(text.split())
    )


def choose(text: str, *others: str, model: ChoiceModel = SHELF.choice) -> tuple[Word, ...]:
    runners = [Runner(words=tuple(other.split()), behind=-0.5) for other in others]
    return chosen(words(text), runners, shipped_talk(), model, numbers=SHELF.number_words, watched=WATCHED)


def text(found: tuple[Word, ...]) -> str:
    return " ".join(word.word for word in found)


def test_the_chances_of_all_words_after_two_sum_to_one() -> None:
    """A definition. To a thousandth: the logarithms are kept in two bytes."""
    talk = shipped_talk()
    for before in ((), ("the",), ("the", "plug"), ("two", "screws"), ("no-such-word", "either")):
        total = sum(math.exp(talk.likely([word], before)) for word in talk.places)
        assert total == pytest.approx(1.0, abs=2e-3)


def test_discounts_are_those_of_the_paper(recipe: ModuleType) -> None:
    """Chen and Goodman 1998, equation for modified Kneser-Ney: Y = n1 / (n1 + 2 n2), D1 = 1 - 2 Y n2 / n1, D2 = 2 - 3 Y
    n3 / n2, D3+ = 3 - 4 Y n4 / n3 (from memory), for n1 = 4, n2 = 2, n3 = 1, n4 = 1."""
    assert recipe.discounts([1, 1, 1, 1, 2, 2, 3, 4, 9]) == (0.0, 0.5, 1.25, 1.0)


def test_the_same_lines_give_the_same_file_and_narrations_are_left_out(
    recipe: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = tmp_path / "lines"
    lines.mkdir()
    (lines / "some.txt").write_text("The {p|cover} is {a remove done|off}.\nThe cover is on. The fan is off.\n")
    (lines / "shared.txt").write_text("The wombat is off. The wombat is on.\n")
    (lines / "development-9-readings.txt").write_text("The wombat is off. The wombat is on.\n")
    (lines / "heard.txt").write_text("The wombat is off. The wombat is on.\n")
    monkeypatch.setattr(recipe, "LINES", lines)
    for name in ("a.npz", "b.npz"):
        recipe.make(tmp_path / name)
    assert (tmp_path / "a.npz").read_bytes() == (tmp_path / "b.npz").read_bytes()
    talk = read_talk(tmp_path / "a.npz")
    assert talk.knows("cover")
    assert not talk.knows("wombat")
    assert talk.likely(["cover"], ["the"]) > talk.likely(["off"], ["the"])


def test_the_shipped_model_is_small() -> None:
    assert (RECIPE.parent / "talk.npz").stat().st_size < 4_000_000


@pytest.mark.parametrize("content", [None, b"", b"PK\x03\x04 cut off"])
def test_a_model_that_cannot_be_read_is_told_in_one_line(tmp_path: Path, content: bytes | None) -> None:
    path = tmp_path / "talk.npz"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(WeightsError) as told:
        read_talk(path)
    assert str(path) in str(told.value)
    assert "\n" not in str(told.value)


def test_numbers_count_as_one_word_and_sentences_end() -> None:
    talk = shipped_talk()
    assert talk.words("Twenty-four volts. It’s “off”.") == ["<n>", "volts", END, "it's", "off", END]
    assert talk.words("") == []
    assert talk.words("...") == []


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("Four screws out and the covers off.", "Four screws out and the cover's off."),
        ("Eight screws out and the panels away.", "Eight screws out and the panel's away."),
    ],
)
def test_a_word_that_sounds_alike_is_put_right(heard: str, meant: str) -> None:
    assert text(choose(heard)).lower() == meant.lower()


def test_a_runner_up_is_believed_where_the_talk_bears_it_out() -> None:
    heard, meant = "Two screws and the evaporator lover is away.", "Two screws and the evaporator cover is away."
    assert text(choose(heard, meant)) == meant
    assert text(choose(meant, heard)) == meant


@pytest.mark.parametrize(
    ("heard", "other"),
    [
        ("I have not unplugged it.", "I have now unplugged it."),
        ("Unplug the machine.", "Unplugged the machine."),
        ("Remove the cover.", "Removed the cover."),
        ("Check the earth.", "Checked the earth."),
        ("It overheated.", "It overheating."),
        ("It reads fifteen ohms.", "It reads fifty ohms."),
        ("It reads fifteen volts.", "It reads fifteen ohms."),
        ("Model number B 7.", "Model number P 7."),
        ("The power is on.", "The power is off."),
        ("I'll fit the board.", "I fit the board."),
        ("If the board is in.", "And the board is in."),
        ("I can't fit the cover.", "I can fit the cover."),
        ("The mains plugs out.", "The mains plug's out."),
    ],
)
def test_what_something_rests_on_is_never_changed_silently(heard: str, other: str) -> None:
    """However sure the model were: no denial, number, unit, order, plan or state becomes another."""
    found = choose(heard, other, model=EAGER)
    changed = [(a.word, b.word) for a, b in zip(words(heard), found, strict=True) if plain(a) != plain(b)]
    assert changed == []
    if "plugs" not in heard:
        assert any(word.alternative for word in found)


@pytest.mark.parametrize(
    "heard",
    [
        "The plugs out.",
        "The valves open.",
        "Mains cords out.",
        "It is cross.",
        "We fitted the covers.",
        "Now it's isolated.",
    ],
)
def test_what_feeds_the_appliance_and_what_ends_a_sentence_stays_as_it_was_written(heard: str) -> None:
    assert text(choose(heard, model=EAGER)) == heard


@pytest.mark.parametrize(("language", "loop", "stays"), [("en", False, False), ("de", False, True), ("en", True, True)])
def test_only_the_language_of_the_lines_is_weighed_and_no_loop(language: str, loop: bool, stays: bool) -> None:
    said = words("Four screws out and the covers off.")
    heard = HeardWindow(window=WINDOW, words=said, log_probability=-0.2, no_speech=0.0, loop=loop)
    desk: Any = SimpleNamespace(language=language, shelf=SHELF, watched=SHELF.watched_words)
    assert (likelier(said, heard, desk) == said) is stays


def test_the_recogniser_tells_as_many_runners_up_as_are_asked_for() -> None:
    sound = load(Path(__file__).parent / "data" / "audio_readings" / "reading-0870.wav").read(0, 10)
    engine = open_engine("faster-whisper", weights="tiny.en")
    none, four = (engine.decode([sound], language="en", manner=Manner(beam=5, runners=n))[0] for n in (0, 4))
    assert (none.runners, none.words) == ((), four.words)
    assert len(four.runners) == 4
    assert all(runner.behind <= 0 for runner in four.runners)
    assert tuple(word.word for word in four.words) not in [runner.words for runner in four.runners]


def test_runners_up_are_remembered(tmp_path: Path) -> None:
    engine: Any = SimpleNamespace(name="faster-whisper", model="base")
    runners = (Runner(words=("cover", "off."), behind=-0.25), Runner(words=(), behind=-3.0))
    decoded = Decoded(words=words("covers off."), log_probability=-0.2, no_speech=0.0, compression=1.0, runners=runners)
    memory = Memory("0" * 64, folder=tmp_path)
    memory.put(engine, WINDOW, decoded, language="en", manner=Manner())
    assert memory.get(engine, WINDOW, language="en", manner=Manner()) == decoded


def test_nothing_is_put_in_or_left_out() -> None:
    assert text(choose("Cover off.", "Cover is off.", "Cover.", "", model=EAGER)) == "Cover off."
    assert choose("", "Cover off.", model=EAGER) == ()


TELLING = ("not", "off", "on", "fifteen", "volts", "plug", "unplugged", "7", "if", "I'll", "can't")
ANY = st.sampled_from((*TELLING, "covers", "the", "screws", "fan", "grate", "seal.", "Boards", "is", "hall"))


@settings(max_examples=60, deadline=None)
@given(st.lists(ANY, max_size=9), st.lists(st.lists(ANY, max_size=9), max_size=3))
def test_telling_words_and_times_stay_whatever_else_was_heard(said: list[str], others: list[list[str]]) -> None:
    found = choose(" ".join(said), *(" ".join(other) for other in others), model=EAGER)

    def telling(row: tuple[Word, ...]) -> list[str]:
        return [
            plain(w) for w in row
            if matters(w, numbers=SHELF.number_words, watched=WATCHED) or w.word in TELLING
        ]  # fmt: skip

    before = words(" ".join(said))
    assert telling(found) == telling(before)
    assert [w.start for w in found] == sorted(w.start for w in found)
    if before:
        assert (found[0].start, found[-1].end) == (before[0].start, before[-1].end)
