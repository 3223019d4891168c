"""The tool's own voice in the recording: what it said aloud is no part of the job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from voicereport.live.phrases import tokens
from voicereport.live.said import part_of
from voicereport.transcript import Segment

_AROUND_S = 1.5  #: how long the tool speaks is estimated, and a loudspeaker is heard a little after
_SHARE = 0.6  #: share of a segment's words in the spoken sentence, in its order, from which on it is an echo


@dataclass(frozen=True, kw_only=True, slots=True)
class Spoken:
    """A sentence that the tool spoke, [start, end) seconds of the recording."""

    text: str
    start: float
    end: float


def split_echo(
    segments: Sequence[Segment], spoken: Sequence[Spoken]
) -> tuple[tuple[Segment, ...], tuple[Segment, ...]]:
    """What people said, and what the tool is heard to say. A segment that is both is cut at the border."""
    own: list[Segment] = []
    echoes: list[Segment] = []
    for segment in segments:
        near = [s for s in spoken if s.start - 0.2 < segment.end and segment.start < s.end + _AROUND_S]
        span = next((found for s in near if (found := _echo(segment, s)) is not None), None)
        if span is None:
            own.append(segment)
            continue
        first, last = span
        if first:
            own.append(part_of(segment, 0, first))
        echoes.append(part_of(segment, first, last))
        if last < len(segment.words):
            own.append(part_of(segment, last, len(segment.words)))
    return tuple(own), tuple(echoes)


def _echo(segment: Segment, spoken: Spoken) -> tuple[int, int] | None:
    """Words [first, last) of the segment that are the tool's, or None."""
    inside = [
        n for n, w in enumerate(segment.words)
        if spoken.start - 0.2 <= (w.start + w.end) / 2 <= spoken.end + _AROUND_S
    ]  # fmt: skip
    if not inside:
        return None
    said = [("".join(tokens(segment.words[n].word)) or "-") for n in inside]
    wanted = list(tokens(spoken.text))
    blocks = [b for b in SequenceMatcher(None, said, wanted, autojunk=False).get_matching_blocks() if b.size]
    if not blocks:
        return None
    first, last = blocks[0].a, blocks[-1].a + blocks[-1].size
    matched = sum(b.size for b in blocks)
    if matched < _SHARE * (last - first) or matched < min(2, len(wanted)):
        return None
    return inside[first], inside[last - 1] + 1
