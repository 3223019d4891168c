"""Reports, their versions, and edits by JSON pointer."""

from __future__ import annotations

import hashlib
from typing import Any

import pytest
from store_kit import NOW, PROOF, by_hand, later, report, with_job

from voicereport.report import Report, dump_json
from voicereport.store import Store, StoreError
from voicereport.store.pointer import add_at, remove_at, replace_at, value_at
from voicereport.store.values import Edit, NewJob

pytest_plugins = ["store_fixtures"]

# RFC 6901, section 5: the document, and the value of each pointer.
RFC_6901: dict[str, Any] = {
    "foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8,
}  # fmt: skip
POINTERS = [
    ("", RFC_6901), ("/foo", ["bar", "baz"]), ("/foo/0", "bar"), ("/", 0), ("/a~1b", 1), ("/c%d", 2), ("/e^f", 3),
    ("/g|h", 4), ("/i\\j", 5), ("/k\"l", 6), ("/ ", 7), ("/m~0n", 8),
]  # fmt: skip


@pytest.mark.parametrize(("pointer", "value"), POINTERS)
def test_pointers_of_rfc_6901(pointer: str, value: object) -> None:
    assert value_at(RFC_6901, pointer) == value


@pytest.mark.parametrize("pointer", ["foo", "/foo/2", "/foo/-", "/foo/00", "/foo/01", "/none", "/foo/0/x", "/~2", "/~"])
def test_a_pointer_that_leads_nowhere_is_refused(pointer: str) -> None:
    with pytest.raises(StoreError) as caught:
        value_at(RFC_6901, pointer)
    assert caught.value.kind == "refused"


def test_changes_of_rfc_6902() -> None:
    """RFC 6902, appendix A.1 to A.5 and A.16."""
    document: Any = {"foo": "bar"}
    add_at(document, "/baz", "qux")
    assert document == {"baz": "qux", "foo": "bar"}
    document = {"foo": ["bar", "baz"]}
    add_at(document, "/foo/1", "qux")
    assert document == {"foo": ["bar", "qux", "baz"]}
    document = {"baz": "qux", "foo": "bar"}
    assert remove_at(document, "/baz") == "qux"
    assert document == {"foo": "bar"}
    document = {"foo": ["bar", "qux", "baz"]}
    remove_at(document, "/foo/1")
    assert document == {"foo": ["bar", "baz"]}
    document = {"baz": "qux", "foo": "bar"}
    replace_at(document, "/baz", "boo")
    assert document == {"baz": "boo", "foo": "bar"}
    document = {"foo": ["bar"]}
    assert add_at(document, "/foo/-", ["abc", "def"]) == "/foo/1"
    assert document == {"foo": ["bar", ["abc", "def"]]}


def edit(store: Store, job_id: int, *edits: Edit, expected: int = 1) -> Report:
    return store.reports.edit(job_id, edits, expected=expected, by="otto", now=later(60)).report


def change(path: str, value: object) -> Edit:
    return Edit(kind="change", path=path, value=value, why="heard again")


def test_versions_stay_and_have_the_digest_of_report_json(store: Store) -> None:
    own = with_job(store)
    store.reports.save(own, report(value=-18.0), by="otto", now=later(60), why="heard again", expected=1)
    first, second = store.reports.get(own, 1), store.reports.latest(own)
    assert second is not None
    assert (first.report, second.report) == (report(), report(value=-18.0))
    assert first.sha256 == hashlib.sha256(dump_json(report()).encode()).hexdigest()
    assert [(v.version, v.saved_by, v.why) for v in store.reports.versions(own)] == [
        (1, "voicereport", "heard"), (2, "otto", "heard again"),
    ]  # fmt: skip
    assert store.jobs.get(own).version == 2


def test_who_comes_too_late_is_told(store: Store) -> None:
    own = with_job(store)
    edit(store, own, change("/readings/0/value", -18))
    for late in (
        lambda: edit(store, own, change("/readings/0/value", -17)),
        lambda: store.reports.save(own, report(), by="otto", now=NOW, why="x", expected=1),
    ):
        with pytest.raises(StoreError, match="somebody else has changed it") as caught:
            late()
        assert caught.value.kind == "conflict"
    assert store.jobs.get(own).version == 2


def test_a_changed_entry_is_marked_and_keeps_its_words(store: Store) -> None:
    reading = edit(store, with_job(store), change("/readings/0/value", -18)).readings[0]
    assert (reading.value, reading.entered_by, reading.entered_at) == (-18.0, "otto", "2026-03-02T08:16:00.000000Z")
    assert reading.evidence == PROOF


def test_an_added_entry_is_marked_and_has_an_id(store: Store) -> None:
    own = with_job(store)
    made = edit(
        store, own,
        Edit(kind="add", path="/findings/-", value="the fan is seized", why="not said"),
        Edit(kind="add", path="/steps/-", value={"action": "clean", "part": "coil", "status": "done"}, why="not said"),
        Edit(kind="add", path="/readings/0", value={"quantity": "mass", "value": 42, "unit": "g"}, why="not said"),
        Edit(kind="add", path="/parts_used/-", value={"part": "clip", "quantity": 2}, why="not said"),
        Edit(kind="add", path="/job/customer", value="A. N. Other", why="not said"),
        Edit(kind="add", path="/job/labour_min", value=45, why="not said"),
    )  # fmt: skip
    assert made.findings[0].text == "the fan is seized"
    assert {e.entered_by for e in (made.findings[0], made.steps[1], made.readings[0], made.parts_used[1])} == {"otto"}
    assert (made.steps[1].id, made.readings[0].id) == ("typed-step1", "typed-reading1")
    assert made.job.customer is not None
    assert (made.job.customer.value, made.job.customer.entered_by) == ("A. N. Other", "otto")
    assert store.jobs.get(own).customer == "A. N. Other"
    assert [c.path for c in made.review.changes] == [
        "/findings/0", "/steps/1", "/readings/0", "/parts_used/1", "/job/customer", "/job/labour_min",
    ]  # fmt: skip


def test_a_struck_entry_is_gone_and_told(store: Store) -> None:
    own = with_job(store)
    made = edit(
        store, own,
        Edit(kind="strike", path="/steps/0", why="another job's"),
        Edit(kind="strike", path="/job/appliance/serial", why="another appliance's"),
        Edit(kind="strike", path="/readings/0/subject", why="misheard"),
    )  # fmt: skip
    assert (made.steps, made.job.appliance.serial, made.readings[0].subject) == ((), None, None)
    told = made.review.changes[0]
    assert (told.who, told.path, told.after, told.why) == ("otto", "/steps/0", None, "another job's")
    assert told.before["id"] == "step1"
    assert store.jobs.get(own).serial is None


@pytest.mark.parametrize(
    "path",
    ["/checks/0/state", "/status", "/schema_version", "/recordings/0", "/review/changes/-", "/claims/-",
     "/transcript/segments/0/heard", "/steps/0/evidence", "/readings/0/entered_by", "", "/job/none", "/steps/9"],
)  # fmt: skip
def test_what_may_not_be_edited_is_not(store: Store, path: str) -> None:
    own = with_job(store)
    with pytest.raises(StoreError) as caught:
        edit(store, own, change(path, "x"))
    assert caught.value.kind == "refused"
    assert store.jobs.get(own).version == 1


def test_words_in_a_recording_cannot_be_typed(store: Store) -> None:
    proof = [PROOF[0].model_dump()]
    own = with_job(store)
    for path, kind in (("/findings/-", "add"), ("/steps/0", "change")):
        value = {
            "text": "x",
            "action": "clean",
            "part": "coil",
            "status": "done",
            "evidence": [proof[0] | {"end": 9.0}],
        }
        with pytest.raises(StoreError, match="evidence of its own"):
            edit(store, own, Edit(kind=kind, path=path, value=value, why="x"))  # type: ignore[arg-type]
    step = {"id": "other", "action": "clean", "part": "coil", "status": "done", "evidence": proof}
    made = edit(store, own, change("/steps/0", step)).steps[0]
    assert (made.id, made.part, made.evidence, made.entered_by) == ("step1", "coil", PROOF, "otto")


def test_an_edit_without_reason_or_outside_the_contract_is_refused(store: Store) -> None:
    own = with_job(store)
    with pytest.raises(StoreError, match="without a reason"):
        edit(store, own, Edit(kind="change", path="/readings/0/value", value=1, why=" "))
    with pytest.raises(StoreError, match="of the contract"):
        edit(store, own, change("/steps/0/action", "explode"))
    with pytest.raises(StoreError, match="are empty"):
        edit(store, own)
    with pytest.raises(StoreError):
        edit(store, own, change("/readings/0/value", float("nan")))
    assert store.jobs.get(own).version == 1


def test_checks_are_made_anew_after_an_edit(store: Store) -> None:
    def recheck(edited: Report) -> Report:
        checks = tuple(check.model_copy(update={"state": "confirmed"}) for check in edited.checks)
        return edited.model_copy(update={"checks": checks, "status": "complete"})

    own = with_job(store)
    assert store.jobs.get(own).open_stops == 1
    store.reports.edit(own, [change("/steps/0/count", 6)], expected=1, by="otto", now=NOW, recheck=recheck)
    job = store.jobs.get(own)
    assert (job.open_stops, job.status) == (0, "complete")


def test_a_report_changed_by_hand_is_not_given_out(store: Store) -> None:
    own = with_job(store)
    by_hand(store, "UPDATE reports SET sha256 = 'f' || substr(sha256, 2, 62) || 'f'")
    with pytest.raises(StoreError, match="not the report that was saved") as caught:
        store.reports.latest(own)
    assert caught.value.kind == "damaged"


def test_there_is_no_report_before_the_first(store: Store) -> None:
    own = store.jobs.create(NewJob(technician="tess"), by="tess", now=NOW).id
    assert store.reports.latest(own) is None
    assert store.reports.versions(own) == ()
    with pytest.raises(StoreError) as caught:
        store.reports.latest(999)
    assert caught.value.kind == "not_found"
