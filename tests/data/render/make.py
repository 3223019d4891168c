"""Writes the reports of this folder, all invented: PYTHONPATH=. python tests/data/render/make.py"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from voicereport.report import (
    Appliance,
    Change,
    Check,
    CheckState,
    Claim,
    Evidence,
    Job,
    Ledger,
    LedgerItem,
    Note,
    OpenItem,
    PartUsed,
    Reading,
    RecordingEntry,
    Remark,
    Report,
    Review,
    Said,
    SegmentEntry,
    Severity,
    Step,
    TranscriptEntry,
    Verdict,
    WordEntry,
    dump_json,
)

HERE = Path(__file__).parent
Line = tuple[str, float, str]  #: recording, second, words


class Talk:
    """A narration, from which evidence is taken by the number of the line."""

    def __init__(self, *lines: Line) -> None:
        self.lines = lines

    def at(self, number: int, *, confidence: float = 0.93) -> tuple[Evidence, ...]:
        recording, start, words = self.lines[number]
        end = round(start + 0.35 * len(words.split()), 2)
        piece = Evidence(
            recording=recording, segment=f"s{number + 1:03d}", start=start, end=end, quote=words, confidence=confidence
        )
        return (piece,)

    def transcript(self, doubts: dict[str, tuple[float, str | None]], heard: dict[int, str]) -> TranscriptEntry:
        segments = []
        for number, (recording, start, words) in enumerate(self.lines):
            tokens = words.split()
            entries = []
            for place, word in enumerate(tokens):
                probability, alternative = doubts.get(f"{number}:{word.strip('.,')}", (0.94, None))
                begin = round(start + 0.35 * place, 2)
                entries.append(
                    WordEntry(
                        word=word,
                        start=begin,
                        end=round(begin + 0.33, 2),
                        probability=probability,
                        alternative=alternative,
                    )
                )
            segments.append(
                SegmentEntry(
                    id=f"s{number + 1:03d}",
                    recording=recording,
                    start=start,
                    end=round(start + 0.35 * len(tokens), 2),
                    heard=heard.get(number, words),
                    text=words,
                    words=tuple(entries),
                )
            )
        return TranscriptEntry(segments=tuple(segments))


def recording(name: str, digit: str, visit: int, duration_s: float) -> RecordingEntry:
    return RecordingEntry(name=name, sha256=digit * 64, duration_s=duration_s, speech_s=duration_s * 0.3, visit=visit,
                          engine="transcript", model="", language="en")  # fmt: skip


def check(id_: str, title: str, severity: Severity, state: CheckState, reason: str, **more: Any) -> Check:
    return Check(id=id_, title=title, severity=severity, state=state, reason=reason, **more)


def freezer() -> Report:
    """A no-frost freezer repair with a connector forgotten, a screw short and the isolation after the panel."""
    name = "freezer.m4a"
    talk = Talk(
        (name, 3.2, "Work order four four one seven, upright freezer, model FR-62 N, serial 0093 7715."),
        (name, 14.0, "Customer says it is warm at the top and makes a humming noise."),
        (name, 31.5, "Six screws out of the rear panel, and the rear panel is off."),
        (name, 52.0, "Plug is out now."),
        (name, 66.4, "The evaporator is one block of ice."),
        (name, 81.0, "Harness unplugged from the fan, blue wire to the left."),
        (name, 97.5, "Defrost heater reads open circuit, should be about forty eight ohms."),
        (name, 118.0, "So the defrost heater has failed."),
        (name, 140.2, "New heater is in, part number H-2207, and it reads forty eight point three ohms."),
        (name, 171.0, "I peeled the foam tape off the top edge, going to renew it next time."),
        (name, 195.0, "Panel is back on with five screws, one is stripped."),
        (name, 214.0, "Plug is back in. Running, cabinet down to minus eighteen point five."),
        (name, 246.0, "Cabinet was minus four when I came."),
        (name, 262.0, "Keep the vents clear, and mind the sharp fins behind the panel."),
        (name, 280.0, "Fan draws nought point one five amps."),
        (name, 300.0, "An hour and a quarter in all."),
    )
    return Report(
        job=Job(
            work_order=Said(value="4417", evidence=talk.at(0)),
            recorded_at=Said(value="2026-03-09T09:12:00+00:00", entered_by="Office", entered_at="2026-03-09T12:00:00Z"),
            technician=Said(value="R. Okafor", entered_by="Office", entered_at="2026-03-09T12:00:00Z"),
            customer=Said(value="Hollow Lane Dairy", entered_by="Office", entered_at="2026-03-09T12:00:00Z"),
            site=Said(value="2 Hollow Lane, cold store", entered_by="Office", entered_at="2026-03-09T12:00:00Z"),
            job_type=Said(value="repair", evidence=talk.at(0)),
            appliance=Appliance(kind=Said(value="upright freezer", evidence=talk.at(0)),
                                model=Said(value="FR-62 N", evidence=talk.at(0)),
                                serial=Said(value="0093 7715", evidence=talk.at(0))),
            labour_min=Said(value=75.0, evidence=talk.at(15)),
        ),
        recordings=(recording(name, "a", 1, 318.4),),
        transcript=talk.transcript(
            {"5:blue": (0.41, None), "14:five": (0.71, "fifty"), "10:stripped": (0.38, "ripped")},
            {6: "The frost heater reads open circuit, should be about forty eight ohms."},
        ),
        complaint=(Remark(text="Warm at the top, and a humming noise.", evidence=talk.at(1)),),
        findings=(
            Remark(text="The evaporator was one block of ice.", evidence=talk.at(4)),
            Remark(text="The drain may be frozen as well.", status="unclear", evidence=talk.at(4)),
        ),
        cause=(Remark(text="The defrost heater has failed.", evidence=talk.at(7)),),
        correction=(
            Remark(text="New defrost heater fitted.", evidence=talk.at(8)),
            Remark(text="Renew the foam tape along the top edge.", status="planned", evidence=talk.at(9)),
            Remark(text="The thermostat was changed.", status="retracted", evidence=talk.at(8)),
        ),
        recommendations=(Remark(text="Keep the vents clear.", status="advised", evidence=talk.at(13)),),
        steps=(
            Step(id="t1", action="remove", part="screw", count=6, holds="rear panel", status="done",
                 evidence=talk.at(2)),
            Step(id="t2", action="remove", part="rear panel", status="done", evidence=talk.at(2)),
            Step(id="t3", action="isolate", part="power supply", status="done", evidence=talk.at(3)),
            Step(id="t4", action="disconnect", part="evaporator fan harness", status="done", evidence=talk.at(5)),
            Step(id="t5", action="replace", part="defrost heater", status="done", evidence=talk.at(8)),
            Step(id="t6", action="peel", part="foam tape", location="top edge", status="done", evidence=talk.at(9)),
            Step(id="t7", action="reseal", part="foam tape", status="planned", evidence=talk.at(9)),
            Step(id="t8", action="refit", part="screw", count=5, holds="rear panel", status="done",
                 evidence=talk.at(10)),
            Step(id="t9", action="replace", part="thermostat", status="retracted", evidence=talk.at(8)),
            Step(id="t10", action="clean", part="drain", status="unclear", evidence=talk.at(4)),
            Step(id="t11", action="restore_power", part="power supply", status="done", evidence=talk.at(11)),
            Step(id="t12", action="run_test", part="appliance", status="done", evidence=talk.at(11)),
        ),
        readings=(
            Reading(id="r1", quantity="resistance", subject="defrost heater", qualifier="open_circuit",
                    stage="as_found",
                    spoken="open circuit, should be about forty eight ohms", limit_low=45.6, limit_high=50.4,
                    verdict=Verdict(result="outside", low=45.6, high=50.4, unit="Ohm", source="spoken specification",
                                    reason="An open circuit has no resistance to compare; the heater is broken.",
                                    worked="48 Ω ± 5 % = 45.6 to 50.4 Ω; open circuit lies outside"),
                    evidence=talk.at(6)),
            Reading(id="r2", quantity="resistance", subject="defrost heater", value=48.3, decimals=1, unit="Ohm",
                    stage="as_left", spoken="forty eight point three ohms",
                    verdict=Verdict(result="within", low=45.6, high=50.4, unit="Ohm", source="spoken specification",
                                    worked="45.6 ≤ 48.3 ≤ 50.4 Ω"),
                    evidence=talk.at(8)),
            Reading(id="r3", quantity="temperature", subject="cabinet", value=-18.5, decimals=1, unit="Cel",
                    unit_assumed=True, stage="as_left", spoken="minus eighteen point five",
                    verdict=Verdict(result="within", high=-18.0, unit="Cel", source="trade pack, frozen food storage",
                                    worked="−18.5 ≤ −18 °C"),
                    evidence=talk.at(11)),
            Reading(id="r4", quantity="temperature", subject="cabinet", value=-4, decimals=0, unit="Cel",
                    unit_assumed=True, stage="as_found", spoken="minus four",
                    verdict=Verdict(result="outside", high=-18.0, unit="Cel", source="trade pack, frozen food storage",
                                    worked="−4 > −18 °C"),
                    evidence=talk.at(12)),
            Reading(id="r5", quantity="current", subject="evaporator fan", value=0.15, decimals=2, unit="A",
                    spoken="nought point one five amps", doubt="nought point five amps",
                    verdict=Verdict(result="suspect", low=0.1, high=0.3, unit="A", source="trade pack, fan motors",
                                    reason="A second look heard nought point five."),
                    evidence=talk.at(14, confidence=0.71)),
        ),
        parts_used=(PartUsed(part="defrost heater", part_number="H-2207", quantity=1, evidence=talk.at(8)),),
        ledger=Ledger(
            items=(
                LedgerItem(id="i1", part="screw", kind="fastener", holds="rear panel", count_out=6, count_in=5,
                           state="open", explained="one is stripped", out_evidence=talk.at(2),
                           in_evidence=talk.at(10)),
                LedgerItem(id="i2", part="rear panel", kind="part", count_out=1, count_in=1, state="restored",
                           out_evidence=talk.at(2), in_evidence=talk.at(10)),
                LedgerItem(id="i3", part="evaporator fan harness", kind="connector", count_out=1, state="open",
                           orientation="blue wire to the left", out_evidence=talk.at(5)),
                LedgerItem(id="i4", part="foam tape", kind="seal", count_out=1, state="open", out_evidence=talk.at(9)),
            ),
            reassembly_order=("i4", "i3", "i2", "i1"),
            open=(OpenItem(id="i1", reason="Six came off and five went back."),
                  OpenItem(id="i3", reason="Nobody said that it was plugged in again."),
                  OpenItem(id="i4", reason="It was to be renewed next time.")),
        ),
        notes=(
            Note(kind="orientation", about="evaporator fan harness", text="blue wire to the left", evidence=talk.at(5)),
            Note(kind="caution", about="rear panel", text="sharp fins behind it", evidence=talk.at(13)),
        ),
        claims=(Claim(id="c1", claim="fan-runs", about="evaporator fan", status="done", evidence=talk.at(14)),),
        checks=(
            check("power-isolated", "Supply off before the work", "stop", "out_of_order",
                  "The supply was said to be off (00:52) only after the rear panel had come off (00:31).",
                  evidence=(*talk.at(2), *talk.at(3)), reference="Trade pack, electrical safety"),
            check("absence-of-voltage-verified", "Shown to be dead", "stop", "not_applicable",
                  "The appliance's own plug was pulled."),
            check("connectors-restored", "Connectors plugged in again", "stop", "missing",
                  "Nobody said that the evaporator fan harness was plugged in again. Say so, or look.",
                  evidence=talk.at(5)),
            check("fasteners-balanced", "As many fasteners back as came off", "warning", "confirmed",
                  "Six came off, five went back; one was said to be stripped.", evidence=talk.at(10)),
            check("seals-restored", "Seals and tape back", "warning", "unclear",
                  "The foam tape is to be renewed next time; that is a plan.", evidence=talk.at(9)),
            check("earth-continuity-verified", "Earth continuity measured", "stop", "contradicted",
                  "It was said that the earth was not measured.", evidence=talk.at(14, confidence=0.44)),
            check("operation-verified", "Ran as a test", "warning", "confirmed", "Running after the work.",
                  evidence=talk.at(11)),
            check("drain-restored", "Drain seated again", "warning", "not_applicable", "The drain stayed in place."),
        ),
        status="blocked",
        review=Review(changes=(Change(who="Office", when="2026-03-09T12:00:00Z", path="/job/customer", before=None,
                                      after="Hollow Lane Dairy", why="not spoken"),)),
    )  # fmt: skip


def chiller() -> Report:
    """A sealed-system job over two visits, complete and signed, without a spoken correction."""
    one, two = "first visit.ogg", "second visit.ogg"
    talk = Talk(
        (one, 5.0, "Bottle chiller, work order 5102. It runs all day and does not cool."),
        (one, 40.0, "Isolator is off and locked, and the tester shows dead."),
        (one, 75.0, "Forty one grams of refrigerant recovered, windows are open and nothing can light it."),
        (one, 130.0, "Filter drier cut out."),
        (two, 4.0, "New filter drier is brazed in."),
        (two, 60.0, "Nitrogen at ten bar, ten minutes, no drop."),
        (two, 3700.0, "Vacuum is two hundred and eighty microns."),
        (two, 3900.0, "Charged with forty two grams of R600a."),
        (two, 5400.0, "Cabinet at four degrees, it was seventeen."),
        (two, 5460.0, "Supply is on again."),
    )
    reference = Verdict(result="within", high=500.0, unit="um[Hg]", source="trade pack, sealed system",
                        worked="280 ≤ 500 µmHg")  # fmt: skip
    cool = Verdict(result="within", low=0, high=5, unit="Cel", source="trade pack, chilled food", worked="0 ≤ 4 ≤ 5 °C")
    return Report(
        job=Job(work_order=Said(value="5102", evidence=talk.at(0)),
                recorded_at=Said(value="2026-04-20T08:00:00+02:00", entered_by="Ada Mills"),
                appliance=Appliance(kind=Said(value="bottle chiller", evidence=talk.at(0)))),
        recordings=(recording(one, "b", 1, 190.0), recording(two, "c", 2, 5500.0)),
        transcript=talk.transcript({}, {}),
        complaint=(Remark(text="Runs all day and does not cool.", evidence=talk.at(0)),),
        cause=(Remark(text="Filter drier blocked.", entered_by="Ada Mills", entered_at="2026-04-22T10:00:00Z"),),
        steps=(
            Step(id="t1", action="isolate", part="power supply", status="done", evidence=talk.at(1)),
            Step(id="t2", action="recover", part="refrigerant", status="done", evidence=talk.at(2)),
            Step(id="t3", action="cut", part="filter drier", status="done", evidence=talk.at(3)),
            Step(id="t4", visit=2, action="replace", part="filter drier", status="done", evidence=talk.at(4)),
            Step(id="t5", visit=2, action="leak_test", part="sealed system", status="done", evidence=talk.at(5)),
            Step(id="t6", visit=2, action="evacuate", part="sealed system", status="done", evidence=talk.at(6)),
            Step(id="t7", visit=2, action="charge", part="refrigerant", status="done", evidence=talk.at(7)),
            Step(id="t8", visit=2, action="restore_power", part="power supply", status="done", evidence=talk.at(9)),
        ),
        readings=(
            Reading(id="r1", quantity="mass", subject="refrigerant recovered", value=41, decimals=0, unit="g",
                    spoken="forty one grams", evidence=talk.at(2)),
            Reading(id="r2", visit=2, quantity="pressure", subject="sealed system", value=10, decimals=0, unit="bar",
                    spoken="ten bar", evidence=talk.at(5)),
            Reading(id="r3", visit=2, quantity="vacuum", subject="sealed system", value=280, decimals=0, unit="um[Hg]",
                    reference="absolute", spoken="two hundred and eighty microns", verdict=reference,
                    evidence=talk.at(6)),
            Reading(id="r4", visit=2, quantity="temperature", subject="cabinet", value=4, decimals=0, unit="Cel",
                    stage="as_left", spoken="four degrees", verdict=cool, evidence=talk.at(8)),
            Reading(id="r5", quantity="temperature", subject="cabinet", value=17, decimals=0, unit="Cel",
                    stage="as_found", spoken="seventeen", evidence=talk.at(8)),
        ),
        parts_used=(PartUsed(part="filter drier", evidence=talk.at(4)),
                    PartUsed(part="access valve", part_number="AV-14", quantity=2, entered_by="Ada Mills")),
        ledger=Ledger(items=(LedgerItem(id="i1", part="filter drier", kind="part", count_out=1, count_in=1,
                                        state="replaced", out_evidence=talk.at(3), in_evidence=talk.at(4)),),
                      reassembly_order=("i1",)),
        checks=(
            check("power-isolated", "Supply off before the work", "stop", "confirmed", "Said before the work.",
                  evidence=talk.at(1)),
            check("absence-of-voltage-verified", "Shown to be dead", "stop", "confirmed", "The tester showed dead.",
                  evidence=talk.at(1)),
            check("refrigerant-recovered", "Refrigerant recovered before opening", "stop", "confirmed",
                  "41 g were recovered.", evidence=talk.at(2)),
            check("system-leak-tested", "Leak test with a result", "stop", "confirmed", "No drop in ten minutes.",
                  evidence=talk.at(5)),
        ),
        status="complete",
        review=Review(signed_by="Ada Mills", signed_at="2026-04-22"),
    )  # fmt: skip


def lesson() -> Report:
    """A trainer's narration in the imperative, with nothing asserted."""
    name = "lesson.wav"
    talk = Talk(
        (name, 2.0, "Pull the plug."),
        (name, 9.0, "Take the two screws out of the toe kick."),
        (name, 21.0, "Lift the toe kick off."),
        (name, 35.0, "Undo the four bolts of the condenser fan bracket, the long ones go at the bottom."),
        (name, 58.0, "Unplug the fan lead, it runs behind the drain tube."),
        (name, 77.0, "Fit the new fan motor, arrow pointing to the compressor."),
        (name, 99.0, "Mind the fan blade, it cuts."),
    )
    return Report(
        job=Job(appliance=Appliance(kind=Said(value="larder fridge", evidence=talk.at(0)))),
        recordings=(recording(name, "d", 1, 120.0),),
        transcript=talk.transcript({}, {}),
        steps=(
            Step(id="t1", action="isolate", part="power supply", status="narrated", evidence=talk.at(0)),
            Step(id="t2", action="remove", part="screw", count=2, holds="toe kick", status="narrated",
                 evidence=talk.at(1)),
            Step(id="t3", action="remove", part="toe kick", status="narrated", evidence=talk.at(2)),
            Step(id="t4", action="remove", part="bolt", count=4, holds="condenser fan bracket", status="narrated",
                 evidence=talk.at(3)),
            Step(id="t5", action="disconnect", part="condenser fan lead", status="narrated", evidence=talk.at(4)),
            Step(id="t6", action="replace", part="condenser fan motor", status="narrated", evidence=talk.at(5)),
        ),
        ledger=Ledger(
            items=(
                LedgerItem(id="i1", part="screw", kind="fastener", holds="toe kick", count_out=2, state="open",
                           out_evidence=talk.at(1)),
                LedgerItem(id="i2", part="toe kick", kind="part", count_out=1, state="open", out_evidence=talk.at(2)),
                LedgerItem(id="i3", part="bolt", kind="fastener", holds="condenser fan bracket", count_out=4,
                           state="open", orientation="the long ones at the bottom", out_evidence=talk.at(3)),
                LedgerItem(id="i4", part="condenser fan lead", kind="connector", count_out=1, state="open",
                           out_evidence=talk.at(4)),
            ),
            reassembly_order=("i4", "i3", "i2", "i1"),
            open=tuple(OpenItem(id=f"i{n}", reason="Nobody said that it went back.") for n in (1, 2, 3, 4)),
        ),
        notes=(
            Note(kind="routing", about="condenser fan lead", text="runs behind the drain tube", evidence=talk.at(4)),
            Note(kind="orientation", about="condenser fan motor", text="arrow pointing to the compressor",
                 evidence=talk.at(5)),
            Note(kind="caution", about="fan blade", text="it cuts", evidence=talk.at(6)),
        ),
        checks=(
            check("power-isolated", "Supply off before the work", "stop", "unclear",
                  "The plug was named as an instruction (00:02); nobody said that it is out.", evidence=talk.at(0)),
        ),
        status="blocked",
    )  # fmt: skip


if __name__ == "__main__":
    for make in (freezer, chiller, lesson):
        (HERE / f"{make.__name__}.json").write_text(dump_json(make()), encoding="utf-8")
