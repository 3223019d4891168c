"""Where somebody speaks: the small network that comes with the recogniser's library, run minute by minute."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicereport.errors import WeightsError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from voicereport.audio.clip import Clip

FRAME = 512  #: samples that get one probability, 32 ms at 16 kHz
FRAME_S = FRAME / 16_000
_CONTEXT = 64  #: samples of the frame before that the network sees
_CHUNK_S = 60 * FRAME_S * 31.25  #: seconds in one run of the network, whole frames
_HALVED_S = 300.0  #: longer recordings are worked on from the start and from the middle at once
_WARM_S = 160 * FRAME_S  #: heard before the middle, about five seconds, so that the network's memory is filled
_LOUD = 0.9  #: share of the frames that are quieter than the level that is brought to _TARGET
_TARGET = 0.1  #: rms that the network hears loud frames at
_MOST_GAIN = 300.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Stretch:
    """A stretch of speech, [start, end) in seconds."""

    start: float
    end: float
    probability: float  #: mean of the detector's, 0..1


def speech_probabilities(clip: Clip) -> NDArray[np.float32]:
    """The probability of speech in each 32 ms of the recording, shape (frames,). The same input gives the same."""
    import numpy as np

    gain = _gain(clip)
    if clip.duration_s < _HALVED_S:
        return _probabilities(clip, 0.0, clip.duration_s, gain)
    from concurrent.futures import ThreadPoolExecutor

    middle = round(clip.duration_s / 2 / _CHUNK_S) * _CHUNK_S
    halves = ((0.0, middle), (middle, clip.duration_s))
    with ThreadPoolExecutor(len(halves)) as pool:
        return np.concatenate(list(pool.map(lambda half: _probabilities(clip, half[0], half[1], gain), halves)))


def _probabilities(clip: Clip, start: float, end: float, gain: float) -> NDArray[np.float32]:
    """The probabilities of [start, end) seconds, whole chunks; the network hears a little before `start` first."""
    import numpy as np

    found, state = [], _start_state()
    if start:
        _, state = _run(clip.read(start - _WARM_S, start) * np.float32(gain), state)
    at = start
    while at < end:
        probabilities, state = _run(clip.read(at, min(at + _CHUNK_S, end)) * np.float32(gain), state)
        found.append(probabilities)
        at += _CHUNK_S
    return np.concatenate(found) if found else np.zeros(0, np.float32)


def more_probabilities(
    samples: NDArray[np.float32], state: State | None = None, *, gain: float = 1.0
) -> tuple[NDArray[np.float32], State]:
    """The probability of speech in each 32 ms of sound that goes on after `state`, and the state to go on from.

    samples: shape (n,), n a multiple of FRAME. state: None at the start. gain: what the sound is made louder by.
    """
    import numpy as np

    return _run(samples * np.float32(gain), state or _start_state())


def gain_for(loud: float) -> float:
    """What brings loud frames of the root mean square `loud` to a level that the network knows."""
    return min(_MOST_GAIN, _TARGET / loud) if 0 < loud < _TARGET else 1.0


def frame_levels(clip: Clip) -> NDArray[np.float32]:
    """The root mean square of each 32 ms, shape (frames,)."""
    import numpy as np

    found = [np.sqrt(np.mean(np.square(_framed(chunk)), axis=1)) for chunk in _chunks(clip)]
    return np.concatenate(found) if found else np.zeros(0, np.float32)


def find_speech(
    probabilities: NDArray[np.float32],
    *,
    duration_s: float,
    threshold: float = 0.5,
    release: float = 0.35,
    min_speech_s: float = 0.16,
    min_silence_s: float = 0.16,
    pad_s: float = 0.0,
) -> tuple[Stretch, ...]:
    """The stretches of speech, in order, apart from each other.

    A stretch starts where the probability reaches `threshold` and ends where it stays under `release` for
    `min_silence_s`; shorter ones than `min_speech_s` are none. pad_s: added at both ends, at most up to the middle
    of the pause between two.
    """
    raw = _hysteresis(probabilities, threshold, release, max(1, round(min_silence_s / FRAME_S)))
    kept = [(a, b) for a, b in raw if (b - a) * FRAME_S >= min_speech_s]
    edges = [(a * FRAME_S, min(b * FRAME_S, duration_s)) for a, b in kept]
    stretches = []
    for n, ((first, last), (start, end)) in enumerate(zip(kept, edges, strict=True)):
        low = (edges[n - 1][1] + start) / 2 if n else 0.0
        high = (end + edges[n + 1][0]) / 2 if n + 1 < len(edges) else duration_s
        stretches.append(
            Stretch(
                start=round(max(low, start - pad_s), 3),
                end=round(min(high, end + pad_s), 3),
                probability=round(float(probabilities[first:last].mean()), 4),
            )
        )
    return tuple(stretches)


def _hysteresis(
    probabilities: NDArray[np.float32], threshold: float, release: float, patience: int
) -> list[tuple[int, int]]:
    """[first, last) frames of the stretches."""
    found: list[tuple[int, int]] = []
    first: int | None = None
    quiet = 0  #: frames under `release` at the end of the open stretch
    for n, value in enumerate(probabilities.tolist()):
        if first is None:
            if value >= threshold:
                first, quiet = n, 0
            continue
        quiet = quiet + 1 if value < release else 0
        if quiet >= patience:
            found.append((first, n + 1 - quiet))
            first = None
    if first is not None:
        found.append((first, len(probabilities) - quiet))
    return found


def _gain(clip: Clip) -> float:
    """What brings the loud frames of the recording to a level that the network knows."""
    import numpy as np

    levels = frame_levels(clip)
    loud = float(np.quantile(levels[levels > 0], _LOUD)) if (levels > 0).any() else 0.0
    return gain_for(loud)


def _chunks(clip: Clip) -> Iterable[NDArray[np.float32]]:
    at = 0.0
    while at < clip.duration_s:
        yield clip.read(at, at + _CHUNK_S)
        at += _CHUNK_S


def _framed(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    import numpy as np

    return np.pad(samples, (0, -len(samples) % FRAME)).reshape(-1, FRAME)


State = tuple[Any, Any, Any]  #: the network's two memories, and the end of the last frame


def _start_state() -> State:
    import numpy as np

    return np.zeros((1, 1, 128), np.float32), np.zeros((1, 1, 128), np.float32), np.zeros(_CONTEXT, np.float32)


def _run(samples: NDArray[np.float32], state: State) -> tuple[NDArray[np.float32], State]:
    import numpy as np

    h, c, before = state
    frames = _framed(samples)
    if not len(frames):
        return np.zeros(0, np.float32), state
    contexts = np.concatenate([before[None], frames[:-1, -_CONTEXT:]])
    given = {"input": np.concatenate([contexts, frames], axis=1), "h": h, "c": c}
    output, h, c = _session().run(None, given)
    return output.reshape(-1), (h, c, frames[-1, -_CONTEXT:].copy())


@lru_cache(maxsize=1)
def _session() -> Any:
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.inter_op_num_threads = 1
    options.intra_op_num_threads = 1
    options.enable_cpu_mem_arena = False
    options.log_severity_level = 4
    return onnxruntime.InferenceSession(str(_network()), providers=["CPUExecutionProvider"], sess_options=options)


def _network() -> Path:
    """The detector's file, found without importing the library that carries it."""
    spec = find_spec("faster_whisper")
    for folder in (spec.submodule_search_locations or ()) if spec else ():
        path = Path(folder) / "assets" / "silero_vad_v6.onnx"
        if path.is_file():
            return path
    raise WeightsError("faster-whisper", "its speech detector is not there", "install faster-whisper==1.2.1 again")
