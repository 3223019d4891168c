"""Short pieces of a recording, to be played beside what rests on them."""

from __future__ import annotations

import io
import wave
from pathlib import Path
from typing import TYPE_CHECKING

from voicereport.audio.decode import RATE_HZ, decode
from voicereport.errors import AudioError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_BIT_RATE = 24_000  #: bits a second, speech in Opus
_OPUS_HZ = 48_000


def snippet(path: Path | str, start: float, end: float) -> bytes:
    """Exactly [start, end) seconds of a recording as Ogg Opus, mono. Raises AudioError where nothing is there."""
    samples = _cut(Path(path), start, end)
    return _ogg_opus(samples)


def snippet_wav(path: Path | str, start: float, end: float) -> bytes:
    """Exactly [start, end) seconds of a recording as a 16 bit wav file, for players without Opus."""
    import numpy as np

    whole = np.round(_cut(Path(path), start, end) * 32767).astype("<i2")
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes(whole.tobytes())
    return file.getvalue()


def _cut(path: Path, start: float, end: float) -> NDArray[np.float32]:
    import numpy as np

    wanted = round((end - max(0.0, start)) * RATE_HZ)
    pieces, count = [], 0
    if wanted > 0:
        for block in decode(path, start=max(0.0, start)):
            pieces.append(block.samples)
            count += len(block.samples)
            if count >= wanted:
                break
    if not count:
        raise AudioError(str(path), f"has no sound from {start:.2f} to {end:.2f} s", "check the times")
    return np.concatenate(pieces)[:wanted]


def _ogg_opus(samples: NDArray[np.float32]) -> bytes:
    import av
    import numpy as np

    file = io.BytesIO()
    with av.open(file, "w", format="ogg", container_options={"fflags": "+bitexact"}) as container:
        stream = container.add_stream("libopus", rate=_OPUS_HZ, layout="mono")
        stream.bit_rate = _BIT_RATE
        resampler = av.AudioResampler(format="flt", layout="mono", rate=_OPUS_HZ)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples[None]), format="flt", layout="mono")
        frame.sample_rate = RATE_HZ
        for given in (frame, None):
            for piece in resampler.resample(given):
                for packet in stream.encode(piece):
                    container.mux(packet)
        for packet in stream.encode(None):
            container.mux(packet)
    return file.getvalue()
