"""Overrides, questions, acceptance, issue and withdrawal."""

from __future__ import annotations

import pytest
from store_kit import NOW, issued, later, report, with_job

from voicereport.store import Store, StoreError
from voicereport.store.values import Edit

pytest_plugins = ["store_fixtures"]


def test_an_open_stop_level_check_holds_acceptance_back(store: Store) -> None:
    own = with_job(store)
    with pytest.raises(StoreError, match="open checks that stop it: power-isolated") as caught:
        store.review.accept(own, expected=1, by="sue", now=NOW)
    assert caught.value.kind == "conflict"
    assert store.jobs.get(own).state == "ready"


def test_an_override_lets_a_check_pass_and_says_so_in_the_report(store: Store) -> None:
    own = with_job(store)
    made = store.review.override(own, "power-isolated", "the photo shows it", expected=1, by="sue", now=NOW)
    assert (made.state, made.reason, made.by) == ("missing", "the photo shows it", "sue")
    stored = store.reports.latest(own)
    assert stored is not None
    told = stored.report.review.changes[-1]
    assert (told.who, told.path, told.before, told.after, told.why) == (
        "sue", "/checks/power-isolated", "missing", "overridden", "the photo shows it",
    )  # fmt: skip
    assert stored.report.checks[0].state == "missing"
    job = store.jobs.get(own)
    assert (job.open_stops, job.version) == (0, 2)
    assert store.review.accept(own, expected=2, by="sue", now=NOW).report.review.signed_by == "sue"


def test_an_override_is_of_an_open_check_with_a_reason_once(store: Store) -> None:
    own = with_job(store)
    for check, reason, kind in (("none", "x", "not_found"), ("labour-recorded", "x", "conflict"),
                                ("power-isolated", " ", "refused")):  # fmt: skip
        with pytest.raises(StoreError) as caught:
            store.review.override(own, check, reason, expected=1, by="sue", now=NOW)
        assert caught.value.kind == kind
    made = store.review.override(own, "power-isolated", "x", expected=1, by="sue", now=NOW)
    with pytest.raises(StoreError, match="overridden already"):
        store.review.override(own, "power-isolated", "x", expected=2, by="sue", now=NOW)
    store.review.lift_override(made.id, "the photo was of another job", by="sue", now=NOW)
    assert store.jobs.get(own).open_stops == 1
    assert store.review.overrides(own) == ()
    assert [o.lifted_by for o in store.review.overrides(own, lifted=True)] == ["sue"]
    with pytest.raises(StoreError, match="lifted already"):
        store.review.lift_override(made.id, "x", by="sue", now=NOW)


def test_an_override_outlives_an_edit(store: Store) -> None:
    own = with_job(store)
    store.review.override(own, "power-isolated", "x", expected=1, by="sue", now=NOW)
    edit = Edit(kind="change", path="/steps/0/count", value=6, why="x")
    store.reports.edit(own, [edit], expected=2, by="otto", now=NOW)
    assert store.jobs.get(own).open_stops == 0


def test_a_job_that_is_sent_back_is_ready_again_when_all_is_answered(store: Store) -> None:
    own = with_job(store, report(state="confirmed"))
    first = store.review.send_back(own, "Was the plug out?", by="sue", now=NOW, check_id="power-isolated")
    second = store.review.send_back(own, "Which screws?", by="sue", now=NOW)
    job = store.jobs.get(own)
    assert (job.state, job.questions) == ("sent_back", 2)
    with pytest.raises(StoreError, match="is sent_back"):
        store.review.accept(own, expected=1, by="sue", now=NOW)
    store.review.answer(first.id, "Yes.", by="tess", now=later(60))
    assert store.jobs.get(own).state == "sent_back"
    edit = Edit(kind="change", path="/steps/0/count", value=6, why="asked")
    store.reports.edit(own, [edit], expected=1, by="tess", now=NOW)
    assert store.jobs.get(own).state == "sent_back"
    store.review.answer(second.id, "The rear panel's.", by="tess", now=later(60))
    assert store.jobs.get(own).state == "ready"
    assert [q.answer for q in store.review.questions(own)] == ["Yes.", "The rear panel's."]
    assert store.review.questions(own, open_only=True) == ()
    with pytest.raises(StoreError, match="answered already"):
        store.review.answer(first.id, "No.", by="tess", now=NOW)


def test_a_report_goes_out_once_and_again_after_it_was_withdrawn(store: Store) -> None:
    own = with_job(store, report(state="confirmed"))
    with pytest.raises(StoreError, match="not accepted"):
        store.review.issue(own, by="otto", now=NOW)
    accepted = issued(store, own)
    out = store.review.standing(own)
    assert out is not None
    assert (out.number, out.report_version, out.report_sha256) == (1, accepted.version, accepted.sha256)
    assert out.documents[0].path.read_bytes() == b"%PDF-"
    with pytest.raises(StoreError, match="has issue 1 out"):
        store.review.issue(own, by="otto", now=NOW)
    with pytest.raises(StoreError, match="is empty"):
        store.review.withdraw(own, "", by="otto", now=NOW)
    store.review.withdraw(own, "wrong address", by="otto", now=later(60))
    assert (store.jobs.get(own).state, store.review.standing(own)) == ("withdrawn", None)
    edit = Edit(kind="add", path="/job/site", value="4 Mill Lane", why="wrong address")
    store.reports.edit(own, [edit], expected=accepted.version, by="otto", now=later(120))
    store.review.accept(own, expected=accepted.version + 1, by="sue", now=later(180))
    again = store.review.issue(own, by="otto", now=later(240), note="corrected address")
    assert (again.number, again.report_version) == (2, accepted.version + 2)
    assert [(i.number, i.withdrawn_why) for i in store.review.issues(own)] == [(1, "wrong address"), (2, None)]
    with pytest.raises(StoreError, match="no issue out"):
        store.review.withdraw(with_job(store), "x", by="otto", now=NOW)


def test_an_edit_takes_the_sign_off_away(store: Store) -> None:
    own = with_job(store, report(state="confirmed"))
    accepted = issued(store, own)
    edit = Edit(kind="change", path="/steps/0/count", value=6, why="x")
    made = store.reports.edit(own, [edit], expected=accepted.version, by="otto", now=NOW)
    assert made.report.review.signed_by is None
    job = store.jobs.get(own)
    assert (job.state, job.issued) == ("ready", 1)
    store.review.withdraw(own, "x", by="otto", now=NOW)
    assert store.jobs.get(own).state == "ready"


def test_the_history_of_a_job_tells_who_did_what_and_why(store: Store) -> None:
    own = with_job(store)
    store.review.override(own, "power-isolated", "the photo shows it", expected=1, by="sue", now=NOW)
    store.review.accept(own, expected=2, by="sue", now=NOW)
    acts = [(e.by, e.act) for e in store.jobs.history(own)]
    assert acts == [
        ("tess", "job.created"), ("tess", "recording.received"), ("voicereport", "report.saved"),
        ("sue", "check.overridden"), ("sue", "report.overridden"), ("sue", "report.accepted"),
    ]  # fmt: skip
    assert store.jobs.history(own)[3].why == "the photo shows it"
    with pytest.raises(StoreError):
        store.jobs.history(999)
