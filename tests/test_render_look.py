"""How the pages look and behave: contrast from the style's own values, and in a browser where one is installed."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, axe_source

from voicereport import render
from voicereport.render import Letterhead
from voicereport.report import Evidence, Ledger, LedgerItem, Report

DATA = Path(__file__).parent / "data" / "render"
NAMES = ("freezer", "chiller", "lesson")
PAGES = ("customer", "audit", "reassembly")
LETTERHEAD = Letterhead(
    company="Brackwater Cold Works", address=("14 Quay Row",), phone="0555 0142", licence="CW 20817"
)


def load(name: str) -> Report:
    return Report.model_validate_json((DATA / f"{name}.json").read_text(encoding="utf-8"))


# --- contrast, WCAG 2.2: relative luminance and contrast ratio by its definitions; 1.4.3 AA asks 4.5, 1.4.11 asks 3


def luminance(colour: str) -> float:
    digits = colour.lstrip("#")
    digits = "".join(2 * c for c in digits) if len(digits) == 3 else digits
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def palettes() -> list[dict[str, str]]:
    style = (ROOT / "templates" / "partials" / "record.css").read_text(encoding="utf-8")
    blocks = re.findall(r":root \{([^}]*--paper[^}]*)\}", style)
    return [dict(re.findall(r"--(\w+): (#[0-9a-f]{3,6});", block)) for block in blocks]


def test_contrast_itself_is_computed_right() -> None:
    assert contrast("#000", "#fff") == pytest.approx(21)  # WCAG 2.2, "contrast ratio": 1 to 21
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)  # the well-known least grey on white


def test_words_stand_out_in_light_dark_and_print() -> None:
    found = palettes()
    assert len(found) == 3
    for palette in found:
        for ground in ("paper", "person"):
            for ink in ("ink", "quiet", "accent"):
                assert contrast(palette[ink], palette[ground]) >= 4.5, (ink, ground, palette)


def test_colours_of_the_pdf_stand_out_on_white() -> None:
    source = (ROOT / "templates" / "customer.typ").read_text(encoding="utf-8")
    colours = dict(re.findall(r'#let (\w+) = rgb\("(#[0-9a-f]{6})"\)', source))
    assert contrast(colours["quiet"], "#fff") >= 4.5
    assert contrast(colours["accent"], "#fff") >= 4.5


# --- in a browser


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pages")
    for name in NAMES:
        snippets = opus if name == "freezer" else None
        render.render_all(load(name), folder / name, letterhead=LETTERHEAD, snippets=snippets)
    return folder


def opus(recording: str, start: float, end: float) -> bytes | None:
    """A tone of end - start seconds as Ogg Opus, made by PyAV."""
    av = pytest.importorskip("av")
    numpy = pytest.importorskip("numpy")
    import io

    out = io.BytesIO()
    with av.open(out, "w", format="ogg") as container:
        stream = container.add_stream("libopus", rate=48000, layout="mono")
        count = 48000 * min(end - start, 0.4)
        tone = (numpy.sin(numpy.arange(int(count)) / 20) * 3000).astype("int16")[None, :]
        frame = av.AudioFrame.from_ndarray(tone, format="s16", layout="mono")
        frame.sample_rate = 48000
        for packet in (*stream.encode(frame), *stream.encode(None)):
            container.mux(packet)
    return out.getvalue()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_finds_no_violation(browser: Any, written: Path, scheme: str, width: int) -> None:
    axe = axe_source()
    found = []
    for name in NAMES:
        for file in PAGES:
            context = browser.new_context(
                viewport={"width": width, "height": 900}, color_scheme=scheme, bypass_csp=True
            )  # fmt: skip
            page = context.new_page()
            page.goto((written / name / f"{file}.html").as_uri())
            page.evaluate(axe)
            found += [(name, file, v["id"], v["nodes"][0]["html"]) for v in page.evaluate("axe.run()")["violations"]]
            context.close()
    assert found == []


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_nothing_runs_off_the_side(browser: Any, written: Path, width: int) -> None:
    for name in NAMES:
        for file in PAGES:
            page = browser.new_page(viewport={"width": width, "height": 900})
            page.goto((written / name / f"{file}.html").as_uri())
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (name, file)
            page.close()


def test_pages_load_nothing_and_break_no_policy(browser: Any, written: Path) -> None:
    for name in NAMES:
        for file in PAGES:
            page = browser.new_page()
            asked: list[str] = []
            said: list[str] = []
            page.on("request", lambda request, asked=asked: asked.append(request.url))
            page.on("console", lambda message, said=said: said.append(message.text))
            page.goto((written / name / f"{file}.html").as_uri())
            assert [url for url in asked if not url.startswith("data:")] == [(written / name / f"{file}.html").as_uri()]
            assert said == []
            page.close()


def test_a_button_plays_its_seconds_and_stops(browser: Any, written: Path) -> None:
    page = browser.new_page()
    page.goto((written / "freezer" / "audit.html").as_uri())
    button = page.locator(".check button.time").first
    assert button.is_enabled()
    sound = button.get_attribute("data-sound")
    button.click()
    assert button.get_attribute("aria-pressed") == "true"
    for _ in range(100):  # the page's own policy forbids to wait by a function
        page.wait_for_timeout(50)
        if button.get_attribute("aria-pressed") == "false":
            break
    assert button.get_attribute("aria-pressed") == "false"
    assert page.evaluate(f"document.getElementById('{sound}').played.length") == 1
    duration = page.evaluate(f"document.getElementById('{sound}').duration")
    assert duration == pytest.approx(0.4, abs=0.05)
    page.close()


def test_without_script_the_audit_reads_the_same(browser: Any, written: Path) -> None:
    texts = []
    for script in (True, False):
        context = browser.new_context(java_script_enabled=script)
        page = context.new_page()
        page.goto((written / "freezer" / "audit.html").as_uri())
        texts.append(page.inner_text("body"))
        context.close()
    assert texts[0] == texts[1]


def many_items(count: int) -> Report:
    piece = Evidence(recording="a.wav", segment="s1", start=61, end=63, quote="off", confidence=0.9)
    items = tuple(
        LedgerItem(id=f"i{n}", part="mounting screw", kind="fastener", holds=f"cover number {n}", count_out=4,
                   state="open", orientation="the long ones at the bottom" if n % 3 == 0 else None,
                   out_evidence=(piece,))
        for n in range(count)
    )  # fmt: skip
    return Report(ledger=Ledger(items=items, reassembly_order=tuple(item.id for item in items)))


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize(("count", "most"), [(4, 1), (12, 2), (14, 2), (15, 2), (30, 2)])
def test_the_sheet_prints_on_two_pages_at_most(browser: Any, tmp_path: Path, paper: str, count: int, most: int) -> None:
    pikepdf = pytest.importorskip("pikepdf")
    letterhead = Letterhead(paper=paper)  # type: ignore[arg-type]
    path = tmp_path / "sheet.html"
    path.write_text(render.reassembly_html(many_items(count), letterhead=letterhead), encoding="utf-8")
    page = browser.new_page()
    page.goto(path.as_uri())
    printed = tmp_path / "sheet.pdf"
    page.pdf(path=str(printed), prefer_css_page_size=True)
    box = page.locator(".box").first.bounding_box()
    page.close()
    # CSS: 1 in = 96 px = 25.4 mm, so 8 mm = 30.2 px
    assert box["width"] == pytest.approx(30.2, abs=0.3)
    assert box["height"] == pytest.approx(30.2, abs=0.3)
    with pikepdf.open(printed) as document:
        assert len(document.pages) <= most


def test_html_validate_finds_no_error(written: Path, tmp_path: Path) -> None:
    named = os.environ.get("HTML_VALIDATE") or shutil.which("html-validate")
    if named is None:
        pytest.skip("html-validate is not installed; HTML_VALIDATE may name it")
    settings = tmp_path / ".htmlvalidate.json"
    settings.write_text('{"extends": ["html-validate:recommended"], "root": true}', encoding="utf-8")
    pages = [str(written / name / f"{file}.html") for name in NAMES for file in PAGES]
    done = subprocess.run([named, "--config", str(settings), *pages], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
