"""The tool's own voice in the recording: what it said aloud is no part of the job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from voicereport.requests.phrases import Does, Phrases, tokens
from voicereport.requests.said import part_of
from voicereport.transcript import Segment

_AROUND_S = 1.5  #: how long the tool speaks is estimated, and a loudspeaker is heard a little after
_SHARE = 0.6  #: share of a segment's words in the spoken sentence, in its order, from which on it is an echo
_OPENING = 2  #: words at the start of a sentence by which it is known even late
#: replies that begin with words of their own, by request; those of "next" begin as people do
_REPLIES: dict[Does, tuple[str, ...]] = {
    "take_back": ("taken_back",), "note": ("note",), "still_off": ("still_off",),
    "missing": ("missing", "missing_more"), "read_back": ("reading", "reading_of"),
}  # fmt: skip


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
    late = segment.words[inside[first]].start > spoken.end - 0.5
    if late and blocks[0].b >= _OPENING:  # the speaker, who says again what the tool has just repeated
        return None
    return inside[first], inside[last - 1] + 1


def split_reply(
    segments: Sequence[Segment], does: Does, repeated: str, phrases: Phrases
) -> tuple[tuple[Segment, ...], tuple[Segment, ...]]:
    """As `split_echo`, where it is not known what the tool said: its reply to `does`, by the words that it opens with.

    repeated: words that the reply has after those; empty where they are not known, and it goes on to the full stop.
    """
    first = next((n for n, segment in enumerate(segments) if segment.words), None)
    if first is None:
        return tuple(segments), ()
    opened = max((_opened(segments[first], key, phrases) for key in _REPLIES.get(does, ())), default=0)
    if not opened:
        return tuple(segments), ()
    left = opened + len(repeated.split()) if repeated else len(segments[first].words)
    own: list[Segment] = []
    echoes: list[Segment] = []
    for segment in segments:
        count = min(left, len(segment.words))
        left -= count
        if count:
            echoes.append(part_of(segment, 0, count) if count < len(segment.words) else segment)
        if count < len(segment.words) or not segment.words:
            own.append(part_of(segment, count, len(segment.words)) if count else segment)
    return tuple(own), tuple(echoes)


def _opened(segment: Segment, key: str, phrases: Phrases) -> int:
    """How many words of the segment are those that a reply opens with; 0 where it opens otherwise."""
    opening = tokens(phrases.says[key].partition("{")[0])
    own = [token for word in segment.words[: len(opening)] for token in tokens(word.word)]
    return len(opening) if opening and tuple(own[: len(opening)]) == opening else 0
