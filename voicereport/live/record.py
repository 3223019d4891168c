"""The recording and the journal of a live job, on disk as they come: a killed process loses a second at most."""

from __future__ import annotations

import contextlib
import json
import os
import struct
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from voicereport.errors import AudioError, TranscriptError
from voicereport.requests.said import Said
from voicereport.transcript import Segment, Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

RECORDING, JOURNAL = "recording.wav", "live.jsonl"
RATE_HZ = 16_000
_HEADER = 44  #: bytes before the samples of a plain WAV file (RIFF/WAVE, 16 bit PCM)
_SAFE_EVERY = RATE_HZ  #: samples after which the disk is told to keep what it has


class WavWriter:
    """A WAV file, mono, 16 bit, 16 kHz, that is whole after every piece: the sizes in its header follow the samples."""

    def __init__(self, path: Path, *, resume: bool = False) -> None:
        """Open `path` anew, or to go on with it. Raises AudioError where it cannot be gone on with, OSError."""
        self.path = path
        exists = path.is_file() and path.stat().st_size >= _HEADER
        if resume and not exists:
            raise AudioError(str(path), "there is no recording to go on with", "start a new one")
        self._file: BinaryIO = path.open("r+b" if resume else "w+b")
        self.samples = 0
        self._unsafe = 0
        if resume:
            self._refuse_others()
            self.samples = (path.stat().st_size - _HEADER) // 2
        self._head()

    def _refuse_others(self) -> None:
        head = self._file.read(_HEADER)
        if head[:4] != b"RIFF" or head[8:36] != _header(0)[8:36]:
            self._file.close()
            raise AudioError(str(self.path), "is no recording of live listening", "name the folder of a live job")

    def _head(self) -> None:
        self._file.seek(0)
        self._file.write(_header(self.samples))
        self._file.seek(_HEADER + 2 * self.samples)
        self._file.flush()

    def add(self, samples: NDArray[np.float32]) -> NDArray[np.float32]:
        """Put samples, shape (n,), [-1, 1], at the end, and give them as they stand there. Raises OSError."""
        import numpy as np

        kept = np.clip((samples * np.float32(32768)).round(), -32768, 32767).astype("<i2")
        self._file.write(kept.tobytes())
        self.samples += len(samples)
        self._unsafe += len(samples)
        self._head()
        if self._unsafe >= _SAFE_EVERY:
            os.fsync(self._file.fileno())
            self._unsafe = 0
        return _floats(kept)

    def read(self, first: int, last: int) -> NDArray[np.float32]:
        """Samples [first, last) of what was recorded, as a recogniser hears them."""
        import numpy as np

        self._file.seek(_HEADER + 2 * first)
        data = self._file.read(2 * max(0, min(last, self.samples) - first))
        self._file.seek(_HEADER + 2 * self.samples)
        return _floats(np.frombuffer(data, "<i2"))

    @property
    def seconds(self) -> float:
        """Length of the recording."""
        return self.samples / RATE_HZ

    def close(self) -> None:
        """The file is whole and on the disk."""
        if not self._file.closed:
            self._head()
            os.fsync(self._file.fileno())
            self._file.close()


def _floats(samples: NDArray[np.int16]) -> NDArray[np.float32]:
    import numpy as np

    found: NDArray[np.float32] = samples.astype(np.float32) / np.float32(32768)
    return found


def _header(samples: int) -> bytes:
    size = min(2 * samples, 0xFFFFFFFF - 36)
    return struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + size, b"WAVE", b"fmt ", 16, 1, 1, RATE_HZ, 2 * RATE_HZ, 2,
                       16, b"data", size)  # fmt: skip


class Journal:
    """Events and settled words as lines of JSON, each on the disk before the next."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("a", encoding="utf-8")

    def write(self, row: dict[str, Any]) -> None:
        """Put an object at the end."""
        self._file.write(json.dumps(row, ensure_ascii=False) + "\n")
        self._file.flush()

    def close(self) -> None:
        """The file is on the disk."""
        if not self._file.closed:
            with contextlib.suppress(OSError):
                os.fsync(self._file.fileno())
            self._file.close()


@dataclass(frozen=True, kw_only=True, slots=True)
class Kept:
    """What a journal holds of a job that broke off."""

    said: tuple[Said, ...]
    dropped: tuple[str, ...]
    settled_to: float  #: seconds of the recording; what comes after it is to be heard again
    settings: dict[str, str]  #: that the job was begun with
    finished: bool


def settled_row(said: tuple[Said, ...], dropped: tuple[str, ...], at: float) -> dict[str, Any]:
    """The line of a journal that a job can be taken up again from: all that is settled, `at` seconds in."""
    rows = [{"kind": one.kind, "segment": asdict(one.segment)} for one in said]
    return {"kept": rows, "dropped": list(dropped), "at": at}


def read_journal(path: Path) -> Kept:
    """What is settled in a journal; a last line that was cut off is left out. Raises TranscriptError."""
    said: list[Said] = []
    dropped: tuple[str, ...] = ()
    at, finished = 0.0, False
    settings: dict[str, str] = {}
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except OSError as error:
        raise TranscriptError(
            str(path), f"cannot be read ({error.strerror})", "name the folder of a live job"
        ) from error
    for n, line in enumerate(lines, 1):
        try:
            row = json.loads(line)
        except ValueError as error:
            if n == len(lines):
                break
            raise TranscriptError(f"{path}:{n}", f"is no JSON ({error})") from error
        settings |= row.get("begun", {})
        finished = finished or row.get("event") == "finished"
        if "kept" in row:
            kept = row.get("from", 0)
            said = [*said[:kept], *(Said(kind=r["kind"], segment=_segment(r["segment"])) for r in row["kept"])]
            dropped, at = tuple(row["dropped"]), float(row["at"])
    return Kept(said=tuple(said), dropped=dropped, settled_to=at, settings=settings, finished=finished)


def _segment(row: dict[str, Any]) -> Segment:
    words = tuple(Word(**word) for word in row["words"])
    return Segment(**(row | {"words": words, "flags": tuple(row["flags"])}))
