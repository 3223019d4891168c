"""The audit trail: who did what, and whether the chain holds."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from voicereport.web.access import Me, Posted, allowed, posted
from voicereport.web.answers import page
from voicereport.web.report_pages import names_of
from voicereport.web.site import site_of

router = APIRouter()
_SIZE = 100


@router.get("/trail")
def trail_page(request: Request, me: Annotated[Me, Depends(allowed("trail"))], after: str = "") -> Response:
    """The last lines of the trail, or those after a number."""
    site = site_of(request)
    last, head = site.store.trail.head()
    start = int(after) if after.isascii() and after.isdigit() and len(after) < 10 else max(0, last - _SIZE)
    entries = site.store.trail.entries(after=start, limit=_SIZE)
    return page(request, me, "trail.html", entries=entries[::-1], last=last, head=head, start=start, size=_SIZE,
                names=names_of(site), verified=None)  # fmt: skip


@router.post("/trail/verify")
def verify(request: Request, sent: Annotated[Posted, Depends(posted("trail"))]) -> Response:
    """Every link of the chain, and what it vouches for, looked at now."""
    site = site_of(request)
    verified = site.store.trail.verify(files=sent.text("files") == "yes")
    last, head = site.store.trail.head()
    start = max(0, last - _SIZE)
    return page(request, sent.me, "trail.html", entries=site.store.trail.entries(after=start, limit=_SIZE)[::-1],
                last=last, head=head, start=start, size=_SIZE, names=names_of(site), verified=verified)  # fmt: skip
