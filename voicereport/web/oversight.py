"""The supervisor's pages: what is blocked first, then what is skipped across jobs, with counts and intervals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from voicereport.render import text
from voicereport.store.values import JobFilter, Overview, Repeat, Share
from voicereport.web.access import Me, NotThereError, allowed
from voicereport.web.answers import page
from voicereport.web.appliances import say_columns
from voicereport.web.charts import bars, count_of, weeks
from voicereport.web.csv_out import csv_answer
from voicereport.web.jobs import TO_ACCEPT, job_line, page_number
from voicereport.web.pages import say
from voicereport.web.site import Site, site_of

router = APIRouter()
Overseer = Annotated[Me, Depends(allowed("oversee"))]
_FIRST = 15  #: blocked jobs on the first page
_FEW = 12  #: rows of a drawing


@dataclass(frozen=True, kw_only=True, slots=True)
class ShareRow:
    """A share as a row of a table."""

    key: str
    title: str
    severity: str
    count: str
    interval: str
    address: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Sentence:
    """What stands out, in words, leading to the jobs."""

    words: str
    detail: str
    address: str


@router.get("/oversight")
def oversight_page(request: Request, me: Overseer) -> Response:
    """Sentences first, then the blocked jobs, then what is skipped."""
    site = site_of(request)
    seen = site.store.overview.overview(weeks=26, now=site.now())
    asked = site.store.jobs.page(JobFilter(states=("sent_back",)), size=10)
    waiting = site.store.jobs.page(TO_ACCEPT, size=10)
    return page(request, me, "oversight.html", blocked=[job_line(job) for job in seen.blocked[:_FIRST]],
                blocked_total=seen.blocked_total, asked=[job_line(job) for job in asked.items],
                asked_total=asked.total, waiting=[job_line(job) for job in waiting.items], waiting_total=waiting.total,
                sentences=sentences(site, seen), **_drawings(seen))  # fmt: skip


def named(shares: Sequence[Share]) -> tuple[Share, ...]:
    """Shares that all have a title: a kind of job that nobody told has none."""
    return tuple(s if s.title else replace(s, title=say("chart", "not_said")) for s in shares)


def by_weight(shares: Sequence[Share]) -> tuple[Share, ...]:
    """Shares by what is sure about them, the lower bound of the interval: one job of one does not come first."""
    return tuple(sorted(shares, key=lambda s: (-s.low, -s.skipped, s.key)))


def _drawings(seen: Overview) -> dict[str, Any]:
    every = by_weight(seen.checks)
    checks, people, kinds = every[:_FEW], seen.technicians[:_FEW], named(seen.job_types[:_FEW])
    return {
        "checks": share_rows(every, "check"),
        "technicians": share_rows(people, "technician"),
        "job_types": share_rows(kinds, "job_type"),
        "weeks": share_rows(seen.weeks, ""),
        "check_chart": bars(say("chart", "checks"), checks),
        "technician_chart": bars(say("chart", "technicians"), people),
        "job_type_chart": bars(say("chart", "job_types"), kinds),
        "week_chart_values": weeks(say("chart", "weeks"), seen.weeks),
    }


def sentences(site: Site, seen: Overview) -> list[Sentence]:
    """The stop-level checks that lack most often in the last four weeks, each a sentence that leads to its jobs."""
    since = site.now() - timedelta(weeks=4)
    lately = site.store.overview.shares("check", since=since)
    worst = [s for s in lately if s.severity == "stop" and s.skipped][:4]
    out = [
        Sentence(words=say("oversight", "skipped_one" if s.skipped == 1 else "skipped_many", count=s.skipped,
                           title=text.shown(s.title)),
                 detail=f"{count_of(s)}, {interval_words(s)}",
                 address=f"/oversight/checks/{s.key}?{urlencode({'since': since.date().isoformat()})}")
        for s in worst
    ]  # fmt: skip
    repeats = [r for r in site.store.overview.repeats(limit=3) if r.serial is not None]
    out += [
        Sentence(words=say("oversight", "repeat", part=text.capital(text.shown(r.part)), times=r.times,
                           model=text.shown(r.model or r.serial or "")),
                 detail=f"{r.first_at.date()} – {r.last_at.date()}",
                 address=f"/appliances/plate?{urlencode({'serial': r.serial or ''})}")
        for r in repeats
    ]  # fmt: skip
    return out


def share_rows(shares: Sequence[Share], dimension: str) -> list[ShareRow]:
    """Shares as rows, each leading to its jobs where it can."""
    severities = {"stop": say("oversight", "stop"), "warning": say("oversight", "warning")}
    return [
        ShareRow(key=text.shown(s.key), title=text.shown(s.title) or say("chart", "not_said"),
                 severity=severities.get(s.severity or "", ""),
                 count=count_of(s), interval=interval_words(s), address=_address(dimension, s.key))
        for s in shares
    ]  # fmt: skip


def _address(dimension: str, key: str) -> str:
    if dimension == "check":
        return f"/oversight/checks/{key}"
    return f"/oversight/checks?{urlencode({dimension: key})}" if dimension else ""


def interval_words(share: Share) -> str:
    """The interval in whole per cent: "8 to 41 %"."""
    return say("chart", "interval", low=round(share.low * 100), high=round(share.high * 100))


@router.get("/oversight/checks")
def checks_page(
    request: Request, me: Overseer, technician: str = "", job_type: str = "", since: str = "", until: str = ""
) -> Response:
    """Every check, for one technician or one kind of job where asked for."""
    site = site_of(request)
    technician, job_type = technician[:100], "" if technician else job_type[:200]
    found = site.store.overview.shares("check", technician=technician or None, job_type=job_type or None,
                                       since=day(since), until=_after(until))  # fmt: skip
    shares = by_weight(found)
    by_week = site.store.overview.shares("week", technician=technician or None, job_type=job_type or None,
                                         since=day(since), until=_after(until))  # fmt: skip
    people = [p for p in site.store.people.list() if p.role == "technician"]
    kinds = [s.key for s in site.store.overview.shares("job_type") if s.key]
    return page(request, me, "oversight_checks.html", rows=share_rows(shares, "check"),
                chart=bars(say("chart", "checks"), shares),
                week_chart_values=weeks(say("chart", "weeks"), by_week[-26:]), weeks=share_rows(by_week, ""),
                technician=technician, job_type=job_type, since=since[:10],
                until=until[:10], people=people, kinds=kinds)  # fmt: skip


@router.get("/oversight/checks/{check_id}")
def check_page(
    request: Request, me: Overseer, check_id: str, technician: str = "", since: str = "", until: str = ""
) -> Response:
    """One check: by technician, kind and week, and the jobs that lack it."""
    site = site_of(request)
    store, first, last = site.store.overview, day(since), _after(until)
    own = [s for s in store.shares("check", since=first, until=last) if s.key == check_id] or [
        s for s in store.shares("check") if s.key == check_id
    ]
    if not own:
        raise NotThereError
    people = store.shares("technician", check=check_id, since=first, until=last)
    kinds = store.shares("job_type", check=check_id, since=first, until=last)
    by_week = store.shares("week", check=check_id, since=first, until=last)[-26:]
    found = store.skipped_jobs(check_id, technician=technician[:100] or None, page=page_number(request), size=25,
                               since=first, until=last)  # fmt: skip
    return page(request, me, "oversight_check.html", share=own[0], row=share_rows(own[:1], "")[0],
                technicians=share_rows(people, ""), job_types=share_rows(kinds, ""), weeks=share_rows(by_week, ""),
                technician_chart=bars(say("chart", "technicians"), people[:_FEW]),
                job_type_chart=bars(say("chart", "job_types"), named(kinds[:_FEW])),
                week_chart_values=weeks(say("chart", "weeks"), by_week), lines=[job_line(job) for job in found.items],
                found=found, technician=technician[:100], since=since[:10], until=until[:10])  # fmt: skip


@router.get("/oversight/skipped.csv")
def skipped_csv(
    request: Request,
    me: Overseer,
    by: str = "check",
    check: str = "",
    technician: str = "",
    job_type: str = "",
    since: str = "",
    until: str = "",
) -> Response:
    """Counts as CSV: by check, technician, job_type or week."""
    if by not in ("check", "technician", "job_type", "week"):
        raise NotThereError
    shares = site_of(request).store.overview.shares(
        by,  # type: ignore[arg-type]
        check=check[:100] or None, technician=technician[:100] or None,
        job_type=None if technician else job_type[:200] or None, since=day(since), until=_after(until),
    )  # fmt: skip
    rows = [(s.key, s.title, s.skipped, s.applicable, round(s.share, 4), round(s.low, 4), round(s.high, 4))
            for s in shares]  # fmt: skip
    return csv_answer(f"skipped-by-{by}", say_columns("skipped"), rows)


@router.get("/oversight/repeats")
def repeats_page(request: Request, me: Overseer, model: str = "") -> Response:
    """Parts that one appliance was fitted with again; for a model, over all its appliances."""
    found = _found_again(request, model[:200])
    return page(request, me, "repeats.html", found=found, model=model[:200])


@router.get("/oversight/repeats.csv")
def repeats_csv(request: Request, me: Overseer, model: str = "") -> Response:
    """The same as CSV."""
    rows = [(r.part, r.model or "", r.serial or "", r.times, r.appliances, r.first_at.date().isoformat(),
             r.last_at.date().isoformat()) for r in _found_again(request, model[:200])]  # fmt: skip
    return csv_answer("repeats", say_columns("repeats"), rows)


def _found_again(request: Request, model: str) -> tuple[Repeat, ...]:
    site = site_of(request)
    return site.store.overview.repeats(model=model or None, limit=100)


def day(given: str) -> datetime | None:
    """The start of a day, "2026-03-09", where the server stands; None for what is no day."""
    try:
        return datetime.fromisoformat(given[:10]).astimezone() if given else None
    except (ValueError, OverflowError):
        return None


def _after(given: str) -> datetime | None:
    """The end of a day."""
    start = day(given)
    return start + timedelta(days=1) if start and start.year < 9999 else None
