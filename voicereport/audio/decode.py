"""A recording as blocks of mono 16 kHz float32, one after the other, so that hours need no more memory than seconds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicereport.audio.container import opened, sound_track

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

RATE_HZ = 16_000
BLOCK_S = 10.0
_GAP_S = 0.25  #: a hole between two frames from here on is filled with silence, so that times go on being right
_LONGEST_FILL_S = 600.0  #: a longer hole is a broken clock, and is not filled
_DEAD = 1e-3  #: power of a side against the louder one, below which it is dead
_PREROLL_S = 1.0  #: decoded before a start inside a file and thrown away: codecs need a run-up (RFC 7845: 80 ms)


@dataclass(frozen=True, kw_only=True, slots=True)
class Block:
    """Some seconds of a recording."""

    start: float  #: seconds from the start of the recording
    samples: NDArray[np.float32]  #: shape (n,), mono, 16 kHz, [-1, 1]
    broken: int  #: packets in it that could not be decoded
    filled_s: float  #: silence put in where the file has a hole
    dead_side: bool  #: one of two sides is silent and was left out


@dataclass(slots=True)
class _Pending:
    """What is collected for the next block."""

    pieces: list[NDArray[np.float32]]  #: each of shape (channels, n)
    length: int = 0
    broken: int = 0
    filled_s: float = 0.0

    def add(self, piece: NDArray[np.float32]) -> None:
        self.pieces.append(piece)
        self.length += piece.shape[1]


def decode(path: Path, *, start: float = 0.0) -> Iterator[Block]:
    """The recording from `start` seconds on, in blocks of about ten seconds.

    Packets that cannot be decoded are counted and passed over; holes are filled with silence. Raises AudioError for
    what is no recording; a file without one good packet gives no block.
    """
    with opened(path) as container:
        stream = sound_track(container)
        stream.thread_type = "NONE"
        origin = _origin(container, stream)
        if start > 0:
            container.seek(int((max(0.0, start - _PREROLL_S) + origin) * 1e6))
        yield from _blocks(container, stream, origin, start)


def _origin(container: Any, stream: Any) -> float:
    """The time stamp, in seconds, of the start of the recording."""
    own = float(stream.start_time * stream.time_base) if stream.start_time is not None else 0.0
    shared = container.start_time / 1e6 if container.start_time is not None else own
    return min(own, shared) if own - shared > _GAP_S else own


def _blocks(container: Any, stream: Any, origin: float, start: float) -> Iterator[Block]:
    at = start
    pending = _Pending(pieces=[])
    for piece, broken, filled_s in _pieces(container, stream, origin, start):
        pending.broken += broken
        pending.filled_s += filled_s
        if pending.pieces and piece.shape[0] != pending.pieces[0].shape[0]:  # the file changes its channels midway
            yield (block := _block(pending, at))
            at, pending = at + len(block.samples) / RATE_HZ, _Pending(pieces=[])
        if piece.shape[1]:
            pending.add(piece)
        if pending.length >= BLOCK_S * RATE_HZ:
            yield (block := _block(pending, at))
            at, pending = at + len(block.samples) / RATE_HZ, _Pending(pieces=[])
    if pending.length or pending.broken:
        yield _block(pending, at)


def _block(pending: _Pending, at: float) -> Block:
    import numpy as np

    if not pending.pieces:
        return Block(start=at, samples=np.zeros(0, np.float32), broken=pending.broken, filled_s=0.0, dead_side=False)
    samples, dead = mix(np.concatenate(pending.pieces, axis=1))
    return Block(start=at, samples=samples, broken=pending.broken, filled_s=pending.filled_s, dead_side=dead)


def mix(channels: NDArray[np.float32]) -> tuple[NDArray[np.float32], bool]:
    """One channel of many, shape (channels, n), and whether a side was dead.

    Dead sides are left out, so that the live one keeps its level; sides that cancel each other (one is wired the
    wrong way round) are not added, the louder is taken.
    """
    import numpy as np

    finite = np.nan_to_num(channels, nan=0.0, posinf=1.0, neginf=-1.0)
    if len(finite) == 1:
        return np.clip(finite[0], -1, 1), False
    power = np.mean(np.square(finite, dtype=np.float64), axis=1)
    live = finite[power > _DEAD * power.max()] if power.max() > 0 else finite
    mixed = live.mean(axis=0)
    if np.mean(np.square(mixed, dtype=np.float64)) < 0.05 * power.max():
        mixed = finite[int(power.argmax())]
    return np.clip(mixed, -1, 1).astype(np.float32), len(live) < len(finite)


def _pieces(
    container: Any, stream: Any, origin: float, start: float
) -> Iterator[tuple[NDArray[np.float32], int, float]]:
    """(channels, n) arrays at 16 kHz with the broken packets and the filled seconds before each, from `start` on."""
    import numpy as np

    resampler: Any = None
    shape: tuple[Any, ...] = ()
    end: float | None = 0.0 if start <= 0 else None  #: end of the last frame
    skip: int | None = 0 if start <= 0 else None  #: samples to throw away before `start`
    for frame, broken in _frames(container, stream):
        if frame is None:
            yield np.zeros((1, 0), np.float32), broken, 0.0
            continue
        if shape != (shape := (frame.format.name, frame.layout.name, frame.sample_rate)):
            if resampler is not None:
                yield from ((piece, 0, 0.0) for piece in _resampled(resampler, None))
            resampler = _resampler(frame)
        time = frame.time - origin if frame.time is not None else end or 0.0
        hole = time - end if end is not None else 0.0
        end = time + frame.samples / frame.sample_rate
        if skip is None:
            skip = max(0, round((start - time) * RATE_HZ))
        filled = hole if _GAP_S <= hole <= _LONGEST_FILL_S else 0.0
        if filled:
            yield np.zeros((len(frame.layout.channels), round(filled * RATE_HZ)), np.float32), broken, filled
            broken = 0
        for piece in _resampled(resampler, frame):
            kept, skip = piece[:, skip:], max(0, skip - piece.shape[1])
            yield kept, broken, 0.0
            broken = 0
    if resampler is not None:
        yield from ((piece[:, skip or 0 :], 0, 0.0) for piece in _resampled(resampler, None))


def _frames(container: Any, stream: Any) -> Iterator[tuple[Any, int]]:
    """Decoded frames with the broken packets before each; at the end (None, broken packets) where some are left."""
    import av

    broken = 0
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets, None)
            if packet is None:
                break
            frames = packet.decode()
        except av.error.EOFError:
            break
        except av.error.FFmpegError as error:
            broken += 1
            if isinstance(error, OSError) and broken > 10_000:
                break
            continue
        for frame in frames:
            if frame.samples and frame.sample_rate:
                yield frame, broken
                broken = 0
    if broken:
        yield None, broken


def _resampler(frame: Any) -> Any:
    import av

    return av.AudioResampler(format="fltp", layout=frame.layout, rate=RATE_HZ)


def _resampled(resampler: Any, frame: Any) -> Iterator[NDArray[np.float32]]:
    for piece in resampler.resample(frame):
        yield piece.to_ndarray()
