"""Transcripts in and out, checked by two independent parsers."""

from __future__ import annotations

import hashlib
import io
from pathlib import Path

import pytest
import srt
import webvtt
from hypothesis import given, settings
from hypothesis import strategies as st

from voicereport.captions import read_transcript, write_transcript_json, write_vtt
from voicereport.errors import TranscriptError
from voicereport.transcript import Recording, Segment, Transcript, Word, spread


def transcript(*texts: str) -> Transcript:
    segments = tuple(
        Segment(id=f"r1s{n:03}", recording="a.wav", start=n * 3.0, end=n * 3.0 + 2.5, heard=text, text=text,
                words=spread(text, n * 3.0, n * 3.0 + 2.5))
        for n, text in enumerate(texts, 1)
    )  # fmt: skip
    recording = Recording(name="a.wav", sha256="0" * 64, duration_s=60.0, speech_s=5.0)
    return Transcript(recordings=(recording,), segments=segments)


def write(folder: Path, name: str, text: str) -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def test_vtt_is_read_by_an_independent_parser() -> None:
    found = webvtt.from_string(write_vtt(transcript("five < six & seven --> eight", "the plug is out")))
    assert [c.start for c in found] == ["00:00:03.000", "00:00:06.000"]
    assert found[1].text == "the plug is out"


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.text(st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=30), min_size=1, max_size=4)
)
def test_what_is_written_as_vtt_is_read_back(texts: list[str]) -> None:
    import tempfile

    spoken = [" ".join(t.split()) for t in texts if t.strip()]
    if not spoken:
        return
    with tempfile.TemporaryDirectory() as folder:
        back = read_transcript(write(Path(folder), "a.vtt", write_vtt(transcript(*spoken))))
    assert [s.text for s in back.segments] == spoken


def test_srt_of_an_independent_writer_is_read(tmp_path: Path) -> None:
    from datetime import timedelta

    cues = [srt.Subtitle(n, timedelta(seconds=n), timedelta(seconds=n + 0.5), f"screw {n}\nis out") for n in (1, 2)]
    found = read_transcript(write(tmp_path, "a.srt", srt.compose(cues)))
    assert [(s.start, s.end, s.text) for s in found.segments] == [
        (1.0, 1.5, "screw 1 is out"),
        (2.0, 2.5, "screw 2 is out"),
    ]


def test_vtt_of_an_independent_writer_is_read(tmp_path: Path) -> None:
    made = webvtt.WebVTT()
    made.captions.append(webvtt.Caption("00:00:01.000", "00:00:02.500", "six screws out"))
    file = io.StringIO()
    made.write(file)
    found = read_transcript(write(tmp_path, "a.vtt", file.getvalue()))
    assert found.segments[0].words == spread("six screws out", 1.0, 2.5)


def test_entities_tags_notes_and_settings_of_vtt(tmp_path: Path) -> None:
    """W3C WebVTT, sections 4.1 and 4.2.2: entities, voice and class spans, NOTE and STYLE blocks, cue settings."""
    text = ("WEBVTT - a title\n\nNOTE\nnot spoken\n\nSTYLE\n::cue {}\n\nfirst\n00:01.000 --> 00:02.000 align:start\n"
            "<v Ann>5 &lt; 6 &amp; <c.loud>off</c>\n")  # fmt: skip
    path = write(tmp_path, "a.vtt", text)
    found = read_transcript(path)
    assert found.segments[0].text == "5 < 6 & off"
    assert found.recordings[0].sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert found.recordings[0].engine == "transcript"


@pytest.mark.parametrize(
    ("name", "text", "problem"),
    [
        ("a.vtt", "", "is empty"),
        ("a.vtt", "hello\n", "line 1: does not start with WEBVTT"),
        ("a.vtt", "WEBVTT\n\n00:01,000 --> 00:02,000\nout\n", "line 3: .*not a comma"),
        ("a.vtt", "WEBVTT\n\n00:01.000 --> 00:02.000\nout\n\nout again\n", "line 6: a cue without"),
        ("a.vtt", "WEBVTT\n\n00:03.000 --> 00:02.000\nout\n", "line 3: the cue ends before"),
        ("a.vtt", "WEBVTT\n\n00:71.000 --> 00:72.000\nout\n", "line 3: '00:71.000' is no time"),
        ("a.vtt", "WEBVTT\n\n00:01.000 -->\nout\n", "line 3: '' is no time"),
        ("a.vtt", "WEBVTT\n", "no cue with words"),
        ("a.srt", "1\n00:00:01,000 -> 00:00:02,000\nout\n", "line 1: a cue without"),
        ("a.srt", "1\n00:00:01 --> 00:00:02\nout\n", "line 2: '00:00:01' is no time"),
        ("a.json", "{", "line 1: is no JSON"),
        ("a.json", "[]", "holds no transcript"),
        ("a.json", '{"recordings": [], "segments": [{"id": "x"}]}', "not of the expected form"),
        ("a.txt", "out", "are not read"),
    ],
)
def test_faults_are_told_with_their_line(name: str, text: str, problem: str, tmp_path: Path) -> None:
    with pytest.raises(TranscriptError, match=problem):
        read_transcript(write(tmp_path, name, text))


def test_a_file_that_is_no_utf_8_is_told_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "a.vtt").write_bytes(b"WEBVTT\n\n00:01.000 --> 00:02.000\n\xe9t\xe9\n")
    with pytest.raises(TranscriptError, match="line 4: is not UTF-8"):
        read_transcript(tmp_path / "a.vtt")


def test_own_json_comes_back_whole(tmp_path: Path) -> None:
    one = transcript("six screws")
    segment = one.segments[0]
    doubtful = Word(word="six", start=3.0, end=3.4, probability=0.4, alternative="sixty")
    marked = Segment(id="r1s001", recording="a.wav", start=3.0, end=5.5, heard="sick screws", text="six screws",
                     words=(doubtful, segment.words[1]), flags=("low_confidence",))  # fmt: skip
    whole = Transcript(recordings=one.recordings, segments=(marked,), dropped=("a.wav 9.0 s: thank you",))
    assert read_transcript(write(tmp_path, "a.json", write_transcript_json(whole))) == whole


def test_two_recordings_share_one_clock_in_vtt() -> None:
    one = transcript("the plug is out")
    other = Recording(name="b.wav", sha256="1" * 64, duration_s=9.0, speech_s=1.0, visit=2)
    later = Segment(id="r2s001", recording="b.wav", start=1.0, end=2.0, heard="back in", text="back in",
                    words=spread("back in", 1.0, 2.0))  # fmt: skip
    both = Transcript(recordings=(*one.recordings, other), segments=(*one.segments, later))
    assert [c.start for c in webvtt.from_string(write_vtt(both))] == ["00:00:03.000", "00:01:01.000"]
