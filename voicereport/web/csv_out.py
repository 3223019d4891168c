"""Tables as CSV (RFC 4180) that no spreadsheet takes for formulas."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from fastapi.responses import Response

from voicereport.render import text

# OWASP, "CSV Injection"; the full-width ones as well
_ACTIVE = ("=", "+", "-", "@", "\t", "\r", "|", "%", "＝", "＋", "－", "＠")


def cell(value: object) -> object:
    """A value for a cell: numbers as they are; text on one line, quoted where it would begin a formula."""
    if isinstance(value, int | float):
        return value
    told = text.shown(str(value))
    return f"'{told}" if told.lstrip().startswith(_ACTIVE) or told.startswith("'") else told


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """The table as text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([cell(column) for column in columns])
    writer.writerows([cell(value) for value in row] for row in rows)
    return out.getvalue()


def csv_answer(name: str, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> Response:
    """The table as a file to keep."""
    return Response(csv_text(columns, rows), media_type="text/csv; charset=utf-8",
                    headers={"content-disposition": f'attachment; filename="{name}.csv"'})  # fmt: skip
