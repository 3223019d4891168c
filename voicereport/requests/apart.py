"""A transcript of what was recorded already: talk with the tool set apart, as it is while a job is listened to."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from voicereport.requests.directions import Direction, bare_request, find_directions
from voicereport.requests.echo import split_reply
from voicereport.requests.phrases import Does, Phrases, clock
from voicereport.requests.said import Said, kind_of, marked, split_directions, take_back
from voicereport.transcript import Segment, Transcript, Word

_PAUSE_S = 0.75  #: silence after which listening answers: what comes then is another utterance
_CALLED_S = 8.0  #: a request may follow the call word after a pause, within these
_REPLY_S = 6.0  #: the tool's voice answers within these


#: whether a recording, by its name, holds no sound at all from a moment on, in seconds: a tool rested there itself
Rested = Callable[[str, float], bool]


def set_apart(transcript: Transcript, phrases: Phrases, *, rested: Rested | None = None) -> Transcript:
    """The transcript with each segment that is no content flagged by what it is, and the record of requests.

    Requests are cut out of their segments; what a speaker took back stays, flagged; what was said between "stop
    listening" and "start listening" goes. What is flagged already was carried out and stays. A transcript without
    requests is given back as it came. Where a recording was made by a tool that rested, `rested`, nothing that was
    not meant to be heard is in it, and nothing goes.
    """
    said: list[Said] = []
    record: list[str] = []
    for name, group in groupby(transcript.segments, key=lambda segment: segment.recording):
        asked = _Asked(phrases=phrases, name=name, named=len(transcript.recordings) > 1, rested=rested)
        asked.take(list(group), by_cue=_written(transcript, name))
        said += asked.said
        record += asked.record
    if not record:
        return transcript
    segments = tuple(_numbered(transcript, [marked(one) for one in said]))
    return replace(transcript, segments=segments, dropped=(*transcript.dropped, *record))


def content_of(transcript: Transcript) -> Transcript:
    """The transcript with the segments alone that are about the job."""
    kept = tuple(segment for segment in transcript.segments if kind_of(segment) == "content")
    return transcript if len(kept) == len(transcript.segments) else replace(transcript, segments=kept)


def notes_of(transcript: Transcript) -> tuple[Segment, ...]:
    """The segments that the speaker asked the tool to note."""
    return tuple(segment for segment in transcript.segments if segment.words and kind_of(segment) == "note")


def _written(transcript: Transcript, name: str) -> bool:
    return any(r.engine == "transcript" for r in transcript.recordings if r.name == name)


def _numbered(transcript: Transcript, segments: Sequence[Segment]) -> Iterator[Segment]:
    """The segments with ids that count anew in each recording: some were cut."""
    places = {recording.name: n for n, recording in enumerate(transcript.recordings, 1)}
    counted: dict[str, int] = {}
    for segment in segments:
        counted[segment.recording] = counted.get(segment.recording, 0) + 1
        yield replace(segment, id=f"r{places[segment.recording]}s{counted[segment.recording]:03}")


@dataclass(frozen=True, kw_only=True, slots=True)
class _Stopped:
    """How it stood at a request to stop listening, that included."""

    said: tuple[Said, ...]
    record: tuple[str, ...]
    at: float  #: seconds of the recording


@dataclass(slots=True)
class _Asked:
    """One recording, gone through once."""

    phrases: Phrases
    name: str  #: of the recording
    named: bool  #: the record says which recording it is about: there are several
    rested: Rested | None
    said: list[Said] = field(default_factory=list)
    record: list[str] = field(default_factory=list)
    answered: tuple[Does, str, float] | None = None  #: the last request, the words in its reply, and when it ended
    called_at: float = -1e9  #: seconds of the recording, of a call word with nothing after it
    last: Does | None = None  #: request that was answered last, with nothing said since
    stopped: _Stopped | None = None

    def take(self, segments: list[Segment], *, by_cue: bool) -> None:
        """Go through a recording's segments. by_cue: each segment is an utterance of its own."""
        for utterance in _utterances(segments, by_cue=by_cue):
            if kind_of(utterance[0]) != "content":
                self.said += [Said(segment=one, kind=kind_of(one)) for one in utterance]
            else:
                self._utterance(utterance)

    def _utterance(self, utterance: list[Segment]) -> None:
        own, echoes = self._echoes(utterance)
        self.said += [Said(segment=one, kind="echo") for one in echoes]
        self.record += [self._line("echo", one.start, one.text) for one in echoes]
        words = [word for segment in own for word in segment.words]
        if not words:
            self.said += [Said(segment=segment) for segment in own]
            return
        called = words[0].start - self.called_at < _CALLED_S
        pieces, directions = split_directions(own, lambda w: find_directions(w, self.phrases, called=called))
        self.called_at = -1e9
        if not directions:
            self._talk(own, words)
            return
        base = len(self.said)
        self.said += pieces
        for direction in directions:
            grown = len(self.said) - base - len(pieces)
            self._carry_out(direction, words, base + _place(pieces, words[direction.first]) + grown)

    def _echoes(self, utterance: list[Segment]) -> tuple[tuple[Segment, ...], tuple[Segment, ...]]:
        """What people said, and what the tool is heard to answer to the last request."""
        answered, self.answered = self.answered, None
        if answered is None or utterance[0].start - answered[2] > _REPLY_S:
            return tuple(utterance), ()
        return split_reply(utterance, answered[0], answered[1], self.phrases)

    def _talk(self, own: Sequence[Segment], words: Sequence[Word]) -> None:
        """An utterance without a call word: talk, but for a request said again directly after its answer."""
        text = " ".join(word.word for word in words)
        again = bare_request(text, self.last, self.phrases)
        self.said += [Said(segment=segment, kind="request" if again else "content") for segment in own]
        if again:
            self.record.append(self._line("request", words[0].start, text))
        else:
            self.last = None

    def _carry_out(self, direction: Direction, words: Sequence[Word], place: int) -> None:
        """What a request does to what was said. place: of the request, in `said`."""
        own = words[direction.first : direction.last]
        start, end = own[0].start, own[-1].end
        note = " ".join(word.word for word in words[direction.told : direction.last])
        if direction.does == "note" and note:
            self.record.append(self._line("note", start, note))
        self.record.append(self._line("request", start, " ".join(word.word for word in own)))
        quote = self._take_back(start) if direction.does == "take_back" else ""
        if direction.does == "called":
            self.called_at = end
        elif direction.does == "stop" and self.stopped is None and not (self.rested and self.rested(self.name, end)):
            self.stopped = _Stopped(said=tuple(self.said[: place + 1]), record=tuple(self.record), at=end)
        elif direction.does == "start":
            self._listen_again(place, start)
        does = direction.does
        self.last = None if does == "called" or does == "unknown" else does
        self.answered = (self.last, quote or note, end) if self.last else None

    def _take_back(self, start: float) -> str:
        found = take_back(self.said, start)
        if found is None:
            return ""
        self.said, quote = found
        self.record.append(self._line("taken_back", start, quote))
        return quote

    def _listen_again(self, place: int, start: float) -> None:
        """What was said and asked since the request to stop listening goes. Without one, nothing does."""
        before = self.stopped
        if before is None:
            return
        if place > len(before.said):
            request = self.record[-1]
            line = self._line("not_listening", before.at, "", until=clock(start))
            self.record = [*before.record, line, request]
        self.said = [*before.said, *self.said[place:]]
        self.stopped = None

    def _line(self, key: str, at: float, text: str, **more: str) -> str:
        line = self.phrases.record[key].format(at=clock(at), text=text, **more)
        return f"{self.name} {line}" if self.named else line


def _place(pieces: Sequence[Said], word: Word) -> int:
    return next(n for n, piece in enumerate(pieces) if any(w is word for w in piece.segment.words))


def _utterances(segments: Sequence[Segment], *, by_cue: bool) -> Iterator[list[Segment]]:
    """Segments that follow each other without a pause; those that were set apart already stand by themselves."""
    run: list[Segment] = []
    for segment in segments:
        apart = by_cue or not run or segment.start - run[-1].end >= _PAUSE_S
        if run and (apart or (kind_of(segment) == "content") != (kind_of(run[-1]) == "content")):
            yield run
            run = []
        run.append(segment)
    if run:
        yield run
