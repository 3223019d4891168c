"""The customer's report: looked at, issued with a number, withdrawn, issued again."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import FileResponse, Response

from voicereport.audio import snippet
from voicereport.render import audit_html, readings_csv, reassembly_html, transcript_vtt
from voicereport.render import pages as render_pages
from voicereport.render.context import context_of
from voicereport.render.customer import customer_view
from voicereport.render.pdf import pdf
from voicereport.report import Report, dump_json
from voicereport.store.values import Document, Job, StoredReport
from voicereport.web.access import Me, NotThereError, Posted, allowed, job_for, posted
from voicereport.web.answers import go, page
from voicereport.web.company import Company
from voicereport.web.decisions import standing_overrides, version_of
from voicereport.web.jobs import job_line
from voicereport.web.pages import say
from voicereport.web.report_pages import names_of, shown_report, stored_report
from voicereport.web.site import Site, site_of

router = APIRouter()
Reader = Annotated[Me, Depends(allowed("see_jobs", "see_own_jobs"))]
Issuer = Annotated[Posted, Depends(posted("issue"))]
_KINDS = {"customer.html": "text/html; charset=utf-8", "customer.pdf": "application/pdf",
          "report.json": "application/json"}  # fmt: skip


@router.get("/jobs/{job_id}/customer")
def customer_page(request: Request, job_id: int, me: Annotated[Me, Depends(allowed("see_jobs"))]) -> Response:
    """The customer's report as it would go out, and what is in its way."""
    site = site_of(request)
    job = job_for(request, me, job_id)
    stored = stored_report(site, job)
    if stored is None:
        raise NotThereError
    return page(request, me, "customer.html", job=job, line=job_line(job), stored=stored,
                issues=site.store.review.issues(job.id), names=names_of(site), hindrance=hindrance(job),
                overrides=len(standing_overrides(site, job.id)), may_issue=me.may("issue"),
                letterhead=site.company.get().company)  # fmt: skip


def hindrance(job: Job) -> str:
    """Why a job's report cannot be issued now, in a sentence; empty where it can."""
    if job.state == "issued":
        return say("issue", "stands")
    if job.state not in ("ready", "accepted", "withdrawn"):
        return say("issue", "state")
    if job.questions:
        return say("issue", "questions")
    if job.open_stops and job.state != "accepted":
        return say("issue", "stops")
    return ""


@router.get("/jobs/{job_id}/preview.html")
def preview(request: Request, job_id: int, me: Reader) -> Response:
    """The customer's report as a page of its own."""
    site, shown = _report(request, me, job_id)
    return document(customer_html(shown, site.company.get()).encode(), "customer.html")


@router.get("/jobs/{job_id}/preview.pdf")
def preview_pdf(request: Request, job_id: int, me: Reader) -> Response:
    """The customer's report as PDF."""
    site, shown = _report(request, me, job_id)
    return document(customer_pdf(shown, site.company.get()), "customer.pdf")


@router.get("/jobs/{job_id}/reassembly.html")
def reassembly(request: Request, job_id: int, me: Reader) -> Response:
    """The reassembly sheet."""
    site, shown = _report(request, me, job_id)
    sheet = reassembly_html(shown, letterhead=site.company.get().letterhead(site.settings.language))
    return document(sheet.encode(), "reassembly.html")


@router.get("/jobs/{job_id}/audit.html")
def audit(request: Request, job_id: int, me: Reader) -> Response:
    """The whole record with its sounds in one file, to be kept or sent."""
    site, shown = _report(request, me, job_id)
    kept = {r.sha256: r.path for r in site.store.recordings.of(job_id) if r.media_type.startswith("audio/") and r.path}
    paths = {entry.name: kept[entry.sha256] for entry in shown.recordings if entry.sha256 in kept}

    def cut(recording: str, start: float, end: float) -> bytes | None:
        return snippet(paths[recording], start, end) if recording in paths else None

    page = audit_html(shown, letterhead=site.company.get().letterhead(site.settings.language),
                      snippets=cut if paths else None)  # fmt: skip
    return _attached(page.encode(), "text/html; charset=utf-8", f"audit-{job_id}.html")


@router.get("/jobs/{job_id}/transcript.vtt")
def captions(request: Request, job_id: int, me: Reader) -> Response:
    """What was said, as WebVTT."""
    _, shown = _report(request, me, job_id)
    return _attached(transcript_vtt(shown).encode(), "text/vtt; charset=utf-8", f"transcript-{job_id}.vtt")


@router.get("/jobs/{job_id}/readings.csv")
def readings(request: Request, job_id: int, me: Reader) -> Response:
    """The readings as CSV."""
    _, shown = _report(request, me, job_id)
    return _attached(readings_csv(shown).encode(), "text/csv; charset=utf-8", f"readings-{job_id}.csv")


@router.post("/jobs/{job_id}/issue")
def issue(request: Request, job_id: int, sent: Issuer) -> Response:
    """The report signed, if nobody has yet, and issued with its number; its files are kept as they went out."""
    site, me = site_of(request), sent.me
    job = job_for(request, me, job_id)
    reason = hindrance(job)
    if reason:
        return page(request, me, "failure.html", status=409, sentence=reason, back=f"/jobs/{job.id}/customer")
    if job.state != "accepted":
        site.store.review.accept(job.id, expected=version_of(sent), by=me.login, now=site.now())
        job = site.store.jobs.get(job.id)
    files = issue_files(site, site.store.reports.get(job.id, job.version))
    site.store.review.issue(job.id, by=me.login, now=site.now(), note=sent.text("note", most=500), documents=files)
    return go(f"/jobs/{job.id}/customer", "issued")


@router.post("/jobs/{job_id}/withdraw")
def withdraw(request: Request, job_id: int, sent: Issuer) -> Response:
    """The issue that stands taken back, with the reason; its files stay."""
    site = site_of(request)
    job = job_for(request, sent.me, job_id)
    why = sent.text("why", most=500)
    if not why:
        return page(request, sent.me, "failure.html", status=422, sentence=say("lacking", "reason"),
                    back=f"/jobs/{job.id}/customer")  # fmt: skip
    site.store.review.withdraw(job.id, why, by=sent.me.login, now=site.now())
    return go(f"/jobs/{job.id}/customer", "withdrawn")


@router.get("/jobs/{job_id}/issues/{number}/{name}")
def issued_file(request: Request, job_id: int, number: int, name: str, me: Reader) -> Response:
    """A file as it went out."""
    job = job_for(request, me, job_id)
    kept = issued_document(site_of(request), job, number, name)
    return FileResponse(kept.path, media_type=_KINDS[name], headers=_policy(kept.path.read_bytes(), name))


def issue_files(site: Site, stored: StoredReport) -> dict[str, bytes]:
    """The files of an issue by their names, as they go out."""
    shown, company = shown_report(site, stored), site.company.get()
    return {
        "customer.html": customer_html(shown, company).encode(),
        "customer.pdf": customer_pdf(shown, company),
        "report.json": dump_json(stored.report).encode(),
    }


def issued_document(site: Site, job: Job, number: int, name: str) -> Document:
    """A file of an issue. Raises NotThereError."""
    for one in site.store.review.issues(job.id):
        for kept in one.documents:
            if one.number == number and kept.name == name and name in _KINDS and kept.path.is_file():
                return kept
    raise NotThereError


def customer_html(shown: Report, company: Company) -> str:
    """The customer's report in the company's wording."""
    view = customer_view(shown, context_of(shown, company.own_wording()), company.letterhead())
    return render_pages.page("customer.html", view)


def customer_pdf(shown: Report, company: Company) -> bytes:
    """The same as PDF/UA-1 and PDF/A-2a."""
    view = customer_view(shown, context_of(shown, company.own_wording()), company.letterhead())
    recorded_at = shown.job.recorded_at
    return pdf(view, recorded_at=recorded_at.value if recorded_at else None)


def document(content: bytes, name: str) -> Response:
    """A document as an answer, with a policy that allows exactly its own style."""
    return Response(content, media_type="application/pdf" if name.endswith(".pdf") else "text/html; charset=utf-8",
                    headers=_policy(content, name))  # fmt: skip


def _policy(content: bytes, name: str) -> dict[str, str]:
    if not name.endswith(".html"):
        return {"content-disposition": f'inline; filename="{name}"', "content-security-policy": "default-src 'none'; "
                "style-src 'unsafe-inline'; object-src 'self'"}  # fmt: skip
    found = re.search(rb"style-src '(sha256-[A-Za-z0-9+/=]+)'", content[:2000])
    style = f"'{found[1].decode()}'" if found else "'none'"
    return {"content-security-policy": f"default-src 'none'; style-src {style}; base-uri 'none'; form-action 'none'; "
            "frame-ancestors 'self'"}  # fmt: skip


def _attached(content: bytes, kind: str, name: str) -> Response:
    return Response(content, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'})


def _report(request: Request, me: Me, job_id: int) -> tuple[Site, Report]:
    site = site_of(request)
    job = job_for(request, me, job_id)
    stored = stored_report(site, job)
    if stored is None:
        raise NotThereError
    return site, shown_report(site, stored)
