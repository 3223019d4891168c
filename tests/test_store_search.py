"""Jobs in lists, search across reports, and the appliances that are known."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text
from store_kit import NOW, later, report, with_job

from voicereport.store import Store, StoreError, search
from voicereport.store.search import excerpt, fts_query, phrases_of
from voicereport.store.values import Edit, JobFilter, NewJob, SearchQuery

pytest_plugins = ["store_fixtures"]


def found(store: Store, **asked: object) -> list[int]:
    page = store.search.find(SearchQuery(**asked))  # type: ignore[arg-type]
    assert page.total == len(page.items)
    return [hit.job.id for hit in page.items]


@pytest.fixture
def three(store: Store) -> tuple[Store, int, int, int]:
    """Three jobs: words, model, part and temperature differ."""
    first = with_job(store, report(words="four screws out of the rear panel", value=-19.0))
    second = with_job(
        store,
        report(words="The compressor’s wiring is chafed", state="confirmed", model="RV-90/2", serial="77-0001",
               part="start relay", value=-4.5),
        technician="theo", now=later(days=10),
    )  # fmt: skip
    third = with_job(
        store,
        report(words="a new door gasket, six screws", part="door gasket", model="RV-91", serial="77-0002", value=3.0),
        now=later(days=20),
    )
    return store, first, second, third


def test_words_are_found_newest_first(three: tuple[Store, int, int, int]) -> None:
    store, first, second, third = three
    assert found(store, words="screws") == [third, first]
    assert found(store, words="SCREWS four") == [first]
    assert found(store, words="gask") == [third]
    assert found(store, words='"rear panel"') == [first]
    assert found(store, words='"panel rear"') == []
    assert found(store, words="wiring chafed") == [second]
    assert found(store, words="FM-2207") == [third, second, first]
    assert found(store, words="nothing") == []
    assert found(store) == [third, second, first]


def test_parts_readings_appliances_and_dates_are_found(three: tuple[Store, int, int, int]) -> None:
    store, first, second, third = three
    assert found(store, part="door gasket") == [third]
    assert found(store, part="rear") == []  # said, and no part that was worked on
    assert found(store, quantity="temperature", low=-20, high=-4) == [second, first]
    assert found(store, quantity="temperature", low=-4, unit="Cel") == [third]
    assert found(store, quantity="temperature", low=-4, unit="K") == []
    assert found(store, quantity="pressure") == []
    assert found(store, appliance="rv 9") == [third, second]
    assert found(store, appliance="77-0001") == [second]
    assert found(store, appliance="---") == []
    assert found(store, since=later(days=5), until=later(days=20)) == [second]
    assert found(store, technician="theo") == [second]
    assert found(store, technician="nobody") == []
    assert found(store, check="power-isolated") == [third, first]
    assert found(store, words="screws", quantity="temperature", low=0, appliance="rv", check="power-isolated") == [
        third
    ]


def test_a_reading_that_is_a_range_is_found_where_the_two_meet(store: Store) -> None:
    reading = report().readings[0].model_copy(update={"value": -22.0, "value_high": -16.0, "qualifier": "range"})
    own = with_job(store, report().model_copy(update={"readings": (reading,)}))
    assert found(store, quantity="temperature", low=-18, high=-17) == [own]
    assert found(store, quantity="temperature", low=-15) == []
    assert found(store, quantity="temperature", high=-23) == []


def test_what_was_edited_is_found_by_its_new_words(store: Store) -> None:
    own = with_job(store)
    edits = [
        Edit(kind="add", path="/findings/-", value="the impeller is cracked", why="x"),
        Edit(kind="change", path="/job/appliance/serial", value="99-1", why="x"),
        Edit(kind="strike", path="/parts_used/0", why="x"),
    ]
    store.reports.edit(own, edits, expected=1, by="otto", now=NOW)
    assert found(store, words="impeller") == [own]
    assert found(store, appliance="991") == [own]
    assert found(store, appliance="22061183") == []
    assert found(store, part="evaporator fan motor") == []
    assert store.jobs.appliance("2206-1183") is None
    assert store.trail.verify(derived=True).faults == ()


def test_pages_and_counts(sqlite_store: Store) -> None:
    for n in range(7):
        with_job(sqlite_store, now=later(n))
    page = sqlite_store.search.find(SearchQuery(words="screws"), page=3, size=3)
    assert ([hit.job.id for hit in page.items], page.total, page.more) == ([1], 7, False)
    assert sqlite_store.search.find(SearchQuery(words="screws"), page=4, size=3).items == ()
    for page_number, size in ((0, 10), (1, 0), (1, 501)):
        with pytest.raises(StoreError, match="cannot be shown"):
            sqlite_store.search.find(SearchQuery(), page=page_number, size=size)


HOSTILE = st.text(st.characters(codec="utf-8"), max_size=40) | st.sampled_from(
    ['"', '" OR 1=1 --', "x" * 5000, "NEAR(a b)", "words:x", "a* -b ^c", "AND OR NOT", "'; DROP TABLE jobs; --", "\x00",
     "((", "{a}:b", "<script>", "\u202eab", "%_%", "a & b | !c", "x:*", "\\", "é", "ß", "İ", "🔧"]
)  # fmt: skip


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(words=HOSTILE, part=HOSTILE, appliance=HOSTILE)
def test_no_query_is_an_error(store: Store, words: str, part: str, appliance: str) -> None:
    if not store.jobs.page().total:
        with_job(store)
    store.search.find(SearchQuery(words=words))
    store.search.find(SearchQuery(words=words, part=part, appliance=appliance))
    store.jobs.appliances(appliance)
    store.jobs.page(JobFilter(technician=words, model=part, serial=appliance))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(words=HOSTILE)
def test_hostile_words_are_kept_as_they_are(store: Store, words: str) -> None:
    own = with_job(store, report(words=words, model=words, serial=None, part=words or "x"))
    stored = store.reports.latest(own)
    assert stored is not None
    assert stored.report.transcript.segments[0].text == words
    job = store.jobs.get(own)
    assert job.model == (words.replace("\x00", "\ufffd")[:500] or None)
    if store.jobs.get(own).id % 10 == 0:
        assert store.trail.verify(derived=True).faults == ()


def test_more_words_than_anybody_types_are_refused(sqlite_store: Store) -> None:
    with pytest.raises(StoreError, match="more than 20 words"):
        sqlite_store.search.find(SearchQuery(words="a " * 21))


def test_a_query_in_the_language_of_fts5() -> None:
    """Each word is quoted, so that no operator of FTS5 (its manual, section 3) is ever read as one."""
    phrases = phrases_of('fan "door gasket" QZ418-N OR x')
    assert phrases == (("fan",), ("door", "gasket"), ("qz418", "n"), ("or",), ("x",))
    assert fts_query(phrases[:3], phrases[3:4]) == '"fan"* AND "door gasket"* AND "qz418 n" AND parts : "or"*'


def test_an_excerpt_shows_the_words_that_were_looked_for() -> None:
    said = "so " * 60 + "then the Door gasket came off and " + "so " * 90
    pieces = excerpt(said, phrases_of("gasket door"))
    assert [piece for piece, marked in pieces if marked] == ["Door", "gasket"]
    shown = "".join(piece for piece, _ in pieces)
    assert (shown[:2], shown[-2:]) == ("… ", " …")  # it says that it is a piece
    assert shown[2:-2] in said
    assert set(shown[2:-2].split()) == {"so", "then", "the", "Door", "gasket", "came", "off", "and"}  # no word is cut
    assert len(shown) <= 244
    assert excerpt("nothing here", phrases_of("gasket")) == (("nothing here", False),)
    assert excerpt("", ()) == ()


def test_lists_are_filtered_and_ordered(three: tuple[Store, int, int, int]) -> None:
    store, first, second, third = three

    def ids(**asked: object) -> list[int]:
        return [job.id for job in store.jobs.page(JobFilter(**asked)).items]  # type: ignore[arg-type]

    assert ids() == [third, second, first]
    assert ids(order="oldest") == [first, second, third]
    assert ids(order="blocked_first") == [third, first, second]
    assert ids(technician="Tess") == [third, first]
    assert ids(needs_attention=True) == [third, first]
    assert ids(statuses=("complete",)) == [second]
    assert ids(check="power-isolated") == [third, first]
    assert ids(states=("issued",)) == []
    assert ids(model="RV 90/2") == [second]
    assert ids(serial="77-0002", since=later(days=20)) == [third]
    assert ids(until=NOW) == []


def test_a_list_comes_page_by_page(store: Store) -> None:
    made = [with_job(store, now=later(n)) for n in range(5)]
    pages = [store.jobs.page(page=n, size=2) for n in (1, 2, 3, 4)]
    assert [job.id for page in pages for job in page.items] == made[::-1]
    assert {(page.total, page.pages) for page in pages} == {(5, 3)}


def test_a_job_is_made_once_per_key(store: Store) -> None:
    new = NewJob(technician="tess", work_order=" 4410 ", customer="", key="phone-1")
    first = store.jobs.create(new, by="tess", now=NOW)
    assert store.jobs.create(new, by="tess", now=later(5)) == first
    assert store.jobs.by_key("phone-1") == first
    assert store.jobs.by_key("phone-2") is None
    assert (first.work_order, first.customer, first.state, first.version) == ("4410", None, "new", 0)
    with pytest.raises(StoreError, match="nobody"):
        store.jobs.create(NewJob(technician="nobody"), by="tess", now=NOW)


def test_typed_facts_are_changed_and_what_was_said_wins(store: Store) -> None:
    own = with_job(store)
    store.jobs.change(own, by="otto", now=NOW, why="call", customer="A. N. Other", model="typed", technician="theo")
    job = store.jobs.get(own)
    assert (job.customer, job.model, job.technician, job.technician_name) == (
        "A. N. Other", "QZ418-N", "theo", "Theo Marsh",
    )  # fmt: skip
    assert [s.key for s in store.overview.shares("technician")] == ["theo"]
    store.jobs.change(own, by="otto", now=NOW, why="wrong", customer=None)
    assert store.jobs.get(own).customer is None
    with pytest.raises(StoreError, match="has no colour"):
        store.jobs.change(own, by="otto", now=NOW, why="x", colour="red")
    assert store.trail.verify(derived=True).faults == ()


def test_appliances_are_known_by_their_last_job(three: tuple[Store, int, int, int]) -> None:
    store, _, _, third = three
    again = with_job(store, report(model="RV-91B", serial="77 0002"), now=later(days=30))
    plate = store.jobs.appliance("77-0002")
    assert plate is not None
    assert (plate.model, plate.jobs, plate.last_at) == ("RV-91B", 2, later(days=30))
    assert again > third
    assert [a.serial for a in store.jobs.appliances("77")] == ["77 0002", "77-0001"]
    assert [a.serial for a in store.jobs.appliances("rv-90")] == ["77-0001"]
    assert len(store.jobs.appliances(limit=2)) == 2
    assert store.jobs.appliance("") is None


def test_the_date_of_a_job_is_that_of_its_recording(store: Store) -> None:
    own = with_job(store, report(recorded_at="2026-02-01T10:00:00+02:00"))
    assert store.jobs.get(own).happened_at.isoformat() == "2026-02-01T08:00:00+00:00"
    unclear = with_job(store, report(recorded_at="last Monday"))
    assert store.jobs.get(unclear).happened_at == NOW


def test_the_index_can_be_made_anew(three: tuple[Store, int, int, int]) -> None:
    store, first, _, third = three
    before = store.overview.shares("check"), store.jobs.appliances()
    with store.database.write() as writing:
        writing.session.execute(text("UPDATE search_texts SET words = ''"))
        writing.session.execute(text("DELETE FROM fitted"))
    assert found(store, words="four") == []
    assert not store.trail.verify(derived=True).sound
    assert store.search.rebuild() == 3
    assert found(store, words="screws") == [third, first]
    assert (store.overview.shares("check"), store.jobs.appliances()) == before
    assert store.trail.verify(derived=True).faults == ()


@pytest.mark.parametrize("many", [1, 10_000], ids=["job by job", "by a list"])
def test_readings_are_found_alike_whichever_way_is_taken(
    store: Store, monkeypatch: pytest.MonkeyPatch, many: int
) -> None:
    """The two ways of asking are for speed; the answer is the one that the readings give, counted here by hand."""
    monkeypatch.setattr(search, "_MANY", many)
    values = [-25.0, -19.5, -19.0, -18.0, 3.0]
    jobs = {value: with_job(store, report(value=value)) for value in values}
    spread = report(value=-30.0)
    reading = spread.readings[0].model_copy(update={"value_high": -20.0, "qualifier": "range"})
    jobs[-30.0] = with_job(store, spread.model_copy(update={"readings": (reading,)}))

    def found(**asked: object) -> set[int]:
        return {hit.job.id for hit in store.search.find(SearchQuery(quantity="temperature", **asked)).items}  # type: ignore[arg-type]

    assert found(low=-19.5, high=-18.0) == {jobs[v] for v in (-19.5, -19.0, -18.0)}
    assert found(low=-22.0, high=-21.0) == {jobs[-30.0]}  # a range that meets the one that is asked for
    assert found(high=-24.0) == {jobs[v] for v in (-25.0, -30.0)}
    assert found(low=0.0) == {jobs[3.0]}
    assert found(low=0.0, unit="Cel") == {jobs[3.0]}
    assert found(low=0.0, unit="Ohm") == set()
    assert found() == set(jobs.values())
    assert found(low=-40.0, technician="theo") == set()
