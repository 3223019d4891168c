"""Recognition of real speech, and the parts that see to it that no word is lost and none invented."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
import wave
from dataclasses import dataclass, field, replace
from pathlib import Path

import jiwer
import numpy as np
import pytest
from numpy.typing import NDArray

from voicereport.audio import Stretch, load
from voicereport.errors import AudioError, WeightsError
from voicereport.speech import Decoded, Manner, catalogue, open_engine, second_look, transcribe
from voicereport.speech import weights as shelf
from voicereport.speech.coverage import gaps, listen_again, split_spoken, without_repeats
from voicereport.speech.fast import _jobs
from voicereport.speech.hear import Ear, HeardWindow, hear
from voicereport.speech.memory import give_back
from voicereport.speech.recognise import Desk, _visits, with_second_look
from voicereport.speech.resume import Memory
from voicereport.speech.segments import bounds, cut, flags_of, repeats, with_stops
from voicereport.speech.windows import apart, pack
from voicereport.transcript import Transcript, Word

READINGS = Path(__file__).parent / "data" / "audio_readings"
SAID: dict[str, str] = tomllib.loads((READINGS / "readings.toml").read_text())["said"]
Sound = NDArray[np.float32]
#: openai-whisper leaves its vocabulary files to the garbage collector
LEAKY = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning", "ignore::ResourceWarning")


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VOICEREPORT_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("VOICEREPORT_HOME", str(tmp_path / "home"))


def wav(path: Path, sound: Sound) -> Path:
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(16_000)
        out.writeframes(np.round(np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes())
    return path


def words(text: str, *, start: float = 0.0, step: float = 0.4, probability: float = 0.9) -> tuple[Word, ...]:
    return tuple(
        Word(word=w, start=round(start + n * step, 3), end=round(start + (n + 0.8) * step, 3), probability=probability)
        for n, w in enumerate(text.split())
    )


@pytest.fixture(scope="module")
def heard(tmp_path_factory: pytest.TempPathFactory) -> Transcript:
    """All readings, recognised once."""
    before = os.environ.get("VOICEREPORT_CACHE")
    os.environ["VOICEREPORT_CACHE"] = str(tmp_path_factory.mktemp("cache"))
    try:
        return transcribe([READINGS / name for name in SAID], visits=[1] * len(SAID))
    finally:
        os.environ.pop("VOICEREPORT_CACHE")
        if before:
            os.environ["VOICEREPORT_CACHE"] = before


@LEAKY
def test_real_speech_is_recognised(heard: Transcript) -> None:
    """Word error rate by jiwer after the normaliser that was published with Whisper.

    Measured: 0.04 to 0.06; faster-whisper's batched pipeline, beam 5, same weights, same run: 0.0625.
    """
    from whisper.normalizers import EnglishTextNormalizer

    plain = EnglishTextNormalizer()
    said, found = [], []
    for name, text in SAID.items():
        said.append(plain(text))
        found.append(plain(" ".join(s.text for s in heard.segments if s.recording == name)))
    assert jiwer.wer(said, found) <= 0.11


def test_the_transcript_keeps_its_promises(heard: Transcript) -> None:
    assert [r.name for r in heard.recordings] == list(SAID)
    assert len({s.id for s in heard.segments}) == len(heard.segments)
    assert heard.segments[0].id == "r1s001"
    for segment in heard.segments:
        assert segment.text == " ".join(w.word for w in segment.words)
        assert len(segment.words) == len(segment.text.split())
        assert all(0 <= w.probability <= 1 and w.start <= w.end for w in segment.words)
        assert [w.start for w in segment.words] == sorted(w.start for w in segment.words)
    for recording in heard.recordings:
        assert 0 < recording.speech_s <= recording.duration_s
        assert (recording.engine, recording.model) == ("faster-whisper", "base-service")


def test_no_word_in_the_pause_and_the_same_words_each_time(tmp_path: Path) -> None:
    before, after = (load(READINGS / f"reading-{n}.wav").read(0, 60) for n in ("0930", "0890"))
    end = len(before) / 16_000
    path = wav(tmp_path / "a.wav", np.concatenate([before, np.zeros(20 * 16_000, np.float32), after]))
    first = transcribe([path], resume=False)
    timed = [w for s in first.segments for w in s.words]
    assert len(timed) == pytest.approx(8 + 14, abs=2)  # of readings.toml; some are written with a hyphen
    assert not [w for w in timed if w.end > end + 0.3 and w.start < end + 19.7]
    assert transcribe([path], resume=False) == first


@pytest.mark.parametrize("kind", ["silence", "hum", "fan", "music"])
def test_where_nobody_speaks_there_is_no_word(kind: str, tmp_path: Path) -> None:
    t = np.arange(60 * 16_000) / 16_000
    noise = np.random.default_rng(4).standard_normal(len(t))
    sounds = {
        "silence": np.zeros(len(t)),
        "hum": sum(np.sin(2 * np.pi * 50 * k * t) for k in (1, 2, 3, 6)) / 8,
        "fan": np.convolve(noise, np.ones(16) / 16, "same") * (1 + 0.1 * np.sin(2 * np.pi * 11 * t)) * 0.3,
        "music": sum(np.sin(2 * np.pi * 220 * 2 ** (np.floor(t * 2) % k / 12) * t) for k in (3, 5, 7)) / 6,
    }
    transcript = transcribe([wav(tmp_path / "a.wav", sounds[kind].astype(np.float32))])
    assert transcript.segments == ()
    assert transcript.recordings[0].notes


def test_a_run_that_was_killed_goes_on_to_the_same_result(tmp_path: Path) -> None:
    speech = np.concatenate([load(READINGS / name).read(0, 60) for name in SAID if name.startswith("reading")])
    path = wav(tmp_path / "a.wav", np.tile(speech, 4))
    code = ("import sys; from pathlib import Path; from voicereport.speech import transcribe;"
            "from voicereport.captions import write_transcript_json as w;"
            "print(w(transcribe([Path(sys.argv[1])], look_twice=False)))")  # fmt: skip

    def start(cache: str) -> subprocess.Popen[bytes]:
        environment = os.environ | {"VOICEREPORT_CACHE": str(tmp_path / cache)}
        return subprocess.Popen([sys.executable, "-c", code, str(path)], env=environment, stdout=subprocess.PIPE,
                                cwd=Path(__file__).parents[1])  # fmt: skip

    killed = start("one")
    deadline = time.monotonic() + 120
    while not list((tmp_path / "one").rglob("*.json")) and killed.poll() is None and time.monotonic() < deadline:
        time.sleep(0.02)
    killed.send_signal(signal.SIGKILL)
    killed.communicate()
    assert killed.returncode == -signal.SIGKILL
    again, undisturbed = start("one").communicate()[0], start("two").communicate()[0]
    assert json.loads(again)["segments"]
    assert again == undisturbed


@LEAKY
@pytest.mark.parametrize("weights", ["tiny.en", "tiny.en-service"])
def test_both_engines_hear_the_same(weights: str) -> None:
    """The reference implementation, with weights made from the other engine's file, is the independent check."""
    sound = load(READINGS / "reading-0870.wav").read(0, 30)
    texts = []
    for name in ("faster-whisper", "openai-whisper"):
        engine = open_engine(name, weights=weights)  # type: ignore[arg-type]
        found = engine.decode([sound], language="en", manner=Manner())[0]
        assert found.words[-1].end <= len(sound) / 16_000
        texts.append(" ".join(w.word for w in found.words).lower())
    assert jiwer.cer(texts[0], texts[1]) < 0.1


def test_every_window_gets_one_place_in_one_batch() -> None:
    windows = [np.zeros(round(s * 16_000), np.float32) for s in (28, 3, 18, 28, 24, 28, 28, 28, 9)]
    jobs = list(_jobs(windows, 2))
    assert sorted(n for _, numbers in jobs for n in numbers) == list(range(9))
    assert all(len(numbers) <= 3 for _, numbers in jobs)
    assert {frames for frames, _ in jobs} == {2000, 2500, 3000}


def test_words_found_late_are_looked_at_twice_in_their_own_place(tmp_path: Path) -> None:
    """What was found in a gap comes after the rest, but was said before it."""
    later, earlier = words("six screws out", start=20.0), words("four screws out", start=5.0)
    engine = Echo([Decoded(words=(*words("five screws out", start=0.3), *words("six screws out", start=2.5)),
                           log_probability=-0.2, no_speech=0.0, compression=1.0)], likely=0.01)  # fmt: skip
    desk = Desk(first=Echo([]), second=engine, language="en", resume=False, shelf=catalogue(), watched=frozenset())  # type: ignore[arg-type]
    looked = with_second_look([later, earlier], _ear(tmp_path, Echo([])), desk)
    assert [w.alternative for w in looked[0]] == [None, None, None]
    assert [w.alternative for w in looked[1]] == ["five", None, None]


def test_words_that_were_weighed_before_are_not_weighed_again(tmp_path: Path) -> None:
    window = pack(stretches((1.0, 9.0)))[0]
    for text, asked in ((["four", "screws"], True), (["four", "screws"], False), (["five", "screws"], True)):
        engine = Echo([])
        ear = _ear(tmp_path, engine, memory=Memory("a" * 64, folder=tmp_path / "windows"))
        assert ear.score([window], [text]) == ((0.9, 0.9),)
        assert engine.weighed == [text] * asked


def test_a_window_whose_words_were_all_over_no_speech_stops_nothing(tmp_path: Path) -> None:
    spoken = words("four screws out", start=5.0)
    engine = Echo([Decoded(words=words("four screws out", start=0.3), log_probability=-0.2, no_speech=0.0,
                           compression=1.0)])  # fmt: skip
    desk = Desk(first=Echo([]), second=engine, language="en", resume=False, shelf=catalogue(), watched=frozenset())  # type: ignore[arg-type]
    looked = with_second_look([(), spoken], _ear(tmp_path, Echo([])), desk)
    assert [[w.word for w in group] for group in looked] == [[], ["four", "screws", "out"]]
    assert cut(()) == []


def test_a_window_gives_the_same_words_in_any_company() -> None:
    engine = open_engine("auto", weights="tiny.en")
    sounds = [load(READINGS / name).read(0, 30) for name in ("reading-0880.wav", "reading-0870.wav", "cards-005.wav")]
    together = engine.decode(sounds, language="en", manner=Manner())
    alone = [engine.decode([sound], language="en", manner=Manner())[0] for sound in sounds]
    assert [[w.word for w in d.words] for d in together] == [[w.word for w in d.words] for d in alone]


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory is told by Linux")
def test_memory_that_was_freed_goes_back_to_the_system() -> None:
    """300,000 small blocks, about 150 MB, freed but for the last one: glibc keeps them for this process by itself."""
    import ctypes

    library = ctypes.CDLL(None)
    library.malloc.restype, library.malloc.argtypes = ctypes.c_void_p, [ctypes.c_size_t]
    library.free.argtypes = [ctypes.c_void_p]

    def resident_mb() -> float:
        return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6

    blocks = [library.malloc(500) for _ in range(300_000)]
    for block in blocks:
        ctypes.memset(block, 1, 500)
    for block in blocks[:-1]:
        library.free(block)
    before = resident_mb()
    give_back()
    after = resident_mb()
    library.free(blocks[-1])
    assert after < before - 100


def test_unknown_weights_and_languages_are_refused() -> None:
    with pytest.raises(WeightsError, match=r"known are: base, base-service, tiny\.en"):
        open_engine("faster-whisper", weights="enormous")
    with pytest.raises(WeightsError, match="do not know the language"):
        open_engine("auto", weights="tiny.en").decode([np.zeros(16_000, np.float32)], language="fr", manner=Manner())


def test_weights_that_were_changed_are_never_used(tmp_path: Path) -> None:
    entry = catalogue().named("tiny.en", "faster-whisper")
    for name, data in shelf.read(entry).items():
        changed = bytearray(data)
        changed[len(data) // 2] ^= 1
        (tmp_path / name).write_bytes(bytes(changed) if name == "tokenizer.json" else data)
    with pytest.raises(WeightsError, match=r"tokenizer\.json is not the published file"):
        shelf.read(entry, folder=tmp_path)
    with pytest.raises(WeightsError, match=r"tokenizer\.json is not the published file"):
        open_engine("faster-whisper", weights="tiny.en", folder=tmp_path)


def test_copies_of_weights_are_whole_private_and_gone_afterwards(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    entry = catalogue().named("tiny.en", "faster-whisper")
    with shelf.laid_out(entry) as place:
        assert {path.name: path.read_bytes() for path in place.iterdir()} == shelf.read(entry)
        assert place.parent == tmp_path
        assert os.name != "posix" or place.stat().st_mode & 0o077 == 0
    assert not place.exists()


def test_a_recogniser_is_loaded_where_there_is_no_room_for_copies(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound = load(READINGS / "cards-005.wav").read(0, 30)
    heard = open_engine("auto", weights="tiny.en").decode([sound], language="en", manner=Manner())
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "none"))
    assert open_engine("auto", weights="tiny.en").decode([sound], language="en", manner=Manner()) == heard


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory is told by Linux")
def test_a_recogniser_keeps_no_copy_of_its_files() -> None:
    """The file has 76 MB, and the weights, in eight bits, half of that."""
    script = (
        "import os, pathlib, faster_whisper\n"
        "from voicereport.speech import open_engine\n"
        "def held(): return int(pathlib.Path('/proc/self/statm').read_text().split()[1]) * os.sysconf('SC_PAGE_SIZE')\n"
        "open_engine('auto', weights='tiny.en'); before = held()\n"
        "kept = open_engine('auto', weights='tiny.en'); print((held() - before) / 1e6)"
    )
    told = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
    assert float(told) < 70


def test_the_digests_are_the_published_ones() -> None:
    """The reference implementation's own table of addresses carries its digests; both lists must agree."""
    import whisper

    for entry in catalogue().weights:
        if entry.engine == "openai-whisper" and entry.files:
            assert entry.files[0].sha256 in whisper._MODELS[entry.name]
    states = {(row["name"], row["engine"]): row["state"] for row in shelf.verify_all()}
    assert states[("base", "faster-whisper")] == states[("tiny.en", "faster-whisper")] == "right"
    assert states[("base", "openai-whisper")] == "made from faster-whisper"


def paused(text: str, *, pause: float = 0.6) -> str:
    """What becomes of the text where there is a pause after each comma."""
    at, told = 0.0, []
    for part in text.split():
        told.append(Word(word=part, start=at, end=at + 0.3, probability=0.9))
        at += 0.3 + (pause if part.endswith(",") else 0.05)
    return " ".join(w.word for w in with_stops(told, catalogue().stops))


def test_a_comma_before_a_pause_between_two_statements_is_a_full_stop() -> None:
    assert paused("I've lifted the trough out, the spout points back.") == (
        "I've lifted the trough out. the spout points back."
    )
    assert paused("I've lifted the trough out, the spout points back.", pause=0.2).count(",") == 1
    assert paused("The coil is clean, the tray is dry now, the fan runs.").count(".") == 3


@pytest.mark.parametrize(
    "text",
    [
        "If the plug is out, the supply is off.",
        "I'd say the plug is out, the supply is off.",
        "The supply is off, the customer told me.",
        "The plug is out, I think.",
        "He swore blind, the plug is out.",
        "The sheet has it so, the plug is out.",
        "I was going in live, the plug was in.",
        "No, the plug is out.",
        "Six screws, the long ones.",
        "The plug is out, or it was.",
        "They do it by the rule, the plug is out of the wall.",
        "That was the microwave, the plug is out of the wall.",
        "The boss dictated it, the plug is out of the wall.",
        "The cover is clean, the plug is out of the wall.",
        "The motto is short, the breaker is off.",
    ],
)
def test_a_comma_stays_where_one_part_may_govern_the_other(text: str) -> None:
    assert paused(text) == text


@dataclass
class Echo:
    """An engine that answers what it was told to, window by window, and counts."""

    answers: list[Decoded]
    name: str = "faster-whisper"
    model: str = "echo"
    version: str = ""
    asked: list[Manner] = field(default_factory=list)
    likely: float = 0.9  #: what it believes of words that others heard
    weighed: list[list[str]] = field(default_factory=list)

    def decode(self, windows: list[Sound], *, language: str, manner: Manner) -> tuple[Decoded, ...]:
        self.asked += [manner] * len(windows)
        return tuple(self.answers.pop(0) for _ in windows)

    def score(self, windows: list[Sound], texts: list[list[str]], *, language: str) -> tuple[tuple[float, ...], ...]:
        self.weighed += texts
        return tuple((self.likely,) * len(text) for text in texts)


def decoded(text: str, *, log_probability: float = -0.2, compression: float = 1.0, no_speech: float = 0.0) -> Decoded:
    return Decoded(words=words(text), log_probability=log_probability, no_speech=no_speech, compression=compression)


def _ear(tmp_path: Path, engine: Echo, *, memory: Memory | None = None) -> Ear:
    clip = load(wav(tmp_path / "a.wav", np.zeros(40 * 16_000, np.float32)))
    return Ear(clip=clip, engine=engine, memory=memory, language="en")  # type: ignore[arg-type]


def stretches(*spans: tuple[float, float]) -> tuple[Stretch, ...]:
    return tuple(Stretch(start=a, end=b, probability=0.9) for a, b in spans)


def test_an_hour_with_nine_minutes_of_talk_costs_about_nine_minutes() -> None:
    speech = stretches(*((n * 60.0, n * 60.0 + 9.0) for n in range(60)))
    windows = pack(speech)
    assert sum(window.length for window in windows) < 9 * 60 * 1.1
    assert all(window.length <= 29.0 for window in windows)


def test_packing_loses_nothing_and_maps_back() -> None:
    windows = pack(stretches((1.0, 8.0), (8.2, 9.0), (40.0, 95.0), (120.0, 121.0)))
    pieces = sorted((p.start, p.end) for window in windows for p in window.pieces)
    assert sum(b - a for a, b in pieces) == pytest.approx(7 + 0.8 + 55 + 1)
    first = windows[0]
    at = next(p for p in first.pieces if p.start == 8.2)
    word = Word(word="off", start=at.at + 0.3, end=at.at + 0.6)
    assert first.back([word])[0] == replace(word, start=8.5, end=8.8)


def test_a_word_timed_too_early_across_a_pause_stays_where_it_ends() -> None:
    window = pack(stretches((0.0, 2.0), (60.0, 62.0)))[0]
    back = window.back([Word(word="The", start=1.2, end=2.7)])[0]
    assert (back.start, back.end) == (60.0, pytest.approx(60.4))


def test_padding_never_overlaps() -> None:
    spans = apart([(5.0, 6.0), (1.0, 2.0), (2.2, 3.0)], pad_s=0.3)
    assert [(s.start, s.end) for s in spans] == [(4.7, 6.3), (0.7, 2.1), (2.1, 3.3)]


def test_a_loop_is_decoded_another_way(tmp_path: Path) -> None:
    engine = Echo([decoded("out " * 20, compression=5.0), decoded("the plug is out")])
    found = hear(pack(stretches((1, 10))), _ear(tmp_path, engine))
    assert [w.word for w in found[0].words] == ["the", "plug", "is", "out"]
    assert not found[0].loop
    assert engine.asked[1].no_repeat > 0


def test_a_loop_that_stays_is_flagged(tmp_path: Path) -> None:
    loop = decoded("out out out out out", compression=5.0)
    assert hear(pack(stretches((1, 10))), _ear(tmp_path, Echo([loop] * 3)))[0].loop
    assert "repetition" in flags_of(words("out out out out out"))
    assert repeats(words("it is off it is off it is off it is off"))
    assert not repeats(words("screw one screw two screw three"))


def test_speech_without_words_is_found_and_decoded_again(tmp_path: Path) -> None:
    missing = gaps(stretches((0, 4), (10, 12)), words("the plug is out", start=0.0, step=1.0))
    assert missing == ((10, 12),)
    empty = decoded("")
    engine, other = Echo([empty]), Echo([replace(empty, words=words("all six", start=0.5))])
    found, left = listen_again(missing, _ear(tmp_path, engine), [other])  # type: ignore[list-item]
    assert not left
    assert [w.word for w in found[0].words] == ["all", "six"]
    found, left = listen_again(missing, _ear(tmp_path, Echo([empty])), [Echo([empty])])  # type: ignore[list-item]
    assert (found, left) == ([], [(10, 12)])


def test_gaps_near_each_other_are_heard_as_one_and_what_is_left_goes_to_the_next_engine(tmp_path: Path) -> None:
    missing = ((10.0, 12.0), (12.5, 18.0), (30.0, 31.0))
    half = replace(decoded(""), words=words("all six are out", start=0.5, step=0.6))  # up to 12.4 s
    rest = replace(decoded(""), words=words("and the cover is off", start=0.5, step=0.8))
    engine, other = Echo([decoded(""), half]), Echo([decoded(""), rest])  # short windows come first
    found, left = listen_again(missing, _ear(tmp_path, engine), [other])  # type: ignore[list-item]
    assert [" ".join(w.word for w in h.words) for h in found] == ["all six are out", "and the cover is off"]
    assert left == [(30.0, 31.0)]


def test_a_short_breath_is_no_gap() -> None:
    assert gaps(stretches((0, 2), (5, 5.6)), words("the plug is out", step=0.5)) == ()


def test_known_inventions_over_doubtful_speech_are_dropped(tmp_path: Path) -> None:
    window = pack(stretches((0, 3)))
    thanks = decoded("Thank you for watching.", no_speech=0.9)
    found = hear(window, _ear(tmp_path, Echo([thanks])))[0]
    weak, strong = np.full(120, 0.4, np.float32), np.full(120, 0.95, np.float32)
    assert split_spoken(found, weak, catalogue().invented)[0] == ()
    sure = replace(found, no_speech=0.01)
    assert len(split_spoken(sure, strong, catalogue().invented)[0]) == 4  # said for certain: kept


def test_windows_are_remembered_and_half_written_ones_are_not_trusted(tmp_path: Path) -> None:
    memory = Memory("0" * 64, folder=tmp_path)
    windows = pack(stretches((1, 10)))
    engine = Echo([decoded("six screws")])
    first = hear(windows, _ear(tmp_path, engine, memory=memory))
    assert hear(windows, _ear(tmp_path, Echo([]), memory=memory)) == first
    for path in tmp_path.rglob("*.json"):
        path.write_text(path.read_text()[:-10])
    engine = Echo([decoded("seven screws")])
    assert hear(windows, _ear(tmp_path, engine, memory=memory))[0].words[0].word == "seven"


def test_segments_end_at_full_stops_and_pauses_but_not_after_mister() -> None:
    spoken = (*words("Mr. Ashe says it leaks."), *words("The plug", start=4.0), *words("is out", start=9.0))
    assert [" ".join(w.word for w in piece) for piece in cut(spoken)] == [
        "Mr. Ashe says it leaks.",
        "The plug",
        "is out",
    ]
    assert flags_of(words("is out", probability=0.3)) == ("low_confidence",)


def test_sentences_in_one_breath_are_one_segment_and_still_looked_at_one_by_one() -> None:
    """A speaker who goes on at once names in one sentence what the next is about: "Two screws. Motor out." """
    spoken = (*words("Two screws. Motor out."), *words("Then the fan.", start=4.0))
    assert [" ".join(w.word for w in piece) for piece in cut(spoken)] == ["Two screws. Motor out.", "Then the fan."]
    assert [" ".join(w.word for w in spoken[a:b]) for a, b in bounds(spoken)] == [
        "Two screws.",
        "Motor out.",
        "Then the fan.",
    ]


def test_sentences_without_a_pause_are_no_segment_longer_than_a_long_one() -> None:
    assert all(piece[-1].end - piece[0].start <= 20.0 for piece in cut(words("It is out now. " * 60)))


def test_a_window_whose_words_were_all_dropped_has_no_sentences() -> None:
    assert bounds(()) == []
    assert cut(()) == []


def test_a_long_piece_is_cut() -> None:
    assert all(piece[-1].end - piece[0].start <= 20.4 for piece in cut(words("and so on " * 60)))


NUMBERS = catalogue().number_words


@pytest.mark.parametrize(
    ("first", "second", "alternatives"),
    [
        ("it reads fifteen volts", "it reads fifty volts", {"fifteen": "fifty"}),
        ("it reads 15 volts", "it reads fifteen volts", {}),
        ("the part is A 12", "the part is E 12", {"A": "E"}),
        ("twenty four ohms", "24 ohms", {}),
        ("minus 6 degrees", "6 degrees", {"minus": ""}),
        ("the gasket is seated", "the basket is seated", {}),
        ("the plug is not out", "the plug is now out", {"not": "now"}),
        ("gasket GK 55 is in", "gasket GK55 is in", {}),
        ("model ZF261 it is", "model ZF-261 it is", {}),
        ("gap of 4mm here", "gap of 4 mm here", {}),
        ("it reads 10 4 volts", "it reads 104 volts", {"10": "104", "4": "104"}),
        ("2 and a quarter hours", "2 and ¼ hours", {}),
        ("three no four of them", "three know four of them", {}),
        ("it reads 0.3 ohms", "it reeds point three ohms", {}),
        ("it reads .1 ohm", "it reads 0.1 ohm", {}),
        ("it reads .1 ohm", "it reads 1 ohm", {".1": "1"}),
        ("0.08 ohms", "nought point nought eight ohms", {}),
        ("ground 0.12 ohm", "ground.12 ohm", {}),
        ("order 5027 here", "order 5-0-2-7 here", {}),
        ("number 8 1 4", "number 814", {}),
        ("4.1 ohms", "4.1 volts", {"ohms": "volts"}),
        ("4.1 ohms", "4.1 homes", {}),
        ("it reads not volts", "it reads nought volts", {"not": "nought"}),
    ],
)
def test_the_second_look_tells_what_differs_and_matters(first: str, second: str, alternatives: dict[str, str]) -> None:
    watched = frozenset({"minus", "not", "no", "quarter"})
    found = second_look(
        words(first), words(second), numbers=NUMBERS, watched=watched, same=catalogue().same, units=catalogue().units
    )
    assert {w.word: w.alternative for w in found if w.alternative is not None} == alternatives
    assert [w.word for w in found] == first.split()


@pytest.mark.parametrize(
    ("before", "gap", "kept"),
    [
        ("serial 550-328.", "three two eight", False),
        ("ticket 6-6-1-8.", "6 1", False),
        ("serial 550-328.", "four screws and two clips", True),
        ("serial 550-328.", "the plug is out", True),
        ("serial 550-328.", "nine nine", True),
    ],
)
def test_figures_that_were_heard_already_are_no_find_in_a_gap(before: str, gap: str, kept: bool) -> None:
    """A number written as one word is timed too short, and the rest of it looks like a gap."""
    window = pack(stretches((0.0, 10.0)))[0]
    found = HeardWindow(window=window, words=words(gap, start=3.0), log_probability=-0.2, no_speech=0.0, loop=False)
    assert bool(without_repeats([found], words(before, start=0.5), NUMBERS)) is kept


def test_visits_count_the_days_of_the_recordings() -> None:
    assert _visits([None, None]) == [1, 1]
    assert _visits(["2026-03-04T10:00:00", "2026-03-04T11:00:00", "2026-03-06T09:00:00"]) == [1, 1, 2]


def test_visit_numbers_must_be_as_many_as_recordings() -> None:
    with pytest.raises(AudioError, match="2 numbers for 1 recordings"):
        transcribe([READINGS / "digits.wav"], visits=[1, 2])
