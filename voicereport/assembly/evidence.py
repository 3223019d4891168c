"""Evidence from spans, and where in the transcript a span stands."""

from __future__ import annotations

from voicereport.report import Evidence
from voicereport.transcript import Segment, Span, Transcript

Place = tuple[int, int]  #: index of the segment in the transcript, index of the word in the segment


def evidence(span: Span) -> Evidence:
    """The evidence that `span` is: seconds in its recording, and the words exactly."""
    return Evidence(recording=span.recording, segment=span.segment, start=span.start, end=max(span.start, span.end),
                    quote=span.quote, confidence=min(1.0, max(0.0, span.confidence)))  # fmt: skip


class Places:
    """The order of spans in a transcript."""

    def __init__(self, transcript: Transcript) -> None:
        self._segments = {s.id: (n, s) for n, s in enumerate(transcript.segments)}

    def of(self, span: Span) -> Place:
        """Where `span` stands; a span of an unknown segment stands last."""
        found = self._segments.get(span.segment)
        return (found[0] if found else len(self._segments), span.first)

    def segment(self, span: Span) -> Segment | None:
        """The segment that `span` lies in, or None."""
        found = self._segments.get(span.segment)
        return found[1] if found else None
