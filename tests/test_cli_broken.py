"""Thirty broken inputs: a clear line for each, status 3, or a warning where the content can be used; nothing half.

What is broken about each recording follows RIFF/WAVE (the chunk sizes of the multimedia programming interface 1.0) and
Ogg (RFC 3533) from memory; the files are made here, byte by byte.
"""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import ROOT

from voicereport.cli.app import run

Make = Callable[[Path], None]

NOISE = random.Random(1).randbytes(20_000)
SPEECH = ROOT / "demo_audio" / "freezer-complete.ogg"
CUE = "00:00:00.000 --> 00:00:04.000\nFour screws out of the rear panel.\n"


def wav(samples: bytes, *, promised: int | None = None, rate: int = 16_000, bits: int = 16, kind: int = 1) -> bytes:
    """A mono WAVE file; promised: bytes of samples that its header tells of."""
    size = len(samples) if promised is None else promised
    form = struct.pack("<HHIIHH", kind, 1, rate, rate * bits // 8, bits // 8, bits)
    riff = min(36 + size, 0xFFFFFFFF)
    return b"RIFF" + struct.pack("<I", riff) + b"WAVEfmt " + struct.pack("<I", 16) + form + b"data" + struct.pack(
        "<I", size) + samples  # fmt: skip


def content(data: bytes | str) -> Make:
    return lambda path: (path.write_bytes(data) if isinstance(data, bytes) else path.write_text(data), None)[1]


def part_of_speech(start: float, end: float) -> Make:
    """A piece of a real recording, from one share of its bytes to another."""

    def make(path: Path) -> None:
        data = SPEECH.read_bytes()
        path.write_bytes(data[int(len(data) * start) : int(len(data) * end)])

    return make


def folder(path: Path) -> None:
    path.mkdir()


def nothing(_path: Path) -> None:
    return


#: what is broken, the file's name, how it is made
REFUSED: dict[str, tuple[str, Make]] = {
    "a recording that is not there": ("gone.m4a", nothing),
    "a transcript that is not there": ("gone.vtt", nothing),
    "a folder named as a recording": ("visit.wav", folder),
    "a folder named as a transcript": ("visit.vtt", folder),
    "an empty recording": ("empty.wav", content(b"")),
    "an empty recording without a suffix": ("empty", content(b"")),
    "text renamed to wav": ("notes.wav", content("Four screws out of the rear panel.\n" * 50)),
    "text renamed to mp3": ("notes.mp3", content("Plug is out.\n" * 500)),
    "random bytes as m4a": ("noise.m4a", content(NOISE)),
    "random bytes as amr": ("noise.amr", content(NOISE)),
    "a wav that is a header only": ("header.wav", content(wav(b""))),
    "a wav cut inside its header": ("cut.wav", content(wav(b"\0" * 100)[:20])),
    "a wav of a coding that does not exist": ("odd.wav", content(wav(b"\0" * 1000, kind=0x7777))),
    "an ogg cut inside its first page": ("cut.ogg", part_of_speech(0, 0.0002)),
    "a picture as a recording": ("picture.ogg", content(b"\x89PNG\r\n\x1a\n" + NOISE[:500])),
    "an archive as a recording": ("archive.mp4", content(b"PK\x03\x04" + NOISE[:500])),
    "an empty vtt": ("empty.vtt", content("")),
    "a vtt without its first line": ("headless.vtt", content(CUE)),
    "a vtt with no cue": ("silent.vtt", content("WEBVTT\n")),
    "a vtt of random bytes": ("noise.vtt", content(NOISE)),
    "a vtt whose cue ends before it starts": (
        "backwards.vtt",
        content("WEBVTT\n\n00:00:04.000 --> 00:00:01.000\nPlug is out.\n"),
    ),
    "a vtt with a time that is none": ("time.vtt", content("WEBVTT\n\n00:99:00.000 --> later\nPlug is out.\n")),
    "an empty srt": ("empty.srt", content("")),
    "an srt without times": ("timeless.srt", content("1\nFour screws out.\n\n2\nPlug is out.\n")),
    "an srt in another coding": ("coded.srt", content("1\n00:00:00,000 --> 00:00:01,000\n£ é".encode("utf-16"))),
    "an empty json": ("empty.json", content("")),
    "a json cut in half": ("cut.json", content('{"recordings": [{"name": "a"')),
    "a json that is a list": ("list.json", content("[1, 2, 3]")),
    "a json of something else": ("other.json", content('{"colour": "blue"}')),
    "a json with a word out of time": (
        "words.json",
        content('{"recordings": [], "segments": [{"id": "s", "start": 2, "end": 1, "text": 5}]}'),
    ),
}
#: what can be used, and must be said all the same
WARNED: dict[str, tuple[str, Make]] = {
    "a recording cut in half": ("half.ogg", part_of_speech(0, 0.5)),
    "a wav that promises more than it holds": ("short.wav", content(wav(b"\0\0" * 16_000, promised=3_200_000))),
    "a wav of silence only": ("silence.wav", content(wav(b"\0\0" * 32_000))),
}


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("VOICEREPORT_HOME", str(tmp_path / "home"))
    return tmp_path


def test_there_are_thirty() -> None:
    assert len(REFUSED) >= 30


@pytest.mark.parametrize("case", REFUSED)
def test_refused_in_one_line_that_names_the_file(case: str, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name, make = REFUSED[case]
    make(here / name)
    before = sorted(path.name for path in here.rglob("*"))
    status = run(["report", name, "--out", "out"])
    shown = capsys.readouterr()
    assert status == 3, shown.out
    assert name in shown.err
    assert shown.err.startswith("voicereport: ")
    assert shown.err.count("\n") == 1
    assert "Traceback" not in shown.err
    assert "a fault of the program" not in shown.err
    assert shown.out == ""
    assert sorted(path.name for path in here.rglob("*")) == before


@pytest.mark.parametrize("case", WARNED)
def test_used_with_a_warning_or_refused(case: str, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name, make = WARNED[case]
    make(here / name)
    status = run(["report", name, "--out", "out"])
    shown = capsys.readouterr()
    assert status in (0, 1, 3)
    assert name in shown.err
    assert "a fault of the program" not in shown.err
    assert (here / "out" / "report.json").is_file() == (status != 3)


def test_one_broken_file_among_good_ones_stops_the_job(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "good.vtt").write_text("WEBVTT\n\n" + CUE)
    (here / "bad.vtt").write_text("")
    assert run(["report", "good.vtt", "bad.vtt", "--out", "out"]) == 3
    assert "bad.vtt" in capsys.readouterr().err
    assert not (here / "out").exists()
