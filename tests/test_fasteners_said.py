"""How many fasteners came out of what, and how many went back, as people say it at work.

Expected values: the report contract (an item of the ledger is a kind of fastener and what it holds; what is counted
twice is one step; what was not said is not counted). How people speak of them: common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.spoken_jobs import narrated
from voicereport.explain import answer
from voicereport.pipeline import understand
from voicereport.settings import load_settings
from voicereport.trades import load_trade

TRADE = load_trade("domestic-refrigeration")
PLUG = "Plug's out of the wall."
Totals = dict[tuple[str | None, str], tuple[float, float]]


def totals(*lines: str) -> Totals:
    """{(what is held, fastener): (out, in)} after the lines of one job."""
    report = understand(narrated(PLUG, *lines), TRADE, load_settings())
    return {(i.holds, i.part): (i.count_out, i.count_in) for i in report.ledger.items if i.kind == "fastener"}


@pytest.mark.parametrize(
    ("said", "count"),
    [("two phillips", 2), ("three hex heads", 3), ("four quarter inchers", 4), ("two thumbscrews", 2)],
)
def test_screws_are_called_by_their_heads(said: str, count: float) -> None:
    assert totals(f"I took {said} out of the rear cover.") == {("rear cover", "screw"): (count, 0)}


def test_a_tool_is_no_screw() -> None:
    assert totals("Grabbed the phillips driver.", "Found a torx bit.") == {}


@pytest.mark.parametrize(
    "line",
    [
        "The duct slides on rails and there's not a bolt in it, so I lifted it out.",
        "The bulb comes out of its two clips.",
        "The relay's pushed on the two pins.",
        "Baskets out, both, and the divider that goes between them.",
        "The belt's in two bits, and I've fished the both of them out.",
    ],
)
def test_what_is_none_or_stays_where_it_is_comes_off_nothing(line: str) -> None:
    assert totals(line) == {}


def test_screws_that_were_eased_are_not_out() -> None:
    """Contract: `loosen` moves no fastener out."""
    assert totals("Undo the four screws of the ice maker two turns and leave them in.") == {}
    said = "The ice tray motor hangs on four screws. The lower one's out, the top three I only backed off."
    assert totals(said) == {("ice tray motor", "screw"): (1, 0)}


def test_a_part_number_before_a_count_is_no_part_of_it() -> None:
    """ "F N five, two screws" are two, never fifty two."""
    lines = ["Old fan out, two screws.", "New fan in, part number F N five, two screws, one had stripped on me."]
    assert totals(*lines) == {("fan", "screw"): (2, 2)}


def test_a_count_goes_to_the_part_that_the_sentence_before_put_on() -> None:
    out = ["Relay cover off, one clip.", "Rear cover off, eight screws."]
    found = totals(*out, "Relay cover, clipped back on.", "Rear cover on. Six in.", "Two more. That's the eight.")
    assert found == {("relay cover", "clip"): (1, 1), ("rear cover", "screw"): (8, 8)}


@pytest.mark.parametrize(
    "back",
    ["Lamp cover's screwed back on.", "Lamp cover's back on, then three screws. Where is the, ah, in my shoe. Four."],
)
def test_all_of_them_are_back(back: str) -> None:
    assert totals("Lamp cover off, four screws.", back) == {("lamp cover", "screw"): (4, 4)}


@pytest.mark.parametrize(
    ("back", "count"),
    [
        ("Lid's on, five screws. No, hold on, four.", 4),
        ("Lid's on, four screws, the fifth one's stripped out.", 4),
        ("Lid's on, four of its screws. The fifth one's stripped, tossed it.", 4),
    ],
)
def test_one_that_is_missing_is_not_counted_back(back: str, count: float) -> None:
    assert totals("Lid off, five screws.", back) == {("lid", "screw"): (5, count)}


def test_a_total_of_the_part_counts_only_what_is_missing_from_it() -> None:
    lines = ["Fan cover off, four screws.",
             "Fan cover's on, three screws. Found the other one. In it goes, so that's the cover's four."]  # fmt: skip
    assert totals(*lines) == {("fan cover", "screw"): (4, 4)}


def test_sides_are_of_what_heads_the_line() -> None:
    assert totals("Handles. Left, three screws out. Right, same.") == {
        ("left handle", "screw"): (3, 0),
        ("right handle", "screw"): (3, 0),
    }


def test_ties_that_were_cut_are_the_ones_that_new_ties_take_the_place_of() -> None:
    found = totals("Snipped the two cable ties on the loom.", "The loom's back, with two new ties on it.")
    assert list(found.values()) == [(2, 2)]


def test_screws_that_only_one_thing_can_have_lost_are_its_screws() -> None:
    lines = ["Bottom cover off the back, six screws.", "Back cover's on, five screws."]
    assert list(totals(*lines).values()) == [(6, 5)]
    apart = totals(*lines[:1], "The lamp cover's off, five screws.", "Back cover's on, five screws.")
    assert apart["bottom cover", "screw"] == (6, 0)


def test_an_answer_to_somebody_takes_back_no_count() -> None:
    lines = ["Rear panel off, five screws.", "The panel's up and three of its screws are in.",
             "Mind out, madam. No, he's fine, he's only being nosy.", "Two screws in, that's the five."]  # fmt: skip
    assert list(totals(*lines).values()) == [(5, 5)]


def test_a_number_at_another_place_goes_on_with_the_fasteners_before() -> None:
    out = totals("Vent cover. Four off the top edge.", "Right side, three.", "Bottom edge, two.")
    assert out == {("vent cover", "screw"): (9, 0)}


def test_more_than_are_out_do_not_go_on_going_in() -> None:
    lines = ["Vent cover off, five screws.", "Vent cover up. Down the side, four.", "Other side, three."]
    assert totals(*lines) == {("vent cover", "screw"): (5, 4)}


@pytest.mark.parametrize("last", ["Lip, two more. Nine total.", "Two more along the bottom, nine in all."])
def test_a_total_is_not_added_to_what_it_sums_up(last: str) -> None:
    lines = ["Vent cover off, nine screws.", "Vent cover up. Down the side, seven.", last]
    assert totals(*lines) == {("vent cover", "screw"): (9, 9)}


def test_together_says_how_many_they_are_with_those_before() -> None:
    lines = ["Duct cover. One screw at the front is out.", "Behind it a deep one. That is also out, two together."]
    assert totals(*lines) == {("duct cover", "screw"): (2, 0)}


def test_what_was_found_in_a_filter_is_no_fastener() -> None:
    assert totals("Filter unscrewed, and there's a bobby pin and half a sock in it.") == {}


def test_the_last_ones_at_another_place_are_back() -> None:
    lines = ["Inner panel, six screws, off.", "Panel up. Four of the screws in, top and middle."]
    assert totals(*lines, "Then the two at the floor, and that's every one accounted for.") == {
        ("inner panel", "screw"): (6, 6)
    }
    assert totals(lines[0], "There are two more at the floor.") == {("inner panel", "screw"): (6, 0)}


def test_fixings_are_whatever_came_out() -> None:
    assert totals("Four bolts out of the fan cowling.", "Fan cowling's up, with its four fixings.") == {
        ("fan cowling", "bolt"): (4, 4)
    }


def test_a_total_of_one_part_is_not_lessened_by_what_went_into_another() -> None:
    lines = ["Fan bracket off, two screws.", "Rear cover off, six screws.", "Fan bracket on, two screws."]
    whole = {("fan bracket", "screw"): (2, 2), ("rear cover", "screw"): (6, 6)}
    assert totals(*lines, "Rear cover on. Six all in.") == whole
    assert totals(*lines, "Rear cover on. Six altogether, all in.") == whole


def test_old_screws_that_were_thrown_away_are_not_missing() -> None:
    lines = ["Rear cover off, four screws.", "Binned the old screws.", "Rear cover's on, screws in."]
    assert totals(*lines) == {("rear cover", "screw"): (4, 4)}


@pytest.mark.parametrize("mark", [". Same", ", same"])
def test_the_same_again_on_the_other_side_whatever_mark_stands_before_it(mark: str) -> None:
    told = totals(f"Undo the screw on the left of the heater bracket{mark} again on the right.")
    assert sum(out for out, _ in told.values()) == 2


@pytest.mark.parametrize(
    ("line", "out", "back"),
    [
        ("Two screws out of the handle, and the other two came out by themselves.", 4, 0),
        ("Put its three screws back in the ice maker and nipped them up.", 0, 3),
        ("Slackened the four hinge bolts and left them in.", 0, 0),
        ("The screws in the grille were loose, so I nipped all six up.", 0, 0),
    ],
)
def test_one_sentence_sums_its_fasteners_as_the_ledger_does(line: str, out: float, back: float) -> None:
    items = answer(line, None, TRADE)["ledger"]["items"]
    assert (sum(i["count_out"] for i in items), sum(i["count_in"] for i in items)) == (out, back)
    assert len(items) <= 1


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Rear cover off. Four screws, no, five, there's one up under the lip.", 5),
        ("Behind there's the rear cover, three screws, no, four, four screws out, and it's off.", 4),
        ("Rear cover, it's just board, six screws, no, seven. Seven out.", 7),
        ("Rear cover off, five screws. Sorry, six.", 6),
        ("Rear cover, four screws out, no, wait, I tell a lie, there's five.", 5),
        ("Rear cover off, six nuts, three a side.", 6),
        ("Rear cover off, three screws, no washers.", 3),
        ("Rear cover off, three screws. Part number D T, four.", 3),
        ("Rear cover off, three screws. Number four, that's the model.", 3),
    ],
)
def test_a_count_that_is_corrected_in_its_line_counts_as_the_last(line: str, count: float) -> None:
    assert [out for out, _ in totals(line).values()] == [count]


@pytest.mark.parametrize(
    "line",
    [
        "Fan bracket's up, three screws, and don't you dare roll, four.",
        "Fan bracket's on, three screws. Wait, where's my, oh, it's stuck to my magnet. Four. Four screws.",
        "Fan bracket's on. Three screws, four, that's them.",
        "Fan bracket's up. Screws, one, two, three, and the sneaky one in the corner, four.",
    ],
)
def test_screws_that_turn_up_one_by_one_are_as_many_as_the_last(line: str) -> None:
    assert totals("Four screws out of the fan bracket, and that's the bracket down.", line) == {
        ("fan bracket", "screw"): (4, 4)
    }


def test_no_more_go_back_than_came_out() -> None:
    told = totals(
        "Three screws out of the fan bracket, bracket down.", "Bracket's up, three screws, and up we go, four."
    )
    assert told == {("fan bracket", "screw"): (3, 3)}


def test_a_correction_leaves_the_screws_of_another_thing_as_they_were() -> None:
    told = totals("Four screws out of the grille.", "The rear cover, I got five screws. No, I lied, one more. Six out.")
    assert told[("grille", "screw")] == (4, 0)


def test_the_head_of_a_sentence_and_not_the_part_before_it_has_the_screws() -> None:
    told = totals("Basket's out. Drawer front, that's four screws, two a side, and it lifts right off.")
    assert told == {("drawer front", "screw"): (4, 0)}


def test_what_the_same_words_take_out_and_put_in_goes_the_way_of_the_work() -> None:
    told = totals("Eight screws out of the evaporator cover, cover off.",
                  "Alright, cover's back up, and I've got the six in the sides.",
                  "And the two by the floor, so that's all eight of those.")  # fmt: skip
    assert told == {("evaporator cover", "screw"): (8, 8)}


@pytest.mark.parametrize("line", ["Same again on the other side.", "Other side, same again."])
def test_the_same_again_on_the_other_side_is_as_many_more(line: str) -> None:
    assert totals("Long side of the grille, five screws, and they're out.", line) == {("grille", "screw"): (10, 0)}


def test_as_many_in_another_place_are_as_many_more() -> None:
    told = totals("Long side of the grille, five screws out.", "Top edge two. Bottom edge, two, and that's the lot.")
    assert told == {("grille", "screw"): (9, 0)}


def test_what_goes_in_by_its_own_words_does_not_come_out_by_those_before() -> None:
    told = totals("Four screws out of the grille.", "Two at the top in. Two at the bottom in.")
    assert told == {("grille", "screw"): (4, 4)}


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Housing is up, one screw is in, and the second one I will put after testing.", 1),
        ("Housing up. Two screws. Third one snapped going in.", 2),
        ("Housing's back up, and screws, one, two, three, four, and the fifth one has fallen in and it's lost.", 4),
        ("Housing's on, four screws, and the fifth is missing.", 4),
        # it went in after all
        ("Housing's on, screws, one, two, three, four, and the fifth one rolled away. Ah, there, five.", 5),
        ("Housing's on, four screws in, the fifth's rolled off somewhere, found it, that's in too.", 5),
        # all are in, and something else broke
        ("Housing's on, five screws, the fifth one broke a bit of plastic.", 5),
    ],
)
def test_the_one_that_is_told_by_its_place_and_is_not_in_does_not_count(line: str, count: float) -> None:
    said = totals("Control housing, five screws out, housing's off.", line)
    assert said == {("control housing", "screw"): (5, count)}


@pytest.mark.parametrize(
    ("line", "counts"),
    [
        ("The back panel, its two screws up top and two down low, so four out and it's off.", {("screw", 4)}),
        ("Back panel, two on the left, three on the right, that makes five out and it's off.", {("screw", 5)}),
        ("Compressor feet, four nuts. One's off. Two's off. Three's spinning on me, there, got it. Four's off.",
         {("nut", 4)}),
        ("One screw's off the lid. Two's off the bracket. Three's off the plate.",
         {("screw", 1), ("screw", 2), ("screw", 3)}),
    ],
)  # fmt: skip
def test_what_is_counted_in_parts_and_in_all_is_counted_once(line: str, counts: set[tuple[str, float]]) -> None:
    assert {(kind, out) for (_, kind), (out, _back) in totals(line).items()} == counts


@pytest.mark.parametrize(
    "line",
    [
        "There's a foam strip down each side of it. I've peeled the two of them back, and the cover's off.",
        "Now I pull the relay off the compressor pins, and the overload after it. Both in hand.",
    ],
)
def test_both_are_the_things_just_moved_and_no_screws(line: str) -> None:
    assert totals(line) == {}


def test_both_screws_beside_two_parts_are_screws() -> None:
    assert sum(out for out, _ in totals("Relay off, fan shroud off, both screws in my pocket.").values()) == 2


def test_all_of_a_part_are_home_though_something_else_stands_between() -> None:
    out = "Back panel, seven screws, out."
    said = totals(out, "Back panel's up, fan's plugged in, and all seven are home.")
    assert said == {("back panel", "screw"): (7, 7)}
    said = totals(out, "Back panel's up, fan's plugged in, and all three shelves are in.")
    assert said == {("back panel", "screw"): (7, 0)}
