"""States of the pages that a person could get stuck in: nothing there yet, at work while one types, out of touch."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from web_site import FAULTY, Site, running, sample, served, signed_in

from voicereport.report import LET_PASS
from voicereport.store.values import SYSTEM


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    with running(tmp_path) as made:
        yield made


def blocked(site: Site) -> int:
    found = sample("freezer")
    first = found.checks[0].model_copy(update={"state": "missing", "severity": "stop"})
    return site.job(found.model_copy(update={"checks": (first, *found.checks[1:]), "status": "blocked"})).id


def test_a_job_that_has_nothing_yet_says_so_and_offers_the_way_on(site: Site) -> None:
    job = site.job(work_order="WO-9")
    page = site.role("office").get(f"/jobs/{job.id}").text
    assert "Nothing has come in yet" in page
    assert "Needs a recording or a transcript." in page
    assert "At work" not in page.split("<main", 1)[1]
    assert '<details class="noprint" open><summary class="small">Add a recording' in page
    assert "data-waiting" not in page  # nothing is at work: nothing is waited for


def test_a_recording_may_be_added_while_the_job_is_at_work(site: Site) -> None:
    job = site.job()
    site.store.queue.put(job.id, by="otto", now=site.now)
    office = site.role("office")
    assert "Add a recording" in office.get(f"/jobs/{job.id}").text
    assert office.upload("more.vtt", FAULTY.encode(), f"/jobs/{job.id}/recordings").status_code == 303


def test_what_could_not_be_read_is_told_with_its_name(site: Site) -> None:
    job = site.job()
    office = site.role("office")
    wave = b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0"  # cut off within its head
    assert office.upload("kitchen.wav", wave, f"/jobs/{job.id}/recordings").status_code == 303
    site.work()
    page = office.get(f"/jobs/{job.id}").text
    assert "This could not be read" in page
    assert "kitchen.wav" in site.store.jobs.get(job.id).problem  # type: ignore[operator]
    assert "/tmp" not in site.store.jobs.get(job.id).problem  # type: ignore[operator]


def test_the_lists_behind_the_overview_are_all_of_it(site: Site) -> None:
    stuck = [blocked(site) for _ in range(17)]
    fine = sample("chiller")
    settled = tuple(c.model_copy(update={"state": "confirmed"}) for c in fine.checks if c.state != "not_applicable")
    ready = [site.job(fine.model_copy(update={"checks": settled, "status": "complete"})).id for _ in range(11)]
    supervisor = site.role("supervisor")
    page = supervisor.get("/oversight").text
    for show, count in (("blocked", 17), ("to_accept", 11)):
        assert f'<a href="/jobs?show={show}">All {count}</a>' in page
        listed = supervisor.get(f"/jobs?show={show}").text
        ids = stuck if show == "blocked" else ready
        assert all(f'<a href="/jobs/{job}">' in listed for job in ids)
        assert listed.count('<div class="needs">') == count
    # one that was let pass is blocked no longer, and can be accepted
    open_stops = [c.id for c in sample("freezer").checks[1:] if c.severity == "stop"
                  and c.state not in ("confirmed", "not_applicable")]  # fmt: skip
    for version, check in enumerate([sample("freezer").checks[0].id, *open_stops], 1):
        site.store.review.override(stuck[0], check, "Seen", expected=version, by="sina", now=site.now)
    assert f'<a href="/jobs/{stuck[0]}">' in supervisor.get("/jobs?show=to_accept").text
    assert f'<a href="/jobs/{stuck[0]}">' not in supervisor.get("/jobs?show=blocked").text
    assert "To be accepted" not in site.role("office").get("/jobs").text  # not theirs to do


def test_times_are_by_the_clock_of_the_shop(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    """Chicago is five hours behind UTC from 8 March 2026 on (IANA time zone database)."""
    job = blocked(site)
    check = sample("freezer").checks[0].id
    supervisor = site.role("supervisor")
    site.later(minutes=7)
    supervisor.post(f"/jobs/{job}/checks/{check}/override", {"version": "1", "reason": "Seen"})
    monkeypatch.setenv("TZ", "America/Chicago")
    time.tzset()
    page = supervisor.get(f"/jobs/{job}").text
    assert "2026-03-09 04:19" in page
    assert "2026-03-09 09:19" not in page
    assert "on 2026-03-09 04:19 although" in supervisor.get(f"/jobs/{job}/preview.html").text
    stored = site.store.reports.latest(job)
    assert stored is not None
    change = stored.report.review.changes[-1]
    assert (change.when[:16], change.after) == ("2026-03-09T09:19", LET_PASS)  # kept as it was


def test_the_trail_says_what_was_done_in_words_and_leads_to_the_job(site: Site) -> None:
    job = blocked(site)
    page = site.role("supervisor").get("/trail").text
    assert "began the job" in page
    assert "kept a report" in page
    assert f'<a href="/jobs/{job}">' in page


def test_a_page_that_is_not_there_says_what_that_may_mean(site: Site) -> None:
    answer = site.role("technician").get("/jobs/999")
    assert answer.status_code == 404
    assert "or it is not yours to see" in answer.text


def test_typing_outlives_the_end_of_the_work(browser: Any, site: Site) -> None:
    """The page of a job that is at work loads itself again when that is over, unless somebody is typing in it."""
    job = blocked(site)
    with served(site) as address:
        office = signed_in(browser, address, "otto")
        site.store.queue.put(job, by="otto", now=site.now)
        office.goto(f"{address}/jobs/{job}?add=findings#add-findings")
        office.fill("#entry-text", "The drain was iced up")
        task = site.store.queue.claim("w", now=site.now)
        assert task is not None
        site.store.reports.save_result(task, sample("freezer"), by=SYSTEM, now=site.now, why="heard")
        office.wait_for_selector("text=It is done. Load the page again", timeout=15_000)
        assert office.input_value("#entry-text") == "The drain was iced up"


def test_the_page_loads_itself_again_when_the_work_is_over(browser: Any, site: Site) -> None:
    job = site.job().id
    site.store.queue.put(job, by="otto", now=site.now)
    with served(site) as address:
        office = signed_in(browser, address, "otto")
        office.goto(f"{address}/jobs/{job}")
        task = site.store.queue.claim("w", now=site.now)
        assert task is not None
        site.store.reports.save_result(task, sample("freezer"), by=SYSTEM, now=site.now, why="heard")
        office.wait_for_selector("text=What is open", timeout=15_000)


def test_files_that_could_not_be_sent_are_still_chosen(browser: Any, site: Site) -> None:
    with served(site) as address:
        office = signed_in(browser, address, "otto")
        office.goto(f"{address}/jobs/new")
        office.set_input_files("#files", files=[{"name": "a.vtt", "mimeType": "text/vtt", "buffer": FAULTY.encode()}])
        office.route(
            "**/jobs/new", lambda route: route.abort() if route.request.method == "POST" else route.continue_()
        )
        office.click("main button[type=submit]")
        office.wait_for_selector("[role=alert]")
        assert "try again" in office.inner_text("[role=alert]")
        office.unroute("**/jobs/new")
        office.click("main button[type=submit]")
        office.wait_for_url("**/jobs/1?done=brought_in")
