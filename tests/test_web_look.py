"""The pages in a real browser: accessibility, widths, keys, and a working day from recording to signature."""

from __future__ import annotations

import hashlib
import io
import math
import os
import wave
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, axe_source
from web_site import FAULTY, Site, running, sample, served, signed_in

from voicereport.checks import status_of
from voicereport.report import Report, Said

PICTURES = os.environ.get("VOICEREPORT_PICTURES", "")  # read before the tests clear the environment
CLEAN_END = """
6
00:36.000 --> 00:44.000
Ran it for twenty minutes, it runs fine. The freezer is at minus nineteen degrees.
"""


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Site, str]]:
    """A site with jobs of half a year."""
    with running(tmp_path_factory.mktemp("site")) as site:
        fill(site)
        with served(site) as address:
            yield site, address


def fill(site: Site) -> None:
    """Jobs of two technicians on three appliances over half a year, some with open entries; one of each state."""
    start = site.now
    for n in range(24):
        site.now = start - timedelta(days=170 - 7 * n)
        found = sample(("freezer", "chiller")[n % 2])
        checks = tuple(c.model_copy(update={"state": "missing"}) if k % 7 == n % 7 and c.state == "confirmed" else c
                       for k, c in enumerate(found.checks))  # fmt: skip
        plate = found.job.appliance.model_copy(
            update={"serial": Said(value=f"B77{n % 3}"), "model": Said(value="QF441")}
        )
        job = found.job.model_copy(update={"appliance": plate, "recorded_at": Said(value=site.now.isoformat()),
                                           "work_order": Said(value=f"WO-{4100 + n}")})  # fmt: skip
        made = found.model_copy(update={"checks": checks, "status": status_of(checks), "job": job})
        site.job(made, technician=("tarn", "una")[n % 2])
    site.now = start
    blocked = doubtful(sample("freezer"))
    site.job(blocked, work_order="WO-4200")  # number 25
    site.store.review.send_back(25, "Was the plug out?", check_id=blocked.checks[0].id, by="sina", now=site.now)
    failed = site.job(work_order="WO-4201")  # number 26
    site.store.queue.put(failed.id, now=site.now, by="otto")
    task = site.store.queue.claim("test", now=site.now)
    assert task is not None
    site.store.queue.fail(task, "is no recording", now=site.now)
    waiting = site.job(work_order="WO-4202")  # number 27
    site.store.queue.put(waiting.id, now=site.now, by="otto")
    site.store.people.make_token("otto", "books", by="otto", now=site.now)


def doubtful(report: Report) -> Report:
    """The report with a doubtful word."""
    segments = list(report.transcript.segments)
    words = list(segments[0].words)
    words[0] = words[0].model_copy(update={"probability": 0.2, "alternative": "other"})
    segments[0] = segments[0].model_copy(update={"words": tuple(words)})
    return report.model_copy(update={"transcript": report.transcript.model_copy(update={"segments": tuple(segments)})})


PAGES: dict[str, tuple[str, str]] = {
    "sign in": ("", "/signin"), "jobs": ("otto", "/jobs?show=all"), "bring in": ("otto", "/jobs/new"),
    "job": ("otto", "/jobs/25"), "change": ("otto", "/jobs/25?change=/readings/0#readings-0"),
    "add": ("otto", "/jobs/25?add=steps#add-steps"), "facts": ("otto", "/jobs/25?change=/job#job"),
    "failed": ("otto", "/jobs/26"), "waiting": ("otto", "/jobs/27"), "doubts": ("otto", "/jobs/25/doubts"),
    "customer": ("otto", "/jobs/1/customer"), "history": ("otto", "/jobs/1/history"), "company": ("otto", "/company"),
    "appliances": ("otto", "/appliances"), "appliance": ("otto", "/appliances/plate?serial=B770"),
    "search": ("otto", "/search?words=the"), "account": ("otto", "/me"), "not allowed": ("otto", "/people"),
    "own jobs": ("tarn", "/jobs"), "own job": ("tarn", "/jobs/25"),
    "decide": ("sina", "/jobs/2"), "oversight": ("sina", "/oversight"), "checks": ("sina", "/oversight/checks"),
    "check": ("sina", "/oversight/checks/power-isolated"), "repeats": ("sina", "/oversight/repeats"),
    "trail": ("sina", "/trail"), "people": ("ada", "/people"),
}  # fmt: skip


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_finds_no_violation(browser: Any, full: tuple[Site, str], scheme: str, width: int) -> None:
    axe, found = axe_source(), []
    windows: dict[str, Any] = {}
    for name, (login, path) in PAGES.items():
        if login not in windows:
            windows[login] = signed_in(browser, full[1], login, color_scheme=scheme, bypass_csp=True,
                                       viewport={"width": width, "height": 900})  # fmt: skip
        page = windows[login]
        page.goto(full[1] + path)
        for details in page.query_selector_all("details"):
            details.evaluate("e => { e.open = true; }")
        page.evaluate(axe)
        result = page.evaluate(
            "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})"
        )
        found += [(name, v["id"], v["nodes"][0]["html"][:200]) for v in result["violations"]]
    for page in windows.values():
        page.context.close()
    assert found == []


@pytest.mark.parametrize("width", [320, 390, 820, 1280])
def test_nothing_runs_off_the_side(browser: Any, full: tuple[Site, str], width: int) -> None:
    wide = []
    windows: dict[str, Any] = {}
    for name, (login, path) in PAGES.items():
        page = windows.setdefault(login, None) or signed_in(browser, full[1], login,
                                                            viewport={"width": width, "height": 900})  # fmt: skip
        windows[login] = page
        page.goto(full[1] + path)
        if page.evaluate("document.documentElement.scrollWidth") > width:
            wide.append(name)
    for page in windows.values():
        page.context.close()
    assert wide == []


def test_pages_break_no_policy_and_load_nothing_from_elsewhere(browser: Any, full: tuple[Site, str]) -> None:
    said: list[str] = []
    asked: set[str] = set()
    for login in ("otto", "sina", "ada"):
        page = signed_in(browser, full[1], login)
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: asked.add(request.url))
        for _, path in (entry for entry in PAGES.values() if entry[0] == login and entry[1] != "/people"):
            page.goto(full[1] + path)
        page.context.close()
    assert said == []
    assert [url for url in asked if not url.startswith((full[1], "data:"))] == []


def test_without_script_every_page_still_works(browser: Any, full: tuple[Site, str]) -> None:
    page = signed_in(browser, full[1], "otto", java_script_enabled=False)
    page.goto(f"{full[1]}/jobs/25?add=findings#add-findings")
    page.fill("#entry-text", "Without script")
    page.fill("#entry-why", "heard so")
    page.click("button[value=keep]")
    assert "Without script" in page.inner_text("main")
    page.context.close()


def test_a_time_in_the_margin_plays_exactly_its_seconds(browser: Any, tmp_path: Path) -> None:
    found = sample("freezer")
    content = tone(tmp_path / "tone.wav", 130.0)
    digest = hashlib.sha256(content).hexdigest()
    entries = tuple(entry.model_copy(update={"sha256": digest}) for entry in found.recordings)
    with running(tmp_path) as site:
        job = site.job(found.model_copy(update={"recordings": entries})).id
        site.store.recordings.add(job, "freezer.wav", io.BytesIO(content), media_type="audio/wav", by="tarn",
                                  now=site.now)  # fmt: skip
        with served(site) as address:
            page = signed_in(browser, address, "otto")
            ranges: list[int] = []
            page.on("response", lambda answer: ranges.append(answer.status) if "/sound" in answer.url else None)
            page.goto(f"{address}/jobs/{job}")
            link = page.locator("ol.record a.time").first
            start, end = (float(link.get_attribute(f"data-{name}") or 0) for name in ("start", "end"))
            link.click()
            until(page, "window.soundPlayer.currentTime > 0 && !window.soundPlayer.paused", 20)
            assert link.get_attribute("aria-current") == "true"
            first = page.evaluate("window.soundPlayer.currentTime")
            until(page, "window.soundPlayer.paused", end - start + 10)
            last = page.evaluate("window.soundPlayer.currentTime")
            assert start <= first <= end
            assert last == pytest.approx(end, abs=0.3)  # a frame of the screen, and a slow machine
            assert link.get_attribute("aria-current") is None
            assert 206 in ranges  # by byte ranges
            page.context.close()


def until(page: Any, condition: str, seconds: float) -> None:
    """Waits for a condition; the page's own policy forbids to wait by a function."""
    for _ in range(int(seconds * 20)):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(50)
    raise AssertionError(condition)


def tone(path: Path, seconds: float) -> bytes:
    """A wav file of a tone, 8 kHz."""
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 8000, 0, "NONE", ""))
        second = b"".join(int(9000 * math.sin(n / 5)).to_bytes(2, "little", signed=True) for n in range(8000))
        file.writeframes(second * int(seconds))
    return path.read_bytes()


def press(page: Any, keys: str) -> None:
    """Keys, one after the other."""
    for key in keys.split():
        page.keyboard.press(key)


def test_the_office_works_by_keys_only(browser: Any, tmp_path: Path) -> None:
    with running(tmp_path) as site:
        job = site.job(doubtful(sample("freezer"))).id
        with served(site) as address:
            page = signed_in(browser, address, "otto", viewport={"width": 1280, "height": 900})
            page.goto(f"{address}/jobs/{job}")
            doubts = page.locator("mark.doubt").count()
            press(page, "w")  # doubtful words
            page.wait_for_url("**/doubts")
            press(page, "2")  # as the second look heard it
            assert page.locator("input[value=other]").is_checked()
            press(page, "Enter")
            page.wait_for_url("**/doubts?after=*")
            press(page, "b")  # back to the report
            page.wait_for_url(f"**/jobs/{job}")
            assert page.locator("mark.doubt").count() == doubts - 1
            entry = page.locator("[data-entry]:has([data-key=c])").first
            wanted = entry.get_attribute("id")
            for _ in range(80):
                press(page, "j")
                if page.evaluate("document.activeElement.id") == wanted:
                    break
            press(page, "c")  # change it
            page.wait_for_url("**change=**")
            page.focus("#entry-why")
            page.keyboard.type("heard so")
            press(page, "Enter")
            page.wait_for_url("**done=changed**")
            press(page, "r")  # the customer's report
            page.wait_for_url("**/customer")
            press(page, "b")
            page.wait_for_url(f"**/jobs/{job}")
            page.context.close()
        stored = site.store.reports.latest(job)
        assert stored is not None
        assert stored.report.transcript.segments[0].words[0].word == "other"
        own = [change for change in stored.report.review.changes if change.who == "otto"]
        assert len(own) == 3  # the word, its sentence, the entry


def test_the_supervisor_works_by_keys_only(browser: Any, tmp_path: Path) -> None:
    with running(tmp_path) as site:
        found = sample("freezer")
        lacking = next(k for k, c in enumerate(found.checks) if c.severity == "stop" and c.state != "not_applicable")
        confirmed = {"state": "confirmed"}
        checks = [c if c.severity != "stop" or c.state == "not_applicable" else c.model_copy(update=confirmed)
                  for c in found.checks]  # fmt: skip
        checks[lacking] = checks[lacking].model_copy(update={"state": "missing"})
        job = site.job(found.model_copy(update={"checks": tuple(checks), "status": "blocked"})).id
        with served(site) as address:
            page = signed_in(browser, address, "sina", viewport={"width": 1280, "height": 900})
            page.goto(f"{address}/jobs/{job}")
            press(page, "j d")  # first entry, which is the open one; decide
            details = page.locator("[data-entry] details").first
            assert details.evaluate("e => e.open")
            press(page, "Tab")
            for _ in range(12):
                if page.evaluate("(document.activeElement.name || '') === 'reason'"):
                    break
                press(page, "Tab")
            page.keyboard.type("Seen on site")
            press(page, "Tab Enter")
            page.wait_for_url("**done=overridden**")
            press(page, "Escape a")  # accept
            page.wait_for_url("**done=accepted**")
            page.context.close()
        assert site.store.jobs.get(job).state == "accepted"


def picture(page: Any, name: str) -> None:
    """A picture of the page, where somebody wants them: VOICEREPORT_PICTURES names the folder."""
    if PICTURES:
        Path(PICTURES).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(PICTURES) / f"{name}.png"))


def test_a_day(browser: Any, tmp_path: Path) -> None:
    """The technician brings a narration in, the supervisor sends it back, the second part comes, it is let pass,
    accepted, and the office issues it."""
    view = {"width": 1280, "height": 860}
    first, second = tmp_path / "first.vtt", tmp_path / "second.vtt"
    first.write_text(FAULTY, encoding="utf-8")
    if PICTURES:  # the pictures show a recording; the test itself needs no recogniser
        first = ROOT / "demo_audio" / "freezer-faults.ogg"
    second.write_text("WEBVTT\n" + CLEAN_END, encoding="utf-8")
    with running(tmp_path) as site, served(site, work=True) as address:
        technician = signed_in(browser, address, "tarn", viewport={"width": 390, "height": 844})
        technician.goto(f"{address}/jobs/new")
        technician.set_input_files("#files", str(first))
        technician.fill("#customer", "Ms Dunmore")
        picture(technician, "1-technician-brings-in")
        technician.click("main button[type=submit]")
        technician.wait_for_url("**/jobs/1?done=brought_in")
        technician.wait_for_selector("text=What is open", timeout=60_000)
        picture(technician, "2-technician-sees-what-is-open")

        office = signed_in(browser, address, "otto", viewport=view)
        office.goto(f"{address}/company")
        office.fill("#company", "Brackwater Cold Works")
        office.click("main button[type=submit]")
        office.wait_for_url("**done=company_changed")
        office.goto(f"{address}/jobs")
        picture(office, "3-office-list")
        office.click("ol.list a >> nth=0")
        office.wait_for_selector("text=What the job called for")
        picture(office, "4-office-report")
        office.goto(f"{address}/jobs/1/customer")
        assert office.locator("text=A stop-level entry is open").count() == 1

        supervisor = signed_in(browser, address, "sina", viewport=view)
        assert supervisor.url.endswith("/oversight")
        supervisor.click("section ol.list a >> nth=0")
        supervisor.wait_for_selector("text=What the job called for")
        entry = supervisor.locator("#check-power-isolated")
        entry.locator("summary").click()
        entry.locator("textarea[name=question]").fill("Was the plug out before the rear panel came off?")
        picture(supervisor, "5-supervisor-asks")
        entry.locator("button:text('Send back')").click()
        supervisor.wait_for_url("**done=sent_back**")

        technician.goto(f"{address}/jobs/1")
        technician.fill("textarea[name=answer]", "Yes. I forgot to say so.")
        technician.click("text=Answer >> nth=-1")
        technician.wait_for_url("**done=answered**")
        technician.click("text=Files and history")
        technician.click("text=Add a recording")
        technician.set_input_files("#more", str(second))
        technician.click("text=Bring it in")
        technician.wait_for_url("**done=brought_in")
        technician.wait_for_selector(".speech >> text=twenty minutes", timeout=60_000)

        supervisor.goto(f"{address}/jobs/1")
        while site.store.jobs.get(1).open_stops:
            entry = supervisor.locator(".check-line:has(summary):not(:has(.decision b:text('Let pass')))").first
            entry.locator("summary").click()
            entry.locator("textarea[name=reason]").fill("Told so by the technician; seen by me.")
            entry.locator("button:text('Let it pass')").click()
            supervisor.wait_for_url("**done=overridden**")
            supervisor.goto(f"{address}/jobs/1")
        picture(supervisor, "6-supervisor-lets-pass")
        supervisor.click("text=Accept the report")
        supervisor.wait_for_url("**done=accepted**")

        office.goto(f"{address}/jobs/1/customer")
        office.click("text=Issue number 1")
        office.wait_for_url("**done=issued**")
        picture(office, "7-office-issues")
        sent = office.request.get(f"{address}/jobs/1/issues/1/customer.html").text()
        assert "Brackwater Cold Works" in sent
        assert "Told so by the technician; seen by me." in sent
        assert site.store.jobs.get(1).state == "issued"
        assert site.store.trail.verify(files=True).sound
        for page in (technician, office, supervisor):
            page.context.close()
