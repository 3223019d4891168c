"""A job's page: its report with each entry beside the words, what it needs, and who decided what."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from voicereport.report import Report, dump_json
from voicereport.store.values import Job, StoredReport
from voicereport.web.access import Me, NotThereError, allowed, job_for
from voicereport.web.answers import page
from voicereport.web.forms import form_for
from voicereport.web.jobs import job_line, latest_task, work_sentence
from voicereport.web.photos import by_segment, photos_of
from voicereport.web.recheck import as_shown
from voicereport.web.record import Sounds, record_of
from voicereport.web.site import Site, site_of

router = APIRouter()
Reader = Annotated[Me, Depends(allowed("see_jobs", "see_own_jobs"))]


@router.get("/jobs/{job_id}")
def job_page(request: Request, job_id: int, me: Reader, version: int = 0) -> Response:
    """The job with its latest report, or with an earlier version of it."""
    return show_job(request, me, job_for(request, me, job_id), version=version)


def show_job(
    request: Request, me: Me, job: Job, *, version: int = 0, status: int = 200, fault: str = "", form: Any = None
) -> Response:
    """The page of a job. form: the form of an entry that is being changed, where it did not succeed."""
    site = site_of(request)
    stored = stored_report(site, job, version)
    latest = stored is not None and stored.version == job.version
    may_edit = me.may("edit") and latest
    values: dict[str, Any] = {
        "job": job,
        "line": job_line(job),
        "recordings": site.store.recordings.of(job.id),
        "stored": stored,
        "latest": latest,
        "record": None,
        "task": latest_task(site, job.id),
        "photos": (),
        "placed": {},
        "working": job.state in ("queued", "working"),
        "issues": site.store.review.issues(job.id),
        "questions": site.store.review.questions(job.id),
        "versions": site.store.reports.versions(job.id) if stored else (),
        "names": names_of(site),
        "may_edit": may_edit,
        "may_decide": me.may("decide") and latest,
        "may_issue": me.may("issue") and latest,
        "may_bring": me.may("bring_in"),
        "may_answer": me.may("edit") or job.technician == me.login,
        "form": form,
        "fault": fault,
    }
    shown = None if stored is None else shown_report(site, stored)
    company = site.company.get()
    values["photos"] = photos_of(site, job, values["recordings"], shown, company.own_wording())
    values["placed"] = by_segment(values["photos"])
    values["work_sentence"] = work_sentence(values["task"])
    if stored is not None and shown is not None:
        sounds = Sounds(job.id, stored.report, values["recordings"])
        overrides = site.store.review.overrides(job.id, lifted=False)
        values["record"] = record_of(shown, company.own_wording(), sounds, overrides=overrides,
                                     questions=[q for q in values["questions"] if q.answer is None])  # fmt: skip
        if may_edit and form is None:
            wanted = request.query_params
            values["form"] = form_for(stored.report, wanted.get("change", ""), wanted.get("add", ""))
    return page(request, me, "job.html", status=status, **values)


def stored_report(site: Site, job: Job, version: int = 0) -> StoredReport | None:
    """The version that was asked for, else the latest; None where there is none yet."""
    if version and version != job.version:
        if version > job.version or version < 0:
            raise NotThereError
        return site.store.reports.get(job.id, version)
    return site.store.reports.latest(job.id)


def names_of(site: Site) -> dict[str, str]:
    """Names of people by login."""
    return {person.login: person.name for person in site.store.people.list()}


def shown_report(site: Site, stored: StoredReport) -> Report:
    """The report as renderings show it."""
    return as_shown(stored.report, names_of(site))


@router.get("/jobs/{job_id}/report.json")
def report_json(request: Request, job_id: int, me: Reader, version: int = 0) -> Response:
    """The report as it is kept."""
    stored = stored_report(site_of(request), job_for(request, me, job_id), version)
    if stored is None:
        raise NotThereError
    return Response(dump_json(stored.report), media_type="application/json",
                    headers={"content-disposition": f'attachment; filename="report-{job_id}.json"'})  # fmt: skip


@router.get("/jobs/{job_id}/history")
def history(request: Request, job_id: int, me: Reader) -> Response:
    """Everything that was done to a job, oldest first."""
    site = site_of(request)
    job = job_for(request, me, job_id)
    return page(request, me, "history.html", job=job, line=job_line(job), entries=site.store.jobs.history(job.id),
                names=names_of(site))  # fmt: skip
