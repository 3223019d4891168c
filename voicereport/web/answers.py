"""Pages as answers: what stands on each of them, notices by name, ways back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from voicereport.web.access import Me
from voicereport.web.pages import render, words
from voicereport.web.roles import Right

_NAVIGATION: tuple[tuple[str, str, tuple[Right, ...]], ...] = (
    ("work", "/onsite", ("own_work",)),
    ("oversight", "/oversight", ("oversee",)),
    ("jobs", "/jobs", ("see_jobs", "see_own_jobs")),
    ("search", "/search", ("see_jobs",)),
    ("appliances", "/appliances", ("appliances",)),
    ("company", "/company", ("company",)),
    ("people", "/people", ("people",)),
    ("trail", "/trail", ("trail",)),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One entry of the bar."""

    label: str
    address: str
    current: bool


def navigation(me: Me, path: str, *, work: bool) -> tuple[Entry, ...]:
    """Where this person can go. work: whether the technician's page is there."""
    labels = words()["navigation"]
    return tuple(
        Entry(label=labels[key], address=address, current=path == address or path.startswith(f"{address}/"))
        for key, address, rights in _NAVIGATION
        if any(me.may(right) for right in rights) and (key != "work" or work)
    )


def page(request: Request, me: Me | None, name: str, /, *, status: int = 200, **values: Any) -> HTMLResponse:
    """The page `web/NAME` as an answer."""
    done = request.query_params.get("done", "")
    common = {
        "me": me,
        "token": me.csrf if me else "",
        "navigation": navigation(me, request.url.path, work=request.app.state.technician) if me else (),
        "notice": words()["notice"].get(done, ""),
        "fault": "",
    }
    return HTMLResponse(render(name, common | values), status_code=status)


def go(address: str, done: str = "") -> RedirectResponse:
    """The answer after a form: on to a page, with a notice by its name."""
    if done:
        before, mark, after = address.partition("#")
        address = f"{before}{'&' if '?' in before else '?'}done={done}{mark}{after}"
    return RedirectResponse(address, status_code=303)


def safe_path(wanted: str) -> str:
    """A path of this site, or "/": nothing that leads elsewhere."""
    plain = wanted.startswith("/") and not wanted.startswith(("//", "/\\"))
    return wanted if plain and all(c.isprintable() for c in wanted) and "\\" not in wanted else "/"
