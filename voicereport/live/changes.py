"""What is new in a report against the one before it, as events."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from typing import TYPE_CHECKING, TypeVar

from voicereport.live.events import CheckChanged, DoubtRaised, Event, ReadingTaken, Understood

if TYPE_CHECKING:
    from voicereport.report import Reading, Report, Step

T = TypeVar("T")
LACKING = frozenset({"missing", "unclear", "contradicted", "out_of_order"})


def changes(before: Report | None, after: Report, *, at: float) -> tuple[Event, ...]:
    """Steps, readings and check states that came, went or changed. at: seconds of the recording, of the change."""
    return (
        *_steps(before.steps if before else (), after.steps),
        *_readings(before.readings if before else (), after.readings),
        *_checks(before, after, at),
    )


def _new(before: Iterable[tuple[Hashable, T]], after: Iterable[tuple[Hashable, T]]) -> list[T]:
    """The values of `after` whose keys `before` lacks, counting how often they stand."""
    left = Counter(key for key, _ in before)
    found = []
    for key, value in after:
        if left[key]:
            left[key] -= 1
        else:
            found.append(value)
    return found


def _step_key(step: Step) -> Hashable:
    return (step.action, step.part, step.holds, step.count, step.status)


def _steps(before: Iterable[Step], after: Iterable[Step]) -> list[Event]:
    old, new = [(_step_key(s), s) for s in before], [(_step_key(s), s) for s in after]
    gone = [_understood(step, withdrawn=True) for step in _new(new, old)]
    return [*gone, *(_understood(step, withdrawn=False) for step in _new(old, new))]


def _understood(step: Step, *, withdrawn: bool) -> Understood:
    return Understood(
        at=step.evidence[0].start if step.evidence else 0.0, action=step.action, part=step.part, holds=step.holds,
        count=step.count, status=step.status, withdrawn=withdrawn,
    )  # fmt: skip


def _reading_key(reading: Reading) -> Hashable:
    return (reading.quantity, reading.subject, reading.value, reading.value_high, reading.unit, reading.doubt)


def _readings(before: Iterable[Reading], after: Iterable[Reading]) -> list[Event]:
    old, new = [(_reading_key(r), r) for r in before], [(_reading_key(r), r) for r in after]
    events: list[Event] = [_taken(reading, withdrawn=True) for reading in _new(new, old)]
    for reading in _new(old, new):
        events.append(_taken(reading, withdrawn=False))
        if reading.doubt:
            events.append(DoubtRaised(at=reading.evidence[0].start if reading.evidence else 0.0,
                                      about=reading.spoken, instead=reading.doubt))  # fmt: skip
    return events


def _taken(reading: Reading, *, withdrawn: bool) -> ReadingTaken:
    return ReadingTaken(
        at=reading.evidence[0].start if reading.evidence else 0.0, quantity=reading.quantity, subject=reading.subject,
        value=reading.value, unit=reading.unit, spoken=reading.spoken, verdict=reading.verdict.result,
        withdrawn=withdrawn,
    )  # fmt: skip


def _checks(before: Report | None, after: Report, at: float) -> list[Event]:
    """Check states that changed; from nothing, those that are neither missing from the start nor without a call."""
    states = {c.id: c.state for c in before.checks} if before else {}
    return [
        CheckChanged(at=at, check=c.id, title=c.title, severity=c.severity, before=states.get(c.id, "not_applicable"),
                     after=c.state, reason=c.reason)
        for c in after.checks
        if c.state != states.get(c.id, "missing" if before is None and c.state == "missing" else "not_applicable")
    ]  # fmt: skip
