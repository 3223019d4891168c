"""Across jobs: which checks are skipped, where parts fail again, how an appliance's readings go.

Shares come from the tallies, which are counted with each report; so a question over all jobs reads some thousand rows.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, distinct, func, select
from sqlalchemy.orm import Session

from voicereport.store.canonical import search_key, storable, time_of, week_of
from voicereport.store.database import Database
from voicereport.store.faults import refused
from voicereport.store.jobs import Jobs, conditions, jobs_of
from voicereport.store.models import CheckTitleRow, FittedRow, JobReadingRow, JobRow, PersonRow, RepeatRow, TallyRow
from voicereport.store.people import login_key
from voicereport.store.values import Dimension, JobFilter, JobPage, Overview, Point, Repeat, Share
from voicereport.store.wilson import interval

_BLOCKED_SHOWN = 20
_JOBS_SHOWN = 20


class Overviews:
    """What a supervisor looks at."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def overview(self, *, now: datetime, weeks: int = 26) -> Overview:
        """The first page: blocked jobs, and shares over the last `weeks` weeks."""
        since = now - timedelta(weeks=weeks - 1)
        with self._database.read() as session:
            where = conditions(session, JobFilter(blocked=True))
            newest = (JobRow.happened_at.desc(), JobRow.id.desc())
            ids = session.scalars(select(JobRow.id).where(*where).order_by(*newest).limit(_BLOCKED_SHOWN)).all()
            return Overview(
                blocked=jobs_of(session, ids),
                blocked_total=session.scalar(select(func.count()).select_from(JobRow).where(*where)) or 0,
                checks=_shares(session, "check", since=since),
                technicians=_shares(session, "technician", since=since),
                job_types=_shares(session, "job_type", since=since),
                weeks=_shares(session, "week", since=since),
            )

    def shares(
        self,
        dimension: Dimension,
        *,
        check: str | None = None,
        technician: str | None = None,
        job_type: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
    ) -> tuple[Share, ...]:
        """How often checks were skipped, by `dimension`: most skipped first; weeks oldest first.

        Counted by whole ISO weeks: from the week of `since` up to, without, the week of `until`.
        Raises StoreError where both a technician and a kind of job are given.
        """
        with self._database.read() as session:
            return _shares(
                session, dimension, check=check, technician=technician, job_type=job_type, since=since, until=until
            )

    def skipped_jobs(
        self,
        check: str,
        *,
        technician: str | None = None,
        job_type: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        page: int = 1,
        size: int = 50,
    ) -> JobPage:
        """The jobs behind a share, newest first."""
        asked = JobFilter(check=check, technician=technician, job_type=job_type, since=since, until=until)
        return Jobs(self._database).page(asked, page=page, size=size)

    def repeats(self, *, model: str | None = None, at_least: int = 2, limit: int = 50) -> tuple[Repeat, ...]:
        """Parts that one appliance was fitted with more than once, most often first.

        at_least: 2 or more. model: counted over all appliances of the model instead.
        """
        with self._database.read() as session:
            return (
                _of_appliances(session, at_least, limit)
                if model is None
                else _of_model(session, model, at_least, limit)
            )

    def readings(self, serial: str, *, quantity: str | None = None, limit: int = 500) -> tuple[Point, ...]:
        """The readings of an appliance over time, oldest first; of more than `limit`, the latest."""
        where: list[ColumnElement[bool]] = [JobRow.serial_key == search_key(serial), JobRow.serial_key != ""]
        if quantity is not None:
            where.append(JobReadingRow.quantity == storable(quantity))
        query = select(JobReadingRow, JobRow.happened_at).join(JobRow, JobRow.id == JobReadingRow.job_id).where(*where)
        latest = query.order_by(JobRow.happened_at.desc(), JobRow.id.desc(), JobReadingRow.position.desc()).limit(limit)
        with self._database.read() as session:
            rows = session.execute(latest).all()
        return tuple(_point(reading, at) for reading, at in reversed(rows))


def _shares(
    session: Session,
    dimension: Dimension,
    *,
    check: str | None = None,
    technician: str | None = None,
    job_type: str | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
) -> tuple[Share, ...]:
    source, key = _source(dimension, technician, job_type)
    where: list[ColumnElement[bool]] = [TallyRow.dimension == source]
    where += [] if key is None else [TallyRow.key == key]
    where += [] if check is None else [TallyRow.check_id == storable(check)]
    where += [] if since is None else [TallyRow.week >= week_of(since)]
    where += [] if until is None else [TallyRow.week < week_of(until)]
    group: Any = {"check": TallyRow.check_id, "week": TallyRow.week}.get(dimension, TallyRow.key)
    applicable = func.sum(TallyRow.applicable)
    query = select(group, func.sum(TallyRow.skipped), applicable).where(*where).group_by(group).having(applicable > 0)
    rows = [(str(name), int(skipped), int(of)) for name, skipped, of in session.execute(query)]
    shares = _named(session, dimension, rows)
    return tuple(sorted(shares, key=lambda share: share.key if dimension == "week" else (-share.share, share.key)))


def _source(dimension: Dimension, technician: str | None, job_type: str | None) -> tuple[str, str | None]:
    """Which tallies to read, and which key of theirs; None = all keys."""
    if technician is not None and job_type is not None:
        raise refused("overview", "counts by technician or by kind of job, not by both", "leave one out")
    if technician is not None:
        wanted = ("technician", login_key(technician))
    elif job_type is not None:
        wanted = ("job_type", storable(job_type))
    else:
        return (dimension, None) if dimension in ("technician", "job_type") else ("", "")
    if dimension in ("technician", "job_type") and dimension != wanted[0]:
        raise refused("overview", f"cannot count {dimension} within {wanted[0]}", "leave one out")
    return wanted


def _named(session: Session, dimension: Dimension, rows: Sequence[tuple[str, int, int]]) -> Iterable[Share]:
    titles: dict[str, tuple[str, Any]] = {}
    if dimension == "check":
        titles = {row.check_id: (row.title, row.severity) for row in session.scalars(select(CheckTitleRow))}
    elif dimension == "technician":
        titles = {row.login: (row.name, None) for row in session.execute(select(PersonRow.login, PersonRow.name))}
    for key, skipped, applicable in rows:
        low, high = interval(skipped, applicable)
        title, severity = titles.get(key, (key, None))
        yield Share(key=key, title=title, severity=severity, skipped=skipped, applicable=applicable,
                    share=skipped / applicable, low=low, high=high)  # fmt: skip


def _of_appliances(session: Session, at_least: int, limit: int) -> tuple[Repeat, ...]:
    row = RepeatRow
    query = select(row.serial_key, row.part, row.times, row.first_at, row.last_at).where(row.times >= at_least)
    query = query.order_by(row.times.desc(), row.last_at.desc(), row.serial_key, row.part).limit(limit)
    groups = session.execute(query).all()
    behind = _behind(session, [(serial_key, part) for serial_key, part, *_ in groups])
    newest = {jobs[0] for jobs in behind.values()}
    plates = {row.id: row for row in session.execute(_PLATE.where(JobRow.id.in_(newest)))}
    found = []
    for serial_key, part, count, first, last in groups:
        jobs = behind[serial_key, part]
        plate = plates[jobs[0]]
        found.append(Repeat(part=part, model=plate.model, serial=plate.serial, times=count, appliances=1,
                            first_at=time_of(first), last_at=time_of(last), jobs=jobs[:_JOBS_SHOWN]))  # fmt: skip
    return tuple(found)


_PLATE = select(JobRow.id, JobRow.model, JobRow.serial)


def _behind(session: Session, groups: Sequence[tuple[str, str]]) -> dict[tuple[str, str], tuple[int, ...]]:
    """The jobs in which a part was fitted to an appliance, newest first; for each (serial key, part) of `groups`."""
    # By the appliance alone: SQLite looks up no pairs in an index, and reads all rows for them.
    wanted = FittedRow.serial_key.in_({serial_key for serial_key, _ in groups})
    newest = (FittedRow.happened_at.desc(), FittedRow.job_id.desc())
    query = select(FittedRow.serial_key, FittedRow.part, FittedRow.job_id).where(wanted).order_by(*newest)
    jobs: dict[tuple[str, str], list[int]] = {group: [] for group in groups}
    for serial_key, part, job_id in session.execute(query):
        if (serial_key, part) in jobs:
            jobs[serial_key, part].append(job_id)
    return {group: tuple(ids) for group, ids in jobs.items()}


def _of_model(session: Session, model: str, at_least: int, limit: int) -> tuple[Repeat, ...]:
    times, appliances = func.count(), func.count(distinct(func.nullif(FittedRow.serial_key, "")))
    key = search_key(model)
    query = (
        select(FittedRow.part, times, appliances, func.min(FittedRow.happened_at), func.max(FittedRow.happened_at))
        .where(FittedRow.model_key == key)
        .group_by(FittedRow.part)
        .having(times >= at_least)
        .order_by(times.desc(), FittedRow.part)
        .limit(limit)
    )
    found = []
    for part, count, of, first, last in session.execute(query).all():
        jobs = _jobs(session, (FittedRow.model_key == key, FittedRow.part == part))
        found.append(Repeat(part=part, model=model, serial=None, times=count, appliances=of, first_at=time_of(first),
                            last_at=time_of(last), jobs=jobs))  # fmt: skip
    return tuple(found)


def _jobs(session: Session, where: Sequence[ColumnElement[bool]]) -> tuple[int, ...]:
    newest = (FittedRow.happened_at.desc(), FittedRow.job_id.desc())
    return tuple(session.scalars(select(FittedRow.job_id).where(*where).order_by(*newest).limit(_JOBS_SHOWN)))


def _point(row: JobReadingRow, at: str) -> Point:
    return Point(job_id=row.job_id, at=time_of(at), quantity=row.quantity, subject=row.subject, stage=row.stage,
                 value=row.value, unit=row.unit, verdict=row.verdict)  # fmt: skip
