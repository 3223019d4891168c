"""The readings as a table for spreadsheets."""

from __future__ import annotations

import csv
import io

from voicereport import units
from voicereport.render.figures import limits
from voicereport.render.text import plain_number, shown
from voicereport.report import Reading, Report

COLUMNS = (
    "id", "visit", "stage", "quantity", "subject", "spoken", "value", "value_high", "unit", "si_value", "si_unit",
    "limit_low", "limit_high", "verdict", "source", "reason", "recording", "start", "end",
)  # fmt: skip

# A spreadsheet takes these for the start of a formula (OWASP, "CSV Injection"); the full-width ones as well
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def readings_csv(report: Report) -> str:
    """All readings as CSV of RFC 4180: a header, then a line for each, ended by CR LF.

    Text that a spreadsheet would run is led by an apostrophe. Numbers have a point and a plain minus sign; an empty
    cell is a value that is not known. Limits are in the unit of the verdict; where that is not the reading's, they are
    left out. Recording, start and end are of the first piece of evidence, in seconds.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for reading in report.readings:
        writer.writerow(_cells(reading))
    return out.getvalue()


def _cells(reading: Reading) -> tuple[str, ...]:
    low, high, unit = limits(reading)
    if unit != reading.unit:
        low = high = None
    si_value, si_unit = _si(reading)
    first = reading.evidence[0] if reading.evidence else None
    return (
        _text(reading.id),
        str(reading.visit),
        reading.stage or "",
        reading.quantity,
        _text(reading.subject),
        _text(reading.spoken),
        _number(reading.value, reading.decimals),
        _number(reading.value_high, reading.decimals),
        _text(reading.unit),
        _number(si_value),
        _text(si_unit),
        _number(low),
        _number(high),
        reading.verdict.result,
        _text(reading.verdict.source),
        _text(reading.verdict.reason),
        _text(first.recording if first else None),
        _number(first.start if first else None),
        _number(first.end if first else None),
    )


def _text(value: str | None) -> str:
    if not value:
        return ""
    cell = shown(value)
    return "'" + cell if value.lstrip(" ").startswith(_FORMULA_STARTS) else cell


def _number(value: float | None, decimals: int | None = None) -> str:
    return "" if value is None else plain_number(value, decimals)


def _si(reading: Reading) -> tuple[float | None, str | None]:
    """The value in SI, where the unit is known."""
    if reading.value is None or reading.unit is None:
        return None, None
    try:
        return units.si(reading.value, reading.unit, difference=reading.quantity == "temperature_difference")
    except units.UnitError:
        return None, None
