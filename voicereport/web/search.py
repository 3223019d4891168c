"""Search across reports by words, part, reading, appliance, check, technician, date."""

from __future__ import annotations

import math
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from voicereport.render.figures import unit_sign
from voicereport.render.wording import load_wording
from voicereport.store.values import SearchQuery
from voicereport.units import UNITS
from voicereport.web.access import Me, allowed
from voicereport.web.answers import page
from voicereport.web.company import QUANTITIES
from voicereport.web.jobs import job_line, page_number
from voicereport.web.oversight import _after, day
from voicereport.web.pages import say
from voicereport.web.site import site_of

router = APIRouter()
_NAMES = ("words", "part", "quantity", "low", "high", "unit", "appliance", "technician", "since", "until")


@router.get("/search")
def search_page(request: Request, me: Annotated[Me, Depends(allowed("see_jobs"))]) -> Response:
    """What was found; the form alone where nothing was asked for."""
    site = site_of(request)
    asked = {name: request.query_params.get(name, "").strip()[:200] for name in _NAMES}
    fault = ""
    found = None
    if any(asked.values()):
        try:
            query = query_of(asked)
        except ValueError:
            fault = say("search", "figure")
        else:
            found = site.store.search.find(query, page=page_number(request), size=20)
    wording = load_wording()
    return page(request, me, "search.html", status=422 if fault else 200, fault=fault, asked=asked, found=found,
                lines=[(job_line(hit.job), hit.excerpt) for hit in found.items] if found else [],
                quantities=[(q, wording.tables["quantity"][q]) for q in QUANTITIES],
                units=[(code, unit_sign(code) or code) for code in UNITS], people=site.store.people.list(),
                onward="&".join(f"{k}={_quoted(v)}" for k, v in asked.items() if v))  # fmt: skip


def query_of(asked: dict[str, str]) -> SearchQuery:
    """What to look for. Raises ValueError for a figure that is none."""
    return SearchQuery(
        words=asked["words"], part=asked["part"] or None,
        quantity=asked["quantity"] if asked["quantity"] in QUANTITIES else None,
        low=_figure(asked["low"]), high=_figure(asked["high"]),
        unit=asked["unit"] if asked["unit"] in UNITS else None, appliance=asked["appliance"] or None,
        technician=asked["technician"] or None, since=day(asked["since"]), until=_after(asked["until"]),
    )  # fmt: skip


def _figure(given: str) -> float | None:
    if not given:
        return None
    number = float(given.replace("\N{MINUS SIGN}", "-").replace(",", "."))
    if not math.isfinite(number):
        raise ValueError(given)
    return number


def _quoted(value: str) -> str:
    from urllib.parse import quote

    return quote(value, safe="")
