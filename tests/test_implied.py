"""Fasteners that are only counted beside their part. What people leave out: common practice, no source."""

from __future__ import annotations

import pytest
from said_kit import WORDS, act

from voicereport.report import Action
from voicereport.statements.acts import Memory
from voicereport.statements.implied import implied
from voicereport.statements.tokens import sentences
from voicereport.statements.values import Act
from voicereport.transcript import Segment, span, spread


def told(line: str, parts: dict[str, tuple[Action, str]], *, out: tuple[Act, ...] = ()) -> list[tuple[object, ...]]:
    """What is implied in a line of which the words `parts` are acts of parts; out: acts before the line."""
    segment = Segment(id="s9", recording="r1", start=0.0, end=5.0, heard=line, text=line, words=spread(line, 0.0, 5.0))
    bare = [w.strip(".,").lower() for w in line.split()]
    acts = []
    for words, (action, part) in parts.items():
        first = next(n for n in range(len(bare)) if " ".join(bare[n:]).startswith(words.lower()))
        where = span(segment, first, first + len(words.split()))
        acts.append(Act(action=action, part=part, kind=WORDS.kind_of(part), status="done", span=where))
    memory = Memory(acts=[*out, *acts])
    found = implied(sentences(segment, 1), [*out, *acts], len(out), WORDS, memory)
    return [(a.action, a.part, a.count, a.holds) for a in found]


SEVEN = act("seven screws out", "remove", "screw", count=7, holds="rear cover")
TWO = act("two screws out", "remove", "screw", count=2, holds="fan bracket")
ON: dict[str, tuple[Action, str]] = {"cover's on": ("refit", "rear cover")}


@pytest.mark.parametrize("line", ["Cover's on, all seven.", "Cover's on. Seven.", "Cover's on, and its seven back in."])
def test_a_number_beside_the_part_that_goes_back(line: str) -> None:
    assert told(line, ON, out=(SEVEN, TWO)) == [("refit", "screw", 7.0, "rear cover")]


def test_all_of_them_are_as_many_as_are_out() -> None:
    line = "Cover's on, all its screws."
    assert told(line, ON, out=(SEVEN,)) == [("refit", "screw", 7.0, "rear cover")]


def test_as_many_as_are_out_of_one_thing_only_belong_to_it() -> None:
    line = "Panel's on, all seven."
    panel: dict[str, tuple[Action, str]] = {"panel's on": ("refit", "lower panel")}
    assert told(line, panel, out=(SEVEN, TWO)) == [("refit", "screw", 7.0, "rear cover")]
    other = act("seven screws out", "remove", "screw", count=7, holds="top hinge")
    assert told(line, panel, out=(SEVEN, other)) == []


def test_no_more_go_back_than_came_out() -> None:
    assert told("Cover's on. Nine.", ON, out=(SEVEN,)) == []
    assert told("Cover's on. Seven.", ON) == []


def test_a_number_beside_the_cover_that_comes_off() -> None:
    off: dict[str, tuple[Action, str]] = {"cover's off": ("remove", "rear cover")}
    assert told("Cover's off, seven.", off) == [("remove", "screw", 7.0, "rear cover")]
    assert told("Cover's off. Two clips.", off) == [("remove", "clip", 2.0, "rear cover")]
    assert told("Cover's off, seven.", off, out=(SEVEN,)) == []  # said before


def test_other_numbers_are_no_fasteners() -> None:
    drawer: dict[str, tuple[Action, str]] = {"drawer's out": ("remove", "freezer drawer")}
    assert told("Drawer's out, two.", drawer) == []  # a number of drawers
    valve: dict[str, tuple[Action, str]] = {"new valve's in": ("replace", "water valve")}
    held = act("four screws out", "remove", "screw", count=4, holds="water valve")
    assert told("New valve's in, part number W V, slash, four.", valve, out=(held,)) == []
    assert told("Cover's on, seven minutes.", ON, out=(SEVEN,)) == []
    assert told("Cover's on. Five, six, seven.", ON, out=(SEVEN,)) == []  # counted aloud
    assert told("Cover's on. Is it seven?", ON, out=(SEVEN,)) == []


def test_what_the_line_before_moved() -> None:
    cover = act("cover's on", "refit", "rear cover", kind="part")
    line = "Four screws along the top, and three along the bottom."
    assert told(line, {}, out=(SEVEN, cover)) == [
        ("refit", "screw", 4.0, "rear cover"),
        ("refit", "screw", 3.0, "rear cover"),
    ]
    assert told(line, {"along the bottom": ("inspect", "drain tube")}, out=(SEVEN, cover)) == []
