"""The figures to look at first, each with its 95 % confidence interval.

Shares and F1 scores get a percentile bootstrap over narrations, or over sentences, with a fixed seed. Counts of false
confirms get the exact interval of Clopper and Pearson (1934) for a binomial share, so that "none in 40" is not
mistaken for "never": its upper end stays above 0.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from voicereport.evaluation.matching import Tally
from voicereport.evaluation.narrations import NarrationScore, NarrationsScore
from voicereport.evaluation.sentences import SentencesScore
from voicereport.evaluation.tables import load_tables

SEED = 20261125
RESAMPLES = 2000
CONFIDENCE = 0.95

Part = tuple[float, float]  #: what one narration or sentence adds to a figure: above and below the line


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One figure."""

    name: str
    title: str
    value: float | None  #: a share 0..1, or a number of false confirms; None = nothing to measure it on
    low: float | None  #: ends of the interval, as shares
    high: float | None
    of: int  #: narrations, sentences or occasions that it rests on
    counts: bool = False  #: a number of false confirms: less is better


def narration_figures(score: NarrationsScore) -> tuple[Figure, ...]:
    """The figures of whole narrations. Confirmed recall is the share of the gold's confirmed checks, stop-level and
    warning-level, that the reports confirm; open-items F1 is over all items, fasteners exact over narrations."""
    rows = list(score.narrations.values())
    if not rows:
        return ()
    return (
        _stop_false_confirms(rows),
        _bootstrap("confirmed_recall", "checks that are confirmed, found so", [_confirmed(r) for r in rows]),
        _bootstrap("states_right", "check states right", [_states(r) for r in rows]),
        _bootstrap("status_right", "report status right", [(float(r.status[0] == r.status[1]), 1.0) for r in rows]),
        _bootstrap("step_f1", "steps F1 (action, part, status)", [_f1(r, "steps") for r in rows]),
        _bootstrap("reading_f1", "readings F1 (quantity, value, unit)", [_f1(r, "readings") for r in rows]),
        _bootstrap("open_f1", "open items F1", [_f1(r, "open") for r in rows]),
        _bootstrap("fasteners_exact", "fastener totals exact", [_fasteners(r) for r in rows]),
        _bootstrap("parts_used_f1", "parts used F1 (with number, quantity)", [_f1(r, "parts_used_full") for r in rows]),
        _bootstrap("note_f1", "notes F1 (kind, about)", [_f1(r, "notes") for r in rows]),
        _bootstrap("job_f1", "identity and labour F1", [_f1(r, "job") for r in rows]),
    )


def sentence_figures(score: SentencesScore) -> tuple[Figure, ...]:
    """The figures of single sentences. A status is right where the answer holds that one step and no other."""
    safety = [r for r in score.scores if r.kind == "safety"]
    by = {kind: [r for r in score.scores if r.kind == kind] for kind in ("status", "reading", "count", "identity")}
    recall = [(float(r.confirmed), 1.0) for r in safety if r.confirms]
    stops = [r.confirmed for r in safety if r.stop and not r.confirms]
    figures = (
        _count("sentence_stop_false_confirms", "sentences: stop-level false confirms", sum(stops), len(stops)),
        _bootstrap("sentence_confirmed_recall", "sentences: confirming ones, recognised", recall),
        _bootstrap("sentence_status_right", "sentences: status right", [(float(r.right), 1.0) for r in by["status"]]),
        _bootstrap(
            "sentence_reading_f1", "sentences: readings F1", [_parts(r.tallies["reading"]) for r in by["reading"]]
        ),
        _bootstrap("sentence_count_f1", "sentences: counts F1", [_parts(r.tallies["count"]) for r in by["count"]]),
        _bootstrap(
            "sentence_identity_exact", "sentences: identity exact", [(float(r.right), 1.0) for r in by["identity"]]
        ),
    )
    return tuple(figure for figure in figures if figure.of)


def binomial_interval(hits: int, of: int, *, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """The Clopper-Pearson interval of a share of `hits` in `of` occasions, as (low, high)."""
    tail = (1 - confidence) / 2
    low = 0.0 if hits == 0 else _root(lambda p: 1 - _binomial_below(hits - 1, of, p) - tail)
    high = 1.0 if hits == of else _root(lambda p: tail - _binomial_below(hits, of, p))
    return low, high


def bootstrap_interval(parts: Sequence[Part], *, resamples: int = RESAMPLES, seed: int = SEED) -> tuple[float, float]:
    """The percentile interval of sum(above) / sum(below) under resampling of `parts`; below must not be all zero."""
    import numpy

    above, below = numpy.array(parts, dtype=float).T
    draws = numpy.random.default_rng(seed).multinomial(len(parts), [1 / len(parts)] * len(parts), size=resamples)
    bottom = draws @ below
    shares = (draws @ above)[bottom > 0] / bottom[bottom > 0]
    tail = 100 * (1 - CONFIDENCE) / 2
    low, high = numpy.percentile(shares, [tail, 100 - tail])
    return float(low), float(high)


def _bootstrap(name: str, title: str, parts: Sequence[Part]) -> Figure:
    used = [part for part in parts if part[1]]
    if not used:
        return Figure(name=name, title=title, value=None, low=None, high=None, of=0)
    low, high = bootstrap_interval(parts)
    value = sum(above for above, _ in parts) / sum(below for _, below in parts)
    return Figure(name=name, title=title, value=value, low=low, high=high, of=len(used))


def _count(name: str, title: str, hits: int, of: int) -> Figure:
    low, high = binomial_interval(hits, of) if of else (None, None)
    return Figure(name=name, title=title, value=float(hits) if of else None, low=low, high=high, of=of, counts=True)


def _stop_false_confirms(rows: Sequence[NarrationScore]) -> Figure:
    """Stop-level checks that a report confirms and the gold does not, of all that the gold does not confirm."""
    stop = load_tables().stop
    said = [report for r in rows for check, (gold, report) in r.states.items() if check in stop and gold != "confirmed"]
    return _count("stop_false_confirms", "stop-level false confirms", said.count("confirmed"), len(said))


def _confirmed(row: NarrationScore) -> Part:
    said = [report for gold, report in row.states.values() if gold == "confirmed"]
    return float(said.count("confirmed")), float(len(said))


def _states(row: NarrationScore) -> Part:
    return float(sum(gold == report for gold, report in row.states.values())), float(len(row.states))


def _fasteners(row: NarrationScore) -> Part:
    return (0.0, 0.0) if row.fasteners_exact is None else (float(row.fasteners_exact), 1.0)


def _f1(row: NarrationScore, metric: str) -> Part:
    return _parts(row.tallies[metric])


def _parts(tally: Tally) -> Part:
    return float(2 * tally.hit), float(tally.gold + tally.said)


def _binomial_below(hits: int, of: int, p: float) -> float:
    """The probability of at most `hits` in `of` occasions of probability `p`."""
    return math.fsum(math.comb(of, k) * p**k * (1 - p) ** (of - k) for k in range(hits + 1))


def _root(rising: Callable[[float], float]) -> float:
    """Where a function that rises over 0..1 is zero, by halving."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if rising(middle) > 0 else (middle, high)
    return (low + high) / 2
