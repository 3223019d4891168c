"""What was said so far, content apart from talk with the tool."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from voicereport.live.directions import Direction
from voicereport.speech.segments import flags_of
from voicereport.transcript import Segment, Transcript, Word

Kind = Literal["content", "request", "answer", "note", "taken_back", "echo"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Said:
    """One segment and what it is: only content is read for the report."""

    segment: Segment
    kind: Kind = "content"


def split_directions(
    segments: Sequence[Segment], find: Callable[[Sequence[Word]], tuple[Direction, ...]]
) -> tuple[list[Said], list[tuple[Direction, str, str]]]:
    """The segments with requests cut out of them, and each request with its words and the words to note."""
    words = [word for segment in segments for word in segment.words]
    directions = find(words)
    said: list[Said] = []
    at = 0  #: index of the segment's first word among all
    for segment in segments:
        own = range(at, at + len(segment.words))
        at += len(segment.words)
        said += _pieces(segment, own, directions)
    found = [
        (d, " ".join(w.word for w in words[d.first : d.last]), " ".join(w.word for w in words[d.told : d.last]))
        for d in directions
    ]
    return said, found


def _pieces(segment: Segment, own: range, directions: Sequence[Direction]) -> list[Said]:
    """The segment, cut where a request begins or ends in it."""
    if not own:
        return [Said(segment=segment)]
    kinds = [_kind(n, directions) for n in own]
    pieces: list[Said] = []
    first = 0
    for n in range(1, len(kinds) + 1):
        if n == len(kinds) or kinds[n] != kinds[first]:
            whole = first == 0 and n == len(kinds)
            part = segment if whole else part_of(segment, first, n)
            pieces.append(Said(segment=part, kind=kinds[first]))
            first = n
    return pieces


def _kind(n: int, directions: Sequence[Direction]) -> Kind:
    for d in directions:
        if d.first <= n < d.last:
            return "note" if d.does == "note" and n >= d.told else "request"
    return "content"


def part_of(segment: Segment, first: int, last: int) -> Segment:
    """Words [first, last) of a segment as a segment of their own. What was heard is cut in the same share."""
    words = segment.words[first:last]
    heard = segment.heard.split()
    text = " ".join(word.word for word in words)
    own = " ".join(heard[first:last]) if len(heard) == len(segment.words) else text
    flags = tuple(f for f in segment.flags if f != "low_confidence") + tuple(
        f for f in flags_of(words) if f == "low_confidence"
    )
    return replace(
        segment, start=words[0].start, end=max(word.end for word in words), heard=own, text=text, words=words,
        flags=tuple(dict.fromkeys(flags)),
    )  # fmt: skip


def without_directions(
    transcript: Transcript, find: Callable[[Sequence[Word]], tuple[Direction, ...]]
) -> tuple[list[Said], list[str]]:
    """A whole recording's segments with requests told apart, and the words of the requests."""
    said, found = split_directions(transcript.segments, find)
    return said, [text for _, text, _ in found]
