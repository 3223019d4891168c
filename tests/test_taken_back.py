"""What a later line takes back of an assertion, and what it leaves standing.

The jobs are invented; that such words take an assertion back is how people speak: common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.spoken_jobs import told
from voicereport.report import Report
from voicereport.statements.reader import load_reader
from voicereport.trades import Trade, load_trade

pytestmark = pytest.mark.skipif(load_reader() is None, reason="the second key is the reader's")

JOBS = {
    "the cooker's": ("power-isolated", ["Breaker's off.", "Breaker's not off, that was the cooker's.",
                                        "Took the rear cover off."]),
    "another plug": ("power-isolated", ["I've pulled the plug.", "I think that was the freezer's plug.",
                                        "Took the rear cover off."]),
    "the light is on": ("power-isolated", ["The plug's out of the wall.",
                                           "Light's still on inside, so I've pulled the wrong one.",
                                           "Rear panel's off."]),
    "another tap": ("water-isolated", ["The water's turned off under the sink.",
                                       "I think that was the dishwasher one though.",
                                       "Disconnected the supply line from the valve."]),
    "wrong range": ("absence-of-voltage-verified", ["I switched the breaker off.", "Tested dead at the terminals.",
                                                    "Actually that was on the ohms range.",
                                                    "Took the cover off the control box and unplugged the board."]),
    "no contact": ("capacitor-discharged", ["I pulled the plug.", "Bled the capacitor down.",
                                            "Not sure that resistor was making contact.",
                                            "Removed the run capacitor, fitted a new one."]),
    "it tripped": ("refrigerant-recovered", ["R134a this one.", "I've recovered the gas.",
                                             "Machine says recovery incomplete, it tripped halfway.",
                                             "Cut the filter drier out."]),
    "gauge sticks": ("system-leak-tested", ["New drier brazed in.", "Pressure tested at ten bar, held twenty minutes.",
                                            "I'm not sure it held, gauge sticks."]),
    "meter lead": ("earth-continuity-verified", ["New fan motor fitted.", "Earth's point one, passed.",
                                                 "Meter's lead was on the wrong side, so ignore that."]),
    "no click": ("connectors-restored", ["Unplugged the fan harness.", "Fan harness is plugged back in.",
                                         "I'm not sure that fan plug clicked."]),
    "an exception": ("connectors-restored", ["Unplugged the fan harness and the damper plug.",
                                             "Fan harness and damper plug are plugged back in.",
                                             "Bar the damper one, I'll do that later."]),
    "of the lead": ("earth-continuity-verified", ["New fan motor fitted.", "Earth's point one, passed.",
                                                  "On the extension lead, that is."]),
    "no, another plug": ("power-isolated", ["Is it plugged out, Ravi? Yes, sir, unplugged.",
                                            "No sir, the lamp, I unplugged that.", "Took the rear cover off."]),
    "told by others": ("power-isolated", ["I've pulled the plug out.",
                                          "Customer's plugged it back in without telling me.",
                                          "Took the evaporator cover off, four screws out."]),
}  # fmt: skip
STANDS = {
    "chat": ("power-isolated", ["I've pulled the plug.", "Mind the dog there.", "Took the rear cover off."]),
    "a reading": ("power-isolated", ["Plug's out.", "It was eleven degrees in there when I came.",
                                     "Took the rear cover off."]),
    "another check": ("power-isolated", ["Plug's out.", "Water's off at the stop tap.", "Took the rear cover off."]),
    "a question": ("power-isolated", ["Plug's out.", "Where did I leave my driver?", "Took the rear cover off."]),
    "said again": ("power-isolated", ["Plug's out.", "It's out, I have it here in my hand.",
                                      "Took the rear cover off."]),
    "another job": ("water-isolated", ["Water's off at the stop tap.", "I'll want a new hose for that.",
                                       "Took the inlet valve out."]),
}  # fmt: skip


def state(report: Report, check: str) -> str:
    return next(c.state for c in report.checks if c.id == check)


@pytest.fixture(scope="module")
def fridge() -> Trade:
    return load_trade("domestic-refrigeration")


@pytest.mark.parametrize("name", JOBS)
def test_words_that_take_an_assertion_back_leave_it_unconfirmed(name: str, fridge: Trade) -> None:
    check, lines = JOBS[name]
    assert state(told(fridge, *lines), check) != "confirmed"


@pytest.mark.parametrize("name", JOBS)
def test_without_those_words_it_is_confirmed(name: str, fridge: Trade) -> None:
    """Else the test above would prove nothing."""
    check, lines = JOBS[name]
    at = 1 if check in {"power-isolated", "water-isolated"} else 2
    assert state(told(fridge, *lines[:at], *lines[at + 1 :]), check) == "confirmed"


@pytest.mark.parametrize("name", STANDS)
def test_other_words_take_nothing_back(name: str, fridge: Trade) -> None:
    check, lines = STANDS[name]
    assert state(told(fridge, *lines), check) == "confirmed"


@pytest.mark.parametrize(
    "line",
    [
        "The other fella, he's saying yep, door seal's back in.",
        "Lad upstairs, he's telling me yeah, fan cover back on.",
    ],
)
def test_what_others_say_was_put_back_is_not_surely_back(fridge: Trade, line: str) -> None:
    """The reader by itself took these for plain assertions."""
    assert {s.status for s in told(fridge, line).steps} == {"unclear"}


@pytest.mark.parametrize(
    "line", ["Shauna did you plug the fan and the damper back in", "are the fan plug and the damper plug back on there"]
)
def test_a_question_asks_without_its_mark(fridge: Trade, line: str) -> None:
    """Recognisers and tired people leave the mark out."""
    lines = ["Plug's out.", "Unplugged the fan and the damper.", line]
    assert state(told(fridge, *lines), "connectors-restored") != "confirmed"


@pytest.mark.parametrize(
    "line",
    ["Is the plug out, it is, I've pulled it.", "Do we have power, no, I've switched it off at the breaker.",
     "Can you hear me, right, the plug's out of the wall."],
)  # fmt: skip
def test_a_question_with_its_answer_asserts_what_the_answer_does(fridge: Trade, line: str) -> None:
    assert state(told(fridge, line, "Took the rear cover off."), "power-isolated") == "confirmed"


@pytest.mark.parametrize("mark", ["", "?"])
@pytest.mark.parametrize(
    "answer", ["Yes, I'll pull it in a minute.", "Yes, once the kettle's boiled.", "Yeah, hold on, I'll do it now."]
)
def test_a_yes_that_is_only_planned_answers_nothing(fridge: Trade, mark: str, answer: str) -> None:
    lines = [f"Is the plug out{mark}", answer, "Took the rear cover off."]
    assert state(told(fridge, *lines), "power-isolated") != "confirmed"


def test_other_words_that_begin_so_make_no_exception(fridge: Trade) -> None:
    for line in (
        "No power light, good, fan cover off.",
        "Minus the shelves, it's empty. Fan cover off.",
        "Apart from the ice it's clean. Fan cover off.",
        "It's on the other side. Fan cover off.",
    ):
        assert state(told(fridge, "Plug's out of the wall.", line), "power-isolated") == "confirmed"


def test_a_part_that_is_in_the_post_is_not_in(fridge: Trade) -> None:
    assert told(fridge, "The door seal's in the post.").steps == ()


def test_an_outright_denial_stays_a_denial(fridge: Trade) -> None:
    lines = ["Unplugged the fridge.", "It's not unplugged, I didn't unplug it.", "Disconnected the fan."]
    assert state(told(fridge, *lines), "power-isolated") == "contradicted"


def test_a_line_that_goes_on_to_work_takes_back_with_its_first_sentence(fridge: Trade) -> None:
    lines = ["Breaker's off.", "That was the cooker's breaker. Four screws out of the back.", "Back cover off."]
    assert state(told(fridge, *lines), "power-isolated") != "confirmed"


def test_what_was_said_twice_is_taken_back_once(fridge: Trade) -> None:
    lines = ["Breaker's off.", "Off it is.", "That was the cooker's breaker.", "Back cover off."]
    assert state(told(fridge, *lines), "power-isolated") != "confirmed"


def test_the_reason_quotes_the_words_that_take_it_back(fridge: Trade) -> None:
    report = told(fridge, *JOBS["another plug"][1])
    check = next(c for c in report.checks if c.id == "power-isolated")
    assert [e.quote for e in check.evidence] == ["I think that was the freezer's plug."]
