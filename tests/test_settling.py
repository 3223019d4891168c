"""What the acts of a sentence come to: each rule with made marks, so that it is tested apart from the reader.

Expected values: the report contract's rulings (one step an event, a recap is no second step, a fastener says what it
holds, a collective refit does not cover what is excepted); how people say it: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from said_kit import WORDS, act, mark, sentence_of

from voicereport.report import Action
from voicereport.statements.acts import Memory
from voicereport.statements.names import Name
from voicereport.statements.placing import Placed
from voicereport.statements.settling import is_named_apart, mains_plug, owned, settled, tallied
from voicereport.statements.values import Act


def come_to(line: str, found: list[tuple[Act, Placed]], memory: Memory | None = None) -> list[tuple[object, ...]]:
    out = settled(sentence_of(line), found, WORDS, memory or Memory())
    return [(a.action, a.part, a.kind, a.count, a.holds, a.status) for a, _ in out]


SIX_OUT = act("six screws out", "remove", "screw", count=6, holds="rear cover")


@pytest.mark.parametrize(
    "line", ["So that's six out, six in.", "For the sheet, six screws out.", "Tally. six screws out."]
)
def test_a_tally_is_no_second_step(line: str) -> None:
    line = line.replace("Tally. ", "Tally, ")
    found = [(act(line, "remove", "screw", count=6, holds="rear cover"), mark(line, "out"))]
    assert come_to(line, found, Memory(acts=[SIX_OUT])) == []
    assert tallied(sentence_of(line), Memory(acts=[SIX_OUT]))


def test_what_nobody_counted_before_is_no_tally() -> None:
    line = "For the sheet, six screws out."
    found = [(act(line, "remove", "screw", count=6, holds="rear cover"), mark(line, "out"))]
    assert len(come_to(line, found)) == 1


def test_a_sum_of_what_was_counted_is_a_recap() -> None:
    line = "So that's six out."
    found = [(act(line, "remove", "screw", count=6, holds="rear cover"), mark(line, "out"))]
    assert come_to(line, found, Memory(acts=[SIX_OUT])) == []
    more = [(act(line, "remove", "screw", count=7, holds="rear cover"), mark(line, "out"))]
    assert len(come_to(line, more, Memory(acts=[SIX_OUT]))) == 1


def test_what_is_excepted_is_not_back_and_the_rest_is() -> None:
    line = "Everything is back in, bar the top shelf."
    found = [(act(line, "refit", "top shelf", kind="part"), mark(line, "back in", "top shelf"))]
    assert come_to(line, found) == [
        ("refit", "top shelf", "part", None, None, "not_done"),
        ("refit", "everything", "part", None, None, "done"),
    ]


def test_an_exception_that_was_not_understood_leaves_connectors_unclear() -> None:
    """A stop-level check must not pass on words that leave one out."""
    line = "All the plugs are on bar the little white fella."
    found = [(act(line, "reconnect", "plug", kind="connector", plural=True), mark(line, "on", "plugs"))]
    assert [a[-1] for a in come_to(line, found)] == ["unclear"]


@pytest.mark.parametrize(
    "line", ["The five screws are in the magnet tray.", "I put the five screws in my pocket.",
             "There's five screws in the cover."]
)  # fmt: skip
def test_fasteners_put_aside_or_described_went_nowhere(line: str) -> None:
    assert come_to(line, [(act(line, "refit", "screw", count=5, holds="cover"), mark(line, "in", "screws"))]) == []


def test_fasteners_put_into_their_part_went_back() -> None:
    line = "The five screws are back in the cover."
    found = [(act(line, "refit", "screw", count=5, holds="cover"), mark(line, "back in", "screws"))]
    assert len(come_to(line, found)) == 1


def test_a_fastener_goes_the_way_of_its_part() -> None:
    line = "Two screws on the bracket, and the motor is out."
    found = [
        (act(line, "refit", "screw", count=2, holds="bracket"), mark(line, "on", "screws", "bracket")),
        (act(line, "remove", "motor", kind="part"), mark(line, "out", "motor")),
    ]
    assert come_to(line, found)[0] == ("remove", "screw", "fastener", 2, "bracket", "done")


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("Screws, one, two, three, and a fourth out of the cover.", 4),
        ("Two up top and two down low, so four out.", 4),
        ("Three out, the other two are stuck.", 3),
    ],
)
def test_counted_aloud(line: str, count: float) -> None:
    said = 2.0 if line.startswith("Two") else 3.0 if line.startswith("Three") else None
    found = [(act(line, "remove", "screw", count=said, holds="cover"), mark(line, "out"))]
    assert come_to(line, found)[0][3] == count


def test_one_clip_two_clips_are_two() -> None:
    line = "Cover up, one clip, two clips."
    found = [(act(line, "refit", "clip", count=n, holds="cover"), mark(line, "up")) for n in (1.0, 2.0)]
    assert [a[3] for a in come_to(line, found)] == [2]


@pytest.mark.parametrize(
    ("line", "action", "expected"),
    [
        ("I pulled the harness out of its channel.", "disconnect", ("loosen", "wiring")),
        ("Tied the harness back on the bracket.", "reconnect", ("refit", "wiring")),
        ("I peeled the heater wire off the liner.", "peel", ("loosen", "wiring")),
        ("I unplugged the harness.", "disconnect", ("disconnect", "connector")),
    ],
)
def test_wires_out_of_their_clips_are_loosened(line: str, action: Action, expected: tuple[str, str]) -> None:
    """Contract: wiring freed from clips, tape or ties is loosened, put back refitted."""
    part = "heater wire" if "wire" in line else "harness"
    verb = next(w for w in ("pulled", "tied", "peeled", "unplugged") if w in line.lower())
    found = [(act(line, action, part, kind="connector"), mark(line, verb))]
    assert [(a[0], a[2]) for a in come_to(line, found)] == [expected]


def test_fasteners_that_are_only_numbered() -> None:
    line = "Rear cover's on, all six."
    found = [(act(line, "refit", "rear cover", kind="part"), mark(line, "on", "rear cover"))]
    assert come_to(line, found, Memory(acts=[SIX_OUT]))[-1] == ("refit", "screw", "fastener", 6, "rear cover", "done")
    assert len(come_to(line, found)) == 1, "none came out, so none is known to be back"


def test_the_cover_goes_with_its_screws_where_one_word_is_said_of_both() -> None:
    line = "Rear cover, seven screws, off."
    found = [(act(line, "remove", "screw", count=7, holds="rear cover"), mark(line, "off", "screws", "rear cover"))]
    assert [a[:2] for a in come_to(line, found)] == [("remove", "screw"), ("remove", "rear cover")]


def test_the_same_again() -> None:
    line = "Same again on the right."
    before = act("one screw out of the bracket", "remove", "screw", count=1, holds="bracket")
    right = [("remove", "screw", "fastener", 1, "right bracket", "done")]
    assert come_to(line, [], Memory(acts=[before])) == right
    assert come_to("Same again on the right bracket.", [], Memory(acts=[before])) == right
    assert come_to(line, [], Memory(acts=[replace(before, status="planned")])) == []


def test_a_component_unplugged_isolates_nothing() -> None:
    line = "I've unplugged the fan."
    found = [(act(line, "isolate", "power supply", kind="part"), mark(line, "unplugged", "fan"))]
    assert [a[:3] for a in come_to(line, found)] == [("disconnect", "fan connector", "connector")]


def test_what_ran() -> None:
    """Contract: `run_test` goes with the appliance, or with the component that was run."""
    line = "Put it through a harvest."
    found = [(act(line, "run_test", "appliance", kind="part"), mark(line, "put"))]
    assert come_to(line, found, Memory(named=["ice maker"]))[0][1] == "ice maker"
    assert come_to(line, found)[0][1] == "appliance"


def test_whose_plug_it_is() -> None:
    line = "Its plug is off."
    plug = Name(part="plug", kind="connector", first=1, last=2, bare=True)
    memory = Memory(named=["water valve", "drawer", "shelf", "basket", "rear cover"])
    assert owned(plug, sentence_of(line), WORDS, memory, "disconnect").part == "plug"
    memory = Memory(named=["rear cover", "water valve"])
    assert owned(plug, sentence_of(line), WORDS, memory, "disconnect").part == "water valve plug"
    off = act("fan plug off", "disconnect", "fan plug", kind="connector")
    memory = Memory(named=["water valve"], acts=[off])
    assert owned(plug, sentence_of("Plug pushed home."), WORDS, memory, "reconnect").part == "fan plug"


def test_a_plug_that_goes_back_is_the_appliance_s_where_no_connector_is_apart() -> None:
    off = act("the plug is out", "isolate", "power supply", kind="part")
    apart = act("fan harness off", "disconnect", "fan harness", kind="connector")
    back = act("fan harness on", "reconnect", "fan harness", kind="connector")
    assert mains_plug(Memory(acts=[off, apart, back]))
    assert not mains_plug(Memory(acts=[off, apart]))
    assert not mains_plug(Memory(acts=[apart, back]))
    on = act("the plug is in", "restore_power", "power supply", kind="part")
    assert not mains_plug(Memory(acts=[off, apart, back, on]))


def test_a_lock_on_the_supply_takes_nothing_off() -> None:
    line = "it's locked out"
    assert come_to(line, [(act(line, "remove", "capacitor", kind="part"), mark(line, "locked out"))]) == []


def test_water_that_runs_is_no_test_run() -> None:
    line = "the water ran down the drain"
    assert come_to(line, [(act(line, "run_test", "appliance", kind="part"), mark(line, "ran"))]) == []


@pytest.mark.parametrize(
    ("part", "count", "plural", "others", "apart"),
    [
        ("plug", 2.0, True, ("lamp plug", "damper plug"), True),
        ("plug", None, True, ("lamp plug", "damper plug"), True),
        ("plug", 3.0, True, ("lamp plug", "damper plug"), False),  # a third one is named by nobody
        ("plug", None, False, ("lamp plug", "damper plug"), False),  # a plug of its own
        ("plug", 1.0, False, ("lamp plug",), False),
        ("board plug", 2.0, True, ("lamp plug", "damper plug"), False),
    ],
)
def test_two_plugs_give_way_to_each_of_them(
    part: str, count: float | None, plural: bool, others: tuple[str, ...], apart: bool
) -> None:
    line = "Two plugs, lamp and damper, both off."
    general = act(line, "disconnect", part, kind="connector", count=count, plural=plural)
    acts = [general, *(act(line, "disconnect", name, kind="connector") for name in others)]
    assert is_named_apart(general, acts) is apart
    assert not is_named_apart(acts[1], acts)
