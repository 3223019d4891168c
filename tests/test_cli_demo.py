"""The demo as people run it: three jobs, their status, what is open, where the files are."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT

FILES = {"audit.html", "customer.html", "customer.pdf", "readings.csv", "reassembly.html", "report.json",
         "transcript.vtt"}  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which the demo has run, with what it said in account.txt."""
    path = tmp_path_factory.mktemp("elsewhere")
    own = {name: value for name, value in os.environ.items() if not name.startswith("VOICEREPORT_")}
    own |= {"PYTHONPATH": str(ROOT), "VOICEREPORT_HOME": str(path / "home")}
    if "VOICEREPORT_CACHE" in os.environ:
        own["VOICEREPORT_CACHE"] = os.environ["VOICEREPORT_CACHE"]
    outcome = subprocess.run(
        [sys.executable, "-m", "voicereport", "demo"], cwd=path, env=own, capture_output=True, text=True, check=False
    )
    assert outcome.returncode == 0, outcome.stderr
    (path / "account.txt").write_text(outcome.stdout, encoding="utf-8")
    return path


def report(folder: Path, job: str) -> dict[str, Any]:
    text = (folder / "voicereport-demo" / job / "report.json").read_text(encoding="utf-8")
    return json.loads(text)  # type: ignore[no-any-return]


def test_each_job_has_all_files(folder: Path) -> None:
    jobs = sorted((folder / "voicereport-demo").iterdir())
    assert [job.name for job in jobs] == ["freezer-complete", "freezer-faults", "sealed"]
    assert all({path.name for path in job.iterdir()} == FILES for job in jobs)


def test_the_account_tells_status_and_folder_of_each_job(folder: Path) -> None:
    account = (folder / "account.txt").read_text(encoding="utf-8")
    for job in ("freezer-complete", "freezer-faults", "sealed"):
        assert f"status: {report(folder, job)['status']}" in account
        assert f"files: voicereport-demo/{job}\n" in account


def test_the_complete_job_is_complete_and_nothing_is_open(folder: Path) -> None:
    made = report(folder, "freezer-complete")
    assert {c["id"]: c["state"] for c in made["checks"] if c["state"] not in ("confirmed", "not_applicable")} == {}
    assert made["status"] == "complete"
    assert made["ledger"]["open"] == []


def test_the_faulty_job_is_blocked(folder: Path) -> None:
    assert report(folder, "freezer-faults")["status"] == "blocked"


def test_every_entry_rests_on_words_of_the_transcript(folder: Path) -> None:
    for job in ("freezer-complete", "freezer-faults", "sealed"):
        made = report(folder, job)
        segments = {s["id"]: s for s in made["transcript"]["segments"]}
        for kind in ("steps", "readings", "parts_used", "notes", "complaint", "findings", "cause", "correction"):
            for entry in made[kind]:
                assert entry["evidence"], (job, kind, entry)
                for piece in entry["evidence"]:
                    segment = segments[piece["segment"]]
                    assert piece["quote"] in segment["text"]
                    assert segment["start"] <= piece["start"] <= piece["end"] <= segment["end"]


def test_the_visits_of_the_sealed_job_are_two(folder: Path) -> None:
    assert [r["visit"] for r in report(folder, "sealed")["recordings"]] == [1, 2]
