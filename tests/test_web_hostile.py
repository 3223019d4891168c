"""Two hundred hostile strings, spoken, typed and as file names: inert on every page and in every file."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import islice, product
from typing import Any

import pytest
from web_site import Browser, Site, running, sample

from voicereport.render.text import shown
from voicereport.report import Remark, Report, Said
from voicereport.web.csv_out import csv_text
from voicereport.web.jobs import plain_name

# markup and events (WHATWG HTML), templates, formulas (OWASP, "CSV Injection"), bidi and unseen characters (UAX 9,
# UAX 44), paths, and what ends a string, a comment or a line somewhere
SEEDS = (
    "<script>window.hit=1</script>", "<img src=x onerror=window.hit=1>", "\"><svg onload=window.hit=1>",
    "' onfocus='window.hit=1' autofocus='", "</title><script>window.hit=1</script>",
    "</textarea><script>window.hit=1</script>",
    "<a href='javascript:window.hit=1'>x</a>", "<base href='//evil.example'>", "<!--", "]]>", "&#60;b&#62;",
    "<form action='//evil.example'><input name=token>", "<meta http-equiv=refresh content='0;url=//evil.example'>",
    "{{ 1234567 * 7 }}", "{% include 'web/base.html' %}", "{{ me.secret }}", "${7*7}", "%(x)s {0} {part}",
    "=HYPERLINK(\"//evil.example\")", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1+1", "＝1+1", "|calc",
    "\u202etxt.exe", "a\u2066b\u2069", "zero\u200bwidth", "\x1b[31mred", "bell\x07", "line\r\nSet-Cookie: x=1",
    "../../etc/passwd", "..\\..\\windows", "C:\\con", "'; DROP TABLE jobs; --", "\" OR 1=1 --", "%00", "\ufeffWEBVTT",
    "00:00:01.000 --> 00:00:02.000", "-->", "\\u003cscript\\u003e", "`${1}`", "𝕊𝕔𝕣𝕚𝕡𝕥", "e\u0301\u0301\u0301",
)  # fmt: skip
FRAMES = ("{}", "the {} panel", "{} {}", "\u00e9{}", "{}\u0000", "x" * 60 + "{}")
STRINGS = tuple(islice(dict.fromkeys(frame.replace("{}", seed) for frame, seed in product(FRAMES, SEEDS)), 200))


class Tags(HTMLParser):
    """The elements of a page and their attributes."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.seen: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))


def inert(page: str, place: str) -> None:
    """No element or attribute that a string brought in."""
    tags = Tags()
    tags.feed(page)
    for tag, attributes in tags.seen:
        assert tag not in ("base", "object", "embed"), place
        assert not [name for name in attributes if name.startswith("on") or name == "srcdoc"], (place, attributes)
        assert "evil.example" not in (attributes.get("action") or ""), place
        for name in ("href", "src"):
            value = attributes.get(name) or ""
            assert not value.lower().startswith(("javascript:", "//", "http")), (place, value)
        if tag == "script":
            assert (attributes.get("src") or "").startswith("/static/"), place
        if tag == "meta":
            assert attributes.get("http-equiv") in (None, "Content-Security-Policy"), place
    # what cannot be seen stands as its number, but in the fields of forms, where it is what was typed
    text = re.sub(r"<textarea.*?</textarea>|value=\"[^\"]*\"|<option.*?</option>", "", page, flags=re.DOTALL)
    assert not re.search("[\u202a-\u202e\u2066-\u2069\u200b\x00\x07\x1b]", text), place
    assert "8641969" not in page, place


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with running(tmp_path_factory.mktemp("site")) as made:
        yield made


def poisoned(strings: tuple[str, ...]) -> Report:
    """A report in which everything that can be spoken or typed holds such strings."""
    ring = [strings[n % len(strings)] for n in range(4000)]
    take = iter(ring)
    data = sample("freezer").model_dump(mode="json")
    free = {"text", "heard", "quote", "part", "holds", "location", "subject", "spoken", "orientation", "explained",
            "about", "reason", "doubt", "source", "worked", "title", "reference", "notes", "part_number", "why",
            "alternative"}  # fmt: skip
    fixed = {"reference"}  # of a reading it is a word of the contract

    def put(value: Any, key: str, inside: str) -> Any:
        if isinstance(value, dict):
            return {k: put(v, k, key or inside) for k, v in value.items()}
        if isinstance(value, list):
            return [put(v, key, inside) for v in value]
        if isinstance(value, str) and key in free and not (key in fixed and inside != "checks"):
            return next(take)
        return value

    report = Report.model_validate(put(data, "", ""))
    job = report.job.model_copy(update={
        "customer": Said(value=next(take), entered_by=next(take), entered_at=next(take)),
        "work_order": Said(value=next(take)), "site": Said(value=next(take)), "job_type": Said(value=next(take)),
        "appliance": report.job.appliance.model_copy(update={
            name: Said(value=next(take)) for name in ("kind", "maker", "model", "serial")}),
    })  # fmt: skip
    remarks = tuple(Remark(text=text, entered_by=text, entered_at=text) for text in strings)
    return report.model_copy(update={"job": job, "findings": remarks})


PAGES = ("/jobs?show=all", "/jobs/{job}", "/jobs/{job}?change=/findings/0", "/jobs/{job}?change=/job",
         "/jobs/{job}/customer", "/jobs/{job}/preview.html", "/jobs/{job}/reassembly.html", "/jobs/{job}/history",
         "/jobs/{job}/doubts", "/appliances", "/jobs/new", "/oversight", "/oversight/checks", "/oversight/repeats",
         "/trail", "/people", "/me", "/company", "/search?words=panel", "/search?words=script")  # fmt: skip


def test_there_are_two_hundred() -> None:
    assert len(STRINGS) == 200


@pytest.mark.parametrize("start", range(0, 200, 20))
def test_spoken_and_typed_strings_are_inert(site: Site, start: int) -> None:
    strings = STRINGS[start : start + 20]
    plain = tuple(text.replace("\x00", "") for text in strings)  # a NUL is no text for a database; see below
    job = site.job(poisoned(plain)).id
    site.store.review.send_back(job, plain[0], check_id=None, by="sina", now=site.now)
    site.store.review.answer(site.store.review.questions(job)[0].id, plain[1], by="tarn", now=site.now)
    site.store.review.override(job, sample("freezer").checks[0].id, plain[2], expected=1, by="sina", now=site.now)
    browser = site.role("administrator")
    for path in PAGES:
        answer = browser.get(path.format(job=job))
        assert answer.status_code == 200, (path, answer.text[:300])
        if not path.endswith(("preview.html", "reassembly.html")):
            inert(answer.text, path)
        else:
            assert "<script" not in answer.text
    assert browser.get(f"/jobs/{job}/preview.pdf").content[:5] == b"%PDF-"
    for path in (f"/jobs/{job}/readings.csv", "/oversight/skipped.csv", "/oversight/skipped.csv?by=job_type",
                 "/oversight/repeats.csv"):  # fmt: skip
        for row in csv.reader(io.StringIO(browser.get(path).text)):
            for value in row:
                assert not re.match(r"[=@＝\t\r]|[+-](?![\d.])", value), (path, value)
    assert "\n\n<" not in browser.get(f"/jobs/{job}/transcript.vtt").text


@pytest.mark.parametrize("start", range(0, 200, 40))
def test_strings_as_file_names_forms_and_queries(site: Site, start: int) -> None:
    browser: Browser = site.role("office")
    for text in STRINGS[start : start + 40]:
        answer = browser.upload(text, b"WEBVTT\n\n00:00.000 --> 00:02.000\nThe rear panel is off.\n",
                                customer=text.replace("\x00", ""), model=text.replace("\x00", ""))  # fmt: skip
        assert answer.status_code in (303, 400, 422), text
        if answer.status_code == 303:
            job = int(answer.headers["location"].split("/")[2].split("?")[0])
            kept = site.store.recordings.of(job)[0]
            assert kept.path is not None
            assert kept.path.resolve().is_relative_to(site.folder.resolve())
            assert "/" not in kept.name.replace("\\", "/").rpartition("/")[2]
            inert(browser.get(f"/jobs/{job}").text, text)
        else:
            inert(answer.text, text)
        for path, name in (("/search", "words"), ("/search", "part"), ("/search", "low"), ("/appliances", "q"),
                           ("/appliances/plate", "serial"), ("/jobs", "show"), ("/jobs", "page"), ("/jobs", "done"),
                           ("/jobs/new", "serial"), ("/signin", "next")):  # fmt: skip
            found = browser.get(path, params={name: text})
            assert found.status_code in (200, 303, 404, 422), (path, name, text)
            if found.status_code == 303:
                assert found.headers["location"].startswith("/")
                assert not found.headers["location"].startswith("//")
            inert(found.text, f"{path}?{name}")


def test_a_nul_is_told_and_not_stored(site: Site) -> None:
    browser = site.role("office")
    job = site.job(sample("freezer")).id
    answer = browser.post(f"/jobs/{job}/entries", {"path": "/findings/-", "version": "1", "why": "w", "status": "done",
                                                   "text": "a\x00b"})  # fmt: skip
    assert answer.status_code in (303, 422)
    inert(browser.get(f"/jobs/{job}").text, "NUL")


def test_names_of_files_lose_their_folders() -> None:
    for text in STRINGS:
        assert "/" not in plain_name(text)
        assert len(plain_name(text)) <= 150
    assert plain_name("../../etc/passwd") == "passwd"


def test_cells_that_would_begin_a_formula_are_quoted() -> None:
    out = csv_text(["a"], [[text] for text in STRINGS] + [[-2.5]])
    rows = list(csv.reader(io.StringIO(out)))
    assert len(rows) == 202
    for (told,), text in zip(rows[1:-1], STRINGS, strict=True):
        assert shown(text) in (told, told.removeprefix("'"))
        assert not told.lstrip().startswith(("=", "@", "|", "＝", "+", "-"))
    assert rows[-1] == ["-2.5"]  # a number is a number


def test_nothing_runs_in_a_browser(site: Site) -> None:
    import shutil

    if shutil.which("chromium") is None:
        pytest.skip("chromium is not installed")
    playwright = pytest.importorskip("playwright.sync_api")
    from web_site import served, signed_in

    job = site.job(poisoned(tuple(text.replace("\x00", "") for text in STRINGS))).id
    with served(site) as address, playwright.sync_playwright() as running_:
        browser = running_.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = signed_in(browser, address, "ada")
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        for path in PAGES:
            page.goto(address + path.format(job=job))
            assert page.evaluate("window.hit === undefined"), path
        assert [url for url in asked if not url.startswith(address)] == []
        browser.close()
