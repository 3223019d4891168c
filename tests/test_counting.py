"""Fasteners counted aloud through a line, and totals at its end.

Expected values: the report contract (totals add up over the job, what is counted twice is one step); how people count:
common practice, no source.
"""

from __future__ import annotations

import pytest
from said_kit import WORDS, act

from voicereport.statements.acts import Memory
from voicereport.statements.counting import counted, total
from voicereport.statements.tokens import Sentence, sentences
from voicereport.statements.values import Act
from voicereport.transcript import Segment, spread

COVER_ON = act("the cover is on", "refit", "rear cover", kind="part")
SIX_OUT = act("six screws out", "remove", "screw", count=6, holds="rear cover")


def line_of(text: str, name: str = "s9") -> list[Sentence]:
    segment = Segment(id=name, recording="r1", start=9.0, end=14.0, heard=text, text=text,
                      words=spread(text, 9.0, 14.0))  # fmt: skip
    return list(sentences(segment, 1))


def counts(text: str, before: list[Act], here: list[Act] | None = None, sense: str | None = None) -> list[object]:
    acts = [*before, *(here or [])]
    told = counted(line_of(text), acts, len(before), WORDS, Memory(acts=list(before), sense=sense))
    return [(a.action, a.part, a.count, a.holds) for a in told if a.kind == "fastener"]


def test_numbers_counted_aloud_are_as_many_as_the_last() -> None:
    found = counts("Cover's on. One. Two. Three. That one's chewed. Four. Five.", [SIX_OUT], [COVER_ON])
    assert found == [("refit", "screw", 5, "rear cover")]


def test_a_count_aloud_without_a_part_goes_the_way_of_the_work_before() -> None:
    assert counts("Screws. One, two, three, and four.", [SIX_OUT], sense="in")[0][:3] == ("refit", "screw", 4)  # type: ignore[index]
    assert counts("Screws. One, two, three, and four.", [SIX_OUT], sense=None) == []


@pytest.mark.parametrize(
    "text",
    [
        "Plugs, one, two, three.",
        "Mounts, one, two, three, all in their holes.",
        "One, two.",
        "One, three, two.",
        "Number one, number four, number six.",
        "Did I put one, two, three in?",
        "Model number two, four, one.",
    ],
)
def test_what_counts_other_things_or_is_no_count_adds_nothing(text: str) -> None:
    assert counts(text, [SIX_OUT], sense="in") == []


def test_seconds_before_a_start_are_no_screws() -> None:
    start = act("it started", "run_test", "appliance", kind="part")
    assert counts("One, two, three, and it started.", [SIX_OUT], [start], sense="in") == []


def test_a_count_that_was_read_already_is_completed_not_doubled() -> None:
    read = act("one screw", "refit", "screw", count=1, holds="rear cover")
    assert counts("One screw, two, three.", [SIX_OUT], [read]) == [("refit", "screw", 3, "rear cover")]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("so that ’s eight", 8),
        ("and that ’s your ten out", 10),
        ("that makes six", 6),
        ("all four out", 4),
        ("it ’s eight", None),
        ("that ’s eight degrees", None),
        ("that ’s a fan", None),
        ("that ’s one", None),
    ],
)
def test_a_total_stands_at_the_end_of_its_sentence(text: str, number: int | None) -> None:
    assert total(text) == number


def test_a_total_adds_only_what_nobody_counted() -> None:
    four = act("four in", "refit", "screw", count=4, holds="rear cover")
    assert counts("So that's six.", [SIX_OUT, four]) == [("refit", "screw", 2, "rear cover")]
    assert counts("So that's four.", [SIX_OUT, four]) == []
    assert counts("So that's three.", [SIX_OUT, four]) == []


def test_a_total_after_other_work_is_of_something_else() -> None:
    four = act("four in", "refit", "screw", count=4, holds="rear cover")
    others = [act("clean it", "clean", "condenser", kind="part")] * 6
    assert counts("So that's six.", [SIX_OUT, four, *others]) == []
