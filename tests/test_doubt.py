"""Which numbers of a recording are in doubt, and how likely the recognisers take words to be."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import ROOT

from tests.scripts import script
from voicereport import paths
from voicereport.audio import load
from voicereport.errors import WeightsError
from voicereport.pipeline import understand
from voicereport.render.context import doubtful_segments
from voicereport.render.wording import load_wording
from voicereport.settings import load_settings
from voicereport.speech import catalogue, open_engine
from voicereport.speech.doubt import DoubtModel, Look, numbers_in, rivals, seen, with_doubt
from voicereport.speech.segments import segment
from voicereport.trades import load_trade
from voicereport.transcript import Recording, Transcript, Word
from voicereport.web.doubts import doubts_of

READINGS = Path(__file__).parent / "data" / "audio_readings"
SHELF = catalogue()
LIKELY = (0.9, 0.9)


def words(text: str, *, probability: float = 0.9) -> tuple[Word, ...]:
    return tuple(
        Word(word=word, start=0.4 * n, end=0.4 * n + 0.3, probability=probability)
        for n, word in enumerate(text.split())
    )


def look(text: str, other: str | None = None, *, probability: float = 0.9) -> Look:
    own = words(text, probability=probability)
    return Look(words=own, other=words(text if other is None else other), told=(LIKELY,) * len(own))


def what(look_: Look, place: int = 0) -> dict[str, float]:
    first, last = numbers_in(look_.words, SHELF.number_words)[place]
    return seen(look_, first, last, values=SHELF.number_words, units=SHELF.units, same=SHELF.same)


def doubted(look_: Look, model: DoubtModel, looked: tuple[Word, ...] | None = None) -> tuple[Word, ...]:
    return with_doubt(look_, looked or look_.words, model, values=SHELF.number_words, units=SHELF.units,
                      same=SHELF.same)  # fmt: skip


ALWAYS = DoubtModel(bias=5.0, weights={}, doubtful=0.1)
NEVER = DoubtModel(bias=-5.0, weights={}, doubtful=0.1)


# ------------------------------------------------------------------ where numbers stand


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("heater reads 31.6 ohms", ["31.6"]),
        ("minus eighteen in the freezer", ["minus eighteen"]),
        ("it is minus point three four now", ["minus point three four"]),
        ("two and a half hours", ["two", "half"]),
        ("two hundred and seventy five ohms", ["two hundred and seventy five"]),
        ("six. And four more", ["six.", "four"]),
        ("from 28 to 34", ["28", "34"]),
        ("windings 6.2, 6.2, 6.3, balanced", ["6.2,", "6.2,", "6.3,"]),
        ("two three oh volts", ["two three oh"]),
        ("twenty-four volts", ["twenty-four"]),
        ("the plug is out", []),
        ("oh that is cold", []),
        ("", []),
    ],
)
def test_numbers_stand_where_they_are_said(text: str, found: list[str]) -> None:
    said = words(text)
    places = numbers_in(said, SHELF.number_words)
    assert [" ".join(word.word for word in said[first:last]) for first, last in places] == found


@pytest.mark.parametrize(
    ("word", "other"),
    [("fifteen", "fifty"), ("Forty,", "Fourteen,"), ("116", "160"), ("60.", "16."), ("19mm", "90mm"),
     ("ninety", "nineteen"), ("12", "12"), ("100", "100"), ("1.5", "1.5"), ("volts", "volts"), ("2015a", "2050a")],
)  # fmt: skip
def test_teens_and_tens_are_each_others_rivals(word: str, other: str) -> None:
    assert rivals([word], SHELF.number_words) == (other,)


# ------------------------------------------------------------------ what is seen of them


def test_another_number_differs_and_the_same_otherwise_written_does_not() -> None:
    assert what(look("it reads 15 volts", "it reads fifteen volts"))["differs"] == 0
    assert what(look("it reads 15 volts", "it reads fifty volts"))["differs"] == 1
    assert what(look("it reads 15 volts", "it reads"))["silent"] == 1


def test_nothing_around_a_number_is_no_fault() -> None:
    alone = what(look("15", ""))
    assert all(math.isfinite(value) for value in alone.values())


def test_the_shipped_model_goes_by_what_is_seen() -> None:
    assert set(SHELF.doubt.weights) <= set(what(look("it reads 15 volts")))
    assert 0 < SHELF.doubt.doubtful < 1


def test_the_shipped_model_doubts_what_is_heard_otherwise_more() -> None:
    """The direction of each kind of evidence, as common sense has it."""
    sure = look("it reads 31.6 ohms now", probability=0.99)
    chance = SHELF.doubt.chance(what(sure))
    unlikely = replace(sure, told=((0.9, 0.9), (0.9, 0.9), (0.001, 0.001), (0.9, 0.9), (0.9, 0.9)))
    for worse in (look("it reads 31.6 ohms now", "it reads 36.1 ohms now", probability=0.99), unlikely,
                  look("it reads 31.6 ohms now", probability=0.3)):  # fmt: skip
        assert SHELF.doubt.chance(what(worse)) > chance
    assert chance < SHELF.doubt.doubtful


# ------------------------------------------------------------------ what comes of it


def test_a_number_in_doubt_is_doubtful_whatever_the_recogniser_says() -> None:
    found = doubted(look("it reads 15 volts", probability=0.97), ALWAYS)
    assert [word.probability < 0.5 for word in found] == [False, False, True, False]


def test_a_number_without_doubt_is_not_doubtful_whatever_else_was_heard() -> None:
    said = look("it reads 15 volts", probability=0.3)
    looked = tuple(replace(word, alternative="50") if word.word == "15" else word for word in said.words)
    found = doubted(said, NEVER, looked)
    assert [(word.probability, word.alternative) for word in found] == [
        (0.3, None),
        (0.3, None),
        (0.5, None),
        (0.3, None),
    ]


def test_what_was_heard_instead_stays_with_a_number_in_doubt() -> None:
    said = look("it reads 15 volts")
    looked = tuple(replace(word, alternative="50") if word.word == "15" else word for word in said.words)
    assert doubted(said, ALWAYS, looked)[2].alternative == "50"


def test_identifiers_and_other_words_stay_as_they_are() -> None:
    said = look("serial H 4 9 1 and the plug is not out", probability=0.3)
    looked = tuple(replace(word, alternative="now") if word.word == "not" else word for word in said.words)
    assert doubted(said, NEVER, looked) == looked
    assert doubted(said, ALWAYS, looked) == looked


def test_a_sign_that_both_heard_is_as_sure_as_its_number() -> None:
    own = words("down to minus 21 degrees")
    low = replace(look(""), words=own, other=own, told=(LIKELY,) * len(own))
    unsure = tuple(replace(w, probability=0.18) if w.word == "minus" else w for w in own)
    assert [w.probability for w in doubted(replace(low, words=unsure), NEVER)][2:4] == [0.5, 0.9]


def test_a_sign_that_only_one_of_them_heard_stays_doubtful() -> None:
    said = look("cabinet at minus 18 degrees", "cabinet at 18 degrees")
    looked = tuple(replace(word, alternative="") if word.word == "minus" else word for word in said.words)
    assert doubted(said, NEVER, looked) == looked


@pytest.mark.parametrize(("text", "doubtful"), [("reads point not 9 ohms", True), ("reads not 9 ohms", False)])
def test_a_nought_that_was_lost_after_the_point_is_always_in_doubt(text: str, doubtful: bool) -> None:
    """Heard again and again of "nought point nought nine" in the voiced sentences."""
    found = doubted(look(text), NEVER)
    assert (found[-2].probability < 0.5) is doubtful


def test_the_doubt_is_one_half_at_its_edge() -> None:
    model = DoubtModel(bias=0.0, weights={}, doubtful=0.5)
    assert doubted(look("15 volts"), model)[0].probability == pytest.approx(0.499)
    assert doubted(look("15 volts"), replace(model, doubtful=0.51))[0].probability == 0.9


@pytest.mark.parametrize(("model", "doubtful"), [(ALWAYS, True), (NEVER, False)])
def test_a_reading_in_doubt_is_suspect_and_its_words_are_marked(model: DoubtModel, doubtful: bool) -> None:
    said = look("The new heater measures 31.6 ohms.", "The new heater measures 36.1 ohms.")
    looked = tuple(replace(word, alternative="36.1") if word.word == "31.6" else word for word in said.words)
    found = doubted(said, model, looked)
    recording = Recording(name="a.wav", sha256="0" * 64, duration_s=9.0, speech_s=3.0)
    transcript = Transcript(recordings=(recording,), segments=(segment("a.wav", "r1s001", found, ()),))
    settings = load_settings()
    report = understand(transcript, load_trade(settings.trade), settings)
    assert [(r.value, r.doubt is not None) for r in report.readings] == [(31.6, doubtful)]
    verdict = report.readings[0].verdict
    assert verdict is not None
    assert (verdict.result == "suspect") is doubtful
    assert [doubt.heard for doubt in doubts_of(report)] == ["31.6"] * doubtful
    assert doubtful_segments(report, load_wording()) == frozenset({"r1s001"} if doubtful else ())


def test_a_catalogue_without_the_model_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (ROOT / "models" / "speech.toml").read_text("utf-8").replace("[doubt", "[other")
    (tmp_path / "speech.toml").write_text(text, "utf-8")
    monkeypatch.setattr(paths, "models_dir", lambda: tmp_path)
    with pytest.raises(WeightsError, match="doubt"):
        catalogue.__wrapped__()


# ------------------------------------------------------------------ how likely words are


def test_what_was_said_is_likelier_than_what_was_not() -> None:
    """A recording of a reading that says "ten meters" (tests/data/audio_readings)."""
    engine = open_engine("auto", weights="tiny.en", threads=1)
    sound = load(READINGS / "command.wav").read(0, 30)
    texts = [("go", "forward", number, "meters") for number in ("ten", "two")]
    right, wrong = engine.score([sound, sound], texts, language="en")
    assert len(right) == 4
    assert right[2] > 10 * wrong[2]


def test_a_loop_or_nothing_is_weighed_without_a_fault() -> None:
    engine = open_engine("auto", weights="tiny.en", threads=1)
    sound = np.zeros(32_000, np.float32)
    assert engine.score([sound, sound], [("so",) * 500, ()], language="en") == ((0.0,) * 500, ())


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning", "ignore::ResourceWarning")
def test_both_engines_weigh_words_alike() -> None:
    """The reference implementation, with weights made from the other engine's file, is the independent check."""
    sound = load(READINGS / "command.wav").read(0, 30)
    text = ("go", "forward", "ten", "meters")
    found = [open_engine(name, weights="tiny.en", threads=1).score([sound], [text], language="en")[0]
             for name in ("faster-whisper", "openai-whisper")]  # fmt: skip
    assert np.abs(np.log(found[0]) - np.log(found[1])).max() < 1.0


# ------------------------------------------------------------------ the recipe


@pytest.fixture(scope="module")
def recipe() -> Any:
    return script(ROOT / "models" / "doubt" / "recipe.py", "doubt_recipe")


def test_a_fit_on_one_yes_or_no_is_the_log_odds(recipe: Any) -> None:
    """The closed form: without a penalty the weight is the logarithm of the odds ratio (Agresti, Categorical Data
    Analysis, 3rd ed., 5.1; from memory)."""
    x = np.array([[0.0]] * 50 + [[1.0]] * 40)
    wrong = np.array([True] * 10 + [False] * 40 + [True] * 30 + [False] * 10)
    bias, weights = recipe.fitted(x, wrong, ridge=0.0)
    assert bias == pytest.approx(math.log(10 / 40), abs=1e-4)
    assert weights[0] == pytest.approx(math.log((30 / 10) / (10 / 40)), abs=1e-4)


@pytest.mark.parametrize(
    ("value", "unit", "right"),
    [(15.0, "V", True), (15.0, None, True), (50.0, "V", False), (15.0, "Ohm", False), (4.0, None, True)],
)
def test_a_number_is_right_where_it_was_said(recipe: Any, value: float, unit: str | None, right: bool) -> None:
    assert recipe.said(value, unit, ["It reads fifteen volts.", "Four screws are out."]) is right


def test_the_shipped_model_is_what_the_recipe_goes_by(recipe: Any) -> None:
    assert tuple(SHELF.doubt.weights) == recipe.KEPT
