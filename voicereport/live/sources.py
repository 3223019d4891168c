"""Where sound comes from: the microphone, or a recording played as if it were one. Pieces of mono 16 kHz float32."""

from __future__ import annotations

import queue
import time
from collections.abc import Generator, Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from voicereport.errors import AudioError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

RATE_HZ = 16_000
PIECE = 1600  #: samples of a piece of a file, 0.1 s


class Source(Protocol):
    """Gives pieces of sound until there is no more."""

    def pieces(self) -> Iterator[NDArray[np.float32] | None]:
        """Pieces in order; None where nothing came for a moment, so that the caller can look after other things."""
        ...

    def waiting(self) -> float:
        """Seconds of sound that came in and were not taken yet."""
        ...

    def close(self) -> None: ...


@dataclass(slots=True)
class FileSource:
    """A recording, in real time or as fast as it goes."""

    path: Path
    as_fast: bool = False
    _began: float = 0.0
    _given: float = 0.0

    def pieces(self) -> Iterator[NDArray[np.float32] | None]:
        """Raises AudioError for what is no recording."""
        from voicereport.audio import decode

        self._began = time.monotonic()
        for block in decode(self.path):
            for first in range(0, len(block.samples), PIECE):
                piece = block.samples[first : first + PIECE]
                self._given += len(piece) / RATE_HZ
                ahead = self._began + self._given - time.monotonic()
                if not self.as_fast and ahead > 0:
                    time.sleep(ahead)
                yield piece

    def waiting(self) -> float:
        if self.as_fast or not self._began:
            return 0.0
        return max(0.0, time.monotonic() - self._began - self._given)

    def close(self) -> None:
        return


class Microphone:
    """The microphone of this machine."""

    def __init__(self, *, device: str | None = None) -> None:
        """device: part of a name; None = the one that the machine takes. Raises AudioError where there is none."""
        miniaudio = import_module("miniaudio")
        self._queue: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        try:
            self._capture = miniaudio.CaptureDevice(
                input_format=miniaudio.SampleFormat.SIGNED16, nchannels=1, sample_rate=RATE_HZ, buffersize_msec=100,
                device_id=_device(device), app_name="voicereport",
            )  # fmt: skip
            taking = self._take()
            next(taking)
            self._capture.start(taking)
        except miniaudio.MiniaudioError as error:
            raise AudioError("microphone", f"cannot be opened ({error.args[0]})",
                             "plug one in, or give a recording by --from") from error  # fmt: skip

    def _take(self) -> Generator[None, bytes, None]:
        """What the library sends its bytes into, on a thread of its own."""
        while True:
            data = yield
            self._queue.put(bytes(data))

    def pieces(self) -> Iterator[NDArray[np.float32] | None]:
        """Pieces as they come in, for ever."""
        import numpy as np

        while True:
            try:
                data = self._queue.get(timeout=0.2)
            except queue.Empty:
                yield None
                continue
            yield np.frombuffer(data, "<i2").astype(np.float32) / np.float32(32768)

    def waiting(self) -> float:
        return self._queue.qsize() * 0.1

    def close(self) -> None:
        self._capture.close()


def _device(name: str | None) -> object | None:
    """The id of the first microphone whose name has `name` in it. Raises AudioError that names the known ones."""
    if name is None:
        return None
    known = import_module("miniaudio").Devices().get_captures()
    for one in known:
        if name.lower() in one["name"].lower():
            found: object = one["id"]
            return found
    names = ", ".join(one["name"] for one in known) or "none"
    raise AudioError(f"microphone {name!r}", "there is none of that name", f"there are: {names}")
