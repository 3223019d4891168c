"""Recordings: whole and in pieces, byte for byte, once; and how long they are kept."""

from __future__ import annotations

import hashlib
import io
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from store_kit import NOW, SOUND, later, with_job

from voicereport.store import Store, StoreError
from voicereport.store.recordings import file_name
from voicereport.store.values import NewJob, Recording

pytest_plugins = ["store_fixtures"]


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def job(store: Store) -> int:
    return store.jobs.create(NewJob(technician="tess"), by="tess", now=NOW).id


def add(store: Store, job_id: int, data: bytes = SOUND, **more: object) -> Recording:
    fields = {"media_type": "audio/ogg", "by": "tess", "now": NOW} | more
    return store.recordings.add(job_id, "visit.ogg", io.BytesIO(data), **fields)  # type: ignore[arg-type]


def test_a_recording_is_kept_byte_for_byte_under_its_digest(store: Store) -> None:
    made = add(store, job(store), sha256=sha(SOUND).upper())
    assert made.path is not None
    assert made.path.read_bytes() == SOUND
    assert made.path.name == made.sha256 == sha(SOUND)
    assert (made.position, made.bytes, made.received_from) == (1, len(SOUND), "tess")


def test_the_same_bytes_again_are_the_same_recording(store: Store) -> None:
    own = job(store)
    assert add(store, own).id == add(store, own, now=later(60)).id
    assert store.jobs.get(own).recordings == 1
    other = add(store, job(store))
    assert other.job_id != own
    assert len(list((store.files.folder / "recordings").rglob("*"))) == 2  # one folder, one file


def test_a_file_is_taken_in_as_a_stream_is(store: Store, tmp_path: Path) -> None:
    path = tmp_path / "own.wav"
    path.write_bytes(SOUND)
    made = store.recordings.add(job(store), path.name, path, media_type="audio/wav", by="tess", now=NOW, visit=2)
    assert (made.name, made.visit, made.sha256) == ("own.wav", 2, sha(SOUND))


def test_what_did_not_arrive_as_it_was_sent_is_refused(store: Store) -> None:
    own = job(store)
    with pytest.raises(StoreError, match="digest is another") as caught:
        add(store, own, sha256=sha(b"something else"))
    assert caught.value.kind == "refused"
    with pytest.raises(StoreError, match="is empty"):
        add(store, own, b"")
    with pytest.raises(StoreError) as caught:
        add(store, 999)
    assert caught.value.kind == "not_found"
    assert store.recordings.of(own) == ()
    assert not list((store.files.folder / "unfinished").iterdir())


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("visit.ogg", "visit.ogg"),
        ("/etc/passwd", "passwd"),
        ("..\\..\\boot.ini", "boot.ini"),
        ("../..", "recording"),
        ("", "recording"),
        ("a/b/", "b"),
        ("nul\x00byte", "nul\ufffdbyte"),
        ("<script>.ogg", "<script>.ogg"),
        ("x" * 300, "x" * 255),
    ],
)
def test_a_name_is_never_a_path(given: str, kept: str) -> None:
    assert file_name(given) == kept


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(sizes=st.lists(st.integers(1, 3000), min_size=1, max_size=12), seed=st.integers(0, 2**32))
def test_pieces_in_any_order_and_again_make_the_whole(sqlite_store: Store, sizes: list[int], seed: int) -> None:
    random_ = random.Random(seed)
    pieces = [random_.randbytes(size) for size in sizes]
    upload = sqlite_store.recordings.start(job(sqlite_store), "x.ogg", media_type="audio/ogg", by="tess", now=NOW)
    order = list(range(len(pieces))) + random_.choices(range(len(pieces)), k=3)
    random_.shuffle(order)
    for number in order:
        sqlite_store.recordings.put_piece(upload.id, number, pieces[number], sha(pieces[number]), now=NOW)
    whole = b"".join(pieces)
    made = sqlite_store.recordings.seal(upload.id, len(pieces), sha(whole), by="tess", now=NOW)
    assert made.path is not None
    assert made.path.read_bytes() == whole
    assert sqlite_store.recordings.seal(upload.id, len(pieces), sha(whole), by="tess", now=NOW) == made


def test_an_upload_is_resumed_where_it_stopped(store: Store) -> None:
    own = job(store)
    for _ in range(2):
        upload = store.recordings.start(own, "x.ogg", media_type="a", by="tess", now=NOW, upload_id="phone-1")
    store.recordings.put_piece("phone-1", 0, b"one", sha(b"one"), now=NOW)
    store.recordings.put_piece("phone-1", 2, b"three", sha(b"three"), now=NOW)
    assert (upload.received, store.recordings.upload("phone-1").received) == ((), (0, 2))
    assert [u.id for u in store.recordings.open_uploads(own)] == ["phone-1"]
    with pytest.raises(StoreError, match="lacks pieces: 1") as caught:
        store.recordings.seal("phone-1", 3, None, by="tess", now=NOW)
    assert caught.value.kind == "refused"
    store.recordings.put_piece("phone-1", 1, b"two", sha(b"two"), now=NOW)
    made = store.recordings.seal("phone-1", 3, sha(b"onetwothree"), by="tess", now=NOW)
    assert made.sha256 == sha(b"onetwothree")
    assert store.recordings.open_uploads(own) == ()
    assert store.recordings.upload("phone-1").recording == made
    assert not list((store.files.folder / "pieces").iterdir())


def test_a_wrong_piece_is_refused_and_the_rest_stays(store: Store) -> None:
    own = job(store)
    upload = store.recordings.start(own, "x.ogg", media_type="a", by="tess", now=NOW)
    with pytest.raises(StoreError, match="digest is another"):
        store.recordings.put_piece(upload.id, 0, b"one", sha(b"two"), now=NOW)
    store.recordings.put_piece(upload.id, 0, b"one", sha(b"one"), now=NOW)
    with pytest.raises(StoreError, match="other bytes") as caught:
        store.recordings.put_piece(upload.id, 0, b"two", sha(b"two"), now=NOW)
    assert caught.value.kind == "conflict"
    with pytest.raises(StoreError, match="digest is another"):
        store.recordings.seal(upload.id, 1, sha(b"other"), by="tess", now=NOW)
    assert store.recordings.seal(upload.id, 1, None, by="tess", now=NOW).sha256 == sha(b"one")
    with pytest.raises(StoreError, match="after the recording was sealed"):
        store.recordings.put_piece(upload.id, 1, b"late", sha(b"late"), now=NOW)
    store.recordings.put_piece(upload.id, 0, b"one", sha(b"one"), now=NOW)


def test_pieces_that_cannot_be_are_refused(store: Store) -> None:
    upload = store.recordings.start(job(store), "x.ogg", media_type="a", by="tess", now=NOW)
    for number, data in ((-1, b"x"), (0, b""), (10**6, b"x")):
        with pytest.raises(StoreError, match="cannot be taken in"):
            store.recordings.put_piece(upload.id, number, data, sha(data), now=NOW)
    with pytest.raises(StoreError) as caught:
        store.recordings.put_piece("nothing", 0, b"x", sha(b"x"), now=NOW)
    assert caught.value.kind == "not_found"
    with pytest.raises(StoreError, match="of another job"):
        store.recordings.start(job(store), "x", media_type="a", by="tess", now=NOW, upload_id=upload.id)


def test_sound_past_its_time_goes_and_the_rest_stays(store: Store) -> None:
    old, held, young, unheard = (with_job(store) for _ in range(4))
    store.jobs.hold(held, True, by="sue", now=NOW, why="dispute")
    fresh = add(store, young, b"fresh", now=later(days=20))
    store.jobs.create(NewJob(technician="tess"), by="tess", now=NOW)
    waiting = job(store)
    add(store, waiting, b"not heard yet")
    due = store.retention.due(now=later(days=31), keep_days=30)
    swept = store.retention.sweep(now=later(days=31), keep_days=30, by="voicereport")
    assert {r.job_id for r in swept.recordings} == {r.job_id for r in due} == {old, young, unheard}
    assert swept.kept_held == 1
    gone = store.recordings.of(old)[0]
    assert (gone.deleted_at, gone.path) == (later(days=31), None)
    assert not store.files.recording(gone.sha256).exists()
    assert fresh.path is not None
    assert fresh.path.is_file()
    kept = store.recordings.of(held)[0].path
    assert kept is not None
    assert kept.is_file()
    assert store.reports.latest(old) is not None
    assert store.retention.sweep(now=later(days=32), keep_days=30, by="voicereport").recordings == ()
    assert store.trail.verify(files=True).faults == ()


def test_bytes_that_another_job_still_has_stay(store: Store) -> None:
    first, second = with_job(store), with_job(store)
    add(store, first, b"shared")
    add(store, second, b"shared")
    store.jobs.hold(second, True, by="sue", now=NOW, why="dispute")
    store.retention.sweep(now=later(days=400), keep_days=30, by="voicereport")
    assert store.files.recording(sha(b"shared")).is_file()
    store.jobs.hold(second, False, by="sue", now=later(days=401), why="settled")
    store.retention.sweep(now=later(days=402), keep_days=30, by="voicereport")
    assert not store.files.recording(sha(b"shared")).exists()


def test_deleted_sound_does_not_come_back_by_being_sent_again(store: Store) -> None:
    own = with_job(store)
    add(store, own, b"once")
    store.retention.sweep(now=later(days=400), keep_days=30, by="voicereport")
    with pytest.raises(StoreError, match="deleted after the set time"):
        add(store, own, b"once")
    store.retention.sweep(now=later(days=401), keep_days=30, by="voicereport")
    assert not store.files.recording(sha(b"once")).exists()
