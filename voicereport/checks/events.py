"""What was said on a job, as one row of events in time order, and the conditions of a pack upon them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, Protocol

from voicereport.report import Claim, Evidence, ItemKind, Reading, Report, Step
from voicereport.trades.entries import Term

Place = tuple[int, int, float, int]


class Names(Protocol):
    """What the checks need of a trade's words."""

    def kind_of(self, part: str) -> ItemKind: ...
    def classes_of(self, part: str) -> frozenset[str]: ...


@dataclass(frozen=True, kw_only=True, slots=True)
class Event:
    """A step, a claim or a reading, and when it was said."""

    at: Place  #: visit, recording, seconds, rank among equals
    kind: Literal["step", "claim", "reading"]
    status: str  #: of the contract; a reading is done
    name: str  #: part of a step, subject of a reading, what a claim is about
    classes: frozenset[str]
    action: str = ""
    claim: str = ""
    quantity: str = ""
    stage: str = ""
    value: float | None = None
    sound: bool = True  #: False: a reading without a value, or one that was heard in two ways
    denies: bool = False  #: a reading that says the opposite: an open circuit where continuity is wanted
    evidence: tuple[Evidence, ...] = ()
    typed: bool = False

    @property
    def visit(self) -> int:
        return self.at[0]

    def words(self) -> frozenset[str]:
        """The single words of the name."""
        return frozenset(re.findall(r"[\w-]+", self.name.lower()))

    def segments(self) -> frozenset[tuple[str, str]]:
        """Recording and segment of each piece of evidence."""
        return frozenset((e.recording, e.segment) for e in self.evidence)


def events_of(report: Report, names: Names) -> tuple[Event, ...]:
    """Every step, claim and reading of the report in time order; the order of steps in the report is kept."""
    order: dict[str, int] = {}
    for recording in report.recordings:
        order.setdefault(recording.name, len(order))
    said = (
        [s.evidence for s in report.steps] + [c.evidence for c in report.claims] + [r.evidence for r in report.readings]
    )
    for evidence in (e for one in said for e in one):
        order.setdefault(evidence.recording, len(order))

    def place(visit: int, evidence: tuple[Evidence, ...], last: Place | None, rank: int) -> Place:
        if not evidence:  # typed: after the step before it, else at the end of its visit
            return (visit, *last[1:3], rank) if last and last[0] == visit else (visit, len(order), float("inf"), rank)
        return (visit, order[evidence[0].recording], evidence[0].start, rank)

    events: list[Event] = []
    last: Place | None = None
    for rank, step in enumerate(report.steps):
        at = place(step.visit, step.evidence, last, rank)
        last = at if last is None or at[:3] >= last[:3] else (*last[:3], rank)
        events.append(_step(step, last, names))
    base = len(report.steps)  # readings before claims: a doubt about a value of one word is heard after the value
    events += [_reading(r, place(r.visit, r.evidence, None, base + n), names) for n, r in enumerate(report.readings)]
    base += len(report.readings)
    events += [_claim(c, place(c.visit, c.evidence, None, base + n), names) for n, c in enumerate(report.claims)]
    return tuple(sorted(events, key=lambda e: e.at))


def _step(step: Step, at: Place, names: Names) -> Event:
    classes = names.classes_of(step.part)
    if not classes and step.action in ("disconnect", "reconnect"):
        classes = frozenset({"wiring"})  # "live and neutral": what is none of the trade's parts and comes apart
    return Event(
        at=at, kind="step", status=step.status, name=step.part, classes=classes, action=step.action,
        evidence=step.evidence, typed=step.entered_by is not None,
    )  # fmt: skip


def _claim(claim: Claim, at: Place, names: Names) -> Event:
    about = claim.about or ""
    return Event(
        at=at, kind="claim", status=claim.status, name=about, classes=names.classes_of(about), claim=claim.claim,
        evidence=claim.evidence,
    )  # fmt: skip


def _reading(reading: Reading, at: Place, names: Names) -> Event:
    subject = reading.subject or ""
    open_circuit = reading.qualifier == "open_circuit"
    sound = reading.doubt is None and (reading.value is not None or open_circuit)
    return Event(
        at=at, kind="reading", status="done", name=subject, classes=names.classes_of(subject),
        quantity=reading.quantity, stage=reading.stage or "", value=reading.value, sound=sound,
        denies=open_circuit and reading.quantity == "earth_continuity", evidence=reading.evidence,
        typed=reading.entered_by is not None,
    )  # fmt: skip


def matches(event: Event, term: Term, events: Iterable[Event], *, beside_s: float) -> bool:
    """True where `term` holds for `event`, whatever its status (but for the statuses that the term names)."""
    if event.kind != term.kind:
        return False
    if (term.actions and event.action not in term.actions) or (term.claims and event.claim not in term.claims):
        return False
    if (term.quantities and event.quantity not in term.quantities) or (term.stages and event.stage not in term.stages):
        return False
    if (term.statuses and event.status not in term.statuses) or (term.parts and event.name not in term.parts):
        return False
    words = event.words() if term.words or term.not_words else frozenset()
    if (term.classes and not term.classes & event.classes) or term.not_classes & event.classes:
        return False
    if (term.words and not term.words & words) or term.not_words & words:
        return False
    if term.at_most is not None and (event.value is None or abs(event.value) > term.at_most):
        return False
    if not term.beside_actions:
        return True
    return any(
        other.kind == "step" and other.action in term.beside_actions and other.status in ("done", "narrated", "unclear")
        and (not term.beside_classes or term.beside_classes & other.classes) and beside(event, other, beside_s)
        for other in events
    )  # fmt: skip


def beside(one: Event, other: Event, seconds: float) -> bool:
    """True where both stand in one segment, or within so many seconds of each other."""
    if one.segments() & other.segments():
        return True
    return one.at[:2] == other.at[:2] and abs(one.at[2] - other.at[2]) <= seconds


def any_matches(event: Event, terms: Iterable[Term], events: Iterable[Event], *, beside_s: float) -> bool:
    """True where one of `terms` holds for `event`."""
    return any(matches(event, term, events, beside_s=beside_s) for term in terms)
