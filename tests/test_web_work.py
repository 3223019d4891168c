"""The worker beside people: what comes in or is changed while a report is made is in it."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from test_web_jobs import SECOND
from web_site import FAULTY, Site, running

from voicereport.pipeline import report_files
from voicereport.report import Report
from voicereport.settings import load_settings
from voicereport.store.values import Edit, NewJob, Recording
from voicereport.web import create_app, work
from voicereport.web.options import WebOptions
from voicereport.web.work import Worker

pytest.importorskip("spacy")


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    with running(tmp_path) as made:
        yield made


def brought(site: Site, *, put: bool = True) -> int:
    job = site.store.jobs.create(NewJob(technician="tarn"), by="tarn", now=site.now)
    add(site, job.id, "first.vtt", FAULTY)
    if put:
        site.store.queue.put(job.id, by="tarn", now=site.now)
    return job.id


def add(site: Site, job_id: int, name: str, words: str) -> Recording:
    return site.store.recordings.add(job_id, name, io.BytesIO(words.encode()), media_type="text/vtt", by="tarn",
                                     now=site.now)  # fmt: skip


def latest(site: Site, job_id: int) -> Report:
    stored = site.store.reports.latest(job_id)
    assert stored is not None
    return stored.report


def while_it_is_made(monkeypatch: pytest.MonkeyPatch, *doings: Any) -> list[int]:
    """After each making of a report, before it is saved, the next of `doings` is done; how often one was made."""
    make, left, made = work.make_report, list(doings), []

    def made_report(recordings: Any, *arguments: Any, **more: Any) -> Report:
        report = make(recordings, *arguments, **more)
        made.append(len(recordings))
        if left:
            left.pop(0)()
        return report

    monkeypatch.setattr(work, "make_report", made_report)
    return made


@pytest.mark.parametrize("put", [True, False], ids=["put", "its server died before putting it"])
def test_a_second_recording_sealed_while_its_job_is_at_work_is_taken_up(
    site: Site, monkeypatch: pytest.MonkeyPatch, put: bool
) -> None:
    job_id = brought(site)

    def second() -> None:
        add(site, job_id, "second.vtt", SECOND)
        if put:
            site.store.queue.put(job_id, by="tarn", now=site.now)

    while_it_is_made(monkeypatch, second)
    site.work()
    report = latest(site, job_id)
    assert [r.name for r in report.recordings] == ["first.vtt", "second.vtt"]
    assert any(r.value == -19 for r in report.readings)
    assert site.store.jobs.get(job_id).state == "ready"
    assert [task.state for task in site.store.queue.of(job_id)] == ["done", "done"]


def with_a_second(site: Site) -> int:
    """A job whose report is made, with a second recording that waits."""
    job_id = brought(site)
    site.work()
    add(site, job_id, "second.vtt", SECOND)
    site.store.queue.put(job_id, by="tarn", now=site.now)
    return job_id


def test_what_a_person_changes_while_the_report_is_made_stays(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    job_id = with_a_second(site)

    def change() -> None:
        edit = Edit(kind="add", path="/findings/-", value="Typed meanwhile", why="told by telephone")
        site.store.reports.edit(job_id, [edit], expected=1, by="otto", now=site.now)

    heard: list[str] = []

    def read(files: Sequence[Path], *arguments: Any, **more: Any) -> Report:
        heard.extend(path.name for path in files)
        return report_files(files, *arguments, **more)

    monkeypatch.setattr(work, "report_files", read)
    made = while_it_is_made(monkeypatch, change)
    site.work()
    report = latest(site, job_id)
    assert "Typed meanwhile" in [r.text for r in report.findings]
    assert any(r.value == -19 for r in report.readings)
    assert made == [2, 2]  # made once more, on top of the change
    assert heard == ["earlier.json", "second.vtt", "earlier.json", "heard.json"]  # and nothing heard twice
    assert [r.name for r in report.recordings] == ["first.vtt", "second.vtt"]
    assert len({s.id for s in report.transcript.segments}) == len(report.transcript.segments)


def test_somebody_who_goes_on_changing_puts_the_work_off_and_loses_nothing(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    job_id = with_a_second(site)

    def change() -> None:
        edit = Edit(kind="add", path="/findings/-", value="Typed", why="told")
        expected = site.store.jobs.get(job_id).version
        site.store.reports.edit(job_id, [edit], expected=expected, by="otto", now=site.now)

    while_it_is_made(monkeypatch, *[change] * 4)
    site.work()
    (task, *_) = site.store.queue.of(job_id)
    assert (task.state, site.store.jobs.get(job_id).state) == ("waiting", "queued")
    site.later(seconds=6)
    site.work()
    report = latest(site, job_id)
    assert [r.text for r in report.findings].count("Typed") == 4
    assert any(r.value == -19 for r in report.readings)


def test_a_recording_that_was_taken_in_and_never_put_is_taken_up_at_the_next_start(site: Site) -> None:
    job_id = brought(site, put=False)
    photo_only = site.store.jobs.create(NewJob(technician="tarn"), by="tarn", now=site.now)
    site.store.recordings.add(photo_only.id, "x.png", io.BytesIO(b"\x89PNG\r\n\x1a\n"), media_type="image/png",
                              by="tarn", now=site.now)  # fmt: skip
    Worker(site.app.state.site).take_up()
    site.work()
    assert latest(site, job_id).recordings
    assert site.store.jobs.get(photo_only.id).state == "new"  # nothing to hear: nothing is tried


def test_the_page_of_a_job_tells_of_the_task_that_runs(site: Site) -> None:
    job_id = brought(site)
    task = site.store.queue.claim("w", now=site.now)
    assert task is not None
    site.store.queue.beat(task, now=site.now, progress=0.5, what="listening to first.vtt")
    site.store.queue.put(job_id, by="tarn", now=site.now)
    told = site.role("office").get(f"/jobs/{job_id}/progress").json()
    assert (told["sentence"], told["share"], told["settled"]) == ("Listening to first.vtt", 0.5, False)


def test_what_one_process_sets_for_the_company_holds_in_another_at_once(site: Site) -> None:
    settings = load_settings(environment={})
    other = create_app(settings, site.store, WebOptions(folder=site.folder)).state.site
    own = other.company.get()
    assert own.company == ""
    site.app.state.site.company.put(own.model_copy(update={"company": "Vennmoor Cold Service"}))
    assert other.company.get().company == "Vennmoor Cold Service"
    (site.folder / "company.json").write_text("{", encoding="utf-8")
    assert other.company.get().company == "Vennmoor Cold Service"  # spoilt by hand: what held before it holds
