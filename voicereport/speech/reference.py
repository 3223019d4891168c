"""The reference recogniser: openai-whisper on torch, on a graphics card where there is one."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicereport.errors import WeightsError
from voicereport.speech.catalogue import EngineName, Weights
from voicereport.speech.convert import checkpoint
from voicereport.speech.engine import MOST_TOKENS, Decoded, Manner, join_tokens, products
from voicereport.speech.weights import find, made_from, read
from voicereport.transcript import Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class ReferenceEngine:
    """Whisper's weights in the reference implementation; made from CTranslate2's file where only that is here."""

    name: EngineName = "openai-whisper"

    def __init__(self, weights: Weights, *, threads: int = 0, folder: Path | None = None) -> None:
        import torch

        if threads:
            torch.set_num_threads(threads)
        self.model, self.version = weights.name, (made_from(weights) or weights).version
        self._weights = weights
        self._whisper = load_model(weights, folder)

    def decode(self, windows: Sequence[NDArray[np.float32]], *, language: str, manner: Manner) -> tuple[Decoded, ...]:
        """What was said in each window. A manner that bars repetition decodes with time marks instead, which the
        reference has no bar for and which also breaks loops.
        """
        import torch
        import whisper

        if not windows:
            return ()
        if not self._weights.knows(language) or language not in whisper.tokenizer.LANGUAGES:
            raise WeightsError(f"weights '{self.model}'", f"do not know the language '{language}'", "choose others")
        options = whisper.DecodingOptions(
            language=language,
            beam_size=manner.beam if manner.beam > 1 else None,
            temperature=0.0,
            without_timestamps=manner.no_repeat == 0,
            fp16=False,
        )
        sounds = [whisper.pad_or_trim(torch.from_numpy(window.copy())) for window in windows]
        spectra = whisper.log_mel_spectrogram(torch.stack(sounds), self._whisper.dims.n_mels).to(self._whisper.device)
        results = whisper.decode(self._whisper, spectra, options)
        return tuple(
            Decoded(
                words=self._words(result, spectrum, len(window), language),
                log_probability=float(result.avg_logprob),
                no_speech=float(result.no_speech_prob),
                compression=float(result.compression_ratio),
            )
            for result, spectrum, window in zip(results, spectra, windows, strict=True)
        )

    def score(
        self, windows: Sequence[NDArray[np.float32]], texts: Sequence[Sequence[str]], *, language: str
    ) -> tuple[tuple[float, ...], ...]:
        """How likely each word of a text is in its window after the words before it, 0..1: all its tokens' together.

        A text of more tokens than there is room for is a loop, and nothing of it is likely.
        """
        return tuple(self._score(window, words, language) for window, words in zip(windows, texts, strict=True))

    def _score(self, window: NDArray[np.float32], words: Sequence[str], language: str) -> tuple[float, ...]:
        import torch
        import whisper

        tokenizer = self._tokenizer(language)
        tokens = [tokenizer.encode(f" {word}") for word in words]
        told = [token for word in tokens for token in word]
        if not 0 < len(told) <= MOST_TOKENS:
            return (0.0,) * len(words)
        sound = whisper.pad_or_trim(torch.from_numpy(window.copy()))
        spectrum = whisper.log_mel_spectrogram(sound, self._whisper.dims.n_mels).to(self._whisper.device)
        start = [*tokenizer.sot_sequence, tokenizer.no_timestamps]
        with torch.no_grad():
            rows = self._whisper(spectrum[None], torch.tensor([[*start, *told]], device=spectrum.device))[0]
        chances = rows[len(start) - 1 : -1, : tokenizer.eot].softmax(dim=-1)
        each = [float(row[token]) for row, token in zip(chances, told, strict=True)]
        return products(each, [len(word) for word in tokens])

    def _tokenizer(self, language: str) -> Any:
        import whisper

        return whisper.tokenizer.get_tokenizer(
            self._whisper.is_multilingual,
            num_languages=self._whisper.num_languages,
            language=language,
            task="transcribe",
        )

    def _words(self, result: Any, spectrum: Any, samples: int, language: str) -> tuple[Word, ...]:
        from whisper.timing import find_alignment

        tokenizer = self._tokenizer(language)
        text = [token for token in result.tokens if token < tokenizer.eot]
        timed = find_alignment(self._whisper, tokenizer, text, spectrum, max(2, samples // 160))
        length_s = samples / 16_000
        return join_tokens(
            [(t.word, min(float(t.start), length_s), min(float(t.end), length_s), float(t.probability)) for t in timed]
        )


def load_model(weights: Weights, folder: Path | None) -> Any:
    """The model, from its own file or made from the other engine's. Raises WeightsError where neither is here."""
    import torch
    from whisper import _ALIGNMENT_HEADS
    from whisper.model import ModelDimensions, Whisper

    origin = made_from(weights)
    if find(weights, folder=folder) is not None or origin is None:
        data = read(weights, folder=folder)
        loaded = torch.load(io.BytesIO(data[weights.files[0].name]), map_location="cpu", weights_only=True)
        heads = None
    else:
        loaded, heads = checkpoint(read(origin, folder=folder))
    model = Whisper(ModelDimensions(**loaded["dims"]))
    model.load_state_dict(loaded["model_state_dict"])
    if heads is None:
        model.set_alignment_heads(_ALIGNMENT_HEADS[weights.name])
    else:
        mask = torch.zeros(model.dims.n_text_layer, model.dims.n_text_head, dtype=torch.bool)
        for layer, head in heads:
            mask[layer, head] = True
        model.register_buffer("alignment_heads", mask.to_sparse(), persistent=False)
    return model.eval().to("cuda" if torch.cuda.is_available() else "cpu")
