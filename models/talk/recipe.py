"""The recipe of what chooses among a recogniser's readings: how people talk about the job, and whom to believe.

    python models/talk/recipe.py make models/talk/talk.npz
    python models/talk/recipe.py fit VOICED

`make` counts words of `models/reader/lines` (their text alone, without marks) and writes a trigram model, interpolated,
with modified Kneser-Ney discounts (Chen and Goodman, "An empirical study of smoothing techniques for language
modeling", 1998). Lines that were written from narrations of `tests/corpus`, and what was made out of lines by a
recogniser, are left out, so that narrations can be measured. Words that come once count as unknown. The same lines give
the same file.

VOICED is what `demo_audio/make_voiced.py` made. `fit` hears each recording as the product does, tries each change that
could be made, says by the known words whether it was for the better, fits a logistic regression (ridge, nothing random)
and prints the block for `models/speech.toml`, and what it does on VOICED with voices left out.
"""

from __future__ import annotations

import argparse
import io
import json
import re
import sys
import zipfile
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "reader"))
LINES = Path(__file__).resolve().parents[1] / "reader" / "lines"
LEFT_OUT = re.compile(r"(shared|development|heard)")
LEAST = 2  # times that a word must come
RIDGE = 10.0
SEEN = ("gain", "heard", "behind", "short_is", "alike", "letters", "strange", "longer")
Row = dict[str, Any]
Floats = NDArray[np.float64]


def texts() -> Iterator[str]:
    """The lines that are counted."""
    reader: Any = import_module("recipe")
    for path in sorted(LINES.glob("*.txt")):
        if not LEFT_OUT.match(path.stem):
            yield from (line.text for block in reader.blocks_of(path) for line in block)


def discounts(counts: Iterable[int]) -> tuple[float, float, float, float]:
    """What is taken off counts of 0, 1, 2, and 3 or more."""
    times = Counter(counts)
    one, two, three, four = (times[n] or 1 for n in (1, 2, 3, 4))
    share = one / (one + 2 * two)
    return 0.0, 1 - 2 * share * two / one, 2 - 3 * share * three / two, 3 - 4 * share * four / three


def shares(counts: dict[Any, int], start: Any) -> tuple[dict[Any, float], dict[Any, float]]:
    """The discounted chance of each key after its start, and what is left after each start."""
    off = discounts(counts.values())
    total: dict[Any, int] = defaultdict(int)
    taken: dict[Any, float] = defaultdict(float)
    for key, count in counts.items():
        total[start(key)] += count
        taken[start(key)] += off[min(3, count)]
    chances = {key: (count - off[min(3, count)]) / total[start(key)] for key, count in counts.items()}
    return chances, {key: taken[key] / total[key] for key in total}


def count(sentences: list[list[int]], start: int) -> tuple[dict[Any, int], dict[Any, int], dict[Any, int]]:
    """Words, pairs and triples: triples as they come, the others by what they follow."""
    triples: Counter[tuple[int, int, int]] = Counter()
    for sentence in sentences:
        row = [start, start, *sentence]
        triples.update(zip(row, row[1:], row[2:], strict=False))
    pairs: Counter[tuple[int, int]] = Counter((b, c) for _, b, c in triples)
    pairs.update({(b, c): n - 1 for (a, b, c), n in triples.items() if a == b == start})
    return Counter(c for _, c in pairs), pairs, triples


def make(out: Path) -> None:
    """Count the lines and write the model."""
    from voicereport.speech.catalogue import catalogue
    from voicereport.speech.talk import END, NUMBER, START, UNKNOWN, Talk

    empty: Any = np.zeros(0)
    numbers = sorted(catalogue().number_words)
    plain = Talk(numbers=frozenset(numbers), places={}, alone=empty, pairs=empty, of_pairs=empty, after_one=empty,
                 triples=empty, of_triples=empty, starts=empty, after_two=empty)  # fmt: skip
    said = [words if words[-1] == END else [*words, END] for words in map(plain.words, texts()) if words]
    often = Counter(word for words in said for word in words)
    words = sorted({w for w, n in often.items() if n >= LEAST} | {START, END, NUMBER, UNKNOWN})
    places = {word: n for n, word in enumerate(words)}
    rows = [[places.get(word, places[UNKNOWN]) for word in sentence] for words in said for sentence in cut(words, END)]
    singles, pairs, triples = count(rows, places[START])
    size = len(words)
    alone, left = shares(singles, lambda _: 0)
    of_pairs, after_one = shares(pairs, lambda key: key[0])
    of_triples, after_two = shares(triples, lambda key: key[:2])
    kept: dict[str, NDArray[Any]] = {
        "words": np.frombuffer(" ".join(words).encode(), np.uint8),
        "numbers": np.frombuffer(" ".join(numbers).encode(), np.uint8),
        "alone": logs(alone.get(n, 0.0) + left[0] / size for n in range(size)),
        "after_one": logs(after_one.get(n, 1.0) for n in range(size)),
    }
    for name, chances, values in (("pairs", of_pairs, "of_pairs"), ("triples", of_triples, "of_triples"),
                                  ("starts", after_two, "after_two")):  # fmt: skip
        keys = sorted((key_of(key, size), value) for key, value in chances.items())
        kept[name] = np.diff(np.array([key for key, _ in keys], np.int64), prepend=0)
        kept[values] = logs(value for _, value in keys)
    write(out, kept)
    print(f"{out}: {sum(map(len, said))} words, {size} of them different, {len(pairs)} pairs, {len(triples)} triples, "
          f"{out.stat().st_size / 1e6:.1f} MB")  # fmt: skip


def cut(words: list[str], end: str) -> Iterator[list[str]]:
    """The sentences of words, each with its end."""
    first = 0
    for n, word in enumerate(words, 1):
        if word == end:
            yield words[first:n]
            first = n


def key_of(places: tuple[int, ...], size: int) -> int:
    """Places of words as one number."""
    key = 0
    for place in places:
        key = key * size + place
    return key


def logs(chances: Iterable[float]) -> NDArray[np.float16]:
    """Logarithms in two bytes each."""
    found: NDArray[np.float16] = np.log(np.maximum(np.array(list(chances)), 1e-9)).astype(np.float16)
    return found


def write(out: Path, arrays: dict[str, NDArray[Any]]) -> None:
    """The arrays as a compressed .npz that bears no date."""
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as packed:
        for name, array in arrays.items():
            data = io.BytesIO()
            np.save(data, array, allow_pickle=False)
            packed.writestr(zipfile.ZipInfo(f"{name}.npy"), data.getvalue(), zipfile.ZIP_DEFLATED, 9)


def fit(voiced: Path) -> None:
    """Print the block for models/speech.toml, and what it does with voices left out."""
    from voicereport.speech.recognise import open_desk

    desk = open_desk("auto", "auto", 0, "en", look_twice=False, resume=True, watched=())
    rows: list[Row] = []
    errors: Counter[str] = Counter()
    for path in sorted(voiced.glob("noise-*/*.wav")):
        told = json.loads((voiced / "clean" / f"{path.stem}.json").read_text("utf-8"))
        found, wrong, said = changes_of(path, [line["say"] for line in told["lines"]], desk)
        rows += [{"voice": told["voice"], "level": path.parent.name, **row} for row in found]
        errors.update({f"{path.parent.name} wrong": wrong, f"{path.parent.name} said": said})
        print(f"{path.parent.name}/{path.stem}: {len(rows)} changes", file=sys.stderr, flush=True)
    bias, weights = fitted(rows)
    print(f"bias = {bias:.4f}\n\n[choice.weights]")
    print("\n".join(f"{name} = {weight:.4f}" for name, weight in zip(SEEN, weights, strict=True)), "\n")
    for voice in sorted({row["voice"] for row in rows}):
        own_bias, own = fitted([row for row in rows if row["voice"] != voice])
        for row in (row for row in rows if row["voice"] == voice):
            row["chance"] = 1 / (1 + np.exp(-(own_bias + own @ [row["seen"][name] for name in SEEN])))
    for least in (0.5, 0.6, 0.7, 0.8):
        for level in sorted({row["level"] for row in rows}):
            made = [row["better"] for row in rows if row["level"] == level and row["chance"] >= least and row["free"]]
            wrong, said = errors[f"{level} wrong"], errors[f"{level} said"]
            print(f"from {least} on, {level}: {len(made)} made, {sum(n > 0 for n in made)} better, "
                  f"{sum(n < 0 for n in made)} worse; wrong words {100 * wrong / said:.2f} % to "
                  f"{100 * (wrong - sum(made)) / said:.2f} %")  # fmt: skip


def changes_of(path: Path, lines: list[str], desk: Any) -> tuple[list[Row], int, int]:
    """Each change that could be made in a recording, by how many word errors it is better; errors and words as read."""
    from rapidfuzz.distance import Levenshtein
    from whisper.normalizers import EnglishTextNormalizer

    from voicereport.audio import find_speech, load, speech_probabilities
    from voicereport.speech.choice import changes, rests
    from voicereport.speech.hear import Ear, hear
    from voicereport.speech.recognise import _PAD_S
    from voicereport.speech.resume import Memory
    from voicereport.speech.talk import shipped_talk
    from voicereport.speech.windows import pack
    from voicereport.transcript import spread

    plain = EnglishTextNormalizer()
    clip = load(path)
    ear = Ear(clip=clip, engine=desk.first, memory=Memory(clip.sha256), language=desk.language)
    stretches = find_speech(speech_probabilities(clip), duration_s=clip.duration_s, pad_s=_PAD_S)
    heard = hear(pack(stretches), ear)
    said = plain(" ".join(lines)).split()
    read = [plain(repaired(window.words)).split() for window in heard]

    def errors(texts: list[list[str]]) -> int:
        return int(Levenshtein.distance([word for text in texts for word in text], said))

    before = errors(read)
    rows = []
    for n, window in enumerate(heard):
        words = window.words
        for change in changes(words, window.runners, shipped_talk(), numbers=desk.shelf.number_words):
            old = words[change.first : change.last]
            doubt = min(word.probability for word in old)
            put = spread(" ".join(change.words), old[0].start, old[-1].end, probability=doubt)
            text = plain(repaired((*words[: change.first], *put, *words[change.last :]))).split()
            free = not rests(old, change, desk.shelf.choice, numbers=desk.shelf.number_words,
                             watched=desk.watched | desk.shelf.units)  # fmt: skip
            better = before - errors([*read[:n], text, *read[n + 1 :]])
            rows.append({"seen": dict(change.seen), "better": better, "free": free})
    return rows, before, len(said)


@lru_cache(maxsize=1)
def trade() -> Any:
    """The trade whose words are put right."""
    from voicereport.settings import load_settings
    from voicereport.trades import load_trade

    return load_trade(load_settings().trade)


def repaired(words: Any) -> str:
    """The text of a window with the trade's words put right, as errors are counted."""
    from voicereport.speech.segments import cut as segments_of
    from voicereport.speech.segments import segment
    from voicereport.transcript import Transcript
    from voicereport.wording import repair

    whole = tuple(segment("", f"r1s{n:03}", piece, ()) for n, piece in enumerate(segments_of(words)))
    put_right = repair(Transcript(recordings=(), segments=whole), trade())
    return " ".join(one.text for one in put_right.segments)


def fitted(rows: list[Row]) -> tuple[float, Floats]:
    """Bias and weights for what was seen as it stands; what changes no error counts for nothing."""
    told = [row for row in rows if row["better"]]
    x = np.array([[row["seen"][name] for name in SEEN] for row in told])
    better = np.array([float(row["better"] > 0) for row in told])
    weigh = np.array([float(abs(row["better"])) for row in told])
    middle, spread = x.mean(0), x.std(0) + 1e-6
    z = np.c_[np.ones(len(x)), (x - middle) / spread]
    penalty = np.eye(z.shape[1]) * RIDGE
    penalty[0, 0] = 0.0
    b = np.zeros(z.shape[1])
    for _ in range(100):
        p = 1 / (1 + np.exp(-z @ b))
        slope = z.T @ (weigh * (better - p)) - penalty @ b
        step = np.linalg.solve((z * (weigh * p * (1 - p))[:, None]).T @ z + penalty, slope)
        b += step
        if np.abs(step).max() < 1e-9:
            break
    return float(b[0] - (b[1:] * middle / spread).sum()), b[1:] / spread


def main(arguments: list[str] | None = None) -> int:
    """Make the model, or fit whom to believe."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    commands = parser.add_subparsers(dest="command", required=True)
    one = commands.add_parser("make")
    one.add_argument("out", type=Path)
    two = commands.add_parser("fit")
    two.add_argument("voiced", type=Path)
    chosen = parser.parse_args(arguments)
    if chosen.command == "make":
        make(chosen.out)
    else:
        fit(chosen.voiced)
    return 0


if __name__ == "__main__":
    sys.exit(main())
