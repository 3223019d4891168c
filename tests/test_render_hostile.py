"""Hostile text stays text: in pages, in the PDF, in captions and in the table."""

from __future__ import annotations

import csv
import io
import re
from html.parser import HTMLParser

import pytest

from voicereport import render
from voicereport.render import Letterhead
from voicereport.render.text import shown
from voicereport.report import (
    Appliance,
    Check,
    Evidence,
    Job,
    Ledger,
    LedgerItem,
    Note,
    OpenItem,
    PartUsed,
    Reading,
    RecordingEntry,
    Remark,
    Report,
    Said,
    SegmentEntry,
    Step,
    TranscriptEntry,
    Verdict,
    WordEntry,
)

MARKUP = (
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    '"><svg onload=alert(1)>',
    "' onfocus='alert(1)' autofocus='",
    "</style><script>alert(1)</script>",
    "</title><script>alert(1)</script>",
    "</script><script>alert(1)</script>",
    "<!--",
    "-->",
    "]]>",
    "&lt;b&gt; &amp; &#60;b&#62;",
    "<a href='javascript:alert(1)'>x</a>",
    "<base href=x>",
    "<meta http-equiv=refresh content=0>",
)
TEMPLATE = (
    "{{ 7 * 7 }}",
    "{% include 'customer.html' %}",
    "{# gone #}",
    "{{ config.items() }}",
    "${7*7}",
    "%(x)s {0} {part}",
)
TYPST = (
    "#panic(1)", "#read(\"/etc/passwd\")", "$ 7 * 7 $", "*bold* _slanted_ `raw`", "= heading", "#image(\"x.png\")",
    "\\u{41}", "#sys.inputs.data", "@label <label>", "// gone", "/* gone */", "~ -- ---",
)  # fmt: skip
FORMULAS = (
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    '=HYPERLINK("x")',
    "\t=1+1",
    "\r=1+1",
    "  =1+1",
    "＝1+1",
    "=cmd|' /C calc'!A0",
)
UNSEEN = (
    "a\u202eb", "a\u2066b\u2069", "a\u200fb", "a\u061cb", "zero\u200bwidth", "bell\x07", "esc\x1b[31m", "null\x00",
    "a\ufeffb", "soft\u00adhyphen", "tag\U000e0041",
    "line\u2028break", "private\ue000", "none\uffff", "del\x7f", "c1\x9b",
)  # fmt: skip
OTHER = (
    "a,b", 'say "so"', "two\r\nlines", "00:00:01.000 --> 00:00:02.000", "NOTE x", "WEBVTT", "日本語",
    "😀", "שלום", "مرحبا", "x" * 3000,
)  # fmt: skip
HOSTILE = MARKUP + TEMPLATE + TYPST + FORMULAS + UNSEEN + OTHER

LETTERHEAD = Letterhead(company="Works")
PLAIN = "plain words"


def report_of(text: str) -> Report:
    """A report in which every text is the given one."""
    piece = Evidence(recording=text, segment="s1", start=1, end=2, quote=text, confidence=0.4)
    evidence = (piece,)
    said = Said(value=text, evidence=evidence)
    remark = Remark(text=text, evidence=evidence)
    item = LedgerItem(id="i1", part=text, kind="part", holds=text, count_out=1, state="open", explained=text,
                      orientation=text, out_evidence=evidence)  # fmt: skip
    verdict = Verdict(result="suspect", low=0, high=9, unit=text, source=text, reason=text, worked=text)
    return Report(
        job=Job(work_order=said, recorded_at=said, technician=said, customer=said, site=said, trade=said, job_type=said,
                appliance=Appliance(kind=said, maker=said, model=said, serial=said)),
        recordings=(RecordingEntry(name=text, sha256=text, duration_s=9, speech_s=9, visit=1, engine=text, model=text,
                                   language=text, notes=(text,)),),
        transcript=TranscriptEntry(
            segments=(SegmentEntry(id="s1", recording=text, start=1, end=2, heard=text + ".", text=text,
                                   words=(WordEntry(word=text, start=1, end=2, probability=0.1, alternative=text),)),),
            dropped=(text,),
        ),
        complaint=(remark,), findings=(remark,), cause=(remark,), correction=(remark,), recommendations=(remark,),
        steps=(Step(id="t1", action="replace", part=text, holds=text, location=text, status="done",
                    evidence=evidence),),
        readings=(Reading(id=text, quantity="resistance", subject=text, value=-5, unit=text, stage="as_left",
                          spoken=text, doubt=text, verdict=verdict, evidence=evidence),),
        parts_used=(PartUsed(part=text, part_number=text, evidence=evidence),),
        ledger=Ledger(items=(item,), reassembly_order=("i1",), open=(OpenItem(id="i1", reason=text),)),
        notes=(Note(kind="caution", about=text, text=text, evidence=evidence),
               Note(kind="routing", about="x", text=text, evidence=evidence)),
        checks=(Check(id="c1", title=text, severity="stop", state="missing", reason=text, evidence=evidence,
                      reference=text),),
        status="blocked",
    )  # fmt: skip


class _Shape(HTMLParser):
    """Tags with their attributes' names, in order: what the page is made of, whatever it says."""

    def __init__(self) -> None:
        super().__init__()
        self.shape: list[str] = []
        self.data: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.shape.append(tag + " " + " ".join(name for name, _ in attrs))

    def handle_endtag(self, tag: str) -> None:
        self.shape.append("/" + tag)

    def handle_data(self, data: str) -> None:
        self.data.append(data)


def pages(report: Report) -> list[str]:
    return [
        render.customer_html(report, letterhead=LETTERHEAD),
        render.audit_html(report, letterhead=LETTERHEAD),
        render.reassembly_html(report, letterhead=LETTERHEAD),
    ]


def shape_of(page: str) -> _Shape:
    parser = _Shape()
    parser.feed(page)
    parser.close()
    return parser


@pytest.mark.parametrize("text", HOSTILE)
def test_pages_keep_their_shape_and_show_the_text_as_it_stands(text: str) -> None:
    for page, plain in zip(pages(report_of(text)), pages(report_of(PLAIN)), strict=True):
        parsed = shape_of(page)
        assert parsed.shape == shape_of(plain).shape
        words = re.sub(r"\s+", " ", " ".join(parsed.data))
        assert re.sub(r"\s+", " ", shown(text)).strip().lower() in words.lower()


@pytest.mark.parametrize("text", UNSEEN)
def test_what_cannot_be_seen_reaches_no_rendering(text: str) -> None:
    report = report_of(text)
    (unseen,) = [c for c in text if not c.isprintable() and c not in "[31m"][:1]
    for rendering in (*pages(report), render.transcript_vtt(report), render.readings_csv(report)):
        assert unseen not in rendering
        assert unseen in "\u2028" or f"[U+{ord(unseen):04X}]" in rendering


def pdf_words(data: bytes) -> str:
    """The words of a PDF, by pdftotext where it is installed."""
    import shutil
    import subprocess

    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    done = subprocess.run(["pdftotext", "-raw", "-", "-"], input=data, capture_output=True, check=True)
    return done.stdout.decode()


@pytest.mark.parametrize("text", HOSTILE)
def test_the_pdf_is_made_whatever_was_said(text: str) -> None:
    assert render.customer_pdf(report_of(text), letterhead=LETTERHEAD).startswith(b"%PDF")


@pytest.mark.parametrize("text", [*TYPST[:5], *TEMPLATE[:3], MARKUP[0]])
def test_the_pdf_shows_markup_as_words(text: str) -> None:
    words = pdf_words(render.customer_pdf(report_of(text), letterhead=LETTERHEAD))
    squeezed = re.sub(r"\s+", "", words)
    assert re.sub(r"\s+", "", text) in squeezed


def test_what_the_pdf_s_faces_lack_stands_as_its_number() -> None:
    words = pdf_words(render.customer_pdf(report_of("日"), letterhead=LETTERHEAD))
    assert "[U+65E5]" in words


@pytest.mark.parametrize("text", HOSTILE)
def test_no_cell_starts_a_formula_and_no_text_makes_a_column(text: str) -> None:
    table = render.readings_csv(report_of(text))
    rows = list(csv.reader(io.StringIO(table, newline="")))
    assert [len(row) for row in rows] == [19, 19]
    cells = dict(zip(rows[0], rows[1], strict=True))
    assert float(cells.pop("value")) == -5
    for name, cell in cells.items():
        assert not cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "＝")), name


@pytest.mark.parametrize("text", HOSTILE)
def test_captions_hold_one_cue_whatever_was_said(text: str) -> None:
    webvtt = pytest.importorskip("webvtt")  # webvtt-py, an independent parser
    captions = render.transcript_vtt(report_of(text))
    cues = webvtt.from_string(captions)
    assert len(cues) == 1
    assert captions.count("-->") == 1
    assert "<" not in captions
