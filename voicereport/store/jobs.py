"""Jobs: made, listed page by page, held, looked back on; and the appliances that they were done on."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any, cast

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from voicereport.store.canonical import canonical, moment, range_of, search_key, storable, time_of, week_of
from voicereport.store.database import Database
from voicereport.store.entries import entries_of
from voicereport.store.faults import conflict, not_found, refused
from voicereport.store.index import reindex
from voicereport.store.models import ApplianceRow, JobCheckRow, JobRow, PersonRow
from voicereport.store.people import login_key, person_row
from voicereport.store.values import ApplianceRecord, Job, JobFilter, JobPage, NewJob, TrailEntry

LARGEST_PAGE = 500
ALL = JobFilter()
TYPED = tuple(f.name for f in fields(NewJob) if f.name not in ("technician", "key"))  #: what may be typed of a job
SHOWN = tuple(
    f.name
    for f in fields(Job)
    if f.name not in ("technician", "technician_name", "state", "status", "created_at", "updated_at", "happened_at")
)


class Jobs:
    """All jobs."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def create(self, new: NewJob, *, by: str, now: datetime) -> Job:
        """A new job; with a key that is known, the job of that key, unchanged."""
        with self._database.write() as writing:
            session = writing.session
            key = None if new.key is None else storable(new.key)
            if key is not None and (known := session.scalar(select(JobRow).where(JobRow.key == key))):
                return job_of(known, session.get_one(PersonRow, known.technician_id))
            person = person_row(session, new.technician)
            typed = {name: value for name in TYPED if (value := _typed(name, getattr(new, name))) is not None}
            row = JobRow(key=key, technician_id=person.id, state="new", typed=canonical(typed), held=False,
                         version=0, issued=0, created_at=moment(now), updated_at=moment(now), happened_at=moment(now),
                         week=week_of(now), open_stops=0, open_warnings=0, questions=0, recordings=0, attention=0,
                         )  # fmt: skip
            session.add(row)
            session.flush()
            reindex(session, row, None)
            after = {"technician": person.login, **typed}
            writing.note("job.created", f"job {row.id}", by=by, now=now, job_id=row.id, after=after, rows=[row])
            return job_of(row, person)

    def get(self, job_id: int) -> Job:
        """A job. Raises StoreError (not_found)."""
        with self._database.read() as session:
            row = job_row(session, job_id)
            return job_of(row, session.get_one(PersonRow, row.technician_id))

    def by_key(self, key: str) -> Job | None:
        """The job that a sender's key stands for; None where there is none."""
        query = select(JobRow, PersonRow).join(PersonRow, PersonRow.id == JobRow.technician_id)
        with self._database.read() as session:
            found = session.execute(query.where(JobRow.key == storable(key))).first()
            return None if found is None else job_of(*found)

    def page(self, filter: JobFilter = ALL, *, page: int = 1, size: int = 50) -> JobPage:
        """One page of a list of jobs."""
        check_page(page, size)
        with self._database.read() as session:
            where = conditions(session, filter)
            total = session.scalar(select(func.count()).select_from(JobRow).where(*where)) or 0
            return JobPage(items=self._items(session, filter, where, page, size), total=total, page=page, size=size)

    def _items(
        self, session: Session, filter: JobFilter, where: list[ColumnElement[bool]], page: int, size: int
    ) -> tuple[Job, ...]:
        newest = (JobRow.happened_at.desc(), JobRow.id.desc())
        orders: Mapping[str, tuple[Any, ...]] = {
            "newest": newest,
            "oldest": (JobRow.happened_at, JobRow.id),
            "blocked_first": (JobRow.attention.desc(), *newest),
        }
        # The ids first: they come out of an index alone, so that a late page costs little.
        ids = select(JobRow.id).where(*where).order_by(*orders[filter.order]).offset((page - 1) * size).limit(size)
        return jobs_of(session, session.scalars(ids).all())

    def change(self, job_id: int, *, by: str, now: datetime, why: str, **typed: str | None) -> Job:
        """Other typed facts, or another technician. Raises StoreError for a name that NewJob has not."""
        unknown = sorted(set(typed) - {*TYPED, "technician"})
        if unknown:
            raise refused("job", f"has no {', '.join(unknown)}")
        with self._database.write() as writing:
            session = writing.session
            row = job_row(session, job_id)
            person = session.get_one(PersonRow, row.technician_id)
            before = {"technician": person.login, **json.loads(row.typed)}
            merged = before | {name: _typed(name, value) for name, value in typed.items()}
            person = person_row(session, merged.pop("technician") or person.login)
            kept = {name: value for name, value in merged.items() if value is not None}
            after = {"technician": person.login, **kept}
            if after == before:
                return job_of(row, person)
            reindex(session, row, None, typed=canonical(kept), technician_id=person.id)
            row.updated_at = moment(now)
            writing.note("job.changed", f"job {row.id}", by=by, now=now, job_id=row.id, before=before, after=after,
                         why=why, rows=[row])  # fmt: skip
            return job_of(row, person)

    def hold(self, job_id: int, held: bool, *, by: str, now: datetime, why: str) -> Job:
        """Keeps the job's audio past the set time, or no longer."""
        with self._database.write() as writing:
            row = job_row(writing.session, job_id)
            if row.held != held:
                row.held, row.updated_at = held, moment(now)
                writing.note("job.held" if held else "job.released", f"job {row.id}", by=by, now=now, job_id=row.id,
                             before=not held, after=held, why=why, rows=[row])  # fmt: skip
            return job_of(row, writing.session.get_one(PersonRow, row.technician_id))

    def history(self, job_id: int) -> tuple[TrailEntry, ...]:
        """The job's part of the trail, oldest first."""
        with self._database.read() as session:
            job_row(session, job_id)
            return entries_of(session, after=0, limit=None, job_id=job_id)

    def appliances(self, text: str = "", *, limit: int = 20) -> tuple[ApplianceRecord, ...]:
        """Appliances whose serial or model begins with `text`, the latest first."""
        query = select(ApplianceRow, JobRow).join(JobRow, JobRow.id == ApplianceRow.last_job_id)
        if key := search_key(text):
            first, end = range_of(key)
            by_serial = (ApplianceRow.serial_key >= first) & (ApplianceRow.serial_key < end)
            query = query.where(by_serial | ((ApplianceRow.model_key >= first) & (ApplianceRow.model_key < end)))
        latest = query.order_by(ApplianceRow.last_job_id.desc()).limit(limit)
        with self._database.read() as session:
            return tuple(_appliance(job, row.jobs) for row, job in session.execute(latest))

    def appliance(self, serial: str) -> ApplianceRecord | None:
        """The appliance of a serial, as its last job knew it; None where no job names it."""
        with self._database.read() as session:
            row = session.get(ApplianceRow, search_key(serial))
            return None if row is None else _appliance(session.get_one(JobRow, row.last_job_id), row.jobs)


def conditions(session: Session, filter: JobFilter) -> list[ColumnElement[bool]]:
    """What a filter asks of JobRow."""
    where: list[ColumnElement[bool]] = []
    if filter.technician is not None:
        person = session.scalar(select(PersonRow.id).where(PersonRow.login == login_key(filter.technician)))
        where.append(JobRow.technician_id == (-1 if person is None else person))
    if filter.states:
        where.append(JobRow.state.in_(filter.states))
    if filter.statuses:
        where.append(JobRow.status.in_(filter.statuses))
    if filter.check is not None:
        open_here = select(JobCheckRow.job_id).where(JobCheckRow.check_id == storable(filter.check), JobCheckRow.open)
        where.append(JobRow.id.in_(open_here))
    if filter.job_type is not None:
        where.append(JobRow.job_type == storable(filter.job_type))
    if filter.model is not None:
        where.append(JobRow.model_key == search_key(filter.model))
    if filter.serial is not None:
        where.append(JobRow.serial_key == search_key(filter.serial))
    if filter.since is not None:
        where.append(JobRow.happened_at >= moment(filter.since))
    if filter.until is not None:
        where.append(JobRow.happened_at < moment(filter.until))
    if filter.blocked:
        where.append(JobRow.attention == 2)
    elif filter.needs_attention:
        where.append(JobRow.attention > 0)
    if filter.clear:
        where.append(JobRow.attention == 0)
    return where


def check_page(page: int, size: int) -> None:
    """Raises StoreError for a page that cannot be."""
    if page < 1 or not 1 <= size <= LARGEST_PAGE:
        raise refused("page", f"{page} of {size} lines cannot be shown", f"ask for 1 to {LARGEST_PAGE} lines")


def job_row(session: Session, job_id: int) -> JobRow:
    """The row of a job. Raises StoreError (not_found)."""
    row = session.get(JobRow, job_id)
    if row is None:
        raise not_found(f"job {job_id}")
    return row


def expect_version(row: JobRow, expected: int) -> None:
    """Raises StoreError (conflict) where the latest report is not the one that was taken for granted."""
    if row.version != expected:
        problem = f"is at version {row.version}, not {expected}: somebody else has changed it"
        raise conflict(f"job {row.id}", problem, "look at it again")


def jobs_of(session: Session, ids: Iterable[int]) -> tuple[Job, ...]:
    """The jobs of `ids`, in their order."""
    wanted = list(ids)
    query = select(JobRow, PersonRow).join(PersonRow, PersonRow.id == JobRow.technician_id)
    by_id = {row.id: job_of(row, person) for row, person in session.execute(query.where(JobRow.id.in_(wanted)))}
    return tuple(by_id[job_id] for job_id in wanted if job_id in by_id)


def job_of(row: JobRow, person: PersonRow) -> Job:
    """A row as a value."""
    return Job(
        **{name: getattr(row, name) for name in SHOWN},
        state=cast("Any", row.state),
        status=cast("Any", row.status),
        technician=person.login,
        technician_name=person.name,
        created_at=time_of(row.created_at),
        updated_at=time_of(row.updated_at),
        happened_at=time_of(row.happened_at),
    )


def _typed(name: str, value: Any) -> str | None:
    """A typed fact; blank = not known."""
    if value is None:
        return None
    if not isinstance(value, str):
        raise refused(f"job: {name}", "is no text")
    return storable(value).strip() or None


def _appliance(row: JobRow, count: int) -> ApplianceRecord:
    return ApplianceRecord(serial=row.serial or "", kind=row.appliance_kind, maker=row.maker, model=row.model,
                           jobs=count, last_at=time_of(row.happened_at))  # fmt: skip
