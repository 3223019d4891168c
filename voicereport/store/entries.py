"""Entries of the trail as values."""

from __future__ import annotations

import json

from sqlalchemy import select
from sqlalchemy.orm import Session

from voicereport.store.canonical import time_of
from voicereport.store.models import TrailRow
from voicereport.store.values import TrailEntry


def entries_of(session: Session, *, after: int, limit: int | None, job_id: int | None) -> tuple[TrailEntry, ...]:
    """Entries in order; limit None = all."""
    query = select(TrailRow).where(TrailRow.number > after).order_by(TrailRow.number).limit(limit)
    if job_id is not None:
        query = query.where(TrailRow.job_id == job_id)
    return tuple(map(entry_of, session.scalars(query)))


def entry_of(row: TrailRow) -> TrailEntry:
    """A row as a value."""
    return TrailEntry(number=row.number, at=time_of(row.at), by=row.by, act=row.act, job_id=row.job_id, about=row.about,
                      before=json.loads(row.before), after=json.loads(row.after), why=row.why, hash=row.hash,
                      )  # fmt: skip
