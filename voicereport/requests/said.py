"""What was said, content apart from talk with the tool."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from voicereport.requests.directions import Direction
from voicereport.speech.segments import bounds, flags_of
from voicereport.transcript import Flag, Segment, Word

Kind = Literal["content", "request", "answer", "note", "taken_back", "echo"]
_KINDS: dict[Flag, Kind] = {
    "request": "request", "answer": "answer", "note": "note", "taken_back": "taken_back", "echo": "echo",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class Said:
    """One segment and what it is: only content is read for the report."""

    segment: Segment
    kind: Kind = "content"


def kind_of(segment: Segment) -> Kind:
    """What a segment of a transcript is, by its flags."""
    return next((_KINDS[flag] for flag in segment.flags if flag in _KINDS), "content")


def marked(one: Said) -> Segment:
    """The segment with its kind among its flags; content has none."""
    others = tuple(flag for flag in one.segment.flags if flag not in _KINDS)
    own = tuple(flag for flag, kind in _KINDS.items() if kind == one.kind)
    flags = (*others, *own)
    return one.segment if flags == one.segment.flags else replace(one.segment, flags=flags)


def split_directions(
    segments: Sequence[Segment], find: Callable[[Sequence[Word]], tuple[Direction, ...]]
) -> tuple[list[Said], tuple[Direction, ...]]:
    """The segments with requests cut out of them, and the requests, by the place of their words among all."""
    directions = find([word for segment in segments for word in segment.words])
    said: list[Said] = []
    at = 0  #: index of the segment's first word among all
    for segment in segments:
        said += _pieces(segment, range(at, at + len(segment.words)), directions)
        at += len(segment.words)
    return said, directions


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
            pieces.append(Said(segment=part, kind=kinds[first][0]))
            first = n
    return pieces


def _kind(n: int, directions: Sequence[Direction]) -> tuple[Kind, int]:
    """What word n is, and the place of the request that it is of."""
    for place, d in enumerate(directions):
        if d.first <= n < d.last:
            return ("note" if d.does == "note" and n >= d.told else "request"), place
    return "content", sum(d.last <= n for d in directions)


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


def take_back(said: Sequence[Said], before: float) -> tuple[list[Said], str] | None:
    """What was said, the last sentence of content before `before` taken back, and its words; None where there is none.

    before: seconds of the recording, the start of the request. All that stands in `said` after it is left as it is.
    """
    for n in range(len(said) - 1, -1, -1):
        one = said[n]
        if one.kind == "content" and one.segment.words and one.segment.words[0].start < before:
            first, last = bounds(one.segment.words)[-1]
            gone = part_of(one.segment, first, last) if first else one.segment
            kept = [replace(one, segment=part_of(one.segment, 0, first))] if first else []
            return [*said[:n], *kept, replace(one, segment=gone, kind="taken_back"), *said[n + 1 :]], gone.text
    return None
