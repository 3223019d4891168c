"""The assembly of statements: the ledger above all. Expected values: the report contract's rulings, named beside each
check, and the hand-written gold of the development narrations in tests/corpus/shared."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from voicereport.assembly import assemble
from voicereport.evaluation.names import Names as ScoredNames
from voicereport.report import LedgerItem, Report
from voicereport.statements.values import Act, Fitted, Identity, Lost, Measured, Noted, Statements, Told
from voicereport.trades import Trade, list_trades, load_trade
from voicereport.transcript import Recording, Segment, Transcript, Word, span, spread

CORPUS = Path(__file__).parent / "corpus" / "shared"
NARRATIONS = sorted(CORPUS.glob("d*.yaml"))
FRIDGE = load_trade("domestic-refrigeration")


def transcript_of(*lines: str) -> Transcript:
    segments = tuple(
        Segment(id=f"r1s{n:03}", recording="r1", start=10.0 * n, end=10.0 * n + 5, heard=line, text=line,
                words=spread(line, 10.0 * n, 10.0 * n + 5)) for n, line in enumerate(lines)
    )  # fmt: skip
    recording = Recording(name="r1", sha256="0" * 64, duration_s=10.0 * len(lines), speech_s=5.0 * len(lines))
    return Transcript(recordings=(recording,), segments=segments)


def told(*acts: tuple[str, dict[str, Any]], trade: Trade = FRIDGE, **others: Any) -> Report:
    """One act for each line: ("refit screw", {count, holds, ...}); its line is its own words."""
    transcript = transcript_of(*(words for words, _ in acts))
    made = []
    for (words, more), segment in zip(acts, transcript.segments, strict=True):
        action, part = words.split(" ", 1)
        values = {"status": "done", "kind": trade.words.kind_of(part), "span": span(segment)} | more
        made.append(Act(action=action, part=part, **values))
    return assemble(Statements(acts=tuple(made), **others), transcript, trade)


def counts(report: Report) -> list[tuple[str, str | None, float, float, str]]:
    return [(i.part, i.holds, i.count_out, i.count_in, i.state) for i in report.ledger.items]


def scored_name(item: LedgerItem) -> str:
    if item.kind == "fastener" and item.holds:
        return f"{item.holds} {item.part}"
    nouns = ("connector", "harness", "plug", "lead", "cable", "conductor", "strap")
    return f"{item.part} connector" if item.kind == "connector" and not item.part.endswith(nouns) else item.part


@pytest.mark.parametrize("path", NARRATIONS, ids=lambda p: p.stem)
def test_the_ledger_of_a_narration(path: Path) -> None:
    """From the steps of the gold: fastener totals exactly, and what is open at the end, as the gold says them."""
    data = yaml.safe_load(path.read_text(encoding="utf-8"))
    trade = load_trade(data["trade"]) if data["trade"] in list_trades() else FRIDGE
    transcript = transcript_of(*(line["say"] for line in data["lines"]))
    acts = []
    for step in data["gold"]["steps"]:
        segment = transcript.segments[step["line"]]
        plural = step.get("count") is None and f"{step['part']}s" in segment.text.lower()
        acts.append(Act(action=step["action"], part=step["part"], kind=trade.words.kind_of(step["part"]),
                        status=step["status"], span=span(segment), count=step.get("count"), holds=step.get("holds"),
                        plural=plural))  # fmt: skip
    ledger = assemble(Statements(acts=tuple(acts)), transcript, trade).ledger
    names = ScoredNames()
    fasteners = {(names.norm(i.holds), i.part, i.count_out, i.count_in) for i in ledger.items if i.kind == "fastener"}
    gold = data["gold"]
    assert fasteners == {(names.norm(f["holds"]), f["kind"], f["out"], f["in"]) for f in gold["fasteners"]}
    items = {i.id: i for i in ledger.items}
    assert sorted(names.norm(scored_name(items[o.id])) for o in ledger.open) == sorted(map(names.norm, gold["open"]))


def test_there_are_narrations() -> None:
    assert len(NARRATIONS) == 16


def test_totals_add_up_over_the_job() -> None:
    """Contract, Ledger: "a panel off and on twice counts twice"; a refit without a number is all that are out."""
    screws = {"holds": "rear panel"}
    report = told(
        ("remove screw", screws | {"count": 4}), ("refit screw", screws | {"plural": True}),
        ("remove screw", screws | {"count": 4}), ("refit screw", screws | {"count": 3}),
    )  # fmt: skip
    assert counts(report) == [("screw", "rear panel", 8, 7, "open")]
    assert "7 went back" in report.ledger.open[0].reason


def test_a_blanket_statement_closes_all_and_says_so() -> None:
    """Contract, Ledger: "everything back" closes every open item, and says so in their in_evidence."""
    report = told(
        ("remove rear panel", {}), ("remove screw", {"count": 4, "holds": "rear panel"}),
        ("disconnect defrost heater", {}), ("refit everything", {}),
    )  # fmt: skip
    assert report.ledger.open == ()
    assert {i.in_evidence[0].quote for i in report.ledger.items} == {"refit everything"}


@pytest.mark.parametrize("status", ["planned", "advised", "unclear", "retracted"])
def test_what_is_not_said_to_be_done_moves_nothing(status: str) -> None:
    """Contract, Ledger: done and narrated steps move the ledger; others do not."""
    assert told(("remove rear panel", {"status": status})).ledger.items == ()
    report = told(("remove rear panel", {"status": "narrated"}), ("refit rear panel", {"status": status}))
    assert [i.state for i in report.ledger.items] == ["open"]


def test_supplies_are_no_items() -> None:
    assert told(("isolate power supply", {}), ("open water supply", {})).ledger.items == ()


@pytest.mark.parametrize(
    ("off", "back"),
    [
        ("disconnect evaporator fan harness", "reconnect fan plug"),
        ("disconnect fan connector", "reconnect plug"),
        ("disconnect defrost heater", "reconnect heater connector"),
        ("remove rear panel", "refit panel"),
        ("remove evaporator fan motor", "refit evaporator fan"),
        ("remove drawers", "refit drawer"),
    ],
)
def test_names_are_compared_loosely(off: str, back: str) -> None:
    """Common practice in speech, no source."""
    assert [i.state for i in told((off, {}), (back, {})).ledger.items] == ["restored"]


def test_a_part_that_is_back_does_not_plug_its_connector_in() -> None:
    """Contract, Checks: what is only implied is missing."""
    report = told(("disconnect evaporator fan connector", {}), ("remove evaporator fan motor", {}),
                  ("replace evaporator fan motor", {}))  # fmt: skip
    assert [(i.kind, i.state) for i in report.ledger.items] == [("connector", "open"), ("part", "replaced")]


def test_a_lost_fastener_is_explained_and_stays_open() -> None:
    """Contract, Ledger: a fastener said to be lost is explained; it stays open. A bare refit does not bring it back."""
    acts = (("remove screw", {"count": 3, "holds": "top hinge"}), ("other one is stripped", {}),
            ("refit screw", {"holds": "top hinge", "plural": True}), ("refit everything", {}))  # fmt: skip
    lines = transcript_of(*(a[0] for a in acts))
    lost = Lost(part="screw", holds="top hinge", text="one is stripped", span=span(lines.segments[1]))
    item = told(*acts, lost=(lost,)).ledger.items[0]
    assert (item.count_out, item.count_in, item.state, item.explained) == (3, 2, "open", "one is stripped")


def test_left_off_opens_a_thing() -> None:
    """The gold's rulings, Ledger: "Left off" opens a thing."""
    report = told(("refit foam tape", {"status": "not_done"}))
    assert [(i.part, i.state) for i in report.ledger.items] == [("foam tape", "open")]
    assert report.ledger.open[0].reason == "The foam tape was said not to be back."


def test_some_connectors_are_still_off() -> None:
    report = told(("disconnect board connector", {"count": 6}), ("reconnect board connector", {"count": 5}))
    assert counts(report) == [("board connector", None, 6, 5, "open")]


def test_last_off_first() -> None:
    """Contract, Ledger: reassembly_order is last off first. Screws named after their cover came off before it."""
    words = "cover off, six screws, then the drain tube"
    transcript = transcript_of(words)
    whole: dict[str, Any] = {"status": "done", "span": span(transcript.segments[0])}
    acts = (
        Act(action="remove", part="rear panel", kind="part", **whole),
        Act(action="remove", part="screw", kind="fastener", count=6, holds="rear panel", **whole),
        Act(action="remove", part="drain tube", kind="tube", **whole),
    )
    note = Noted(kind="orientation", about="drain tube", text="elbow to the left", span=span(transcript.segments[0]))
    ledger = assemble(Statements(acts=acts, notes=(note,)), transcript, FRIDGE).ledger
    items = {i.id: i for i in ledger.items}
    assert [items[i].part for i in ledger.reassembly_order] == ["drain tube", "rear panel", "screw"]
    assert items[ledger.reassembly_order[0]].orientation == "elbow to the left"


def measured(transcript: Transcript, line: int, **more: Any) -> Measured:
    values: dict[str, Any] = {
        "quantity": "resistance", "subject": None, "value": 15.0, "value_high": None, "unit": "Ohm",
        "unit_assumed": False, "decimals": 0, "qualifier": "exact", "reference": None, "stage": None,
        "timeless": False, "spoken": "fifteen ohms", "span": span(transcript.segments[line]),
    }  # fmt: skip
    return Measured(**values | more)


def test_before_and_after_the_repair() -> None:
    """Contract, Readings: as_found before the repair, as_left after it, null for the process itself."""
    transcript = transcript_of("fifteen ohms", "new heater in", "fifteen ohms", "ten minutes", "it was fifteen ohms")
    act = Act(action="replace", part="defrost heater", kind="part", status="done", span=span(transcript.segments[1]))
    readings = (measured(transcript, 0), measured(transcript, 2), measured(transcript, 3, timeless=True),
                measured(transcript, 4, stage="as_found"))  # fmt: skip
    report = assemble(Statements(acts=(act,), readings=readings), transcript, FRIDGE)
    assert [r.stage for r in report.readings] == ["as_found", "as_left", None, "as_found"]
    alone = assemble(Statements(readings=readings[:2]), transcript, FRIDGE)
    assert [r.stage for r in alone.readings] == ["as_found", "as_found"]


@pytest.mark.parametrize(
    ("probability", "alternative", "doubt"),
    [(0.9, "fifty", "reads fifty ohms"), (0.9, "15", None), (0.9, None, None), (0.3, None, "poorly heard")],
)
def test_doubt(probability: float, alternative: str | None, doubt: str | None) -> None:
    """Contract, Readings: suspect where the recogniser was unsure between two numbers."""
    words = (Word(word="reads", start=0, end=1),
             Word(word="fifteen", start=1, end=2, probability=probability, alternative=alternative),
             Word(word="ohms", start=2, end=3))  # fmt: skip
    text = "reads fifteen ohms"
    segment = Segment(id="r1s000", recording="r1", start=0, end=3, heard=text, text=text, words=words)
    transcript = Transcript(recordings=transcript_of("x").recordings, segments=(segment,))
    found = assemble(Statements(readings=(measured(transcript, 0),)), transcript, FRIDGE).readings[0].doubt
    assert (found is None) if doubt is None else (found is not None and doubt in found)


@pytest.mark.parametrize(("part", "number"), [("motor", "FM7"), ("relay", None)])
def test_a_number_read_out_before_its_part_is_fitted(part: str, number: str | None) -> None:
    at = span(transcript_of("other number").segments[0])
    at_hand = (Fitted(part=part, part_number="FM7", quantity=None, span=at),)
    report = told(("other number", {}), ("replace fan motor", {}), at_hand=at_hand)
    assert [(p.part, p.part_number, p.quantity) for p in report.parts_used] == [("fan motor", number, 1)]


def test_a_number_read_out_later_is_not_of_a_part_fitted_before() -> None:
    at = span(transcript_of("replace fan motor", "remove cover", "other number").segments[2])
    at_hand = (Fitted(part="motor", part_number="FM7", quantity=None, span=at),)
    report = told(("replace fan motor", {}), ("remove cover", {}), ("other number", {}), at_hand=at_hand)
    assert [p.part_number for p in report.parts_used] == [None]


def test_parts_used() -> None:
    """A number read out later belongs to the part that was fitted; a plan fits nothing."""
    words = ("replace defrost heater", "replace control board", "number D H seven")
    at = span(transcript_of(*words).segments[2])
    fitted = (Fitted(part="heater", part_number="DH7", quantity=None, span=at),)
    report = told((words[0], {}), (words[1], {"status": "planned"}), ("other number", {}), fitted=fitted)
    assert [(p.part, p.part_number, p.quantity) for p in report.parts_used] == [("defrost heater", "DH7", 1)]
    assert len(report.parts_used[0].evidence) == 2


@pytest.mark.parametrize(("total", "minutes"), [(False, 75.0), (True, 30.0)])
def test_labour_is_the_total_over_visits(total: bool, minutes: float) -> None:
    """Contract, job: labour over several visits is the total; the last value said stands."""
    transcript = transcript_of("an hour", "no, forty five minutes", "half an hour")
    said = [(60.0, 1, False), (45.0, 1, False), (30.0, 2, total)]
    identity = tuple(Identity(field="labour_min", value=v, span=span(s), visit=n, total=t)
                     for (v, n, t), s in zip(said, transcript.segments, strict=True))  # fmt: skip
    labour = assemble(Statements(identity=identity), transcript, FRIDGE).job.labour_min
    assert labour is not None
    assert labour.value == minutes


def test_quotes_are_the_transcript() -> None:
    """Contract, Evidence: the quote is the transcript text exactly as it stands between start and end."""
    transcript = transcript_of("Customer says it hums, badly.")
    part = span(transcript.segments[0], 2, 5)
    topic = Told(topic="complaint", text="it hums, badly", status="done", span=part)
    report = assemble(Statements(told=(topic,)), transcript, FRIDGE, recorded_at="2026-01-02T03:04:05Z")
    quoted = report.complaint[0].evidence[0]
    assert (quoted.quote, quoted.start, quoted.end) == ("it hums, badly.", part.start, part.end)
    assert report.checks == ()
    assert report.job.recorded_at is not None
    assert Report.model_validate(report.model_dump()) == report


def test_a_part_is_known_by_the_first_words_of_its_name() -> None:
    """ "Toe kick's on" puts the toe kick grille back, where nothing else begins so. Common practice, no source."""
    report = told(("remove toe kick grille", {}), ("refit toe kick", {}))
    assert [i.state for i in report.ledger.items] == ["restored"]
    two = told(("remove toe kick grille", {}), ("remove toe kick bracket", {}), ("refit toe kick", {}))
    assert [i.state for i in two.ledger.items] == ["open", "open"]
    other = told(("remove fan guard", {}), ("refit fan", {}))
    assert other.ledger.items[0].state == "open"  # the fan is no fan guard
    plug = told(("disconnect fan connector", {}), ("reconnect light connector", {}))
    assert plug.ledger.items[0].state == "open"


def test_a_connector_called_by_its_colour_is_one_of_those_that_are_off() -> None:
    """ "White's in, red's in" after three plugs came off the board. Common practice, no source."""
    off = ("disconnect board plug", {"count": 3.0, "plural": True})
    back = [("reconnect white", {"kind": "connector"}), ("reconnect red plug", {"kind": "connector"})]
    (item,) = told(off, *back).ledger.items
    assert (item.count_out, item.count_in, item.state) == (3, 2, "open")
    (item,) = told(off, *back, ("reconnect blue", {"kind": "connector"})).ledger.items
    assert item.state == "restored"
    two = told(off, ("disconnect valve plug", {"count": 2.0, "plural": True}), back[0])
    assert [i.count_in for i in two.ledger.items] == [0, 0]  # of which it is one, nobody said


def test_a_spade_is_no_plug() -> None:
    """ "Spades on" leaves the plug of the same motor off. Common practice, no source."""
    off = [("disconnect auger plug", {"count": 2.0, "plural": True}), ("disconnect auger spade", {"count": 2.0})]
    report = told(*off, ("reconnect auger spade", {"plural": True}))
    assert [(i.part, i.state) for i in report.ledger.items] == [("auger plug", "open"), ("auger spade", "restored")]


@pytest.mark.parametrize(
    ("off", "back", "left"),
    [
        (["peel foam seal"], "reseal foam", 0),
        (["peel foam strip"], "refit foam seal", 0),
        (["peel foam tape"], "replace foam", 0),
        (["peel foam tape", "peel foam seal"], "reseal foam", 2),
        (["peel door gasket"], "reseal foam tape", 1),
        (["peel foam strip", "peel foam"], "reseal foam strip", 0),
        (["peel foam strip", "peel door gasket"], "reseal foam strip", 1),
        (["remove crisper drawer"], "refit crisper", 0),
        (["remove ice bin"], "refit ice tray", 1),
        (["remove thermostat box"], "refit thermostat", 1),
        (["remove lower panel"], "refit rear panel", 0),
        (["remove bottom cover"], "refit back cover", 0),
        (["remove lower panel", "remove top panel"], "refit rear panel", 2),
        (["remove front panel"], "refit rear panel", 1),
        (["remove top panel"], "refit rear panel", 1),
    ],
)
def test_a_seal_or_a_cover_goes_back_under_another_name(off: list[str], back: str, left: int) -> None:
    """Only where it is the only one that can be meant: of two that can, none is put back."""
    assert len(told(*((words, {}) for words in off), (back, {})).ledger.open) == left


def test_one_of_several_tubes_goes_back_by_its_colour() -> None:
    two = ("remove outlet tube", {"count": 2, "plural": True})
    transcript = transcript_of("two outlet tubes off, red and blue", "red tube in", "red tube in", "blue tube in")
    acts = [Act(action=action, part=part, kind="tube", status="done", span=span(segment), **more)
            for (action, part, more), segment in zip(
                [(*two[0].split(" ", 1), two[1]), ("refit", "red tube", {}), ("refit", "red tube", {}),
                 ("refit", "blue tube", {})], transcript.segments, strict=True)]  # fmt: skip

    def left(count: int) -> float:
        item = assemble(Statements(acts=tuple(acts[:count])), transcript, FRIDGE).ledger.items[0]
        return item.count_out - item.count_in

    assert [left(n) for n in (1, 2, 3, 4)] == [2, 1, 1, 0]


def test_a_part_that_broke_off_is_nothing_that_was_taken_off() -> None:
    transcript = transcript_of("the damper flap's broken off its hinge", "took the flap off its hinge")
    acts = [
        Act(action="remove", part="damper flap", kind="part", status="done", span=span(s)) for s in transcript.segments
    ]
    assert assemble(Statements(acts=tuple(acts[:1])), transcript, FRIDGE).ledger.items == ()
    assert len(assemble(Statements(acts=tuple(acts[1:])), transcript, FRIDGE).ledger.open) == 1


@pytest.mark.parametrize(
    ("off", "left"),
    [
        ("remove label lump", 0),
        ("remove ice", 0),
        ("disconnect microwave plug", 0),
        ("remove ice tray", 1),
        ("remove label plate", 1),
        ("disconnect fan plug", 1),
    ],
)
def test_what_is_cleared_out_or_is_anothers_never_has_to_go_back(off: str, left: int) -> None:
    assert len(told((off, {})).ledger.open) == left
