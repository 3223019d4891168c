"""The tables. What a `__sealed__` column holds is vouched for by the audit trail; the rest can be made anew.

Times are text, "2026-03-02T08:15:00.000000Z": they sort as they pass, in every database alike. JSON is kept as text in
one fixed form (`canonical`), so that its digest is the same everywhere.
"""

from __future__ import annotations

from typing import ClassVar

from sqlalchemy import BigInteger, ForeignKey, Index, LargeBinary, String, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

# Keys are compared sign by sign in every database, so that a beginning is a range of an index.
KEY = Text().with_variant(Text(collation="C"), "postgresql")


class Base(DeclarativeBase):
    """Root of all tables."""

    __sealed__: ClassVar[tuple[str, ...]] = ()  #: columns that the trail vouches for; () = none


class PersonRow(Base):
    __tablename__ = "people"
    __sealed__ = ("login", "name", "role", "active", "password_hash", "created_at")
    id: Mapped[int] = mapped_column(primary_key=True)
    login: Mapped[str] = mapped_column(String(200), unique=True)
    name: Mapped[str] = mapped_column(Text)
    role: Mapped[str] = mapped_column(String(20))
    active: Mapped[bool]
    password_hash: Mapped[str | None] = mapped_column(Text)
    created_at: Mapped[str] = mapped_column(String(27))
    failures: Mapped[int] = mapped_column(default=0)
    locked_until: Mapped[str | None] = mapped_column(String(27))


class SessionRow(Base):
    __tablename__ = "sessions"
    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    csrf: Mapped[str] = mapped_column(String(64))
    created_at: Mapped[str] = mapped_column(String(27))
    seen_at: Mapped[str] = mapped_column(String(27))
    expires_at: Mapped[str] = mapped_column(String(27), index=True)


class TokenRow(Base):
    __tablename__ = "tokens"
    __sealed__ = ("person_id", "name", "digest", "created_at", "expires_at", "revoked_at")
    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    name: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64), unique=True)
    created_at: Mapped[str] = mapped_column(String(27))
    expires_at: Mapped[str | None] = mapped_column(String(27))
    used_at: Mapped[str | None] = mapped_column(String(27))
    revoked_at: Mapped[str | None] = mapped_column(String(27))


class JobRow(Base):
    __tablename__ = "jobs"
    __sealed__ = ("key", "technician_id", "sealed_state", "typed", "held", "version", "issued", "created_at")
    id: Mapped[int] = mapped_column(primary_key=True)
    key: Mapped[str | None] = mapped_column(String(200), unique=True)
    technician_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    state: Mapped[str] = mapped_column(String(20))
    typed: Mapped[str] = mapped_column(Text)  #: what was typed at the start, canonical JSON
    held: Mapped[bool] = mapped_column(default=False)
    version: Mapped[int] = mapped_column(default=0)
    issued: Mapped[int] = mapped_column(default=0)  #: number of the standing issue, 0 = none
    created_at: Mapped[str] = mapped_column(String(27))
    updated_at: Mapped[str] = mapped_column(String(27))
    problem: Mapped[str | None] = mapped_column(Text)
    # From here on taken out of the latest report, else out of `typed`.
    said: Mapped[str] = mapped_column(Text, default="{}")  #: the facts that the report states, JSON
    happened_at: Mapped[str] = mapped_column(String(27))
    week: Mapped[str] = mapped_column(String(8))
    status: Mapped[str | None] = mapped_column(String(20))
    open_stops: Mapped[int] = mapped_column(default=0)
    open_warnings: Mapped[int] = mapped_column(default=0)
    questions: Mapped[int] = mapped_column(default=0)
    recordings: Mapped[int] = mapped_column(default=0)
    attention: Mapped[int] = mapped_column(default=0)  #: 2 = open stop-level check, 1 = question or failure, 0 = none
    work_order: Mapped[str | None] = mapped_column(Text)
    customer: Mapped[str | None] = mapped_column(Text)
    site: Mapped[str | None] = mapped_column(Text)
    trade: Mapped[str | None] = mapped_column(Text)
    job_type: Mapped[str | None] = mapped_column(Text)
    appliance_kind: Mapped[str | None] = mapped_column(Text)
    maker: Mapped[str | None] = mapped_column(Text)
    model: Mapped[str | None] = mapped_column(Text)
    serial: Mapped[str | None] = mapped_column(Text)
    model_key: Mapped[str] = mapped_column(KEY, default="")  #: lower case, letters and digits only
    serial_key: Mapped[str] = mapped_column(KEY, default="")
    __table_args__ = (
        Index("jobs_by_date", "happened_at", "id"),
        Index("jobs_by_technician", "technician_id", "happened_at", "id"),
        Index("jobs_by_state", "state", "happened_at", "id"),
        Index("jobs_by_need", "state", "attention", "happened_at", "id"),
        Index("jobs_by_status", "status", "happened_at", "id"),
        Index("jobs_by_attention", "attention", "happened_at", "id"),
        Index("jobs_by_type", "job_type", "happened_at", "id"),
        Index("jobs_by_kind", "appliance_kind", "happened_at"),
        Index("jobs_by_model", "model_key", "happened_at"),
        Index("jobs_by_serial", "serial_key", "happened_at"),
    )

    @property
    def sealed_state(self) -> str:
        """The state that the trail knows: that a worker has just taken the job is not in it."""
        return "queued" if self.state == "working" else self.state


class RecordingRow(Base):
    __tablename__ = "recordings"
    __sealed__ = ("job_id", "position", "visit", "name", "sha256", "bytes", "media_type", "received_at",
                  "received_from", "deleted_at")  # fmt: skip
    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"))
    position: Mapped[int]
    visit: Mapped[int | None]
    name: Mapped[str] = mapped_column(Text)
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    bytes: Mapped[int] = mapped_column(BigInteger)
    media_type: Mapped[str] = mapped_column(String(200))
    received_at: Mapped[str] = mapped_column(String(27))
    received_from: Mapped[str] = mapped_column(String(200))
    deleted_at: Mapped[str | None] = mapped_column(String(27))
    __table_args__ = (
        Index("recordings_of_job", "job_id", "sha256", unique=True),
        Index("recordings_by_age", "deleted_at", "received_at"),
    )


class UploadRow(Base):
    __tablename__ = "uploads"
    id: Mapped[str] = mapped_column(String(200), primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    name: Mapped[str] = mapped_column(Text)
    media_type: Mapped[str] = mapped_column(String(200))
    visit: Mapped[int | None]
    started_at: Mapped[str] = mapped_column(String(27))
    started_by: Mapped[str] = mapped_column(String(200))
    recording_id: Mapped[int | None] = mapped_column(ForeignKey("recordings.id"))


class PieceRow(Base):
    __tablename__ = "pieces"
    upload_id: Mapped[str] = mapped_column(ForeignKey("uploads.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    sha256: Mapped[str] = mapped_column(String(64))
    bytes: Mapped[int]
    received_at: Mapped[str] = mapped_column(String(27))


class ReportRow(Base):
    __tablename__ = "reports"
    __sealed__ = ("saved_at", "saved_by", "why", "sha256", "status")
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    version: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    saved_at: Mapped[str] = mapped_column(String(27))
    saved_by: Mapped[str] = mapped_column(String(200))
    why: Mapped[str] = mapped_column(Text)
    sha256: Mapped[str] = mapped_column(String(64))  #: of report.json
    status: Mapped[str] = mapped_column(String(20))


class BodyRow(Base):
    """report.json, packed by zlib, in a table of its own: the lists never read past it."""

    __tablename__ = "bodies"
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    version: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    packed: Mapped[bytes] = mapped_column(LargeBinary)


class OverrideRow(Base):
    __tablename__ = "overrides"
    __sealed__ = ("job_id", "check_id", "state", "reason", "by", "at", "lifted_at", "lifted_by")
    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    check_id: Mapped[str] = mapped_column(String(200))
    state: Mapped[str] = mapped_column(String(20))
    reason: Mapped[str] = mapped_column(Text)
    by: Mapped[str] = mapped_column(String(200))
    at: Mapped[str] = mapped_column(String(27))
    lifted_at: Mapped[str | None] = mapped_column(String(27))
    lifted_by: Mapped[str | None] = mapped_column(String(200))


class QuestionRow(Base):
    __tablename__ = "questions"
    __sealed__ = ("job_id", "check_id", "text", "asked_by", "asked_at", "answer", "answered_by", "answered_at")
    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    check_id: Mapped[str | None] = mapped_column(String(200))
    text: Mapped[str] = mapped_column(Text)
    asked_by: Mapped[str] = mapped_column(String(200))
    asked_at: Mapped[str] = mapped_column(String(27))
    answer: Mapped[str | None] = mapped_column(Text)
    answered_by: Mapped[str | None] = mapped_column(String(200))
    answered_at: Mapped[str | None] = mapped_column(String(27))


class IssueRow(Base):
    __tablename__ = "issues"
    __sealed__ = ("report_version", "report_sha256", "issued_at", "issued_by", "note", "documents", "withdrawn_at",
                  "withdrawn_by", "withdrawn_why")  # fmt: skip
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    report_version: Mapped[int]
    report_sha256: Mapped[str] = mapped_column(String(64))
    issued_at: Mapped[str] = mapped_column(String(27))
    issued_by: Mapped[str] = mapped_column(String(200))
    note: Mapped[str] = mapped_column(Text)
    documents: Mapped[str] = mapped_column(Text)  #: canonical JSON: [[name, sha256, bytes], ...]
    withdrawn_at: Mapped[str | None] = mapped_column(String(27))
    withdrawn_by: Mapped[str | None] = mapped_column(String(200))
    withdrawn_why: Mapped[str | None] = mapped_column(Text)


class TrailRow(Base):
    __tablename__ = "trail"
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    at: Mapped[str] = mapped_column(String(27))
    by: Mapped[str] = mapped_column(String(200))
    act: Mapped[str] = mapped_column(String(60))
    job_id: Mapped[int | None]
    about: Mapped[str] = mapped_column(Text)
    before: Mapped[str] = mapped_column(Text)  #: canonical JSON
    after: Mapped[str] = mapped_column(Text)  #: canonical JSON
    why: Mapped[str | None] = mapped_column(Text)
    seals: Mapped[str] = mapped_column(Text)  #: canonical JSON: [[table, key, digest], ...] of the rows as they are now
    previous: Mapped[str] = mapped_column(String(64))
    hash: Mapped[str] = mapped_column(String(64))
    __table_args__ = (Index("trail_of_job", "job_id", "number"),)


class TaskRow(Base):
    __tablename__ = "tasks"
    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    kind: Mapped[str] = mapped_column(String(60))
    state: Mapped[str] = mapped_column(String(20))
    priority: Mapped[int]
    attempt: Mapped[int] = mapped_column(default=0)
    worker: Mapped[str | None] = mapped_column(String(200))
    lease: Mapped[str] = mapped_column(String(64), default="")
    lease_until: Mapped[str | None] = mapped_column(String(27))
    progress: Mapped[float] = mapped_column(default=0.0)
    what: Mapped[str] = mapped_column(Text, default="")
    problem: Mapped[str | None] = mapped_column(Text)
    put_at: Mapped[str] = mapped_column(String(27))
    due_at: Mapped[str] = mapped_column(String(27))
    beat_at: Mapped[str | None] = mapped_column(String(27))
    done_at: Mapped[str | None] = mapped_column(String(27))
    __table_args__ = (Index("tasks_to_do", "state", "priority", "due_at"),)


class JobCheckRow(Base):
    """One check of a job's latest report."""

    __tablename__ = "job_checks"
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    check_id: Mapped[str] = mapped_column(String(200), primary_key=True)
    severity: Mapped[str] = mapped_column(String(10))
    state: Mapped[str] = mapped_column(String(20))
    open: Mapped[bool]  #: neither confirmed nor not applicable
    __table_args__ = (Index("open_checks", "check_id", "open", "job_id"),)


class CheckTitleRow(Base):
    __tablename__ = "check_titles"
    check_id: Mapped[str] = mapped_column(String(200), primary_key=True)
    title: Mapped[str] = mapped_column(Text)
    severity: Mapped[str] = mapped_column(String(10))


class JobReadingRow(Base):
    """One reading of a job's latest report that has a value."""

    __tablename__ = "job_readings"
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    quantity: Mapped[str] = mapped_column(String(40))
    subject: Mapped[str | None] = mapped_column(Text)
    stage: Mapped[str | None] = mapped_column(String(20))
    value: Mapped[float]
    value_high: Mapped[float | None]
    unit: Mapped[str | None] = mapped_column(String(40))
    verdict: Mapped[str] = mapped_column(String(20))
    __table_args__ = (
        Index("readings_by_value", "quantity", "value", "unit", "job_id"),
        Index("readings_by_high_value", "quantity", "value_high", "job_id"),
    )


class ApplianceRow(Base):
    """An appliance that jobs were done on."""

    __tablename__ = "appliances"
    serial_key: Mapped[str] = mapped_column(KEY, primary_key=True)
    model_key: Mapped[str] = mapped_column(KEY, index=True)
    jobs: Mapped[int]
    last_job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)


class FittedRow(Base):
    """One kind of part that was fitted new in a job."""

    __tablename__ = "fitted"
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    part: Mapped[str] = mapped_column(String(300), primary_key=True)
    model_key: Mapped[str] = mapped_column(KEY)
    serial_key: Mapped[str] = mapped_column(KEY)
    happened_at: Mapped[str] = mapped_column(String(27))
    __table_args__ = (
        Index("fitted_by_serial", "serial_key", "part", "happened_at", "job_id"),
        Index("fitted_by_model", "model_key", "part", "serial_key"),
    )


class RepeatRow(Base):
    """A part that one appliance was fitted with more than once."""

    __tablename__ = "repeats"
    serial_key: Mapped[str] = mapped_column(KEY, primary_key=True)
    part: Mapped[str] = mapped_column(String(300), primary_key=True)
    times: Mapped[int]
    first_at: Mapped[str] = mapped_column(String(27))
    last_at: Mapped[str] = mapped_column(String(27))
    __table_args__ = (Index("repeats_by_times", "times", "last_at"),)


class TallyRow(Base):
    """How often a check was called for and skipped: over all ("" and ""), by technician, by kind of job; by week."""

    __tablename__ = "tallies"
    dimension: Mapped[str] = mapped_column(String(20), primary_key=True)
    key: Mapped[str] = mapped_column(String(300), primary_key=True)
    week: Mapped[str] = mapped_column(String(8), primary_key=True)
    check_id: Mapped[str] = mapped_column(String(200), primary_key=True)
    applicable: Mapped[int]
    skipped: Mapped[int]
    __table_args__ = (Index("tallies_by_week", "dimension", "week", "key", "check_id", "applicable", "skipped"),)


class SearchTextRow(Base):
    """What the words of a search are looked for in. SQLite's FTS5 index and PostgreSQL's GIN index stand on it."""

    __tablename__ = "search_texts"
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    words: Mapped[str] = mapped_column(Text)
    parts: Mapped[str] = mapped_column(Text)
    appliance: Mapped[str] = mapped_column(Text)
