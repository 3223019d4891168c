"""Talk between the speaker and the tool: requests and replies, prompts and answers, the wrap-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from voicereport.live import amend, replies
from voicereport.live.events import Answered, Asked, Event, Prompt
from voicereport.live.prompts import Told, Wanted, next_prompt
from voicereport.requests.directions import Direction, bare_request, find_directions, is_one_of
from voicereport.requests.phrases import Does
from voicereport.requests.said import Said, take_back

if TYPE_CHECKING:
    from voicereport.live.session import Session
    from voicereport.report import Check, Report

_ANSWER_S = 30.0  #: an answer to a number in doubt comes within these
_CALLED_S = 8.0  #: a request may follow the call word after a pause, within these
_IMPROVED = ("confirmed",)


@dataclass(slots=True)
class Conversation:
    """Where the talk stands."""

    told: Told = field(default_factory=Told)
    pending: Wanted | None = None  #: the number in doubt that was asked about
    asking: str | None = None  #: id of the check that the wrap-up asks for
    wrapping: bool = False  #: the wrap-up goes on
    asked: set[str] = field(default_factory=set)  #: checks that the wrap-up asked for
    last: Does | None = None  #: request that was answered last, with nothing said since
    step: int = 0  #: place in the order in which things go back
    called_at: float | None = None  #: seconds of the recording, of a call word with nothing after it

    def take(self, session: Session) -> list[Event]:
        """What the open utterance leads to, now that nobody speaks."""
        words = [w for one in session.open_said() if one.kind != "echo" for w in one.segment.words]
        start = session.open_said()[0].segment.start
        directions = find_directions(words, session.phrases, called=self.called_before(start))
        self.called_at = None
        if not session.listening:
            return self._wake([(d, words[d.first].start) for d in directions], session)
        events: list[Event] = []
        for direction in directions:
            own = words[direction.first : direction.last]
            if not session.listening:
                events += self._wake([(direction, own[0].start)], session)
                continue
            note = " ".join(w.word for w in words[direction.told : direction.last])
            asked = _Request(does=direction.does, said=" ".join(w.word for w in own), note=note,
                             start=own[0].start, end=own[-1].end)  # fmt: skip
            events += _do(self, asked, session)
            if session.finished:
                return events
        if not session.listening:
            return events
        if not directions and words:
            events += self._undirected(session)
        if session.finished or self.wrapping or not session.ask:
            return events
        return [*events, *self._speak_up(session, start)]

    def called_before(self, start: float) -> bool:
        """Whether the call word alone was said just before `start`, in seconds of the recording."""
        return self.called_at is not None and start - self.called_at < _CALLED_S

    # ---- requests

    def _wake(self, directions: Sequence[tuple[Direction, float]], session: Session) -> list[Event]:
        """Listen again where that is asked; what was said before goes. directions: each with its start, in seconds."""
        start = next((at for direction, at in directions if direction.does == "start"), None)
        if start is None:
            return []
        session.drop_open(before=start)
        reply = session.phrases.says["started"]
        asked = Asked(at=session.at, does="start", text="", reply=reply, aloud=True)
        return [session.start(), asked, *session.understand()]

    def answer(self, does: Does | Literal["called", "unknown"], said: str, reply: str, session: Session) -> Event:
        """The reply to a request, in the record of the report."""
        session.note("request", said, at=session.at)
        session.note("reply", reply, at=session.at)
        self.last = None if does in ("called", "unknown") else does  # type: ignore[assignment]
        return Asked(at=session.at, does=does, text=said, reply=reply, aloud=True)

    # ---- what is no request

    def _undirected(self, session: Session) -> list[Event]:
        text = " ".join(one.segment.text for one in session.open_said() if one.kind == "content").strip()
        before, self.last = self.last, None
        if not text:
            self.last = before
            return []
        if self.asking is not None:
            return self._answered(text, session)
        if bare_request(text, before, session.phrases) and before is not None:
            session.mark_open("request")
            self.last = before
            first = session.open_said()[0].segment
            asked = _Request(does=before, said=text, note="", start=first.start, end=first.end)
            return [*_do(self, asked, session), *session.understand()]
        if self.pending is not None:
            return self._said_again(text, session)
        return []

    def _said_again(self, text: str, session: Session) -> list[Event]:
        """The answer to a number in doubt, where the utterance is one; else it is ordinary talk."""
        wanted, self.pending = self.pending, None
        content = [one for one in session.open_said() if one.kind == "content"]
        number = amend.bare_number([w for one in content for w in one.segment.words])
        reading = wanted.reading if wanted else None
        if number is None or wanted is None or reading is None or session.at - self.told.doubt_at > _ANSWER_S:
            return []
        changed = amend.put_right(session.settled, reading.evidence[0], number)
        if changed is None:
            return []
        session.settled = changed
        session.mark_open("answer")
        session.note("answer", text, at=session.at)
        outcome: Literal["kept", "changed"] = "kept" if number.value == reading.value else "changed"
        return [Answered(at=session.at, about=wanted.about, text=text, outcome=outcome), *session.understand()]

    def _speak_up(self, session: Session, since: float) -> list[Event]:
        events: list[Event] = []
        while session.report is not None:
            wanted, self.told = next_prompt(
                session.report, self.told, session.trade, session.settings, session.phrases, at=session.at, since=since
            )
            if wanted is None or (wanted.kind == "doubt" and session.quiet):
                break
            self.pending = wanted if wanted.kind == "doubt" else self.pending
            events.append(_prompt(session, wanted.kind, wanted.about, wanted.text))
        return events

    # ---- the wrap-up

    def wrap_up(self, session: Session) -> list[Event]:
        """Ask for the next thing that is missing, or finish."""
        self.asking = None
        report = session.report
        check = next((c for c in _askable(session) if c.id not in self.asked), None) if session.ask else None
        if check is not None and report is not None:
            self.wrapping, self.asking = True, check.id
            self.asked.add(check.id)
            return [_prompt(session, "question", check.id, replies.asked_for(check, report, session.phrases))]
        self.wrapping = False
        session.settle()
        session.detector.close()
        return list(session.finish())

    def _answered(self, text: str, session: Session) -> list[Event]:
        """The answer to a question of the wrap-up; then the next question."""
        check = self.asking or ""
        phrases = session.phrases
        if is_one_of(text, phrases.skip) or is_one_of(text, phrases.stop):
            session.mark_open("answer")
            session.note("answer", text, at=session.at)
            if is_one_of(text, phrases.stop):
                self.asked |= {c.id for c in _askable(session)}
            events: list[Event] = [Answered(at=session.at, about=check, text=text, outcome="skipped")]
            events += session.settle()
            return [*events, *session.understand(), *self.wrap_up(session)]
        session.note("answer", text, at=session.at)
        events = [Answered(at=session.at, about=check, text=text, outcome="taken")]
        events += self._completed(check, text, session)
        events += session.settle()
        return [*events, *self.wrap_up(session)]

    def _completed(self, check: str, text: str, session: Session) -> list[Event]:
        """A bare answer read as part of a sentence, where that answers the question and the words alone do not."""
        known = session.phrases.asks.get(check)
        content = [one for one in session.open_said() if one.kind == "content"]
        if known is None or len(content) != 1 or _state(session.report, check) in _IMPROVED:
            return []
        if _severity(session.report, check) == "stop":
            return []
        held = content[0]
        for sentence in known.completes:
            _put(session, held, amend.completed(held.segment, sentence))
            events = session.understand()
            if _state(session.report, check) in _IMPROVED:
                read = sentence.format(answer=amend.within(text.rstrip(".?!")))
                session.note("answer_read", text, at=session.at, read=read)
                return events
            _put(session, None, held.segment)
        return session.understand()


def _put(session: Session, held: Said | None, segment: object) -> None:
    """The one content segment of the open utterance takes another text."""
    said = session.open_said()
    for n, one in enumerate(said):
        if one.kind == "content" and (held is None or one == held):
            said[n] = replace(one, segment=segment)  # type: ignore[arg-type]


def _askable(session: Session) -> list[Check]:
    """Checks that words can still meet: lacking, and not of something that had to come first."""
    report = session.report
    rules = {e.id: e.rule for e in session.trade.entries.entries}
    if report is None:
        return []
    return [c for c in report.checks if c.state in ("missing", "unclear") and rules.get(c.id) != "before"]


def _state(report: Report | None, check: str) -> str:
    return next((c.state for c in report.checks if c.id == check), "") if report else ""


def _severity(report: Report | None, check: str) -> str:
    return next((c.severity for c in report.checks if c.id == check), "stop") if report else "stop"


def _prompt(session: Session, kind: Literal["warning", "doubt", "question"], about: str, text: str) -> Prompt:
    session.note("prompt_shown" if session.quiet else "prompt", text, at=session.at)
    return Prompt(at=session.at, kind=kind, about=about, text=text, aloud=not session.quiet)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Request:
    """A request as it was said, [start, end) seconds of the recording. note: the words to note."""

    does: Does | Literal["called", "unknown"]
    said: str
    note: str
    start: float
    end: float


def _do(talk: Conversation, asked: _Request, session: Session) -> list[Event]:
    """Do what was asked, and say so."""
    says, report, phrases = session.phrases.says, session.report, session.phrases
    does, said, note = asked.does, asked.said, asked.note
    if does == "finish":
        session.note("request", said, at=session.at)
        reply = Asked(at=session.at, does="finish", text=said, reply="", aloud=False)
        return [reply, *session.settle(), *talk.wrap_up(session)]
    if does == "stop":
        event = talk.answer(does, said, says["stopped"], session)
        session.drop_open(after=asked.end)
        settled = session.settle()
        session.detector.close()
        return [event, *settled, session.stop(), *session.understand()]
    if does == "take_back":
        return _take_back(talk, asked, session)
    if does == "note":
        text = says["note"].format(text=note) if note else says["empty_note"]
        if note:
            session.note("note", note, at=session.at)
        return [talk.answer(does, said, text, session), *session.understand()]
    if does == "called":
        talk.called_at = session.at
        return [talk.answer(does, said, says["called"], session)]
    if does in ("quiet", "aloud"):
        session.quiet = does == "quiet"
        return [talk.answer(does, said, says[does], session)]
    if does == "start":
        return [talk.answer(does, said, says["not_stopped"], session)]
    if does == "unknown" or report is None:
        return [talk.answer("unknown", said, says["unknown"], session)]
    if does == "next":
        talk.step = talk.step + 1 if talk.last == "next" else 0
        return [talk.answer(does, said, replies.next_back(report, talk.step, phrases), session)]
    reply_of = {"still_off": replies.still_off, "missing": replies.missing, "read_back": replies.last_reading}
    return [talk.answer(does, said, reply_of[does](report, phrases), session)]


def _take_back(talk: Conversation, asked: _Request, session: Session) -> list[Event]:
    """The last sentence of content before the request is used for nothing any more; its words stay."""
    says = session.phrases.says
    for group in (session.open_said(), session.settled):
        found = take_back(group, asked.start)
        if found is not None:
            group[:], quote = found
            session.note("taken_back", quote, at=session.at)
            reply = says["taken_back"].format(quote=replies.shortened(quote))
            return [talk.answer("take_back", asked.said, reply, session), *session.understand()]
    return [talk.answer("take_back", asked.said, says["nothing_to_take_back"], session)]
