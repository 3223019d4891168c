"""Search across reports: by words, part, reading, appliance, check, technician and date.

Words go by SQLite's FTS5 or PostgreSQL's text search, with the same rules: a word is a run of letters and digits, case
and (in SQLite) accents do not matter, the last letters of a word may lack, words in quotes stand side by side.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from sqlalchemy import (
    ColumnElement,
    Float,
    Integer,
    Select,
    and_,
    column,
    func,
    literal,
    literal_column,
    select,
    table,
    text,
)
from sqlalchemy.orm import Session

from voicereport.report import Report
from voicereport.store.canonical import range_of, search_key, storable
from voicereport.store.database import Database
from voicereport.store.faults import refused
from voicereport.store.index import reindex
from voicereport.store.jobs import check_page, conditions, jobs_of
from voicereport.store.models import BodyRow, JobReadingRow, JobRow, SearchTextRow
from voicereport.store.reports import unpack
from voicereport.store.values import Hit, JobFilter, SearchPage, SearchQuery

MOST_COUNTED = 1000  #: of what was found; beyond it, "more"
_MOST_WORDS = 20  #: of a query; the rest is refused
_MANY = 15_000  #: readings, from which on they are looked for job by job
_AROUND = 60  #: signs of an excerpt before the first word that was looked for
_EXCERPT = 240  #: signs of an excerpt
_FTS = table("search_fts", column("rowid"), column("search_fts"))
_WORD = re.compile(r"[^\W_]+")

# With the sign SQLite goes through the jobs by date and stops at the end of the page; without it, it sorts all that
# were found: with half of 100,000 jobs in the range, 250 ms instead of 60.
_job_id: ColumnElement[int] = literal_column("+jobs.id", Integer)
_plain_value: ColumnElement[float] = literal_column(
    "+job_readings.value", Float
)  # the few ranges have an index of their own

Phrase = tuple[str, ...]


class Search:
    """Finds jobs by what was said in them."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def find(self, query: SearchQuery, *, page: int = 1, size: int = 20) -> SearchPage:
        """One page of the jobs that all of `query` holds for, the latest job first."""
        check_page(page, size)
        phrases = phrases_of(query.words)
        with self._database.read() as session:
            ids = self._ids(session, query, phrases)
            first = (page - 1) * size
            # One question for both: how many there are, as far as they are counted, and which are on the page.
            counted = session.scalars(ids.limit(max(MOST_COUNTED + 1, first + size))).all()
            found = counted[first : first + size]
            texts = _texts(session, found)
            hits = tuple(Hit(job=job, excerpt=excerpt(texts[job.id], phrases)) for job in jobs_of(session, found))
        return SearchPage(
            items=hits, total=min(len(counted), MOST_COUNTED), more=len(counted) > MOST_COUNTED, page=page, size=size
        )

    def rebuild(self) -> int:
        """Makes anew what is taken out of the latest reports; gives how many. Each job is a transaction of its own."""
        with self._database.read() as session:
            jobs = session.scalars(select(JobRow.id).order_by(JobRow.id)).all()
        with self._database.write() as writing:
            for name in (
                "tallies",
                "job_checks",
                "appliances",
                "repeats",
            ):  # so that nothing is counted out that was never counted in
                writing.session.execute(text(f"DELETE FROM {name}"))
        for job_id in jobs:
            with self._database.write() as writing:
                row = writing.session.get_one(JobRow, job_id)
                body = writing.session.get(BodyRow, (job_id, row.version))
                content = None if body is None else unpack(body.packed, f"job {job_id}")
                reindex(writing.session, row, None if content is None else Report.model_validate_json(content))
        return len(jobs)

    def _ids(self, session: Session, query: SearchQuery, phrases: Sequence[Phrase]) -> Select[int]:
        plain = JobFilter(technician=query.technician, check=query.check, since=query.since, until=query.until)
        where = conditions(session, plain)
        where += [] if query.appliance is None else [_appliance(query.appliance)]
        parts = phrases_of(query.part or "")
        if _asks_reading(query):
            by_date = not phrases and not parts and _many_readings(session, query)
            where.append(_reading_of_job(query) if by_date else _reading(query))
        if not phrases and not parts:
            return select(JobRow.id).where(*where).order_by(JobRow.happened_at.desc(), JobRow.id.desc())
        if not self._database.sqlite:
            where.append(_postgres(phrases, parts))
            matching = select(JobRow.id).join(SearchTextRow, SearchTextRow.job_id == JobRow.id)
            return matching.where(*where).order_by(JobRow.id.desc())
        found = select(_FTS.c.rowid).where(_FTS.c.search_fts.op("MATCH")(fts_query(phrases, parts)))
        if where:
            # The sign keeps SQLite from asking FTS5 for one job after the other: on 100,000 reports 48 s, so 5 ms.
            found = found.where(literal_column("+search_fts.rowid").in_(select(JobRow.id).where(*where)))
        return found.order_by(_FTS.c.rowid.desc())


def phrases_of(words: str) -> tuple[Phrase, ...]:
    """What is looked for: each word by itself, those in quotes together. A part number such as "QZ-418" is a phrase.

    Raises StoreError for more words than anybody types.
    """
    pieces = re.findall(r'"([^"]*)"|(\S+)', storable(words).casefold())
    phrases = [tuple(_WORD.findall(quoted or single)) for quoted, single in pieces]
    found = tuple(phrase for phrase in phrases if phrase)
    if sum(map(len, found)) > _MOST_WORDS:
        raise refused("search", f"has more than {_MOST_WORDS} words", "look for fewer")
    return found


def fts_query(phrases: Sequence[Phrase], parts: Sequence[Phrase]) -> str:
    """The query in FTS5's language. The words have only letters and digits, so none of them is an operator."""
    anywhere = [_fts_phrase(phrase) for phrase in phrases]
    within = [f"parts : {_fts_phrase(phrase)}" for phrase in parts]
    return " AND ".join(anywhere + within)


def _fts_phrase(phrase: Phrase) -> str:
    return f'"{" ".join(phrase)}"' + ("*" if _may_go_on(phrase) else "")


def _may_go_on(phrase: Phrase) -> bool:
    """Whether the last word may be the beginning of a longer one: a single letter is a word."""
    return len(phrase[-1]) > 1


def _postgres(phrases: Sequence[Phrase], parts: Sequence[Phrase]) -> ColumnElement[bool]:
    asked = [(_PG_ALL, phrases), (_PG_PARTS, parts)]
    return and_(*(_matches(vector, wanted) for vector, wanted in asked if wanted))


# As in the migration, to the letter: else the indexes are not used.
_SPLIT = "'[^[:alnum:]]+', ' ', 'g'"
_PG_ALL = f"to_tsvector('simple', regexp_replace(words || ' ' || parts || ' ' || appliance, {_SPLIT}))"
_PG_PARTS = f"to_tsvector('simple', regexp_replace(parts, {_SPLIT}))"


def _matches(vector: str, phrases: Sequence[Phrase]) -> ColumnElement[bool]:
    """Whether PostgreSQL's `vector` has all of `phrases`."""
    wanted = " & ".join("(" + " <-> ".join([*phrase[:-1], _pg_word(phrase)]) + ")" for phrase in phrases)
    return literal_column(vector).op("@@")(func.to_tsquery(text("'simple'"), literal(wanted)))


def _pg_word(phrase: Phrase) -> str:
    return phrase[-1] + (":*" if _may_go_on(phrase) else "")


def _appliance(given: str) -> ColumnElement[bool]:
    key = search_key(given)
    if not key:
        return literal(False)
    kind = storable(given).strip()
    first, end = range_of(key)
    by_serial = (JobRow.serial_key >= first) & (JobRow.serial_key < end)
    by_model = (JobRow.model_key >= first) & (JobRow.model_key < end)
    return by_serial | by_model | JobRow.appliance_kind.in_((kind, kind.lower()))


def _asks_reading(query: SearchQuery) -> bool:
    return any(asked is not None for asked in (query.quantity, query.low, query.high))


def _many_readings(session: Session, query: SearchQuery) -> bool:
    """Whether so many readings are asked for that a page is sooner full by going through the jobs than by a list."""
    some = select(literal(1)).where(*_asked(query)).limit(_MANY).subquery()
    return session.scalar(select(func.count()).select_from(some)) == _MANY


def _reading_of_job(query: SearchQuery) -> ColumnElement[bool]:
    """As `_reading`, looked for job by job: the latest jobs that have one are found without a list of all."""
    row = JobReadingRow
    # What is added to them keeps the columns out of their index: each job's own few readings are looked through.
    same = [row.job_id == JobRow.id]
    same += [] if query.quantity is None else [row.quantity + "" == storable(query.quantity)]
    same += [] if query.unit is None else [row.unit + "" == storable(query.unit)]
    below = [] if query.high is None else [row.value + 0.0 <= query.high]
    if query.low is None:
        return select(literal(1)).where(*same, *below).exists()
    reaches = (row.value + 0.0 >= query.low) | (row.value_high + 0.0 >= query.low)
    return select(literal(1)).where(*same, *below, reaches).exists()


def _asked(query: SearchQuery) -> list[ColumnElement[bool]]:
    row = JobReadingRow
    asked = [] if query.quantity is None else [row.quantity == storable(query.quantity)]
    asked += [] if query.unit is None else [row.unit == storable(query.unit)]
    asked += [] if query.low is None else [row.value >= query.low]
    return asked + ([] if query.high is None else [row.value <= query.high])


def _asked_range(query: SearchQuery) -> list[ColumnElement[bool]]:
    """Readings that are ranges themselves and meet the range that is asked for."""
    row = JobReadingRow
    asked = [] if query.quantity is None else [row.quantity == storable(query.quantity)]
    asked += [] if query.unit is None else [row.unit == storable(query.unit)]
    asked += [] if query.high is None else [_plain_value <= query.high]
    return [*asked, row.value_high >= query.low]


def _reading(query: SearchQuery) -> ColumnElement[bool]:
    """Jobs with a reading in the asked range; one that is a range itself counts where the two meet."""
    found = select(JobReadingRow.job_id).where(*_asked(query))
    if query.low is not None:
        reaching = select(JobReadingRow.job_id).where(*_asked_range(query))
        return _job_id.in_(found) | _job_id.in_(reaching)
    return _job_id.in_(found)


def _texts(session: Session, ids: Sequence[int]) -> dict[int, str]:
    columns = (SearchTextRow.job_id, SearchTextRow.words, SearchTextRow.parts, SearchTextRow.appliance)
    rows = session.execute(select(*columns).where(SearchTextRow.job_id.in_(ids)))
    return {row.job_id: "\n".join(filter(None, (row.words, row.parts, row.appliance))) for row in rows}


def excerpt(found: str, phrases: Sequence[Phrase]) -> tuple[tuple[str, bool], ...]:
    """A piece of a text around the first word that was looked for, in pieces; True = such a word."""
    begins = tuple(phrase[-1] if len(phrase) == 1 else phrase[0] for phrase in phrases)
    rest = tuple(word for phrase in phrases for word in phrase)
    first = _first_word(found, begins) if begins else None
    start = 0 if first is None else max(0, found.rfind(" ", 0, max(0, first - _AROUND)) + 1)
    end = min(len(found), start + _EXCERPT)
    if end < len(found) and not found[end].isspace():  # ends with a whole word
        cut = found.rfind(" ", start, end)
        end = cut if cut > start else end
    pieces: list[tuple[str, bool]] = []
    at = start
    for word in _WORD.finditer(found, start, end) if rest else ():
        if word.group().casefold().startswith(rest):
            pieces += [(found[at : word.start()], False), (word.group(), True)]
            at = word.end()
    pieces.append((found[at:end].rstrip() + (" …" if end < len(found) else ""), False))
    if start:
        pieces.insert(0, ("… ", False))
    return tuple((piece, marked) for piece, marked in pieces if piece)


def _first_word(found: str, begins: tuple[str, ...]) -> int | None:
    """Where the first word stands that begins with one of `begins`, which are in small letters; None = nowhere."""
    plain = re.compile(rf"(?<![^\W_])(?:{'|'.join(map(re.escape, begins))})", re.IGNORECASE).search(found)
    if plain is not None:
        return plain.start()
    folded = (word.start() for word in _WORD.finditer(found) if word.group().casefold().startswith(begins))
    return next(folded, None)
