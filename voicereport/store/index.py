"""What the lists, the search and the overview read: taken out of the typed facts and the latest report of a job.

All of it can be made anew from the reports; nothing here is vouched for by the trail.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, delete, func, insert, select, text
from sqlalchemy.orm import Session

from voicereport.report import Report, Said
from voicereport.store.canonical import moment, search_key, storable, time_of, week_of
from voicereport.store.models import (
    ApplianceRow,
    CheckTitleRow,
    FittedRow,
    JobCheckRow,
    JobReadingRow,
    JobRow,
    OverrideRow,
    PersonRow,
    RepeatRow,
    SearchTextRow,
)
from voicereport.store.values import SKIPPED

_ADD_TALLY = text("""
INSERT INTO tallies (dimension, key, week, check_id, applicable, skipped)
VALUES (:dimension, :key, :week, :check_id, :applicable, :skipped)
ON CONFLICT (dimension, key, week, check_id) DO UPDATE
SET applicable = tallies.applicable + excluded.applicable, skipped = tallies.skipped + excluded.skipped
""")
_FACTS = ("work_order", "customer", "site", "trade", "job_type")
_PLATE = (("appliance_kind", "kind"), ("maker", "maker"), ("model", "model"), ("serial", "serial"))
_LONGEST_KEY = 300
_LONGEST_FACT = 500  #: signs of a fact in a list; the report has it whole
_LONGEST_UNIT = 40


@dataclass(frozen=True, kw_only=True, slots=True)
class Extract:
    """Rows of a report, as they go into the tables, without the job's number."""

    checks: tuple[dict[str, Any], ...]
    readings: tuple[dict[str, Any], ...]
    fitted: tuple[str, ...]
    words: str
    parts: str


def extract(report: Report) -> Extract:
    """What is taken out of a report."""
    return Extract(
        checks=tuple(
            {"check_id": check.id[:200], "severity": check.severity, "state": check.state,
             "open": check.state in SKIPPED, "title": storable(check.title)}
            for check in {check.id: check for check in report.checks}.values()
        ),
        readings=tuple(
            {"position": n, "quantity": r.quantity, "subject": _clean(r.subject), "stage": r.stage, "value": r.value,
             "value_high": r.value_high, "unit": None if r.unit is None else storable(r.unit)[:_LONGEST_UNIT],
             "verdict": r.verdict.result}
            for n, r in enumerate(report.readings) if r.value is not None
        ),
        fitted=tuple(dict.fromkeys(_part(used.part) for used in report.parts_used)),
        words=storable("\n".join(_words(report))),
        parts=storable("\n".join(dict.fromkeys(_parts(report)))),
    )  # fmt: skip


def reindex(
    session: Session,
    row: JobRow,
    report: Report | None,
    *,
    typed: str | None = None,
    technician_id: int | None = None,
) -> None:
    """Brings everything that is taken out of a job up to its facts. None = the report is as it was.

    typed, technician_id: what becomes of the job's columns; they are counted under the old ones until here.
    """
    _tally(session, row, sign=-1)
    serial_before = row.serial_key or ""
    row.typed = row.typed if typed is None else typed
    row.technician_id = row.technician_id if technician_id is None else technician_id
    found = None if report is None else extract(report)
    if found is not None:
        _put_rows(session, row.id, found)
    _put_facts(row, session, report)
    session.flush()
    for key in {serial_before, row.serial_key} - {""}:
        _put_appliance(session, key)
    _put_fitted(session, row, found)
    _put_text(session, row, found)
    _tally(session, row, sign=+1)
    settle(session, row)


def settle(session: Session, row: JobRow) -> None:
    """Counts the open checks of a job, without those that are overridden, and what else needs attention."""
    lifted = select(OverrideRow.check_id).where(OverrideRow.job_id == row.id, OverrideRow.lifted_at.is_(None))
    overridden = set(session.scalars(lifted))
    still = select(JobCheckRow.check_id, JobCheckRow.severity).where(JobCheckRow.job_id == row.id, JobCheckRow.open)
    severities = [severity for check, severity in session.execute(still) if check not in overridden]
    row.open_stops = severities.count("stop")
    row.open_warnings = len(severities) - row.open_stops
    row.attention = 2 if row.open_stops else 1 if row.questions or row.state == "failed" else 0


def _put_rows(session: Session, job_id: int, found: Extract) -> None:
    for table in (JobCheckRow, JobReadingRow):
        session.execute(delete(table).where(table.job_id == job_id))
    rows = [{"job_id": job_id} | {k: v for k, v in check.items() if k != "title"} for check in found.checks]
    if rows:
        session.execute(insert(JobCheckRow), rows)
        _put_titles(session, found)
    if found.readings:
        session.execute(insert(JobReadingRow), [{"job_id": job_id} | reading for reading in found.readings])


def _put_titles(session: Session, found: Extract) -> None:
    ids = [check["check_id"] for check in found.checks]
    known = {row.check_id: row for row in session.scalars(select(CheckTitleRow).where(CheckTitleRow.check_id.in_(ids)))}
    for check in found.checks:
        row = known.get(check["check_id"])
        if row is None:
            session.add(CheckTitleRow(**{k: check[k] for k in ("check_id", "title", "severity")}))
        elif (row.title, row.severity) != (check["title"], check["severity"]):
            row.title, row.severity = check["title"], check["severity"]


def _put_facts(row: JobRow, session: Session, report: Report | None) -> None:
    typed = json.loads(row.typed)
    if report is None and row.version:
        report_facts: dict[str, str | None] = json.loads(row.said)
    else:
        report_facts = {} if report is None else _said(report)
        row.said = json.dumps(report_facts, sort_keys=True)
    for name in (*_FACTS, *(column for column, _ in _PLATE)):
        fact = report_facts.get(name) or typed.get(name)
        setattr(row, name, fact and fact[:_LONGEST_FACT])
    row.model_key, row.serial_key = search_key(row.model), search_key(row.serial)
    happened = _date(report_facts.get("recorded_at")) or time_of(row.created_at)
    row.happened_at, row.week = moment(happened), week_of(happened)
    if report is not None:
        row.status = report.status


def _said(report: Report) -> dict[str, str | None]:
    job, plate = report.job, report.job.appliance
    facts = {name: _value(getattr(job, name)) for name in (*_FACTS, "recorded_at")}
    return facts | {column: _value(getattr(plate, name)) for column, name in _PLATE}


def _value(said: Said[str] | None) -> str | None:
    return None if said is None else storable(said.value)


def _clean(value: str | None) -> str | None:
    return None if value is None else storable(value)


def _date(value: str | None) -> datetime | None:
    """When a recording was made; None where the report does not say it as a time with a zone."""
    if value is None:
        return None
    try:
        at = datetime.fromisoformat(value)
    except ValueError:
        return None
    return at if at.tzinfo is not None else None


def _put_appliance(session: Session, key: str) -> None:
    """Counts the jobs of an appliance anew."""
    latest = select(JobRow.id, JobRow.model_key).where(JobRow.serial_key == key).order_by(JobRow.id.desc()).limit(1)
    last = session.execute(latest).first()
    stored = session.get(ApplianceRow, key)
    if last is None:
        if stored is not None:
            session.delete(stored)
            session.flush()
        return
    jobs = session.scalar(select(func.count()).where(JobRow.serial_key == key)) or 0
    if stored is None:
        session.add(ApplianceRow(serial_key=key, model_key=last.model_key, jobs=jobs, last_job_id=last.id))
    else:
        stored.model_key, stored.jobs, stored.last_job_id = last.model_key, jobs, last.id
    session.flush()


def _put_fitted(session: Session, row: JobRow, found: Extract | None) -> None:
    here = select(FittedRow.serial_key, FittedRow.part).where(FittedRow.job_id == row.id)
    before = [(serial_key, part) for serial_key, part in session.execute(here)]
    parts = tuple(part for _, part in before) if found is None else found.fitted
    session.execute(delete(FittedRow).where(FittedRow.job_id == row.id))
    rows = [{"job_id": row.id, "part": part, "model_key": row.model_key, "serial_key": row.serial_key,
             "happened_at": row.happened_at} for part in parts]  # fmt: skip
    if rows:
        session.execute(insert(FittedRow), rows)
    for serial_key, part in {*before, *((row.serial_key, part) for part in parts)}:
        if serial_key:
            _put_repeat(session, serial_key, part)


def _put_repeat(session: Session, serial_key: str, part: str) -> None:
    """Counts anew how often an appliance was fitted with a part."""
    counted = select(func.count(), func.min(FittedRow.happened_at), func.max(FittedRow.happened_at)).where(
        FittedRow.serial_key == serial_key, FittedRow.part == part
    )
    times, first, last = session.execute(counted).one()
    session.execute(delete(RepeatRow).where(RepeatRow.serial_key == serial_key, RepeatRow.part == part))
    if times > 1:
        session.execute(insert(RepeatRow), [{"serial_key": serial_key, "part": part, "times": times, "first_at": first,
                                             "last_at": last}])  # fmt: skip


def counted_repeats() -> Select[str, str, int, str, str]:
    """All repeats as the rows of parts that were fitted give them."""
    row = FittedRow
    columns = (row.serial_key, row.part, func.count(), func.min(row.happened_at), func.max(row.happened_at))
    return select(*columns).where(row.serial_key != "").group_by(row.serial_key, row.part).having(func.count() > 1)


def put_all_repeats(session: Session) -> None:
    """Makes the repeats anew, after many rows were written past `reindex`."""
    session.execute(delete(RepeatRow))
    session.execute(insert(RepeatRow).from_select(["serial_key", "part", "times", "first_at", "last_at"],
                                                  counted_repeats()))  # fmt: skip


def _put_text(session: Session, row: JobRow, found: Extract | None) -> None:
    stored = session.get(SearchTextRow, row.id)
    facts = (row.work_order, row.customer, row.site, row.job_type, row.appliance_kind, row.maker, row.model, row.serial)
    appliance = "\n".join(fact for fact in facts if fact)
    if stored is None:
        stored = SearchTextRow(job_id=row.id, words="", parts="", appliance=appliance)
        session.add(stored)
    stored.appliance = appliance
    if found is not None:
        stored.words, stored.parts = found.words, found.parts
    session.flush()


def _tally(session: Session, row: JobRow, *, sign: int) -> None:
    """Counts the job's checks in, or out again."""
    counted = session.execute(
        select(JobCheckRow.check_id, JobCheckRow.open).where(
            JobCheckRow.job_id == row.id, JobCheckRow.state != "not_applicable"
        )
    ).all()
    if not counted:
        return
    technician = session.scalar(select(PersonRow.login).where(PersonRow.id == row.technician_id)) or ""
    keys = (("", ""), ("technician", technician), ("job_type", (row.job_type or "")[:_LONGEST_KEY]))
    session.execute(
        _ADD_TALLY,
        [
            {"dimension": dimension, "key": key, "week": row.week, "check_id": check_id, "applicable": sign,
             "skipped": sign if is_open else 0}
            for dimension, key in keys
            for check_id, is_open in counted
        ],
    )  # fmt: skip


def _part(name: str) -> str:
    return storable(name).strip().casefold()[:_LONGEST_KEY]


def _words(report: Report) -> Iterator[str]:
    """Everything that was said or typed, once."""
    for segment in report.transcript.segments:
        yield segment.text
    for remarks in (report.complaint, report.findings, report.cause, report.correction, report.recommendations):
        yield from (remark.text for remark in remarks if remark.entered_by is not None or not remark.evidence)
    yield from (note.text for note in report.notes if not note.evidence)
    yield from (used.part_number for used in report.parts_used if used.part_number)


def _parts(report: Report) -> Iterable[str]:
    yield from (_part(step.part) for step in report.steps if step.status in ("done", "narrated"))
    yield from (_part(used.part) for used in report.parts_used)
    yield from (_part(item.part) for item in report.ledger.items)
    yield from (_part(step.holds) for step in report.steps if step.holds)
