"""The one form in which values are written down to be digested: times, JSON, texts."""

from __future__ import annotations

import hashlib
import json
import re
from datetime import UTC, datetime
from typing import Any

from voicereport.store.faults import refused

_LONGEST_KEY = 200  #: signs; PostgreSQL's indexes take no more than 2704 bytes
_UNSTORABLE = re.compile("[\x00\ud800-\udfff]")  # PostgreSQL keeps no NUL, UTF-8 no lone surrogate


def canonical(value: Any) -> str:
    """`value` as JSON: keys sorted, no spaces, ASCII. Same value, same text. Raises StoreError for NaN and the like."""
    try:
        return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False)
    except (TypeError, ValueError) as error:
        raise refused("value", f"cannot be written as JSON ({error})") from error


def digest(text: str | bytes) -> str:
    """SHA-256 in hex."""
    return hashlib.sha256(text.encode() if isinstance(text, str) else text).hexdigest()


def moment(now: datetime) -> str:
    """A time as the tables keep it. Raises StoreError for a time without zone."""
    if now.tzinfo is None:
        raise refused("now", "is a time without zone", "pass datetime.now(UTC)")
    return now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def time_of(text: str) -> datetime:
    """A time of a table as an aware datetime in UTC."""
    return datetime.fromisoformat(text)


def maybe_time(text: str | None) -> datetime | None:
    """A time of a table, None where there is none."""
    return None if text is None else time_of(text)


def storable(text: str) -> str:
    """A text that every database keeps: NUL and lone surrogates become U+FFFD, all else stays as it is."""
    return _UNSTORABLE.sub("\ufffd", text)


def required(place: str, text: str) -> str:
    """A text that says something. Raises StoreError for one that is empty or blank."""
    if not text.strip():
        raise refused(place, "is empty", "say it in words")
    return storable(text)


def search_key(text: str | None) -> str:
    """A model or serial as it is compared: letters and digits only, lower case, the first 200."""
    return "".join(sign for sign in text.casefold() if sign.isalnum())[:_LONGEST_KEY] if text else ""


def week_of(at: datetime) -> str:
    """The ISO 8601 week of a time, such as "2026-W07"."""
    year, week, _ = at.astimezone(UTC).isocalendar()
    return f"{year:04}-W{week:02}"


def range_of(beginning: str) -> tuple[str, str]:
    """The keys that begin so: from the first, included, to the second, not included."""
    return beginning, beginning + "\U0010ffff"
