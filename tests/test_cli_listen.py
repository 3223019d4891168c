"""`voicereport listen`: wrong usage, and a whole job from a file."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

SPOKEN = Path(__file__).parent / "data" / "audio_readings" / "reading-0870.wav"
Run = Callable[..., object]


@pytest.mark.parametrize(("options", "status", "named"), [
    (("--as-fast",), 2, "--from"), (("--resume", "a", "--finish", "b"), 2, "one of"),
    (("--from", "nothing.wav"), 3, "no such file"), (("--finish", "nowhere"), 3, "live job"),
    (("--from", "x.wav", "--trade", "none"), 3, "none"),
])  # fmt: skip
def test_wrong_usage_is_told_in_one_line(voicereport, options, status, named) -> None:
    outcome = voicereport("listen", *options)
    assert outcome.returncode == status, outcome.stderr
    assert named in outcome.stderr
    assert len(outcome.stderr.strip().splitlines()) == 1


def test_a_recording_as_fast_as_it_goes_gives_lines_and_a_report(voicereport, tmp_path: Path) -> None:
    outcome = voicereport("listen", "--from", SPOKEN, "--as-fast", "--out", "job", "--plain", "--compare")
    assert outcome.returncode == 1, outcome.stderr  # a reading alone leaves checks open
    assert "status: incomplete" in outcome.stdout
    assert "against the whole recording: checks 100.0%, steps 1.000" in outcome.stdout
    report = json.loads((tmp_path / "job" / "report.json").read_text(encoding="utf-8"))
    text = " ".join(segment["text"] for segment in report["transcript"]["segments"])
    assert any(text.strip()[:20] in line for line in outcome.stdout.splitlines())
    assert report["recordings"][0]["name"] == "recording.wav"
    again = voicereport("listen", "--from", SPOKEN, "--as-fast", "--out", "job")
    assert again.returncode == 3
    assert "--resume" in again.stderr


def test_every_line_of_json_is_an_event(voicereport, tmp_path: Path) -> None:
    outcome = voicereport("listen", "--from", SPOKEN, "--as-fast", "--out", "job", "--json")
    rows = [json.loads(line) for line in outcome.stdout.splitlines()]
    assert [row["event"] for row in rows][-2:] == ["finished", "written"]
    journal = [json.loads(line) for line in (tmp_path / "job" / "live.jsonl").read_text(encoding="utf-8").splitlines()]
    assert [r for r in journal if "event" in r] == rows[:-1]  # what was shown is on disk too
