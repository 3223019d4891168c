"""All renderings of a report, as text, as bytes and as files."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from voicereport.errors import TemplateError
from voicereport.render import pages
from voicereport.render.audit import audit_view
from voicereport.render.captions import transcript_vtt
from voicereport.render.context import Snippets, context_of
from voicereport.render.customer import customer_view
from voicereport.render.letterhead import Letterhead
from voicereport.render.pdf import pdf
from voicereport.render.reassembly import reassembly_view
from voicereport.render.tables import readings_csv
from voicereport.render.wording import load_wording
from voicereport.report import Report, dump_json


def customer_html(report: Report, *, letterhead: Letterhead) -> str:
    """The customer's report as one page without script. Raises TemplateError."""
    context = context_of(report, load_wording())
    return pages.page("customer.html", customer_view(report, context, letterhead))


def customer_pdf(report: Report, *, letterhead: Letterhead) -> bytes:
    """The customer's report as PDF/UA-1 and PDF/A-2a; same report, same bytes. Raises TemplateError."""
    context = context_of(report, load_wording())
    recorded_at = report.job.recorded_at
    return pdf(customer_view(report, context, letterhead), recorded_at=recorded_at.value if recorded_at else None)


def audit_html(report: Report, *, letterhead: Letterhead, snippets: Snippets | None = None) -> str:
    """The audit as one self-contained page.

    snippets: gives the sound between two seconds of a recording as Ogg Opus bytes, or None where there is none; without
    it times stand as text. Raises TemplateError.
    """
    context = context_of(report, load_wording(), snippets)
    script = "playback.js" if context.sounds else None
    return pages.page("audit.html", audit_view(report, context, letterhead), script=script)


def reassembly_html(report: Report, *, letterhead: Letterhead) -> str:
    """The reassembly sheet as one page without script. Raises TemplateError."""
    context = context_of(report, load_wording())
    return pages.page("reassembly.html", reassembly_view(report, context, letterhead))


def render_all(
    report: Report, out_dir: Path, *, letterhead: Letterhead, snippets: Snippets | None = None
) -> tuple[Path, ...]:
    """Writes all renderings into `out_dir`, which is made where it is lacking, and gives their paths.

    All are made before the first is written, and each is put in place whole. Raises TemplateError.
    """
    contents: tuple[tuple[str, bytes], ...] = (
        ("report.json", dump_json(report).encode()),
        ("customer.html", customer_html(report, letterhead=letterhead).encode()),
        ("customer.pdf", customer_pdf(report, letterhead=letterhead)),
        ("audit.html", audit_html(report, letterhead=letterhead, snippets=snippets).encode()),
        ("reassembly.html", reassembly_html(report, letterhead=letterhead).encode()),
        ("transcript.vtt", transcript_vtt(report).encode()),
        ("readings.csv", readings_csv(report).encode()),
    )
    try:
        out_dir.mkdir(parents=True, exist_ok=True)
        return tuple(_write(out_dir / name, content) for name, content in contents)
    except OSError as error:
        raise TemplateError(str(out_dir), f"cannot be written ({error})", "name another folder") from error


def _write(path: Path, content: bytes) -> Path:
    """Puts a file in place whole: written beside it under another name, then renamed."""
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(temporary)
        raise
    return path
