"""The recipe of the doubt about numbers: voiced sentences to the coefficients in `models/speech.toml`.

    python models/doubt/recipe.py collect VOICED/fit FIT.json
    python models/doubt/recipe.py collect VOICED/held HELD.json
    python models/doubt/recipe.py fit FIT.json HELD.json

VOICED is what `demo_audio/make_numbers.py` made. `collect` hears each recording as the product does and writes, for
each number that was heard, what is to be seen of it and whether it is wrong: whether nothing with that value, and with
no other unit, was said within a second of it. `fit` fits a logistic regression on the first file (Newton's method,
ridge, nothing random), chooses on it the chance from which on a number is in doubt, so that a given share of the right
ones is (--right), and prints the block for `models/speech.toml` and what it does on the second file, which shares no
voice and no sentence with the first. The threshold comes from chances that were predicted for voices left out.
On a processor; the same files give the same coefficients.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Row = dict[str, Any]
Floats = NDArray[np.float64]
KEPT = (  # what is seen that the model goes by
    "least", "mean", "near", "near_least", "beside", "after",
    "differs", "silent", "agrees_sure", "differs_sure", "agreement",
    "told", "told_near", "told_beside", "rival",
    "unit", "words", "digits", "decimal", "broken", "short",
)  # fmt: skip
RIDGE = 100.0
AROUND_S = 1.0
SHARES = (0.04, 0.06, 0.08, 0.10, 0.12, 0.15, 0.20, 0.23)  # of right numbers in doubt, at which curves are shown


def collect(folder: Path, out: Path) -> None:
    """Hear all sessions below `folder` and write a row for each number."""
    from voicereport.speech.recognise import open_desk

    desk = open_desk("auto", "auto", 1, "en", look_twice=True, resume=True, watched=())
    rows: list[Row] = []
    for path in sorted(folder.glob("noise-*/*.wav")):
        told = json.loads((folder / "clean" / f"{path.stem}.json").read_text("utf-8"))
        rows += [
            {"voice": told["voice"], "level": path.parent.name, **row} for row in session(path, told["lines"], desk)
        ]
        print(f"{path.parent.name}/{path.stem}: {len(rows)} numbers", flush=True)
    out.write_text(json.dumps(rows), "utf-8")


def session(path: Path, lines: list[Row], desk: Any) -> Iterator[Row]:
    """The numbers that are heard in one session."""
    from voicereport.audio import load
    from voicereport.speech.hear import Ear
    from voicereport.speech.recognise import first_reading
    from voicereport.speech.resume import Memory

    clip = load(path)
    ear = Ear(clip=clip, engine=desk.first, memory=Memory(clip.sha256), language=desk.language)
    yield from numbers(first_reading(ear, desk, lambda _share: None).groups, ear, lines, desk)


def numbers(groups: Any, ear: Any, lines: list[Row], desk: Any) -> Iterator[Row]:
    """Each number of what was read, what is to be seen of it, and whether it is wrong."""
    from voicereport.speech.doubt import numbers_in, seen
    from voicereport.speech.recognise import looks
    from voicereport.speech.second_look import second_look

    shelf = desk.shelf
    for _, _, _, look in looks(groups, ear, desk, desk.second):
        tokens = [word.word for word in look.words]
        differing = second_look(look.words, look.other, numbers=shelf.number_words, watched=desk.watched,
                                same=shelf.same, units=shelf.units)  # fmt: skip
        for first, last in numbers_in(look.words, shelf.number_words):
            here = [row for row in placed(tokens) if row[2] < last and row[3] > first]
            middle = (look.words[first].start + look.words[last - 1].end) / 2
            near = [line["say"] for line in lines if line["start"] - AROUND_S <= middle <= line["end"] + AROUND_S]
            if not here:
                continue
            end = max(last, *(row[3] for row in here))
            yield {
                "wrong": any(not heard_well(tokens, row, near) for row in here),
                "reading": any(unit is not None for _, unit, _, _ in here),
                "heard": " ".join(tokens[max(0, first - 4) : last + 3]),
                "said": " / ".join(near),
                "rule": any(w.alternative is not None for w in differing[first:end])
                or any(w.probability < 0.5 for w in look.words[first:last]),
                "unit": any(w.alternative is not None for w in differing[last:end]),
                "seen": seen(look, first, last, values=shelf.number_words, units=shelf.units, same=shelf.same),
            }


def heard_well(tokens: Sequence[str], row: tuple[float, str | None, int, int], lines: list[str]) -> bool:
    """Whether a number was said, or all that it was put together from; what is made of it is no fault of hearing."""
    from voicereport.wording.numbers import find_numbers

    value, unit, first, last = row
    parts = [number.value for number in find_numbers(tokens[first:last])]
    return said(value, unit, lines) or (len(parts) > 1 and all(said(part, None, lines) for part in parts))


def placed(tokens: Sequence[str]) -> list[tuple[float, str | None, int, int]]:
    """The numbers in a text: value, unit or None, tokens [first, last)."""
    from voicereport.wording.numbers import find_numbers
    from voicereport.wording.quantities import find_quantities

    rows: list[tuple[float, str | None, int, int]] = [
        (q.value, q.unit, q.first, q.last) for q in find_quantities(tokens) if q.value is not None
    ]
    taken = {n for _, _, first, last in rows for n in range(first, last)}
    return rows + [(n.value, None, n.first, n.last) for n in find_numbers(tokens) if n.first not in taken]


def said(value: float, unit: str | None, lines: list[str]) -> bool:
    """Whether one of the lines has the value, with that unit or none."""
    from voicereport.wording.numbers import find_numbers

    units = [u for line in lines for v, u, _, _ in placed(line.split()) if abs(v - value) < 1e-9]
    if units:
        return unit is None or None in units or unit in units
    return any(abs(n.value - value) < 1e-9 for line in lines for n in find_numbers(line.split()))


def table(rows: list[Row], names: Sequence[str]) -> tuple[Floats, NDArray[np.bool_]]:
    """What was seen, shape (rows, names), and whether the numbers are wrong."""
    return np.array([[row["seen"][name] for name in names] for row in rows]), np.array([row["wrong"] for row in rows])


def fitted(x: Floats, wrong: NDArray[np.bool_], *, ridge: float = RIDGE) -> tuple[float, Floats]:
    """Bias and weights of the logistic regression, for what was seen as it stands."""
    middle, spread = x.mean(0), x.std(0) + 1e-6
    z = np.c_[np.ones(len(x)), (x - middle) / spread]
    penalty = np.eye(z.shape[1]) * ridge
    penalty[0, 0] = 0.0
    b = np.zeros(z.shape[1])
    for _ in range(100):
        p = 1 / (1 + np.exp(-z @ b))
        slope = z.T @ (wrong - p) - penalty @ b
        step = np.linalg.solve((z * (p * (1 - p))[:, None]).T @ z + penalty, slope)
        b += step
        if np.abs(step).max() < 1e-9:
            break
    return float(b[0] - (b[1:] * middle / spread).sum()), b[1:] / spread


def chances(bias: float, weights: Floats, x: Floats) -> Floats:
    """The chance of each row to be wrong."""
    return np.asarray(1 / (1 + np.exp(-(bias + x @ weights))))


def left_out(rows: list[Row], names: Sequence[str], *, ridge: float = RIDGE) -> Floats:
    """The chance for each row by a model that knows nothing of its voice."""
    x, wrong = table(rows, names)
    voices = np.array([row["voice"] for row in rows])
    found = np.zeros(len(rows))
    for voice in sorted(set(voices)):
        own = voices == voice
        found[own] = chances(*fitted(x[~own], wrong[~own], ridge=ridge), x[own])
    return found


def curve(found: Floats, wrong: NDArray[np.bool_]) -> str:
    """Shares of wrong numbers in doubt, at shares of right ones."""
    at = [(share, float(np.quantile(found[~wrong], 1 - share))) for share in SHARES]
    return ", ".join(f"{100 * share:.0f} %: {100 * np.mean(found[wrong] > least):.0f} %" for share, least in at)


def fit(first: Path, held: Path, *, right: float) -> None:
    """Print the block for models/speech.toml, and how well it does."""
    rows, others = (
        [row for row in json.loads(path.read_text("utf-8")) if not row["seen"]["letters"]] for path in (first, held)
    )
    x, wrong = table(rows, KEPT)
    bias, weights = fitted(x, wrong)
    out = left_out(rows, KEPT)
    readings = np.array([row["reading"] for row in rows])
    doubtful = float(np.quantile(out[readings & ~wrong], 1 - right))
    print(f"[doubt]\ndoubtful = {doubtful:.4f}\nbias = {bias:.4f}\n\n[doubt.weights]")
    print("\n".join(f"{name} = {weight:.4f}" for name, weight in zip(KEPT, weights, strict=True)))
    print()
    y, held_wrong = table(others, KEPT)
    for title, own, found, bad in (("fit, voices left out", rows, out, wrong),
                                   ("held", others, chances(bias, weights, y), held_wrong)):  # fmt: skip
        show(title, own, found, bad, doubtful)


def show(title: str, rows: list[Row], found: Floats, wrong: NDArray[np.bool_], doubtful: float) -> None:
    """Curves, by level, for numbers with a unit and all."""
    levels = np.array([row["level"] for row in rows])
    rule = np.array([row["rule"] for row in rows])
    reading = np.array([row["reading"] for row in rows])
    always = [row["seen"]["lost"] > 0 or row["unit"] for row in rows]  # a nought was lost, or the unit heard otherwise
    found = np.where(always, 1.0, found)
    for name, scope in (("with a unit", reading), ("all", np.ones(len(rows), bool))):
        for level in ("", *sorted(set(levels))):
            at = scope & ((levels == level) | (level == ""))
            bad, good = at & wrong, at & ~wrong
            caught, alarms = (100 * np.mean(found[part] >= doubtful) for part in (bad, good))
            before = [100 * np.mean(rule[part]) for part in (bad, good)]
            print(f"{title}, {name}, {level or 'all levels'}: {bad.sum()} wrong, {good.sum()} right; in doubt "
                  f"{caught:.0f} % of wrong, {alarms:.1f} % of right; by the rule alone {before[0]:.0f} %, "
                  f"{before[1]:.1f} %")  # fmt: skip
        print(f"  wrong in doubt at shares of right ones: {curve(found[scope], wrong[scope])}")


def main(arguments: list[str] | None = None) -> int:
    """Collect or fit."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    commands = parser.add_subparsers(dest="command", required=True)
    one = commands.add_parser("collect")
    one.add_argument("folder", type=Path)
    one.add_argument("out", type=Path)
    two = commands.add_parser("fit")
    two.add_argument("first", type=Path)
    two.add_argument("held", type=Path)
    two.add_argument("--right", type=float, default=0.10, help="share of right numbers with a unit that are in doubt")
    chosen = parser.parse_args(arguments)
    if chosen.command == "collect":
        collect(chosen.folder, chosen.out)
    else:
        fit(chosen.first, chosen.held, right=chosen.right)
    return 0


if __name__ == "__main__":
    sys.exit(main())
