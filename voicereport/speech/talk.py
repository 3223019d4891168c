"""How people talk about the job: the chance of a word after the two before it, by a trigram model of marked lines."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from voicereport import paths
from voicereport.errors import WeightsError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

TALK_LANGUAGE = "en"  #: of the lines
START, END, NUMBER, UNKNOWN = "<s>", "</s>", "<n>", "<unk>"
_STRANGE = math.log(0.01)  #: of a word that the lines have not: one of a hundred such
_DIGIT = re.compile(r"\d")
_MARKS = re.compile(r"[^\w'.%]")
_CLOSING = "\"'”’)"


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Talk:
    """A trigram model, interpolated, with modified Kneser-Ney discounts (Chen and Goodman 1998). All logarithms are
    natural."""

    numbers: frozenset[str]  #: words that count as a number; any number counts as one word
    places: dict[str, int]  #: words and their places
    alone: NDArray[np.float32]  #: log chance of each word, shape (words,)
    pairs: NDArray[np.int64]  #: keys of word pairs, in order
    of_pairs: NDArray[np.float32]  #: log chance of each, discounted
    after_one: NDArray[np.float32]  #: log of what is left for other words after each word, shape (words,)
    triples: NDArray[np.int64]  #: keys of three words, in order
    of_triples: NDArray[np.float32]
    starts: NDArray[np.int64]  #: keys of the pairs that some word follows, in order
    after_two: NDArray[np.float32]  #: log of what is left for other words after each

    def words(self, text: str) -> list[str]:
        """The words of a text as the model has them: lower case, numbers alike, END after each sentence."""
        found: list[str] = []
        for raw in text.replace("’", "'").replace("—", " ").replace("-", " ").split():
            word = _MARKS.sub("", raw.lower()).strip("'._")
            if word:
                word = NUMBER if word in self.numbers or _DIGIT.search(word) else word
                found += [] if word == NUMBER and found[-1:] == [NUMBER] else [word]
            if raw.rstrip(_CLOSING)[-1:] in (".", "?", "!") and found and found[-1] != END:
                found.append(END)
        return found

    def knows(self, word: str) -> bool:
        """Whether the lines have the word, as `words` gives it."""
        return word in self.places

    def likely(self, words: Sequence[str], before: Sequence[str] = ()) -> float:
        """The log chance of words, as `words` gives them, after those before; the beginning counts as a sentence's."""
        first, second = [START, START, *before][-2:]
        total = 0.0
        for word in words:
            if second == END:
                first = second = START
            total += self._after(self._place(first), self._place(second), self._place(word))
            total += 0.0 if word in self.places else _STRANGE
            first, second = second, word
        return total

    def _place(self, word: str) -> int:
        return self.places.get(word, self.places[UNKNOWN])

    def _after(self, first: int, second: int, word: int) -> float:
        count = len(self.alone)
        pair = second * count + word
        chance = math.exp(self.alone[word] + self.after_one[second]) + _of(self.pairs, self.of_pairs, pair, 0.0)
        start = first * count + second
        chance = chance * _of(self.starts, self.after_two, start, 1.0)
        return math.log(chance + _of(self.triples, self.of_triples, start * count + word, 0.0))


def _of(keys: NDArray[np.int64], logs: NDArray[np.float32], key: int, otherwise: float) -> float:
    at = int(keys.searchsorted(key))
    return math.exp(logs[at]) if at < len(keys) and keys[at] == key else otherwise


@lru_cache(maxsize=1)
def shipped_talk() -> Talk:
    """The model that is shipped. Raises WeightsError where it cannot be read."""
    return read_talk(paths.models_dir() / "talk" / "talk.npz")


def read_talk(path: Path) -> Talk:
    """The model in a file that models/talk/recipe.py made. Raises WeightsError where it cannot be read."""
    import io
    import zipfile

    import numpy as np

    try:
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as data:
            numbers, words = (bytes(data[name]).decode().split() for name in ("numbers", "words"))
            pairs, triples, starts = (np.cumsum(data[name], dtype=np.int64) for name in ("pairs", "triples", "starts"))
            alone, of_pairs, after_one, of_triples, after_two = (
                data[name].astype(np.float32) for name in ("alone", "of_pairs", "after_one", "of_triples", "after_two")
            )
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile) as error:
        raise WeightsError(str(path), f"cannot be used ({error!r})", "install voicereport again") from error
    return Talk(
        numbers=frozenset(numbers),
        places={word: n for n, word in enumerate(words)},
        alone=alone,
        pairs=pairs,
        of_pairs=of_pairs,
        after_one=after_one,
        triples=triples,
        of_triples=of_triples,
        starts=starts,
        after_two=after_two,
    )
