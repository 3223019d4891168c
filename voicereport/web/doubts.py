"""Doubtful words, one after the other, settled by ear with keys only; the report is understood anew at once."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from voicereport.pipeline import report_files
from voicereport.render import text
from voicereport.render.context import context_of
from voicereport.render.wording import load_wording
from voicereport.report import Report, SegmentEntry
from voicereport.store import StoreError
from voicereport.store.values import Edit, Job, StoredReport
from voicereport.web.access import Me, NotThereError, Posted, allowed, job_for, posted
from voicereport.web.answers import go, page
from voicereport.web.decisions import version_of
from voicereport.web.jobs import job_line
from voicereport.web.merge import with_words
from voicereport.web.pages import say
from voicereport.web.recheck import rechecked, settings_for
from voicereport.web.record import Sounds, Time
from voicereport.web.report_pages import stored_report
from voicereport.web.site import Site, site_of

router = APIRouter()
_AROUND_S = 1.2  #: played before and after a doubtful word


@dataclass(frozen=True, kw_only=True, slots=True)
class Doubt:
    """A doubtful word in its sentence."""

    segment: int  #: place of the segment in the transcript
    word: int  #: place of the word in the segment
    heard: str
    alternative: str
    before: str
    after: str
    probability: float
    time: Time  #: the word with what stands around it
    whole: Time  #: the whole segment


def doubts_of(report: Report, sounds: Sounds | None = None) -> Iterator[Doubt]:
    """The doubtful words in the order of speech."""
    wording = load_wording()
    context = context_of(report, wording)
    sounds = sounds or Sounds(0, report, ())
    for n, segment in enumerate(report.transcript.segments):
        for place, word in enumerate(segment.words):
            if word.probability >= wording.limits["doubtful_below"] and word.alternative is None:
                continue
            start = max(segment.start, word.start - _AROUND_S)
            end = min(segment.end, word.end + _AROUND_S)
            words = [text.shown(w.word) for w in segment.words]
            yield Doubt(
                segment=n, word=place, heard=text.shown(word.word), alternative=text.shown(word.alternative or ""),
                before=" ".join(words[:place]), after=" ".join(words[place + 1 :]), probability=word.probability,
                time=sounds.time(context, segment.recording, start, max(end, start + 0.2)),
                whole=sounds.time(context, segment.recording, segment.start, segment.end),
            )  # fmt: skip


@router.get("/jobs/{job_id}/doubts")
def doubts_page(
    request: Request, job_id: int, me: Annotated[Me, Depends(allowed("edit"))], after: str = ""
) -> Response:
    """The next doubtful word. after: "SEGMENT.WORD", the word that was left for later."""
    site = site_of(request)
    job = job_for(request, me, job_id)
    stored = _stored(site, job)
    sounds = Sounds(job.id, stored.report, site.store.recordings.of(job.id))
    doubts = list(doubts_of(stored.report, sounds))
    left = _place(after)
    later = [d for d in doubts if left is None or (d.segment, d.word) > left]
    chosen = later[0] if later else None
    number = doubts.index(chosen) + 1 if chosen else len(doubts)
    return page(request, me, "doubts.html", job=job, line=job_line(job), doubt=chosen, count=len(doubts),
                number=number, version=stored.version, left=len(doubts) if chosen is None else 0)  # fmt: skip


@router.post("/jobs/{job_id}/doubts")
def settle(request: Request, job_id: int, sent: Annotated[Posted, Depends(posted("edit"))]) -> Response:
    """One word as a person heard it."""
    site, me = site_of(request), sent.me
    job = job_for(request, me, job_id)
    stored = _stored(site, job)
    place = _place(sent.text("place", most=20))
    segments = stored.report.transcript.segments
    if place is None or place[0] >= len(segments) or place[1] >= len(segments[place[0]].words):
        raise NotThereError
    segment = segments[place[0]]
    word = segment.words[place[1]]
    choice = sent.text("choice")
    chosen = {"heard": word.word, "other": word.alternative or word.word}.get(choice, sent.text("typed", most=200))
    if not chosen or version_of(sent) != stored.version:
        return go(f"/jobs/{job.id}/doubts", "word_moved" if chosen else "word_lacking")
    sounds = Sounds(job.id, stored.report, site.store.recordings.of(job.id))
    why = say("why", "by_ear" if sounds.has(segment.recording) else "by_words")
    edits = _edits(place, segment, chosen.split(), why)
    try:
        site.store.reports.edit(job.id, edits, expected=stored.version, by=me.login, now=site.now(),
                                recheck=lambda edited: understood(site, job, edited, segment.id))  # fmt: skip
    except StoreError as error:
        if error.kind != "conflict":
            raise
        return go(f"/jobs/{job.id}/doubts", "word_moved")
    return go(f"/jobs/{job.id}/doubts?after={place[0]}.{place[1]}", "word_settled")


def _edits(place: tuple[int, int], segment: SegmentEntry, chosen: list[str], why: str) -> tuple[Edit, ...]:
    """The word as it was settled: certain, without another hearing. Several words share its time."""
    n, at = place
    old = segment.words[at]
    span = (old.end - old.start) / len(chosen)
    fresh = [
        {"word": one, "start": round(old.start + k * span, 3), "end": round(old.start + (k + 1) * span, 3),
         "probability": 1.0, "alternative": None}
        for k, one in enumerate(chosen)
    ]  # fmt: skip
    words = [w.model_dump(mode="json") for w in segment.words]
    words[at : at + 1] = fresh
    path = f"/transcript/segments/{n}"
    told = " ".join(w["word"] for w in words)
    return (
        Edit(kind="change", path=f"{path}/words", value=words, why=why),
        Edit(kind="change", path=f"{path}/text", value=told, why=why),
    )


def understood(site: Site, job: Job, report: Report, segment: str) -> Report:
    """The report understood anew from its words as they are now; what people changed stays."""
    company = site.company.get()
    settings = settings_for(site.settings, company, job.trade)
    with tempfile.TemporaryDirectory(prefix="voicereport-") as folder:
        words = Path(folder) / "words.json"
        words.write_text(report.model_dump_json(), encoding="utf-8")
        visits = [entry.visit for entry in report.recordings]
        made = report_files([words], settings, visits=visits)
    return rechecked(with_words(report, made, segment), company, settings)


def _stored(site: Site, job: Job) -> StoredReport:
    stored = stored_report(site, job)
    if stored is None:
        raise NotThereError
    return stored


def _place(given: str) -> tuple[int, int] | None:
    first, _, second = given.partition(".")
    digits = all(part.isascii() and part.isdigit() and len(part) < 7 for part in (first, second))
    return (int(first), int(second)) if digits else None
