"""Words to statements: what was claimed, of what, with what commitment; by rules alone and with the trained reader.

Expected values: the report contract's tables of actions and statuses, its conventions and its rulings, named beside
each check. Where a wording rests on how the trade speaks, that is said: common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from voicereport.assembly import assemble
from voicereport.checks import check_report
from voicereport.report import Report
from voicereport.statements import Reading, Statements
from voicereport.statements.acts import split_fastener
from voicereport.statements.commitment import commitments
from voicereport.statements.keys import load_keys
from voicereport.statements.names import names_in
from voicereport.statements.part_numbers import part_number
from voicereport.statements.predicates import predicates
from voicereport.statements.reader import Reader, load_reader
from voicereport.statements.tokens import Clause, clauses, sentences
from voicereport.trades import load_trade
from voicereport.transcript import Recording, Segment, Transcript, spread

FRIDGE = load_trade("domestic-refrigeration")
WORDS = FRIDGE.words
Way = str  #: "rules": rules alone; "reader": with the trained reader
WAYS = ["rules", "reader"]
_READERS: dict[Way, Reader | None] = {}


@pytest.fixture(scope="module", autouse=True)
def readers() -> Iterator[None]:
    """Both ways of reading, loaded once: VOICEREPORT_READER=off gives rules alone."""
    with pytest.MonkeyPatch.context() as patch:
        load_reader.cache_clear()
        patch.setenv("VOICEREPORT_READER", "off")
        _READERS["rules"] = load_reader()
        load_reader.cache_clear()
        patch.delenv("VOICEREPORT_READER")
        _READERS["reader"] = load_reader()
        load_reader.cache_clear()
    assert _READERS["rules"] is None
    assert _READERS["reader"] is not None, "models/reader/reader.onnx is not there"
    yield
    _READERS.clear()


def reader_of(way: Way) -> Reader | None:
    return _READERS[way]


def transcript_of(*lines: str) -> Transcript:
    segments = tuple(
        Segment(id=f"r1s{n:03}", recording="r1", start=10.0 * n, end=10.0 * n + 8, heard=line, text=line,
                words=spread(line, 10.0 * n, 10.0 * n + 8)) for n, line in enumerate(lines)
    )  # fmt: skip
    recording = Recording(name="r1", sha256="0" * 64, duration_s=10.0 * len(lines), speech_s=8.0 * len(lines))
    return Transcript(recordings=(recording,), segments=segments)


def read(way: Way, *lines: str) -> Statements:
    reading = Reading(FRIDGE, "Cel", reader_of(way), load_keys())
    for segment in transcript_of(*lines).segments:
        reading.take_segment(segment, 1)
    return reading.statements()


def report_of(way: Way, *lines: str) -> Report:
    report = assemble(read(way, *lines), transcript_of(*lines), FRIDGE)
    return check_report(report, FRIDGE, profile="US")


def states(way: Way, *lines: str) -> dict[str, str]:
    return {check.id: check.state for check in report_of(way, *lines).checks}


def acts(way: Way, *lines: str) -> list[tuple[str, str, str]]:
    return [(a.action, a.part, a.status) for a in read(way, *lines).acts]


def clauses_of(line: str) -> tuple[Clause, ...]:
    return clauses(sentences(transcript_of(line).segments[0], 1)[0])


# Words: tokens, clauses, names, predicates, commitment


def test_contractions_stand_apart() -> None:
    """The grammar of cues.toml: "contractions stand apart, with ’"."""
    (sentence,) = sentences(transcript_of("I didn't, the plug's out.").segments[0], 1)
    assert sentence.text == "i did n’t the plug ’s out"


def test_a_question_is_a_sentence_of_its_own() -> None:
    found = sentences(transcript_of("Did I put that back? Yes. Good").segments[0], 1)
    assert [(s.text, s.question) for s in found] == [("did i put that back", True), ("yes", False), ("good", False)]


@pytest.mark.parametrize(
    ("line", "parts"),
    [
        ("Screws out, panel off.", ["screws out", "panel off"]),
        ("I pulled the plug and took the panel off.", ["i pulled the plug", "took the panel off"]),
        ("One hundred and twenty volts.", ["one hundred and twenty volts"]),
    ],
)
def test_clauses(line: str, parts: list[str]) -> None:
    """English grammar: "and" joins clauses, and inside a number it does not."""
    assert [c.text for c in clauses_of(line)] == parts


@pytest.mark.parametrize(
    ("line", "part", "count"),
    [
        ("the six screws of the rear panel", "screw", 6.0),
        ("both screws", "screw", 2.0),
        ("two of the three screws", "screw", 2.0),
        ("the evaporator fan motors", "evaporator fan motor", None),
        ("a couple of screws", "screw", 2.0),
    ],
)
def test_things_are_named_singular_and_counted(line: str, part: str, count: float | None) -> None:
    """Contract, Steps: `part` is singular, lower case, without articles or counts."""
    name = names_in(clauses_of(line)[0], WORDS)[0]
    assert (name.part, name.count) == (part, count)


def test_a_new_thing_is_known_as_new() -> None:
    assert [n.new for n in names_in(clauses_of("a new defrost heater")[0], WORDS)] == [True]
    assert [n.new for n in names_in(clauses_of("the old defrost heater")[0], WORDS)] == [False]


@pytest.mark.parametrize(
    ("part", "split"),
    [("hinge screw", ("screw", "hinge")), ("screw", ("screw", None)), ("rear panel screw", ("screw", "rear panel"))],
)
def test_a_fastener_says_what_it_holds(part: str, split: tuple[str, str | None]) -> None:
    """Contract, Steps: "a fastener's step says what it `holds`"."""
    (name,) = names_in(clauses_of(f"the {part}")[0], WORDS)
    assert split_fastener(name, WORDS) == split


@pytest.mark.parametrize(
    ("line", "verb"),
    [("I removed the rear panel.", True), ("Rear panel's off.", False), ("Panel off.", False)],
)
def test_a_state_says_what_a_verb_says(line: str, verb: bool) -> None:
    """Common practice, no source: what is off was taken off."""
    (found,) = predicates(clauses_of(line)[0], WORDS)
    assert found.verb is verb


def test_the_first_word_of_a_name_is_no_predicate() -> None:
    assert predicates(clauses_of("The drain trough, yes")[0], WORDS) == ()


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("Pulled the plug.", "done"),
        ("Four screws are back in.", "done"),
        ("Remove the two screws.", "narrated"),
        ("Unplug the harness.", "narrated"),
        ("I'll reseal it later.", "planned"),
        ("Going to fit a new one.", "planned"),
        ("Make sure the tape goes back.", "advised"),
        ("You want the power off.", "advised"),
        ("Did not check the drain.", "not_done"),
        ("Left the tape off.", "not_done"),
        ("I think I unplugged it.", "unclear"),
        ("Did I put that screw back?", "unclear"),
        ("He says he unplugged it.", "unclear"),
    ],
)
def test_what_a_clause_commits_the_speaker_to(line: str, status: str) -> None:
    """Contract, Steps, table of statuses: its own examples; hearsay by the rulings for checks."""
    (sentence,) = sentences(transcript_of(line).segments[0], 1)
    found = commitments(sentence, clauses(sentence), WORDS)
    assert {c.status for c in found} == {status}
    assert all(c.why for c in found)


# Acts


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        (["Pulled the plug."], [("isolate", "power supply", "done")]),
        (["Plug out."], [("isolate", "power supply", "done")]),
        (["Power's back on."], [("restore_power", "power supply", "done")]),
        (["I turned the water off at the stopcock."], [("isolate", "water supply", "done")]),
        (["Unplug the evaporator fan harness."], [("disconnect", "evaporator fan harness", "narrated")]),
        (["Fitted a new evaporator fan motor."], [("replace", "evaporator fan motor", "done")]),
        (["I'll reseal the foam tape later."], [("reseal", "foam tape", "planned")]),
        (["Did not check the drain."], [("inspect", "drain", "not_done")]),
        (["I unclipped the wiring loom."], [("loosen", "wiring loom", "done")]),
        (["Rear panel's off.", "It's back on."], [("remove", "rear panel", "done"), ("refit", "rear panel", "done")]),
    ],
)
def test_acts(way: Way, lines: list[str], expected: list[tuple[str, str, str]]) -> None:
    """Contract, Steps: actions, conventions (supplies, wiring, new parts), statuses."""
    assert acts(way, *lines) == expected


def test_what_stands_for_the_thing_spoken_of() -> None:
    """Contract, Steps: the part is named, whatever word stood for it. Rules alone take "plugged it back in" for the
    appliance's own plug; the reader does not assert it, so that the step is unclear and confirms nothing."""
    found = acts("reader", "I unplugged the evaporator fan harness.", "I plugged it back in.")
    assert [a[:2] for a in found[1:]] == [("reconnect", "evaporator fan harness")]


def test_a_copy_that_reads_on_leaves_the_reading_as_it_was() -> None:
    """What is read ahead of its time is read again: a copy goes on apart, and asking for the claims changes nothing."""
    said = ("Remove the cover.", "Set the bracket back on.", "Unplug the fan.", "Remove the tray.")
    lines = transcript_of(*said).segments
    reading = Reading(FRIDGE, "Cel", reader_of("reader"), load_keys())
    reading.take_segment(lines[0], 1)
    before = reading.statements()
    ahead = reading.fork()
    for line in lines[1:]:
        ahead.take_segment(line, 1)
    assert len(ahead.statements().acts) > len(before.acts)
    assert reading.statements() == before
    assert reading.either == []
    assert "done" in {a.status for a in ahead.acts}  # past or imperative: the whole speech decides
    assert {a.status for a in ahead.statements().acts} == {"narrated"}
    assert "done" in {a.status for a in ahead.acts}


@pytest.mark.parametrize("way", WAYS)
def test_all_six_are_the_screws(way: Way) -> None:
    found = read(way, "Six screws out of the evaporator cover.", "All six back in.").acts
    assert [(a.action, a.part, a.count, a.holds) for a in found] == [
        ("remove", "screw", 6.0, "evaporator cover"),
        ("refit", "screw", 6.0, "evaporator cover"),
    ]


@pytest.mark.parametrize("way", WAYS)
def test_a_correction_replaces(way: Way) -> None:
    """Contract, Steps: "four, correction, six screws out of the panel" is one step with count 6."""
    (act,) = read(way, "Four, correction, six screws out of the rear panel.").acts
    assert (act.action, act.part, act.count, act.holds) == ("remove", "screw", 6.0, "rear panel")


@pytest.mark.parametrize("way", WAYS)
def test_what_is_taken_back_is_retracted(way: Way) -> None:
    """Contract, Steps: "four screws, no, scratch that"."""
    (act,) = read(way, "Four screws out of the rear panel. No, scratch that.").acts
    assert act.status == "retracted"


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(("answer", "status"), [("Yes.", "done"), ("No.", "not_done")])
def test_an_answer_settles_the_question(way: Way, answer: str, status: str) -> None:
    """English: a question answered by its speaker is asserted or denied."""
    assert acts(way, "Did I plug the fan harness back in?", answer) == [("reconnect", "fan harness", status)]


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(
    "line",
    [
        "I turned the thermostat off.",
        "The dishwasher is unplugged.",
        "Last week I unplugged a fridge round the corner.",
        "Breaker four is for the kitchen.",
        "The plug on the fan is fine.",
    ],
)
def test_what_isolates_nothing(way: Way, line: str) -> None:
    """Contract, rulings: a control turned off is never isolation; nor is another appliance or job."""
    found = [(a, s) for a, _, s in acts(way, line) if a == "isolate"]
    assert ("isolate", "done") not in found
    assert ("isolate", "narrated") not in found


def test_a_blanket_statement() -> None:
    """Contract, Ledger: "everything back in reverse order" closes every open item. Rules alone do not reach it."""
    lines = ["Four screws out of the rear panel and the panel is off.", "Everything back in reverse order."]
    assert report_of("reader", *lines).ledger.open == ()


# Readings, identity, headings


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(
    ("line", "quantity", "value", "unit"),
    [
        ("Defrost heater reads forty eight ohms.", "resistance", 48.0, "Ohm"),
        ("Meter across the fan winding, two point one kilohms.", "resistance", 2.1, "kOhm"),
        ("Freezer's at minus nineteen.", "temperature", -19.0, "Cel"),
        ("I've got one hundred and nineteen volts at the outlet.", "voltage", 119.0, "V"),
        ("Pulled it down to three hundred microns.", "vacuum", 300.0, "um[Hg]"),
        ("Vacuum bottomed out at nought point four millibar.", "vacuum", 0.4, "mbar"),
        ("Meter says one nineteen volts.", "voltage", 119.0, "V"),
        ("The fan is drawing sixty one watts.", "power", 61.0, "W"),
        ("The fan is drawing two amps with the door open.", "current", 2.0, "A"),
        ("The gasket has a gap of about three mil.", "length", 3.0, "mm"),
        ("Wall socket's giving me two thirty nine volts.", "voltage", 239.0, "V"),
        ("Compound gauge on the low side's back at four inches of vacuum.", "vacuum", 4.0, "[in_i'Hg]"),
    ],
)
def test_readings(way: Way, line: str, quantity: str, value: float, unit: str) -> None:
    """Contract, Readings: quantities, UCUM codes; a unit that was not spoken follows the job's setting."""
    (found,) = read(way, line).readings
    assert (found.quantity, found.value, found.unit) == (quantity, value, unit)
    assert found.unit_assumed is ("minus" in line)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(
    "line",
    [
        "The spec is forty eight ohms.",
        "It's a two hundred watt heater.",
        "Set it to minus eighteen.",
        "The quarter inch screws are out.",
        "Ring the customer at ten past two.",
        "That part is sixty pounds.",
        "Did you get forty eight ohms?",
        "The drawing says forty eight ohms.",
        "It says three hundred and fifty watts on the element.",
        "The bimetal opens at ten degrees.",
        "Screws are four mil by twenty.",
        "Thermostat's on four degrees.",
        "Two hundred and fifteen watts, according to the band on the element.",
        "Nitrogen at ten bar, that's the book figure.",
        "Come back in twenty minutes and it might have held.",
        "Anything under half an ohm, I'm happy.",
        "Fan's a twelve volt one.",
        "Started at nine forty.",
        "Invoice came to two forty.",
        "Seven screws, each one twenty millimetres long.",
    ],
)
def test_what_is_no_reading(way: Way, line: str) -> None:
    """Contract, Readings: no specification, rating, setting, price, clock time or size; a question measures nothing."""
    assert read(way, line).readings == ()


@pytest.mark.parametrize(
    "line",
    ["I'll take the vacuum down to three hundred.", "You pull the vacuum to three hundred.",
     "Take the vacuum down to three fifty."],
)  # fmt: skip
def test_a_vacuum_that_is_planned_or_told_is_no_reading(line: str) -> None:
    """Contract, Checks: a stop-level check is confirmed only by words that assert it; a bare number is no exception."""
    lines = ("It's R one three four A.", "I've recovered the charge.", "Cut the process tube.", line)
    assert not [r for r in read("reader", *lines).readings if r.quantity == "vacuum"]
    assert states("reader", *lines)["system-evacuated"] != "confirmed"


@pytest.mark.parametrize(
    ("before", "line", "check"),
    [
        *((("I've recovered the charge.", "Cut the process tube."), line, "system-evacuated")
          for line in ("Once it's at three hundred microns, close the valve.", "You're after three hundred microns.",
                       "Kieran reckons three hundred microns.", "Micron gauge reads to twenty thousand microns.",
                       "Low side's in two inches of vacuum.", "The pump's rated to fifty microns.")),
        *((("I've pulled the plug.", "Replaced the defrost heater."), line, "earth-continuity-verified")
          for line in ("Earth needs to be less than point three ohms.", "Earth passes at point three or under.",
                       "Last engineer wrote point one ohms for the earth.", "Earth was point one last year.",
                       "Haven't checked earth, old sticker says point one two ohms.")),
        *((("I've pulled the plug.",), line, "capacitor-discharged")
          for line in ("You want the capacitor under two volts. Replaced the run capacitor.",
                       "Capacitor had one volt on it last week. Replaced the run capacitor.")),
    ],
)  # fmt: skip
def test_a_value_that_nobody_asserts_confirms_nothing(before: tuple[str, ...], line: str, check: str) -> None:
    """Contract, Checks: limits, hearsay, advice and other times confirm no stop-level check, whatever their value."""
    assert states("reader", *before, line)[check] != "confirmed"


@pytest.mark.parametrize(
    ("before", "line", "check"),
    [
        (("Cut the process tube.",), "It's holding three eighty microns.", "system-evacuated"),
        (("Cut the process tube.",), "Micron gauge shows two sixty.", "system-evacuated"),
        (("Replaced the defrost heater.",), "Plug pin to cabinet, point one four ohms.", "earth-continuity-verified"),
        (("Replaced the defrost heater.",), "Earth, nought point two.", "earth-continuity-verified"),
    ],
)
def test_a_value_that_is_stated_confirms(before: tuple[str, ...], line: str, check: str) -> None:
    """Contract, Checks: a vacuum reading, an earth reading."""
    assert states("reader", *before, line)[check] == "confirmed"


def test_a_value_without_a_unit_takes_what_was_said_beside_it() -> None:
    """Contract, Readings: a unit that was not spoken; where the sentence has named the scale, that is the one meant."""
    line = "It was fifty eight Fahrenheit in the cabinet when I opened it up, thirty nine as I leave."
    assert [(r.value, r.unit, r.stage) for r in read("reader", line).readings] == [
        (58, "[degF]", "as_found"), (39, "[degF]", "as_left")]  # fmt: skip
    (found,) = read("reader", "Voltage sagged to one oh four when the dryer kicked in.").readings
    assert (found.value, found.unit, found.unit_assumed) == (104, "V", True)


def test_numbers_that_are_no_values() -> None:
    """Contract, Readings: an identifier is no value, and what is taken back counts as what it was corrected to."""
    lines = ("Its plug's off and I'm on the pins of the pump. A hundred and seventy, no, wrong range, seventeen ohms.",
             "New overload, T P nineteen.", "Nitrogen's on. It hasn't shifted off the ten.")  # fmt: skip
    assert [(r.value, r.unit) for r in read("reader", *lines).readings] == [(17, "Ohm")]


def test_a_scale_may_be_named_after_the_number() -> None:
    """Contract, Readings: the unit that was spoken, wherever in the sentence."""
    (found,) = read("reader", "Freezer finished up around four above, Fahrenheit.").readings
    assert (found.value, found.unit, found.stage) == (4, "[degF]", "as_left")


def test_a_value_that_broke_off_counts_once() -> None:
    """Contract, Conventions: a correction replaces, and "eleven hundred. Eleven hundred and six ohms" is one value."""
    line = "And the new heater reads, what is that, eleven hundred. Eleven hundred and six ohms."
    assert [(r.value, r.unit) for r in read("reader", line).readings] == [(1106, "Ohm")]
    two = "The old heater reads eleven hundred ohms. The new one reads eleven hundred and six ohms."
    assert [r.value for r in read("reader", two).readings] == [1100, 1106]


@pytest.mark.parametrize("way", WAYS)
def test_the_words_of_a_reading_are_those_spoken(way: Way) -> None:
    (found,) = read(way, "Defrost heater reads forty eight ohms.").readings
    assert (found.subject, found.spoken.rstrip(".")) == ("defrost heater", "forty eight ohms")
    assert found.spoken == found.span.quote


@pytest.mark.parametrize("way", WAYS)
def test_what_is_told_about_the_job(way: Way) -> None:
    told = read(way, "Work order five zero two seven.", "Model is Q as in Quebec, Z as in Zulu, four one eight.",
                "Customer says the milk is warm.", "Labour was forty five minutes.")  # fmt: skip
    assert {i.field: i.value for i in told.identity} == {"work_order": "5027", "model": "QZ418", "labour_min": 45.0}
    assert [(t.topic, t.text.rstrip(".")) for t in told.told][:1] == [("complaint", "Customer says the milk is warm")]


def test_part_numbers() -> None:
    """Spelling alphabet: ICAO; part numbers mix letters and digits (invented)."""
    (sentence,) = sentences(transcript_of("Part number Delta Charlie one nine two.").segments[0], 1)
    found = part_number(sentence)
    assert found is not None
    assert found[0] == "DC192"


@pytest.mark.parametrize("way", WAYS)
def test_a_stripped_screw_is_explained(way: Way) -> None:
    """Contract, Ledger: a fastener said to be stripped, broken or lost is explained."""
    lines = ["Four screws out of the rear panel and the panel is off.", "One of the screws is stripped.",
             "Panel's back on with three screws."]  # fmt: skip
    assert [x.part for x in read(way, *lines).lost] == ["screw"]
    assert states(way, *lines)["fasteners-balanced"] == "confirmed"
    assert states(way, lines[0], lines[2])["fasteners-balanced"] != "confirmed"


@pytest.mark.parametrize("way", WAYS)
def test_everything_said_has_its_words(way: Way) -> None:
    """Contract, Evidence: the quote is the transcript text exactly as it stands."""
    lines = ["I pulled the plug.", "Four screws out of the rear panel.", "Defrost heater reads forty eight ohms."]
    told = read(way, *lines)
    assert told.acts
    assert told.readings
    for span in (*(a.span for a in told.acts), *(r.span for r in told.readings)):
        assert any(span.quote in line for line in lines)


# A check of the highest kind is confirmed only by words that assert it

#: check -> what is said before and after the sentence, so that the check applies
SCENES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "power-isolated": (
        (),
        ("Four screws out of the rear panel and the panel is off.", "I unplugged the evaporator fan harness."),
    ),
    "water-isolated": ((), ("The water valve is out.",)),
    "absence-of-voltage-verified": (("I switched the breaker off.",), ("I unplugged the evaporator fan harness.",)),
    "capacitor-discharged": (("I pulled the plug out of the wall.",), ("I took the run capacitor out.",)),
    "refrigerant-recovered": ((), ("I cut the process tube and opened the sealed system.",)),
    "ignition-sources-cleared": (
        ("This one is on R six hundred a.",),
        ("I cut the process tube and opened the sealed system.",),
    ),
    "system-leak-tested": (
        ("I recovered the refrigerant.", "I cut the drier out and brazed a new filter drier in."),
        ("I charged it with sixty grams of R six hundred a.",),
    ),
    "system-evacuated": (
        ("I recovered the refrigerant.", "I cut the drier out and brazed a new filter drier in."),
        ("I charged it with sixty grams of R six hundred a.",),
    ),
    "connectors-restored": (("I unplugged the evaporator fan harness.",), ()),
    "wiring-restored": (("I unclipped the wiring loom.",), ()),
    "earth-continuity-verified": (
        ("I took the earth wire off the cabinet.", "The earth wire is back on the cabinet."),
        (),
    ),
}
#: check, the sentence after "I", its infinitive; its participle is its past where no third form stands.
#: "+": rules alone do not read it, the reader does. Wording: common practice, no source.
ASSERTING: list[tuple[str, ...]] = [
    ("power-isolated", "pulled the plug out of the wall", "pull the plug out of the wall"),
    ("power-isolated", "unplugged the fridge", "unplug the fridge"),
    ("power-isolated", "switched the breaker off", "switch the breaker off"),
    ("power-isolated", "turned the isolator off", "turn the isolator off"),
    ("water-isolated", "closed the water valve under the sink", "close the water valve under the sink"),
    ("water-isolated", "closed the saddle valve", "close the saddle valve"),
    ("water-isolated", "turned the water off at the stopcock", "turn the water off at the stopcock"),
    ("absence-of-voltage-verified", "proved it dead at the terminal block with the tester",
     "prove it dead at the terminal block with the tester"),
    ("absence-of-voltage-verified", "measured zero volts across line and neutral",
     "measure zero volts across line and neutral"),
    ("capacitor-discharged", "discharged the run capacitor through a resistor",
     "discharge the run capacitor through a resistor"),
    ("capacitor-discharged", "bled the run capacitor down to zero volts", "bleed the run capacitor down to zero volts"),
    ("refrigerant-recovered", "recovered all the gas into the cylinder", "recover all the gas into the cylinder"),
    ("refrigerant-recovered", "recovered the refrigerant", "recover the refrigerant"),
    ("ignition-sources-cleared", "opened the windows and turned off the pilot light",
     "open the windows and turn off the pilot light"),
    ("ignition-sources-cleared", "aired the kitchen and put out every flame",
     "air the kitchen and put out every flame", "+"),
    ("system-leak-tested", "proved it tight with nitrogen at ten bar", "prove it tight with nitrogen at ten bar", "+"),
    ("system-leak-tested", "leak tested it with nitrogen and it passed", "leak test it with nitrogen"),
    ("system-evacuated", "pulled a vacuum down to three hundred microns",
     "pull a vacuum down to three hundred microns"),
    ("system-evacuated", "evacuated it to two hundred and fifty microns",
     "evacuate it to two hundred and fifty microns"),
    ("connectors-restored", "plugged the fan harness back in", "plug the fan harness back in"),
    ("connectors-restored", "reconnected the evaporator fan harness", "reconnect the evaporator fan harness"),
    ("connectors-restored", "pushed the fan connector home again", "push the fan connector home again"),
    ("wiring-restored", "clipped the wiring loom back where it was", "clip the wiring loom back where it was"),
    ("wiring-restored", "routed the wiring loom back through its clips as found",
     "route the wiring loom back through its clips as found"),
    ("earth-continuity-verified", "measured earth continuity at nought point one ohms",
     "measure earth continuity at nought point one ohms"),
    ("earth-continuity-verified", "tested the earth and it passed", "test the earth", "+"),
]  # fmt: skip
#: what takes the assertion away; {past} and {base} are the sentence's forms
TAKING_AWAY = {
    "hedge": ["I think I {past}.", "I {past}, I think.", "I probably {past}.", "Maybe I {past}."],
    "hearsay": ["He says he {past}.", "The customer says her husband {past}.", "Apparently the last engineer {past}.",
                "I was told that somebody {past}."],
    "plan": ["I'll {base}.", "I'm going to {base}.", "I need to {base}.", "I will {base} later."],
    "question": ["Did I {base}?", "Did you {base}?", "Have I {past}?"],
    "denial": ["I haven't {past}.", "I didn't {base}.", "I never {past}.", "I have not {past} yet."],
    "advice": ["Make sure you {base}.", "Always {base}.", "Don't forget to {base}.", "You want to {base} first."],
}  # fmt: skip


def in_scene(way: Way, check: str, line: str) -> str:
    before, after = SCENES[check]
    return states(way, *before, line, *after)[check]


def read_by(way: Way) -> list[tuple[str, str, str]]:
    return [(a[0], a[1], a[2]) for a in ASSERTING if way == "reader" or a[-1] != "+"]


def each(way: Way) -> list[object]:
    return [pytest.param(way, *a, id=f"{way}-{a[0]}-{a[1]}") for a in read_by(way)]


@pytest.mark.parametrize(("way", "check", "past", "base"), [*each("rules"), *each("reader")])
def test_what_asserts_confirms(way: Way, check: str, past: str, base: str) -> None:
    """Contract, Checks: confirmed by; without the sentence nobody said it."""
    before, after = SCENES[check]
    assert states(way, *before, *after)[check] == "missing"
    assert in_scene(way, check, f"I {past}.") == "confirmed"


@pytest.mark.parametrize("kind", TAKING_AWAY)
@pytest.mark.parametrize("way", WAYS)
def test_what_takes_the_assertion_away_takes_confirmed_away(way: Way, kind: str) -> None:
    """Contract, Checks: no plan, advice, question, hedge, hearsay or denial confirms a stop-level check."""
    false = []
    for check, past, base in read_by(way):
        for form in TAKING_AWAY[kind]:
            line = form.format(past=past, base=base)
            if in_scene(way, check, line) == "confirmed":
                false.append(f"{check}: {line}")
    assert false == []


@pytest.mark.parametrize("way", WAYS)
def test_an_imperative_confirms_no_stop_level_check(way: Way) -> None:
    """Contract, rulings: `narrated` steps never confirm a stop-level check."""
    false = []
    for check, past, base in read_by(way):
        line = f"{base[0].upper()}{base[1:]}."
        if past != base and in_scene(way, check, line) == "confirmed":
            false.append(f"{check}: {line}")
    assert false == []


# Properties

#: talk that has nothing to do with the job; common practice, no source
CHATTER = [
    "The dog is called Biscuit.", "Traffic was bad on the ring road.", "Lovely weather for it.",
    "My daughter starts school on Monday.", "They won three nil on Saturday.", "That radio is loud.",
    "The customer has a nice garden.", "I parked across the street.", "It smells of fresh paint in here.",
    "Somebody is at the door.", "The kettle is on.", "Next door is having a party.", "I had eggs for breakfast.",
    "Careful with the carpet.", "There is a football match tonight.", "What a lovely kitchen.",
]  # fmt: skip
JOB = [
    "Customer says the freezer is warm.", "Two shelves out.", "Four screws out of the rear panel and the panel is off.",
    "I unplugged the evaporator fan harness.", "I took the run capacitor out.", "I unclipped the wiring loom.",
    "The water valve is out.", "I cut the process tube and opened the sealed system.", "New fan motor is in.",
]  # fmt: skip
FEW = settings(
    max_examples=12, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.mark.parametrize("way", WAYS)
@FEW
@given(talk=st.lists(st.tuples(st.integers(0, len(JOB)), st.sampled_from(CHATTER)), min_size=1, max_size=5))
def test_chatter_confirms_nothing(way: Way, talk: list[tuple[int, str]]) -> None:
    """Adding lines that have nothing to do with the job turns no check to confirmed."""
    lines = list(JOB)
    for at, line in sorted(talk, reverse=True):
        lines.insert(at, line)
    before, after = states(way, *JOB), states(way, *lines)
    assert {c for c, s in after.items() if s == "confirmed"} <= {c for c, s in before.items() if s == "confirmed"}


#: steps that need none of the others
INDEPENDENT = [
    "Two shelves out of the fridge.", "Six screws out of the evaporator cover.", "I pulled the plug out of the wall.",
    "I cleaned the condenser coil.", "Three screws out of the compressor cover.", "I took the ice bucket out.",
    "I turned the water off at the stopcock.",
]  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
@FEW
@given(order=st.permutations(INDEPENDENT))
def test_the_order_of_independent_steps_does_not_matter(way: Way, order: list[str]) -> None:
    def told(lines: list[str]) -> Counter[tuple[str, str, float | None, str | None, str]]:
        return Counter((a.action, a.part, a.count, a.holds, a.status) for a in read(way, *lines).acts)

    assert told(order) - told(INDEPENDENT) == told(INDEPENDENT) - told(order) == Counter()


#: a sentence that says how many -> how often it counts when it is said twice
SAID_TWICE = [
    "I pulled the plug out of the wall.", "The rear panel is off.", "I unplugged the evaporator fan harness.",
    "Defrost heater reads forty eight ohms.", "I turned the water off at the stopcock.", "New fan motor is in.",
]  # fmt: skip


def totals(report: Report) -> list[tuple[str, str | None, float, float]]:
    return sorted((i.part, i.holds, i.count_out, i.count_in) for i in report.ledger.items)


@pytest.mark.parametrize("way", WAYS)
@FEW
@given(line=st.sampled_from(SAID_TWICE), between=st.sampled_from([None, *CHATTER]))
def test_saying_it_twice_changes_no_total(way: Way, line: str, between: str | None) -> None:
    """A recap is not a second step: only "off and on twice counts twice" (contract, Ledger)."""
    twice = [line, line] if between is None else [line, between, line]
    assert totals(report_of(way, *twice)) == totals(report_of(way, line))


@pytest.mark.parametrize("way", WAYS)
@FEW
@given(count=st.sampled_from(["two", "three", "four", "six", "eight", "ten"]))
def test_a_screw_counts_once_for_each_time_it_is_said_to_come_out(way: Way, count: str) -> None:
    """Contract, Ledger: totals add up over the whole job."""
    out, back = f"{count.title()} screws out of the rear panel.", f"All {count} screws are back in the rear panel."
    once, twice = report_of(way, out, back), report_of(way, out, back, out, back)
    assert [(p, h, 2 * o, 2 * i) for p, h, o, i in totals(once)] == totals(twice)
    assert (
        totals(once)[0][2:] == (float({"two": 2, "three": 3, "four": 4, "six": 6, "eight": 8, "ten": 10}[count]),) * 2
    )


def test_what_stands_in_force_is_not_put_in_doubt_by_others() -> None:
    """The contract: what was asserted stands until it is undone or its speaker doubts it."""
    off = "The plug is out of the wall and on the worktop."
    cover = "I took the rear cover off."
    for later in (
        "The lady says it is unplugged.",
        "No madam, the washing machine is fine, I only unplugged the refrigerator.",
        "It is still unplugged, the cord is on the bench.",
    ):
        assert states("reader", off, later, cover)["power-isolated"] == "confirmed", later
    assert states("reader", "The lady says it is unplugged.", cover)["power-isolated"] == "unclear"
    for doubt in ("Actually I am not sure that I unplugged it.", "Hang on, it is not unplugged at all."):
        assert states("reader", off, doubt, cover)["power-isolated"] != "confirmed", doubt


def test_a_trim_is_no_cover_over_live_parts() -> None:
    """Common practice, no source: the plinth goes on when the appliance is back in its place and running."""
    lines = (
        "The plug is out of the wall.",
        "I took the {} off.",
        "The plug is back in the wall.",
        "The {} is back on.",
    )
    assert states("reader", *(x.format("plinth") for x in lines))["power-restored"] == "confirmed"
    assert states("reader", *(x.format("rear cover") for x in lines))["power-restored"] == "out_of_order"


@pytest.mark.parametrize(
    ("line", "count"), [("two pin connector", None), ("three way plug", None), ("two connectors", 2.0)]
)
def test_a_sort_is_no_number_of_things(line: str, count: float | None) -> None:
    """A two pin connector is one. Common practice, no source."""
    [name] = names_in(clauses_of(line)[0], FRIDGE.words)
    assert name.count == count


def test_a_bare_value_is_no_earth_test() -> None:
    """A few tenths of an ohm confirm the earth only where earth is spoken of, here or in the line before."""
    motor = "I fitted a new fan motor."
    for bare in ("Zero point one.", "0.1."):
        assert states("reader", motor, bare)["earth-continuity-verified"] != "confirmed", bare
    assert states("reader", motor, "Earth to the cabinet is zero point one ohms, that is a pass.")[
        "earth-continuity-verified"
    ] == "confirmed"  # fmt: skip


@pytest.mark.parametrize(
    "answer",
    ["It's still in.", "Yeah, no, not yet.", "Yes, I think so.", "I have to check.", "Yeah, should have.",
     "Yes, one of them.", "It's stuck.", "Yeah but I put it back."],
)  # fmt: skip
def test_an_answer_that_is_no_yes_settles_nothing(answer: str) -> None:
    """The contract: a hedge, a plan or a denial confirms no stop-level check; nor does the answer to a question."""
    told = states("reader", "Is the plug out of the wall?", answer, "Took the rear cover off.")
    assert told["power-isolated"] != "confirmed"


@pytest.mark.parametrize("question", ["Should I pull the plug first?", "Do I have to pull the plug?"])
def test_a_yes_to_what_is_to_be_done_does_nothing(question: str) -> None:
    assert states("reader", question, "Yes.", "Took the rear cover off.")["power-isolated"] != "confirmed"


def test_a_yes_that_says_it_settles_the_question() -> None:
    lines = ("Unplugged the fan motor.", "Did I plug the fan motor back in?", "I did, yeah, I heard it click.")
    assert states("reader", *lines)["connectors-restored"] == "confirmed"


def test_a_thing_without_a_plug_is_no_connector() -> None:
    lines = ("Took the white connector off the board.", "The white shelf is back on.")
    assert states("reader", *lines)["connectors-restored"] == "missing"


def test_ignition_sources_need_the_second_key() -> None:
    """Ventilation and the want of flames said of something else clear nothing."""
    lines = (
        "This is R six hundred A.",
        "Windows are open.",
        "No sparks from the start relay.",
        "Cut the process tube.",
    )
    assert states("reader", *lines)["ignition-sources-cleared"] != "confirmed"


def test_the_earth_of_something_else_is_no_earth_of_this() -> None:
    motor = "I fitted a new fan motor."
    assert states("reader", motor, "Earth to the tap is point one ohms.")["earth-continuity-verified"] != "confirmed"
