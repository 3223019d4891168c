"""A transaction that writes: what it changes and what it notes in the trail are on disk together, or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import inspect, select
from sqlalchemy.orm import Session

from voicereport.store.canonical import canonical, digest, moment, storable
from voicereport.store.heads import Head, Heads
from voicereport.store.models import Base, TrailRow

GENESIS = "0" * 64  #: what the first entry names as the hash before it


class Writing:
    """An open transaction. `session` is for rows, `note` for the trail; a change of a sealed row needs a note."""

    def __init__(self, session: Session, heads: Heads) -> None:
        self.session = session
        self._heads = heads
        self._before: Head | None = None
        self._last: Head | None = None

    def note(
        self,
        act: str,
        about: str,
        *,
        by: str,
        now: datetime,
        job_id: int | None = None,
        before: Any = None,
        after: Any = None,
        why: str | None = None,
        rows: Sequence[Base] = (),
    ) -> TrailRow:
        """Appends an entry to the trail. rows: the sealed rows that this act made or changed, as they are now."""
        self.session.flush()
        number, previous = self._end()
        entry = TrailRow(
            number=number + 1,
            at=moment(now),
            by=storable(by),
            act=act,
            job_id=job_id,
            about=storable(about),
            before=canonical(before),
            after=canonical(after),
            why=None if why is None else storable(why),
            seals=canonical([seal(row) for row in rows]),
            previous=previous or GENESIS,
        )
        entry.hash = entry_hash(entry)
        self.session.add(entry)
        self._last = (entry.number, entry.hash)
        return entry

    def commit(self) -> None:
        """Puts everything on disk. Before that the head file learns where the trail will end, after it that it does."""
        self.session.flush()
        if self._last is None or self._before is None:
            self.session.commit()
            return
        self._heads.about_to_write(self._before, self._last)
        self.session.commit()
        self._heads.written(self._last)

    def _end(self) -> Head:
        if self._last is not None:
            return self._last
        self._before = self._last = trail_end(self.session)
        return self._last


def trail_end(session: Session) -> Head:
    """Number and hash of the last entry of the trail; (0, "") where there is none."""
    row = session.execute(select(TrailRow.number, TrailRow.hash).order_by(TrailRow.number.desc()).limit(1)).first()
    return (row.number, row.hash) if row else (0, "")


def entry_hash(entry: Any) -> str:
    """SHA-256 over all columns of an entry but its own hash, the hash before it among them."""
    return digest(canonical([entry.number, entry.at, entry.by, entry.act, entry.job_id, entry.about, entry.before,
                             entry.after, entry.why, entry.seals, entry.previous]))  # fmt: skip


def seal(row: Base) -> tuple[str, str, str]:
    """Table, key and digest of a sealed row as it is now."""
    values = [getattr(row, name) for name in type(row).__sealed__]
    return seal_values(type(row), inspect(row).identity or (), values)


def seal_values(table: type[Base], key: Sequence[Any], values: Sequence[Any]) -> tuple[str, str, str]:
    """The seal of a row of `table`, from its key and its sealed columns in their order."""
    name = table.__tablename__
    return name, ",".join(map(str, key)), digest(canonical([name, list(key), list(values)]))
