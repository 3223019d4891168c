"""How well a recording was made: how loud the speech is, how far above the noise, how much of it is clipped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicereport.audio.decode import RATE_HZ
from voicereport.audio.detection import FRAME_S, Stretch, frame_levels

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from voicereport.audio.clip import Clip

_FAINT_DBFS = -45.0
_NEAR_NOISE_DB = 6.0
_CLIPPED = 0.985  #: a sample from here on is at the stop
_CLIPPED_SHARE = 0.002  #: of the samples of speech
_SILENCE_DBFS = -120.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Levels:
    """Levels in dB below full scale (0 dBFS = a root mean square of 1)."""

    speech_dbfs: float | None  #: None = no speech
    noise_dbfs: float | None  #: of the pauses; None = no pause long enough
    clipped: float  #: share of the samples in speech that are at the stop, 0..1

    def warnings(self) -> tuple[str, ...]:
        """What to tell the one who records, in plain words."""
        said = []
        if self.speech_dbfs is not None and self.speech_dbfs < _FAINT_DBFS:
            said.append(f"is very faint ({self.speech_dbfs:.0f} dB): hold the phone nearer")
        if self.speech_dbfs is not None and self.noise_dbfs is not None:
            above = self.speech_dbfs - self.noise_dbfs
            if above < _NEAR_NOISE_DB:
                said.append(f"is noisy: speech is {max(0.0, above):.0f} dB above the noise; hold the phone nearer")
        if self.clipped > _CLIPPED_SHARE:
            said.append(f"is overdriven: {self.clipped:.1%} of the speech is clipped; hold the phone farther away")
        return tuple(said)


def measure_levels(clip: Clip, speech: Sequence[Stretch]) -> Levels:
    """The levels of speech and of the pauses, and the clipped share."""
    import numpy as np

    levels = frame_levels(clip)
    mask = np.zeros(len(levels), bool)
    near = np.zeros(len(levels), bool)  # frames beside speech are neither
    clipped = total = 0
    for stretch in speech:
        first, last = int(stretch.start / FRAME_S), int(stretch.end / FRAME_S)
        mask[first:last] = True
        near[max(0, first - 6) : last + 6] = True
        samples = clip.read(stretch.start, stretch.end)
        clipped += int((abs(samples) >= _CLIPPED).sum())
        total += len(samples)
    return Levels(
        speech_dbfs=_dbfs(levels[mask]) if mask.any() else None,
        noise_dbfs=_dbfs(levels[~near]) if (~near).sum() * FRAME_S >= 0.5 else None,
        clipped=clipped / total if total else 0.0,
    )


def _dbfs(levels: object) -> float:
    import numpy as np

    power = float(np.mean(np.square(np.asarray(levels, np.float64))))
    return round(10 * float(np.log10(power)), 1) if power > 1e-12 else _SILENCE_DBFS


def longest_silence(samples: NDArray[np.float32]) -> float:
    """Seconds of the longest stretch without any sound at all, not even noise. samples: shape (n,), 16 kHz."""
    import numpy as np

    loud = np.flatnonzero(np.abs(samples) > 0)
    edges = np.concatenate([[-1], loud, [len(samples)]])
    return float(np.diff(edges).max() - 1) / RATE_HZ
