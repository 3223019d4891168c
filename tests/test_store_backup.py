"""Back-ups: whole, checked, and read back into either database."""

from __future__ import annotations

import hashlib
import io
import json
from pathlib import Path

import pytest
from store_kit import NOW, by_hand, issued, later, report, with_job

from voicereport.store import Store, StoreError, address, open_store
from voicereport.store.backup import backup, restore
from voicereport.store.own_files import own_files
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
    for change in ({"format": 3}, {"revision": "0000"}):
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


# ---- what a shop has set for itself


def a_shop(folder: Path) -> tuple[Path, Path]:
    """A folder of a shop's own, and a settings file that lies elsewhere."""
    own = folder / "own"
    for name, content in OWN.items():
        (own / name).parent.mkdir(parents=True, exist_ok=True)
        (own / name).write_text(content, encoding="utf-8")
    (own / "weights").mkdir()
    (own / "weights" / "model.bin").write_bytes(b"large, and to be had again")
    settings = folder / "srv" / "voicereport.toml"
    settings.parent.mkdir()
    settings.write_text('units = "us"\n', encoding="utf-8")
    return own, settings


OWN = {"voicereport.toml": 'units = "metric"\n', "live.toml": 'call_word = "Ledger"\n',
       "trades/cold-rooms/words.toml": "# ours\n", "templates/wording.toml": "# ours\n"}  # fmt: skip
COMPANY = json.dumps({"company": "Vennmoor Cold Service", "wording": {"label.report": "Visit report"}})


def test_a_shop_s_own_settings_come_back(store: Store, tmp_path: Path) -> None:
    """Letterhead, wording and limits of the company, settings, call word, trades, texts: byte for byte."""
    own, settings = a_shop(tmp_path)
    (store.files.folder / "company.json").write_text(COMPANY, encoding="utf-8")
    made = backup(store, tmp_path / "kept", now=NOW, by="ada", own=own, settings=settings)
    assert made.files == 6
    into, home = tmp_path / "back", tmp_path / "home"
    back = restore(tmp_path / "kept", address(into, None), into, now=NOW, by="ada", own=home)
    assert back.left == ()
    assert (into / "company.json").read_text(encoding="utf-8") == COMPANY
    assert (into / "voicereport.toml").read_text(encoding="utf-8") == 'units = "us"\n'
    assert {path.relative_to(home).as_posix(): path.read_text(encoding="utf-8") for path in home.rglob("*.toml")} == OWN
    assert not (home / "weights").exists()


def test_settings_that_are_there_are_left_and_named(store: Store, tmp_path: Path) -> None:
    own, _ = a_shop(tmp_path)
    backup(store, tmp_path / "kept", now=NOW, by="ada", own=own)
    home = tmp_path / "home"
    home.mkdir()
    (home / "live.toml").write_text("another", encoding="utf-8")
    (home / "voicereport.toml").write_text(OWN["voicereport.toml"], encoding="utf-8")
    into = tmp_path / "back"
    made = restore(tmp_path / "kept", address(into, None), into, now=NOW, by="ada", own=home)
    assert made.left == ("own/live.toml",)  # the other is the same: nothing is lost
    assert (home / "live.toml").read_text(encoding="utf-8") == "another"
    assert (home / "trades" / "cold-rooms" / "words.toml").exists()


def test_a_store_without_settings_is_backed_up_too(store: Store, tmp_path: Path) -> None:
    made = backup(store, tmp_path / "kept", now=NOW, by="ada", own=tmp_path / "none", settings=None)
    assert made.files == 0
    into = tmp_path / "back"
    assert restore(tmp_path / "kept", address(into, None), into, now=NOW, by="ada", own=tmp_path / "none").left == ()
    assert not (tmp_path / "none").exists()
    assert not (into / "company.json").exists()


def test_a_back_up_from_before_there_were_settings_in_it_is_read(kept: Path, tmp_path: Path) -> None:
    manifest = json.loads((kept / "manifest.json").read_text())
    del manifest["settings"]
    (kept / "manifest.json").write_text(json.dumps(manifest | {"format": 1}))
    into = tmp_path / "back"
    assert restore(kept, address(into, None), into, now=NOW, by="ada").files == manifest_files(manifest)


def manifest_files(manifest: dict[str, list[object]]) -> int:
    return len(manifest["files"])


@pytest.mark.parametrize("name", ["../../evil.toml", "/etc/evil.toml", "own/../../evil.toml", "own", "evil.toml", ""])
def test_a_back_up_writes_nowhere_else(store: Store, tmp_path: Path, name: str) -> None:
    backup(store, tmp_path / "kept", now=NOW, by="ada")
    manifest = json.loads((tmp_path / "kept" / "manifest.json").read_text())
    manifest["settings"] = [[name, hashlib.sha256(b"").hexdigest(), 0]]
    (tmp_path / "kept" / "manifest.json").write_text(json.dumps(manifest))
    into = tmp_path / "back"
    with pytest.raises(StoreError) as caught:
        restore(tmp_path / "kept", address(into, None), into, now=NOW, by="ada", own=tmp_path / "home")
    assert caught.value.kind == "damaged"
    assert not into.exists()


def test_settings_that_were_changed_in_the_back_up_are_refused(store: Store, tmp_path: Path) -> None:
    (store.files.folder / "company.json").write_text(COMPANY, encoding="utf-8")
    backup(store, tmp_path / "kept", now=NOW, by="ada")
    (tmp_path / "kept" / "settings" / "company.json").write_text("{}", encoding="utf-8")
    into = tmp_path / "back"
    with pytest.raises(StoreError, match=r"has changed: settings/company\.json"):
        restore(tmp_path / "kept", address(into, None), into, now=NOW, by="ada")


def test_photos_documents_and_data_plates_come_back(store: Store, tmp_path: Path) -> None:
    job = with_job(store, report(state="confirmed"))
    picture = b"\x89PNG\r\n\x1a\n" + b"p" * 50
    photo = store.recordings.add(job, "photo.png", io.BytesIO(picture), media_type="image/png", by="tess", now=NOW)
    pin = {"photo": photo.id, "recording": "visit.ogg", "at_s": 3.5}
    store.trail.note("photo.pinned", f"job {job}, photo.png", by="tess", now=NOW, job_id=job, after=pin)
    issued(store, job)
    backup(store, tmp_path / "kept", now=NOW, by="ada")
    into = tmp_path / "back"
    restore(tmp_path / "kept", address(into, None), into, now=NOW, by="ada")
    back = open_store(address(into, None), into)
    try:
        (found,) = [r for r in back.recordings.of(job) if r.media_type == "image/png"]
        assert found.path is not None
        assert found.path.read_bytes() == picture
        assert [e.after for e in back.jobs.history(job) if e.act == "photo.pinned"] == [pin]
        (document,) = back.review.issues(job)[0].documents
        assert document.path.read_bytes() == b"%PDF-"
        assert back.jobs.appliance("2206-1183") == store.jobs.appliance("2206-1183")
        assert back.jobs.appliance("2206-1183") is not None
        assert back.trail.verify(files=True, derived=True).faults == ()
    finally:
        back.close()


def test_a_settings_file_in_the_own_folder_is_kept_once(tmp_path: Path) -> None:
    own, _ = a_shop(tmp_path)
    names = own_files(tmp_path / "store", own, own / "voicereport.toml")
    assert sorted(names) == ["own/" + name for name in sorted(OWN)]
