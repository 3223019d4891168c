"""Changing a report in its place: an entry changed, added or struck, and the whole checked again at once."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from voicereport.report import Report
from voicereport.store import StoreError
from voicereport.store.values import Job
from voicereport.web.access import NotThereError, Posted, job_for, posted
from voicereport.web.answers import go
from voicereport.web.decisions import version_of
from voicereport.web.forms import EntryForm, FieldError, edits_of, form_for
from voicereport.web.pages import say
from voicereport.web.recheck import rechecked, settings_for
from voicereport.web.report_pages import show_job
from voicereport.web.site import Site, site_of

router = APIRouter()


@router.post("/jobs/{job_id}/entries")
def change_entry(request: Request, job_id: int, sent: Annotated[Posted, Depends(posted("edit"))]) -> Response:
    """An entry as its form has it."""
    site, me = site_of(request), sent.me
    job = job_for(request, me, job_id)
    path, version, why = sent.text("path", most=200), version_of(sent), sent.text("why", most=500)
    if not 1 <= version <= job.version:
        raise NotThereError
    report = site.store.reports.get(job.id, version).report
    strike = sent.text("act") == "strike"
    typed = {name: value for name, value in sent.form.items() if isinstance(value, str)}
    try:
        if not why:
            raise FieldError(say("field", "why"), say("form", "needed"))
        edits = edits_of(report, path, typed, why, strike=strike)
        stored = site.store.reports.edit(job.id, edits, expected=version, by=me.login, now=site.now(),
                                         recheck=lambda edited: recheck(site, job, edited))  # fmt: skip
    except FieldError as error:
        return show_job(request, me, job, status=422, fault=f"{error.place}: {error.problem}",
                        form=_again(report, path, typed, why))  # fmt: skip
    except StoreError as error:
        if error.kind != "conflict":
            raise
        return show_job(request, me, site.store.jobs.get(job.id), status=409, fault=say("form", "moved_on"))
    place = edits[0].path
    if place.endswith("/-"):
        section = place.strip("/").split("/")[0]
        place = f"/{section}/{len(getattr(stored.report, section)) - 1}"
    anchor = place.strip("/").replace("/", "-")
    return go(f"/jobs/{job.id}#{anchor}", "struck" if strike else "changed")


def recheck(site: Site, job: Job, report: Report) -> Report:
    """The report checked anew by the company's rules."""
    company = site.company.get()
    return rechecked(report, company, settings_for(site.settings, company, job.trade))


def _again(report: Report, path: str, typed: dict[str, str], why: str) -> EntryForm | None:
    """The form as it was filled in."""
    section = path.strip("/").split("/")[0]
    adding = path.endswith("/-")
    form = form_for(report, "" if adding else path, section if adding else "")
    if form is None:
        return None
    fields = tuple(replace(f, value=typed.get(f.name, f.value)) for f in form.fields)
    return replace(form, fields=fields, why=why)
