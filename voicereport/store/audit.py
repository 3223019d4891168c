"""The checks of `voicereport audit verify`: the chain, the rows that it vouches for, the reports, the files."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

from pydantic import ValidationError
from sqlalchemy import case, func, literal, select
from sqlalchemy.orm import Session

from voicereport.report import Report
from voicereport.store.canonical import canonical, digest
from voicereport.store.faults import StoreError
from voicereport.store.files import Files, file_digest
from voicereport.store.heads import Known
from voicereport.store.index import counted_repeats, extract
from voicereport.store.models import (
    Base,
    BodyRow,
    FittedRow,
    IssueRow,
    JobCheckRow,
    JobReadingRow,
    JobRow,
    OverrideRow,
    PersonRow,
    QuestionRow,
    RecordingRow,
    RepeatRow,
    ReportRow,
    SearchTextRow,
    TallyRow,
    TokenRow,
    TrailRow,
)
from voicereport.store.reports import unpack
from voicereport.store.values import Fault, Verification
from voicereport.store.writing import GENESIS, entry_hash, seal

SEALED: tuple[type[Base], ...] = (
    PersonRow,
    TokenRow,
    JobRow,
    RecordingRow,
    ReportRow,
    OverrideRow,
    QuestionRow,
    IssueRow,
)
MOST_FAULTS = 1000  #: after so many, one more would tell nothing new
_BATCH = 2000  #: rows read at a time


class Auditor:
    """Collects faults while it goes through the tables, batch by batch."""

    def __init__(self, session: Session, files: Files) -> None:
        self._session = session
        self._files = files
        self._faults: list[Fault] = []
        self._sealed: dict[str, dict[str, bytes]] = {table.__tablename__: {} for table in SEALED}
        self._entries = self._rows = self._taken = 0
        self._last = (0, "")

    def verification(self) -> Verification:
        """What was found."""
        return Verification(entries=self._entries, rows=self._rows, files=self._taken, head=self._last[1],
                            faults=tuple(self._faults))  # fmt: skip

    def chain(self, before: Known, after: Callable[[], Known], expect: tuple[int, str] | None) -> None:
        """The entries: numbered without gaps, each hash its own and naming the one before, the end as it was left.

        before, after: what the head file said before the tables were looked at, and says now: work may go on.
        """
        previous, number, seen = GENESIS, 0, {0: ""}
        watched = {before.confirmed[0], *(head[0] for head in before.pending), expect[0] if expect else 0}
        query = select(TrailRow).order_by(TrailRow.number).execution_options(yield_per=_BATCH)
        for entry in self._session.scalars(query):
            self._entries += 1
            place = f"trail entry {entry.number}"
            if entry.number != number + 1:
                self._fault(place, f"follows entry {number}: what stood between them is gone, or it was put in")
            if entry.previous != previous:
                self._fault(place, "does not name the entry before it: one was changed, taken out, put in or moved")
            if entry_hash(entry) != entry.hash:
                self._fault(place, "was changed: its hash is not that of what it says")
            number, previous = entry.number, entry.hash
            if number in watched:
                seen[number] = entry.hash
            self._take_seals(entry, place)
            self._session.expunge(entry)
        self._last = (number, previous if number else "")
        self._end(before, after(), seen, expect)

    def _end(self, before: Known, after: Known, seen: dict[int, str], expect: tuple[int, str] | None) -> None:
        for broken in after.breaks:
            self._fault(f"trail entry {broken[0]}", "was the end when it should not have been: the table was changed")
        number, name = before.confirmed
        if number > self._last[0]:
            self._fault(
                "trail", f"ends at entry {self._last[0]}; the head file knows of entry {number}: the last are gone"
            )
        elif seen.get(number, "") != name:
            self._fault(f"trail entry {number}", "is not the one that the head file knows: the trail was written anew")
        if not (before.allows(self._last) or after.allows(self._last) or self._last[0] < after.confirmed[0]):
            self._fault(
                "trail", f"goes on to entry {self._last[0]}, of which the head file does not know: it was put in"
            )
        if expect is not None and seen.get(expect[0]) != expect[1]:
            self._fault(f"trail entry {expect[0]}", "is not the one that was written down")

    def rows(self) -> None:
        """The sealed rows against the last seal of each."""
        for table in SEALED:
            known = self._sealed[table.__tablename__]
            for row in self._all(table):
                name, key, found = seal(row)
                self._rows += 1
                told = known.pop(key, None)
                if told is None:
                    self._fault(f"{name} {key}", "is in the table and not in the trail: it was put in")
                elif told.hex() != found:
                    self._fault(f"{name} {key}", "is not as the trail left it: it was changed")
            for key in known:
                self._fault(f"{table.__tablename__} {key}", "is in the trail and not in the table: it was taken out")

    def bodies(self, *, derived: bool) -> None:
        """The text of each report against its digest; and, if derived, what was taken out of the latest ones."""
        self._lacking_bodies()
        query = select(BodyRow, ReportRow.sha256, JobRow.version).join(
            ReportRow, (ReportRow.job_id == BodyRow.job_id) & (ReportRow.version == BodyRow.version), isouter=True
        ).join(JobRow, JobRow.id == BodyRow.job_id)  # fmt: skip
        for body, told, latest in self._session.execute(query.execution_options(yield_per=100)):
            place = f"report of job {body.job_id}, version {body.version}"
            try:
                content = unpack(body.packed, place)
            except StoreError as error:
                self._fault(place, error.problem)
                continue
            if told is None:
                self._fault(place, "has a text and is not in the list of reports: it was put in")
            elif digest(content) != told:
                self._fault(place, "is not the text that was saved: it was changed")
            elif derived and body.version == latest:
                self._derived(body.job_id, content, place)
            self._session.expunge(body)

    def tallies(self) -> None:
        """The counts behind the overview against the checks of the jobs."""
        keys: tuple[tuple[str, Any], ...] = (("", literal("")), ("technician", PersonRow.login),
                                             ("job_type", func.coalesce(JobRow.job_type, "")))  # fmt: skip
        for dimension, key in keys:
            skipped = func.sum(case((JobCheckRow.open, 1), else_=0))
            made = (
                select(key, JobRow.week, JobCheckRow.check_id, func.count(), skipped)
                .select_from(JobCheckRow)
                .join(JobRow, JobRow.id == JobCheckRow.job_id)
                .join(PersonRow, PersonRow.id == JobRow.technician_id)
                .where(JobCheckRow.state != "not_applicable")
                .group_by(key, JobRow.week, JobCheckRow.check_id)
            )
            row = TallyRow
            kept = select(row.key, row.week, row.check_id, row.applicable, row.skipped).where(
                row.dimension == dimension, row.applicable != 0
            )
            counted = {
                (str(k)[:300], week, check): (n, open_) for k, week, check, n, open_ in self._session.execute(made)
            }
            told = {(k, week, check): (n, open_) for k, week, check, n, open_ in self._session.execute(kept)}
            if counted != told:
                self._fault(f"counts by {dimension or 'check'}", "are not those of the reports: rebuild them")

    def repeats(self) -> None:
        """The list of parts that failed again against the parts that were fitted."""
        row = RepeatRow
        kept = select(row.serial_key, row.part, row.times, row.first_at, row.last_at)
        counted = {tuple(found) for found in self._session.execute(counted_repeats())}
        if counted != {tuple(found) for found in self._session.execute(kept)}:
            self._fault("repeat failures", "are not those of the reports: rebuild them")

    def _lacking_bodies(self) -> None:
        here = (BodyRow.job_id == ReportRow.job_id) & (BodyRow.version == ReportRow.version)
        query = select(ReportRow.job_id, ReportRow.version).join(BodyRow, here, isouter=True)
        for job_id, version in self._session.execute(query.where(BodyRow.job_id.is_(None))):
            self._fault(f"report of job {job_id}, version {version}", "has lost its text: it was taken out")

    def _derived(self, job_id: int, content: bytes, place: str) -> None:
        try:
            report = Report.model_validate_json(content)
        except ValidationError:
            self._fault(place, "is no report of the contract")
            return
        wanted = extract(report)
        job = self._session.get_one(JobRow, job_id)
        text = self._session.get(SearchTextRow, job_id)
        pairs = (
            (canonical([(c["check_id"], c["state"]) for c in sorted(wanted.checks, key=lambda c: str(c["check_id"]))]),
             self._columns(JobCheckRow, job_id, ("check_id", "state"))),
            (canonical([(r["position"], r["value"]) for r in wanted.readings]),
             self._columns(JobReadingRow, job_id, ("position", "value"))),
            (canonical([(part,) for part in sorted(wanted.fitted)]), self._columns(FittedRow, job_id, ("part",))),
            ([report.status, wanted.words, wanted.parts],
             [job.status, text.words if text else None, text.parts if text else None]),
        )  # fmt: skip
        if any(one != other for one, other in pairs):
            self._fault(place, "is not what the lists, the search and the overview show: rebuild them")
        for row in (job, text):
            if row is not None:
                self._session.expunge(row)

    def _columns(self, table: Any, job_id: int, names: tuple[str, ...]) -> str:
        columns = [getattr(table, name) for name in names]
        rows = self._session.execute(select(*columns).where(table.job_id == job_id).order_by(columns[0]))
        return canonical([tuple(row) for row in rows])

    def files(self) -> None:
        """Recordings and documents: there, and with the bytes of their name."""
        seen: set[str] = set()
        for row in self._all(RecordingRow):
            if row.deleted_at is None and row.sha256 not in seen:
                seen.add(row.sha256)
                self._file(f"recording {row.id} of job {row.job_id}", "recording", row.sha256)
        for row in self._all(IssueRow):
            for name, sha256, _ in json.loads(row.documents):
                if sha256 not in seen:
                    seen.add(sha256)
                    self._file(f"{name} of job {row.job_id}, issue {row.number}", "document", sha256)

    def _file(self, place: str, kind: str, sha256: str) -> None:
        self._taken += 1
        try:
            path = self._files.recording(sha256) if kind == "recording" else self._files.document(sha256)
            if file_digest(path) != sha256:
                self._fault(place, "has other bytes than were taken in: the file was changed")
        except (OSError, StoreError):
            self._fault(place, "has no file: it was taken away")

    def _take_seals(self, entry: TrailRow, place: str) -> None:
        try:
            for table, key, name in json.loads(entry.seals):
                self._sealed[table][key] = bytes.fromhex(name)
        except (ValueError, KeyError, TypeError):
            self._fault(place, "has seals that cannot be read")

    def _all(self, table: type[Any]) -> Iterator[Any]:
        for row in self._session.scalars(select(table).execution_options(yield_per=_BATCH)):
            yield row
            self._session.expunge(row)

    def _fault(self, place: str, problem: str) -> None:
        if len(self._faults) < MOST_FAULTS:
            self._faults.append(Fault(place=place, problem=problem))
