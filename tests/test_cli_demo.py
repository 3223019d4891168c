"""The demo as people run it: three jobs, their status, what is open, where the files are."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

FILES = {"audit.html", "customer.html", "customer.pdf", "readings.csv", "reassembly.html", "report.json",
         "transcript.vtt"}  # fmt: skip


def report(folder: Path, job: str) -> dict[str, Any]:
    text = (folder / "voicereport-demo" / job / "report.json").read_text(encoding="utf-8")
    return json.loads(text)  # type: ignore[no-any-return]


def test_each_job_has_all_files(demo_folder: Path) -> None:
    jobs = sorted((demo_folder / "voicereport-demo").iterdir())
    assert [job.name for job in jobs] == ["freezer-complete", "freezer-faults", "sealed"]
    assert all({path.name for path in job.iterdir()} == FILES for job in jobs)


def test_the_account_tells_status_and_folder_of_each_job(demo_folder: Path) -> None:
    account = (demo_folder / "account.txt").read_text(encoding="utf-8")
    for job in ("freezer-complete", "freezer-faults", "sealed"):
        assert f"status: {report(demo_folder, job)['status']}" in account
        assert f"files: voicereport-demo/{job}\n" in account


def test_the_complete_job_is_complete_and_nothing_is_open(demo_folder: Path) -> None:
    made = report(demo_folder, "freezer-complete")
    assert {c["id"]: c["state"] for c in made["checks"] if c["state"] not in ("confirmed", "not_applicable")} == {}
    assert made["status"] == "complete"
    assert made["ledger"]["open"] == []


def test_the_faulty_job_is_blocked(demo_folder: Path) -> None:
    assert report(demo_folder, "freezer-faults")["status"] == "blocked"


def test_every_entry_rests_on_words_of_the_transcript(demo_folder: Path) -> None:
    for job in ("freezer-complete", "freezer-faults", "sealed"):
        made = report(demo_folder, job)
        segments = {s["id"]: s for s in made["transcript"]["segments"]}
        for kind in ("steps", "readings", "parts_used", "notes", "complaint", "findings", "cause", "correction"):
            for entry in made[kind]:
                assert entry["evidence"], (job, kind, entry)
                for piece in entry["evidence"]:
                    segment = segments[piece["segment"]]
                    assert piece["quote"] in segment["text"]
                    assert segment["start"] <= piece["start"] <= piece["end"] <= segment["end"]


def test_the_visits_of_the_sealed_job_are_two(demo_folder: Path) -> None:
    assert [r["visit"] for r in report(demo_folder, "sealed")["recordings"]] == [1, 2]
