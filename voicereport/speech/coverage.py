"""Speech without words, and words without speech."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from voicereport.speech.engine import Engine
from voicereport.speech.hear import Ear, HeardWindow
from voicereport.speech.windows import Piece, Window
from voicereport.transcript import Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from voicereport.audio import Stretch

GAP_S = 0.7  #: speech without words from here on is decoded again
_REACH_S = 0.3  #: words may be timed that much beside the speech they are
_PAD_S = 0.4  #: of sound around a gap that is decoded alone
_FRAME_S = 512 / 16_000
_IN_DOUBT = 0.6  #: speech probability under which a known invention is one
_NO_SPEECH = 0.15  #: highest speech probability near a word, under which it is over no speech
_CLEAR = 0.3  #: word probability from which on a word is not dropped: its time may be wrong, the word is not
_POOR = -0.7  #: mean log probability under which words that the recogniser itself takes for no speech are none
_UNSURE = 0.6  #: word probability that an answer for a gap must reach


def gaps(speech: Sequence[Stretch], words: Iterable[Word]) -> tuple[tuple[float, float], ...]:
    """Parts of the stretches of speech, [start, end) seconds, of at least GAP_S that no word reaches."""
    found: list[tuple[float, float]] = []
    timed = sorted((w.start - _REACH_S, w.end + _REACH_S) for w in words)
    for stretch in speech:
        at = stretch.start
        for start, end in timed:
            if end <= at or start >= stretch.end:
                continue
            if start - at >= GAP_S:
                found.append((at, start))
            at = max(at, end)
        if stretch.end - at >= GAP_S:
            found.append((at, stretch.end))
    return tuple(found)


def listen_again(
    missing: Sequence[tuple[float, float]], ear: Ear, others: Sequence[Engine]
) -> tuple[list[HeardWindow], list[tuple[float, float]]]:
    """The words of stretches that gave none: each decoded alone, by each engine in turn; and those still without."""
    found: list[HeardWindow] = []
    left = list(missing)
    for engine in (ear.engine, *others):
        if not left:
            break
        own = Ear(clip=ear.clip, engine=engine, memory=ear.memory, language=ear.language)
        windows = [_alone(start, end, ear.clip.duration_s) for start, end in left]
        decoded = own.decode(windows)
        still: list[tuple[float, float]] = []
        for span, window, result in zip(left, windows, decoded, strict=True):
            words = tuple(w for w in window.back(result.words) if _inside(w, span))
            if words and result.compression <= 2.4 and max(w.probability for w in words) >= _UNSURE:
                found.append(HeardWindow(window=window, words=words, log_probability=result.log_probability,
                                         no_speech=result.no_speech, loop=False))  # fmt: skip
            else:
                still.append(span)
        left = still
    return found, left


def _alone(start: float, end: float, duration_s: float) -> Window:
    low = max(0.0, start - _PAD_S)
    high = min(duration_s, end + _PAD_S, low + 29.0)
    return Window(pieces=(Piece(start=round(low, 3), end=round(high, 3), at=0.0),))


def _inside(word: Word, span: tuple[float, float]) -> bool:
    middle = (word.start + word.end) / 2
    return span[0] - 0.1 <= middle <= span[1] + 0.1


def split_spoken(
    heard: HeardWindow, probabilities: NDArray[np.float32], invented: frozenset[str]
) -> tuple[tuple[Word, ...], tuple[Word, ...]]:
    """The words of a window that somebody spoke, and those over no speech or known to be written over noise."""
    if not heard.words:
        return (), ()
    phrase = " ".join(w.word for w in heard.words).lower()
    bare = " ".join("".join(c for c in phrase if c.isalnum() or c in " '").split())
    sure = [_speech_near(word, probabilities) for word in heard.words]
    doubtful = max(sure) < _IN_DOUBT or heard.no_speech > _IN_DOUBT or heard.log_probability < -1.0
    if doubtful and (bare in invented or (heard.no_speech > _IN_DOUBT and heard.log_probability < _POOR)):
        return (), heard.words
    spoken = [near >= _NO_SPEECH or word.probability >= _CLEAR for near, word in zip(sure, heard.words, strict=True)]
    kept = tuple(w for w, good in zip(heard.words, spoken, strict=True) if good)
    lost = tuple(w for w, good in zip(heard.words, spoken, strict=True) if not good)
    return kept, lost


def _speech_near(word: Word, probabilities: NDArray[np.float32]) -> float:
    """The highest probability of speech in and just around the word."""
    first = max(0, int((word.start - _REACH_S) / _FRAME_S))
    last = int((word.end + _REACH_S) / _FRAME_S) + 1
    near = probabilities[first:last]
    return float(near.max()) if len(near) else 0.0
