"""Recordings past their time are deleted, unless their job is held. The report and the trail stay."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import func, select

from voicereport.store.canonical import moment
from voicereport.store.database import Database
from voicereport.store.faults import refused
from voicereport.store.files import Files
from voicereport.store.jobs import job_row
from voicereport.store.models import JobRow, RecordingRow
from voicereport.store.recordings import recording_of
from voicereport.store.values import Recording, Swept

_OPEN_STATES = ("new", "queued", "working", "failed")  #: jobs whose recordings were not made into a report yet


class Retention:
    """How long sound is kept."""

    def __init__(self, database: Database, files: Files) -> None:
        self._database = database
        self._files = files

    def due(self, *, now: datetime, keep_days: float) -> tuple[Recording, ...]:
        """The recordings that a sweep would delete: received longer ago, not held, and made into a report."""
        if keep_days < 0:
            raise refused("retention", f"of {keep_days} days cannot be")
        query = (
            select(RecordingRow, JobRow)
            .join(JobRow, JobRow.id == RecordingRow.job_id)
            .where(RecordingRow.deleted_at.is_(None), RecordingRow.received_at < _limit(now, keep_days))
            .where(JobRow.held.is_(False), JobRow.state.not_in(_OPEN_STATES))
            .order_by(RecordingRow.id)
        )
        with self._database.read() as session:
            return tuple(recording_of(row, job, self._files) for row, job in session.execute(query))

    def sweep(self, *, now: datetime, keep_days: float, by: str) -> Swept:
        """Deletes what is due; each recording is a transaction of its own, so a sweep may be cut off and run again."""
        deleted = []
        for recording in self.due(now=now, keep_days=keep_days):
            swept = self._delete(recording.id, now=now, by=by, keep_days=keep_days)
            deleted += [] if swept is None else [swept]
        self._remove_files()
        self._files.clear_unfinished(now.timestamp())
        held = (
            select(func.count())
            .select_from(RecordingRow)
            .join(JobRow, JobRow.id == RecordingRow.job_id)
            .where(RecordingRow.deleted_at.is_(None), RecordingRow.received_at < _limit(now, keep_days), JobRow.held)
        )
        with self._database.read() as session:
            kept = session.scalar(held) or 0
        return Swept(recordings=tuple(deleted), bytes=sum(recording.bytes for recording in deleted), kept_held=kept)

    def _delete(self, recording_id: int, *, now: datetime, by: str, keep_days: float) -> Recording | None:
        with self._database.write() as writing:
            row = writing.session.get_one(RecordingRow, recording_id)
            job = job_row(writing.session, row.job_id)
            if row.deleted_at is not None or job.held:  # held in the meantime
                return None
            row.deleted_at = moment(now)
            writing.note("recording.deleted", f"job {job.id}, recording {row.position}", by=by, now=now, job_id=job.id,
                         before={"sha256": row.sha256}, why=f"kept {keep_days:g} days", rows=[row])  # fmt: skip
            return recording_of(row, job, self._files)

    def _remove_files(self) -> None:
        """Takes away the files of recordings that are deleted everywhere; those of an earlier sweep too."""
        with self._database.read() as session:
            gone = session.scalars(select(RecordingRow.sha256).where(RecordingRow.deleted_at.is_not(None)).distinct())
            there = [sha256 for sha256 in gone if self._files.recording(sha256).exists()]
        for sha256 in there:
            with self._database.write() as writing:  # under the writers' lock: nobody takes the same bytes in meanwhile
                still = (RecordingRow.sha256 == sha256, RecordingRow.deleted_at.is_(None))
                if writing.session.scalar(select(RecordingRow.id).where(*still).limit(1)) is None:
                    self._files.recording(sha256).unlink(missing_ok=True)


def _limit(now: datetime, keep_days: float) -> str:
    return moment(now - timedelta(days=keep_days))
