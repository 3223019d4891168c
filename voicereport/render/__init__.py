"""A report as pages, PDF, captions and table. Renderings add nothing that is not in the report."""

from voicereport.render.captions import transcript_vtt
from voicereport.render.context import Snippets
from voicereport.render.files import audit_html, customer_html, customer_pdf, reassembly_html, render_all
from voicereport.render.letterhead import Letterhead
from voicereport.render.tables import readings_csv

__all__ = [
    "Letterhead",
    "Snippets",
    "audit_html",
    "customer_html",
    "customer_pdf",
    "readings_csv",
    "reassembly_html",
    "render_all",
    "transcript_vtt",
]
