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


@pytest.mark.parametrize(
    "line",
    [
        "First thing I did was reach around and pull the plug, it's laying on the linoleum now.",
        "I walk it out from the wall and unplug it, cord's sitting up on top of the fridge.",
        "I roll it out, pull the cord out of the outlet, and it's laying here on the floor by me.",
        "I slide the fridge out and pull the plug from the wall.",
        "First thing we did was go behind it and unplug it from the outlet.",
    ],
)
def test_who_tells_what_he_is_doing_asserts_all_of_it(line: str) -> None:
    assert ("isolate", "power supply") in done(line)


@pytest.mark.parametrize(
    "line",
    [
        "I tell them all, pull the plug.", "I say to the lad, unplug it first.", "I go, pull the plug, man.",
        "I always pull it out and unplug it.", "I pull it out, you unplug it.", "I'd walk it out and unplug it.",
        "I'll roll it out and unplug it.", "I roll it out when I can, and unplug it.",
        "First thing I did was ring him and say pull the plug.", "First thing I did was tell him, pull the plug.",
        "If I pull it out and unplug it, she'll defrost.", "Did I roll it out and unplug it?",
        "I never roll it out and unplug it.", "I want to roll it out and unplug it.",
        "I think I roll it out and unplug it.",
        "Normally I roll it out and unplug it.", "When I get here I roll it out and unplug it.",
        "Roll it out and unplug it.", "I check the label, unplug the fridge, it says.",
        "I put the note up, pull the plug before opening.", "I read the sheet and unplug it, it says.",
    ],
)  # fmt: skip
def test_an_order_a_habit_or_a_quotation_beside_an_act_isolates_nothing(line: str) -> None:
    assert ("isolate", "power supply") not in done(line)


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("I measured both coils of the damper motor. First is three hundred ohms, second is open.", "damper motor"),
        ("Put the meter across the compressor pins. Eleven point eight ohms.", "compressor"),
        ("Plug pin and the bottom panel, put the meter on, nought point one one, that'll do.", "earth"),
        ("Measured from the earth pin to the cabinet, nought point one.", "earth"),
    ],
)
def test_what_is_measured_at_pins_and_coils(line: str, part: str) -> None:
    assert ("measure", part) in done(line)


def test_a_piece_of_a_thing_is_that_thing_and_a_strip_of_foam_a_foam_strip() -> None:
    assert ("cut", "suction line") in done("So I cut out the bad piece of the suction line.")
    assert ("cut", "drain hose") in done("Cut out the rusty section of the drain hose.")


def test_joints_soaped_under_pressure_are_one_test_of_the_system() -> None:
    tested = [part for action, part in done("Nitrogen in, six bar, soaped every ring, and the needle hasn't moved.")
              if action == "leak_test"]  # fmt: skip
    assert tested == ["sealed system"]
    line = "Nitrogen at ten bar for twenty minutes and all the joints soaped, no bubbles."
    assert done(line) == [("leak_test", "sealed system")]
    assert done("I soaped the one joint, no bubbles.") == [("leak_test", "joint")]


@pytest.mark.parametrize(
    "line", ["I'll fetch it before I go.", "Tell him I'll ring him after.", "Lamp on with the door shut."]
)
def test_what_is_fetched_or_lit_is_no_step(line: str) -> None:
    assert steps(line) == []


def test_a_plug_called_one_is_off_its_part() -> None:
    line = "Then three wires off terminal block. Four plugs off inverter board and one off compressor."
    assert len([a for a, _ in done(line) if a == "disconnect"]) == 3
    assert done("Two leads off the fan and one off the lamp.") == [
        ("disconnect", "fan lead"),
        ("disconnect", "lamp lead"),
    ]


def test_foam_goes_back_as_the_strip_that_came_off() -> None:
    off = "There's a strip of foam along the top edge. Okay, peeled that back."
    assert done(off) == [("peel", "foam strip")]
    assert done(off, "Foam's pressed down along the top.") == [("reseal", "foam strip")]


def test_one_plug_told_under_two_names_is_one_step() -> None:
    line = "Did I plug the auger motor in? Yeah, auger plug's on."
    assert [a for a, _ in done("Auger motor plug's off.", line)].count("reconnect") <= 1


def test_a_lamp_among_plugs_is_unplugged() -> None:
    assert ("disconnect", "lamp connector") in done("Plugs. Fan, heater, thermistor, lamp. All four off.")


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (
            "Slackened the two screws on the ice maker and lifted it off its hooks.",
            [("loosen", "screw"), ("remove", "ice maker")],
        ),
        (
            "The lamp housing is in the way, so I've taken out its two screws, pulled the lamp plug, and it is down.",
            [("disconnect", "lamp plug"), ("remove", "lamp housing"), ("remove", "screw")],
        ),
        (
            "Took the drawer out, two screws out of the duct cover, and it's off.",
            [("remove", "drawer"), ("remove", "duct cover"), ("remove", "screw")],
        ),
        ("Three bolts in the hinge, and it's on.", [("refit", "bolt"), ("refit", "hinge")]),
        ("Third screw was stuck but it's out.", [("remove", "screw")]),
        ("Pulled the fan plug and it came off easy.", [("disconnect", "fan plug")]),
    ],
)
def test_it_is_the_part_and_not_its_several_fasteners(line: str, expected: list[tuple[str, str]]) -> None:
    assert done(line) == expected


@pytest.mark.parametrize(
    ("lines", "part"),
    [
        (["Steamed all that ice off, took me forty minutes."], "evaporator"),
        (["Fan motor's iced solid.", "Steamed the ice off it, took half an hour."], "fan motor"),
        (["Thawed the ice in the drain pan."], "drain pan"),
        (["Melted the ice off the fan motor with the steamer."], "fan motor"),
    ],
)
def test_ice_is_cleared_from_what_is_named_else_from_the_coil(lines: list[str], part: str) -> None:
    assert done(*lines) == [("thaw", part)]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Motor's in, three screws, one, two, three, tight.", [("refit", "motor"), ("refit", "screw")]),
        ("Four nuts on, and I've snugged them.", [("refit", "nut"), ("tighten", "nut")]),
        ("Screws in, all four, and I've tightened them.", [("refit", "screw"), ("tighten", "screw")]),
        ("All four screws tight.", [("tighten", "screw")]),
        ("Bottom screw's in, and I snug those two back down.", [("refit", "screw"), ("tighten", "screw")]),
        ("New valve's in. Valve's on its bracket.", [("replace", "valve")]),
        ("New shelf in, and the old drawer's back in.", [("refit", "drawer"), ("replace", "shelf")]),
        ("Drawers coming out, three. Three out.", [("remove", "drawer")]),
        ("Pulling the two leads off the capacitor. Both are off.", [("disconnect", "capacitor lead")]),
        ("Ties. Cutting them. Both cut.", [("cut", "tie")]),
        ("Unplugging the heater, both ends. Both ends off.", [("disconnect", "heater connector")]),
        ("Pulling the top two drawers. Bottom drawer's out.", [("remove", "bottom drawer"), ("remove", "drawer")]),
        ("I'm taking out two screws on the left. Two out on the right.", [("remove", "screw"), ("remove", "screw")]),
        ("Timer plug. Did I push that all the way? Let me look. It's in, it's seated.", [("reconnect", "timer plug")]),
    ],
)
def test_what_a_line_tells_twice_is_one_step(line: str, expected: list[tuple[str, str]]) -> None:
    assert done(line) == expected
    assert not [s for s in steps(line) if s[2] == "unclear"]


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Housing is up, one screw is in, and the second one I will put after testing.", 1),
        ("Grille's on with the one screw, I'll whack the other in before I go.", 1),
        ("Cover's on, one screw's in, and I'll do the second one when it's tested.", 1),
        ("Two bolts are in the hinge, the third I'll fit tomorrow.", 2),
        ("Cover's on, three screws in, I'll put the fourth in once it's tested.", 3),
    ],
)
def test_a_fastener_that_is_put_off_is_planned_and_counts_for_none(line: str, count: int) -> None:
    found = understand(narrated(line), TRADE, load_settings()).steps
    told = {s.status: s.count for s in found if s.part in {"screw", "bolt"}}
    assert told == {"done": count, "planned": 1}


@pytest.mark.parametrize(
    "line", ["Grille's on, one screw's in, and the second one's in too.", "Cover's on, one screw in, two screws in."]
)
def test_a_second_fastener_that_went_in_counts(line: str) -> None:
    found = understand(narrated(line), TRADE, load_settings()).steps
    assert {s.status for s in found} == {"done"}
    assert sum(s.count or 0 for s in found if s.part == "screw") == 2


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (
            "Control housing is up, its three plugs are in.",
            [("reconnect", "control housing plug"), ("refit", "control housing")],
        ),
        (
            "The control housing is down and its two plugs are off.",
            [("disconnect", "control housing plug"), ("remove", "control housing")],
        ),
        (
            "Ice maker's back on the hooks, and its own plug's clicked in.",
            [("reconnect", "ice maker plug"), ("refit", "ice maker")],
        ),
        ("The valve's out and its connector is off.", [("disconnect", "valve connector"), ("remove", "valve")]),
        ("The cover's down with its two plugs off.", [("disconnect", "plug"), ("remove", "cover")]),
    ],
)
def test_its_plugs_are_those_of_what_was_just_spoken_of(line: str, expected: list[tuple[str, str]]) -> None:
    assert done(line) == expected


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Recovered the gas and brazed in a new drier.", [("recover", "refrigerant"), ("replace", "filter drier")]),
        ("Unbrazed the compressor.", [("remove", "compressor")]),
        ("Unsoldered the old compressor.", [("remove", "compressor")]),
        ("He recovered the gas and brazed in a new drier last year.", []),
    ],
)
def test_a_joint_is_made_and_opened_in_the_words_of_the_trade(line: str, expected: list[tuple[str, str]]) -> None:
    assert done(line) == expected
