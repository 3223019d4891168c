"""A corpus through the real pipeline: figures with intervals, thresholds that the command holds it to."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import ROOT

from voicereport.cli.app import run

Capture = pytest.CaptureFixture[str]
NARRATION = ROOT / "tests" / "corpus" / "shared" / "d01.yaml"


@pytest.fixture
def corpus(tmp_path: Path) -> Path:
    folder = tmp_path / "small"
    folder.mkdir()
    (folder / "d01.yaml").write_text(NARRATION.read_text(encoding="utf-8"), encoding="utf-8")
    return folder


def test_figures_come_with_intervals(corpus: Path, capsys: Capture) -> None:
    assert run(["evaluate", str(corpus), "--json"]) == 0
    figures = {row["name"]: row for row in json.loads(capsys.readouterr().out)["figures"]}
    assert figures["step_f1"]["low"] <= figures["step_f1"]["value"] <= figures["step_f1"]["high"]
    assert figures["stop_false_confirms"]["of"] > 0


def test_the_same_corpus_gives_the_same_figures(corpus: Path, capsys: Capture) -> None:
    outcomes = []
    for _ in range(2):
        run(["evaluate", str(corpus), "--json"])
        outcomes.append(json.loads(capsys.readouterr().out)["figures"])
    assert outcomes[0] == outcomes[1]


def test_a_missed_threshold_is_status_1_and_named(corpus: Path, tmp_path: Path, capsys: Capture) -> None:
    file = tmp_path / "thresholds.toml"
    file.write_text("[small]\nstep_f1 = 1.1\n", encoding="utf-8")
    assert run(["evaluate", str(corpus), "--thresholds", str(file)]) == 1
    assert "threshold: step_f1 is" in capsys.readouterr().err
    file.write_text("[small]\nstep_f1 = 0.0\n", encoding="utf-8")
    assert run(["evaluate", str(corpus), "--thresholds", str(file)]) == 0


def test_misses_are_listed_where_they_are_asked_for(corpus: Path, capsys: Capture) -> None:
    run(["evaluate", str(corpus)])
    short = capsys.readouterr().out
    run(["evaluate", str(corpus), "--misses"])
    assert len(capsys.readouterr().out) >= len(short)
