"""Live listening fed with text: the same report as at once, prompts, requests, the wrap-up."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from voicereport.errors import SettingsError
from voicereport.evaluation.corpus import read_corpus, to_transcript, units_of
from voicereport.live import Session, as_json, load_phrases
from voicereport.live.amend import within
from voicereport.live.events import (
    Answered,
    Asked,
    CheckChanged,
    Event,
    Finished,
    Listening,
    Prompt,
    ReadingTaken,
    to_speak,
)
from voicereport.pipeline import understand
from voicereport.requests.directions import find_directions
from voicereport.requests.phrases import Phrases
from voicereport.settings import Settings
from voicereport.trades import list_trades, load_trade
from voicereport.transcript import Word, spread

CORPORA = (Path(__file__).parent / "corpus" / "shared", Path(__file__).parent / "corpus" / "development")
NARRATIONS = [pytest.param(n, id=n.name) for folder in CORPORA for n in read_corpus(folder).narrations]


@pytest.fixture
def session(settings: Settings, phrases: Phrases) -> Session:
    return Session(trade=load_trade("domestic-refrigeration"), settings=settings, phrases=phrases)


def told(session: Session, *texts: str) -> list[Event]:
    """The events of utterances that follow each other by two seconds."""
    events: list[Event] = []
    for text in texts:
        events += session.say(text, session.at + 2.0)
    return events


def prompts(events: list[Event]) -> list[str]:
    return [event.about for event in events if isinstance(event, Prompt)]


def reply(events: list[Event]) -> str:
    return next(event.reply for event in events if isinstance(event, Asked))


# ---- the same report


@pytest.mark.parametrize("narration", NARRATIONS)
def test_utterance_by_utterance_gives_the_report_that_all_at_once_gives(narration, settings, phrases) -> None:
    own = replace(settings, trade=narration.trade, units=units_of(narration.voice, settings.units))
    trade, transcript = load_trade(narration.trade), to_transcript(narration)
    session = Session(trade=trade, settings=own, phrases=phrases, name=f"{narration.name}.vtt")
    asked = []
    for segment in transcript.segments:
        events = session.say(segment.text, segment.start, segment.end)
        asked += [event for event in events if isinstance(event, Asked)]
    session.finish()
    whole = understand(transcript, trade, own)
    assert session.report is not None
    assert [(c.id, c.state) for c in session.report.checks] == [(c.id, c.state) for c in whole.checks]
    assert session.report.steps == whole.steps
    assert session.report.readings == whole.readings
    assert session.report.ledger == whole.ledger
    assert asked == []  # ordinary talk is never a request


def test_a_settled_utterance_is_in_the_transcript_word_for_word(session: Session) -> None:
    told(session, "Four screws out of the rear panel.", "Notebook, what is still off?")
    assert session.report is not None
    assert [s.text for s in session.report.transcript.segments] == [
        "Four screws out of the rear panel.",
        "Notebook, what is still off?",
    ]


# ---- prompts


def test_the_warning_is_out_before_the_next_utterance(session: Session) -> None:
    told(session, "Upright freezer, not freezing.")
    assert prompts(told(session, "Four screws out of the rear panel, and the rear panel is off.")) == ["power-isolated"]


def test_no_warning_where_the_supply_is_off(session: Session) -> None:
    events = told(session, "I've pulled the plug out of the wall.", "The rear panel is off, four screws out.")
    assert prompts(events) == []


def test_a_plan_is_warned_of_before_it_is_done(session: Session) -> None:
    events = told(session, "Now I'm going to take the rear panel off.")
    assert prompts(events) == ["power-isolated"]
    assert session.report is not None
    assert next(c for c in session.report.checks if c.id == "power-isolated").state == "not_applicable"


@pytest.mark.parametrize("said", [
    "I've not opened the sealed system today. The new filter drier is on order.",
    "I'll come back next week and take the rear panel off.", "I'm going to take the rear panel off on the next visit.",
])  # fmt: skip
def test_a_plan_for_another_day_is_not_warned_of(session: Session, said: str) -> None:
    assert prompts(told(session, said)) == []


def test_the_same_warning_is_not_given_twice(session: Session) -> None:
    events = told(
        session, "The rear panel is off.", "The evaporator cover is off.", "I've unplugged the fan connector."
    )
    assert prompts(events) == ["power-isolated"]


def test_in_quiet_mode_a_warning_is_shown_and_not_spoken(session: Session) -> None:
    told(session, "Notebook, be quiet.")
    shown = [e for e in told(session, "The rear panel is off.") if isinstance(e, Prompt)]
    assert [e.aloud for e in shown] == [False]


def test_prompts_requests_and_replies_are_in_the_record_and_are_no_content(session: Session) -> None:
    told(session, "The rear panel is off.", "Notebook, what is missing?")
    assert session.report is not None
    assert any("Is the plug out" in line for line in session.report.transcript.dropped)
    assert any("what is missing" in line for line in session.report.transcript.dropped)
    assert any("Missing:" in line for line in session.report.transcript.dropped)
    assert [(s.action, s.part) for s in session.report.steps] == [("remove", "rear panel")]


def doubtful(session: Session, *, heard: str, instead: str) -> list[Event]:
    text = f"The fan motor reads {heard} ohms."
    start = session.at + 2.0
    words = tuple(replace(w, alternative=instead) if w.word == heard else w for w in spread(text, start, start + 3.0))
    return list(session.say(text, start, start + 3.0, words=words))


@pytest.mark.parametrize(("answer", "value", "outcome"), [
    ("Fifteen.", 15, "kept"), ("It's fifty.", 50, "changed"), ("fifty ohms", 50, "changed"),
    ("Fifty or fifteen.", None, None),
])  # fmt: skip
def test_a_doubtful_number_is_settled_by_saying_it_again(session, answer, value, outcome) -> None:
    asked = [e for e in doubtful(session, heard="15", instead="50") if isinstance(e, Prompt)]
    assert [e.text for e in asked] == ["15 or 50? Say it again."]
    answered = [e.outcome for e in told(session, answer) if isinstance(e, Answered)]
    assert session.report is not None
    reading = session.report.readings[0]
    if outcome is None:
        assert answered == []
        assert reading.doubt is not None
        return
    assert answered == [outcome]
    assert (reading.value, reading.doubt, len(session.report.readings)) == (value, None, 1)
    assert session.report.transcript.segments[0].heard == "The fan motor reads 15 ohms."


def test_talk_after_a_doubtful_number_is_no_answer(session: Session) -> None:
    doubtful(session, heard="15", instead="50")
    events = told(session, "Four screws are out of the rear panel and the plug is on the bench in front of me.")
    assert not [e for e in events if isinstance(e, Answered)]


# ---- requests


@pytest.mark.parametrize(("said", "does"), [
    ("Notebook, what's still off?", "still_off"), ("Okay, notebook, what's missing?", "missing"),
    ("notebook what goes back next", "next"), ("Note book, read that back.", "read_back"),
    ("Notebook, could you finish the job?", "finish"), ("Notebook take that back.", "take_back"),
    ("Notebook, stop listening.", "stop"), ("Notebook, start listening.", "start"),
    ("The fan is back. Notebook, what is still off?", "still_off"),
    ("Notebook, make a note the hinge is cracked", "note"),
])  # fmt: skip
def test_a_request_is_the_call_word_and_a_phrase(phrases: Phrases, said: str, does: str) -> None:
    assert [d.does for d in find_directions(spread(said, 0.0, 4.0), phrases)] == [does]


@pytest.mark.parametrize("said", [
    "What is still off?", "I put the notebook next to the meter.", "Next, the rear panel.", "Stop listening to me.",
    "I wrote it in my notebook, the serial number.", "Take that back panel off.", "The finish on the job is poor.",
    "What's missing is the clip.", "Make a note of the wire colours.", "The customer's notebook what a mess it is",
])  # fmt: skip
def test_ordinary_talk_is_no_request(phrases: Phrases, said: str) -> None:
    assert find_directions(spread(said, 0.0, 4.0), phrases) == ()


@pytest.mark.parametrize(("said", "does"), [
    ("what's left to put back?", "still_off"), ("what have I still got to put back?", "still_off"),
    ("can you tell me what's still off please?", "still_off"), ("is anything still off?", "still_off"),
    ("what do I put back next?", "next"), ("what's the next one?", "next"), ("what did I forget?", "missing"),
    ("what else do you need?", "missing"), ("say that again.", "read_back"), ("repeat that.", "read_back"),
    ("scratch that.", "take_back"), ("undo that.", "take_back"), ("delete that.", "take_back"),
    ("cancel that.", "take_back"), ("that was wrong.", "take_back"), ("remember that the hinge is bent.", "note"),
    ("take a note, the hinge is bent.", "note"), ("pause.", "stop"), ("stop listening for a minute.", "stop"),
    ("resume.", "start"), ("wake up.", "start"), ("I'm done.", "finish"), ("end the job.", "finish"),
    ("that's the job done.", "finish"), ("silence.", "quiet"), ("talk to me.", "aloud"),
    ("the hinge is bent.", "unknown"), ("thank you.", "unknown"), ("stop the fan.", "unknown"),
])  # fmt: skip
def test_requests_are_understood_in_the_words_that_come_to_mind(phrases: Phrases, said: str, does: str) -> None:
    assert [d.does for d in find_directions(spread(f"Notebook, {said}", 0.0, 4.0), phrases)] == [does]


def test_every_wording_is_the_request_that_it_stands_under(phrases: Phrases) -> None:
    for request in phrases.requests:
        for phrase in request.phrases:
            tail = " the hinge is bent" if request.does == "note" else ""
            found = find_directions(spread(f"Notebook, {' '.join(phrase)}{tail}.", 0.0, 4.0), phrases)
            assert [d.does for d in found] == [request.does], phrase


@pytest.mark.parametrize("heard", [
    "Note book,", "Notebok,", "Notebooks.", "Note-book,", "Nodebook", "Not book,", "Note boot,", "Notebook's",
    "No book.",
])  # fmt: skip
def test_the_call_word_is_known_in_other_spellings_before_a_request(phrases: Phrases, heard: str) -> None:
    found = find_directions(spread(f"{heard} what is still off?", 0.0, 4.0), phrases)
    assert [(d.does, d.first) for d in found] == [("still_off", 0)]
    assert find_directions(spread(f"{heard} four screws are out of the rear panel.", 0.0, 4.0), phrases) == ()


@pytest.mark.parametrize("said", [
    "Nope, next one.", "No, forget that.", "Not that. Strike that.", "Note that the hinge is bent.",
    "Logbook, what is still off?", "Handbook, next.", "Look, what is still off?",
])  # fmt: skip
def test_what_is_only_a_little_like_the_call_word_is_none(phrases: Phrases, said: str) -> None:
    assert find_directions(spread(said, 0.0, 4.0), phrases) == ()


def test_a_call_word_of_ones_own_is_known_in_other_spellings_too() -> None:
    own = load_phrases(call_word="Toolbox", folder=Path("/nowhere"))
    for heard, does in (("Tool box,", ["missing"]), ("Toolbocs,", []), ("Tolbox,", ["missing"]), ("Two box,", [])):
        assert [d.does for d in find_directions(spread(f"{heard} what is missing?", 0, 2), own)] == does


def test_the_call_word_can_be_another(settings: Settings) -> None:
    own = load_phrases(call_word="Toolbox", folder=Path("/nowhere"))
    assert [d.does for d in find_directions(spread("Toolbox, what is missing?", 0, 2), own)] == ["missing"]
    assert find_directions(spread("Notebook, what is missing?", 0, 2), own) == ()


def test_a_request_may_follow_the_call_word_after_a_pause(session: Session) -> None:
    told(session, "The rear panel is off.")
    assert reply(told(session, "Notebook.")) == "Yes?"
    assert reply(told(session, "What is still off?")) == "Still off: rear panel."
    assert session.report is not None
    assert len(session.report.steps) == 1


def test_what_is_still_off_is_answered_from_the_ledger(session: Session) -> None:
    told(session, "The plug is out.", "Four screws are out of the rear panel, and the rear panel is off.")
    answer = reply(told(session, "Notebook, what is still off?"))
    assert "rear panel" in answer
    assert "4 screws of the rear panel" in answer
    told(session, "The rear panel is back on and all four screws are in.")
    assert reply(told(session, "Notebook, what is still off?")) == "Nothing is off."


def test_next_goes_step_by_step_last_off_first(session: Session) -> None:
    told(session, "The plug is out.", "The rear panel is off.", "The evaporator cover is off.")
    assert reply(told(session, "Notebook, what goes back next?")) == "Next: evaporator cover."
    assert reply(told(session, "Next.")) == "Next, and last: rear panel."  # no call word is needed directly after
    told(session, "The plug is on the floor.")
    assert not [e for e in told(session, "Next.") if isinstance(e, Asked)]


def test_the_last_reading_is_read_back_in_the_words_that_were_spoken(session: Session) -> None:
    assert reply(told(session, "Notebook, read back the last reading.")) == "No reading yet."
    told(session, "The cabinet is at minus nineteen Celsius.")
    assert "minus nineteen Celsius" in reply(told(session, "Notebook, read back the last reading."))


def test_the_last_statement_can_be_taken_back(session: Session) -> None:
    told(session, "The plug is out.", "Four screws are out of the rear panel.")
    told(session, "Notebook, take that back.")
    assert session.report is not None
    assert [s.part for s in session.report.steps] == ["power supply"]
    assert "Four screws are out of the rear panel." in [s.text for s in session.report.transcript.segments]


def test_a_note_is_kept_as_a_note_and_read_for_nothing_else(session: Session) -> None:
    told(session, "Notebook, make a note, the rear panel is off.")
    assert session.report is not None
    assert [(n.kind, n.text) for n in session.report.notes] == [("other", "the rear panel is off.")]
    assert session.report.steps == ()


def test_nothing_is_kept_while_not_listening(session: Session) -> None:
    events = told(session, "Notebook, stop listening.", "The rear panel is off.", "Notebook, start listening.")
    assert [e.on for e in events if isinstance(e, Listening)] == [False, True]
    told(session, "The evaporator cover is off.")
    assert session.report is not None
    assert [s.part for s in session.report.steps] == ["evaporator cover"]
    assert "rear panel" not in " ".join(s.text for s in session.report.transcript.segments)


def test_only_the_last_sentence_is_taken_back_and_it_is_the_one_before_the_request(session: Session) -> None:
    told(session, "The plug is out. The rear panel is off.")
    told(session, "Notebook, take that back. The evaporator cover is off.")
    assert session.report is not None
    assert [s.part for s in session.report.steps] == ["power supply", "evaporator cover"]
    assert [s.text for s in session.report.transcript.segments if "taken_back" in s.flags] == ["The rear panel is off."]


def test_a_long_statement_that_is_taken_back_is_not_read_out_whole(session: Session) -> None:
    told(session, "Four screws are out of the rear panel and it is leaning on the wall beside the sink.")
    said = reply(told(session, "Notebook, take that back."))
    assert said == "Taken back: Four screws are out of the rear panel …"
    assert any("beside the sink" in line for line in session.dropped)


def test_what_follows_a_request_to_stop_in_one_breath_is_not_kept(session: Session) -> None:
    told(session, "The plug is out. Notebook, stop listening. The rear panel is off.")
    told(session, "The lower shelf is off. Notebook, start listening. The evaporator cover is off.")
    assert session.report is not None
    assert [s.part for s in session.report.steps] == ["power supply", "evaporator cover"]
    text = " ".join(s.text for s in session.report.transcript.segments)
    assert "rear panel" not in text
    assert "lower shelf" not in text
    assert [line for line in session.dropped if "Not listening, as asked, until" in line]


def test_said_again_after_the_tool_repeated_it_is_no_echo(session: Session) -> None:
    told(session, "Four screws are out of the rear panel.")
    answer = reply(told(session, "Notebook, take that back."))
    session.spoke(answer, session.at, session.at + 4.0)
    session.say("Six screws are out of the rear panel.", session.at + 4.3)
    assert session.report is not None
    assert [(s.part, s.count) for s in session.report.steps] == [("screw", 6)]


# ---- the wrap-up

WHOLE = ("Work order four four one zero, upright freezer. Model TV seven three five, serial three one eight five.",
         "The customer says it's not freezing.", "The cause is a failed fan motor.",
         "I've pulled the plug out of the wall.",
         "The plug is back in and it runs, the fan is running quietly.")  # fmt: skip


def test_the_wrap_up_asks_for_what_is_missing_one_at_a_time(session: Session) -> None:
    told(session, *WHOLE)
    asked = told(session, "Notebook, finish the job.")
    first = prompts(asked)
    assert len(first) == 1
    events = asked
    for _ in range(12):
        last = prompts(events)[-1:]
        if not last:
            break
        events = told(session, "Forty minutes." if last == ["labour-recorded"] else "Skip it.")
    assert session.finished
    assert session.report is not None
    assert session.report.job.labour_min is not None
    assert session.report.job.labour_min.value == 40
    assert any(isinstance(e, Finished) for e in events)


def test_the_wrap_up_names_what_is_not_back(session: Session) -> None:
    told(session, "I've pulled the plug.", "Four screws are out of the rear panel, and the rear panel is off.",
         "The rear panel is back on and three screws are in.")  # fmt: skip
    events = told(session, "Notebook, finish the job.")
    asked: list[str] = []
    for _ in range(20):
        asked += [e.text for e in events if isinstance(e, Prompt)]
        if session.finished:
            break
        events = told(session, "Skip.")
    assert "Not back yet: 1 screw of the rear panel. Say what became of that." in asked
    assert len(asked) == len(set(asked))
    assert all(len(text.split()) <= 25 for text in asked)


@pytest.mark.parametrize(("lines", "reply"), [
    (("The rear panel is off.",), "Finished, but blocked: Power isolated before work."),
    (("The fan is running.",), "Finished. Open:"),
])  # fmt: skip
def test_the_end_is_told_aloud(session: Session, lines: tuple[str, ...], reply: str) -> None:
    told(session, *lines, "Notebook, finish the job.")
    last = told(session, "That's all.")[-1]
    assert isinstance(last, Finished)
    assert last.reply.startswith(reply)
    assert to_speak(last) == last.reply


@pytest.mark.parametrize(("answer", "text"), [
    ("It's not freezing.", "it's not freezing."), ("I'd say the fan.", "I'd say the fan."),
    ("NTC is open.", "NTC is open."), ("R-600a leaked.", "R-600a leaked."), ("A failed fan.", "a failed fan."),
])  # fmt: skip
def test_an_answer_within_a_sentence_loses_only_the_capital_of_its_beginning(answer: str, text: str) -> None:
    assert within(answer) == text


def test_thats_all_ends_the_wrap_up(session: Session) -> None:
    told(session, "The rear panel is off.", "Notebook, finish the job.")
    told(session, "That's all.")
    assert session.finished


def test_a_bare_yes_confirms_no_stop_level_check(session: Session) -> None:
    told(session, "I've pulled the plug.", "I've unplugged the fan connector.", "Notebook, finish the job.")
    for _ in range(20):
        if session.finished:
            break
        told(session, "Yes.")
    assert session.report is not None
    assert next(c for c in session.report.checks if c.id == "connectors-restored").state in {"missing", "unclear"}


def test_no_bare_answer_can_complete_a_stop_level_check(phrases: Phrases) -> None:
    for name in list_trades():
        stops = {e.id for e in load_trade(name).entries.entries if e.severity == "stop"}
        assert not {check for check, ask in phrases.asks.items() if ask.completes} & stops


def test_every_stop_level_check_that_must_come_first_has_a_warning_of_its_own(phrases: Phrases) -> None:
    entries = load_trade("domestic-refrigeration").entries.entries
    assert {e.id for e in entries if e.severity == "stop" and e.rule == "before"} <= set(phrases.warn)


# ---- the data


def test_a_live_toml_of_ones_own_takes_the_place_of_a_table(tmp_path: Path) -> None:
    (tmp_path / "live.toml").write_text('[answers]\nskip = ["no idea"]\nstop = ["enough"]\n', encoding="utf-8")
    own = load_phrases(folder=tmp_path)
    assert own.skip == {("no", "idea")}
    assert own.call == (("notebook",),)


@pytest.mark.parametrize(("text", "named"), [
    ("[call]\nwords = []\n", "heard_as"), ("[[requests]]\ndoes = 'fly'\nphrases = []\n", "fly"), ("[odd]\n", "odd"),
    ("[call\n", "cannot be read"),
])  # fmt: skip
def test_faults_of_live_toml_are_named(tmp_path: Path, text: str, named: str) -> None:
    (tmp_path / "live.toml").write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError, match=named):
        load_phrases(folder=tmp_path)


def test_events_are_json_with_a_name(session: Session) -> None:
    events = told(session, "The cabinet is at minus nineteen Celsius.")
    rows = [as_json(e) for e in events]
    assert {row["event"] for row in rows} >= {"heard", "reading"}
    taken = next(e for e in events if isinstance(e, ReadingTaken))
    assert (taken.value, taken.unit) == (-19, "Cel")
    assert all(isinstance(e, CheckChanged) is (r["event"] == "check") for e, r in zip(events, rows, strict=True))


def test_a_word_without_letters_is_no_call_word() -> None:
    with pytest.raises(SettingsError, match="call word"):
        load_phrases(call_word="...")


def test_words_with_pauses_are_not_joined_to_a_request(phrases: Phrases) -> None:
    words = (Word(word="notebook", start=0.0, end=0.5), Word(word="screws", start=0.6, end=1.0))
    assert [d.does for d in find_directions(words, phrases)] == ["unknown"]
