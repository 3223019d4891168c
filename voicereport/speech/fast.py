"""The fast recogniser: CTranslate2 through faster-whisper, in eight bits, on the processor."""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicereport.errors import WeightsError
from voicereport.speech.catalogue import EngineName, Weights
from voicereport.speech.engine import BATCH, MOST_TOKENS, Decoded, Manner, compression_ratio, join_tokens, products
from voicereport.speech.memory import give_back, share_heaps
from voicereport.speech.weights import laid_out, read
from voicereport.transcript import Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Job = tuple[int, list[int]]  #: frames that windows are padded to, and the numbers of the windows

_HOP = 160  #: samples in a frame of the spectrogram
_FRAMES = 3000  #: frames of 30 s
_STEP = 500  #: windows are padded to the next five seconds, not to thirty: the dearest part costs by the square of it
_LEAST = 2000  #: in windows of five seconds, a second and a half came out as a loop; in ten, digits came apart
_TAIL = 80  #: frames of silence that each window ends with at least
_AT_ONCE = 3  #: windows that one worker decodes at once; each holds some 40 MB of memory
_WORKERS = 2  #: that share the weights; a worker of one thread never waits for another at every layer


class FastEngine:
    """Whisper's weights in CTranslate2."""

    name: EngineName = "faster-whisper"

    def __init__(self, weights: Weights, *, threads: int = 0, folder: Path | None = None) -> None:
        from concurrent.futures import ThreadPoolExecutor

        share_heaps()
        cores = threads or os.cpu_count() or 1
        self.workers = min(_WORKERS, cores)
        self._pool = ThreadPoolExecutor(self.workers)  # kept: threads that come and go leave memory behind
        self.model, self.version = weights.name, weights.version
        self._weights = weights
        self._kept: dict[tuple[bytes, int], NDArray[np.float32]] = {}  #: the last weighed windows, encoded
        self._lock = threading.Lock()
        try:
            self._whisper = _loaded(weights, folder, threads=cores // self.workers, workers=self.workers)
        except (RuntimeError, ValueError) as error:
            raise WeightsError(f"weights '{weights.name}'", f"cannot be loaded ({error})", None) from error
        give_back()

    def decode(self, windows: Sequence[NDArray[np.float32]], *, language: str, manner: Manner) -> tuple[Decoded, ...]:
        """What was said in each window; those of about one length are worked on at once.

        A window gives the same words whatever windows are decoded with it.
        """
        tokenizer = self._tokenizer(language)
        found: dict[int, Decoded] = {}
        jobs = list(_jobs(windows, self.workers))

        def work(job: Job) -> list[Decoded]:
            return self._decode([windows[n] for n in job[1]], job[0], tokenizer, manner)

        for (_, numbers), decoded in zip(jobs, self._in_turn(work, jobs), strict=True):
            found.update(zip(numbers, decoded, strict=True))
        give_back()
        return tuple(found[n] for n in range(len(windows)))

    def score(
        self, windows: Sequence[NDArray[np.float32]], texts: Sequence[Sequence[str]], *, language: str
    ) -> tuple[tuple[float, ...], ...]:
        """How likely each word of a text is in its window after the words before it, 0..1: all its tokens' together.

        A text of more tokens than there is room for is a loop, and nothing of it is likely.
        """
        tokenizer = self._tokenizer(language)

        def work(pair: tuple[NDArray[np.float32], Sequence[str]]) -> tuple[float, ...]:
            return self._score(pair[0], pair[1], tokenizer)

        found = tuple(self._pool.map(work, zip(windows, texts, strict=True)))
        give_back()
        return found

    def _score(self, window: NDArray[np.float32], words: Sequence[str], tokenizer: Any) -> tuple[float, ...]:
        tokens = [tokenizer.encode(f" {word}") for word in words]
        told = [token for word in tokens for token in word]
        if not 0 < len(told) <= MOST_TOKENS:
            return (0.0,) * len(words)
        heard = _stored(self._encoded(window, _frames(window), keep=True))
        length = min(_FRAMES, max(2, len(window) // _HOP))
        aligned = self._whisper.model.align(heard, tokenizer.sot_sequence, [told], [length], median_filter_width=7)[0]
        return products(aligned.text_token_probs, [len(word) for word in tokens])

    def _in_turn(self, work: Callable[[Job], list[Decoded]], jobs: list[Job]) -> list[list[Decoded]]:
        """The results of the jobs, in order; as many at once as there are workers."""
        if len(jobs) < 2 or self.workers < 2:
            return [work(job) for job in jobs]
        return list(self._pool.map(work, jobs))

    def _decode(
        self, windows: Sequence[NDArray[np.float32]], frames: int, tokenizer: Any, manner: Manner
    ) -> list[Decoded]:
        heard = _stored(self._encode(windows, frames))
        results = self._generate(heard, len(windows), tokenizer, manner)
        tokens = [[t for t in r.sequences_ids[0] if t < tokenizer.eot] for r in results]
        words = self._words(tokenizer, tokens, heard, windows)
        return [
            Decoded(
                words=said,
                log_probability=_mean(result),
                no_speech=result.no_speech_prob,
                compression=compression_ratio(tokenizer.decode(ids)),
            )
            for result, ids, said in zip(results, tokens, words, strict=True)
        ]

    def _encode(self, windows: Sequence[NDArray[np.float32]], frames: int) -> NDArray[np.float32]:
        """The encoder's output, shape (windows, frames / 2, states): one window at a time costs least here."""
        import numpy as np

        return np.concatenate([self._encoded(window, frames) for window in windows])

    def _encoded(self, window: NDArray[np.float32], frames: int, *, keep: bool = False) -> NDArray[np.float32]:
        """The encoder's output for one window. keep: it will be asked for again, as what is weighed is decoded next."""
        import numpy as np

        key = hashlib.sha256(window.tobytes()).digest(), frames
        with self._lock:
            found = self._kept.pop(key, None)
        if found is None:
            found = np.asarray(self._whisper.encode(self._spectrogram(window, frames)[None]))
        if keep:
            with self._lock:
                self._kept[key] = found
                if len(self._kept) > BATCH:
                    del self._kept[next(iter(self._kept))]
        return found

    def _generate(self, heard: Any, count: int, tokenizer: Any, manner: Manner) -> list[Any]:
        prompt = self._whisper.get_prompt(tokenizer, [], without_timestamps=True)
        return list(
            self._whisper.model.generate(
                heard,
                [list(prompt) for _ in range(count)],
                beam_size=manner.beam,
                max_length=self._whisper.max_length,
                suppress_blank=True,
                suppress_tokens=self._suppressed(tokenizer),
                return_scores=True,
                return_no_speech_prob=True,
                sampling_temperature=0,
                repetition_penalty=manner.repetition_penalty,
                no_repeat_ngram_size=manner.no_repeat,
            )
        )

    def _words(
        self, tokenizer: Any, tokens: list[list[int]], heard: Any, windows: Sequence[NDArray[np.float32]]
    ) -> list[tuple[Word, ...]]:
        """The words of each window; their times by the attention of the recogniser."""
        lengths = [min(_FRAMES, max(2, len(window) // _HOP)) for window in windows]
        aligned = self._whisper.model.align(heard, tokenizer.sot_sequence, tokens, lengths, median_filter_width=7)
        return [
            _timed(tokenizer, ids, result, len(window) / 16_000)
            for ids, result, window in zip(tokens, aligned, windows, strict=True)
        ]

    def _tokenizer(self, language: str) -> Any:
        from faster_whisper.tokenizer import Tokenizer

        if not self._weights.knows(language):
            raise WeightsError(f"weights '{self.model}'", f"do not know the language '{language}'", "choose others")
        multilingual = self._whisper.model.is_multilingual
        try:
            return Tokenizer(self._whisper.hf_tokenizer, multilingual, task="transcribe", language=language)
        except ValueError as error:
            raise WeightsError(f"language '{language}'", "is not known", "give two letters, as in 'en'") from error

    def _suppressed(self, tokenizer: Any) -> list[int]:
        own = (tokenizer.transcribe, tokenizer.translate, tokenizer.sot, tokenizer.sot_prev, tokenizer.sot_lm,
               tokenizer.no_speech)  # fmt: skip
        return sorted({*tokenizer.non_speech_tokens, *own})

    def _spectrogram(self, window: NDArray[np.float32], frames: int) -> NDArray[np.float32]:
        import numpy as np

        found = self._whisper.feature_extractor(window)[:, :frames]
        padded: NDArray[np.float32] = np.pad(found, ((0, 0), (0, frames - found.shape[1]))).astype(np.float32)
        return padded


def _loaded(weights: Weights, folder: Path | None, *, threads: int, workers: int) -> Any:
    """The model, from copies of its files: given their contents, it would keep 145 MB of them as long as it lives."""
    from faster_whisper import WhisperModel

    how = {"device": "cpu", "compute_type": "int8", "cpu_threads": threads, "num_workers": workers}
    try:
        with laid_out(weights, folder=folder) as place:
            return WhisperModel(str(place), **how)
    except OSError:  # no room for copies
        return WhisperModel(weights.name, files=read(weights, folder=folder), **how)


def _stored(heard: NDArray[np.float32]) -> Any:
    import ctranslate2
    import numpy as np

    return ctranslate2.StorageView.from_array(np.ascontiguousarray(heard))


def _mean(result: Any) -> float:
    """The mean log probability of a result's tokens, its end among them."""
    count = len(result.sequences_ids[0])
    return float(result.scores[0]) * count / (count + 1)


def _jobs(windows: Sequence[NDArray[np.float32]], workers: int) -> Iterator[Job]:
    """The windows by their padded length, shared out evenly in batches of at most _AT_ONCE."""
    for frames in sorted({_frames(window) for window in windows}):
        alike = [n for n, window in enumerate(windows) if _frames(window) == frames]
        size = min(_AT_ONCE, max(1, -(-len(alike) // workers)))
        yield from ((frames, alike[first : first + size]) for first in range(0, len(alike), size))


def _frames(window: NDArray[np.float32]) -> int:
    """The frames of the spectrogram that a window is padded to."""
    return max(_LEAST, min(_FRAMES, -(-(len(window) // _HOP + _TAIL) // _STEP) * _STEP))


def _timed(tokenizer: Any, ids: list[int], aligned: Any, length_s: float) -> tuple[Word, ...]:
    """The words of one window with times and probabilities."""
    import numpy as np

    texts, groups = tokenizer.split_to_word_tokens([*ids, tokenizer.eot])
    if len(groups) <= 1:
        return ()
    edges = np.cumsum([0, *(len(group) for group in groups[:-1])])
    text_at = np.array([pair[0] for pair in aligned.alignments])
    time_at = np.array([pair[1] for pair in aligned.alignments])
    jumps = time_at[np.diff(text_at, prepend=text_at[0] - 1).astype(bool)] * 0.02
    sure = aligned.text_token_probs
    return join_tokens(
        [
            (text, min(float(jumps[a]), length_s), min(float(jumps[b]), length_s), float(np.mean(sure[a:b])))
            for text, a, b in zip(texts, edges[:-1], edges[1:], strict=False)
        ]
    )
