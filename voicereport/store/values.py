"""The values that the store takes and gives: frozen, times aware and in UTC, lists as tuples."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from voicereport.report import CheckState, JobStatus, Report, Severity

Role = Literal["technician", "office", "supervisor", "administrator"]
JobState = Literal["new", "queued", "working", "failed", "ready", "sent_back", "accepted", "issued", "withdrawn"]
EditKind = Literal["add", "change", "strike"]
TaskState = Literal["waiting", "running", "done", "failed"]
Dimension = Literal["check", "technician", "job_type", "week"]

SYSTEM = "voicereport"  #: who is named for what the program does by itself
SKIPPED: tuple[CheckState, ...] = ("missing", "unclear", "contradicted", "out_of_order")  #: states that are open


@dataclass(frozen=True, kw_only=True, slots=True)
class Person:
    """Somebody who may sign in."""

    id: int
    login: str  #: lower case, unique; the name that the trail bears
    name: str
    role: Role
    active: bool
    has_password: bool
    created_at: datetime
    failures: int  #: wrong passwords in a row
    locked_until: datetime | None  #: None = not locked out


@dataclass(frozen=True, kw_only=True, slots=True)
class Session:
    """A signed-in browser. Its secret is not kept, only the secret's digest."""

    person: Person
    csrf: str  #: token that each form of this session bears
    created_at: datetime
    seen_at: datetime
    expires_at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Token:
    """An API token. Its secret is not kept, only the secret's digest."""

    id: int
    login: str
    name: str
    created_at: datetime
    expires_at: datetime | None
    used_at: datetime | None
    revoked_at: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class NewJob:
    """What is known of a job before anything was said; None = not known."""

    technician: str  #: login of whose job it is
    work_order: str | None = None
    customer: str | None = None
    site: str | None = None
    trade: str | None = None
    job_type: str | None = None
    appliance_kind: str | None = None
    maker: str | None = None
    model: str | None = None
    serial: str | None = None
    key: str | None = None  #: chosen by the sender: the same key again gives the same job


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """One row of a list of jobs. Where a report is there, its words win over what was typed at the start."""

    id: int
    key: str | None
    technician: str  #: login
    technician_name: str
    state: JobState
    status: JobStatus | None  #: of the latest report; None = no report yet
    version: int  #: of the latest report; 0 = none
    open_stops: int  #: stop-level checks that are open and not overridden
    open_warnings: int
    questions: int  #: asked and not answered
    issued: int  #: number of the issue that stands; 0 = none
    recordings: int
    problem: str | None  #: why work on it failed
    work_order: str | None
    customer: str | None
    site: str | None
    trade: str | None
    job_type: str | None
    appliance_kind: str | None
    maker: str | None
    model: str | None
    serial: str | None
    held: bool  #: its audio is kept past the set time
    created_at: datetime
    updated_at: datetime
    happened_at: datetime  #: when it was recorded, else when it was created; lists by date go by this


@dataclass(frozen=True, kw_only=True, slots=True)
class JobFilter:
    """Which jobs a list shows; None and empty = all."""

    technician: str | None = None  #: login
    states: tuple[JobState, ...] = ()
    statuses: tuple[JobStatus, ...] = ()
    check: str | None = None  #: id of a check that is open in the job
    job_type: str | None = None
    model: str | None = None
    serial: str | None = None
    since: datetime | None = None  #: happened_at, included
    until: datetime | None = None  #: happened_at, not included
    needs_attention: bool = False  #: only jobs with an open stop-level check, a question or a failure
    blocked: bool = False  #: only jobs with an open stop-level check that nobody let pass
    clear: bool = False  #: only jobs with neither such a check nor a question nor a failure
    order: Literal["newest", "oldest", "blocked_first"] = "newest"


@dataclass(frozen=True, kw_only=True, slots=True)
class JobPage:
    """One page of a list."""

    items: tuple[Job, ...]
    total: int
    page: int  #: from 1
    size: int

    @property
    def pages(self) -> int:
        """How many pages there are; at least 1."""
        return max(1, -(-self.total // self.size))


@dataclass(frozen=True, kw_only=True, slots=True)
class Recording:
    """A sealed recording of a job."""

    id: int
    job_id: int
    position: int  #: from 1, order within the job
    visit: int | None  #: None = not told, the pipeline decides
    name: str  #: as the sender called it; never a path
    sha256: str
    bytes: int
    media_type: str
    received_at: datetime
    received_from: str  #: login
    held: bool
    deleted_at: datetime | None  #: when retention deleted the sound
    path: Path | None  #: None = deleted


@dataclass(frozen=True, kw_only=True, slots=True)
class Upload:
    """A recording that arrives in numbered pieces."""

    id: str  #: chosen by the sender, or made here
    job_id: int
    name: str
    media_type: str
    received: tuple[int, ...]  #: numbers of the pieces that are here, from 0
    bytes: int
    recording: Recording | None  #: None = not sealed yet


@dataclass(frozen=True, kw_only=True, slots=True)
class StoredReport:
    """One version of a job's report."""

    job_id: int
    version: int  #: from 1
    saved_at: datetime
    saved_by: str
    why: str
    sha256: str  #: of report.json as `dump_json` writes it
    report: Report


@dataclass(frozen=True, kw_only=True, slots=True)
class VersionLine:
    """One line of a report's history, without the report."""

    version: int
    saved_at: datetime
    saved_by: str
    why: str
    sha256: str
    status: JobStatus


@dataclass(frozen=True, kw_only=True, slots=True)
class Edit:
    """A change of one place of a report.

    path: JSON pointer (RFC 6901) into the version that is edited: "/readings/2/value", "/job/customer",
    "/findings/-" (add at the end). kind: "add" puts `value` in, "change" replaces, "strike" takes out.
    """

    kind: EditKind
    path: str
    value: Any = None
    why: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Override:
    """A check that a supervisor let pass, with the reason. The check's own state stays as it was found."""

    id: int
    job_id: int
    check_id: str
    state: CheckState  #: as it stood when it was overridden
    reason: str
    by: str
    at: datetime
    lifted_at: datetime | None  #: None = holds
    lifted_by: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """What was asked when a job was sent back."""

    id: int
    job_id: int
    check_id: str | None
    text: str
    asked_by: str
    asked_at: datetime
    answer: str | None  #: None = open
    answered_by: str | None
    answered_at: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Document:
    """A file that went out with an issue."""

    name: str
    sha256: str
    bytes: int
    path: Path


@dataclass(frozen=True, kw_only=True, slots=True)
class Issue:
    """A customer report that went out."""

    job_id: int
    number: int  #: from 1; a reissue counts on
    report_version: int
    report_sha256: str
    issued_at: datetime
    issued_by: str
    note: str
    documents: tuple[Document, ...]
    withdrawn_at: datetime | None  #: None = stands
    withdrawn_by: str | None
    withdrawn_why: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class TrailEntry:
    """One line of the audit trail."""

    number: int  #: from 1, without gaps
    at: datetime
    by: str
    act: str  #: what was done, such as "report.edited"
    job_id: int | None
    about: str  #: what it was done to
    before: Any
    after: Any
    why: str | None
    hash: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Fault:
    """Something in the store that is not as the trail says."""

    place: str  #: "trail entry 17", "report 4, version 2", ...
    problem: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Verification:
    """What came of verifying the trail and what it vouches for."""

    entries: int  #: of the trail
    rows: int  #: rows compared with the trail
    files: int  #: files whose digest was taken
    head: str  #: hash of the last entry; "" = empty trail
    faults: tuple[Fault, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing was found."""
        return not self.faults


@dataclass(frozen=True, kw_only=True, slots=True)
class Task:
    """Work on a job that waits, runs, or is over."""

    id: int
    job_id: int
    kind: str
    state: TaskState
    priority: int  #: higher goes first
    attempt: int  #: how many times it was claimed
    worker: str | None
    lease: str  #: secret of this claim; "" = not claimed
    progress: float  #: 0..1
    what: str  #: what is being done
    problem: str | None
    put_at: datetime
    due_at: datetime  #: not before
    beat_at: datetime | None
    done_at: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class SearchQuery:
    """What to look for; everything given must hold."""

    words: str = ""  #: each word must occur; "in quotes" as a phrase; the last letters may lack
    part: str | None = None  #: fitted, taken off or worked on
    quantity: str | None = None  #: of a reading, a QuantityName
    low: float | None = None  #: reading at least, in `unit`
    high: float | None = None  #: reading at most, in `unit`
    unit: str | None = None  #: UCUM; None = whatever unit
    appliance: str | None = None  #: beginning of the model or the serial, or the kind
    check: str | None = None  #: id of a check that is open
    technician: str | None = None  #: login
    since: datetime | None = None
    until: datetime | None = None  #: not included


@dataclass(frozen=True, kw_only=True, slots=True)
class Hit:
    """One job found."""

    job: Job
    excerpt: tuple[tuple[str, bool], ...]  #: plain text in pieces; True = a word that was looked for


@dataclass(frozen=True, kw_only=True, slots=True)
class SearchPage:
    """One page of what was found, newest first."""

    items: tuple[Hit, ...]
    total: int
    more: bool  #: True = there are more than `total`, which is where counting stopped
    page: int
    size: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Share:
    """How often a check was skipped among the jobs that called for it."""

    key: str  #: check id, login, job type, or ISO week "2026-W07"
    title: str  #: of a check or name of a person; else the key
    severity: Severity | None  #: of a check; else None
    skipped: int
    applicable: int
    share: float  #: skipped / applicable
    low: float  #: Wilson score interval, 95 %
    high: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Repeat:
    """A part that was fitted more than once to one appliance, or often to one model."""

    part: str
    model: str | None
    serial: str | None  #: None = counted over the model's appliances
    times: int
    appliances: int  #: that are known by their serial
    first_at: datetime
    last_at: datetime
    jobs: tuple[int, ...]  #: newest first, at most 20


@dataclass(frozen=True, kw_only=True, slots=True)
class Point:
    """One reading of one appliance."""

    job_id: int
    at: datetime
    quantity: str
    subject: str | None
    stage: str | None
    value: float
    unit: str | None
    verdict: str


@dataclass(frozen=True, kw_only=True, slots=True)
class ApplianceRecord:
    """An appliance that jobs were done on: the data plate as last known."""

    serial: str
    kind: str | None
    maker: str | None
    model: str | None
    jobs: int
    last_at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Overview:
    """The supervisor's first page in one value."""

    blocked: tuple[Job, ...]  #: newest first
    blocked_total: int
    checks: tuple[Share, ...]  #: most skipped first
    technicians: tuple[Share, ...]
    job_types: tuple[Share, ...]
    weeks: tuple[Share, ...]  #: oldest first


@dataclass(frozen=True, kw_only=True, slots=True)
class Swept:
    """What retention did."""

    recordings: tuple[Recording, ...]
    bytes: int
    kept_held: int


@dataclass(frozen=True, kw_only=True, slots=True)
class BackupResult:
    """A back-up that was written, or read back."""

    folder: Path
    rows: int
    files: int
    bytes: int
    head: str
    tables: tuple[tuple[str, int], ...] = field(default=())
    left: tuple[str, ...] = field(default=())  #: own settings that were not put back, since others are in their place
