"""The PDF: tagged as PDF/UA-1 (ISO 14289-1) and PDF/A-2a (ISO 19005-2) ask, and complete; by outloud and pikepdf."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from voicereport import render
from voicereport.render import Letterhead
from voicereport.report import Reading, Report

DATA = Path(__file__).parent / "data" / "render"
NAMES = ("freezer", "chiller", "lesson")
LETTERHEAD = Letterhead(
    company="Brackwater Cold Works", address=("14 Quay Row",), phone="0555 0142", licence="CW 20817"
)

pikepdf = pytest.importorskip("pikepdf")


def load(name: str) -> Report:
    return Report.model_validate_json((DATA / f"{name}.json").read_text(encoding="utf-8"))


def opened(data: bytes) -> Any:
    import io

    return pikepdf.open(io.BytesIO(data))


def tags_of(document: Any) -> list[tuple[str, Any]]:
    """Every structure element of a document, in order: its type and the element."""
    found: list[tuple[str, Any]] = []
    waiting = [document.Root.StructTreeRoot]
    while waiting:
        element = waiting.pop()
        if not isinstance(element, pikepdf.Dictionary):
            continue
        if "/S" in element:
            found.append((str(element.S), element))
        kids = element.get("/K", pikepdf.Array([]))
        kids = list(kids) if isinstance(kids, pikepdf.Array) else [kids]
        waiting += reversed(kids)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_the_document_says_what_it_is(name: str) -> None:
    document = opened(render.customer_pdf(load(name), letterhead=LETTERHEAD))
    assert str(document.Root.Lang).startswith("en")
    assert bool(document.Root.MarkInfo.Marked)
    assert bool(document.Root.ViewerPreferences.DisplayDocTitle)
    with document.open_metadata() as metadata:
        assert "Service report" in metadata["dc:title"]
        assert metadata["pdfuaid:part"] == "1"
        assert (metadata["pdfaid:part"], metadata["pdfaid:conformance"]) == ("2", "A")


@pytest.mark.parametrize("name", NAMES)
def test_tables_have_header_cells_and_drawings_have_words(name: str) -> None:
    report = load(name)
    document = opened(render.customer_pdf(report, letterhead=LETTERHEAD))
    tags = tags_of(document)
    kinds = [kind for kind, _ in tags]
    before_after = any(reading.stage for reading in report.readings)
    process = any(not reading.stage for reading in report.readings)
    expected = 3 * bool(report.parts_used) + 5 * before_after + 4 * process
    assert kinds.count("/TH") == expected
    figures = [element for kind, element in tags if kind == "/Figure"]
    assert all(str(figure.get("/Alt", "")) for figure in figures)
    assert bool(figures) == (name != "lesson")
    assert kinds.count("/H1") == 1


@pytest.mark.parametrize("name", NAMES)
def test_an_independent_checker_finds_no_fault(name: str, tmp_path: Path) -> None:
    outloud = pytest.importorskip("outloud")
    path = tmp_path / "customer.pdf"
    path.write_bytes(render.customer_pdf(load(name), letterhead=LETTERHEAD))
    result = outloud.check(str(path))
    assert [str(finding) for finding in result.findings] == []
    assert result.error is None


@pytest.mark.parametrize("name", NAMES)
def test_a_second_independent_checker_finds_no_error(name: str, tmp_path: Path) -> None:
    pdfua = pytest.importorskip("pdfua")
    path = tmp_path / "customer.pdf"
    path.write_bytes(render.customer_pdf(load(name), letterhead=LETTERHEAD))
    report = pdfua.validate(str(path))
    assert [str(f) for f in report.findings if f.severity is pdfua.Severity.ERROR] == []


def test_the_same_report_gives_the_same_bytes_and_the_recording_s_date() -> None:
    report = load("freezer")
    first, second = (render.customer_pdf(report, letterhead=LETTERHEAD) for _ in range(2))
    assert first == second
    document = opened(first)
    assert "20260309" in str(document.docinfo["/CreationDate"])


def test_a_table_longer_than_a_page_loses_no_row() -> None:
    # typst does not break a table inside a figure, and says nothing: rows run off the page
    readings = tuple(
        Reading(id=f"r{n}", quantity="voltage", subject=f"terminal {n}", value=n, unit="V", spoken="x", entered_by="X")
        for n in range(300)
    )
    document = opened(render.customer_pdf(Report(readings=readings), letterhead=LETTERHEAD))
    assert len(document.pages) >= 5  # some 60 rows fit on a page
    assert sum(kind == "/TR" for kind, _ in tags_of(document)) == 301


@pytest.mark.parametrize(("paper", "width"), [("a4", 595.3), ("us-letter", 612.0)])
def test_paper_is_cut_as_set(paper: str, width: float) -> None:
    # ISO 216: 210 mm = 595.28 pt; ANSI/ASME Y14.1: 8.5 in = 612 pt
    letterhead = Letterhead(paper=paper)  # type: ignore[arg-type]
    document = opened(render.customer_pdf(load("lesson"), letterhead=letterhead))
    assert float(document.pages[0].mediabox[2]) == pytest.approx(width, abs=0.5)


def test_only_typst_s_own_faces_are_used() -> None:
    document = opened(render.customer_pdf(load("freezer"), letterhead=LETTERHEAD))
    faces = {
        str(font.BaseFont).split("+")[-1]
        for page in document.pages
        for font in page.Resources.get("/Font", {}).values()
    }  # fmt: skip
    assert faces
    assert all(face.startswith(("Libertinus", "DejaVuSansMono")) for face in faces), faces
