"""Connectors that are told apart: by their pins, by what they came off, and from the plug in the wall.

The lines are invented; that a plug of two pins is not one of six is common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.spoken_jobs import told
from voicereport.report import LedgerItem, Report
from voicereport.statements.reader import load_reader
from voicereport.trades import Trade, load_trade

pytestmark = pytest.mark.skipif(load_reader() is None, reason="the acts are the reader's")


@pytest.fixture(scope="module")
def fridge() -> Trade:
    return load_trade("domestic-refrigeration")


def open_items(report: Report) -> dict[str, float]:
    """Connectors that are off at the end, and how many."""
    items: tuple[LedgerItem, ...] = report.ledger.items
    return {i.part: i.count_out - i.count_in for i in items if i.kind == "connector" and i.state == "open"}


def state(report: Report, check: str) -> str:
    return next(c.state for c in report.checks if c.id == check)


ONE_OF_TWO = [
    (["Unplugged the two pin plug and the six pin plug on the board.", "The two pin plug is back in."], "six pin plug"),
    (["Unplugged the six pin and the two pin on the board.", "Six pin's pushed home."], "two pin connector"),
    (["Unplugged the eight way and the three way connector.", "Three way connector's plugged in again."],
     "eight way connector"),
    (["Unplugged the two pin plug from the damper and the four pin plug from the fan.",
      "The four pin plug is back in."], "two pin plug"),
    (["Pulled the white plug off the board and the white plug off the fan.", "White plug's back in."], "white plug"),
    (["Unplugged the fan.", "Unplugged the light.", "Unplugged the sensor.", "Fan and sensor plugged back in."],
     "light connector"),
]  # fmt: skip


@pytest.mark.parametrize(("lines", "left"), ONE_OF_TWO)
def test_one_of_two_back_leaves_the_other_open(lines: list[str], left: str, fridge: Trade) -> None:
    report = told(fridge, *lines)
    assert open_items(report) == {left: 1}
    assert state(report, "connectors-restored") != "confirmed"


NOT_ALL = [
    ["Pulled a bunch of connectors off the main board.", "The six way connector is plugged in again."],
    ["Unplugged the heater.", "Reseated the six pin on the board.", "Reconnected the six pin."],
    ["Blue wire off the compressor relay.", "Blue wire off the compressor overload.", "Blue wire back on."],
    ["Four wires off the compressor.", "Brown's on, blue's on, so three wires are on."],
    ["Pulled the fan plug, the six pin, the four pin.", "Fan plug's back on."],
    ["Disconnected the fan plug, the heater plug, the six pin.", "Fan plug and heater plug back on."],
    ["Unplugged the six pin from the board and the four pin from the fan.", "Six pin's back on the board."],
]


@pytest.mark.parametrize("lines", NOT_ALL)
def test_what_goes_back_is_no_other_one(lines: list[str], fridge: Trade) -> None:
    report = told(fridge, "Unplugged it at the wall.", *lines)
    assert state(report, "connectors-restored") != "confirmed"


def test_one_of_a_number_goes_back_by_its_pins(fridge: Trade) -> None:
    lines = ["Three plugs came off the module.",
             "White one's in, blue one's in, and that's the little two way in, so all three."]  # fmt: skip
    assert open_items(told(fridge, *lines)) == {}


def test_a_plug_by_its_pins_is_not_the_one_in_the_wall(fridge: Trade) -> None:
    off = told(fridge, "Pulled the six pin.", "Disconnected the fan.")
    assert state(off, "power-isolated") != "confirmed"
    on = told(fridge, "Unplugged it at the wall.", "Disconnected the fan harness.", "Four pin back on.")
    assert state(on, "power-restored") != "confirmed"


def test_a_three_pin_plug_is(fridge: Trade) -> None:
    report = told(fridge, "Plug's out.", "Back cover on, two screws.", "Three pin plug back in.")
    assert state(report, "power-restored") == "confirmed"


def test_a_part_with_its_pins_is_one_connector(fridge: Trade) -> None:
    report = told(fridge, "Disconnected the compressor three pin.")
    assert [(s.part, s.count) for s in report.steps] == [("compressor connector", None)]


@pytest.mark.parametrize(
    "line",
    [
        "Two screws out of the top. Three out of the bottom, third one's a long one.",
        "Two screws out. Then three screws out, on the third side.",
        "Top row, three screws out. Bottom row. Three out.",
    ],
)
def test_screws_of_two_places_are_added(line: str, fridge: Trade) -> None:
    report = told(fridge, line, "Three screws back in.")
    assert state(report, "fasteners-balanced") != "confirmed"


def test_both_back_leave_nothing_open(fridge: Trade) -> None:
    lines = ONE_OF_TWO[0][0]
    report = told(fridge, *lines, "Six pin plug is back in.")
    assert open_items(report) == {}
    assert state(report, "connectors-restored") == "confirmed"


def test_the_number_of_pins_is_no_number_of_connectors(fridge: Trade) -> None:
    report = told(fridge, "Unplugged the six pin and the two pin on the board.")
    assert [(s.part, s.count) for s in report.steps] == [("six pin connector", None), ("two pin connector", None)]


def test_what_only_says_of_what_sort_a_plug_is_names_no_second_one(fridge: Trade) -> None:
    report = told(fridge, "Unplugged the ice maker, it's a four pin.", "Four pin's plugged back in, felt it latch.")
    assert open_items(report) == {}


def test_plugs_counted_aloud(fridge: Trade) -> None:
    lines = ["From the thermostat I take off the wires, one, two, three, four.",
             "Brown on the three, blue on the four, grey on the six, so three wires are on."]  # fmt: skip
    report = told(fridge, *lines)
    assert sum(open_items(report).values()) >= 1
    assert state(report, "connectors-restored") != "confirmed"


def test_a_part_unplugged_is_no_way_the_supply_was_cut(fridge: Trade) -> None:
    """Hard wired at a breaker, the supply must be tested dead: 29 CFR 1910.333(b)(2)(iv)(B)."""
    report = told(fridge, "Breaker's off.", "Unplugged the light.", "Took the wires off the thermostat.")
    assert state(report, "absence-of-voltage-verified") == "missing"


def test_live_and_neutral_off_the_block_ask_for_a_test(fridge: Trade) -> None:
    """The same rule."""
    report = told(fridge, "Fused spur switched off.", "Live and neutral out of the terminal block.")
    assert state(report, "absence-of-voltage-verified") == "missing"


@pytest.mark.parametrize("part", ["compressor", "evaporator"])
def test_a_part_of_the_sealed_system_that_is_replaced_opens_it(part: str, fridge: Trade) -> None:
    """40 CFR 82 subpart F: what is opened is recovered first."""
    report = told(fridge, "R one three four A, this one.", f"New {part} brazed in.")
    for check in ("refrigerant-recovered", "system-leak-tested", "system-evacuated"):
        assert state(report, check) == "missing"


def test_an_earth_tag_is_no_tag_on_the_supply(fridge: Trade) -> None:
    report = told(fridge, "Breaker's off.", "Earth tag's back on the panel.")
    assert "lock_or_tag" not in {c.claim for c in report.claims}


def test_opened_water_is_water(fridge: Trade) -> None:
    lines = ["Supply valve closed and the old filter out.", "New filter in, opened the water to flush it through.",
             "Drip at the inlet valve, so I whipped the inlet valve out there and then."]  # fmt: skip
    assert state(told(fridge, *lines), "water-isolated") != "confirmed"


def test_a_pronoun_after_its_part_is_no_second_thing(fridge: Trade) -> None:
    report = told(fridge, "Freezer shelves are out.", "Board cover, one, two, three screws, and it's off.")
    moved = [(s.part, s.count) for s in report.steps]
    assert moved == [("freezer shelf", None), ("board cover", None), ("screw", 3)]


def test_a_hinge_pin_is_no_connector(fridge: Trade) -> None:
    report = told(fridge, "Took the hinge cover, hinge pin, out of the top.")
    assert [s.part for s in report.steps] == ["hinge cover", "hinge pin"]


@pytest.mark.parametrize(
    ("off", "then"),
    [
        ("Motor plug's off.", "Loom's up on the one tie and it swings."),
        ("Switch plug's off.", "Cable's poked through the hinge, and I've shut the door on it."),
        ("Fan plug's off and the loom's out of its clips.", "The loom's laid back along its channel."),
    ],
)
def test_wiring_that_is_put_where_it_runs_puts_no_plug_on(off: str, then: str, fridge: Trade) -> None:
    """A stop-level check passed on the cable of a plug that nobody had put back."""
    assert state(told(fridge, off, then), "connectors-restored") == "missing"


def test_a_plug_that_is_on_lays_no_wiring(fridge: Trade) -> None:
    lines = [
        "Two plugs off, lamp and damper, and the loom's out of its clips.",
        "Damper plug's clicked in.",
        "Lamp plug's in.",
    ]
    assert state(told(fridge, *lines), "wiring-restored") != "confirmed"


def test_metal_that_is_joined_to_the_earth_pin_is_no_connector_put_back(fridge: Trade) -> None:
    lines = ["Fan plug's off.", "That's the metal you can lay a hand on, all of it joined to that pin."]
    assert state(told(fridge, *lines), "connectors-restored") != "confirmed"


def test_plugs_that_came_off_under_one_name_go_on_one_by_one(fridge: Trade) -> None:
    out = ["Three leads off the compressor."]
    assert state(told(fridge, *out, "Leads. Two on. Third one, stiff. On."), "connectors-restored") == "confirmed"
    assert state(told(fridge, *out, "Leads. Two on."), "connectors-restored") == "missing"


def test_a_three_way_plug_is_one_plug(fridge: Trade) -> None:
    report = told(fridge, "Fan plug's off.", "Three-way plug pushed home till it latched.")
    assert [s.count for s in report.steps if s.action == "reconnect"] == [None]
    assert state(report, "connectors-restored") != "confirmed"  # which plug that is was not said


def test_a_plug_of_another_name_is_not_the_one_that_is_off(fridge: Trade) -> None:
    assert (
        state(told(fridge, "Fan plug's off.", "The compressor plug's pushed home."), "connectors-restored") == "missing"
    )
    both = ["Fan plug's off and the sensor plug's off.", "The red plug's pushed home."]
    assert state(told(fridge, *both), "connectors-restored") == "missing"


def test_plugs_that_nobody_took_off_do_not_stand_for_leads_that_are(fridge: Trade) -> None:
    lines = ["Two leads off the compressor.", "Lamp plug's in.", "Fan plug's in."]
    assert state(told(fridge, *lines), "connectors-restored") == "missing"
    both = ["Two plugs in it, lamp and damper. They're both off.", "Damper, clicked in.", "Lamp plug's in."]
    assert state(told(fridge, *both), "connectors-restored") == "confirmed"


@pytest.mark.parametrize(
    ("lines", "state"),
    [
        (("Five connectors, all five off. No, wait, there's a sixth.", "Five connectors back on."), "missing"),
        (("Five connectors, all five off. No, wait, there's a sixth.", "All six connectors back on."), "confirmed"),
        (("Three plugs off. Hang on, there's a fourth.", "Three plugs back on."), "missing"),
        (("Two plugs off the board. Oh, there's another one under here.", "Both plugs back on."), "missing"),
        (("Two plugs off the board. There's another one on the fan.", "Both plugs back on."), "confirmed"),
    ],
)
def test_one_more_that_is_found_came_apart_too(lines: tuple[str, ...], state: str) -> None:
    """A count that is corrected upward stands as corrected. Common practice, no source."""
    found = {c.id: c.state for c in told(load_trade("domestic-refrigeration"), *lines).checks}
    assert found["connectors-restored"] == state


BACK_UNDER_ANOTHER_NAME = [
    ["White plug off, that's the fan's.", "Fan's plugged in."],
    ["Drain pump plug's off, and so is the float switch plug.", "Both plugs are back on, pump and float switch."],
    ["Fan plug's off, and so is the lamp plug.", "Both plugs are back on."],
    ["The heater plug, red one, I open it. The sensor plug, blue, I open also.",
     "Red plug's back in. Blue plug's back in."],
    ["Unplugged the fan, the three way one behind the bracket.", "Three way plug's pushed home."],
    ["The ice maker harness is unplugged.", "Unplugged the auger motor.",
     "Auger motor's plugged in and that harness is clicked in too."],
    ["Plugs. Fan, off. Heater, off.", "Plugs. Fan, on. Heater, on."],
]  # fmt: skip


@pytest.mark.parametrize("lines", BACK_UNDER_ANOTHER_NAME)
def test_a_plug_goes_back_under_another_name(lines: list[str], fridge: Trade) -> None:
    report = told(fridge, "Unplugged it at the wall.", *lines)
    assert open_items(report) == {}
    assert state(report, "connectors-restored") == "confirmed"


STILL_OFF = [
    ["White plug off, and the fan's dead.", "Fan plug's back on."],
    ["Fan plug's off. Lamp plug's off. Heater plug's off.", "Both plugs are back on."],
    ["Fan plug's off, and so is the lamp plug.", "Both fan plugs are back on."],
    ["Evaporator fan plug's off, and so is the evaporator sensor plug.", "Both evaporator fan plugs are back on."],
    ["The heater plug, red one, I open it. The sensor plug, blue, I open also.", "Red plug's back in."],
    ["Unplugged the fan. The white board's burnt.", "White plug's back in."],
    ["Two plugs came off the valve, a red one and a blue one.", "Red plug's on.", "Red plug's on, I checked it."],
    ["Grey plug off, that's the damper's.", "White plug off, that's the fan's.", "Fan's plugged in."],
    ["Plugs. Fan, off. Heater, off.", "Plugs. Fan, on."],
]


@pytest.mark.parametrize("lines", STILL_OFF)
def test_a_plug_of_which_nothing_says_that_it_is_this_one_stays_off(lines: list[str], fridge: Trade) -> None:
    report = told(fridge, "Unplugged it at the wall.", *lines)
    assert open_items(report)
    assert state(report, "connectors-restored") != "confirmed"


ALL_BACK = [
    ["Damper plug off.", "Two connectors off the housing.", "Damper plug's back on.",
     "Housing now. Both connectors are plugged in."],
    ["Light plug off, sensor plug off.", "Damper plug off.", "Damper plug's on.",
     "Both plugs are latched, I tugged them."],
    ["Two wire plug on the damper, unclipped.", "Damper plug's on."],
    ["Four wire plug off the fan.", "Fan plug is plugged back in."],
]  # fmt: skip


@pytest.mark.parametrize("lines", ALL_BACK)
def test_as_many_as_are_off_are_those_that_are_off(lines: list[str], fridge: Trade) -> None:
    assert open_items(told(fridge, *lines)) == {}


SOME_OFF = [
    ["Light plug off, sensor plug off, heater plug off.", "Damper plug off.", "Damper plug's on.",
     "Both plugs are in."],
    ["Light plug off.", "Four wires off the fan.", "Damper plug off.", "Damper plug's on.", "Both plugs are in."],
    ["Four wires off the fan.", "One wire on the fan is pushed on."],
]  # fmt: skip


@pytest.mark.parametrize("lines", SOME_OFF)
def test_fewer_than_are_off_leave_some_off(lines: list[str], fridge: Trade) -> None:
    report = told(fridge, *lines)
    assert open_items(report)
    assert state(report, "connectors-restored") != "confirmed"


@pytest.mark.parametrize("line", ["Wall switch is off and the plug is out.", "So, wall switch I put off.",
                                  "Microwave plug I take out myself, it is in my way."])  # fmt: skip
def test_a_switch_at_the_wall_is_no_connector(line: str, fridge: Trade) -> None:
    assert open_items(told(fridge, line)) == {}
