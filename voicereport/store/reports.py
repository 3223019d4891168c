"""Reports: each change is a version of its own, and all versions stay."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any, cast

from sqlalchemy import select
from sqlalchemy.orm import Session

from voicereport.report import Report, dump_json
from voicereport.store.canonical import canonical, digest, moment, required, time_of
from voicereport.store.database import Database
from voicereport.store.edits import edited
from voicereport.store.faults import damaged, not_found
from voicereport.store.index import reindex, settle
from voicereport.store.jobs import expect_version, job_row
from voicereport.store.models import BodyRow, JobRow, ReportRow
from voicereport.store.queue import Queue, open_work
from voicereport.store.values import Edit, JobState, StoredReport, Task, VersionLine
from voicereport.store.writing import Writing


class Reports:
    """The reports of all jobs."""

    def __init__(self, database: Database, queue: Queue) -> None:
        self._database = database
        self._queue = queue

    def latest(self, job_id: int) -> StoredReport | None:
        """The newest version; None where there is no report yet. Raises StoreError (not_found) for no such job."""
        with self._database.read() as session:
            version = job_row(session, job_id).version
            return None if version == 0 else load(session, job_id, version)

    def get(self, job_id: int, version: int) -> StoredReport:
        """One version. Raises StoreError (not_found)."""
        with self._database.read() as session:
            return load(session, job_id, version)

    def versions(self, job_id: int) -> tuple[VersionLine, ...]:
        """The history of a job's report, oldest first."""
        with self._database.read() as session:
            job_row(session, job_id)
            rows = session.scalars(select(ReportRow).where(ReportRow.job_id == job_id).order_by(ReportRow.version))
            return tuple(map(_line_of, rows))

    def save(
        self, job_id: int, report: Report, *, by: str, now: datetime, why: str, expected: int | None = None
    ) -> StoredReport:
        """A new version. expected: the version that it replaces; another one there is a conflict. None = whatever."""
        with self._database.write() as writing:
            row = job_row(writing.session, job_id)
            if expected is not None:
                expect_version(row, expected)
            return put_version(writing, row, report, act="report.saved", by=by, now=now, why=why)

    def save_result(
        self, task: Task, report: Report, *, by: str, now: datetime, why: str, expected: int | None = None
    ) -> StoredReport | None:
        """What a worker made, with its task finished, in one transaction.

        None where the task is over or somebody else's by now: then nothing is written, so twice is once.
        expected: the version that it was made from, 0 = none. Raises StoreError (conflict) where people have changed
        the report since; the task goes on then.
        """
        with self._database.write() as writing:
            if not self._queue.end(writing, task, now=now):
                return None
            row = job_row(writing.session, task.job_id)
            if expected is not None:
                expect_version(row, expected)
            return put_version(writing, row, report, act="report.made", by=by, now=now, why=why)

    def edit(
        self,
        job_id: int,
        edits: Sequence[Edit],
        *,
        expected: int,
        by: str,
        now: datetime,
        recheck: Callable[[Report], Report] | None = None,
    ) -> StoredReport:
        """A new version with `edits` made, in which each is told. recheck: judges and checks the outcome anew."""
        stored = self.get(job_id, expected)
        changed = edited(stored.report, edits, by=by, at=moment(now))
        checked = changed if recheck is None else recheck(changed)  # may take a while: nobody waits for it
        told = [change.model_dump(mode="json") for change in changed.review.changes[-len(edits) :]]
        with self._database.write() as writing:
            row = job_row(writing.session, job_id)
            expect_version(row, expected)
            why = "; ".join(dict.fromkeys(edit.why for edit in edits))
            before = [{"path": line["path"], "value": line["before"]} for line in told]
            after = [{"path": line["path"], "value": line["after"]} for line in told]
            return put_version(
                writing, row, checked, act="report.edited", by=by, now=now, why=why, before=before, after=after
            )


def put_version(
    writing: Writing,
    row: JobRow,
    report: Report,
    *,
    act: str,
    by: str,
    now: datetime,
    why: str,
    before: Any = None,
    after: Any = None,
    state: JobState | None = None,
) -> StoredReport:
    """Writes the next version of a job's report, all that is taken out of it, and the entry of the trail.

    state: what the job is then; None = ready, or as it is while work or questions are open.
    """
    session = writing.session
    body = dump_json(report)
    canonical([reading.value for reading in report.readings])  # refuses what is no JSON number
    version = row.version + 1
    stored = ReportRow(job_id=row.id, version=version, saved_at=moment(now), saved_by=by, why=required("why", why),
                       sha256=digest(body), status=report.status)  # fmt: skip
    session.add(stored)
    session.add(BodyRow(job_id=row.id, version=version, packed=zlib.compress(body.encode(), 6)))
    session.flush()
    reindex(session, row, report)
    row.version, row.updated_at, row.problem = version, moment(now), None
    row.state = state or _state_after(session, row)
    settle(session, row)
    writing.note(act, f"job {row.id}, version {version}", by=by, now=now, job_id=row.id, before=before, why=why,
                 after={"sha256": stored.sha256, "status": report.status, "changes": after}, rows=[row, stored],
                 )  # fmt: skip
    return StoredReport(job_id=row.id, version=version, saved_at=now, saved_by=by, why=stored.why,
                        sha256=stored.sha256, report=report)  # fmt: skip


def load(session: Session, job_id: int, version: int) -> StoredReport:
    """One version from the tables. Raises StoreError (not_found, or damaged where it is not what was saved)."""
    row, body = session.get(ReportRow, (job_id, version)), session.get(BodyRow, (job_id, version))
    place = f"job {job_id}, version {version}"
    if row is None or body is None:
        raise not_found(place)
    content = unpack(body.packed, place)
    if digest(content) != row.sha256:
        raise damaged(place, "is not the report that was saved", "run voicereport audit verify")
    return StoredReport(job_id=job_id, version=version, saved_at=time_of(row.saved_at), saved_by=row.saved_by,
                        why=row.why, sha256=row.sha256, report=Report.model_validate_json(content))  # fmt: skip


def unpack(packed: bytes, place: str) -> bytes:
    """report.json out of its packing. Raises StoreError (damaged)."""
    try:
        return zlib.decompress(packed)
    except zlib.error as error:
        raise damaged(place, f"cannot be unpacked ({error})", "run voicereport audit verify") from error


def _state_after(session: Session, row: JobRow) -> JobState:
    return open_work(session, row.id) or ("sent_back" if row.questions else "ready")


def _line_of(row: ReportRow) -> VersionLine:
    return VersionLine(version=row.version, saved_at=time_of(row.saved_at), saved_by=row.saved_by, why=row.why,
                       sha256=row.sha256, status=cast("Any", row.status))  # fmt: skip
