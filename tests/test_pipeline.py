"""The stages joined: several files are one job, files are whole or not there, same input gives the same bytes."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from voicereport import pipeline, render
from voicereport.captions import write_transcript_json
from voicereport.errors import AudioError, TemplateError, TranscriptError
from voicereport.report import Report
from voicereport.settings import load_settings
from voicereport.trades import load_trade
from voicereport.transcript import Recording, Segment, Transcript, spread

NARRATION = """WEBVTT

00:00:00.000 --> 00:00:06.000
Work order four four one zero, upright freezer, it's not freezing.

00:00:06.000 --> 00:00:10.000
I've pulled the plug out of the wall.

00:00:10.000 --> 00:00:16.000
Four screws out of the rear panel, and the rear panel is off.

00:00:16.000 --> 00:00:22.000
Rear panel is back on, three screws are back in.

00:00:22.000 --> 00:00:28.000
Cabinet is at minus nineteen Celsius. Labor was forty minutes.
"""
FILES = ("audit.html", "customer.html", "customer.pdf", "readings.csv", "reassembly.html", "report.json",
         "transcript.vtt")  # fmt: skip


def part(name: str, *texts: str, visits: int = 1) -> Transcript:
    recordings = tuple(
        Recording(name=name, sha256="", duration_s=9.0, speech_s=9.0, visit=v) for v in range(1, visits + 1)
    )
    segments = tuple(
        Segment(id=f"r1s{n:03}", recording=name, start=n, end=n + 1, heard=text, text=text,
                words=spread(text, n, n + 1))
        for n, text in enumerate(texts, 1)
    )  # fmt: skip
    return Transcript(recordings=recordings, segments=segments)


@pytest.fixture
def narration(tmp_path: Path) -> Path:
    path = tmp_path / "visit.vtt"
    path.write_text(NARRATION, encoding="utf-8")
    return path


# ---------------------------------------------------------------- several files, one job


def test_joined_transcripts_keep_every_word_in_order() -> None:
    joined = pipeline.join_transcripts([part("a.vtt", "one", "two"), part("b.vtt", "three")])
    assert [s.text for s in joined.segments] == ["one", "two", "three"]
    assert [s.id for s in joined.segments] == ["r1s001", "r1s002", "r2s001"]


def test_visits_go_on_counting_over_the_files() -> None:
    joined = pipeline.join_transcripts([part("a.vtt", "one"), part("b.vtt", "two"), part("c.vtt", "three")])
    assert [r.visit for r in joined.recordings] == [1, 2, 3]


def test_files_of_one_name_stay_apart() -> None:
    joined = pipeline.join_transcripts([part("v.vtt", "one"), part("v.vtt", "two"), part("v.vtt", "three")])
    assert [r.name for r in joined.recordings] == ["v.vtt", "v.vtt (2)", "v.vtt (3)"]
    assert [s.recording for s in joined.segments] == ["v.vtt", "v.vtt (2)", "v.vtt (3)"]


def test_a_missing_file_is_named_before_any_other_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    there = tmp_path / "there.vtt"
    there.write_text("WEBVTT\n", encoding="utf-8")
    monkeypatch.setattr(pipeline, "_read_transcripts", lambda _: pytest.fail("read before all files were looked for"))
    settings = load_settings(environment={})
    with pytest.raises(TranscriptError, match=r"gone\.srt: there is no such file"):
        pipeline.transcribe_files([there, tmp_path / "gone.srt"], settings)
    with pytest.raises(AudioError, match=r"gone\.m4a: there is no such file"):
        pipeline.transcribe_files([there, tmp_path / "gone.m4a"], settings)
    with pytest.raises(AudioError, match="is no file"):
        pipeline.transcribe_files([tmp_path], settings)


def test_a_narration_becomes_a_report_with_its_order_and_what_is_not_back(narration: Path) -> None:
    report = pipeline.report_files([narration], load_settings(environment={}))
    assert report.job.work_order is not None
    assert report.job.work_order.value == "4410"
    assert [(i.part, i.holds, i.count_out, i.count_in) for i in report.ledger.items if i.kind == "fastener"] == [
        ("screw", "rear panel", 4, 3)
    ]
    assert {c.id: c.state for c in report.checks}["power-isolated"] == "confirmed"
    assert report.status != "complete"


# ---------------------------------------------------------------- files


def test_all_files_are_written_and_nothing_else(narration: Path, tmp_path: Path) -> None:
    settings = load_settings(environment={})
    report = pipeline.report_files([narration], settings)
    written = pipeline.write_report(report, tmp_path / "out", settings, sources=[narration])
    assert sorted(path.name for path in written) == list(FILES)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out", "visit.vtt"]
    assert Report.model_validate_json((tmp_path / "out" / "report.json").read_bytes()) == report


def test_the_same_input_gives_the_same_bytes(narration: Path, tmp_path: Path) -> None:
    settings = load_settings(environment={})
    folders = [tmp_path / "one", tmp_path / "two"]
    for folder in folders:
        pipeline.write_report(pipeline.report_files([narration], settings), folder, settings)
    for name in FILES:
        assert (folders[0] / name).read_bytes() == (folders[1] / name).read_bytes(), name


def test_a_rendering_that_fails_leaves_the_folder_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "report.json").write_text("before")

    def fail(_report: Report, folder: Path, **_: object) -> None:
        (folder / "report.json").write_text("half")
        raise TemplateError("customer.html", "cannot be used")

    monkeypatch.setattr(render, "render_all", fail)
    with pytest.raises(TemplateError):
        pipeline.write_report(Report(), out, load_settings(environment={}))
    assert (out / "report.json").read_text() == "before"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_what_a_run_that_died_left_is_cleared_and_a_living_ones_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(render, "render_all", lambda _report, folder, **_: (folder / "report.json").write_text("x"))
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    left, living = tmp_path / f".out.unfinished-{dead.pid}", tmp_path / f".out.unfinished-{os.getppid()}"
    left.mkdir()
    living.mkdir()
    pipeline.write_report(Report(), tmp_path / "out", load_settings(environment={}))
    assert not left.exists()
    assert living.exists()


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(TemplateError, match="is a file"):
        pipeline.write_report(Report(), tmp_path / "out", load_settings(environment={}))
    assert (tmp_path / "out").read_text() == "mine"


@pytest.mark.parametrize("seconds", [0.2, 0.8, 1.6])
def test_a_killed_run_then_the_same_again_gives_the_undisturbed_result(narration: Path, seconds: float) -> None:
    folder = narration.parent
    command = [sys.executable, "-m", "voicereport", "report", narration.name, "--out"]
    subprocess.run([*command, "undisturbed"], cwd=folder, capture_output=True, timeout=120, check=False)
    with subprocess.Popen(
        [*command, "killed"], cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as run:
        time.sleep(seconds)
        run.send_signal(signal.SIGKILL)
    for path in (folder / "killed").glob("*.json"):
        json.loads(path.read_text(encoding="utf-8"))  # whole, if there
    subprocess.run([*command, "killed"], cwd=folder, capture_output=True, timeout=120, check=False)
    assert sorted(p.name for p in (folder / "killed").iterdir()) == list(FILES)
    for name in FILES:
        assert (folder / "killed" / name).read_bytes() == (folder / "undisturbed" / name).read_bytes(), name
    assert not list(folder.glob(".*unfinished*"))


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        (["2026-03-04T10:20:30+00:00"], "2026-03-04T10:20:30Z"),
        (["2026-03-04T10:20:30+02:00", None, "2026-03-04T09:00:00+00:00"], "2026-03-04T10:20:30+02:00"),
        (["2026-03-04T00:00:00"], None),  # no distance from UTC
        (["2026-03-04", "yesterday", None], None),
    ],
)
def test_when_a_job_was_recorded_is_what_its_files_say(said: list[str | None], wanted: str | None) -> None:
    """RFC 3339, section 5.6: a point in time has its distance from UTC."""
    recordings = [
        Recording(name=f"{n}.m4a", sha256="", duration_s=1.0, speech_s=1.0, recorded=moment)
        for n, moment in enumerate(said)
    ]
    assert pipeline.recorded_at(Transcript(recordings=tuple(recordings), segments=())) == wanted


def test_the_time_of_recording_comes_into_the_report(tmp_path: Path) -> None:
    spoken = part("a.m4a", "The plug is out of the wall.")
    own = tuple(replace(r, recorded="2026-03-04T10:20:30+01:00") for r in spoken.recordings)
    (tmp_path / "a.json").write_text(write_transcript_json(replace(spoken, recordings=own)), encoding="utf-8")
    settings = load_settings()
    read = pipeline.transcribe_files([tmp_path / "a.json"], settings)
    report = pipeline.understand(read, load_trade(settings.trade), settings)
    assert report.job.recorded_at is not None
    assert report.job.recorded_at.value == "2026-03-04T10:20:30+01:00"


@pytest.mark.parametrize(
    ("sentence", "found"),
    [
        ("The evaporator is a solid block of ice.", True),
        ("I found the drain blocked.", True),
        ("The leak detector finds a leak at the joint, and there is oil around it.", True),
        ("I've melted the ice off with the steamer.", False),
        ("Cut-resistant gloves are on, and I've brushed the loose frost off the fins.", False),
        ("Brushed the loose frost off.", False),
    ],
)
def test_what_the_speaker_did_is_no_finding(sentence: str, found: bool) -> None:
    settings = load_settings()
    report = pipeline.understand(part("a.vtt", sentence), load_trade(settings.trade), settings)
    assert bool(report.findings) is found
