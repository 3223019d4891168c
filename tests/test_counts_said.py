"""Counts that leave some out, say a number of each, go on from a count, or are said over again at the end.

Expected values: the report contract (totals add up over the job, a recap is no second step, a number that was not said
is not put in its place). How people count: common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.spoken_jobs import narrated
from voicereport.pipeline import understand
from voicereport.settings import load_settings
from voicereport.trades import load_trade

TRADE = load_trade("domestic-refrigeration")
PLUG = "Plug's out of the wall."
EIGHT_OUT = "Eight screws came out of the back cover, and the cover's off."


def totals(*lines: str) -> dict[tuple[str | None, str], tuple[float | None, float | None]]:
    """{(what is held, fastener): (out, in)} after the lines of one job."""
    report = understand(narrated(PLUG, *lines), TRADE, load_settings())
    return {(i.holds, i.part): (i.count_out, i.count_in) for i in report.ledger.items if i.kind == "fastener"}


def back(*lines: str) -> float | None:
    """How many went back after eight screws came out of a cover."""
    return totals(EIGHT_OUT, *lines)[("back cover", "screw")][1]


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("All bar two are back in.", 6),
        ("All but one of the screws are back in the cover.", 7),
        ("They're all in except for three.", 5),
        ("All eight bar one are back in.", 7),
        ("Every screw but one is back in.", 7),
        ("All back in bar the one I swallowed, no, only joking, all eight are in.", 8),
    ],
)
def test_what_is_excepted_did_not_go_back(line: str, count: float) -> None:
    assert back(line) == count


def test_all_but_some_of_nobody_knows_how_many_puts_no_number_back() -> None:
    assert all(not into for _, into in totals("All bar two of the screws are back in the grille.").values())


@pytest.mark.parametrize(
    "line", ["Grille. Eight screws, all but two of them out.", "All but two of the eight screws are out of the grille."]
)
def test_what_is_excepted_of_a_number_stayed_in(line: str) -> None:
    assert totals(line) == {("grille", "screw"): (6, 0)}


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Both hinges off, three bolts each.", 6),
        ("The two hinges are out, four bolts apiece.", 8),
        ("The hinges, three bolts apiece, so six, and both hinges are off.", 6),
        ("Three bolts a side on the hinge, so six out.", 6),
        ("Two bolts each side of the hinge, all out.", 4),
        ("Four bolts out of the hinge, two each side.", 4),
        ("Three bolts out of the hinge, each one longer than the last.", 3),
        ("Four bolts out of the hinge, two washers each side.", 4),
    ],
)
def test_a_number_of_each_is_that_of_all_together(line: str, count: float) -> None:
    assert [out for (_, kind), (out, _) in totals(line).items() if kind == "bolt"] == [count]


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("One clip's off the lamp cover and there goes the other.", 2),
        ("One clip off the lamp cover, and the other one too.", 2),
        ("One clip's off the lamp cover, and the other's off.", 2),
        ("One clip off the lamp cover, and the other's snapped solid.", 1),
        ("One clip's off the lamp cover, and the other's still in there.", 1),
        ("One clip off the lamp cover. There goes the other phone.", 1),
    ],
)
def test_the_other_one_counts_where_it_moved_too(line: str, count: float) -> None:
    assert [out for out, _ in totals(line).values()] == [count]


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Four screws out of the grille, and the fifth one's out now.", 5),
        ("I have four screws from the grille on my magnet, and the fifth one came out in two pieces.", 5),
        ("Four screws out of the grille, and the fifth one will come out later.", 4),
    ],
)
def test_one_more_is_counted_by_its_place(line: str, count: float) -> None:
    assert totals(line)[("grille", "screw")][0] == count


def test_the_last_that_was_missing_is_counted_when_it_is_found() -> None:
    assert back("Seven are back in the cover.", "Found you, under the cooker. That's the eighth one in.") == 8
    assert back("Seven are back in the cover.", "And the eighth one's in the hoover.") == 7


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Seven, eight, and that's the lot.", 8),
        ("Six, seven, eight, that's them all back.", 8),
        ("Seven, eight, nine, and that's the lot.", 0),
        ("Five, six, and that's the lot.", 0),
    ],
)
def test_a_count_ends_on_as_many_as_came_out(line: str, count: float) -> None:
    assert back(line) == count


@pytest.mark.parametrize(
    "line",
    [
        "Totals, eight screws out, eight in.",
        "Totals, then. Eight on the cover, that is eight screws out and eight in.",
        "So the grand total, eight screws out, eight in.",
        "Tally so far, eight screws out, eight in.",
        "Final count. Eight screws out of the cover, eight in.",
    ],
)
def test_totals_said_once_more_count_nothing_anew(line: str) -> None:
    assert totals(EIGHT_OUT, "All eight are back in the cover.", line) == {("back cover", "screw"): (8, 8)}


def test_a_total_that_nobody_counted_before_counts() -> None:
    assert totals("In total six screws came out of the grille.") == {("grille", "screw"): (6, 0)}


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("The grille has two screws in the front and one in the back, those are out and the grille's out.", 3),
        ("The frame has two screws in front and two at the back, they're all out.", 4),
        ("The grille has eight screws, I've got six out.", 6),
        ("Grille. Top row five screws, bottom row two, no, three. Eight, they're all out.", 8),
        ("Grille. Two screws on top, two in the middle, and two more below. So six. Six out.", 6),
    ],
)
def test_counts_of_several_places_add_up_once(line: str, count: float) -> None:
    assert list(totals(line).values()) == [(count, 0)]


def test_a_total_is_that_of_the_part_it_stands_beside() -> None:
    told = totals(
        "Shroud off, four screws. Motor out, two screws.",
        "Motor's back in, two screws, shroud's on, that's the four.",
    )
    assert told == {("fan shroud", "screw"): (4, 4), ("fan motor", "screw"): (2, 2)} or set(told.values()) == {
        (4, 4),
        (2, 2),
    }


@pytest.mark.parametrize(
    ("line", "holder"),
    [
        ("Retainer clip off. Start relay off. Overload off.", "start relay"),
        ("Lamp lens off. One screw behind it, out. And the whole thermostat housing slides out.", "thermostat housing"),
        ("Shelf out. Two screws behind it. Out. The duct cover is off.", "duct cover"),
        ("Damper plug's off. Two screws, and out you come.", "damper"),
        ("Knob off. Small nut behind it, off. Old thermostat out.", "thermostat"),
    ],
)
def test_fasteners_are_of_what_they_let_go_and_not_of_what_hid_them(line: str, holder: str) -> None:
    told = totals("The back cover's off, four screws.", line)
    assert holder in {held for held, _ in told}


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Three long screws and two short ones out of the grille.", 5),
        ("Two small screws and three big ones out of the grille.", 5),
        ("Two baskets and three screws out of the grille.", 3),
    ],
)
def test_ones_are_of_the_fasteners_before_them(line: str, count: float) -> None:
    assert totals(line)[("grille", "screw")] == (count, 0)


@pytest.mark.parametrize(
    ("lines", "count"),
    [
        (("Five are in.", "The rest of them are in."), 8),
        (("Five are in. And the rest of them in.",), 8),
        (("Two in at the top, and the rest are in as well.",), 8),
        (("Four of them in. I'll do the rest after the test.",), 4),
        (("Seven in, and one that wouldn't bite, left out.",), 7),
        (("Seven in, one short.",), 7),
    ],
)
def test_the_rest_is_all_that_was_still_out(lines: tuple[str, ...], count: float) -> None:
    assert back(*lines) == count


def test_parts_that_go_on_with_their_number_go_on_with_their_fasteners() -> None:
    told = totals("Slides off, six screws.", "The slides are on with their six.")
    assert [into for _, into in told.values() if into] == [6]
    assert totals("Two drawers out.", "The drawers are in with their two dividers.") == {}


@pytest.mark.parametrize("line", ["The nuts are in cup four.", "Screws are in tub two.", "Screws in pot three."])
def test_the_number_of_a_pot_is_no_count_of_screws(line: str) -> None:
    assert back(line) == 0
