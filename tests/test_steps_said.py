"""Which steps a line comes to, as people say it at work: what is an act, of which thing, and what only describes.

Expected values: the report contract (a step is an act that somebody commits himself to; one step an event; what is only
seen is none). How people say it: common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.spoken_jobs import narrated
from voicereport.pipeline import understand
from voicereport.settings import load_settings
from voicereport.trades import load_trade

TRADE = load_trade("domestic-refrigeration")


def steps(*lines: str) -> list[tuple[str, str, str]]:
    """(action, part, status) of the last line's steps, in the alphabet's order."""
    before = len(understand(narrated(*lines[:-1]), TRADE, load_settings()).steps) if lines[:-1] else 0
    found = understand(narrated(*lines), TRADE, load_settings()).steps[before:]
    return sorted((s.action, s.part, s.status) for s in found)


def done(*lines: str) -> list[tuple[str, str]]:
    """(action, part) of the last line's steps that are done."""
    return [(action, part) for action, part, status in steps(*lines) if status == "done"]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Two clips off and so is the shroud.", [("remove", "clip"), ("remove", "shroud")]),
        ("Four screws back in, and so's the cover.", [("refit", "cover"), ("refit", "screw")]),
        ("The lid's on, as is the grille.", [("refit", "grille"), ("refit", "lid")]),
        ("Drawer's out, same with the shelf.", [("remove", "drawer"), ("remove", "shelf")]),
        ("Two bolts off the bracket, likewise the bracket.", [("remove", "bolt"), ("remove", "bracket")]),
    ],
)
def test_a_part_may_go_the_way_of_what_was_told_before_it(line: str, expected: list[tuple[str, str]]) -> None:
    assert done(line) == expected


@pytest.mark.parametrize(
    "line", ["The compressor is running and so's the fan.", "The fan's noisy and so is the compressor."]
)
def test_what_is_only_said_of_two_things_moves_neither(line: str) -> None:
    assert done(line) == []


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Pulled the hose off, and the clip on the end of it is rusted.", ["hose"]),
        ("Took the cover off and the fan behind it is iced up.", ["cover"]),
        ("Took the cover off and the shelf out.", ["cover", "shelf"]),
        ("Cover's off, and the drawer's off too.", ["cover", "drawer"]),
        ("Baskets out, both, and the divider.", ["basket", "divider"]),
    ],
)
def test_of_what_a_later_clause_speaks_the_act_before_it_is_not(line: str, expected: list[str]) -> None:
    assert [part for _, part in done(line)] == expected


@pytest.mark.parametrize(
    "line",
    ["The flap has snapped off.", "Handle's fallen off.", "The seal was torn off on one side.",
     "Main board's past saving.", "So the compressor is beyond repair.", "I never had one of these leak.",
     "Never seen one of them fail the earth test."],
)  # fmt: skip
def test_damage_and_experience_are_no_steps(line: str) -> None:
    assert steps(line) == []


def test_what_is_done_beside_such_words_is_a_step() -> None:
    assert done("The board's beyond repair, so I fitted a new one.") == [("replace", "control board")]
    assert done("The door bin's come off in my hand.") == [("remove", "door bin")]
    assert ("measure", "earth", "not_done") in steps("I never had a chance to test the earth.")


def test_a_test_that_was_not_done_is_the_one_just_spoken_of() -> None:
    assert ("measure", "earth", "not_done") in steps("You'd want an earth test now. Not done one.")


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("Heater. Plug off it, metered it, two hundred and sixty ohms.", "heater"),
        ("Pulled the wires off the compressor and metered it, four ohms.", "compressor"),
        ("Took the plug off the sensor and put the meter on it, five kilo ohms.", "sensor"),
        ("Pulled the fan plug and metered it, two hundred and thirty volts.", "fan plug"),
    ],
)
def test_what_is_metered_beside_its_plug_is_the_part_but_for_a_voltage(line: str, part: str) -> None:
    assert ("measure", part) in done(line)


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("Unplugged the light socket.", "light socket connector"),
        ("I unplugged the dial unit.", "dial unit connector"),
        ("Unplugged the drain.", "drain"),
    ],
)
def test_what_is_unplugged_has_a_plug_but_for_what_flows(line: str, part: str) -> None:
    assert [p for _, p in done(line)] == [part]


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("Plugged it in and ran the damper test.", "damper"),
        ("Plugged it in, switched it on and ran the damper.", "damper"),
        ("Ran it up and the damper opened.", "appliance"),
        ("I ran her. Damper did its dance.", "appliance"),
    ],
)
def test_one_run_is_of_what_was_run(line: str, part: str) -> None:
    assert [p for a, p in done(line) if a == "run_test"] == [part]


def test_a_leak_test_of_it_is_of_what_was_just_closed() -> None:
    assert ("leak_test", "process tube") in done("Process tube pinched and capped. Detector round it, clear.")
    assert ("leak_test", "sealed system") in done("Process tube pinched. Nitrogen at ten bar, it held.")


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("And I brazed me on a new process tube.", [("replace", "process tube")]),
        ("Brazed a new joint on the suction line.", [("repair", "joint")]),
        (
            "Threw that drain tube away and put in the new style one.",
            [("remove", "drain tube"), ("replace", "drain tube")],
        ),
        ("Steamed the rest of the coil clear.", [("thaw", "evaporator")]),
        ("Some fins were bent over, so I have combed them straight.", [("repair", "evaporator")]),
        (
            "Blue pipe's off the filter head, white one's off.",
            [("disconnect", "blue pipe"), ("disconnect", "white pipe")],
        ),
    ],
)
def test_which_thing_is_meant(line: str, expected: list[tuple[str, str]]) -> None:
    assert done(line) == expected


def test_the_pair_of_them_are_the_two_named_last() -> None:
    both = [("remove", "fan shroud"), ("remove", "light cover")]
    assert done("Light cover beside the fan shroud.", "Lifted the pair of them off.") == both


def test_where_tubes_lead_puts_none_back_though_a_plug_is_out() -> None:
    where = "For the record, blue tube's on the left port, clear tube's on the right."
    assert done("Pulled the fan plug.", where) == []


def test_totals_tell_nothing_anew() -> None:
    out = "Four screws out of the rear panel, and the panel's off."
    assert steps(out, "Totals, then. Four on the panel, that is four screws out.") == []
    assert ("remove", "screw") in done("Totals were fine. Two screws out of the cover.")
