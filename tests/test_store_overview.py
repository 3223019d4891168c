"""Shares with their intervals, repeat failures, readings over time."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from store_kit import NOW, by_hand, issued, later, report, with_job

from voicereport.store import Store, StoreError
from voicereport.store.canonical import week_of
from voicereport.store.wilson import interval

pytest_plugins = ["store_fixtures"]


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_interval_is_wilson_s(hits: int, of: int, low: float, high: float) -> None:
    """Newcombe (1998), Two-sided confidence intervals for the single proportion, Stat. Med. 17:857, table I, row 3."""
    assert interval(hits, of) == pytest.approx((low, high), abs=5e-5)


def test_of_nothing_nothing_is_known() -> None:
    assert interval(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("day", "week"),
    [((2005, 1, 1), "2004-W53"), ((2005, 1, 3), "2005-W01"), ((2007, 12, 31), "2008-W01"), ((2010, 1, 3), "2009-W53")],
)
def test_weeks_are_those_of_iso_8601(day: tuple[int, int, int], week: str) -> None:
    """The pairs are examples of ISO 8601's week dates, as often printed; from memory, computed by `cal -w` alike."""
    assert week_of(datetime(*day, 12, tzinfo=UTC)) == week


@pytest.fixture
def jobs(store: Store) -> Store:
    """Six jobs over two weeks: tess skips one of three, theo two of two, one job has no such check."""
    with_job(store, report(state="missing", job_type="repair"))
    with_job(store, report(state="confirmed", job_type="repair"))
    with_job(store, report(state="confirmed", job_type="maintenance"), now=later(days=7))
    with_job(store, report(state="unclear", job_type="repair"), technician="theo", now=later(days=7))
    with_job(store, report(state="contradicted", job_type="maintenance"), technician="theo", now=later(days=7))
    with_job(store, report(state="not_applicable", job_type="repair"), now=later(days=7))
    return store


def counts(store: Store, dimension: str, **asked: object) -> dict[str, tuple[int, int]]:
    shares = store.overview.shares(dimension, check="power-isolated", **asked)  # type: ignore[arg-type]
    for share in shares:
        assert (share.low, share.high) == interval(share.skipped, share.applicable)
        assert share.share == share.skipped / share.applicable
    return {share.key: (share.skipped, share.applicable) for share in shares}


def test_skipped_checks_are_counted_each_way(jobs: Store) -> None:
    assert counts(jobs, "check") == {"power-isolated": (3, 5)}
    assert counts(jobs, "technician") == {"tess": (1, 3), "theo": (2, 2)}
    assert counts(jobs, "job_type") == {"repair": (2, 3), "maintenance": (1, 2)}
    assert counts(jobs, "week") == {"2026-W10": (1, 2), "2026-W11": (2, 3)}
    assert counts(jobs, "week", technician="theo") == {"2026-W11": (2, 2)}
    assert counts(jobs, "check", job_type="repair") == {"power-isolated": (2, 3)}
    assert counts(jobs, "technician", since=later(days=7)) == {"tess": (0, 1), "theo": (2, 2)}
    assert counts(jobs, "technician", until=later(days=7)) == {"tess": (1, 2)}
    assert counts(jobs, "check", technician="nobody") == {}


def test_shares_name_checks_and_people_and_come_in_order(jobs: Store) -> None:
    checks = jobs.overview.shares("check")
    assert [(s.key, s.title, s.severity) for s in checks] == [
        ("power-isolated", "Supply off", "stop"), ("labour-recorded", "Labour", "warning"),
    ]  # fmt: skip
    assert [s.title for s in jobs.overview.shares("technician")] == ["Theo Marsh", "Tess Finch"]
    assert [s.key for s in jobs.overview.shares("week")] == ["2026-W10", "2026-W11"]


def test_what_cannot_be_counted_together_is_refused(jobs: Store) -> None:
    with pytest.raises(StoreError, match="not by both"):
        jobs.overview.shares("check", technician="tess", job_type="repair")
    with pytest.raises(StoreError, match="cannot count"):
        jobs.overview.shares("technician", job_type="repair")


def test_a_share_leads_to_its_jobs(jobs: Store) -> None:
    assert {j.id for j in jobs.overview.skipped_jobs("power-isolated").items} == {1, 4, 5}
    assert {j.id for j in jobs.overview.skipped_jobs("power-isolated", technician="theo").items} == {4, 5}
    assert {j.id for j in jobs.overview.skipped_jobs("power-isolated", job_type="repair").items} == {1, 4}
    assert jobs.overview.skipped_jobs("power-isolated", since=later(days=8)).total == 0


def test_a_new_version_is_counted_instead_of_the_old(jobs: Store) -> None:
    jobs.reports.save(1, report(state="confirmed", job_type="repair"), by="otto", now=NOW, why="heard again")
    assert counts(jobs, "technician") == {"tess": (0, 3), "theo": (2, 2)}


def test_an_override_does_not_hide_that_a_check_was_skipped(jobs: Store) -> None:
    jobs.review.override(1, "power-isolated", "photo", expected=1, by="sue", now=NOW)
    assert counts(jobs, "check") == {"power-isolated": (3, 5)}
    assert jobs.overview.overview(now=later(days=8)).blocked_total == 2


def test_the_overview_shows_blocked_jobs(jobs: Store) -> None:
    issued(jobs, 2)
    seen = jobs.overview.overview(now=later(days=8))
    assert ([job.id for job in seen.blocked], seen.blocked_total) == ([5, 4, 1], 3)
    assert [s.key for s in seen.weeks] == ["2026-W10", "2026-W11"]
    assert [s.key for s in jobs.overview.overview(now=later(days=8), weeks=1).weeks] == ["2026-W11"]
    assert jobs.overview.overview(now=later(days=80), weeks=2).checks == ()


def test_a_part_that_fails_again_is_shown(store: Store) -> None:
    first = with_job(store, report(serial="A-1"))
    with_job(store, report(serial="B-2"), now=later(days=1))
    again = with_job(store, report(serial="a 1"), now=later(days=40))
    with_job(store, report(serial=None), now=later(days=41))
    with_job(store, report(serial=None), now=later(days=42))
    (repeat,) = store.overview.repeats()
    assert (repeat.part, repeat.serial, repeat.times, repeat.jobs) == ("evaporator fan motor", "a 1", 2, (again, first))
    assert (repeat.first_at, repeat.last_at) == (NOW, later(days=40))
    (of_model,) = store.overview.repeats(model="QZ418-N")
    assert (of_model.serial, of_model.times, of_model.appliances) == (None, 5, 2)
    assert store.overview.repeats(at_least=3) == ()


def test_the_readings_of_an_appliance_go_by_time(store: Store) -> None:
    for n, value in enumerate((-19.0, -17.0, -12.5)):
        with_job(store, report(serial="A-1", value=value), now=later(days=n))
    with_job(store, report(serial="B-2"))
    points = store.overview.readings("a1")
    assert [(p.value, p.at) for p in points] == [(-19.0, NOW), (-17.0, later(days=1)), (-12.5, later(days=2))]
    assert [p.value for p in store.overview.readings("A-1", quantity="temperature", limit=2)] == [-17.0, -12.5]
    assert store.overview.readings("A-1", quantity="mass") == ()
    assert store.overview.readings("") == ()


def test_repeats_are_counted_as_they_come_and_go(store: Store) -> None:
    """Whatever is written next is in the list at once; what the list says is what the parts say."""
    first, second = (with_job(store, report(serial="A-1")) for _ in range(2))
    assert [(r.part, r.times) for r in store.overview.repeats()] == [("evaporator fan motor", 2)]
    third = with_job(store, report(serial="A-1"), now=later(days=2))
    (found,) = store.overview.repeats()
    assert (found.times, found.jobs) == (3, (third, second, first))
    store.reports.save(third, report(serial="A-1", part="door gasket"), by="otto", now=later(days=3), why="misheard")
    assert [(r.part, r.times) for r in store.overview.repeats()] == [("evaporator fan motor", 2)]
    store.reports.save(first, report(serial="B-2"), by="otto", now=later(days=3), why="another appliance")
    assert store.overview.repeats() == ()
    store.jobs.change(first, by="otto", now=later(days=4), why="typed", serial="A-1")
    assert store.overview.repeats() == ()  # what was said comes before what was typed
    assert store.trail.verify(derived=True).faults == ()
    store.search.rebuild()
    assert store.trail.verify(derived=True).faults == ()


def test_a_list_of_repeats_that_is_not_that_of_the_reports_is_found(store: Store) -> None:
    for _ in range(2):
        with_job(store, report(serial="A-1"))
    by_hand(store, "UPDATE repeats SET times = 9")
    assert [fault.place for fault in store.trail.verify(derived=True).faults] == ["repeat failures"]
    assert store.overview.repeats()[0].times == 9
    store.search.rebuild()
    assert store.overview.repeats()[0].times == 2
    assert store.trail.verify(derived=True).faults == ()
