"""Fits the weights by which what a fastener holds is chosen, and writes them to holders.toml beside this file.

python models/reader/holders.py fit CORPUS...       weights from annotated narrations
python models/reader/holders.py measure CORPUS...   each corpus in turn left out of the fitting
"""

from __future__ import annotations

import sys
from collections import Counter
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

RIDGE = 0.01  # of the squared weights of features, against the mean loss
NOUN_RIDGE = 0.002  # of those of nouns
OFTEN = 3  # cases from which on a noun has a weight of its own
STEPS = 1500
RATE = 0.3


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


@dataclass(frozen=True)
class Fitted:
    """Weights of the features (features,) and of the nouns."""

    features: np.ndarray
    nouns: dict[str, float]

    def score(self, case: Case) -> np.ndarray:
        """How much speaks for each candidate (candidates,)."""
        nouns = np.array([self.nouns.get(p.split()[-1], 0.0) for p in case.parts])
        return np.asarray(case.features @ self.features + nouns)


def fit(told: list[Case]) -> Fitted:
    """The weights that make the right candidates, any of them, likeliest, with a ridge."""
    told = [c for c in told if c.right.any() and not c.right.all()]
    seen = Counter(noun for c in told for noun in {p.split()[-1] for p in c.parts})
    nouns = sorted(noun for noun, times in seen.items() if times >= OFTEN and noun.isalpha())
    tables = [np.hstack([c.features, np.array([[p.split()[-1] == n for n in nouns] for p in c.parts], dtype=float)])
              for c in told]  # fmt: skip
    ridge = np.concatenate([np.full(len(holding.FEATURES), RIDGE), np.full(len(nouns), NOUN_RIDGE)])
    weights = np.zeros(len(ridge))
    for _ in range(STEPS):
        slope = np.zeros_like(weights)
        for case, table in zip(told, tables, strict=True):
            score = table @ weights
            share = np.exp(score - score.max())
            share /= share.sum()
            mine = share * case.right
            mine /= mine.sum()
            slope += table.T @ (mine - share)
        weights += RATE * (slope / len(told) - ridge * weights)
    features, rest = np.split(weights, [len(holding.FEATURES)])
    return Fitted(features, dict(zip(nouns, rest.tolist(), strict=True)))


def hits(told: list[Case], fitted: Fitted) -> tuple[int, int, int]:
    """How many choices are right, how many could be, of how many."""
    right = sum(bool(c.right[int(np.argmax(fitted.score(c)))]) for c in told if len(c.parts))
    return right, sum(bool(c.right.any()) for c in told), len(told)


def main(arguments: list[str]) -> int:
    if len(arguments) < 2 or arguments[0] not in {"fit", "measure"}:
        print(__doc__)
        return 2
    parts = {folder: cases(Path(folder)) for folder in arguments[1:]}
    if arguments[0] == "measure":
        for folder, told in parts.items():
            fitted = fit([c for other, those in parts.items() if other != folder for c in those])
            right, could, number = hits(told, fitted)
            features, nouns = holding.weights()
            shipped = hits(told, Fitted(np.array(features), dict(nouns)))[0]
            print(f"{folder}: {right} of {number} right, {could} among the candidates; as shipped {shipped}")
        return 0
    fitted = fit([c for told in parts.values() for c in told])
    lines = [f"{name} = {weight:.3f}" for name, weight in zip(holding.FEATURES, fitted.features, strict=True)]
    lines += ["", "[nouns]", *(f"{noun} = {weight:.3f}" for noun, weight in fitted.nouns.items())]
    (Path(__file__).parent / "holders.toml").write_text(
        HEAD + "\n[weights]\n" + "\n".join(lines) + "\n", encoding="utf-8"
    )
    return 0


HEAD = (
    "# What speaks for a thing as what a fastener holds: a weight for each feature that\n"
    "# voicereport/statements/holding.py names, and for the last word of its name.\n"
    "# Fitted by holders.py in this folder; not to be edited.\n"
)

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
