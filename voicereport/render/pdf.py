"""The customer's report as PDF/UA-1 and PDF/A-2a, by typst, from data and never from markup."""

from __future__ import annotations

import json
import re
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from voicereport.errors import TemplateError
from voicereport.render.customer import CustomerView
from voicereport.render.pages import strip_svg
from voicereport.render.text import by_number
from voicereport.render.wording import find_template, read_toml

Ranges = tuple[tuple[int, int], ...]


def pdf(view: CustomerView, *, recorded_at: str | None = None) -> bytes:
    """The PDF of a view. Same view, same bytes: the document's date is the recording's, else 1970-01-01.

    Characters that typst's own faces lack are shown by their numbers. Raises TemplateError where typst refuses.
    """
    import typst

    source = find_template("customer.typ")
    ranges, basic = _coverage()
    try:
        return _compile(view, source.read_bytes(), ranges, recorded_at)
    except typst.TypstError as error:
        if "could not be displayed" not in error.message:
            raise TemplateError(str(source), error.message, "correct it, or remove your own copy") from error
    try:
        return _compile(view, source.read_bytes(), basic, recorded_at)
    except typst.TypstError as error:
        raise TemplateError(str(source), error.message, "correct it, or remove your own copy") from error


def _compile(view: CustomerView, source: bytes, ranges: Ranges, recorded_at: str | None) -> bytes:
    import typst

    data = _covered(asdict(view), ranges)
    data["strips"] = [
        {"name": strip["name"], "alt": strip["alt"], "svg": strip_svg(strip)} for strip in data["strips"]
    ]  # fmt: skip
    compiled = typst.compile(
        source,
        font_paths=typst.Fonts(include_system_fonts=False),
        format="pdf",
        sys_inputs={"data": json.dumps(data)},
        pdf_standards=["ua-1", "a-2a"],
        timestamp=_timestamp(recorded_at),
    )
    return bytes(compiled)


def _timestamp(recorded_at: str | None) -> int:
    """Seconds since 1970 of an RFC 3339 time; 0 where there is none."""
    if not recorded_at or not re.match(r"\d{4}-\d\d-\d\d", recorded_at):
        return 0
    try:
        moment = datetime.fromisoformat(recorded_at)
    except ValueError:
        return 0
    moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return max(0, int(moment.timestamp()))


def _coverage() -> tuple[Ranges, Ranges]:
    place, data = read_toml("pdf.toml")
    try:
        ranges, basic = (tuple((int(a, 16), int(b, 16)) for a, b in data[key]) for key in ("ranges", "basic"))
    except (KeyError, ValueError, TypeError) as error:
        raise TemplateError(place, f"has no usable ranges ({error})", "take it from the shipped file") from error
    return ranges, basic


def _covered(value: Any, ranges: Ranges) -> Any:
    """A value of JSON with every character outside of `ranges` by its number."""
    if isinstance(value, str):
        return "".join(c if any(a <= ord(c) <= b for a, b in ranges) else by_number(c) for c in value)
    if isinstance(value, dict):
        return {key: _covered(entry, ranges) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_covered(entry, ranges) for entry in value]
    return value
