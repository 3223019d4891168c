"""What people decide about a report: overrides, questions, acceptance, issue and withdrawal."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from types import MappingProxyType
from typing import Any, cast

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from voicereport.report import LET_PASS, LIFTED, Change, Check, Report
from voicereport.store.canonical import canonical, maybe_time, moment, required, storable, time_of
from voicereport.store.database import Database
from voicereport.store.faults import conflict, not_found
from voicereport.store.files import Files
from voicereport.store.index import settle
from voicereport.store.jobs import expect_version, job_row
from voicereport.store.models import IssueRow, JobCheckRow, JobRow, OverrideRow, QuestionRow
from voicereport.store.recordings import file_name
from voicereport.store.reports import load, put_version
from voicereport.store.values import SKIPPED, Document, Issue, Override, Question, StoredReport

_NOTHING: Mapping[str, bytes] = MappingProxyType({})


class Reviews:
    """The decisions about all jobs."""

    def __init__(self, database: Database, files: Files) -> None:
        self._database = database
        self._files = files

    def override(self, job_id: int, check_id: str, reason: str, *, expected: int, by: str, now: datetime) -> Override:
        """Lets an open check pass. Its state stays as found; a new version tells of it in review.changes."""
        reason = required("reason", reason)
        with self._database.write() as writing:
            session = writing.session
            row = job_row(session, job_id)
            expect_version(row, expected)
            report = load(session, job_id, expected).report
            check = _open_check(report, check_id, job_id)
            if _standing_override(session, job_id, check_id) is not None:
                raise conflict(f"check {check_id} of job {job_id}", "is overridden already")
            made = OverrideRow(job_id=job_id, check_id=check_id, state=check.state, reason=reason, by=by,
                               at=moment(now))  # fmt: skip
            session.add(made)
            writing.note("check.overridden", f"job {job_id}, check {check_id}", by=by, now=now, job_id=job_id,
                         before=check.state, after=LET_PASS, why=reason, rows=[made])  # fmt: skip
            change = Change(who=by, when=moment(now), path=f"/checks/{check_id}", before=check.state, after=LET_PASS,
                            why=reason)  # fmt: skip
            put_version(writing, row, _told(report, change), act="report.overridden", by=by, now=now, why=reason)
            return _override_of(made)

    def lift_override(self, override_id: int, why: str, *, by: str, now: datetime) -> Override:
        """Takes an override back; a new version tells of it."""
        why = required("reason", why)
        with self._database.write() as writing:
            session = writing.session
            made = session.get(OverrideRow, override_id)
            if made is None:
                raise not_found(f"override {override_id}")
            if made.lifted_at is not None:
                raise conflict(f"override {override_id}", "is lifted already")
            made.lifted_at, made.lifted_by = moment(now), by
            row = job_row(session, made.job_id)
            report = load(session, row.id, row.version).report
            writing.note("check.override_lifted", f"job {row.id}, check {made.check_id}", by=by, now=now, job_id=row.id,
                         before=LET_PASS, after=made.state, why=why, rows=[made])  # fmt: skip
            change = Change(who=by, when=moment(now), path=f"/checks/{made.check_id}", before=LET_PASS, after=LIFTED,
                            why=why)  # fmt: skip
            put_version(writing, row, _told(report, change), act="report.override_lifted", by=by, now=now, why=why)
            return _override_of(made)

    def overrides(self, job_id: int, *, lifted: bool = False) -> tuple[Override, ...]:
        """A job's overrides, oldest first; those that were lifted only where `lifted`."""
        query = select(OverrideRow).where(OverrideRow.job_id == job_id).order_by(OverrideRow.id)
        if not lifted:
            query = query.where(OverrideRow.lifted_at.is_(None))
        with self._database.read() as session:
            job_row(session, job_id)
            return tuple(map(_override_of, session.scalars(query)))

    def send_back(self, job_id: int, text: str, *, by: str, now: datetime, check_id: str | None = None) -> Question:
        """Sends a job back with a question. Raises StoreError (conflict) where there is no report to ask about."""
        with self._database.write() as writing:
            session = writing.session
            row = job_row(session, job_id)
            if row.state not in ("ready", "sent_back", "accepted", "withdrawn"):
                raise conflict(f"job {job_id}", f"is {row.state}: there is nothing to send back")
            asked = QuestionRow(job_id=job_id, check_id=None if check_id is None else storable(check_id)[:200],
                                text=required("question", text), asked_by=by, asked_at=moment(now))  # fmt: skip
            session.add(asked)
            before = row.state
            row.state, row.updated_at = "sent_back", moment(now)
            _count_questions(session, row)
            after = {"question": asked.text, "check": asked.check_id}
            writing.note("job.sent_back", f"job {job_id}", by=by, now=now, job_id=job_id, before=before, after=after,
                         rows=[row, asked])  # fmt: skip
            return _question_of(asked)

    def answer(self, question_id: int, text: str, *, by: str, now: datetime) -> Question:
        """Answers a question; when the last one is answered, the job is ready again."""
        with self._database.write() as writing:
            session = writing.session
            asked = session.get(QuestionRow, question_id)
            if asked is None:
                raise not_found(f"question {question_id}")
            if asked.answer is not None:
                raise conflict(f"question {question_id}", "is answered already")
            asked.answer, asked.answered_by, asked.answered_at = required("answer", text), by, moment(now)
            row = job_row(session, asked.job_id)
            _count_questions(session, row)
            if row.state == "sent_back" and not row.questions:
                row.state = "ready"
            row.updated_at = moment(now)
            writing.note("question.answered", f"job {row.id}, question {asked.id}", by=by, now=now, job_id=row.id,
                         after=asked.answer, rows=[row, asked])  # fmt: skip
            return _question_of(asked)

    def questions(self, job_id: int, *, open_only: bool = False) -> tuple[Question, ...]:
        """A job's questions, oldest first."""
        query = select(QuestionRow).where(QuestionRow.job_id == job_id).order_by(QuestionRow.id)
        if open_only:
            query = query.where(QuestionRow.answer.is_(None))
        with self._database.read() as session:
            job_row(session, job_id)
            return tuple(map(_question_of, session.scalars(query)))

    def accept(self, job_id: int, *, expected: int, by: str, now: datetime) -> StoredReport:
        """Signs a report off, in a new version.

        Raises StoreError (conflict) while a stop-level check is open and not overridden, or a question is open.
        """
        with self._database.write() as writing:
            session = writing.session
            row = job_row(session, job_id)
            expect_version(row, expected)
            if row.state != "ready":
                raise conflict(f"job {job_id}", f"is {row.state} and not ready to be accepted")
            open_now = _open_stops(session, job_id)
            if open_now:
                raise conflict(f"job {job_id}", f"has open checks that stop it: {', '.join(open_now)}",
                               "correct the report, or override them with a reason")  # fmt: skip
            report = load(session, job_id, expected).report
            review = report.review.model_copy(update={"signed_by": by, "signed_at": moment(now)})
            signed = report.model_copy(update={"review": review})
            return put_version(writing, row, signed, act="report.accepted", by=by, now=now, why="accepted",
                               state="accepted")  # fmt: skip

    def issue(
        self, job_id: int, *, by: str, now: datetime, note: str = "", documents: Mapping[str, bytes] = _NOTHING
    ) -> Issue:
        """Records that the accepted report goes out, with the files that go; the numbers of a job's issues count on.

        Raises StoreError (conflict) where the report is not accepted, or an issue of the job stands.
        """
        kept = [(file_name(name), self._files.keep_document(content)) for name, content in documents.items()]
        with self._database.write() as writing:
            session = writing.session
            row = job_row(session, job_id)
            if row.issued:
                raise conflict(f"job {job_id}", f"has issue {row.issued} out", "withdraw it first")
            if row.state not in ("accepted", "withdrawn"):
                raise conflict(f"job {job_id}", f"is {row.state} and not accepted", "have it accepted first")
            stored = load(session, job_id, row.version)
            number = (session.scalar(select(func.max(IssueRow.number)).where(IssueRow.job_id == job_id)) or 0) + 1
            files = [[name, written.sha256, written.bytes] for name, written in kept]
            made = IssueRow(job_id=job_id, number=number, report_version=row.version, report_sha256=stored.sha256,
                            issued_at=moment(now), issued_by=by, note=storable(note), documents=canonical(files),
                            )  # fmt: skip
            session.add(made)
            before, row.state, row.issued, row.updated_at = row.state, "issued", number, moment(now)
            after = {"issue": number, "version": row.version, "sha256": stored.sha256, "documents": files}
            writing.note("report.issued", f"job {job_id}, issue {number}", by=by, now=now, job_id=job_id, before=before,
                         after=after, why=note or None, rows=[row, made])  # fmt: skip
            return self._issue_of(made)

    def withdraw(self, job_id: int, why: str, *, by: str, now: datetime) -> Issue:
        """Takes the standing issue back. Raises StoreError (conflict) where none stands."""
        why = required("reason", why)
        with self._database.write() as writing:
            session = writing.session
            row = job_row(session, job_id)
            if not row.issued:
                raise conflict(f"job {job_id}", "has no issue out")
            made = session.get_one(IssueRow, (job_id, row.issued))
            made.withdrawn_at, made.withdrawn_by, made.withdrawn_why = moment(now), by, why
            before, number, row.issued, row.updated_at = row.state, row.issued, 0, moment(now)
            if row.state == "issued":
                row.state = "withdrawn"
            writing.note("report.withdrawn", f"job {job_id}, issue {number}", by=by, now=now, job_id=job_id,
                         before=before, after=row.sealed_state, why=why, rows=[row, made])  # fmt: skip
            return self._issue_of(made)

    def issues(self, job_id: int) -> tuple[Issue, ...]:
        """All issues of a job, oldest first."""
        query = select(IssueRow).where(IssueRow.job_id == job_id).order_by(IssueRow.number)
        with self._database.read() as session:
            job_row(session, job_id)
            return tuple(map(self._issue_of, session.scalars(query)))

    def standing(self, job_id: int) -> Issue | None:
        """The issue that is out; None where none is."""
        with self._database.read() as session:
            row = job_row(session, job_id)
            return self._issue_of(session.get_one(IssueRow, (job_id, row.issued))) if row.issued else None

    def _issue_of(self, row: IssueRow) -> Issue:
        documents = tuple(
            Document(name=name, sha256=sha256, bytes=count, path=self._files.document(sha256))
            for name, sha256, count in json.loads(row.documents)
        )
        return Issue(job_id=row.job_id, number=row.number, report_version=row.report_version,
                     report_sha256=row.report_sha256, issued_at=time_of(row.issued_at), issued_by=row.issued_by,
                     note=row.note, documents=documents, withdrawn_at=maybe_time(row.withdrawn_at),
                     withdrawn_by=row.withdrawn_by, withdrawn_why=row.withdrawn_why)  # fmt: skip


def _open_check(report: Report, check_id: str, job_id: int) -> Check:
    found = next((check for check in report.checks if check.id == check_id), None)
    if found is None:
        raise not_found(f"check {check_id} of job {job_id}")
    if found.state not in SKIPPED:
        raise conflict(f"check {check_id} of job {job_id}", f"is {found.state}: there is nothing to override")
    return found


def _open_stops(session: Session, job_id: int) -> list[str]:
    overridden = select(OverrideRow.check_id).where(OverrideRow.job_id == job_id, OverrideRow.lifted_at.is_(None))
    query = select(JobCheckRow.check_id).where(
        JobCheckRow.job_id == job_id, JobCheckRow.open, JobCheckRow.severity == "stop",
        JobCheckRow.check_id.not_in(overridden),
    )  # fmt: skip
    return sorted(session.scalars(query))


def _standing_override(session: Session, job_id: int, check_id: str) -> OverrideRow | None:
    here = (OverrideRow.job_id == job_id, OverrideRow.check_id == check_id, OverrideRow.lifted_at.is_(None))
    return session.scalar(select(OverrideRow).where(*here))


def _told(report: Report, change: Change) -> Report:
    """The report with a line more in its review, and no sign-off: that was of what it said before."""
    changes = (*report.review.changes, change)
    review = report.review.model_copy(update={"changes": changes, "signed_by": None, "signed_at": None})
    return report.model_copy(update={"review": review})


def _count_questions(session: Session, row: JobRow) -> None:
    session.flush()
    query = select(func.count()).where(QuestionRow.job_id == row.id, QuestionRow.answer.is_(None))
    row.questions = session.scalar(query) or 0
    settle(session, row)


def _override_of(row: OverrideRow) -> Override:
    return Override(id=row.id, job_id=row.job_id, check_id=row.check_id, state=cast("Any", row.state),
                    reason=row.reason, by=row.by, at=time_of(row.at), lifted_at=maybe_time(row.lifted_at),
                    lifted_by=row.lifted_by)  # fmt: skip


def _question_of(row: QuestionRow) -> Question:
    return Question(id=row.id, job_id=row.job_id, check_id=row.check_id, text=row.text, asked_by=row.asked_by,
                    asked_at=time_of(row.asked_at), answer=row.answer, answered_by=row.answered_by,
                    answered_at=maybe_time(row.answered_at))  # fmt: skip
