"""A check that a supervisor let pass, with the reason, in every rendering that tells of checks."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from conftest import Run
from web_site import Site, running, sample

from voicereport import render
from voicereport.render.letterhead import Letterhead
from voicereport.report import LET_PASS, LIFTED, Change, Report, dump_json

REASON = "Plug seen on the floor in the photo of 09:31"
TOLD = "Let pass by Sina Quillhart on 2026-03-09 09:12 although missing: Plug seen on the floor in the photo of 09:31."


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    with running(tmp_path) as made:
        yield made


def one_open() -> Report:
    """A report that one stop-level check blocks."""
    found = sample("chiller")
    first = found.checks[0].model_copy(update={"state": "missing", "severity": "stop", "evidence": ()})
    rest = tuple(c.model_copy(update={"state": "confirmed"}) for c in found.checks[1:] if c.state != "not_applicable")
    return found.model_copy(update={"checks": (first, *rest), "status": "blocked"})


def let_pass(report: Report, *, who: str = "Sina Quillhart", lifted: bool = False) -> Report:
    """The report as the store tells of a decision."""
    path, when = f"/checks/{report.checks[0].id}", "2026-03-09T09:12:00.000000Z"
    changes = [Change(who=who, when=when, path=path, before="missing", after=LET_PASS, why=REASON)]
    if lifted:
        changes += [Change(who=who, when=when, path=path, before=LET_PASS, after=LIFTED, why="The wrong job")]
    return report.model_copy(update={"review": report.review.model_copy(update={"changes": tuple(changes)})})


def customer_html(report: Report) -> str:
    return render.customer_html(report, letterhead=Letterhead())


def customer_pdf(report: Report) -> bytes:
    return render.customer_pdf(report, letterhead=Letterhead())


def audit_html(report: Report) -> str:
    return render.audit_html(report, letterhead=Letterhead())


def plain(page: str) -> str:
    """The words of a page."""
    body = re.sub(r"<(style|script)[\s\S]*?</\1>", " ", page)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


def pdf_words(content: bytes) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    done = subprocess.run(["pdftotext", "-", "-"], input=content, capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


def test_every_rendering_of_the_report_file_says_it_without_the_store() -> None:
    """report.json holds the whole truth of the job: its renderings need nothing beside it."""
    report = let_pass(one_open())
    title = f"{report.checks[0].title} (let pass by Sina Quillhart)"
    for words in (plain(customer_html(report)), plain(audit_html(report)), pdf_words(customer_pdf(report))):
        assert TOLD in words
        assert title in words
        assert "With entries that were let pass" in words
        assert "Not to be closed yet" not in words
    assert "One entry was let pass; it stands below with the reason." in plain(audit_html(report))
    assert report.status == "blocked"  # the contract's own states stay as they were found
    assert report.checks[0].state == "missing"


def test_one_that_was_taken_back_counts_again_everywhere() -> None:
    report = let_pass(one_open(), lifted=True)
    for words in (plain(customer_html(report)), plain(audit_html(report)), pdf_words(customer_pdf(report))):
        assert TOLD not in words
        assert "(let pass by" not in words
        assert "Not to be closed yet" in words


def test_another_stop_still_blocks() -> None:
    report = one_open()
    second = report.checks[1].model_copy(update={"state": "unclear", "severity": "stop"})
    report = let_pass(report.model_copy(update={"checks": (report.checks[0], second, *report.checks[2:])}))
    words = plain(customer_html(report))
    assert "Not to be closed yet" in words
    assert TOLD in words
    assert "One entry must be settled before this job may be closed." in plain(audit_html(report))


def test_a_check_that_was_confirmed_afterwards_is_plainly_confirmed() -> None:
    report = let_pass(one_open())
    first = report.checks[0].model_copy(update={"state": "confirmed"})
    report = report.model_copy(update={"checks": (first, *report.checks[1:]), "status": "complete"})
    for words in (plain(customer_html(report)), plain(audit_html(report))):
        assert "let pass by" not in words.replace("→ overridden", "")


def test_words_of_a_reason_are_text_and_nothing_else() -> None:
    report = one_open()
    hostile = Change(who="<b>x</b>", when="2026-03-09T09:12:00Z", path=f"/checks/{report.checks[0].id}",
                     before="missing", after=LET_PASS, why="<script>alert(1)</script>\u202e")  # fmt: skip
    report = report.model_copy(update={"review": report.review.model_copy(update={"changes": (hostile,)})})
    for page in (customer_html(report), audit_html(report)):
        assert "<script>alert" not in page
        assert "<b>x</b>" not in page
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
        assert "\u202e" not in page


def test_every_page_and_file_of_the_site_says_it_with_the_name(site: Site) -> None:
    report = one_open()
    check = report.checks[0].id
    job = site.job(report).id
    supervisor, office = site.role("supervisor"), site.role("office")
    done = supervisor.post(f"/jobs/{job}/checks/{check}/override", {"version": "1", "reason": REASON})
    assert done.status_code == 303
    for name in ("preview.html", "audit.html"):
        assert TOLD in plain(office.get(f"/jobs/{job}/{name}").text), name
    assert TOLD in pdf_words(office.get(f"/jobs/{job}/preview.pdf").content)
    page = plain(supervisor.get(f"/jobs/{job}").text)
    assert f"Let pass by Sina Quillhart, 2026-03-09 09:12: {REASON}" in page.replace(":00", "")
    assert "With entries that were let pass" in page
    assert "Sina Quillhart" in page
    assert "sina," not in page  # nobody is told by what they sign in with
    kept = json.loads(office.get(f"/jobs/{job}/report.json").text)
    assert kept["review"]["changes"][0]["why"] == REASON
    assert kept["review"]["changes"][0]["who"] == "sina"  # the record itself keeps the login
    supervisor.post(f"/jobs/{job}/accept", {"version": "2"})
    assert office.post(f"/jobs/{job}/issue", {"version": "3"}).status_code == 303
    for name, words in (("customer.html", plain), ("customer.pdf", None)):
        went = office.get(f"/jobs/{job}/issues/1/{name}")
        told = words(went.text) if words else pdf_words(went.content)
        assert TOLD in told
        assert "Signed by Sina Quillhart" in told


def test_the_command_line_says_it_from_the_downloaded_file(voicereport: Run, tmp_path: Path) -> None:
    path = tmp_path / "report.json"
    path.write_text(dump_json(let_pass(one_open())), encoding="utf-8")
    rendered = voicereport("render", path, "--out", tmp_path / "out")
    assert rendered.returncode == 0, rendered.stderr
    for name in ("customer.html", "audit.html"):
        assert TOLD in plain((tmp_path / "out" / name).read_text(encoding="utf-8")), name
    assert TOLD in pdf_words((tmp_path / "out" / "customer.pdf").read_bytes())
