"""Speech without words, and words without speech."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from voicereport.audio import Stretch
from voicereport.speech.engine import Engine
from voicereport.speech.hear import Ear, HeardWindow
from voicereport.speech.windows import Window, apart, pack
from voicereport.transcript import Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

GAP_S = 0.7  #: speech without words from here on is decoded again
_REACH_S = 0.3  #: words may be timed that much beside the speech they are
_PAD_S = 0.4  #: of sound around a gap that is decoded again
_SHORT_S = 5.0
_AGAIN_S = 19.0  #: longest window of gaps: shorter ones are given up half-way less often
_REST_S = 1.2  #: what is left of a gap that got words is a gap from here on
_NEAR_S = 2.0  #: gaps nearer to each other are decoded as one
_BESIDE_S = 8.0  #: words farther from a gap are not beside it
_LAST = 2  #: words before a gap that may have been timed too short
_FRAME_S = 512 / 16_000
_IN_DOUBT = 0.6  #: speech probability under which a known invention is one
_NO_SPEECH = 0.15  #: highest speech probability near a word, under which it is over no speech
_CLEAR = 0.3  #: word probability from which on a word is not dropped: its time may be wrong, the word is not
_POOR = -0.7  #: mean log probability under which words that the recogniser itself takes for no speech are none
_UNSURE = 0.6  #: word probability that an answer for a gap must reach


def gaps(
    speech: Sequence[Stretch], words: Iterable[Word], *, least_s: float = GAP_S
) -> tuple[tuple[float, float], ...]:
    """Parts of the stretches of speech, [start, end) seconds, of at least `least_s` that no word reaches."""
    found: list[tuple[float, float]] = []
    timed = sorted((w.start - _REACH_S, w.end + _REACH_S) for w in words)
    for stretch in speech:
        at = stretch.start
        for start, end in timed:
            if end <= at or start >= stretch.end:
                continue
            if start - at >= least_s:
                found.append((at, start))
            at = max(at, end)
        if stretch.end - at >= least_s:
            found.append((at, stretch.end))
    return tuple(found)


def listen_again(
    missing: Sequence[tuple[float, float]], ear: Ear, others: Sequence[Engine]
) -> tuple[list[HeardWindow], list[tuple[float, float]]]:
    """The words of stretches that gave none, and those still without: decoded in other company, by each engine in turn.

    Long ones are decoded alone, short ones packed together; what one engine leaves out, the next one gets.
    """
    found: list[HeardWindow] = []
    left = list(missing)
    for engine in (ear.engine, *others):
        if not left:
            break
        own = Ear(clip=ear.clip, engine=engine, memory=ear.memory, language=ear.language)
        spans = _joined(left)
        windows = _again(spans, ear.clip.duration_s)
        for window, result in zip(windows, own.decode(windows), strict=True):
            for span in spans:
                words = tuple(w for w in window.back(result.words) if _inside(w, span))
                if words and result.compression <= 2.4 and max(w.probability for w in words) >= _UNSURE:
                    found.append(HeardWindow(window=window, words=words, log_probability=result.log_probability,
                                             no_speech=result.no_speech, loop=False))  # fmt: skip
        left = _still(left, found)
    return found, left


def without_repeats(
    found: Sequence[HeardWindow], words: Sequence[Word], numbers: Mapping[str, int]
) -> list[HeardWindow]:
    """What gaps gave, but for figures that the words beside them have already.

    A number written as one word ("550328") is timed shorter than it was said, and the rest of it looks like a gap.
    words: of the first reading. numbers: number words and their values.
    """
    timed = sorted(words, key=lambda word: word.start)
    kept = []
    for heard in found:
        own = _figures(heard.words, numbers)
        before = [w for w in timed if 0 <= heard.words[0].start - w.start <= _BESIDE_S]
        after = [w for w in timed if 0 <= w.end - heard.words[-1].end <= _BESIDE_S]
        twice = own in _figures(before[-_LAST:], numbers) or _figures(after, numbers).startswith(own)
        if len(own) < 2 or len(heard.words) > 2 * len(own) or not twice:
            kept.append(heard)
    return kept


def _figures(words: Sequence[Word], numbers: Mapping[str, int]) -> str:
    """The figures of words in a row: ["550-", "three"] -> "5503"."""
    parts = [part.strip(".,?!;:").lower() for word in words for part in word.word.replace("-", " ").split()]
    return "".join(c for part in parts for c in str(numbers.get(part, part)) if c.isdigit())


def _again(spans: Sequence[tuple[float, float]], duration_s: float) -> tuple[Window, ...]:
    around = [s for s in apart(spans, pad_s=_PAD_S) if s.start < duration_s]
    long = [s for s in around if s.end - s.start > _SHORT_S]
    short = [s for s in around if s.end - s.start <= _SHORT_S]
    return (*(window for stretch in long for window in pack([stretch])), *pack(short, longest_s=_AGAIN_S))


def _still(left: Sequence[tuple[float, float]], found: Sequence[HeardWindow]) -> list[tuple[float, float]]:
    """The stretches of `left` that no word reaches even now. A short one counts until a word is in it."""
    words = [word for heard in found for word in heard.words]
    again: list[tuple[float, float]] = []
    for start, end in left:
        reaching = [w for w in words if w.end > start - _REACH_S and w.start < end + _REACH_S]
        stretch = Stretch(start=start, end=end, probability=1.0)
        again += gaps([stretch], reaching, least_s=_REST_S) if reaching else [(start, end)]
    return again


def _joined(missing: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The stretches in order, those near each other as one: sound without cuts is understood best."""
    found: list[tuple[float, float]] = []
    for start, end in sorted(missing):
        near = bool(found) and start - found[-1][1] < _NEAR_S and end - found[-1][0] < _AGAIN_S - 2 * _PAD_S
        if near:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found


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
