"""What was said, as frozen values: words with times and doubt, segments, recordings, spans.

Times are seconds from the start of the recording they belong to; spans are [start, end).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

Flag = Literal[
    "low_confidence", "repetition", "not_speech", "other_language", "unheard",
    "request", "answer", "note", "taken_back", "echo",
]  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class Word:
    """One spoken word."""

    word: str  #: as written, punctuation attached, no blanks
    start: float  #: seconds
    end: float  #: seconds
    probability: float = 1.0  #: 0..1, the recogniser's own; 1.0 where a person wrote the transcript
    alternative: str | None = None  #: what a second, different decode heard here; None = it agreed or was not made


@dataclass(frozen=True, kw_only=True, slots=True)
class Segment:
    """A stretch of speech. `text` is made of its words, joined by one blank each."""

    id: str  #: unique in the transcript, "r1s001"
    recording: str  #: name of the recording
    start: float
    end: float
    heard: str  #: what the recogniser wrote
    text: str  #: after the repair of trade words
    words: tuple[Word, ...]  #: of `text`; len(words) == len(text.split())
    flags: tuple[Flag, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Recording:
    """One file of a job."""

    name: str
    sha256: str
    duration_s: float
    speech_s: float
    visit: int = 1  #: counts from 1
    engine: str = "transcript"
    model: str = ""
    language: str = "en"
    notes: tuple[str, ...] = ()  #: warnings about the file, in plain words
    recorded: str | None = None  #: ISO 8601 time of recording, where the file itself says it


@dataclass(frozen=True, kw_only=True, slots=True)
class Transcript:
    """All that was said on a job, recordings in order, segments in time order within a recording."""

    recordings: tuple[Recording, ...]
    segments: tuple[Segment, ...]
    dropped: tuple[str, ...] = field(default=())  #: words over non-speech, kept as a note and used for nothing


@dataclass(frozen=True, kw_only=True, slots=True)
class Span:
    """Where something was said: words first..last (exclusive) of a segment."""

    recording: str
    segment: str
    first: int  #: index of the first word in the segment
    last: int  #: index after the last word
    start: float
    end: float
    quote: str  #: the words joined by one blank
    confidence: float  #: how sure the recogniser was of its words, 0..1


def _confidence(probabilities: list[float]) -> float:
    """The geometric mean of word probabilities, or the least of them where one word is hardly more than a guess."""
    least = min(probabilities)
    if least < 0.15:
        return least
    return round(math.exp(sum(math.log(p) for p in probabilities) / len(probabilities)), 6)


def span(segment: Segment, first: int = 0, last: int | None = None) -> Span:
    """The span of words [first, last) of `segment`; the whole segment by default."""
    last = len(segment.words) if last is None else last
    words = segment.words[first:last]
    if not words:
        return Span(
            recording=segment.recording,
            segment=segment.id,
            first=first,
            last=first,
            start=segment.start,
            end=segment.end,
            quote=segment.text,
            confidence=0.0,
        )
    return Span(
        recording=segment.recording,
        segment=segment.id,
        first=first,
        last=last,
        start=words[0].start,
        end=words[-1].end,
        quote=" ".join(w.word for w in words),
        confidence=_confidence([w.probability for w in words]),
    )


def spread(text: str, start: float, end: float, *, probability: float = 1.0) -> tuple[Word, ...]:
    """The words of `text` with times spread over [start, end) by their lengths, for transcripts without word times."""
    tokens = text.split()
    total = sum(len(t) + 1 for t in tokens) or 1
    words, at = [], start
    for token in tokens:
        step = (end - start) * (len(token) + 1) / total
        words.append(Word(word=token, start=round(at, 3), end=round(at + step, 3), probability=probability))
        at += step
    return tuple(words)
