"""The demo's three reports entry by entry, against what a person wrote down from the spoken text (NAME.gold.toml)."""

from __future__ import annotations

import copy
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT
from gold_reports import perfect_report

from voicereport.errors import TranscriptError
from voicereport.evaluation.corpus import to_transcript
from voicereport.evaluation.demo_gold import DemoGold, corpus_of, disagreements, read_demo
from voicereport.evaluation.names import Names
from voicereport.evaluation.narrations import score_narrations
from voicereport.evaluation.run import report_of
from voicereport.settings import load_settings

DEMO = ROOT / "demo_audio"
JOBS = {gold.narration.name: gold for gold in read_demo(DEMO)}


# ------------------------------------------------------------------ the reports


@pytest.mark.parametrize("name", JOBS)
def test_the_report_of_the_recordings_is_right_in_every_entry(name: str, demo_folder: Path) -> None:
    text = (demo_folder / "voicereport-demo" / name / "report.json").read_text(encoding="utf-8")
    assert disagreements(JOBS[name], json.loads(text)) == ()


@pytest.mark.parametrize("name", JOBS)
def test_the_report_of_the_spoken_text_is_right_in_every_entry(name: str) -> None:
    assert disagreements(JOBS[name], report_of(JOBS[name].narration, load_settings())) == ()


# ------------------------------------------------------------------ the comparison, on made reports


def made_report(gold: DemoGold) -> dict[str, Any]:
    """The report that says just what the gold says, where it was said; optional items are left out."""
    wanted = copy.deepcopy(gold.narration.gold)
    for key in ("steps", "readings"):
        wanted[key] = [item for item in wanted[key] if not item.get("optional")]
    report = perfect_report(wanted)
    for key in ("steps", "readings", "notes"):
        for item, own in zip(report[key], wanted[key], strict=True):
            visit = item.pop("visit", 1)
            start, end = gold.places[visit, own["line"]]
            item["evidence"] = [{"recording": f"visit {visit}", "start": start, "end": end, "quote": "as said"}]
            item |= {"limit_low": item.pop("low", None), "limit_high": item.pop("high", None)}
    report["recordings"] = [{"name": f"visit {n}", "visit": n} for n in (1, 2)]
    return report | {entry: [{"text": " and ".join(words)}] for entry, words in gold.said.items()}


@pytest.mark.parametrize("name", JOBS)
def test_a_report_that_says_what_the_gold_says_agrees(name: str) -> None:
    assert disagreements(JOBS[name], made_report(JOBS[name])) == ()
    score = score_narrations([JOBS[name].narration], {name: made_report(JOBS[name])}, Names())
    assert score.narrations[name].status[0] == JOBS[name].status
    assert not score.false_confirms
    assert all(not m.missed and not m.spurious for m in score.narrations[name].misses.values())


def _count(report: dict[str, Any]) -> None:
    next(step for step in report["steps"] if step.get("count") == 6)["count"] = 5


def _late(report: dict[str, Any]) -> None:
    report["steps"][0]["evidence"][0] |= {"start": 100.0, "end": 101.0}


def _second_visit(report: dict[str, Any]) -> None:
    report["steps"][0]["evidence"][0]["recording"] = "visit 2"


def _limit(report: dict[str, Any]) -> None:
    next(reading for reading in report["readings"] if reading["limit_low"])["limit_low"] = 200


def _state(report: dict[str, Any]) -> None:
    next(check for check in report["checks"] if check["id"] == "drain-restored")["state"] = "missing"


CHANGES: list[tuple[Callable[[dict[str, Any]], object], str]] = [
    (lambda r: r["steps"].append({"action": "open", "part": "window", "status": "done"}), "steps: not in the gold"),
    (lambda r: r["steps"].pop(), "steps: lacking"),
    (_count, "count 6"),
    (_late, "line 4"),
    (_second_visit, "line 4"),
    (_limit, "low 220"),
    (lambda r: r["readings"][0].update(stage="as_left"), "stage as_found"),
    (lambda r: r["readings"][0].update(qualifier="about"), "qualifier exact"),
    (lambda r: r["parts_used"][0].update(part_number="DH353"), "parts_used: lacking"),
    (lambda r: r["notes"].pop(0), "notes: lacking"),
    (lambda r: r["ledger"]["items"][0].update(count_in=5), "fasteners: lacking"),
    (lambda r: r["ledger"]["open"].append({"id": r["ledger"]["items"][0]["id"]}), "open: not in the gold"),
    (lambda r: r["job"]["appliance"].update(serial="5026195"), "job serial"),
    (lambda r: r.update(cause=[]), "cause: lacks"),
    (lambda r: r.update(status="incomplete"), "status: incomplete"),
    (_state, "check drain-restored: missing"),
]


@pytest.mark.parametrize(("change", "complaint"), CHANGES)
def test_each_fault_is_named(change: Callable[[dict[str, Any]], object], complaint: str) -> None:
    report = made_report(JOBS["freezer-complete"])
    change(report)
    assert any(complaint in sentence for sentence in disagreements(JOBS["freezer-complete"], report))


def test_another_state_is_as_good_only_where_the_gold_says_so() -> None:
    """freezer-faults: power-isolated is missing, unclear is as good, confirmed never."""
    for state, right in (("missing", True), ("unclear", True), ("confirmed", False), ("contradicted", False)):
        report = made_report(JOBS["freezer-faults"])
        next(check for check in report["checks"] if check["id"] == "power-isolated")["state"] = state
        assert (disagreements(JOBS["freezer-faults"], report) == ()) is right, state


# ------------------------------------------------------------------ reading the files


def test_visits_are_recordings_of_their_own() -> None:
    transcript = to_transcript(JOBS["sealed"].narration)
    assert [r.visit for r in transcript.recordings] == [1, 2]
    assert len({s.id for s in transcript.segments}) == len(JOBS["sealed"].narration.lines)
    assert {s.recording for s in transcript.segments} == {r.name for r in transcript.recordings}


def test_the_demo_is_a_corpus_and_so_is_any_other_folder() -> None:
    assert [n.name for n in corpus_of(DEMO).narrations] == ["freezer-complete", "freezer-faults", "sealed"]
    assert corpus_of(ROOT / "tests" / "corpus" / "shared").sentences


@pytest.mark.parametrize(
    ("file", "old", "new", "problem"),
    [
        ("sealed.gold.toml", "line = 15", "line = 99", "names line 99"),
        ("sealed.gold.toml", 'labour-recorded = "confirmed"', 'labour-recorded = "done"', "done"),
        ("sealed.gold.toml", "status =", "stat =", "status"),
        ("sealed-visit-1.txt", "fridge", "freezer", "does not have the lines"),
        ("sealed-visit-1.txt", "\t", " ", "cannot be read"),
    ],
)
def test_files_that_cannot_be_used(tmp_path: Path, file: str, old: str, new: str, problem: str) -> None:
    for path in DEMO.glob("sealed*"):
        if path.suffix in (".toml", ".txt"):
            shutil.copy(path, tmp_path)
    text = (tmp_path / file).read_text(encoding="utf-8")
    assert old in text
    (tmp_path / file).write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(TranscriptError, match=problem):
        read_demo(tmp_path)
