"""Fits the weights by which what a fastener holds is chosen, and writes them to holders.toml beside this file.

python models/reader/holders.py fit CORPUS...       weights from annotated narrations
python models/reader/holders.py measure CORPUS...   each corpus in turn left out of the fitting
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from voicereport.evaluation.corpus import read_corpus
from voicereport.evaluation.names import Names
from voicereport.evaluation.narrations import gold_steps
from voicereport.evaluation.run import report_of
from voicereport.settings import load_settings
from voicereport.statements import holding, learned
from voicereport.statements.values import Act

RIDGE = 0.02  # of the squared weights, against the mean loss
STEPS = 4000
RATE = 0.1


@dataclass(frozen=True)
class Case:
    """One act of a fastener: its candidates' features (candidates, features), and which of them are right."""

    where: str
    parts: tuple[str, ...]
    features: np.ndarray
    right: np.ndarray


def cases(folder: Path) -> list[Case]:
    """The acts of fasteners in a corpus whose holder the gold names and which is among the candidates."""
    corpus = read_corpus(folder)
    names = Names(corpus.aliases) if corpus.aliases else Names()
    settings = load_settings()
    out: list[Case] = []
    asked: list[tuple[Act, str, list[holding.Candidate]]] = []
    plain = holding.held

    def listening(act: Act, scene: holding.Scene) -> Act:
        if act.kind == "fastener":
            asked.append((act, scene.sentence.segment.id, holding.candidates(act, scene)))
        return plain(act, scene)

    learned.held = listening
    try:
        for narration in corpus.narrations:
            asked.clear()
            report = report_of(narration, settings)
            segments = [s["id"] for s in report["transcript"]["segments"]]
            gold = [g for g in gold_steps(narration.gold) if g.get("holds")]
            for act, segment, told in asked:
                line = segments.index(segment)
                meant = [g for g in gold if g["line"] == line and names.same(g["part"], act.part)
                         and act.action in (g["action"], *g.get("action_ok", []))]  # fmt: skip
                meant = [g for g in meant if g.get("count") == act.count] or meant
                if not meant:
                    continue
                right = np.array([any(names.same(c.part, g["holds"]) for g in meant) for c in told], dtype=bool)
                out.append(Case(f"{narration.name}:{line}", tuple(c.part for c in told),
                                np.array([c.features for c in told]), right))  # fmt: skip
    finally:
        learned.held = plain
    return out


def fit(told: list[Case]) -> np.ndarray:
    """Weights (features,): the likelihood of the right candidates, any of them, with a ridge."""
    told = [c for c in told if c.right.any() and not c.right.all()]
    weights = np.zeros(len(holding.FEATURES))
    for _ in range(STEPS):
        slope = np.zeros_like(weights)
        for case in told:
            score = case.features @ weights
            share = np.exp(score - score.max())
            share /= share.sum()
            mine = share * case.right
            mine /= mine.sum()
            slope += case.features.T @ (mine - share)
        weights += RATE * (slope / len(told) - RIDGE * weights)
    return weights


def hits(told: list[Case], weights: np.ndarray) -> tuple[int, int, int]:
    """How many choices are right, how many could be, of how many."""
    right = sum(bool(c.right[int(np.argmax(c.features @ weights))]) for c in told if len(c.parts))
    return right, sum(bool(c.right.any()) for c in told), len(told)


def main(arguments: list[str]) -> int:
    if len(arguments) < 2 or arguments[0] not in {"fit", "measure"}:
        print(__doc__)
        return 2
    parts = {folder: cases(Path(folder)) for folder in arguments[1:]}
    if arguments[0] == "measure":
        for folder, told in parts.items():
            weights = fit([c for other, those in parts.items() if other != folder for c in those])
            right, could, number = hits(told, weights)
            shipped = hits(told, np.array(holding.weights()))[0]
            print(f"{folder}: {right} of {number} right, {could} among the candidates; as shipped {shipped}")
        return 0
    weights = fit([c for told in parts.values() for c in told])
    lines = [f"{name} = {weight:.3f}" for name, weight in zip(holding.FEATURES, weights, strict=True)]
    (Path(__file__).parent / "holders.toml").write_text(
        HEAD + "\n[weights]\n" + "\n".join(lines) + "\n", encoding="utf-8"
    )
    return 0


HEAD = (
    "# What speaks for a thing as what a fastener holds: a weight for each feature that\n"
    "# voicereport/statements/holding.py names. Fitted by holders.py in this folder; not to be edited.\n"
)

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
