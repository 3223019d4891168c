"""The recipe of the reader: what a training is measured by.

Expected values: the entropy of an even choice among k is ln k, and a cross-entropy is least where both distributions
are the same (Shannon, "A Mathematical Theory of Communication", 1948; Gibbs' inequality).
"""

from __future__ import annotations

import math
from argparse import Namespace
from pathlib import Path
from typing import Any

import pytest

from tests.scripts import script
from voicereport.paths import models_dir

torch: Any = pytest.importorskip("torch")
FOLDER = models_dir() / "reader"
LINES = (
    "{n1|Two} {p1|screws} {a remove done|out}, {p2|plug} {a isolate done|pulled}. || power+",
    "= {s1|Top zone}, {r temperature left|fourteen}.",
    "~ The hood is off. || power-",
)


RECIPE = script(FOLDER / "recipe.py", "reader_recipe")
TOKENIZER = RECIPE.pieces_of(FOLDER)


def _batch(*lines: str) -> dict[str, Any]:
    batch: dict[str, Any] = RECIPE.put(
        RECIPE.batch_of([RECIPE.encode(TOKENIZER, RECIPE.parse(x)) for x in lines]), "cpu"
    )
    return batch


def _scores(batch: dict[str, Any], seed: int | None = None) -> tuple[Any, Any]:
    make: Any = torch.zeros
    if seed is not None:
        torch.manual_seed(seed)
        make = torch.randn
    lines, pieces = batch["ids"].shape
    return make(lines, pieces, RECIPE.WIDE + 2 * RECIPE.LINK), make(lines, 3 * len(RECIPE.CHECKS))


@pytest.mark.parametrize(
    ("line", "marked"),
    [
        (LINES[0], {"act", "status", "role", "value", "link"}),
        (LINES[1], {"value", "stage", "subject", "link"}),
        (LINES[2], set()),
    ],
)
def test_even_scores_cost_the_logarithm_of_the_choices(line: str, marked: set[str]) -> None:
    batch = _batch(line)
    choices = {**RECIPE.PARTS, "link": 2}
    expected = sum(RECIPE.SHARES[key] * math.log(choices[key]) for key in marked)
    if not line.startswith("= "):  # the checks spoken of, and the others
        expected += 2 * math.log(3)
    assert float(RECIPE.loss_of(_scores(batch), batch)) == pytest.approx(expected, rel=1e-5)


def test_empty_places_of_a_batch_cost_nothing() -> None:
    alone, both = _batch(LINES[2]), _batch(LINES[2], LINES[0].replace(" || power+", ""))
    assert both["ids"].shape[1] > alone["ids"].shape[1]
    assert both["inside"][0].sum() == alone["inside"][0].sum()
    assert (both["act"][0] == -100).all()


def test_a_pupil_that_is_its_teacher_has_nothing_to_learn() -> None:
    batch = _batch(*LINES)
    teacher = _scores(batch, seed=1)
    pupil = tuple(x.clone().requires_grad_() for x in teacher)
    RECIPE.taught(pupil, [teacher], batch).backward()
    assert max(float(x.grad.abs().max()) for x in pupil) < 1e-6


def test_another_pupil_costs_more() -> None:
    batch = _batch(*LINES)
    teacher, pupil = _scores(batch, seed=1), _scores(batch, seed=2)
    assert RECIPE.taught(pupil, [teacher], batch) > RECIPE.taught(teacher, [teacher], batch)


def test_two_teachers_are_worth_their_mean_chance() -> None:
    batch = _batch(LINES[2])
    words, line = _scores(batch)
    sure, other = line.clone(), line.clone()
    sure[:, 1::3], other[:, 2::3] = 30.0, 30.0  # one says that every check is asserted, one that none is
    between = line.clone()
    between[:, 0::3] = -30.0
    told = [(words, sure), (words, other)]
    assert RECIPE.taught((words, between), told, batch) < RECIPE.taught((words, sure), told, batch)


def test_the_mean_of_checkpoints(tmp_path: Path) -> None:
    for name, value in (("a", 1.0), ("b", 2.0)):
        torch.save({"x": torch.full((2, 2), value).half()}, tmp_path / name)
    RECIPE.average(Namespace(out=str(tmp_path / "c"), checkpoints=[str(tmp_path / "a"), str(tmp_path / "b")]))
    assert RECIPE.checkpoint(str(tmp_path / "c"))["x"].tolist() == [[1.5, 1.5], [1.5, 1.5]]
