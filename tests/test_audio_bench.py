"""The comparison of recognisers on recordings of known words, and the session that is made by script."""

from __future__ import annotations

import importlib.util
import json
import shutil
import sys
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from test_speech import LEAKY, READINGS, SAID, wav

from voicereport.errors import SettingsError, TranscriptError
from voicereport.evaluation.audio_bench import Bench, Line, Words, bench, compare_words, find_items, lines_of
from voicereport.evaluation.audio_engines import kinds_of
from voicereport.evaluation.corpus import Corpus
from voicereport.settings import load_settings
from voicereport.transcript import Segment, Transcript, Word

pytestmark = LEAKY
DEMO = Path(__file__).parents[1] / "demo_audio"


def transcript(*words: Word) -> Transcript:
    text = " ".join(w.word for w in words)
    segment = Segment(id="r1s001", recording="a.wav", start=0.0, end=9.0, heard=text, text=text, words=words)
    return Transcript(recordings=(), segments=(segment,))


def word(text: str, *, probability: float = 0.9, alternative: str | None = None) -> Word:
    return Word(word=text, start=0.0, end=0.1, probability=probability, alternative=alternative)


def test_word_errors_are_counted_as_published() -> None:
    """WER = (S + D + I) / N and may exceed 1: one word against four is 3.0 (NIST SCTK's definition)."""
    found = compare_words(["unplugged"], ["unplugged and then lifted"])
    assert (found.substituted + found.left_out + found.invented) / found.said == 3.0
    found = compare_words(["the plug is out"], ["the plug out"])
    assert (found.said, found.left_out, found.substituted, found.invented) == (4, 1, 0, 0)


def test_numbers_units_and_signs_are_counted_apart() -> None:
    said = ["It reads minus six degrees Celsius.", "Thirty one point six ohms.", "Six screws are out."]
    right = compare_words(said, ["It reads -6 degrees Celsius.", "31.6 ohms.", "6 screws are out."])
    assert (right.numbers, right.numbers_right, right.signs_right, right.units_right, right.silent) == (3, 3, 1, 2, 0)
    wrong = compare_words(said, ["It reads 6 degrees Celsius.", "31.6 volts.", "6 screws are out."])
    assert (wrong.numbers_right, wrong.signs, wrong.signs_right) == (2, 1, 0)
    assert (wrong.units_of, wrong.units_right, wrong.silent) == (1, 0, 1)


@pytest.mark.parametrize(
    ("heard", "silent"),
    [
        (word("50"), 1),
        (word("50", alternative="15"), 0),
        (word("50", probability=0.3), 0),
        (word("15"), 0),
    ],
)
def test_a_wrong_number_is_silent_unless_something_casts_doubt_on_it(heard: Word, silent: int) -> None:
    words = (word("it"), word("reads"), heard, word("volts."))
    found = compare_words(["It reads fifteen volts."], [" ".join(w.word for w in words)], transcript(*words))
    assert found.silent == silent


def test_only_recordings_of_known_words_are_taken(tmp_path: Path) -> None:
    for level in ("clean", "fan-10"):
        (tmp_path / level).mkdir()
        wav(tmp_path / level / "a.wav", np.zeros(1600, np.float32))
    wav(tmp_path / "fan-10" / "unknown.wav", np.zeros(1600, np.float32))
    told = {"lines": [{"start": 0, "end": 1, "say": "The plug is out."}]}
    (tmp_path / "clean" / "a.json").write_text(json.dumps(told))
    assert [(i.level, i.path.stem, i.said) for i in find_items(tmp_path)] == [
        ("clean", "a", ("The plug is out.",)),
        ("fan-10", "a", ("The plug is out.",)),
    ]
    assert [i.level for i in find_items(tmp_path, levels=("fan-10",))] == ["fan-10"]
    with pytest.raises(SettingsError, match="holds no recording"):
        find_items(tmp_path, only=("b",))
    (tmp_path / "clean" / "a.json").write_text("{")
    with pytest.raises(TranscriptError, match="holds no lines of words"):
        find_items(tmp_path)


def test_unknown_engines_are_refused() -> None:
    assert kinds_of(["batched", "ours"]) == ("ours", "batched")
    with pytest.raises(SettingsError, match="'best' is no engine"):
        kinds_of(["best"])


def test_our_recogniser_is_measured_in_a_process_of_its_own(tmp_path: Path) -> None:
    name = "reading-0930.wav"
    shutil.copy(READINGS / name, tmp_path / name)
    (tmp_path / "reading-0930.json").write_text(json.dumps({"lines": [{"say": SAID[name]}]}))
    corpus = Corpus(folder=tmp_path, narrations=(), sentences=(), aliases=None)
    found = bench(corpus, find_items(tmp_path), load_settings())
    (line,) = found.lines
    assert line.engine == "ours"
    assert line.words.said - line.words.left_out >= 7
    assert line.wall_s > 0 < line.processor_s
    assert line.memory_mb > 100
    assert [what for what, _ in line.parts] == ["finding speech", "first reading", "gaps", "second reading"]
    shown = list(lines_of(found))
    assert "voicereport" in shown[1]


def test_a_table_row_shows_what_was_counted() -> None:
    words = Words(said=200, substituted=6, left_out=10, invented=4, numbers=10, numbers_right=9,
                  units_of=4, units_right=3)  # fmt: skip
    line = Line(engine="batched", level="fan-10", files=2, audio_s=100.0, wall_s=4.0, processor_s=8.0, memory_mb=900.0,
                words=words, parts=())  # fmt: skip
    row = list(lines_of(Bench(lines=(line,), levels=())))[1].split()
    assert row[-11:] == ["2", "10.0", "95.0", "4", "90.0", "75.0", "0/0", "0", "25.0", "12.5", "900"]


@pytest.fixture
def make_session(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(DEMO))
    spec = importlib.util.spec_from_file_location("make_session", DEMO / "make_session.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "make_session", module)
    spec.loader.exec_module(module)
    import make_demo

    monkeypatch.setattr(make_demo, "SAMPLE_RATE_HZ", make_demo.SAMPLE_RATE_HZ)
    return module


def test_a_session_has_the_share_of_speech_and_the_noise_that_were_asked_for(
    make_session: ModuleType, tmp_path: Path
) -> None:
    tone = 0.5 * np.sin(2 * np.pi * 440 * np.arange(16_000 * 60) / 16_000)
    for name in ("a", "b", "c"):
        wav(tmp_path / f"{name}.wav", tone.astype(np.float32))
        rows = [{"start": 3.0 * n, "end": 3.0 * n + 2.0, "say": f"line {n}"} for n in range(18)]
        (tmp_path / f"{name}.json").write_text(json.dumps({"voice": name, "lines": rows}))
    sound, rows = make_session.make_session(tmp_path, minutes=2.0, share=0.25, snr_db=10.0, seed=1)
    spoken = [(row["start"], row["end"]) for row in rows]
    assert sum(end - start for start, end in spoken) == pytest.approx(30.0, abs=11.0)  # a burst is up to 10 s
    assert all(before[1] <= after[0] + 1e-6 for before, after in pairwise(spoken))
    assert spoken[-1][1] <= 120.0
    assert {row["voice"] for row in rows} == {"a", "b", "c"}
    mask = np.zeros(len(sound), bool)
    for start, end in spoken:
        mask[round(start * 16_000) : round(end * 16_000)] = True
    both, noise = (float(np.median(np.abs(sound[m]))) for m in (mask, ~mask))
    assert 20 * np.log10(both / noise) > 6.0
    again, _ = make_session.make_session(tmp_path, minutes=2.0, share=0.25, snr_db=10.0, seed=1)
    assert np.array_equal(sound, again)
    with pytest.raises(ValueError, match="s of speech"):
        make_session.make_session(tmp_path, minutes=30.0, share=0.25, snr_db=10.0, seed=1)
