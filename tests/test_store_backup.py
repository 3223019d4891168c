"""Back-ups: whole, checked, and read back into either database."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from store_kit import NOW, by_hand, issued, later, report, with_job

from voicereport.store import Store, StoreError, address, open_store
from voicereport.store.backup import backup, restore
from voicereport.store.values import NewJob, SearchQuery

pytest_plugins = ["store_fixtures"]


@pytest.fixture
def kept(store: Store, tmp_path: Path) -> Path:
    """A back-up of a store with two jobs, the second issued; the folder of the back-up."""
    with_job(store)
    issued(store, with_job(store, report(state="confirmed")))
    store.people.start_session("tess", now=NOW)
    backup(store, tmp_path / "kept", now=later(60), by="ada")
    return tmp_path / "kept"


def test_a_back_up_read_back_is_the_same_store(store: Store, kept: Path, tmp_path: Path) -> None:
    into = tmp_path / "back"
    made = restore(kept, address(into, None), into, now=later(120), by="ada")
    back = open_store(address(into, None), into)
    try:
        assert made.head == store.trail.head()[1]
        assert back.trail.verify(files=True, derived=True).faults == ()
        assert back.people.list() == store.people.list()
        assert back.jobs.page() == store.jobs.page()
        assert back.reports.get(1, 1) == store.reports.get(1, 1)
        assert [i.number for i in back.review.issues(2)] == [1]
        assert back.overview.shares("check") == store.overview.shares("check")
        assert back.jobs.appliances() == store.jobs.appliances()
        assert back.search.find(SearchQuery(words="screws")).total == 2
        path = back.recordings.of(1)[0].path
        assert path is not None
        assert path.is_relative_to(into)
        last = back.trail.entries(after=back.trail.head()[0] - 1)[0]
        assert (last.act, last.by) == ("store.restored", "ada")
    finally:
        back.close()


def test_work_goes_on_in_a_restored_store(kept: Path, url: str, tmp_path: Path) -> None:
    """The back-up of either database in the other: `url` is SQLite's where the back-up came from SQLite too."""
    into = tmp_path / "back"
    target = address(into, None) if not url.startswith("sqlite") else address(into, None).replace("store.db", "own.db")
    restore(kept, target, into, now=later(120), by="ada")
    back = open_store(target, into)
    try:
        job = back.jobs.create(NewJob(technician="tess"), by="tess", now=later(180))
        assert job.id == 3
        with_job(back)
        assert back.trail.verify(files=True, derived=True).faults == ()
    finally:
        back.close()


def test_sqlite_moves_to_postgresql(sqlite_store: Store, postgres_url: str, tmp_path: Path) -> None:
    with_job(sqlite_store)
    backup(sqlite_store, tmp_path / "kept", now=NOW, by="ada")
    into = tmp_path / "moved"
    into.mkdir()
    restore(tmp_path / "kept", postgres_url, into, now=NOW, by="ada")
    back = open_store(postgres_url, into)
    try:
        assert with_job(back) == 2  # the counters go on after the rows that came
        assert back.people.add("new", "New", "office", by="ada", now=NOW).id == 6
        assert back.trail.verify(files=True, derived=True).faults == ()
    finally:
        back.close()


def test_a_back_up_that_was_changed_is_refused(kept: Path, tmp_path: Path) -> None:
    for name in ("tables/people.jsonl", next(f"recordings/{p.name}" for p in (kept / "recordings").iterdir())):
        content = (kept / name).read_bytes()
        (kept / name).write_bytes(content + b"x")
        with pytest.raises(StoreError, match=f"has changed: {name}") as caught:
            restore(kept, address(tmp_path / "back", None), tmp_path / "back", now=NOW, by="ada")
        assert caught.value.kind == "damaged"
        (kept / name).write_bytes(content)
    (kept / "tables" / "jobs.jsonl").unlink()
    with pytest.raises(StoreError, match="jobs"):
        restore(kept, address(tmp_path / "back", None), tmp_path / "back", now=NOW, by="ada")
    assert not (tmp_path / "back").exists()


def test_a_back_up_of_another_version_is_refused(kept: Path, tmp_path: Path) -> None:
    manifest = json.loads((kept / "manifest.json").read_text())
    for change in ({"format": 2}, {"revision": "0000"}):
        (kept / "manifest.json").write_text(json.dumps(manifest | change))
        with pytest.raises(StoreError, match="another version"):
            restore(kept, address(tmp_path / "back", None), tmp_path / "back", now=NOW, by="ada")
    with pytest.raises(StoreError, match="is no back-up"):
        restore(tmp_path, address(tmp_path / "back", None), tmp_path / "back", now=NOW, by="ada")


def test_nothing_is_written_over(store: Store, kept: Path, url: str) -> None:
    with pytest.raises(StoreError, match="is there already"):
        backup(store, kept, now=NOW, by="ada")
    before = store.trail.head()
    with pytest.raises(StoreError, match="is not empty"):
        restore(kept, url, store.files.folder, now=NOW, by="ada")
    assert store.trail.head() == before
    assert store.trail.verify(files=True).faults == ()


def test_a_back_up_with_a_file_lacking_is_none(store: Store, tmp_path: Path) -> None:
    with_job(store)
    path = store.recordings.of(1)[0].path
    assert path is not None
    path.unlink()
    with pytest.raises(StoreError, match="has no file"):
        backup(store, tmp_path / "kept", now=NOW, by="ada")
    assert not (tmp_path / "kept").exists()


def test_a_tampered_store_is_found_after_it_was_restored(store: Store, tmp_path: Path) -> None:
    """A back-up is of the store as it is: it does not make it right."""
    with_job(store)
    by_hand(store, "UPDATE people SET role = 'administrator' WHERE login = 'tess'")
    backup(store, tmp_path / "kept", now=NOW, by="ada")
    into = tmp_path / "back"
    restore(tmp_path / "kept", address(into, None), into, now=NOW, by="ada")
    back = open_store(address(into, None), into)
    assert not back.trail.verify().sound
    back.close()
