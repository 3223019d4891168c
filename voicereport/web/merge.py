"""What people changed in a report, kept when its words are understood anew."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, TypeVar

from voicereport.report import Appliance, Evidence, Job, Model, Report, Said

LISTS = ("complaint", "findings", "cause", "correction", "recommendations", "steps", "readings", "parts_used",
         "notes", "claims")  # fmt: skip
_M = TypeVar("_M", bound=Model)


def carry_over(earlier: Report, made: Report) -> Report:
    """`made`, from more recordings than `earlier`, with the entries of what `earlier` knew already.

    Where nobody changed anything in `earlier`, `made` stands as it is.
    """
    if not earlier.review.changes:
        return made
    known = {entry.name for entry in earlier.recordings}
    fresh = frozenset(s.id for s in made.transcript.segments if s.recording not in known)
    return _spliced(earlier, made, fresh)


def with_words(earlier: Report, made: Report, segment: str) -> Report:
    """`made`, understood from words that differ in one segment, with all that people changed elsewhere."""
    by_people = [c for c in earlier.review.changes if not c.path.startswith("/transcript")]
    if not by_people:
        return made.model_copy(update={"review": earlier.review})
    return _spliced(earlier, made, frozenset({segment}))


def _spliced(earlier: Report, made: Report, fresh: frozenset[str]) -> Report:
    """`made`, but entries that rest on no fresh segment are those of `earlier`."""
    update: dict[str, Any] = {"review": earlier.review, "job": _job(earlier.job, made.job, fresh)}
    for name in LISTS:
        update[name] = _list(name, getattr(earlier, name), getattr(made, name), fresh)
    if any(c.path.startswith("/ledger") for c in earlier.review.changes):
        items = {i.id for i in earlier.ledger.items}
        if items >= {i.id for i in made.ledger.items}:
            update["ledger"] = earlier.ledger
    return made.model_copy(update=update)


def _list(name: str, before: Sequence[Model], after: Sequence[Model], fresh: frozenset[str]) -> tuple[Model, ...]:
    """The entries of `before` that rest on nothing fresh, and those of `after` that do, in time order as they come."""
    kept = [entry for entry in before if not _rests_on(entry, fresh)]
    added = [entry for entry in after if _rests_on(entry, fresh)]
    taken = {getattr(entry, "id", None) for entry in kept}
    renamed = [_fresh_id(entry, taken) for entry in added]
    merged: list[Model] = list(kept)
    for entry in renamed:
        place = next((n for n, other in enumerate(merged) if _at(other) > _at(entry)), len(merged))
        merged.insert(place, entry)
    return tuple(merged)


def _fresh_id(entry: _M, taken: set[Any]) -> _M:
    own = getattr(entry, "id", None)
    if own is None:
        return entry
    new, n = own, 1
    while new in taken:
        n += 1
        new = f"{own}-{n}"
    taken.add(new)
    return entry.model_copy(update={"id": new}) if new != own else entry


def _evidence(entry: object) -> Iterable[Evidence]:
    return getattr(entry, "evidence", ())


def _rests_on(entry: object, fresh: frozenset[str]) -> bool:
    return any(e.segment in fresh for e in _evidence(entry))


def _at(entry: object) -> tuple[str, float]:
    """Where an entry stands: segment ids count up in the order of the recordings. Typed entries hold their place."""
    first = next(iter(_evidence(entry)), None)
    return (first.segment, first.start) if first else ("", -1.0)


def _job(before: Job, after: Job, fresh: frozenset[str]) -> Job:
    """The new job's facts, but what was typed stays, and what was known and is not said anew."""
    chosen = {name: _said(getattr(before, name), getattr(after, name), fresh) for name in Job.model_fields
              if name != "appliance"}  # fmt: skip
    plate = {name: _said(getattr(before.appliance, name), getattr(after.appliance, name), fresh)
             for name in Appliance.model_fields}  # fmt: skip
    return Job(**chosen, appliance=Appliance(**plate))


def _said(before: Said[Any] | None, after: Said[Any] | None, fresh: frozenset[str]) -> Said[Any] | None:
    if before is None or (after is not None and before.entered_by is None and _rests_on(after, fresh)):
        return after
    return before
