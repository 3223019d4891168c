"""Known appliances: the data plate as last known, the jobs on it, its readings over time."""

from __future__ import annotations

from collections import defaultdict
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from voicereport.render.wording import load_wording
from voicereport.store.values import JobFilter, Point
from voicereport.web.access import Me, NotThereError, allowed
from voicereport.web.answers import page
from voicereport.web.charts import Course, course
from voicereport.web.csv_out import csv_answer
from voicereport.web.jobs import job_line
from voicereport.web.pages import say
from voicereport.web.site import site_of

router = APIRouter()
Reader = Annotated[Me, Depends(allowed("appliances"))]


@router.get("/appliances")
def appliances_page(request: Request, me: Reader, q: str = "") -> Response:
    """The appliances, those with the latest job first."""
    found = site_of(request).store.jobs.appliances(q[:100], limit=100)
    return page(request, me, "appliances.html", found=found, q=q[:100])


@router.get("/appliances/plate")
def appliance_page(request: Request, me: Reader, serial: str) -> Response:
    """One appliance. The serial number stands in the query: it may hold anything."""
    store = site_of(request).store
    plate = store.jobs.appliance(serial)
    if plate is None:
        raise NotThereError
    jobs = store.jobs.page(JobFilter(serial=plate.serial), size=50)
    repeats = store.overview.repeats(model=plate.model, limit=10) if plate.model else ()
    return page(request, me, "appliance.html", plate=plate, lines=[job_line(job) for job in jobs.items],
                courses=courses(store.overview.readings(plate.serial)), repeats=repeats)  # fmt: skip


@router.get("/appliances/plate/readings.csv")
def readings_csv(request: Request, me: Reader, serial: str) -> Response:
    """Its readings as CSV, oldest first."""
    points = site_of(request).store.overview.readings(serial)
    rows = [(p.at.date().isoformat(), p.job_id, p.subject or "", p.quantity, p.stage or "", p.value, p.unit or "",
             p.verdict) for p in points]  # fmt: skip
    return csv_answer("readings", say_columns("readings"), rows)


def say_columns(name: str) -> tuple[str, ...]:
    """The heads of a table's columns."""
    return tuple(part.strip() for part in say("columns", name).split("|"))


def courses(points: tuple[Point, ...]) -> list[Course]:
    """Each quantity at each place over time, those measured most often first."""
    wording = load_wording()
    groups: dict[tuple[str, str, str], list[Point]] = defaultdict(list)
    for point in points:
        groups[(point.subject or "", point.quantity, point.unit or "")].append(point)
    ordered = sorted(groups.items(), key=lambda item: -len(item[1]))
    return [course(subject, wording.word("quantity", quantity), unit, found, wording)
            for (subject, quantity, unit), found in ordered]  # fmt: skip
