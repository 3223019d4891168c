"""The table of simpler methods beside the product: what each of them hears, what is left out, how it is scored."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any, get_args

import numpy as np
import pytest
import yaml
from conftest import ROOT

from voicereport.cli.app import run
from voicereport.evaluation import baselines
from voicereport.evaluation.baselines import (
    Comparison,
    Keywords,
    Method,
    compare_methods,
    embedding_reading,
    fit,
    keyword_reading,
    lines_of,
    reader_off,
    reader_reading,
)
from voicereport.evaluation.corpus import read_corpus
from voicereport.evaluation.matching import Share
from voicereport.evaluation.tables import load_tables
from voicereport.report import Action, StepStatus
from voicereport.settings import Settings
from voicereport.statements.reader import Mark, Marked, load_reader

SETTINGS = Settings(trade="domestic-refrigeration")
POWER, WATER = "power-isolated", "water-isolated"
WORDS = ("plug", "out", "tap", "off", "will", "swapped", "belt", "kettle")


def safety(name: str, say: str, check: str, confirms: bool) -> dict[str, Any]:
    return {"id": name, "say": say, "kind": "safety", "check": check, "confirms": confirms}


def status(name: str, say: str, action: str, part: str, state: str) -> dict[str, Any]:
    return {"id": name, "say": say, "kind": "status", "action": action, "part": part, "status": state}


SENTENCES = [
    safety("a1", "Plug is out.", POWER, True),
    safety("a2", "I will pull the plug out.", POWER, False),
    safety("a3", "The kettle's plug is out.", POWER, False),
    status("a4", "Swapped the belt.", "replace", "belt", "done"),
    status("a5", "I will swap the belt.", "replace", "belt", "planned"),
]
FITTING = [
    safety("f1", "The plug came out of the wall.", POWER, True),
    safety("f2", "The tap is off.", WATER, True),
    safety("f3", "I will do the tap.", WATER, False),
    safety("f4", "I will see to that plug.", POWER, False),
    status("f5", "Belt swapped.", "replace", "belt", "done"),
    status("f6", "A belt will do.", "replace", "belt", "planned"),
]
KEYWORDS = Keywords(
    never=("will", "not", "?"),
    checks={POWER: ((("plug", "cord"), ("out", "off")),)},
    statuses={"planned": ("will",)},
    otherwise="done",
    actions={"replace": ("swap", "swapped")},
    parts={"drive belt": ("drive belt", "belt"), "belt tensioner": ("belt tensioner",)},
)


def words_of(texts: Sequence[str]) -> Any:
    """An embedding that counts words."""
    return np.array([[float(word in text.lower()) for word in WORDS] for text in texts])


def folder_of(place: Path, sentences: list[dict[str, Any]], narration: dict[str, Any] | None = None) -> Path:
    place.mkdir()
    (place / "sentences.yaml").write_text(yaml.safe_dump(sentences), encoding="utf-8")
    if narration:
        (place / "n01.yaml").write_text(yaml.safe_dump(narration), encoding="utf-8")
    return place


def narration_of(lines: list[str], **states: str) -> dict[str, Any]:
    empty: dict[str, Any] = {k: [] for k in ("steps", "readings", "parts_used", "fasteners", "open", "notes")}
    checks = dict.fromkeys(load_tables().checks, "not_applicable")
    checks |= {key.replace("_", "-"): state for key, state in states.items()}
    said = [{"t": 5.0 * n, "say": line} for n, line in enumerate(lines)]
    gold = empty | {"job": {}, "checks": checks}
    return {"id": "n01", "trade": "domestic-refrigeration", "style": "plain", "voice": "", "lines": said, "gold": gold}


def method(found: Comparison, name: str) -> Method:
    return next(row for row in found.methods if row.name == name)


@pytest.mark.parametrize(
    ("line", "confirmed"),
    [
        ("Plug's out.", True),
        ("The cord is, well, off", True),
        ("The plug isn’t out.", False),
        ("Is the plug out?", False),
        ("The plugs are out.", False),  # whole words only
        ("Out we go.", False),
    ],
)
def test_a_keyword_row_wants_one_word_of_each_group_and_none_that_takes_it_back(line: str, confirmed: bool) -> None:
    said = keyword_reading(KEYWORDS)(line, "")
    assert said["checks"] == ([{"id": POWER, "state": "confirmed"}] if confirmed else [])


def test_keyword_steps_take_the_longest_name_and_the_first_status() -> None:
    say = keyword_reading(KEYWORDS)
    assert say("I'll, no, I will swap the belt tensioner by the belt", "")["steps"] == [
        {"action": "replace", "part": "belt tensioner", "status": "planned"}
    ]
    assert say("Looked around", "")["steps"] == [{"action": "other", "part": "", "status": "done"}]


def test_the_shipped_keywords_speak_of_the_contract_s_checks_statuses_and_actions() -> None:
    known = baselines.load_keywords()
    assert set(known.checks) <= set(load_tables().checks)
    assert {*known.statuses, known.otherwise} <= set(get_args(StepStatus))
    assert set(known.actions) <= set(get_args(Action))


def test_a_keyword_table_that_cannot_be_used_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "evaluation.toml").write_text("[keywords]\nnever = []\n", encoding="utf-8")
    monkeypatch.setattr("voicereport.paths.models_dir", lambda: tmp_path)
    baselines.load_keywords.cache_clear()
    with pytest.raises(Exception, match=r"\[keywords\] cannot be used"):
        baselines.load_keywords()


def test_the_linear_layer_meets_the_conditions_of_its_least_loss() -> None:
    """At the maximum of a logistic likelihood with a constant, the mean chances are the shares of the classes
    (Hastie, Tibshirani, Friedman: The Elements of Statistical Learning, 2nd edition, section 4.4.1)."""
    rows = np.random.default_rng(3).normal(size=(60, 4))
    labels = ["a" if x > 0.5 else "b" if x > -0.3 else "c" for x in rows[:, 0] + 0.5 * rows[:, 1]]
    layer = fit(rows, labels, penalty=1.0)
    scores = rows @ layer.weights[:-1] + layer.weights[-1]
    chances = np.exp(scores) / np.exp(scores).sum(1, keepdims=True)
    shares = [labels.count(name) / 60 for name in layer.classes]
    assert chances.mean(0) == pytest.approx(shares, abs=1e-4)


def test_the_linear_layer_is_that_of_a_reference_library() -> None:
    linear = pytest.importorskip("sklearn.linear_model")
    rows = np.random.default_rng(4).normal(size=(50, 5))
    labels = ["a" if x > 0.4 else "b" if x > -0.4 else "c" for x in rows[:, 0] - rows[:, 2]]
    theirs = linear.LogisticRegression(C=1 / 0.5, tol=1e-10, max_iter=5000).fit(rows, labels)
    ours = fit(rows, labels, penalty=0.5)
    assert list(theirs.classes_) == list(ours.classes)
    assert np.allclose(ours.weights[:-1].T, theirs.coef_, atol=1e-3)


def test_the_embedding_confirms_the_check_that_its_words_are_nearest_to() -> None:
    say = embedding_reading(FITTING, words_of)
    assert say("plug out", "")["checks"] == [{"id": POWER, "state": "confirmed"}]
    assert say("tap off", "")["checks"] == [{"id": WATER, "state": "confirmed"}]
    assert say("will the tap", "")["checks"] == []
    assert say("will belt", "")["steps"] == [{"status": "planned"}]


def test_the_embedding_is_not_fitted_on_what_is_measured(tmp_path: Path) -> None:
    measured = folder_of(tmp_path / "measured", SENTENCES)
    same = {**SENTENCES[0], "id": "f9", "say": "PLUG is out"}
    other = folder_of(tmp_path / "other", [*FITTING, same])
    corpus = read_corpus(measured)
    with_both = compare_methods(corpus, SETTINGS, fitted_on=(measured, other), embed=words_of)
    assert with_both.fitted_on == len(FITTING)
    only_itself = compare_methods(corpus, SETTINGS, fitted_on=(measured,), embed=words_of)
    assert "no sentences to fit it on" in str(method(only_itself, "embedding").skipped)
    assert only_itself.fitted_on == 0


def test_the_embedding_is_skipped_by_name_without_its_extra(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(baselines, "_WEIGHTS", "no_such_package_of_weights")
    other = folder_of(tmp_path / "other", FITTING)
    corpus = read_corpus(folder_of(tmp_path / "measured", SENTENCES))
    found = compare_methods(corpus, SETTINGS, fitted_on=(other,))
    assert "extra `train`" in str(method(found, "embedding").skipped)
    assert any(line.startswith("embedding") and "skipped" in line for line in lines_of(found))


def test_shares_are_counted_over_the_sentences_that_they_are_about(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(baselines, "load_keywords", lambda: KEYWORDS)
    corpus = read_corpus(folder_of(tmp_path / "measured", SENTENCES))
    row = method(compare_methods(corpus, SETTINGS, fitted_on=()), "keywords")
    assert row.figures["sentence_stop_false_confirms"] == Share(right=1, of=2)  # the kettle's plug
    assert row.figures["sentence_confirmed"] == Share(right=1, of=1)
    assert row.figures["sentence_status"] == row.figures["sentence_step"] == Share(right=2, of=2)
    assert row.figures["confirmed"] is None  # no narrations


def test_a_narration_is_confirmed_by_any_of_its_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(baselines, "load_keywords", lambda: KEYWORDS)
    lines = ["Hello there.", "Plug is out.", "I will swap the belt."]
    right = folder_of(tmp_path / "right", SENTENCES, narration_of(lines, power_isolated="confirmed"))
    wrong = folder_of(tmp_path / "wrong", SENTENCES, narration_of(lines, power_isolated="unclear"))
    figures = [
        method(compare_methods(read_corpus(place), SETTINGS, fitted_on=()), "keywords").figures
        for place in (right, wrong)
    ]
    stops = len(load_tables().stop)
    assert figures[0]["confirmed"] == Share(right=1, of=1)
    assert figures[0]["stop_false_confirms"] == Share(right=0, of=stops - 1)
    assert figures[1]["confirmed"] == Share(right=0, of=0)
    assert figures[1]["stop_false_confirms"] == Share(right=1, of=stops)


def test_the_reader_alone_confirms_from_one_half_and_takes_its_marks_as_they_are() -> None:
    mark = Mark(action="remove", status="done", sure=0.9, status_sure=0.9, first=0, last=4, things=((5, 9), (14, 18)))
    bare = Mark(action="inspect", status="planned", sure=0.4, status_sure=0.4, first=0, last=4)
    marked = Marked(marks=(mark, bare), asserts={POWER: 0.5, WATER: 0.499}, denies={})
    seen = []
    reader: Any = SimpleNamespace(read=lambda line, before: seen.append((line, before)) or marked)
    said = reader_reading(reader)("Took belt  and pump", "Right.")
    assert seen == [("Took belt and pump", "Right.")]
    assert said["checks"] == [{"id": POWER, "state": "confirmed"}]
    assert [(s["action"], s["part"], s["status"]) for s in said["steps"]] == [
        ("remove", "belt", "done"),
        ("remove", "pump", "done"),
        ("inspect", "", "planned"),
    ]


def test_rules_alone_leave_the_reader_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VOICEREPORT_READER", "on")
    before = load_reader()
    with reader_off():
        assert load_reader() is None
    assert os.environ["VOICEREPORT_READER"] == "on"
    assert (load_reader() is None) == (before is None)


@cache
def unloaded() -> None:
    """Where the reader's file is not installed."""


def test_without_a_reader_its_rows_are_skipped_by_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicereport.statements.reader.load_reader", unloaded)
    monkeypatch.setattr("voicereport.statements.load_reader", unloaded)
    found = compare_methods(read_corpus(folder_of(tmp_path / "small", SENTENCES)), SETTINGS, fitted_on=())
    assert {row.name for row in found.methods if row.skipped} == {"embedding", "reader", "both"}
    assert method(found, "rules").figures["sentence_stop_false_confirms"] == Share(right=0, of=2)


def test_the_command_gives_the_table_with_intervals(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place = folder_of(tmp_path / "small", SENTENCES)
    monkeypatch.chdir(tmp_path)
    assert run(["evaluate", str(place), "--compare", "--json"]) == 0
    rows = {row["name"]: row for row in json.loads(capsys.readouterr().out)["methods"]}
    assert list(rows) == ["keywords", "embedding", "rules", "reader", "both"]
    share = rows["rules"]["figures"]["sentence_stop_false_confirms"]
    # Wilson (1927) for 0 of 2: upper end z^2 / (n + z^2) = 3.8415 / 5.8415
    assert (share["low"], share["high"]) == (0.0, pytest.approx(0.6576, abs=1e-4))
    assert run(["evaluate", str(place), "--compare"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert any(line.startswith("our rules alone") and "0/2 0.0 (0.0-65.8)" in line for line in lines)


def test_the_fitting_corpora_are_never_the_test_part() -> None:
    assert {folder.name for folder in baselines.FITTED_ON} == {"shared", "development"}
    assert all((ROOT / folder).is_dir() for folder in baselines.FITTED_ON)
