"""Talk with the tool in what was recorded already: set apart as while a job is listened to, and never content."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from voicereport.assembly import assemble
from voicereport.captions import read_transcript
from voicereport.checks import check_report
from voicereport.checks.limits import judge_report
from voicereport.errors import SettingsError
from voicereport.evaluation.corpus import read_corpus, to_transcript, units_of
from voicereport.live import Session
from voicereport.live.record import WavWriter
from voicereport.pipeline import join_transcripts, recorded_at, report_files, rests_of, understand
from voicereport.report import Report, dump_json
from voicereport.requests import Phrases, content_of, load_phrases, set_apart
from voicereport.requests.said import Said, kind_of, take_back
from voicereport.settings import Settings
from voicereport.statements import read_statements
from voicereport.trades import Trade, load_trade
from voicereport.transcript import Recording, Segment, Transcript, Word, spread
from voicereport.wording import repair

HERE = Path(__file__).parent
SHARED = read_corpus(HERE / "corpus" / "shared")
DEVELOPMENT = read_corpus(HERE / "corpus" / "development")
NARRATIONS = [pytest.param(n, id=n.name) for n in SHARED.narrations]
SPOKEN_DEMO = sorted((HERE.parent / "demo_audio").glob("*.txt"))


@pytest.fixture(scope="module")
def trade() -> Trade:
    return load_trade("domestic-refrigeration")


def spoken(*texts: str, name: str = "memo.wav", engine: str = "stub", pause: float = 2.0) -> Transcript:
    """Utterances that follow each other by `pause` seconds, three words a second."""
    at, segments = 0.0, []
    for n, text in enumerate(texts, 1):
        end = at + len(text.split()) / 3
        segments.append(Segment(id=f"r1s{n:03}", recording=name, start=at, end=end, heard=text, text=text,
                                words=spread(text, at, end)))  # fmt: skip
        at = round(end + pause, 3)
    recording = Recording(name=name, sha256="", duration_s=at, speech_s=at, engine=engine)
    return Transcript(recordings=(recording,), segments=tuple(segments))


def texts(transcript: Transcript, kind: str) -> list[str]:
    return [s.text for s in transcript.segments if kind_of(s) == kind]


# ---- recordings without requests


def staged(transcript: Transcript, trade: Trade, settings: Settings) -> Report:
    """The report by the stages alone, nothing set apart."""
    repaired = repair(transcript, trade)
    statements = read_statements(repaired, trade, units=settings.units)
    report = assemble(statements, repaired, trade, recorded_at=recorded_at(transcript))
    return check_report(judge_report(report, trade, profile=settings.profile), trade, profile=settings.profile)


@pytest.mark.parametrize("narration", NARRATIONS)
def test_a_recording_without_requests_gives_the_same_bytes(narration, settings: Settings, phrases: Phrases) -> None:
    own = replace(settings, trade=narration.trade, units=units_of(narration.voice, settings.units))
    trade, transcript = load_trade(narration.trade), to_transcript(narration)
    report = understand(transcript, trade, own, phrases=phrases)
    assert dump_json(report) == dump_json(staged(transcript, trade, own))


def test_nothing_that_people_say_on_a_job_is_taken_for_a_request(phrases: Phrases) -> None:
    lines = [[say for _, say in n.lines] for corpus in (SHARED, DEVELOPMENT) for n in corpus.narrations]
    lines += [[*row.get("context", ()), row["say"]] if isinstance(row.get("context"), list) else [row["say"]]
              for corpus in (SHARED, DEVELOPMENT) for row in corpus.sentences]  # fmt: skip
    lines += [[row.split("\t")[2] for row in path.read_text(encoding="utf-8").splitlines()] for path in SPOKEN_DEMO]
    assert len(lines) > 100
    for said in lines:
        for pause in (0.0, 1.0):
            transcript = spoken(*(line for line in said if line.strip()), pause=pause)
            assert set_apart(transcript, phrases) is transcript


# ---- the same as while listening

JOB = (
    "Upright freezer, it's not freezing.",
    "I've pulled the plug out of the wall.",
    "Four screws are out of the rear panel, and the rear panel is off.",
    "The evaporator fan motor reads 425 ohms.",
    "The rear panel is back on and all four screws are in.",
    "The plug is back in and it runs, the cabinet is at minus nineteen Celsius.",
)
REQUESTS = {
    "a question": (3, ("Notebook, what is still off?",)),
    "the call word, then the question": (3, ("Notebook.", "What goes back next?", "Next.")),
    "a statement taken back": (4, ("The lower shelf is off.", "Notebook, take that back.")),
    "a claim taken back": (2, ("The breaker is off and it is tested dead.", "Notebook, forget the last one.")),
    "a note": (4, ("Notebook, make a note, the hinge is cracked and the rear panel is bent.",)),
    "a rest": (3, ("Notebook, stop listening.", "The drain heater reads 30 ohms.", "Notebook, start listening.")),
    "taken back within a rest": (
        3, ("Notebook, stop listening.", "Hello?", "Notebook, take that back.", "Notebook, start listening."),
    ),
    "no request that is known": (2, ("Notebook, the fan is noisy.",)),
    "in one breath": (3, ("The lower shelf is off. Notebook, take that back. The wire basket is off.",)),
    "quiet": (1, ("Okay, notebook, be quiet.", "Notebook, speak up.")),
}  # fmt: skip


@pytest.mark.parametrize("asked", REQUESTS)
@pytest.mark.parametrize("engine", ["transcript", "stub"])
def test_requests_do_the_same_in_a_recording_as_while_listening(asked, engine, settings, phrases, trade) -> None:
    place, more = REQUESTS[asked]
    transcript = spoken(*JOB[:place], *more, *JOB[place:], engine=engine)
    session = Session(trade=trade, settings=settings, phrases=phrases, name="memo.wav", ask=False)
    for segment in transcript.segments:
        session.say(segment.text, segment.start, segment.end)
    session.finish()
    whole, live = understand(transcript, trade, settings, phrases=phrases), session.report
    assert live is not None
    assert [(s.action, s.part, s.count, s.status) for s in whole.steps] == [
        (s.action, s.part, s.count, s.status) for s in live.steps
    ]
    assert [(r.quantity, r.value) for r in whole.readings] == [(r.quantity, r.value) for r in live.readings]
    assert [(c.id, c.state) for c in whole.checks] == [(c.id, c.state) for c in live.checks]
    assert [(n.kind, n.text) for n in whole.notes] == [(n.kind, n.text) for n in live.notes]
    assert [(s.text, s.flags) for s in whole.transcript.segments if s.flags] == [
        (s.text, s.flags) for s in live.transcript.segments if s.flags and s.text != "Notebook, start listening."
    ] or asked in ("a rest", "taken back within a rest")


def test_a_request_is_marked_and_stays_in_the_transcript(phrases: Phrases) -> None:
    found = set_apart(spoken("The fan is back. Okay, notebook, what is still off? The plug is in."), phrases)
    assert [(s.text, s.flags) for s in found.segments] == [
        ("The fan is back.", ()), ("Okay, notebook, what is still off?", ("request",)), ("The plug is in.", ()),
    ]  # fmt: skip
    assert [s.id for s in found.segments] == ["r1s001", "r1s002", "r1s003"]
    assert found.dropped == ('0:01 Request to the tool: "Okay, notebook, what is still off?"',)
    assert " ".join(s.text for s in content_of(found).segments) == "The fan is back. The plug is in."


def test_a_note_is_kept_and_is_nothing_else(settings, phrases, trade) -> None:
    report = understand(spoken("Notebook, make a note, I've pulled the plug and the rear panel is off."), trade,
                        settings, phrases=phrases)  # fmt: skip
    assert [n.text for n in report.notes] == ["I've pulled the plug and the rear panel is off."]
    assert report.steps == report.readings == report.claims == ()
    assert not [c.id for c in report.checks if c.state == "confirmed"]


@pytest.mark.parametrize("said", [
    "Notebook, I've pulled the plug.", "Notebook, the heater is 30 ohms.", "Notebook, make a note it is tested dead.",
    "Notebook, the capacitor is discharged.",
])  # fmt: skip
def test_what_is_said_to_the_tool_confirms_nothing_and_measures_nothing(said, settings, phrases, trade) -> None:
    work = ("The rear panel is off.", "The run capacitor is out.", "I've unplugged the fan motor harness.")
    report = understand(spoken(said, *work), trade, settings, phrases=phrases)
    plain = understand(spoken(*work), trade, settings, phrases=phrases)
    assert report.readings == ()
    assert {c.id: c.state for c in report.checks} == {c.id: c.state for c in plain.checks}


def test_only_the_last_sentence_is_taken_back(phrases: Phrases) -> None:
    found = set_apart(spoken("The plug is out. Four screws are out.", "Notebook, take that back."), phrases)
    assert texts(found, "content") == ["The plug is out."]
    assert texts(found, "taken_back") == ["Four screws are out."]


def test_taking_back_twice_takes_two_statements_back(phrases: Phrases) -> None:
    found = set_apart(spoken("One is out.", "Two is out.", "Notebook, take that back.", "Notebook, strike that."),
                      phrases)  # fmt: skip
    assert texts(found, "content") == []
    assert texts(found, "taken_back") == ["One is out.", "Two is out."]


def test_with_nothing_said_there_is_nothing_to_take_back(phrases: Phrases) -> None:
    found = set_apart(spoken("Notebook, take that back.", "The plug is out."), phrases)
    assert texts(found, "content") == ["The plug is out."]
    assert take_back([], 5.0) is None
    later = Said(segment=spoken("The plug is out.").segments[0])
    assert take_back([later], 0.0) is None


def test_what_is_said_between_stop_and_start_goes(phrases: Phrases) -> None:
    found = set_apart(
        spoken("The plug is out.", "Notebook, stop listening.", "No, mum, later.", "Notebook, start listening.",
               "The fan is out."), phrases,
    )  # fmt: skip
    assert texts(found, "content") == ["The plug is out.", "The fan is out."]
    assert "mum" not in " ".join([*(s.text for s in found.segments), *found.dropped])
    assert any("Not listening" in line for line in found.dropped)


def test_without_a_start_nothing_is_lost(phrases: Phrases) -> None:
    """A page goes on by a touch, and the tool's own recordings hold silence while it rests."""
    found = set_apart(spoken("Notebook, stop listening.", "The fan is out."), phrases)
    assert texts(found, "content") == ["The fan is out."]


def test_where_the_tool_itself_rested_nothing_goes(phrases: Phrases) -> None:
    """Its recordings hold silence for the rest; the request that ended it is not in them, and one may come later."""
    said = ("Notebook, stop listening.", "The fan is out.", "Notebook, start listening.", "The plug is in.")
    found = set_apart(spoken(*said), phrases, rested=lambda name, at: name == "memo.wav" and at > 0)
    assert texts(found, "content") == ["The fan is out.", "The plug is in."]
    assert texts(set_apart(spoken(*said), phrases, rested=lambda _name, _at: False), "content") == ["The plug is in."]


@pytest.mark.parametrize(("kind", "rests"), [("silence", True), ("noise", False), ("late", False), ("short", False)])
def test_a_rest_of_the_tool_is_silence_without_noise(tmp_path: Path, kind: str, rests: bool) -> None:
    noise = np.random.default_rng(4).normal(0, 0.01, 30 * 16_000).astype(np.float32)
    first, last = {"silence": (3, 9), "noise": (0, 0), "late": (12, 20), "short": (3, 4)}[kind]
    noise[first * 16_000 : last * 16_000] = 0
    writer = WavWriter(tmp_path / "recording.wav")
    writer.add(noise)
    writer.close()
    digest = hashlib.sha256((tmp_path / "recording.wav").read_bytes()).hexdigest()
    made = Recording(name="recording.wav", sha256=digest, duration_s=30.0, speech_s=1.0, engine="stub")
    other = replace(made, name="other.wav", sha256="")
    rested = rests_of([tmp_path / "recording.wav"], Transcript(recordings=(made, other), segments=()))
    assert rested("recording.wav", 2.0) is rests
    assert rested("other.wav", 2.0) is False


def test_a_rest_does_not_reach_into_the_next_recording(phrases: Phrases) -> None:
    joined = join_transcripts([spoken("Notebook, stop listening.", "The fan is out.", name="a.wav"),
                               spoken("The plug is out.", "Notebook, start listening.", name="b.wav")])  # fmt: skip
    found = set_apart(joined, phrases)
    assert texts(found, "content") == ["The fan is out.", "The plug is out."]
    assert all(line.startswith(("a.wav ", "b.wav ")) for line in found.dropped)
    assert [s.id for s in found.segments] == ["r1s001", "r1s002", "r2s001", "r2s002"]


def test_a_pause_ends_a_note(phrases: Phrases) -> None:
    found = set_apart(spoken("Notebook, make a note, the hinge is cracked", "four screws out of the rear panel",
                             pause=1.0), phrases)  # fmt: skip
    assert texts(found, "note") == ["the hinge is cracked"]
    assert texts(found, "content") == ["four screws out of the rear panel"]


def test_each_cue_of_a_file_of_captions_is_an_utterance(phrases: Phrases) -> None:
    found = set_apart(spoken("notebook make a note the hinge is cracked", "four screws out", pause=0.0,
                             engine="transcript"), phrases)  # fmt: skip
    assert texts(found, "content") == ["four screws out"]


def test_a_segment_without_words_stays_where_it_is(phrases: Phrases) -> None:
    one = spoken("The plug is out.", "Notebook, what is missing?")
    silent = Segment(id="r1s009", recording="memo.wav", start=9.0, end=9.5, heard="", text="", words=(),
                     flags=("unheard",))  # fmt: skip
    found = set_apart(replace(one, segments=(*one.segments, silent)), phrases)
    assert [s.flags for s in found.segments] == [(), ("request",), ("unheard",)]
    assert set_apart(replace(one, segments=(silent,)), phrases).segments == (silent,)


# ---- read again


def test_what_was_set_apart_is_not_set_apart_again(tmp_path, settings, phrases, trade) -> None:
    first = understand(
        spoken(*JOB[:3], "The lower shelf is off.", "Notebook, take that back.", "Notebook, make a note, bent hinge.",
               *JOB[3:]), trade, settings, phrases=phrases,
    )  # fmt: skip
    path = tmp_path / "earlier.json"
    path.write_text(dump_json(first), encoding="utf-8")
    again = understand(read_transcript(path), trade, settings, phrases=phrases)
    assert dump_json(again) == dump_json(first)
    more = join_transcripts([read_transcript(path), spoken("The fan is back.", name="later.wav")])
    joined = understand(more, trade, settings, phrases=phrases)
    assert [s.text for s in joined.transcript.segments][:-1] == [s.text for s in first.transcript.segments]
    assert joined.transcript.dropped == first.transcript.dropped
    assert [n.text for n in joined.notes] == ["bent hinge."]


def test_a_live_report_read_again_leaves_out_what_was_said_to_the_tool(tmp_path, settings, phrases, trade) -> None:
    session = Session(trade=trade, settings=settings, phrases=phrases)
    text = "The fan motor reads 15 ohms."
    words = tuple(replace(w, alternative="50") if w.word == "15" else w for w in spread(text, 1.0, 4.0))
    session.say(text, 1.0, 4.0, words=words)
    session.say("Fifteen.", 6.0, 7.0)
    session.spoke("Hold on. Is the plug out?", 8.0, 10.0)
    session.say("Hold on. Is the plug out?", 8.1, 10.0)
    session.finish()
    assert session.report is not None
    kinds = [s.flags for s in session.report.transcript.segments]
    assert kinds == [(), ("answer",), ("echo",)]
    path = tmp_path / "report.json"
    path.write_text(dump_json(session.report), encoding="utf-8")
    again = report_files([path], settings)
    assert again.steps == session.report.steps
    assert [r.value for r in again.readings] == [r.value for r in session.report.readings] == [15]


# ---- the tool's own voice


@pytest.mark.parametrize(("request_", "reply", "content"), [
    ("Notebook, take that back.", "Taken back: I've pulled the plug out of the wall.", []),
    ("Notebook, make a note, tested dead.", "Noted: tested dead.", []),
    ("Notebook, read back the last reading.", "Last reading, heater: thirty ohms.", []),
    ("Notebook, take that back.", "The plug is out.", ["The plug is out."]),
    ("Notebook, make a note, bent hinge.", "Noted: bent hinge. The plug is out.", ["The plug is out."]),
])  # fmt: skip
def test_the_reply_that_a_recording_holds_is_not_content(phrases, request_, reply, content) -> None:
    found = set_apart(spoken("I've pulled the plug out of the wall.", request_, reply, pause=1.0), phrases)
    kept = [] if "take" in request_ else ["I've pulled the plug out of the wall."]
    assert texts(found, "content") == [*kept, *content]


def test_no_sentence_of_the_tool_confirms_or_measures_anything(settings, phrases, trade) -> None:
    """A loudspeaker is heard by the microphone: what it says must not count even where its voice is not known."""
    warnings = [text for w in phrases.warn.values() for text in (w.say, w.before)]
    sentences = [*warnings, *(a.ask for a in phrases.asks.values())]
    sentences += [text for text in phrases.says.values() if "{" not in text]
    work = ("The rear panel is off.", "The run capacitor is out.", "I've unplugged the fan motor harness.",
            "I closed the water valve off, no, I did not.", "The filter drier is cut out, R-600a.")  # fmt: skip
    plain = understand(spoken(*work), trade, settings, phrases=phrases)
    heard = understand(spoken(*(s for s in sentences if s != phrases.says["nothing_next"]), *work), trade, settings,
                       phrases=phrases)  # fmt: skip
    assert heard.readings == ()
    before = {c.id for c in plain.checks if c.state == "confirmed"}
    assert {c.id for c in heard.checks if c.state == "confirmed"} <= before


# ---- by the commands and the queue


def test_a_file_with_requests_is_reported_without_them(voicereport, tmp_path: Path) -> None:
    (tmp_path / "memo.vtt").write_text(
        "WEBVTT\n\n00:01.000 --> 00:04.000\nI've pulled the plug out of the wall.\n\n"
        "00:06.000 --> 00:09.000\nFour screws out of the rear panel.\n\n"
        "00:11.000 --> 00:13.000\nNotebook, take that back.\n\n"
        "00:15.000 --> 00:19.000\nNotebook, make a note, the rear panel is bent.\n",
        encoding="utf-8",
    )
    outcome = voicereport("report", "memo.vtt", "--out", "job")
    assert outcome.returncode == 1, outcome.stderr
    report = json.loads((tmp_path / "job" / "report.json").read_text(encoding="utf-8"))
    assert [s["part"] for s in report["steps"]] == ["power supply"]
    assert [n["text"] for n in report["notes"]] == ["the rear panel is bent."]
    page = (tmp_path / "job" / "audit.html").read_text(encoding="utf-8")
    assert "Said to the tool" in page
    assert "Taken back by the speaker" in page


def test_own_sentences_must_be_all_there(tmp_path: Path) -> None:
    (tmp_path / "live.toml").write_text('[record]\nrequest = "{text}"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match="record: not_listening is lacking"):
        load_phrases(folder=tmp_path)


def test_words_keep_their_times_and_doubts(phrases: Phrases) -> None:
    said = ["The", "fan", "is", "back.", "Notebook,", "what", "is", "still", "off?"]
    words = tuple(Word(word=w, start=n / 3, end=n / 3 + 0.3, probability=0.4 if w == "off?" else 0.9)
                  for n, w in enumerate(said))  # fmt: skip
    one = spoken("x")
    segment = replace(one.segments[0], words=words, text=" ".join(w.word for w in words), end=words[-1].end,
                      heard=" ".join(w.word for w in words), flags=("low_confidence",))  # fmt: skip
    found = set_apart(replace(one, segments=(segment,)), phrases)
    assert [s.flags for s in found.segments] == [(), ("low_confidence", "request")]
    assert tuple(w for s in found.segments for w in s.words) == words
