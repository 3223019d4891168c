"""Where utterances begin and end in sound that is still growing. Explicit state; the same pieces give the same cuts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from voicereport.audio.detection import FRAME, FRAME_S, State, gain_for, more_probabilities

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Sign = Literal["pause", "rest", "close", "long"]

PAUSE_S = 0.32  #: silence after which what was said so far is recognised
REST_S = 0.75  #: silence after which the tool may answer or speak up
CLOSE_S = 1.6  #: silence that ends a segment in a whole recording too; nothing before it changes any more
LONG_S = 22.0  #: an utterance this long is cut at a safe place
PAD_S = 0.3  #: sound kept before speech
_SPEECH, _RELEASE = 0.5, 0.35  #: probabilities at which speech begins and goes on, as in whole recordings
_LEAST_FRAMES = 5  #: frames of speech in a row that begin an utterance (0.16 s)
_SOON = int((REST_S - PAUSE_S) / FRAME_S)  #: frames after a pause within which going on makes it none
_LEVELS_S = 60.0  #: the last levels that loudness is judged by
_LOUD = 0.9  #: share of the frames that are quieter than the level that is brought to the network's


@dataclass(frozen=True, kw_only=True, slots=True)
class Cut:
    """A place at which something is to be done with the open utterance.

    pause: recognise it. rest: answer it. close: it is settled. long: recognise it and settle what can be.
    """

    sign: Sign
    at: float  #: seconds of the recording, of the place


@dataclass(slots=True)
class Detector:
    """The open utterance and the state of the speech detector.

    Sound before the utterance is forgotten, so that memory does not grow.
    """

    start: float = 0.0  #: seconds of the recording at which the kept sound begins
    heard: float = 0.0  #: seconds of the recording that came in so far, whole frames
    level: float = 0.0  #: root mean square of the last piece
    open: bool = False  #: somebody speaks, or paused for less than CLOSE_S
    _kept: list[NDArray[np.float32]] = field(default_factory=list)
    _rest: NDArray[np.float32] | None = None  #: less than a frame
    _state: State | None = None
    _levels: list[float] = field(default_factory=list)
    _run: int = 0  #: frames of speech in a row
    _quiet: int = 0  #: frames of silence in a row
    _told: Sign | None = None  #: last sign of this silence

    def feed(self, samples: NDArray[np.float32]) -> Iterator[Cut]:
        """The cuts in the next piece of sound, shape (n,), mono, 16 kHz, in order."""
        import numpy as np

        sound = np.asarray(samples, np.float32)
        if self._rest is not None and len(self._rest):
            sound = np.concatenate([self._rest, sound])
        whole = len(sound) // FRAME * FRAME
        self._rest = sound[whole:]
        if not whole:
            return
        frames = sound[:whole].reshape(-1, FRAME)
        levels = np.sqrt(np.mean(np.square(frames), axis=1))
        self.level = float(levels[-1])
        self._levels = [*self._levels, *levels.tolist()][-round(_LEVELS_S / FRAME_S) :]
        audible = [level for level in self._levels if level > 0]
        gain = gain_for(float(np.quantile(audible, _LOUD))) if audible else 1.0
        probabilities, self._state = more_probabilities(sound[:whole], self._state, gain=gain)
        known = probabilities.tolist()
        for n, (frame, probability) in enumerate(zip(frames, known, strict=True), 1):
            sign = self._take(frame, probability)
            if sign == "pause" and _goes_on(known[n : n + _SOON]):
                continue  # it is known already that the speaker went on: what was said is recognised with the rest
            if sign is not None:
                yield Cut(sign=sign, at=round(self.heard, 3))
                if sign == "close":
                    self.close()

    def sound(self) -> NDArray[np.float32]:
        """The sound of the open utterance, from `start` on."""
        import numpy as np

        return np.concatenate(self._kept) if self._kept else np.zeros(0, np.float32)

    def close(self) -> None:
        """Nothing before now belongs to an open utterance."""
        self.open, self._told = False, None
        self._forget(self.heard - PAD_S)

    def forget(self, before: float) -> None:
        """The utterance goes on, but its sound before `before`, in seconds of the recording, is settled."""
        self._forget(before)

    @property
    def quiet_s(self) -> float:
        """Seconds of silence up to now."""
        return self._quiet * FRAME_S

    def _take(self, frame: NDArray[np.float32], probability: float) -> Sign | None:
        self._kept.append(frame)
        self.heard = round(self.heard + FRAME_S, 6)
        speaking = probability >= (_RELEASE if self._run else _SPEECH)
        self._run = self._run + 1 if speaking else 0
        self._quiet = 0 if speaking else self._quiet + 1
        if self._run >= _LEAST_FRAMES:
            self.open, self._told = True, None
        if not self.open:
            self._forget(self.heard - PAD_S - _LEAST_FRAMES * FRAME_S)
            return None
        return self._sign()

    def _sign(self) -> Sign | None:
        order: tuple[tuple[Sign, float], ...] = (("pause", PAUSE_S), ("rest", REST_S), ("close", CLOSE_S))
        for sign, after in order:
            if self.quiet_s >= after and _rank(self._told) < _rank(sign):
                self._told = sign
                return sign
        return "long" if self.heard - self.start >= LONG_S and not self._quiet else None

    def _forget(self, before: float) -> None:
        while self._kept and self.start + FRAME_S <= before + 1e-9:
            self._kept.pop(0)
            self.start = round(self.start + FRAME_S, 6)


def _goes_on(probabilities: Sequence[float]) -> bool:
    """Whether somebody speaks in the frames to come."""
    run = 0
    for probability in probabilities:
        run = run + 1 if probability >= (_RELEASE if run else _SPEECH) else 0
        if run >= _LEAST_FRAMES:
            return True
    return False


def _rank(sign: Sign | None) -> int:
    return {"pause": 1, "rest": 2, "close": 3}.get(sign or "", 0)
