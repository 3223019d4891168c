"""What has come in and what each job still needs; bringing in recordings and transcripts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, Response
from starlette.datastructures import UploadFile

from voicereport.render import text
from voicereport.store import StoreError
from voicereport.store.values import Job, JobFilter, NewJob, Recording, Task
from voicereport.trades import list_trades
from voicereport.web.access import Me, Posted, allowed, job_for, posted
from voicereport.web.answers import go, page
from voicereport.web.pages import say, words
from voicereport.web.site import Site, site_of
from voicereport.web.sniff import kind_of

router = APIRouter()
_FIELDS = ("work_order", "customer", "site", "job_type", "appliance_kind", "maker", "model", "serial")
_SIZE = 50
TO_ACCEPT = JobFilter(states=("ready",), clear=True)  #: nothing stands in the way of a supervisor's acceptance
_TABS = {
    "open": JobFilter(states=("new", "queued", "working", "failed", "ready", "sent_back", "accepted", "withdrawn")),
    "working": JobFilter(states=("new", "queued", "working")),
    "review": JobFilter(states=("ready", "failed")),
    "blocked": JobFilter(blocked=True),
    "to_accept": TO_ACCEPT,
    "sent_back": JobFilter(states=("sent_back",)),
    "accepted": JobFilter(states=("accepted",)),
    "issued": JobFilter(states=("issued",)),
    "all": JobFilter(),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class JobLine:
    """A job in a list: what it is called, what it is about, what it needs."""

    job: Job
    title: str
    heading: str
    about: str
    needs: str
    state_word: str


def long_title(job: Job) -> str:
    """What a job's page is headed by."""
    return say("job", "order", order=text.shown(job.work_order)) if job.work_order else job_title(job)


def job_title(job: Job) -> str:
    """The work order, else the job's number."""
    return text.shown(job.work_order) if job.work_order else say("job", "number", number=job.id)


def job_line(job: Job) -> JobLine:
    """A job as a line of a list."""
    plate = " ".join(text.shown(part) for part in (job.maker, job.model) if part)
    about = ", ".join(text.shown(part) for part in (job.appliance_kind, plate, job.customer) if part)
    return JobLine(job=job, title=job_title(job), heading=long_title(job), about=text.capital(about),
                   needs=needs_of(job), state_word=words()["job_state"][job.state])  # fmt: skip


def needs_of(job: Job) -> str:
    """What a job still needs, in one sentence."""
    if job.state in ("new", "queued", "working", "issued"):
        return say("needs", job.state)
    if job.state == "failed":
        return say("needs", "failed", problem=text.shown(job.problem or ""))
    parts = [_counted("questions", job.questions), _counted("stops", job.open_stops),
             _counted("warnings", job.open_warnings)]  # fmt: skip
    told = "; ".join(part for part in parts if part)
    if job.state in ("accepted", "withdrawn"):
        return say("needs", job.state) + (f" {text.capital(told)}." if told else "")
    return f"{text.capital(told)}." if told else say("needs", "nothing")


def _counted(what: str, count: int) -> str:
    if not count:
        return ""
    return say("needs", f"{what}_one") if count == 1 else say("needs", f"{what}_many", count=count)


def page_number(request: Request) -> int:
    """The page that was asked for, from 1; 1 for what is no number."""
    given = request.query_params.get("page", "1")
    return min(100_000, max(1, int(given))) if given.isascii() and given.isdigit() and len(given) < 7 else 1


@router.get("/jobs")
def jobs_page(
    request: Request, me: Annotated[Me, Depends(allowed("see_jobs", "see_own_jobs"))], show: str = "open"
) -> Response:
    """The list: what needs a person first, newest first."""
    site = site_of(request)
    show = show if show in _TABS else "open"
    own = None if me.may("see_jobs") else me.login
    found = site.store.jobs.page(replace(_TABS[show], technician=own), page=page_number(request), size=_SIZE)
    tabs = [tab for tab in _TABS if tab != "to_accept" or me.may("decide")]
    return page(request, me, "jobs.html", lines=[job_line(job) for job in found.items], found=found, show=show,
                tabs=tabs, may_bring=me.may("bring_in"))  # fmt: skip


@router.get("/jobs/new")
def new_job_page(request: Request, me: Annotated[Me, Depends(allowed("bring_in"))], serial: str = "") -> Response:
    """The form for a new job; with a known appliance's serial number its data plate is filled in."""
    return _new_page(request, me, _plate(site_of(request), serial))


def _plate(site: Site, serial: str) -> dict[str, str]:
    known = site.store.jobs.appliance(serial) if serial else None
    if known is None:
        return {"serial": serial} if serial else {}
    plate = {"appliance_kind": known.kind, "maker": known.maker, "model": known.model, "serial": known.serial}
    return {key: value for key, value in plate.items() if value}


def _new_page(request: Request, me: Me, values: dict[str, str], *, status: int = 200, fault: str = "") -> Response:
    site = site_of(request)
    people = [p for p in site.store.people.list(active_only=True) if p.role == "technician"]
    plates = site.store.jobs.appliances(limit=50)
    return page(request, me, "new_job.html", status=status, fault=fault, values=values, technicians=people,
                plates=plates, trades=list_trades(), trade=site.settings.trade, choose=me.may("see_jobs"),
                most=site.options.upload_bytes)  # fmt: skip


@router.post("/jobs/new")
def new_job(request: Request, sent: Annotated[Posted, Depends(posted("bring_in"))]) -> Response:
    """A job and its files; work on it begins."""
    site, me = site_of(request), sent.me
    values = {name: sent.text(name, most=200) for name in _FIELDS}
    files = uploaded(sent)
    fault = _fault(files)
    technician = sent.text("technician", most=100) if me.may("see_jobs") else me.login
    if fault is None and technician not in {p.login for p in site.store.people.list(active_only=True)}:
        fault = say("upload", "technician")
    if fault is not None:
        return _new_page(request, me, {k: v for k, v in values.items() if v}, status=422, fault=fault)
    trade = sent.text("trade", most=100)
    values = _plate(site, values["serial"]) | {name: value for name, value in values.items() if value}
    new = NewJob(technician=technician, trade=trade if trade in list_trades() else None,
                 key=sent.text("key", most=100) or None,
                 **values)  # fmt: skip
    job = site.store.jobs.create(new, by=me.login, now=site.now())
    keep(site, job.id, files, me.login)
    return go(f"/jobs/{job.id}", "brought_in")


@router.post("/jobs/{job_id}/recordings")
def add_recordings(request: Request, job_id: int, sent: Annotated[Posted, Depends(posted("bring_in"))]) -> Response:
    """More files for a job."""
    site = site_of(request)
    job = job_for(request, sent.me, job_id)
    files = uploaded(sent)
    fault = _fault(files)
    if fault is not None:
        return page(request, sent.me, "failure.html", status=422, sentence=fault, back=f"/jobs/{job.id}")
    keep(site, job.id, files, sent.me.login)
    return go(f"/jobs/{job.id}", "brought_in")


@router.post("/jobs/{job_id}/again")
def again(request: Request, job_id: int, sent: Annotated[Posted, Depends(posted("bring_in"))]) -> Response:
    """Another try at a job whose work failed."""
    site = site_of(request)
    job = job_for(request, sent.me, job_id)
    site.store.queue.put(job.id, now=site.now(), by=sent.me.login)
    return go(f"/jobs/{job.id}", "queued")


@router.get("/jobs/{job_id}/progress")
def progress(
    request: Request, job_id: int, me: Annotated[Me, Depends(allowed("see_jobs", "see_own_jobs"))]
) -> Response:
    """How far the work on a job is: {sentence, share, settled}."""
    job = job_for(request, me, job_id)
    task = latest_task(site_of(request), job_id)
    return JSONResponse({"sentence": work_sentence(task), "share": task.progress if task else 0.0,
                         "settled": job.state not in ("new", "queued", "working")})  # fmt: skip


def latest_task(site: Site, job_id: int) -> Task | None:
    """The task of a job that runs, else the newest."""
    tasks = site.store.queue.of(job_id)
    return max(tasks, key=lambda task: (task.state == "running", task.id)) if tasks else None


def work_sentence(task: Task | None) -> str:
    """What is being done."""
    if task is None or task.state == "waiting":
        return say("work", "waiting")
    return text.capital(text.shown(task.what)) if task.what else say("work", "starting")


def uploaded(sent: Posted) -> list[UploadFile]:
    """The files of a form, without those that were not chosen."""
    return [f for f in sent.form.getlist("files") if isinstance(f, UploadFile) and (f.filename or f.size)]


def _fault(files: list[UploadFile]) -> str | None:
    if not files:
        return say("upload", "none")
    for file in files:
        if not file.size:
            return say("upload", "empty", name=text.shown(file.filename or ""))
        if kind_of(file.file) is None:
            return say("upload", "unknown", name=text.shown(file.filename or ""))
    return None


def keep(site: Site, job_id: int, files: list[UploadFile], login: str) -> list[Recording]:
    """Files into the store, and the job into the queue. What a file is was read from its bytes."""
    kept = []
    for file in files:
        kind = kind_of(file.file)
        if kind is None:
            raise StoreError(text.shown(file.filename or ""), say("upload", "kind"), kind="refused")
        file.file.seek(0)
        kept.append(site.store.recordings.add(job_id, plain_name(file.filename or ""), file.file,
                                              media_type=kind.media_type, by=login, now=site.now()))  # fmt: skip
    site.store.queue.put(job_id, now=site.now(), by=login)
    return kept


def plain_name(name: str) -> str:
    """The last part of a file's name as its sender gave it, 150 characters at most; never a path."""
    last = name.replace("\\", "/").rpartition("/")[2].strip()
    return last[-150:] or say("upload", "unnamed")
