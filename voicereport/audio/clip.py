"""A recording, decoded once and kept where any second of it can be read again."""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from voicereport.audio.container import Promise, digest, probe
from voicereport.audio.decode import RATE_HZ, Block, decode
from voicereport.errors import AudioError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_IN_MEMORY = 16 * 2**20  #: bytes of samples kept in memory, 8 minutes; more goes to an unnamed file
_BYTES = 2  #: a sample is kept as float16: 11 bits at any level, so that a faint recording loses nothing
_SHORT_BY_S = 0.5  #: what may lack against the header without a word
_SHORT_BY = 0.02  #: and as a share of it
_BEYOND_USE = 0.5  #: share of the promised sound that must be lost to packet errors to call a file broken


class Store:
    """Samples in memory, and beyond a size in an unnamed file, which is gone with the process or the last reader."""

    def __init__(self) -> None:
        self._lock = threading.Lock()  # a place is sought and read by one thread at a time
        self._file = tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY, prefix="voicereport-")  # noqa: SIM115

    def add(self, samples: NDArray[np.float32]) -> None:
        """Put samples, shape (n,), at the end. Raises OSError where the disk is full."""
        import numpy as np

        self._file.write(samples.astype(np.float16).tobytes())

    def get(self, first: int, last: int) -> NDArray[np.float32]:
        """Samples [first, last)."""
        import numpy as np

        with self._lock:
            self._file.seek(first * _BYTES)
            data = self._file.read(max(0, last - first) * _BYTES)
        return np.frombuffer(data, np.float16).astype(np.float32)

    def __del__(self) -> None:
        self._file.close()


@dataclass(frozen=True, kw_only=True, slots=True)
class Clip:
    """A decoded recording. `read` gives any stretch of it; memory is bounded, whatever its length."""

    path: Path
    sha256: str
    duration_s: float  #: counted, not taken from the header
    recorded: str | None  #: ISO 8601 time of recording, where the file says it
    rate_hz: int  #: of the file; sound above half of it is not there
    notes: tuple[str, ...]  #: warnings in plain words
    store: Store

    def read(self, start: float, end: float) -> NDArray[np.float32]:
        """The samples of [start, end) seconds, cut at the ends of the recording; shape (n,), mono, 16 kHz."""
        first = max(0, round(start * RATE_HZ))
        last = min(round(self.duration_s * RATE_HZ), round(end * RATE_HZ))
        return self.store.get(first, last)


@dataclass(slots=True)
class _Tally:
    """What is counted while a file is decoded."""

    samples: int = 0
    broken: int = 0
    filled_s: float = 0.0
    dead_samples: int = 0
    peak: float = 0.0

    def add(self, block: Block) -> None:
        self.samples += len(block.samples)
        self.broken += block.broken
        self.filled_s += block.filled_s
        self.dead_samples += len(block.samples) if block.dead_side else 0
        self.peak = max(self.peak, float(abs(block.samples).max()) if len(block.samples) else 0.0)


def load(path: Path, *, progress: Callable[[float], None] | None = None) -> Clip:
    """The recording at `path`, decoded. progress: told the share that is done, where the header gives a length.

    Raises AudioError for a file that is no recording, or of which nothing can be decoded.
    """
    promise = probe(path)
    tally = _Tally()
    store = Store()
    try:
        for block in decode(path):
            tally.add(block)
            store.add(block.samples)
            if progress and promise.duration_s:
                progress(min(1.0, tally.samples / RATE_HZ / promise.duration_s))
        _refuse_nothing(path, tally)
    except OSError as error:
        raise AudioError(str(path), f"cannot be decoded ({error.strerror})", "see that the disk has room") from error
    return Clip(
        path=path,
        sha256=digest(path),
        duration_s=tally.samples / RATE_HZ,
        recorded=promise.recorded,
        rate_hz=promise.rate_hz,
        notes=tuple(_notes(promise, tally)),
        store=store,
    )


def _refuse_nothing(path: Path, tally: _Tally) -> None:
    if tally.samples:
        return
    problem = f"none of its {tally.broken} packets can be decoded" if tally.broken else "holds no sound, 0.0 s"
    raise AudioError(str(path), problem, "copy it again from the device that recorded it")


def _notes(promise: Promise, tally: _Tally) -> list[str]:
    there = tally.samples / RATE_HZ
    notes = list(promise.faults)
    said = promise.duration_s
    cut_off = any("cut off:" in note for note in notes)
    if said and not cut_off and said - there > max(_SHORT_BY_S, _SHORT_BY * said):
        notes.append(f"is cut off: its header promises {said:.1f} s, {there:.1f} s are there")
    if tally.broken:
        notes.append(f"is damaged: {tally.broken} packets could not be decoded")
    if tally.filled_s:
        notes.append(f"has holes: {tally.filled_s:.1f} s are missing and were taken as silence")
    if tally.dead_samples > tally.samples / 2:
        notes.append("has a dead side: only the live one was used")
    if promise.tracks > 1:
        notes.append(f"has {promise.tracks} sound tracks: the main one was used")
    if promise.rate_hz and promise.rate_hz < 16_000:
        notes.append(f"is of telephone quality ({promise.rate_hz / 1000:g} kHz): expect more doubtful words")
    if tally.peak == 0.0:
        notes.append("is silent from start to end")
    return notes
