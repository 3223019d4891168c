"""What a supervisor decides on a job: accept, send back with a question, let a check pass with a reason."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from voicereport.store.values import Override
from voicereport.web.access import NotThereError, Posted, job_for, posted
from voicereport.web.answers import go, page
from voicereport.web.pages import say
from voicereport.web.site import Site, site_of

router = APIRouter()
Decider = Annotated[Posted, Depends(posted("decide"))]


def standing_overrides(site: Site, job_id: int) -> tuple[Override, ...]:
    """The overrides of a job that hold."""
    return tuple(o for o in site.store.review.overrides(job_id) if o.lifted_at is None)


def version_of(sent: Posted) -> int:
    """The version that the form was made from. Raises NotThereError for what is no number."""
    given = sent.text("version", most=9)
    if not (given.isascii() and given.isdigit()):
        raise NotThereError
    return int(given)


@router.post("/jobs/{job_id}/checks/{check_id}/override")
def override(request: Request, job_id: int, check_id: str, sent: Decider) -> Response:
    """A check that is let pass, with the reason."""
    site, job = site_of(request), job_for(request, sent.me, job_id)
    reason = sent.text("reason", most=1000)
    if not reason:
        return _lacking(request, sent, job.id, check_id, "reason")
    site.store.review.override(job.id, check_id, reason, expected=version_of(sent), by=sent.me.login,
                               now=site.now())  # fmt: skip
    return go(f"/jobs/{job.id}#check-{check_id}", "overridden")


@router.post("/jobs/{job_id}/overrides/{override_id}/lift")
def lift(request: Request, job_id: int, override_id: int, sent: Decider) -> Response:
    """An override taken back."""
    site, job = site_of(request), job_for(request, sent.me, job_id)
    if override_id not in {o.id for o in standing_overrides(site, job.id)}:
        raise NotThereError
    why = sent.text("reason", most=1000) or say("why", "lifted")
    site.store.review.lift_override(override_id, why, by=sent.me.login, now=site.now())
    return go(f"/jobs/{job.id}", "lifted")


@router.post("/jobs/{job_id}/send-back")
def send_back(request: Request, job_id: int, sent: Decider) -> Response:
    """A question to the technician or the office; the job is sent back until it is answered."""
    site, job = site_of(request), job_for(request, sent.me, job_id)
    question, check_id = sent.text("question", most=1000), sent.text("check", most=100) or None
    if not question:
        return _lacking(request, sent, job.id, check_id or "", "question")
    site.store.review.send_back(job.id, question, check_id=check_id, by=sent.me.login, now=site.now())
    return go(f"/jobs/{job.id}", "sent_back")


@router.post("/jobs/{job_id}/questions/{question_id}/answer")
def answer(
    request: Request, job_id: int, question_id: int, sent: Annotated[Posted, Depends(posted("edit", "see_own_jobs"))]
) -> Response:
    """The answer to a question."""
    site, job = site_of(request), job_for(request, sent.me, job_id)
    if question_id not in {q.id for q in site.store.review.questions(job.id)}:
        raise NotThereError
    words = sent.text("answer", most=2000)
    if not words:
        return _lacking(request, sent, job.id, "", "answer")
    site.store.review.answer(question_id, words, by=sent.me.login, now=site.now())
    return go(f"/jobs/{job.id}", "answered")


@router.post("/jobs/{job_id}/accept")
def accept(request: Request, job_id: int, sent: Decider) -> Response:
    """The report as it stands, signed."""
    site, job = site_of(request), job_for(request, sent.me, job_id)
    site.store.review.accept(job.id, expected=version_of(sent), by=sent.me.login, now=site.now())
    return go(f"/jobs/{job.id}", "accepted")


@router.post("/jobs/{job_id}/hold")
def hold(request: Request, job_id: int, sent: Annotated[Posted, Depends(posted("decide", "issue"))]) -> Response:
    """The sound of a job kept past the set time, or no longer."""
    site, job = site_of(request), job_for(request, sent.me, job_id)
    keep = sent.text("held") == "yes"
    why = sent.text("reason", most=500) or say("why", "held" if keep else "released")
    site.store.jobs.hold(job.id, keep, by=sent.me.login, now=site.now(), why=why)
    return go(f"/jobs/{job.id}", "held" if keep else "released")


def _lacking(request: Request, sent: Posted, job_id: int, check_id: str, what: str) -> Response:
    anchor = f"#check-{check_id}" if check_id else ""
    return page(request, sent.me, "failure.html", status=422, sentence=say("lacking", what),
                back=f"/jobs/{job_id}{anchor}")  # fmt: skip
