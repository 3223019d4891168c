"""Ordinary words for what a check rests on, beside look-alikes that must not pass; and words that broke the reading.

The lines are invented; that people speak so is common practice, no source. That 300 microns is a vacuum and a gauge at
zero means that recovery is done: the report contract, rulings on system-evacuated and refrigerant-recovered.
"""

from __future__ import annotations

import pytest

from tests.spoken_jobs import told
from voicereport.report import Report
from voicereport.statements.reader import load_reader
from voicereport.trades import load_trade

pytestmark = pytest.mark.skipif(load_reader() is None, reason="the second key is the reader's")
FRIDGE = load_trade("domestic-refrigeration")


def _statuses(report: Report, action: str) -> list[str]:
    return [step.status for step in report.steps if step.action == action]


@pytest.mark.parametrize(
    ("line", "action"),
    [
        ("Tap closed, pipe empty, towel down.", "isolate"),
        ("The plug is now outside of the wall, on the floor where I see it.", "isolate"),
        ("Plug's out, on the dustbin lid where I can see it.", "isolate"),
        ("Recovered what was in it, twenty four grams, and the gauge is flat.", "recover"),
    ],
)
def test_a_plain_assertion_is_done(line: str, action: str) -> None:
    assert _statuses(told(FRIDGE, line), action) == ["done"]


@pytest.mark.parametrize(
    "line",
    [
        "Close the tap first, then the pipe.",
        "Plug's out on the ice maker.",
        "The plug should be outside of the wall, on the floor.",
        "Recovering what is in it now, and the gauge is flat.",
    ],
)
def test_a_look_alike_is_not(line: str) -> None:
    report = told(FRIDGE, line)
    assert "done" not in _statuses(report, "isolate") + _statuses(report, "recover")


@pytest.mark.parametrize(
    ("line", "state"),
    [
        ("Vacuum thirty minutes, three hundred microns, closed the valve and it stayed.", "confirmed"),
        ("Reading two hundred and eighty microns with it all pulled, nothing creeping.", "confirmed"),
        ("Three hundred microns and creeping.", "unclear"),
    ],
)
def test_a_vacuum_that_holds(line: str, state: str) -> None:
    report = told(FRIDGE, "Cut the old drier out and brazed the new one in.", line, "Thirty grams in by weight.")
    assert {c.id: c.state for c in report.checks}["system-evacuated"] == state


def test_the_plug_of_a_drain_is_no_connector() -> None:
    report = told(FRIDGE, "Drain hose plug pulled, water's out.", "Hose plug with its stopper, back in.")
    assert [(s.action, s.part) for s in report.steps][:2] == [("remove", "drain plug"), ("refit", "drain plug")]
    assert {c.id: c.state for c in report.checks}["connectors-restored"] != "confirmed"


@pytest.mark.parametrize(
    "line",
    [
        "Lead's out on the floor where you'd trip on it, still plugged in mind.",
        "After I pull the lead out of the wall I give it ten minutes.",
        "Stopcock's wound all the way anticlockwise and I can hear her filling.",
        "I've shut it, I've opened it to check, and left it open, daft.",
        "Charged it and it's holding, so no leak.",
        "Absence of voltage to be verified, both hots to ground and hot to hot.",
        "We could carry it to the carport, open both ends, no pilot out there.",
        "Check unplugged.",
        "Check tested dead.",
        "Vacuum three hundred microns.",
        "It's clear to open once it's ventilated and I've checked round for pilots and sparks.",
    ],
)
def test_what_only_sounds_like_it_confirms_nothing(line: str) -> None:
    report = told(FRIDGE, "It's a six hundred A box.", line)
    stop = {"power-isolated", "water-isolated", "system-leak-tested", "absence-of-voltage-verified",
            "ignition-sources-cleared", "system-evacuated"}  # fmt: skip
    assert not [c.id for c in report.checks if c.id in stop and c.state == "confirmed"]


def test_a_thing_that_is_only_called_by_an_article_breaks_nothing() -> None:
    lines = [
        "See that rear cover? Zip out the top pair, quarter inch hex.",
        "Same again down low, two, zip. And then there's the long one dead center, so get that too.",
        "Don't lose the long one, bro, it only goes in one hole.",
    ]
    assert {step.evidence[0].segment for step in told(FRIDGE, *lines).steps}
