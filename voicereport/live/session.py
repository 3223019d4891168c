"""A job that is being listened to: sound or text in small pieces in, events out, a checked report at any time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from voicereport.live.changes import changes
from voicereport.live.conversation import Conversation
from voicereport.live.detect import Cut, Detector
from voicereport.live.events import Answered, Asked, DoubtRaised, Event, Finished, Heard, Listening, Prompt
from voicereport.live.recognise import Recogniser
from voicereport.live.replies import finished
from voicereport.live.seams import cut_place, cut_segments, without_settled
from voicereport.live.understanding import Understanding
from voicereport.requests.directions import Direction, find_directions
from voicereport.requests.echo import Spoken, split_echo
from voicereport.requests.phrases import Phrases, clock
from voicereport.requests.said import Kind, Said, split_directions
from voicereport.transcript import Recording, Segment, Transcript, Word, spread

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from voicereport.report import Report
    from voicereport.settings import Settings
    from voicereport.trades import Trade

_LONG_ENOUGH_S = 10.0  #: an open utterance this long is settled at a pause after a full stop
_WORDS_S = 0.35  #: seconds that a word of a text without times takes


@dataclass(slots=True)
class Session:
    """All that a live job knows. Fed by `hear` (sound) or `say` (text); the stages behind it keep no state.

    recogniser: None where only text is fed. Settled segments never change, but for a number that was said again.
    """

    trade: Trade
    settings: Settings
    phrases: Phrases
    recogniser: Recogniser | None = None
    name: str = "recording.wav"
    duration_s: float = 0.0  #: of the recording, once it is closed
    sha256: str = ""  #: of the recording, once it is closed
    quiet: bool = False  #: prompts are shown and not spoken; numbers in doubt are not asked about
    ask: bool = True  #: False = the tool never speaks up of its own accord
    listening: bool = True
    finished: bool = False
    report: Report | None = None  #: as of the last event
    settled: list[Said] = field(default_factory=list)
    dropped: list[str] = field(default_factory=list)  #: lines of the record: requests, prompts, answers
    talk: Conversation = field(default_factory=Conversation)
    detector: Detector = field(default_factory=Detector)
    _open: list[Said] = field(default_factory=list)  #: of the open utterance; may be heard anew
    _looked: bool = False  #: the open utterance had its second look
    settled_to: float = 0.0  #: seconds of the recording; words before it are settled
    _spoken: list[Spoken] = field(default_factory=list)
    _speech_s: float = 0.0
    _silent_from: float = 0.0
    _rests_from: float = 0.0  #: seconds at which listening was stopped
    _understanding: Understanding | None = None

    def hear(self, samples: NDArray[np.float32]) -> tuple[Event, ...]:
        """The events that the next piece of sound leads to. samples: shape (n,), mono, 16 kHz, [-1, 1]."""
        return tuple(event for events in self.hearing(samples) for event in events)

    def hearing(self, samples: NDArray[np.float32]) -> Iterator[tuple[Event, ...]]:
        """As `hear`, what was heard as soon as it is known, and then what it means."""
        for cut in self.detector.feed(samples):
            if self.finished:
                return
            if cut.sign == "pause":
                self._silent_from = round(self.detector.heard - self.detector.quiet_s, 3)
                yield tuple(self._take_in(self._heard()))
                yield tuple(self._paused())
            else:
                yield tuple(self._cut(cut))

    def say(
        self,
        text: str,
        start: float | None = None,
        end: float | None = None,
        *,
        words: tuple[Word, ...] | None = None,
    ) -> tuple[Event, ...]:
        """The events of one utterance as text, settled at once.

        start, end: seconds of the recording; None = just now. words: those of `text`, where their times and doubts
        are known; None spreads them.
        """
        if self.finished or not text.strip():
            return ()
        start = self.at if start is None else start
        end = start + _WORDS_S * len(text.split()) if end is None else end
        text = " ".join(text.split())
        segment = Segment(id="", recording=self.name, start=start, end=end, heard=text, text=text,
                          words=spread(text, start, end) if words is None else words)  # fmt: skip
        self.detector.heard = max(self.detector.heard, end)
        self._silent_from = end
        return (*self._recognised(self._repaired((segment,))), *self._rest(), *self.settle())

    def spoke(self, text: str, start: float, end: float) -> None:
        """Tell that the tool itself was heard to say `text`: it is no part of the job."""
        self._spoken.append(Spoken(text=text, start=start, end=end))

    def warm_up(self) -> None:
        """Load what is loaded once, so that the first utterance is as quick as the others."""
        self._understood().report(self.settled, self._open, self.recording(), ())

    def flush(self) -> tuple[Event, ...]:
        """Settle what is still open: the sound has ended, or pauses."""
        events: list[Event] = []
        if self.detector.open:
            at = self.detector.heard
            for sign in ("pause", "rest", "close"):
                events += self._cut(Cut(sign=sign, at=at))
            self.detector.close()
        return tuple(events)

    @property
    def at(self) -> float:
        """Seconds of the recording that were heard."""
        return self.detector.heard

    @property
    def said(self) -> tuple[Said, ...]:
        """All that was said, the open utterance last."""
        return (*self.settled, *self._open)

    def restore(self, settled: Sequence[Said], dropped: Sequence[str], at: float) -> None:
        """Go on from what an earlier session had settled, `at` seconds into the recording."""
        self.settled, self.dropped = list(settled), list(dropped)
        self.detector.heard = self.detector.start = self.settled_to = at
        self._understand(at)

    # ---- what a cut leads to

    def _cut(self, cut: Cut) -> list[Event]:
        if cut.sign == "pause":
            self._silent_from = round(self.detector.heard - self.detector.quiet_s, 3)
            return [*self._take_in(self._heard()), *self._paused()]
        if cut.sign == "long":
            return self._long()
        return self._rest() if cut.sign == "rest" else self.settle()

    def _paused(self) -> list[Event]:
        """What the open utterance, just recognised, means; it may go on."""
        events = self._made_out()
        length = self.detector.heard - self.detector.start
        if length >= _LONG_ENOUGH_S and self._open and self._open[-1].segment.text.endswith((".", "?", "!")):
            events += [*self._rest(), *self.settle()]
            self.detector.close()
        return events

    def _heard(self, *, well: bool = False) -> tuple[Segment, ...]:
        if self.recogniser is None:
            return ()
        found = self.recogniser.words(self.detector.sound(), self.detector.start, well=well)
        self._looked = well
        return self._repaired(without_settled(found, self.settled_to, self._last_word()))

    def _repaired(self, segments: Sequence[Segment]) -> tuple[Segment, ...]:
        from voicereport.wording import repair

        return repair(Transcript(recordings=(), segments=tuple(segments)), self.trade).segments

    def _last_word(self) -> Word | None:
        return next((one.segment.words[-1] for one in reversed(self.settled) if one.segment.words), None)

    def _recognised(self, segments: Sequence[Segment]) -> list[Event]:
        """Take segments as what the open utterance says, and understand them."""
        return [*self._take_in(segments), *self._made_out()]

    def _take_in(self, segments: Sequence[Segment]) -> list[Event]:
        """Take segments as what the open utterance says, and tell them."""
        own, echoes = split_echo(segments, self._spoken)
        said, _ = split_directions(own, self._find)
        said += [Said(segment=segment, kind="echo") for segment in echoes]
        self._open = sorted(said, key=lambda one: one.segment.start)
        return self._told(settled=False) if self.listening else []

    def _made_out(self) -> list[Event]:
        return self._understand(self.at) if self.listening else []

    def _told(self, *, settled: bool) -> list[Event]:
        """What people say in the open utterance; nothing where only the tool itself is heard."""
        own = [one.segment for one in self._open if one.kind != "echo"]
        if not own:
            return []
        text = " ".join(segment.text for segment in own if segment.text)
        return [
            Heard(
                at=own[0].start, end=max(s.end for s in own), text=text, settled=settled, silent_from=self._silent_from
            )
        ]

    def _find(self, words: Sequence[Word]) -> tuple[Direction, ...]:
        called = bool(words) and self.talk.called_before(words[0].start)
        return find_directions(words, self.phrases, called=called)

    def _rest(self) -> list[Event]:
        """Nobody spoke for a moment: look twice, then answer what was asked, or speak up."""
        look = self.recogniser is not None and self._open and not self._looked and self.listening
        events = self._look_twice() if look else []
        if not self._open:
            return events
        more = self.talk.take(self)
        if any(isinstance(event, Prompt | Asked | Answered) for event in more):  # what comes next is another utterance
            more += self.settle()
            self.detector.close()
        return events + more

    def _look_twice(self) -> list[Event]:
        """Numbers, by other weights; all of the utterance where some of its speech gave no words."""
        if self.recogniser is None:
            return []
        self._looked = True
        segments = [one.segment for one in self._open]
        if any("unheard" in segment.flags for segment in segments):
            return self._recognised(self._heard(well=True))
        looked = self.recogniser.second_look(self.detector.sound(), self.detector.start, segments)
        if list(looked) == segments:
            return []
        self._open = [replace(o, segment=s) for o, s in zip(self._open, looked, strict=True)]
        return self._understand(self.at)

    def settle(self) -> list[Event]:
        """The open utterance is settled."""
        if not self._open:
            return []
        if not self.listening:
            self._open = []
            return []
        told = self._told(settled=True)
        for one in self._open:
            self.settled_to = max(self.settled_to, one.segment.end)
            self._speech_s += one.segment.end - one.segment.start
            if one.kind == "echo":
                self.note("echo", one.segment.text, at=one.segment.start)
            if "unheard" in one.segment.flags:
                told.append(DoubtRaised(at=one.segment.start, about="", instead=""))
        self.settled += self._open
        self._open = []
        return told

    def _long(self) -> list[Event]:
        """Recognise an utterance that does not end, settle it up to a safe place, and keep the sound after it."""
        segments = self._heard()
        place = cut_place(segments, self.detector.start, self.detector.heard)
        before, _ = cut_segments(segments, place)
        events = self._recognised(before)
        events += [*self._rest(), *self.settle()]
        self.settled_to = max(self.settled_to, place)
        self.detector.forget(place - 0.4)  # words at the seam are heard whole; those that were settled are left out
        return events

    # ---- what the conversation needs

    def understand(self) -> list[Event]:
        """State the report anew and tell what changed."""
        return self._understand(self.at)

    def note(self, key: str, text: str, *, at: float, **more: str) -> None:
        """Put a line into the record of the report."""
        self.dropped.append(self.phrases.record[key].format(at=clock(at), text=text, **more))
        if self.report is not None:
            kept = self.report.transcript.model_copy(update={"dropped": tuple(self.dropped)})
            self.report = self.report.model_copy(update={"transcript": kept})

    def open_said(self) -> list[Said]:
        """What the open utterance says; the conversation may say what kind each part is."""
        return self._open

    def drop_open(self, *, before: float | None = None, after: float | None = None) -> None:
        """What the open utterance says before or after a moment, in seconds, was not meant to be heard."""
        self._open = [
            one
            for one in self._open
            if (before is None or one.segment.start >= before) and (after is None or one.segment.start < after)
        ]

    def mark_open(self, kind: Kind) -> None:
        """All content of the open utterance is of another kind."""
        self._open = [replace(one, kind=kind) if one.kind == "content" else one for one in self._open]

    def stop(self) -> Event:
        """Stop listening, but for the request to start again."""
        self.listening, self._rests_from = False, self.at
        return Listening(at=self.at, on=False)

    def start(self) -> Event:
        """Listen again."""
        if not self.listening:
            self.note("not_listening", "", at=self._rests_from, until=clock(self.at))
        self.listening = True
        return Listening(at=self.at, on=True)

    def finish(self) -> tuple[Event, ...]:
        """End the job: everything is settled and the report stands."""
        if self.finished:
            return ()
        events = [*self.flush(), *self.settle(), *self._understand(self.at)]
        self.finished = True
        report = self.report
        if report is not None:
            lacking = sum(c.state not in ("confirmed", "not_applicable") for c in report.checks)
            reply = finished(report, self.phrases)
            events.append(Finished(at=self.at, status=report.status, open_checks=lacking, reply=reply))
        return tuple(events)

    def _understood(self) -> Understanding:
        if self._understanding is None:
            self._understanding = Understanding(trade=self.trade, settings=self.settings)
        return self._understanding

    def _understand(self, at: float) -> list[Event]:
        before = self.report
        self.report = self._understood().report(self.settled, self._open, self.recording(), self.dropped)
        return list(changes(before, self.report, at=at))

    def recording(self) -> Recording:
        """The recording so far; its digest is not known before it is closed."""
        engine = self.recogniser
        return Recording(
            name=self.name, sha256=self.sha256, duration_s=round(max(self.at, self.duration_s), 3),
            speech_s=round(self._speech_s, 3),
            engine=engine.engine if engine else "transcript", model=engine.model if engine else "",
            language=self.settings.language,
        )  # fmt: skip
