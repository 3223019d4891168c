"""The fast recogniser: CTranslate2 through faster-whisper, in eight bits, on the processor."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicereport.errors import WeightsError
from voicereport.speech.catalogue import EngineName, Weights
from voicereport.speech.engine import Decoded, Manner, compression_ratio, join_tokens
from voicereport.speech.weights import read
from voicereport.transcript import Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_HOP = 160  #: samples in a frame of the spectrogram
_FRAMES = 3000  #: frames of 30 s
_STEP = 500  #: windows are padded to the next five seconds, not to thirty: the dearest part costs by the square of it
_LEAST = 2000  #: in windows of five seconds, a second and a half came out as a loop; in ten, digits came apart
_TAIL = 80  #: frames of silence that each window ends with at least


class FastEngine:
    """Whisper's weights in CTranslate2."""

    name: EngineName = "faster-whisper"

    def __init__(self, weights: Weights, *, threads: int = 0, folder: Path | None = None) -> None:
        from faster_whisper import WhisperModel

        files = read(weights, folder=folder)
        self.model = weights.name
        self._weights = weights
        try:
            self._whisper = WhisperModel(
                weights.name,
                device="cpu",
                compute_type="int8",
                cpu_threads=threads or os.cpu_count() or 1,
                files=files,
            )
        except (RuntimeError, ValueError) as error:
            raise WeightsError(f"weights '{weights.name}'", f"cannot be loaded ({error})", None) from error

    def decode(self, windows: Sequence[NDArray[np.float32]], *, language: str, manner: Manner) -> tuple[Decoded, ...]:
        """What was said in each window; those of about one length are worked on at once.

        A window gives the same words whatever windows are decoded with it.
        """
        found: dict[int, Decoded] = {}
        for frames in sorted({_frames(window) for window in windows}):
            alike = [n for n, window in enumerate(windows) if _frames(window) == frames]
            decoded = self._decode([windows[n] for n in alike], frames, language=language, manner=manner)
            found.update(zip(alike, decoded, strict=True))
        return tuple(found[n] for n in range(len(windows)))

    def _decode(
        self, windows: Sequence[NDArray[np.float32]], frames: int, *, language: str, manner: Manner
    ) -> list[Decoded]:
        import numpy as np

        tokenizer = self._tokenizer(language)
        heard = self._whisper.encode(np.stack([self._spectrogram(window, frames) for window in windows]))
        prompt = self._whisper.get_prompt(tokenizer, [], without_timestamps=True)
        results = self._whisper.model.generate(
            heard,
            [list(prompt) for _ in windows],
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
        tokens = [[t for t in r.sequences_ids[0] if t < tokenizer.eot] for r in results]
        words = self._words(tokenizer, tokens, heard, windows)
        return [
            Decoded(
                words=said,
                log_probability=result.scores[0] * len(result.sequences_ids[0]) / (len(result.sequences_ids[0]) + 1),
                no_speech=result.no_speech_prob,
                compression=compression_ratio(tokenizer.decode(ids)),
            )
            for result, ids, said in zip(results, tokens, words, strict=True)
        ]

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
