"""Where an utterance that does not end is cut, so that no word at the seam is lost or told twice."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from voicereport.requests.said import part_of
from voicereport.transcript import Segment, Word

_EARLIEST, _LATEST = 0.4, 0.92  #: shares of the utterance between which it may be cut
_FULL_STOP_S, _COMMA_S = 0.6, 0.2  #: what a mark counts for, as seconds of pause
_SAME_S = 0.35  #: a word timed that near to a settled one may be the same


def cut_place(segments: Sequence[Segment], start: float, end: float) -> float:
    """The safest place, in seconds: the longest pause between words, marks counted in; `end` where there is none."""
    words = [word for segment in segments for word in segment.words]
    low, high = start + _EARLIEST * (end - start), start + _LATEST * (end - start)
    best, place = -1.0, end
    for one, following in pairwise(words):
        middle = (one.end + following.start) / 2
        if low <= middle <= high:
            pause = max(0.0, following.start - one.end)
            pause += _FULL_STOP_S if one.word.endswith((".", "?", "!")) else _COMMA_S if one.word.endswith(",") else 0
            if pause >= best:
                best, place = pause, middle
    return round(place, 3)


def cut_segments(segments: Sequence[Segment], place: float) -> tuple[tuple[Segment, ...], tuple[Segment, ...]]:
    """The segments before and after `place`, by the middle of their words."""
    before: list[Segment] = []
    after: list[Segment] = []
    for segment in segments:
        if not segment.words:
            (before if segment.end <= place else after).append(segment)
            continue
        n = sum(_middle(word) < place for word in segment.words)
        if n == len(segment.words):
            before.append(segment)
        elif n == 0:
            after.append(segment)
        else:
            before.append(part_of(segment, 0, n))
            after.append(part_of(segment, n, len(segment.words)))
    return tuple(before), tuple(after)


def without_settled(segments: Sequence[Segment], settled_to: float, last: Word | None) -> tuple[Segment, ...]:
    """The segments without words that were settled at a seam: those before it, and the last one told again."""
    _, rest = cut_segments(segments, settled_to) if settled_to > 0 else ((), tuple(segments))
    if not rest or not rest[0].words or last is None:
        return rest
    first = rest[0].words[0]
    if _bare(first) == _bare(last) and first.start - last.end < _SAME_S and first.start < settled_to + _SAME_S:
        own = rest[0]
        kept = (part_of(own, 1, len(own.words)),) if len(own.words) > 1 else ()
        return (*kept, *rest[1:])
    return rest


def _middle(word: Word) -> float:
    return (word.start + word.end) / 2


def _bare(word: Word) -> str:
    return "".join(c for c in word.word.lower() if c.isalnum())
