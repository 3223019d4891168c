"""The audit trail: what was done by hand in the tables or the folder is found."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text
from store_kit import NOW, by_hand, issued, later, report, with_job, with_people

from voicereport.store import Store, open_store
from voicereport.store.heads import Heads
from voicereport.store.values import Edit

pytest_plugins = ["store_fixtures"]


@pytest.fixture
def full_store(store: Store) -> Store:
    """A store in which most things have happened."""
    return filled(store)


def filled(store: Store) -> Store:
    """Two jobs, the second issued."""
    first, second = with_job(store), with_job(store, report(state="confirmed"))
    store.review.override(first, "power-isolated", "the photo shows it", expected=1, by="sue", now=NOW)
    store.review.send_back(first, "Which screws?", by="sue", now=NOW)
    issued(store, second)
    return store


def rehash(store: Store, first: int) -> None:
    """Computes the chain anew from an entry on, as a forger would who has read how it is done."""
    with store.database.engine.connect() as connection:
        rows = connection.execute(text("SELECT * FROM trail ORDER BY number")).mappings().all()
        previous = "0" * 64
        for row in rows:
            names = ("number", "at", "by", "act", "job_id", "about", "before", "after", "why", "seals")
            told = json.dumps([*(row[name] for name in names), previous], separators=(",", ":"))
            name = hashlib.sha256(told.encode()).hexdigest()
            if row["number"] >= first:
                connection.execute(
                    text("UPDATE trail SET previous = :p, hash = :h WHERE number = :n"),
                    {"p": previous, "h": name, "n": row["number"]},
                )
            previous = name if row["number"] >= first else row["hash"]
        connection.commit()


def test_an_untouched_store_is_sound(full_store: Store) -> None:
    found = full_store.trail.verify(files=True, derived=True)
    assert found.faults == ()
    assert found.entries == full_store.trail.head()[0] > 15
    assert found.files == 3
    assert found.rows > 15


def test_an_empty_store_is_sound(empty_store: Store) -> None:
    assert empty_store.trail.verify(files=True, derived=True).faults == ()
    assert empty_store.trail.head() == (0, "")


def test_the_hash_is_as_documented(full_store: Store) -> None:
    """SHA-256 over the columns as one JSON list, by hashlib and json alone: anybody can verify the chain."""
    heads = full_store.trail.head()
    rehash(full_store, 1)
    assert full_store.trail.head() == heads


OTHER_TEXT = """
UPDATE bodies SET packed = (SELECT packed FROM bodies WHERE job_id = 2 AND version = 1) WHERE job_id = 1 AND version = 1
"""
Tamper = Callable[[Store], Any]

TAMPERINGS: dict[str, str | Tamper] = {
    "an entry's reason is changed": "UPDATE trail SET why = 'another' WHERE act = 'check.overridden'",
    "an entry's person is changed": "UPDATE trail SET by = 'otto' WHERE number = 9",
    "an entry's time is changed": "UPDATE trail SET at = '2026-03-01T08:15:00.000000Z' WHERE number = 9",
    "an entry's seals are changed": "UPDATE trail SET seals = '[]' WHERE number = 8",
    "an entry is taken out of the middle": "DELETE FROM trail WHERE number = 8",
    "the first entry is taken out": "DELETE FROM trail WHERE number = 1",
    "the last entry is taken off": lambda s: by_hand(s, f"DELETE FROM trail WHERE number = {s.trail.head()[0]}"),
    "the last five entries are taken off": lambda s: by_hand(
        s, f"DELETE FROM trail WHERE number > {s.trail.head()[0] - 5}"
    ),
    "all entries are taken out": "DELETE FROM trail",
    "two entries change places": lambda s: by_hand(
        s,
        "UPDATE trail SET number = 9999 WHERE number = 8",
        "UPDATE trail SET number = 8 WHERE number = 9",
        "UPDATE trail SET number = 9 WHERE number = 9999",
    ),
    "an entry is put in at the end with a right hash": lambda s: put_in(s),
    "an entry is changed and the chain made anew": lambda s: change_and_rehash(s),
    "an entry is taken out and the chain made anew": lambda s: take_out_and_rehash(s),
    "a report's text is changed": OTHER_TEXT,
    "a report's text is unreadable": lambda s: by_hand(
        s, "UPDATE bodies SET packed = " + ("x'00'" if s.database.sqlite else "'\\x00'::bytea")),
    "a report's text and digest are changed": lambda s: forge_report(s),
    "a version is taken out": lambda s: by_hand(
        s, "DELETE FROM bodies WHERE job_id = 1 AND version = 1",
        "DELETE FROM reports WHERE job_id = 1 AND version = 1"),
    "a version's text is taken out": "DELETE FROM bodies WHERE job_id = 1 AND version = 1",
    "a version's author is changed": "UPDATE reports SET saved_by = 'otto' WHERE job_id = 1 AND version = 1",
    "a job is declared accepted": "UPDATE jobs SET state = 'accepted' WHERE id = 1",
    "a job is put back to an older version": "UPDATE jobs SET version = 1 WHERE id = 1",
    "a job is given to somebody else": "UPDATE jobs SET technician_id = 3 WHERE id = 1",
    "an override is put in": "INSERT INTO overrides (job_id, check_id, state, reason, by, at) VALUES"
                             " (2, 'x', 'missing', 'because', 'sue', '2026-03-02T08:15:00.000000Z')",
    "an override is taken out": "DELETE FROM overrides",
    "an override's reason is changed": "UPDATE overrides SET reason = 'another'",
    "a question is taken out": "DELETE FROM questions",
    "an issue is undone": "DELETE FROM issues",
    "an issue's date is changed": "UPDATE issues SET issued_at = '2026-03-01T08:15:00.000000Z'",
    "somebody is made administrator": "UPDATE people SET role = 'administrator' WHERE login = 'tess'",
    "somebody is put in": "INSERT INTO people (login, name, role, active, failures, created_at) VALUES"
                          " ('eve', 'Eve', 'office', true, 0, '2026-03-02T08:15:00.000000Z')",
    "a password is changed": "UPDATE people SET password_hash = '$mine$' WHERE login = 'ada'",
    "a recording's digest is changed": f"UPDATE recordings SET sha256 = '{'0' * 64}' WHERE job_id = 1",
    "a recording's row is taken out": "DELETE FROM recordings WHERE job_id = 1",
    "a recording's bytes are changed": lambda s: recording(s).write_bytes(b"another sound"),
    "a recording's file is taken away": lambda s: recording(s).unlink(),
    "a document's bytes are changed": lambda s: document(s).write_bytes(b"another paper"),
    "the head file is taken away": lambda s: s.database.heads.path.unlink(),
    "the list of checks is changed": "UPDATE job_checks SET state = 'confirmed', open = false WHERE job_id = 1",
    "the list of readings is changed": "UPDATE job_readings SET value = 4 WHERE job_id = 1",
    "the counts of the overview are changed": "UPDATE tallies SET skipped = 0",
    "a job's status is changed": "UPDATE jobs SET status = 'complete' WHERE id = 1",
    "the words to search in are changed": "UPDATE search_texts SET words = 'nothing' WHERE job_id = 1",
}  # fmt: skip


def recording(store: Store) -> Any:
    return store.recordings.of(1)[0].path


def document(store: Store) -> Any:
    return store.review.issues(2)[0].documents[0].path


def change_and_rehash(store: Store) -> None:
    by_hand(store, "UPDATE trail SET by = 'otto' WHERE number = 9")
    rehash(store, 9)


def take_out_and_rehash(store: Store) -> None:
    by_hand(
        store,
        "DELETE FROM trail WHERE number = 9",
        "UPDATE trail SET number = -number + 1 WHERE number > 9",
        "UPDATE trail SET number = -number WHERE number < 0",
    )
    rehash(store, 9)


def put_in(store: Store) -> None:
    number, name = store.trail.head()
    told = [number + 1, "2026-03-02T08:15:00.000000Z", "sue", "x", None, "x", "null", "null", None, "[]", name]
    own = hashlib.sha256(json.dumps(told, separators=(",", ":")).encode()).hexdigest()
    by_hand(
        store,
        "INSERT INTO trail (number, at, by, act, about, before, after, seals, previous, hash) VALUES "
        f"({number + 1}, '2026-03-02T08:15:00.000000Z', 'sue', 'x', 'x', 'null', 'null', '[]', '{name}', '{own}')",
    )


def forge_report(store: Store) -> None:
    by_hand(
        store,
        OTHER_TEXT,
        "UPDATE reports SET sha256 = (SELECT sha256 FROM reports WHERE job_id = 2 AND version = 1)"
        " WHERE job_id = 1 AND version = 1",
    )


IN_POSTGRESQL = (
    "an entry's reason is changed",
    "an entry is taken out of the middle",
    "the last entry is taken off",
    "two entries change places",
    "an entry is put in at the end with a right hash",
    "an entry is taken out and the chain made anew",
    "a report's text and digest are changed",
    "a version is taken out",
    "a job is declared accepted",
    "somebody is made administrator",
    "an override is taken out",
    "the counts of the overview are changed",
)


@pytest.mark.parametrize("name", TAMPERINGS)
def test_what_was_done_by_hand_is_found(sqlite_store: Store, name: str) -> None:
    tamper(filled(sqlite_store), name)


@pytest.mark.parametrize("name", IN_POSTGRESQL)
def test_what_was_done_by_hand_in_postgresql_is_found(postgres_url: str, tmp_path: Path, name: str) -> None:
    store = with_people(open_store(postgres_url, tmp_path))
    tamper(filled(store), name)
    store.close()


def tamper(full_store: Store, name: str) -> None:
    assert full_store.trail.verify(files=True, derived=True).sound
    way = TAMPERINGS[name]
    if isinstance(way, str):
        by_hand(full_store, way)
    else:
        way(full_store)
    assert not full_store.trail.verify(files=True, derived=True).sound


def test_a_trail_that_was_cut_stays_found_though_work_goes_on(full_store: Store) -> None:
    by_hand(full_store, f"DELETE FROM trail WHERE number > {full_store.trail.head()[0] - 3}")
    for n in range(200):  # so many that the head file is written anew
        full_store.trail.note("test", f"later {n}", by="sue", now=NOW)
    faults = full_store.trail.verify().faults
    assert any("the table was changed" in fault.problem for fault in faults)


def test_a_head_that_was_written_down_is_held_against_the_trail(full_store: Store) -> None:
    number, name = full_store.trail.head()
    full_store.trail.note("test", "later", by="sue", now=NOW)
    assert full_store.trail.verify(expect=(number, name)).sound
    assert not full_store.trail.verify(expect=(number, "0" * 64)).sound
    assert not full_store.trail.verify(expect=(number + 99, name)).sound


def test_a_fault_names_the_place(full_store: Store) -> None:
    by_hand(full_store, "UPDATE trail SET why = 'x' WHERE number = 9", "UPDATE people SET role = 'office' WHERE id = 2")
    places = {fault.place for fault in full_store.trail.verify().faults}
    assert {"trail entry 9", "people 2"} <= places


def test_an_undone_transaction_leaves_no_entry(store: Store) -> None:
    before = store.trail.head()

    def fail() -> None:
        with store.database.write() as writing:
            writing.note("test", "x", by="sue", now=NOW)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert store.trail.head() == before
    store.trail.note("test", "y", by="sue", now=NOW)
    assert store.trail.verify().faults == ()


class Broken(Heads):
    """A head file on a disk that fails after the entry was announced."""

    def written(self, new: tuple[int, str]) -> None:
        raise OSError("no space left on device")


def test_a_commit_that_was_not_confirmed_is_no_fault(store: Store) -> None:
    """As after kill -9 between the commit and the line that confirms it, or before the commit."""
    whole = store.database.heads
    store.database.heads = Broken(whole.path)
    with pytest.raises(OSError, match="no space"):
        store.trail.note("test", "x", by="sue", now=NOW)
    store.database.heads = whole
    assert store.trail.verify().faults == ()
    number, name = store.trail.head()
    whole.about_to_write((number, name), (number + 1, "f" * 64))  # announced, never written
    assert store.trail.verify().faults == ()
    store.trail.note("test", "y", by="sue", now=NOW)
    assert store.trail.verify().faults == ()


def test_a_line_that_was_cut_off_does_not_count(store: Store) -> None:
    with store.database.heads.path.open("ab") as file:
        file.write(b"C 99")
    assert store.trail.verify().faults == ()
    store.trail.note("test", "y", by="sue", now=NOW)
    assert store.trail.verify().faults == ()


def test_entries_are_read_page_by_page(full_store: Store) -> None:
    first = full_store.trail.entries(limit=5)
    assert [e.number for e in first] == [1, 2, 3, 4, 5]
    assert [e.number for e in full_store.trail.entries(after=5, limit=2)] == [6, 7]
    assert {e.job_id for e in full_store.trail.entries(job_id=2)} == {2}


texts = st.text(max_size=30).filter(lambda value: value.strip() != "")
acts = st.lists(st.tuples(st.sampled_from(["note", "edit", "hold", "person"]), texts), min_size=1, max_size=6)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=acts, data=st.data())
def test_any_change_of_any_entry_is_found(
    sqlite_store: Store, acts: list[tuple[str, str]], data: st.DataObject
) -> None:
    store = sqlite_store
    own = store.jobs.page().items[0].id if store.jobs.page().total else with_job(store)
    for n, (act, words) in enumerate(acts):
        if act == "note":
            store.trail.note("test", words, by=words, now=later(n), before=words, after={words: n}, why=words)
        elif act == "edit":
            version = store.jobs.get(own).version
            edit = Edit(kind="add", path="/findings/-", value=words.replace("\ud800", ""), why=words)
            store.reports.edit(own, [edit], expected=version, by="otto", now=later(n))
        elif act == "hold":
            store.jobs.hold(own, not store.jobs.get(own).held, by="sue", now=later(n), why=words)
        else:
            store.people.change("tess", name=words, by="ada", now=later(n))
    assert store.trail.verify().sound
    last = store.trail.head()[0]
    number = data.draw(st.integers(0, 10**6)) % last + 1
    column = data.draw(
        st.sampled_from(["at", "by", "act", "about", "before", "after", "why", "seals", "previous", "hash"])
    )
    with store.database.engine.connect() as connection:
        kept = connection.execute(text(f"SELECT {column} FROM trail WHERE number = {number}")).scalar()
        put = text(f"UPDATE trail SET {column} = :value WHERE number = {number}")
        connection.execute(put, {"value": (kept or "") + data.draw(st.sampled_from([" ", "x", "0"]))})
        connection.commit()
        assert not store.trail.verify().sound
        connection.execute(put, {"value": kept})
        connection.commit()
    assert store.trail.verify().sound
