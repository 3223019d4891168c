"""The company's own: letterhead, wording, limits."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from pydantic import ValidationError

from voicereport.render.figures import unit_sign
from voicereport.render.wording import load_wording
from voicereport.units import UNITS
from voicereport.web.access import Me, Posted, allowed, posted
from voicereport.web.answers import go, page
from voicereport.web.company import OWN_WORDS, QUANTITIES, Company
from voicereport.web.pages import say
from voicereport.web.site import site_of

router = APIRouter()
_MOST_LIMITS = 200
_LIMIT_FIELDS = ("title", "quantity", "subject", "low", "high", "unit", "stage", "source")


@router.get("/company")
def company_page(request: Request, me: Annotated[Me, Depends(allowed("company"))]) -> Response:
    """What holds."""
    return _page(request, me, site_of(request).company.get())


def _page(
    request: Request, me: Me, company: Company, *, status: int = 200, fault: str = "", rows: Any = None
) -> Response:
    shipped = load_wording()
    texts = [(f"{table}.{key}", shipped.tables[table][key], company.wording.get(f"{table}.{key}", ""))
             for table, key in OWN_WORDS]  # fmt: skip
    limits = rows if rows is not None else [limit.model_dump(mode="json") for limit in company.limits]
    return page(request, me, "company.html", status=status, fault=fault, company=company, texts=texts, limits=limits,
                quantities=[(q, shipped.tables["quantity"][q]) for q in QUANTITIES],
                units=[(code, unit_sign(code) or code) for code in UNITS],
                stages=[(s, shipped.tables["stage"][s]) for s in ("as_found", "as_left")])  # fmt: skip


@router.post("/company")
def change_company(request: Request, sent: Annotated[Posted, Depends(posted("company"))]) -> Response:
    """All of it as the form has it; told in the trail."""
    site, me = site_of(request), sent.me
    before = site.company.get()
    rows = _rows(sent)
    wording = {f"{table}.{key}": sent.text(f"{table}.{key}", most=1000) for table, key in OWN_WORDS}
    values = {name: sent.text(name, most=600) for name in ("company", "address", "phone", "licence")}
    try:
        company = Company.model_validate(
            values | {"paper": sent.text("paper"), "profile": sent.text("profile"),
                      "keep_days": sent.text("keep_days", most=6) or None, "wording": wording,
                      "limits": [_limit(row) for row in rows]}
        )  # fmt: skip
    except ValidationError as error:
        return _page(request, me, before, status=422, fault=_told(error), rows=rows)
    site.company.put(company)
    site.store.trail.note("company.changed", "company", by=me.login, now=site.now(),
                          before=before.model_dump(mode="json"), after=company.model_dump(mode="json"),
                          why=say("why", "company"))  # fmt: skip
    return go("/company", "company_changed")


def _rows(sent: Posted) -> list[dict[str, Any]]:
    """The rows of the table of limits that are not empty."""
    columns = {name: [v for v in sent.form.getlist(f"limit-{name}") if isinstance(v, str)] for name in _LIMIT_FIELDS}
    count = min(_MOST_LIMITS, *(len(column) for column in columns.values()))
    rows = [{name: columns[name][n].strip() for name in _LIMIT_FIELDS} for n in range(count)]
    return [row for row in rows if row["title"] or row["low"] or row["high"] or row["subject"]]


def _limit(row: dict[str, str]) -> dict[str, Any]:
    minus = "\N{MINUS SIGN}"
    figures = {name: row[name].replace(minus, "-").replace(",", ".") or None for name in ("low", "high")}
    return {**row, **figures, "stage": row["stage"] or None}


def _told(error: ValidationError) -> str:
    """The first fault in words."""
    fault = error.errors()[0]
    place = fault["loc"]
    if place and place[0] == "limits":
        key = str(fault.get("ctx", {}).get("error", "")) or "field"
        key = key if key in ("unit", "bound", "order") else "field"
        return say("company_fault", key, row=int(place[1]) + 1)
    return say("company_fault", "value", field=".".join(map(str, place)))
