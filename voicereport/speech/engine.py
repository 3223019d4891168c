"""The one interface that recognisers stand behind, and how one is chosen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal, Protocol

from voicereport.speech.catalogue import EngineName, catalogue
from voicereport.transcript import Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

WINDOW_S = 30.0  #: what a recogniser hears at once
MOST_TOKENS = 400  #: of words that are weighed at once; a recogniser has room for 448 in all, and only a loop has more
#: windows handed to the engine at once, alike in length, and remembered together; as many that were weighed are kept
#: as the encoder gave them, some 1.5 MB each, until they are decoded
BATCH = 16


@dataclass(frozen=True, kw_only=True, slots=True)
class Decoded:
    """What a recogniser made of one window. Times are seconds from the start of the window."""

    words: tuple[Word, ...]
    log_probability: float  #: mean of the tokens'
    no_speech: float  #: the recogniser's own doubt that anybody speaks, 0..1
    compression: float  #: length of the text over its length compressed; > 2.4 = a loop


@dataclass(frozen=True, kw_only=True, slots=True)
class Manner:
    """A way to decode. Nothing in it is random."""

    beam: int = 5
    no_repeat: int = 0  #: tokens in a row that may not come twice; 0 = they may
    repetition_penalty: float = 1.0  #: > 1 makes words dearer that were said already
    told: str = ""  #: words that are only weighed: how likely each is, and none is looked for


class Engine(Protocol):
    """A recogniser with its weights. The same window in the same manner gives the same words."""

    @property
    def name(self) -> EngineName: ...
    @property
    def model(self) -> str: ...
    @property
    def version(self) -> str:
        """Tells weights of one name apart that were trained anew."""
        ...

    def decode(self, windows: Sequence[NDArray[np.float32]], *, language: str, manner: Manner) -> tuple[Decoded, ...]:
        """What was said in each window, shape (n,), mono, 16 kHz, up to 30 s."""
        ...

    def score(
        self, windows: Sequence[NDArray[np.float32]], texts: Sequence[Sequence[str]], *, language: str
    ) -> tuple[tuple[float, ...], ...]:
        """How likely each word of a text is in its window after the words before it, 0..1: all its tokens' together."""
        ...


def open_engine(
    engine: Literal["auto", "faster-whisper", "openai-whisper"],
    *,
    weights: str = "auto",
    threads: int = 0,
    folder: Path | None = None,
    language: str = "en",
    second: bool = False,
) -> Engine:
    """A recogniser, loaded. "auto" is the fast one; its weights by default are those of models/speech.toml.

    threads: 0 = as many as there are cores. second: the weights that look again, where `weights` is "auto"; these go by
    the language, too.
    Raises WeightsError where the weights are missing or wrong.
    """
    name: EngineName = "faster-whisper" if engine == "auto" else engine
    shelf = catalogue()
    chosen = shelf.usual(name, language, second=second) if weights == "auto" else weights
    entry = shelf.named(chosen, name)
    if name == "faster-whisper":
        from voicereport.speech.fast import FastEngine

        return FastEngine(entry, threads=threads, folder=folder)
    from voicereport.speech.reference import ReferenceEngine

    return ReferenceEngine(entry, threads=threads, folder=folder)


def compression_ratio(text: str) -> float:
    """How many times shorter the text gets by zlib; loops compress well."""
    import zlib

    data = text.encode()
    return len(data) / len(zlib.compress(data)) if data else 0.0


def join_tokens(pieces: Sequence[tuple[str, float, float, float]]) -> tuple[Word, ...]:
    """Words of (text, start, end, probability), where a text without a leading blank belongs to the word before it.

    A joined word has the least probability of its parts.
    """
    words: list[Word] = []
    for text, start, end, probability in pieces:
        bare = text.strip()
        if not bare:
            continue
        if words and not text.startswith(" "):
            last = words[-1]
            least = probability if bare[:1].isalnum() else 1.0
            words[-1] = Word(word=last.word + bare, start=last.start, end=max(last.end, end) if least < 1 else last.end,
                             probability=min(last.probability, least))  # fmt: skip
        else:
            for n, part in enumerate(bare.split()):
                words.append(Word(word=part, start=start if n == 0 else end, end=end, probability=probability))
    return tuple(words)


def products(chances: Sequence[float], lengths: Sequence[int]) -> tuple[float, ...]:
    """The chances of words from those of their tokens, in order; lengths: tokens of each word."""
    found, at = [], 0
    for length in lengths:
        found.append(math.prod(float(chance) for chance in chances[at : at + length]))
        at += length
    return tuple(found)
