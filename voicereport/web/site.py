"""What every page needs: the store, the settings, the company's own, the clock."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from voicereport.settings import Settings
from voicereport.web.company import CompanyFile
from voicereport.web.limits import RateLimit
from voicereport.web.options import WebOptions

if TYPE_CHECKING:
    from fastapi import Request

    from voicereport.store import Store


@dataclass(frozen=True, kw_only=True, slots=True)
class Site:
    """One server's own."""

    store: Store
    settings: Settings
    options: WebOptions
    company: CompanyFile
    sign_ins: RateLimit = field(repr=False)

    def now(self) -> datetime:
        """The time, in UTC."""
        return self.options.clock()


def site_of(request: Request) -> Site:
    """The site that a request came to."""
    site: Site = request.app.state.site
    return site
