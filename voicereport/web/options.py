"""What the server is told beside the settings of a run: where its files lie, what it accepts, whom it trusts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path


def utc_now() -> datetime:
    """The time, aware, in UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True, kw_only=True, slots=True)
class WebOptions:
    """How the pages are served."""

    folder: Path | None = None  #: where company.json is kept; None keeps it in memory
    hosts: tuple[str, ...] = ("localhost", "127.0.0.1", "::1", "testserver")  #: names that a request may ask for
    upload_bytes: int = 1_000_000_000  #: most of one upload, all its files together
    form_bytes: int = 1_000_000  #: most of any other body
    session_idle_s: int = 8 * 3600  #: signed out after so long without a request
    session_s: int = 7 * 24 * 3600  #: and after so long in any case
    attempts: int = 5  #: wrong passwords in a row until the account is locked
    lock_s: int = 900  #: for so long
    sign_ins_a_minute: int = 20  #: from one address
    requests_a_minute: int = 1200  #: from one address
    clock: Callable[[], datetime] = utc_now
