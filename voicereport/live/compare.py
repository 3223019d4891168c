"""The live report against the one that the whole recording gives, heard at once: how far they agree."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from voicereport.report import Report
    from voicereport.requests import Phrases
    from voicereport.settings import Settings
    from voicereport.trades import Trade


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """One thing that the two reports have otherwise."""

    kind: Literal["check", "step", "reading"]
    what: str
    live: str  #: empty = not there
    whole: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Agreement:
    """How far two reports agree."""

    checks: float  #: share of the checks in the same state
    steps: float  #: F1 of the steps by action, part and status
    readings: float  #: F1 of the readings by quantity, value and unit
    differences: tuple[Difference, ...]


def whole_report(recording: Path, trade: Trade, settings: Settings, phrases: Phrases) -> Report:
    """The report of a live job's recording, read at once as any recording is.

    Raises AudioError, WeightsError.
    """
    from voicereport.pipeline import rests_of, transcribe_files, understand

    transcript = transcribe_files([recording], settings)
    return understand(transcript, trade, settings, phrases=phrases, rested=rests_of([recording], transcript))


def agreement(live: Report, whole: Report) -> Agreement:
    """How far the live report and the whole recording's agree."""
    states = {c.id: c.state for c in whole.checks}
    unequal = [c for c in live.checks if states.get(c.id) != c.state]
    steps = [[(s.action, s.part, s.status) for s in r.steps] for r in (live, whole)]
    readings = [[(r.quantity, r.value, r.unit) for r in report.readings] for report in (live, whole)]
    differences = [Difference(kind="check", what=c.id, live=c.state, whole=states.get(c.id, "")) for c in unequal]
    differences += _listed("step", steps[0], steps[1])
    differences += _listed("reading", readings[0], readings[1])
    return Agreement(
        checks=1 - len(unequal) / max(1, len(live.checks)),
        steps=_f1(steps[0], steps[1]),
        readings=_f1(readings[0], readings[1]),
        differences=tuple(differences),
    )


def _f1(one: Sequence[Hashable], other: Sequence[Hashable]) -> float:
    both = sum((Counter(one) & Counter(other)).values())
    return 2 * both / (len(one) + len(other)) if one or other else 1.0


def _listed(
    kind: Literal["step", "reading"], live: Sequence[tuple[object, ...]], whole: Sequence[tuple[object, ...]]
) -> list[Difference]:
    a, b = Counter(live), Counter(whole)
    rows = [(_words(x), "") for x in (a - b).elements()] + [("", _words(x)) for x in (b - a).elements()]
    return [Difference(kind=kind, what=one or other, live=one, whole=other) for one, other in rows]


def _words(values: tuple[object, ...]) -> str:
    return " ".join(str(v) for v in values if v is not None)
