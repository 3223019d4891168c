"""Fasteners that the reader numbers beside what they hold, in one number or several. Common practice, no source."""

from __future__ import annotations

import pytest

from tests.spoken_jobs import narrated
from voicereport.statements import read_statements
from voicereport.statements.continued import continued
from voicereport.statements.reader import Mark, Marked
from voicereport.trades import load_trade

TRADE = load_trade("domestic-refrigeration")
Step = tuple[str, str, str, float | None, str | None]


def steps(*lines: str) -> list[Step]:
    """The fasteners' steps of the last line, with the lines before it as what was said on the job so far."""
    transcript = narrated(*lines)
    return [
        (a.action, a.part, a.status, a.count, a.holds)
        for a in read_statements(transcript, TRADE).acts
        if a.kind == "fastener" and a.span.segment == transcript.segments[-1].id
    ]


def moved(count: float, *lines: str, action: str = "remove") -> bool:
    """Whether the last line moves so many fasteners in all, that way."""
    found = steps(*lines)
    return {a for a, *_ in found} == {action} and sum(s[3] or 0 for s in found) == count


PLUG = "Plug's out of the wall."


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Grille, two at the bottom, slid off.", 2),
        ("Rear panel off, six of them.", 6),
        ("Rear panel off. Four along the top, two down the side.", 6),
    ],
)
def test_a_number_beside_the_cover_is_of_its_fasteners(line: str, count: float) -> None:
    assert moved(count, PLUG, line)


def test_the_same_number_again_is_not_counted_twice() -> None:
    assert moved(6, PLUG, "Rear panel off, six screws. All six out.")


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Cover's off, three on the left, three on the right.", 6),
        ("Cover's off, three on the left and three on the right, six.", 6),
        ("Cover's off, four of them, four out.", 4),
        ("Cover off, four screws, four at the front.", 4),
        ("Cover's off, six screws. No, seven, one was hiding.", 7),
    ],
)
def test_a_number_said_twice_is_of_two_places_only_where_both_are_said(line: str, count: float) -> None:
    assert moved(count, PLUG, line)


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Back panel's on, I put eight in. Well, seven, one's rolled under the unit.", 7),
        ("Back panel's on, six in. No, seven, one was hiding.", 7),
        ("Back panel's on, six in, no wait, seven.", 7),
        ("Lid down, two at the front, two at the rear.", 4),
    ],
)
def test_a_count_that_was_taken_back_is_no_part_of_the_sum(line: str, count: float) -> None:
    assert moved(count, PLUG, line, action="refit")


def test_a_number_of_shelves_is_of_no_fasteners() -> None:
    assert steps(PLUG, "Two shelves out, and drawer two.") == []


@pytest.mark.parametrize("line", ["Fan's on a plate, three nuts.", "It's held with four bolts, the pump."])
def test_what_only_holds_a_part_was_not_moved(line: str) -> None:
    assert steps(PLUG, line) == []


def test_the_mains_plug_is_not_what_is_counted() -> None:
    """A number without a noun was once taken for so many plugs, since the plug was the last thing spoken of."""
    assert moved(2, PLUG, "Top. Two out.")


def test_a_total_stands_for_the_numbers_that_it_sums_up() -> None:
    assert moved(4, PLUG, "Freezer drawer. Two screws on each rail, so four out.")


def test_two_more_do_not_take_back_the_ones_before() -> None:
    lines = ("Rear cover off. Eight screws out.", "Cover on. Six in. Sorry.", "Two more in.")
    assert moved(2, PLUG, *lines, action="refit")


def test_a_count_said_anew_takes_the_place_of_the_one_before() -> None:
    found = steps(PLUG, "Six screws out of the fan cover. Sorry, counted again, five screws out of the fan cover.")
    assert [(status, count) for *_, status, count, _ in found] == [("retracted", 6.0), ("done", 5.0)]


@pytest.mark.parametrize(
    "line", ["Fan cover off, took two goes.", "One good pull and the fan cover's off.", "Front's off."]
)
def test_other_numbers_and_a_panel_called_by_its_place_are_no_screws(line: str) -> None:
    assert steps(PLUG, line) == []


def test_its_nut_is_one_nut_whatever_the_number_before() -> None:
    found = steps(PLUG, "New pulley on, part number J P four, its bolt nipped up.")
    assert [(part, count) for _, part, _, count, _ in found] == [("bolt", 1.0)]


# ------------------------------------------------------------------ numbers that go on


def marks(line: str, act: str, *counts: str, chances: tuple[str, ...] = ()) -> tuple[str, ...]:
    """The counts of a mark on `act` in a line, as they are gone on with; chances: words that are measured values."""

    def place(words: str) -> tuple[int, int]:
        return line.index(words), line.index(words) + len(words)

    first, last = place(act)
    mark = Mark(action="remove", status="done", sure=1.0, status_sure=1.0, first=first, last=last,
                counts=tuple(place(c) for c in counts))  # fmt: skip
    marked = Marked(marks=(mark,), number_chances=tuple((*place(c), 0.9) for c in chances))
    return tuple(line[a:b] for a, b in continued(line, marked)[0].counts)


def test_numbers_after_a_pause_go_on_with_the_count() -> None:
    assert marks("Five out down the edge, one underneath", "out", "Five") == ("Five", "one")
    assert marks("three out at the back and two in front", "out", "three") == ("three", "two")


@pytest.mark.parametrize(
    "line",
    [
        "nine out, six long and three short",  # divides them
        "four out, one of them stripped",
        "four out, but two are left",
        "four out, one each corner",
        "four out, and it was minus two",
    ],
)
def test_other_numbers_do_not(line: str) -> None:
    first = line.split()[0]
    assert marks(line, "out", first) == (first,)


def test_a_measured_value_does_not() -> None:
    assert marks("four out, two ohms", "out", "four", chances=("two",)) == ("four",)


@pytest.mark.parametrize(
    ("before", "line", "count"),
    [
        ("Three screws out of the fan bracket, bracket off.", "Bracket's hung on its three screws again.", 3),
        ("Two bolts out of the handle.", "Handle's sat back on the same two bolts.", 2),
        ("Five screws out of the duct.", "Duct's up on its five.", 5),
        ("Six screws out of the rear panel.", "Rear panel's on, and that's the six in round the edge.", 6),
        ("Six screws out of the rear panel, panel off.", "Panel's going up, and I got four of them in so far.", 4),
        ("Five screws out of the duct, duct's down.", "Duct's up with five in it.", 5),
    ],
)
def test_a_part_goes_up_on_its_own_fasteners(before: str, line: str, count: float) -> None:
    assert moved(count, PLUG, before, line, action="refit")


@pytest.mark.parametrize("line", ["The compressor's off its four bolts.", "Pulled the valve off its four bolts."])
def test_a_part_comes_off_its_own_fasteners(line: str) -> None:
    assert moved(4, PLUG, line)


@pytest.mark.parametrize(
    "line",
    [
        "The fan sits on three screws and a rubber.",
        "The relay's pushed on its two pins.",
        "The shelf's hung on its two hooks.",
        "The motor's held on by four bolts.",
        "The old model hung on its four bolts and rattled.",
    ],
)
def test_what_a_part_is_held_or_hung_by_was_not_moved(line: str) -> None:
    assert steps(PLUG, line) == []


@pytest.mark.parametrize(
    "line",
    [
        "On drawing this cover has ten screws.",
        "On the drawing it is twelve screws for the back cover.",
        "The manual shows six screws in the fan cover.",
        "The book says five screws for the shroud.",
        "Any more than two screws in that bracket and you'll crack it.",
        "More than four screws in that panel and it bows.",
        "Another four screws and that shelf rail would be off.",
        "Two more screws and the cover would come off.",
        "I make it five screws on that cover, and they look tight.",
        "I count six screws in the back panel.",
    ],
)
def test_how_many_there_are_or_may_be_moves_none(line: str) -> None:
    assert steps(PLUG, line) == []


@pytest.mark.parametrize(
    ("line", "count", "action"),
    [
        ("In the manual they say four screws, I took six out of the back panel.", 6, "remove"),
        ("The drawing shows four screws and I took four out of the back cover.", 4, "remove"),
        ("Four screws out of the back cover, same as the drawing.", 4, "remove"),
        ("Going by the manual, I took four screws out of the fan cover.", 4, "remove"),
        ("Another four screws and that shelf rail is off.", 4, "remove"),
        ("Another four screws out and the rail came off.", 4, "remove"),
        ("I count six back in the rear panel.", 6, "refit"),
    ],
)
def test_what_is_moved_counts_beside_what_is_told(line: str, count: float, action: str) -> None:
    assert moved(count, PLUG, line, action=action)
