"""Live listening fed with sound: where utterances end, seams, the recording on disk, jobs that broke off."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import wave
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from voicereport.audio import load
from voicereport.errors import AudioError, TranscriptError
from voicereport.live import Session, load_phrases, open_recogniser
from voicereport.live.compare import agreement, whole_report
from voicereport.live.detect import CLOSE_S, LONG_S, PAUSE_S, Cut, Detector
from voicereport.live.events import Event, Heard
from voicereport.live.job import LiveJob, begin, resume
from voicereport.live.record import JOURNAL, RECORDING, WavWriter, read_journal
from voicereport.live.seams import cut_place, cut_segments, without_settled
from voicereport.live.sources import FileSource
from voicereport.requests.echo import Spoken, split_echo
from voicereport.settings import load_settings
from voicereport.speech.segments import cut, segment
from voicereport.trades import load_trade
from voicereport.transcript import Segment, Word, spread

SPOKEN = Path(__file__).parent / "data" / "audio_readings" / "reading-0870.wav"
RATE = 16_000


def sound(*parts: NDArray[np.float32] | float) -> NDArray[np.float32]:
    """Sounds and silences, in seconds, one after the other, over a very faint noise."""
    pieces = [np.zeros(round(p * RATE), np.float32) if isinstance(p, float) else p for p in parts]
    joined = np.concatenate(pieces)
    noise = np.random.default_rng(1).normal(0, 1e-4, len(joined))
    return (joined + noise).astype(np.float32)


@pytest.fixture(scope="module")
def speech() -> NDArray[np.float32]:
    """A sentence of a person, without the silence around it."""
    clip = load(SPOKEN)
    whole = clip.read(0, clip.duration_s)
    loud = np.nonzero(np.abs(whole) > 0.02)[0]
    return whole[loud[0] : loud[-1]]


@dataclass(slots=True)
class Stub:
    """A recogniser that hears one word a second of speech: its number is the second of the recording."""

    engine: str = "stub"
    model: str = "stub"
    calls: list[tuple[float, float]] = field(default_factory=list)

    def words(self, samples: NDArray[np.float32], start: float, *, well: bool = False) -> tuple[Segment, ...]:
        end = start + len(samples) / RATE
        self.calls.append((start, end))
        words = []
        for second in range(int(start), int(end) + 1):
            piece = samples[max(0, round((second - start) * RATE)) : max(0, round((second + 0.8 - start) * RATE))]
            if len(piece) > 0.5 * RATE and np.abs(piece).max() > 0.02:
                words.append(Word(word=f"w{second}", start=float(second), end=second + 0.8))
        return tuple(segment("", "", group, ()) for group in cut(words))

    def second_look(
        self, samples: NDArray[np.float32], start: float, segments: tuple[Segment, ...]
    ) -> tuple[Segment, ...]:
        return tuple(segments)


def new_session(recogniser: object | None = None) -> Session:
    return Session(trade=load_trade("domestic-refrigeration"), settings=load_settings(environment={}),
                   phrases=load_phrases(folder=Path("/nowhere")), recogniser=recogniser, name=RECORDING)  # type: ignore[arg-type]  # fmt: skip


def cuts(samples: NDArray[np.float32], piece: int = 1600) -> list[Cut]:
    detector = Detector()
    return [cut for n in range(0, len(samples), piece) for cut in detector.feed(samples[n : n + piece])]


# ---- where utterances end


def test_an_utterance_ends_on_a_pause(speech: NDArray[np.float32]) -> None:
    end = 1.0 + len(speech) / RATE
    found = cuts(sound(1.0, speech, 3.0))
    last = [c for c in found if c.sign == "pause"][-1]
    assert last.at == pytest.approx(end + PAUSE_S, abs=0.35)
    assert [c.sign for c in found][-3:] == ["pause", "rest", "close"]
    assert found[-1].at == pytest.approx(end + CLOSE_S, abs=0.35)


@pytest.mark.parametrize("piece", [160, 511, 1600, 16_000])
def test_the_size_of_the_pieces_changes_nothing(speech: NDArray[np.float32], piece: int) -> None:
    samples = sound(1.0, speech, 2.0, speech, 2.5)
    usual = [(c.sign, round(c.at, 1)) for c in cuts(samples) if c.sign != "pause"]
    found = [(c.sign, pytest.approx(c.at, abs=0.2)) for c in cuts(samples, piece) if c.sign != "pause"]
    assert found == usual  # where it is known that the speaker went on, a pause is none


def test_silence_and_noise_are_no_utterance() -> None:
    noise = np.random.default_rng(2).normal(0, 0.03, 10 * RATE).astype(np.float32)
    assert cuts(sound(5.0)) == []
    assert cuts(sound(1.0, noise, 2.0)) == []


def test_sound_before_an_utterance_is_not_kept(speech: NDArray[np.float32]) -> None:
    detector = Detector()
    samples = sound(60.0)
    for n in range(0, len(samples), 1600):
        list(detector.feed(samples[n : n + 1600]))
    assert len(detector.sound()) < RATE


# ---- seams


def test_a_speaker_who_never_pauses_loses_no_word_and_has_none_twice(speech: NDArray[np.float32]) -> None:
    stub = Stub()
    session = new_session(stub)
    long = np.concatenate([speech] * (int(60 / (len(speech) / RATE)) + 1))[: 60 * RATE]
    tone = 0.1 * np.sin(2 * np.pi * 200 * np.arange(len(long)) / RATE)  # no second is silent
    samples = sound(long + tone.astype(np.float32), 3.0)
    for n in range(0, len(samples), 1600):
        session.hear(samples[n : n + 1600])
    session.finish()
    heard = [w.word for one in session.settled for w in one.segment.words]
    expected = [f"w{n}" for n in range(int(session.settled[0].segment.start), 60)]
    assert heard == expected
    assert max(end - start for start, end in stub.calls) < LONG_S + 3


def said(text: str, start: float, end: float) -> Segment:
    words = spread(text, start, end)
    return segment("", "", words, ())


def test_a_cut_is_made_at_a_full_stop_rather_than_within_a_sentence() -> None:
    one = said("Four screws are out of the rear panel.", 0.0, 6.0)
    two = said("The fan motor reads four hundred and twenty five ohms and", 6.1, 11.5)
    assert cut_place([one, two], 0.0, 12.0) == pytest.approx(6.05, abs=0.01)


def test_words_of_both_sides_of_a_cut_are_all_there() -> None:
    one = said("a b c d e f g h", 0.0, 8.0)
    before, after = cut_segments([one], 4.2)
    assert [w.word for s in (*before, *after) for w in s.words] == list("abcdefgh")


def test_a_word_that_was_settled_at_a_seam_is_not_told_again() -> None:
    last = Word(word="panel.", start=3.6, end=4.0)
    again = Word(word="Panel", start=3.95, end=4.25)
    rest = segment("", "", (again, Word(word="off", start=4.3, end=4.6)), ())
    assert [w.word for s in without_settled((rest,), 4.0, last) for w in s.words] == ["off"]


# ---- the tool's own voice


def test_the_tools_own_voice_is_no_part_of_the_job() -> None:
    spoken = Spoken(text="Hold on. Is the plug out? Say so before you go on.", start=10.0, end=14.0)
    heard = said("Hold on, is the plug out, say so before you go on. The plug is out.", 10.2, 17.0)
    own, echoes = split_echo([heard], [spoken])
    assert " ".join(s.text for s in own) == "The plug is out."
    assert len(echoes) == 1


def test_what_a_person_says_while_the_tool_speaks_is_kept() -> None:
    spoken = Spoken(text="Hold on. Is the plug out? Say so before you go on.", start=10.0, end=14.0)
    heard = said("Four screws out of the rear panel", 10.5, 13.0)
    assert split_echo([heard], [spoken]) == ((heard,), ())


def test_an_echo_stays_in_the_transcript_and_in_the_record_and_is_read_for_nothing() -> None:
    session = new_session()
    session.spoke("Before that: plug out or breaker off, and say so.", 10.0, 13.0)
    events = session.say("Before that plug out or breaker off, and say so.", 10.2, 13.0)
    assert not [e for e in events if isinstance(e, Heard)]
    assert session.report is not None
    assert session.report.steps == ()
    assert [s.text for s in session.report.transcript.segments] == ["Before that plug out or breaker off, and say so."]
    assert any("own voice" in line for line in session.report.transcript.dropped)


# ---- heard, then understood


@dataclass(slots=True)
class Deaf(Stub):
    """Gives no words for what it hears, but when it is to hear well."""

    def words(self, samples: NDArray[np.float32], start: float, *, well: bool = False) -> tuple[Segment, ...]:
        found = Stub.words(self, samples, start)
        end = start + len(samples) / RATE
        silent = Segment(id="", recording="", start=start, end=end, heard="", text="", words=(), flags=("unheard",))
        return found if well else (silent,)


def test_speech_that_gave_no_words_is_heard_again_by_other_weights(speech: NDArray[np.float32]) -> None:
    session = new_session(Deaf())
    for n in range(0, len(samples := sound(1.0, speech, 3.0)), 1600):
        session.hear(samples[n : n + 1600])
    assert [one.segment.flags for one in session.settled] == [()]
    assert session.settled[0].segment.words


def batches(session: Session, samples: NDArray[np.float32]) -> list[tuple[Event, ...]]:
    return [group for n in range(0, len(samples), 1600) for group in session.hearing(samples[n : n + 1600])]


def test_what_was_heard_is_told_before_what_it_means(speech: NDArray[np.float32]) -> None:
    kinds = [{type(e) for e in group} for group in batches(new_session(Stub()), sound(1.0, speech, 3.0)) if group]
    assert kinds[0] == {Heard}


# ---- the recording


def test_the_recording_is_a_whole_wav_file_after_every_piece(tmp_path: Path) -> None:
    path = tmp_path / RECORDING
    writer = WavWriter(path)
    for n in range(1, 6):
        writer.add(np.full(1600, 0.25, np.float32))
        with wave.open(str(path)) as file:  # the standard library's reader
            assert (file.getnframes(), file.getframerate(), file.getnchannels(), file.getsampwidth()) == (
                1600 * n,
                RATE,
                1,
                2,
            )
    writer.close()


def test_a_recording_that_was_cut_off_in_a_sample_is_gone_on_with(tmp_path: Path) -> None:
    path = tmp_path / RECORDING
    writer = WavWriter(path)
    writer.add(np.full(1600, 0.25, np.float32))
    writer.close()
    with path.open("ab") as file:
        file.write(b"\x01")
    again = WavWriter(path, resume=True)
    again.add(np.full(800, -0.5, np.float32))
    again.close()
    with wave.open(str(path)) as file:
        assert file.getnframes() == 2400
        assert np.frombuffer(file.readframes(2400), "<i2")[-1] == -16384


def test_a_file_of_another_kind_is_not_gone_on_with(tmp_path: Path) -> None:
    (tmp_path / RECORDING).write_bytes(b"x" * 100)
    with pytest.raises(AudioError, match="no recording"):
        WavWriter(tmp_path / RECORDING, resume=True)


def test_a_folder_with_a_job_is_not_written_over(tmp_path: Path) -> None:
    begin(tmp_path, new_session(), settings={}).finish()
    with pytest.raises(AudioError, match="--resume"):
        begin(tmp_path, new_session(), settings={})


def test_a_job_that_broke_off_gives_the_report_that_it_would_have_given(
    tmp_path: Path, speech: NDArray[np.float32]
) -> None:
    samples = sound(1.0, speech, 2.5, speech, 2.5, speech, 2.5)
    whole = begin(tmp_path / "whole", new_session(Stub()), settings={})
    feed(whole, samples)
    whole.finish()
    broken = begin(tmp_path / "broken", new_session(Stub()), settings={})
    feed(broken, samples[: len(samples) * 2 // 3], heard=0.8)
    with (tmp_path / "broken" / JOURNAL).open("a") as file:
        file.write('{"event": "hea')  # the line that was being written
    broken.writer.close()
    broken.journal.close()
    *_, (job, _) = resume(tmp_path / "broken", new_session(Stub()))
    feed(job, samples[len(samples) * 2 // 3 :])
    job.finish()
    one, other = whole.session.report, job.session.report
    assert one is not None
    assert other is not None
    assert [s.text for s in other.transcript.segments] == [s.text for s in one.transcript.segments]
    assert [(c.id, c.state) for c in other.checks] == [(c.id, c.state) for c in one.checks]
    assert (tmp_path / "broken" / RECORDING).read_bytes() == (tmp_path / "whole" / RECORDING).read_bytes()
    assert read_journal(tmp_path / "broken" / JOURNAL).finished


def feed(job: LiveJob, samples: NDArray[np.float32], heard: float = 1.0) -> None:
    """Sound to disk, and the first share of it to the session."""
    for n in range(0, len(samples), 1600):
        kept = job.writer.add(samples[n : n + 1600])
        if n < heard * len(samples):
            job.hear(kept)


def test_a_journal_that_is_none_is_refused(tmp_path: Path) -> None:
    (tmp_path / JOURNAL).write_text("not json\n{}\n", encoding="utf-8")
    with pytest.raises(TranscriptError, match=f"{JOURNAL}:1"):
        read_journal(tmp_path / JOURNAL)


def test_while_not_listening_silence_is_recorded(tmp_path: Path, speech: NDArray[np.float32]) -> None:
    path = tmp_path / "in.wav"
    writer = WavWriter(path)
    writer.add(sound(0.5, speech, 0.5))
    writer.close()
    session = new_session(Stub())
    session.listening = False
    job = begin(tmp_path / "job", session, settings={})
    events: list[Event] = [e for group in job.events(FileSource(path=path, as_fast=True)) for e in group]
    job.finish()
    with wave.open(str(tmp_path / "job" / RECORDING)) as file:
        kept = np.frombuffer(file.readframes(file.getnframes()), "<i2")
    assert len(kept) == writer.samples
    assert not kept.any()
    assert events == []


# ---- with the real recogniser


def test_the_live_report_is_that_of_the_whole_recording(tmp_path: Path, speech: NDArray[np.float32]) -> None:
    path = tmp_path / "two.wav"
    writer = WavWriter(path)
    writer.add(sound(1.0, speech, 2.5, speech, 2.0))
    writer.close()
    session = new_session(open_recogniser(load_settings(environment={})))
    job = begin(tmp_path / "job", session, settings={})
    events = [e for group in job.events(FileSource(path=path, as_fast=True)) for e in group]
    job.finish()
    assert [e for e in events if isinstance(e, Heard) and e.settled]
    assert session.report is not None
    whole = whole_report(job.recording, session.trade, session.settings, session.phrases)
    found = agreement(session.report, whole)
    assert found.checks == 1.0
    assert found.differences == ()
    assert len(session.report.transcript.segments) == len(whole.transcript.segments) > 0


def test_the_second_look_passes_over_segments_without_words(speech: NDArray[np.float32]) -> None:
    recogniser = open_recogniser(load_settings(environment={}))
    samples = sound(0.5, speech, 0.5)
    heard = recogniser.words(samples, 100.0)
    empty = Segment(id="", recording="", start=100.0, end=100.4, heard="", text="", words=(), flags=("unheard",))
    looked = recogniser.second_look(samples, 100.0, (empty, *heard))
    assert looked[0] == empty
    assert [w.word for s in looked for w in s.words] == [w.word for s in heard for w in s.words]
    assert all(100.4 < w.start < 101.0 + len(speech) / RATE for s in looked for w in s.words)


def listening(tmp_path: Path, *more: str) -> subprocess.Popen[str]:
    path = tmp_path / "long.wav"
    writer = WavWriter(path)
    clip = load(SPOKEN)
    whole = clip.read(0, clip.duration_s)
    for _ in range(12):
        writer.add(sound(1.0, whole, 1.5))
    writer.close()
    command = [sys.executable, "-m", "voicereport", "listen", "--from", str(path), "--out", str(tmp_path / "job"),
               "--json", *more]  # fmt: skip
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=tmp_path,
                            env=os.environ | {"VOICEREPORT_HOME": str(tmp_path)})  # fmt: skip


def wait_for_sound(tmp_path: Path, seconds: float) -> None:
    path = tmp_path / "job" / RECORDING
    until = time.monotonic() + 120
    while time.monotonic() < until and not (path.is_file() and path.stat().st_size > 44 + 2 * RATE * seconds):
        time.sleep(0.05)


def test_a_killed_job_keeps_its_sound_and_is_finished_later(tmp_path: Path) -> None:
    process = listening(tmp_path)
    wait_for_sound(tmp_path, 3.0)
    process.kill()
    process.communicate()
    with wave.open(str(tmp_path / "job" / RECORDING)) as file:
        frames = file.getnframes()
        kept = file.readframes(frames)
    assert frames >= 3.0 * RATE
    with wave.open(str(tmp_path / "long.wav")) as file:
        assert file.readframes(frames) == kept  # byte for byte what was given
    done = subprocess.run([sys.executable, "-m", "voicereport", "listen", "--finish", str(tmp_path / "job"), "--json"],
                          capture_output=True, text=True, timeout=300, check=False, cwd=tmp_path)  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    last = json.loads(done.stdout.splitlines()[-1])
    assert last["event"] == "written"
    report = json.loads((tmp_path / "job" / "report.json").read_text(encoding="utf-8"))
    assert report["recordings"][0]["duration_s"] == pytest.approx(frames / RATE, abs=0.01)
    assert report["transcript"]["segments"]


def test_ctrl_c_ends_with_the_report_written(tmp_path: Path) -> None:
    process = listening(tmp_path)
    wait_for_sound(tmp_path, 4.0)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=120)
    assert process.returncode in (0, 1), err
    rows = [json.loads(line) for line in out.splitlines()]
    assert rows[-1]["event"] == "written"
    assert {"heard", "finished"} <= {row["event"] for row in rows}
    assert (tmp_path / "job" / "report.json").is_file()


def test_the_same_sound_gives_the_same_report_in_any_pieces(speech: NDArray[np.float32]) -> None:
    samples = sound(1.0, speech, 2.5, speech, 2.5)
    texts = []
    for piece in (700, 1600):
        session = new_session(Stub())
        for n in range(0, len(samples), piece):
            session.hear(samples[n : n + piece])
        session.finish()
        texts.append([replace(one.segment, recording="").text for one in session.settled])
    assert texts[0] == texts[1]
