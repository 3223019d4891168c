"""The audit trail: who did what, when and why, each entry chained to the one before; and what it vouches for, verified.

Each entry has the SHA-256 of its own columns with the hash of the entry before it. Each entry also seals the rows that
its act made or changed: their digests stand in it. So a change of any sealed column, and any row that came or went
without an entry, is found; and the head file tells of entries that were taken off the end.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from voicereport.store.audit import Auditor
from voicereport.store.database import Database
from voicereport.store.entries import entries_of, entry_of
from voicereport.store.files import Files
from voicereport.store.values import TrailEntry, Verification
from voicereport.store.writing import trail_end


class Trail:
    """The trail of everything that was done."""

    def __init__(self, database: Database, files: Files) -> None:
        self._database = database
        self._files = files

    def verify(
        self, *, files: bool = False, derived: bool = False, expect: tuple[int, str] | None = None
    ) -> Verification:
        """Everything that is not as the trail says.

        files: also take the digest of each recording and document. derived: also make anew what is taken out of the
        reports, and compare. expect: number and hash of an entry, as written down elsewhere.
        """
        known = self._database.heads.known()
        with self._database.read() as session:
            auditor = Auditor(session, self._files)
            auditor.chain(known, self._database.heads.known, expect)
            auditor.rows()
            auditor.bodies(derived=derived)
            if derived:
                auditor.tallies()
                auditor.repeats()
            if files:
                auditor.files()
            return auditor.verification()

    def entries(self, *, after: int = 0, limit: int = 100, job_id: int | None = None) -> tuple[TrailEntry, ...]:
        """Entries in order, beginning after a number; of one job where it is given."""
        with self._database.read() as session:
            return entries_of(session, after=after, limit=limit, job_id=job_id)

    def head(self) -> tuple[int, str]:
        """Number and hash of the last entry, to be written down elsewhere; (0, "") where there is none."""
        with self._database.read() as session:
            return trail_end(session)

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
    ) -> TrailEntry:
        """An entry for something that the store does not keep itself, such as another letterhead."""
        with self._database.write() as writing:
            row = writing.note(act, about, by=by, now=now, job_id=job_id, before=before, after=after, why=why)
            return entry_of(row)
