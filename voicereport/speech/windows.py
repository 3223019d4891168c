"""Speech packed into windows of at most half a minute, so that pauses cost nothing, and times mapped back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from voicereport.transcript import Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from voicereport.audio import Clip, Stretch

LONGEST_S = 29.0  #: of a window; under the recogniser's 30 s, so that the last word has an end
_JOIN_S = 0.3  #: silence between two pieces that were farther apart
_EARLIEST_CUT = 0.75  #: share of a full window from which on a cut may be chosen by its pause


@dataclass(frozen=True, kw_only=True, slots=True)
class Piece:
    """[start, end) seconds of the recording, at `at` seconds of a window."""

    start: float
    end: float
    at: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Window:
    """What a recogniser hears at once."""

    pieces: tuple[Piece, ...]

    @property
    def length(self) -> float:
        """Seconds."""
        last = self.pieces[-1]
        return last.at + last.end - last.start

    def samples(self, clip: Clip) -> NDArray[np.float32]:
        """The sound of the window, shape (n,), silence between pieces."""
        import numpy as np

        sound = np.zeros(round(self.length * 16_000), np.float32)
        for piece in self.pieces:
            found = clip.read(piece.start, piece.end)
            first = round(piece.at * 16_000)
            sound[first : first + len(found)] = found[: len(sound) - first]
        return sound

    def back(self, words: Sequence[Word]) -> tuple[Word, ...]:
        """Words with times in the window as words with times in the recording.

        A word belongs to the piece that it ends in, and is cut to that: after a pause, recognisers time the start
        of a word too early, into the pause, but its end well.
        """
        found: list[Word] = []
        for word in words:
            anchor = word.end - min(0.1, (word.end - word.start) / 2)
            piece = next((p for p in self.pieces if anchor < p.at + p.end - p.start), self.pieces[-1])
            shift = piece.start - piece.at
            start = min(max(word.start + shift, piece.start), piece.end)
            end = min(max(word.end + shift, start), piece.end)
            found.append(replace(word, start=round(start, 3), end=round(end, 3)))
        return tuple(found)


def pack(stretches: Sequence[Stretch], *, longest_s: float = LONGEST_S) -> tuple[Window, ...]:
    """The stretches in as few windows as reads well: a window is closed at the longest pause of its last quarter."""
    windows: list[Window] = []
    rest = [part for stretch in stretches for part in _split(stretch.start, stretch.end, longest_s)]
    while rest:
        count = _fitting(rest, longest_s)
        if count < len(rest):
            count = _best_cut(rest, count)
        windows.append(Window(pieces=tuple(_laid(rest[:count]))))
        rest = rest[count:]
    return tuple(windows)


def apart(spans: Sequence[tuple[float, float]], *, pad_s: float) -> tuple[Stretch, ...]:
    """Spans with `pad_s` seconds more at both ends, at most up to the middle between two; in the order given."""
    from voicereport.audio import Stretch

    order = sorted(range(len(spans)), key=lambda n: spans[n])
    found: dict[int, Stretch] = {}
    for k, n in enumerate(order):
        start, end = spans[n]
        low = (spans[order[k - 1]][1] + start) / 2 if k else 0.0
        high = (end + spans[order[k + 1]][0]) / 2 if k + 1 < len(order) else end + pad_s
        low, high = max(low, start - pad_s), min(high, end + pad_s)
        found[n] = Stretch(start=round(max(0.0, low), 3), end=round(max(high, low + 0.1), 3), probability=1.0)
    return tuple(found[n] for n in range(len(spans)))


def _split(start: float, end: float, longest_s: float) -> list[tuple[float, float]]:
    """A stretch too long for a window, in equal parts."""
    import math

    parts = max(1, math.ceil((end - start) / longest_s))
    step = (end - start) / parts
    return [(start + n * step, start + (n + 1) * step) for n in range(parts)]


def _gap(before: tuple[float, float], after: tuple[float, float]) -> float:
    return min(_JOIN_S, after[0] - before[1])


def _fitting(parts: Sequence[tuple[float, float]], longest_s: float) -> int:
    """How many of the parts fit in one window."""
    length = 0.0
    for n, part in enumerate(parts):
        length += part[1] - part[0] + (_gap(parts[n - 1], part) if n else 0.0)
        if length > longest_s + 1e-6:
            return max(1, n)
    return len(parts)


def _best_cut(parts: Sequence[tuple[float, float]], count: int) -> int:
    """How many of the `count` parts that fit to take, so that the pause after them is long."""
    total = sum(end - start for start, end in parts[:count])
    best, longest, length = count, -1.0, 0.0
    for n in range(1, count + 1):
        length += parts[n - 1][1] - parts[n - 1][0]
        pause = parts[n][0] - parts[n - 1][1]
        if length >= _EARLIEST_CUT * total and pause >= longest:
            best, longest = n, pause
    return best


def _laid(parts: Sequence[tuple[float, float]]) -> list[Piece]:
    pieces: list[Piece] = []
    at = 0.0
    for n, (start, end) in enumerate(parts):
        at += _gap(parts[n - 1], (start, end)) if n else 0.0
        pieces.append(Piece(start=start, end=end, at=round(at, 4)))
        at += end - start
    return pieces
