"""The words of one recording: decoded window by window, looked over, and decoded another way where it went wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicereport.speech.engine import BATCH, Decoded, Engine, Manner
from voicereport.speech.windows import Window
from voicereport.transcript import Word

if TYPE_CHECKING:
    from voicereport.audio import Clip
    from voicereport.speech.resume import Memory

#: in every window: a tenth fewer words are wrong than by one beam first, to 5 dB of noise, for 7 % more time
_FIRST = Manner(beam=5)
_OTHER_WAYS = (Manner(beam=5, no_repeat=4), Manner(beam=1, no_repeat=3, repetition_penalty=1.1))
_LOOP = 2.4  #: compression from here on is a loop (the reference implementation's threshold)
_FASTEST = 8.0  #: words a second; nobody speaks faster, a loop does
_POOR = -1.0  #: mean log probability under which a decode has failed (the same)


@dataclass(frozen=True, kw_only=True, slots=True)
class HeardWindow:
    """A window with its words in the recording's time."""

    window: Window
    words: tuple[Word, ...]
    log_probability: float
    no_speech: float
    loop: bool  #: words go round in circles, and no other way of decoding helped


@dataclass(frozen=True, kw_only=True, slots=True)
class Ear:
    """All that decoding needs beside the windows."""

    clip: Clip
    engine: Engine
    memory: Memory | None
    language: str

    def decode(
        self,
        windows: Sequence[Window],
        *,
        manner: Manner = _FIRST,
        progress: Callable[[float], None] | None = None,
    ) -> tuple[Decoded, ...]:
        """What was said in each window; what is remembered is not decoded again. progress: told the share done."""
        found: dict[int, Decoded] = {}
        for n, window in enumerate(windows):
            known = self.memory and self.memory.get(self.engine, window, language=self.language, manner=manner)
            if known:
                found[n] = known
        todo = sorted((n for n in range(len(windows)) if n not in found), key=lambda n: windows[n].length)
        for first in range(0, len(todo), BATCH):
            batch = todo[first : first + BATCH]
            sounds = [windows[n].samples(self.clip) for n in batch]
            decoded = self.engine.decode(sounds, language=self.language, manner=manner)
            for n, result in zip(batch, decoded, strict=True):
                found[n] = result
                if self.memory:
                    self.memory.put(self.engine, windows[n], result, language=self.language, manner=manner)
            if progress:
                progress(len(found) / len(windows))
        return tuple(found[n] for n in range(len(windows)))

    def score(self, windows: Sequence[Window], texts: Sequence[Sequence[str]]) -> tuple[tuple[float, ...], ...]:
        """How likely the engine takes each word of a text to be in its window, 0..1; what is remembered is not weighed
        again."""
        found: dict[int, tuple[float, ...]] = {}
        manners = [Manner(told=" ".join(words)) for words in texts]
        for n, (window, manner) in enumerate(zip(windows, manners, strict=True)):
            known = self.memory and self.memory.get(self.engine, window, language=self.language, manner=manner)
            if known and len(known.words) == len(texts[n]):
                found[n] = tuple(word.probability for word in known.words)
        todo = [n for n in range(len(windows)) if n not in found]
        for first in range(0, len(todo), BATCH):
            batch = todo[first : first + BATCH]
            sounds = [windows[n].samples(self.clip) for n in batch]
            scored = self.engine.score(sounds, [texts[n] for n in batch], language=self.language)
            for n, chances in zip(batch, scored, strict=True):
                found[n] = chances
                if self.memory:
                    self.memory.put(self.engine, windows[n], _weighed(texts[n], chances), language=self.language,
                                    manner=manners[n])  # fmt: skip
        return tuple(found[n] for n in range(len(windows)))


def _weighed(words: Sequence[str], chances: Sequence[float]) -> Decoded:
    """Words with their chances in the form that is remembered."""
    return Decoded(
        words=tuple(Word(word=w, start=0.0, end=0.0, probability=p) for w, p in zip(words, chances, strict=True)),
        log_probability=0.0,
        no_speech=0.0,
        compression=0.0,
    )


def hear(windows: Sequence[Window], ear: Ear, *, progress: Callable[[float], None] | None = None) -> list[HeardWindow]:
    """The words of all windows. One that came out as a loop, or hardly sure, is decoded in other ways too."""
    first = ear.decode(windows, progress=progress)
    return [_best(window, decoded, ear) for window, decoded in zip(windows, first, strict=True)]


def _best(window: Window, decoded: Decoded, ear: Ear) -> HeardWindow:
    for manner in _OTHER_WAYS:
        if not _failed(decoded):
            break
        other = ear.decode([window], manner=manner)[0]
        if not _loops(other) and (_loops(decoded) or other.log_probability > decoded.log_probability):
            decoded = other
    return HeardWindow(
        window=window,
        words=window.back(decoded.words),
        log_probability=decoded.log_probability,
        no_speech=decoded.no_speech,
        loop=_loops(decoded),
    )


def _failed(decoded: Decoded) -> bool:
    return _loops(decoded) or decoded.log_probability < _POOR


def _loops(decoded: Decoded) -> bool:
    if len(decoded.words) > 4 and decoded.words[-1].end > 0:
        span = decoded.words[-1].end - decoded.words[0].start
        if len(decoded.words) > _FASTEST * max(0.2, span):
            return True
    return decoded.compression > _LOOP
