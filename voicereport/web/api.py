"""The API: the same rules as the pages, JSON in and out, described by OpenAPI at /api/v1/openapi.json."""

from __future__ import annotations

import re
import tempfile
from datetime import date, datetime
from functools import cache, partial
from typing import Annotated, Any, BinaryIO, Literal, cast

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Depends, Path, Query, Request
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StrictInt, StrictStr, WithJsonSchema
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException

from voicereport.render.text import shown
from voicereport.report import Report
from voicereport.store import StoreError
from voicereport.store.faults import conflict
from voicereport.store.values import Edit, Issue, Job, JobFilter, JobState, NewJob, Recording, SearchQuery, Share
from voicereport.trades import list_trades
from voicereport.web.access import Me, NotThereError, holder, job_for
from voicereport.web.decisions import standing_overrides
from voicereport.web.edit_pages import recheck
from voicereport.web.issue import hindrance, issue_files
from voicereport.web.jobs import plain_name
from voicereport.web.oversight import _after, day
from voicereport.web.pages import say
from voicereport.web.report_pages import stored_report
from voicereport.web.site import Site, site_of
from voicereport.web.sniff import kind_of


class Problem(BaseModel):
    """What went wrong, in a sentence."""

    problem: str


_PROBLEMS: dict[int | str, dict[str, Any]] = {
    status: {"model": Problem, "description": description}
    for status, description in (
        (400, "The body is no JSON."), (401, "No valid token."), (403, "This person may not do that."),
        (404, "There is no such thing."), (409, "The record has moved on, or is in another state."),
        (413, "More bytes than are taken."), (415, "Neither a recording nor a transcript."),
        (422, "A value that cannot be used."), (429, "Too many requests."),
    )
}  # fmt: skip
router = APIRouter(prefix="/api/v1", responses=_PROBLEMS, tags=["voicereport"])

_PIECE = 1_000_000  #: bytes that are written at once
_WRITERS = 4  #: threads that write
JobId = Annotated[int, Path(ge=1, le=2**53)]
PageNumber = Annotated[int, Query(ge=1, le=100_000)]
Size = Annotated[int, Query(ge=1, le=200)]
Seer = Annotated[Me, Depends(holder("see_jobs", "see_own_jobs"))]
Text200 = Annotated[StrictStr, Field(max_length=200, pattern=r"^[^\x00]*$")]
Words = Annotated[StrictStr, Field(min_length=1, max_length=2000, pattern=r"^[^\x00]*\S[^\x00]*$")]


def _whole(value: object) -> object:
    """JSON has one kind of number: 3.0 is the whole number 3."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


Expected = Annotated[
    StrictInt,
    BeforeValidator(_whole),
    Field(ge=1, le=2**31),
    WithJsonSchema(
        {"type": "integer", "minimum": 1, "maximum": 2**31, "description": "the version that this rests on"}
    ),
]


def _day(value: object) -> object:
    """A day of RFC 3339, and nothing else that might be taken for one."""
    if isinstance(value, str) and not re.fullmatch(r"\d{4}-\d{2}-\d{2}", value):
        raise ValueError(say("form", "no_day"))
    return value


Day = Annotated[date, BeforeValidator(_day), WithJsonSchema({"type": "string", "format": "date"})]


class Given(BaseModel):
    """Base of what is sent: unknown names are refused."""

    model_config = ConfigDict(extra="forbid")


class NewJobIn(Given):
    """A job before anything was said."""

    technician: Text200 | None = None
    work_order: Text200 | None = None
    customer: Text200 | None = None
    site: Text200 | None = None
    trade: Text200 | None = None
    job_type: Text200 | None = None
    appliance_kind: Text200 | None = None
    maker: Text200 | None = None
    model: Text200 | None = None
    serial: Text200 | None = None
    key: Annotated[Text200 | None, Field(description="the same key again gives the same job")] = None


class JobOut(BaseModel):
    """A job."""

    id: int
    technician: str
    state: str
    status: str | None
    version: int
    open_stops: int
    open_warnings: int
    questions: int
    issued: int
    recordings: int
    problem: str | None
    work_order: str | None
    customer: str | None
    site: str | None
    job_type: str | None
    appliance_kind: str | None
    maker: str | None
    model: str | None
    serial: str | None
    created_at: datetime
    updated_at: datetime


class JobsOut(BaseModel):
    """A page of jobs."""

    items: list[JobOut]
    total: int
    page: int
    size: int


class RecordingOut(BaseModel):
    """A recording or transcript of a job."""

    id: int
    name: str
    sha256: str
    bytes: int
    media_type: str
    received_at: datetime
    kept: bool


class EditIn(Given):
    """One change of a report."""

    kind: Literal["add", "change", "strike"]
    path: Annotated[StrictStr, Field(max_length=300, description="JSON pointer (RFC 6901)")]
    value: Any = None
    why: Words


class EditsIn(Given):
    """Changes of a report, made together."""

    expected: Expected
    edits: Annotated[list[EditIn], Field(min_length=1, max_length=100)]


class OverrideIn(Given):
    """A check that is let pass."""

    expected: Expected
    reason: Words


class AcceptIn(Given):
    """A version that is accepted."""

    expected: Expected


class QuestionIn(Given):
    """Why a job is sent back."""

    question: Words
    check: Text200 | None = None


class WithdrawIn(Given):
    """Why an issue is withdrawn."""

    why: Words


class IssueIn(Given):
    """An issue of the customer's report."""

    note: Annotated[StrictStr, Field(max_length=500, pattern=r"^[^\x00]*$")] = ""


class IssueOut(BaseModel):
    """A customer's report that went out."""

    number: int
    report_version: int
    issued_at: datetime
    issued_by: str
    withdrawn_at: datetime | None
    withdrawn_why: str | None


class VersionOut(BaseModel):
    """A new version of a report."""

    version: int
    status: str


class HitOut(BaseModel):
    """A job that was found."""

    job: JobOut
    excerpt: str


class HitsOut(BaseModel):
    """A page of what was found."""

    items: list[HitOut]
    total: int
    page: int
    size: int


class ShareOut(BaseModel):
    """How often a check was skipped, with the Wilson interval of 95 %."""

    key: str
    title: str
    skipped: int
    applicable: int
    low: float
    high: float


class PersonOut(BaseModel):
    """Who asks."""

    login: str
    name: str
    role: str


def job_out(job: Job) -> JobOut:
    """A job as the API tells it."""
    return JobOut(**{name: getattr(job, name) for name in JobOut.model_fields})


def _recording(recording: Recording) -> RecordingOut:
    values = {name: getattr(recording, name) for name in RecordingOut.model_fields if name != "kept"}
    return RecordingOut(**values, kept=recording.path is not None)


def _issue(issue: Issue) -> IssueOut:
    return IssueOut(**{name: getattr(issue, name) for name in IssueOut.model_fields})


@router.get("/me")
def me(me: Annotated[Me, Depends(holder("myself"))]) -> PersonOut:
    """Who the token belongs to."""
    return PersonOut(login=me.login, name=me.name, role=me.role)


@router.get("/jobs")
def jobs(
    request: Request, me: Seer, state: JobState | None = None, check: str | None = None, page: PageNumber = 1,
    size: Size = 50,
) -> JobsOut:  # fmt: skip
    """Jobs, newest first. check: only those that lack this one."""
    own = None if me.may("see_jobs") else me.login
    wanted = JobFilter(technician=own, states=(state,) if state else (), check=check)
    found = site_of(request).store.jobs.page(wanted, page=page, size=size)
    return JobsOut(items=[job_out(job) for job in found.items], total=found.total, page=page, size=size)


@router.post("/jobs", status_code=201)
def new_job(request: Request, body: NewJobIn, me: Annotated[Me, Depends(holder("bring_in"))]) -> JobOut:
    """A new job; recordings follow."""
    site = site_of(request)
    technician = body.technician if body.technician and me.may("see_jobs") else me.login
    if technician not in {p.login for p in site.store.people.list(active_only=True)}:
        raise StoreError("technician", say("upload", "technician"), kind="not_found")
    if body.trade and body.trade not in list_trades():
        raise StoreError("trade", say("upload", "trade"), kind="not_found")
    new = NewJob(**(body.model_dump() | {"technician": technician}))
    if new.key:
        _own_key(site, new.key, me)
    return job_out(site.store.jobs.create(new, by=me.login, now=site.now()))


def _own_key(site: Site, key: str, me: Me) -> None:
    """A key that another technician's job has is taken. Raises StoreError."""
    known = site.store.jobs.by_key(key)
    if known is not None and not me.may("see_jobs") and known.technician != me.login:
        raise StoreError("key", say("upload", "key"), kind="conflict")


@router.get("/jobs/{job_id}")
def job(request: Request, job_id: JobId, me: Seer) -> JobOut:
    """One job."""
    return job_out(job_for(request, me, job_id))


@router.get("/jobs/{job_id}/recordings")
def recordings(request: Request, job_id: JobId, me: Seer) -> list[RecordingOut]:
    """The recordings and transcripts of a job."""
    found = job_for(request, me, job_id)
    return [_recording(r) for r in site_of(request).store.recordings.of(found.id)]


@router.post("/jobs/{job_id}/recordings", status_code=201, openapi_extra={
    "requestBody": {"required": True, "content": {"application/octet-stream": {"schema":
                    {"type": "string", "format": "binary"}}}}})  # fmt: skip
async def add_recording(
    request: Request,
    job_id: JobId,
    me: Annotated[Me, Depends(holder("bring_in"))],
    name: Annotated[str, Query(min_length=1, max_length=150)],
) -> RecordingOut:
    """A recording or transcript as the body, byte for byte; work on the job begins."""
    found = await run_in_threadpool(job_for, request, me, job_id)
    with tempfile.TemporaryFile() as file:
        waiting = bytearray()
        async for piece in request.stream():
            waiting += piece
            if len(waiting) >= _PIECE:
                await to_thread.run_sync(file.write, bytes(waiting), limiter=_writers())
                waiting.clear()
        await to_thread.run_sync(file.write, bytes(waiting), limiter=_writers())
        keep = partial(_keep, site_of(request), found, cast(BinaryIO, file), plain_name(name), me)
        return await to_thread.run_sync(keep, limiter=_writers())


@cache
def _writers() -> CapacityLimiter:
    """Few threads for what is written, so that many uploads at once leave the pages theirs."""
    return CapacityLimiter(_WRITERS)


def _keep(site: Site, job: Job, file: BinaryIO, name: str, me: Me) -> RecordingOut:
    kind = kind_of(file)
    if kind is None:
        raise HTTPException(415, f"{shown(name)} {say('upload', 'kind')}")
    file.seek(0)
    kept = site.store.recordings.add(job.id, name, file, media_type=kind.media_type, by=me.login, now=site.now())
    site.store.queue.put(job.id, now=site.now(), by=me.login)
    return _recording(kept)


@router.get("/jobs/{job_id}/report")
def report(request: Request, job_id: JobId, me: Seer, version: Annotated[int, Query(ge=0, le=2**31)] = 0) -> Report:
    """The latest report, or an earlier version."""
    stored = stored_report(site_of(request), job_for(request, me, job_id), version)
    if stored is None:
        raise NotThereError
    return stored.report


@router.post("/jobs/{job_id}/edits")
def edits(request: Request, job_id: JobId, body: EditsIn, me: Annotated[Me, Depends(holder("edit"))]) -> VersionOut:
    """Changes of the report; it is checked anew at once."""
    site = site_of(request)
    found = job_for(request, me, job_id)
    if body.expected != found.version:
        raise conflict(f"job {job_id}", say("form", "moved_on_short", version=found.version))
    made = [Edit(kind=e.kind, path=e.path, value=e.value, why=e.why) for e in body.edits]
    try:
        stored = site.store.reports.edit(found.id, made, expected=body.expected, by=me.login, now=site.now(),
                                         recheck=lambda edited: recheck(site, found, edited))  # fmt: skip
    except StoreError as error:
        if error.kind != "refused":
            raise
        raise conflict(error.place, error.problem, error.remedy) from error  # this report has no such place
    return VersionOut(version=stored.version, status=stored.report.status)


@router.post("/jobs/{job_id}/checks/{check_id}/override")
def override(
    request: Request, job_id: JobId, check_id: Annotated[str, Path(max_length=100)], body: OverrideIn,
    me: Annotated[Me, Depends(holder("decide"))],
) -> JobOut:  # fmt: skip
    """A check let pass, with the reason."""
    site = site_of(request)
    found = job_for(request, me, job_id)
    site.store.review.override(found.id, check_id, body.reason, expected=body.expected, by=me.login, now=site.now())
    return job_out(site.store.jobs.get(found.id))


@router.post("/jobs/{job_id}/send-back")
def send_back(
    request: Request, job_id: JobId, body: QuestionIn, me: Annotated[Me, Depends(holder("decide"))]
) -> JobOut:
    """The job sent back with a question."""
    site = site_of(request)
    found = job_for(request, me, job_id)
    site.store.review.send_back(found.id, body.question, check_id=body.check, by=me.login, now=site.now())
    return job_out(site.store.jobs.get(found.id))


@router.post("/jobs/{job_id}/accept")
def accept(request: Request, job_id: JobId, body: AcceptIn, me: Annotated[Me, Depends(holder("decide"))]) -> VersionOut:
    """The report accepted and signed."""
    site = site_of(request)
    found = job_for(request, me, job_id)
    stored = site.store.review.accept(found.id, expected=body.expected, by=me.login, now=site.now())
    return VersionOut(version=stored.version, status=stored.report.status)


@router.post("/jobs/{job_id}/issue", status_code=201)
def issue(request: Request, job_id: JobId, body: IssueIn, me: Annotated[Me, Depends(holder("issue"))]) -> IssueOut:
    """The customer's report issued; the job must be accepted."""
    site = site_of(request)
    found = job_for(request, me, job_id)
    stored = stored_report(site, found)
    if stored is None or hindrance(found) or found.state not in ("accepted", "withdrawn"):
        raise conflict(f"job {job_id}", hindrance(found) or say("issue", "not_accepted"))
    files = issue_files(site, stored)
    return _issue(site.store.review.issue(found.id, by=me.login, now=site.now(), note=body.note, documents=files))


@router.post("/jobs/{job_id}/withdraw")
def withdraw(
    request: Request, job_id: JobId, body: WithdrawIn, me: Annotated[Me, Depends(holder("issue"))]
) -> IssueOut:
    """The issue that stands withdrawn."""
    site = site_of(request)
    found = job_for(request, me, job_id)
    return _issue(site.store.review.withdraw(found.id, body.why, by=me.login, now=site.now()))


@router.get("/jobs/{job_id}/overrides")
def overrides(request: Request, job_id: JobId, me: Seer) -> list[dict[str, str]]:
    """The checks that were let pass."""
    found = job_for(request, me, job_id)
    return [{"check": o.check_id, "reason": o.reason, "by": o.by, "at": o.at.isoformat()}
            for o in standing_overrides(site_of(request), found.id)]  # fmt: skip


@router.get("/search")
def search(
    request: Request,
    me: Annotated[Me, Depends(holder("see_jobs"))],
    words: Annotated[str, Query(max_length=200)] = "",
    part: Annotated[str | None, Query(max_length=200)] = None,
    appliance: Annotated[str | None, Query(max_length=200)] = None,
    page: PageNumber = 1,
    size: Annotated[int, Query(ge=1, le=50)] = 20,
) -> HitsOut:
    """Reports that hold the words, the part, the appliance."""
    found = site_of(request).store.search.find(
        SearchQuery(words=words, part=part or None, appliance=appliance or None), page=page, size=size
    )
    hits = [HitOut(job=job_out(h.job), excerpt="".join(piece for piece, _ in h.excerpt)) for h in found.items]
    return HitsOut(items=hits, total=found.total, page=page, size=size)


@router.get("/skipped")
def skipped(
    request: Request,
    me: Annotated[Me, Depends(holder("oversee"))],
    by: Literal["check", "technician", "job_type", "week"] = "check",
    check: Annotated[str | None, Query(max_length=100)] = None,
    since: Day | None = None,
    until: Day | None = None,
) -> list[ShareOut]:
    """How often checks are skipped, with counts and intervals."""
    shares = site_of(request).store.overview.shares(
        by, check=check or None, since=day(since.isoformat()) if since else None,
        until=_after(until.isoformat()) if until else None,
    )  # fmt: skip
    return [_share(share) for share in shares]


def _share(share: Share) -> ShareOut:
    return ShareOut(**{name: getattr(share, name) for name in ShareOut.model_fields})
