"""A store full of invented jobs, to measure on: the same rows as the store itself would write, many at a time.

Each report stands on one of some hundred narrations of invented words, of which a few are in nearly every job and most
are rare, as in any text; its parts and checks are those of a trade pack.
"""

from __future__ import annotations

import json
import random
import zlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import accumulate
from typing import Any, cast

from sqlalchemy import insert

from voicereport.report import (
    Appliance,
    Check,
    CheckState,
    Evidence,
    Job,
    JobStatus,
    PartUsed,
    Reading,
    Remark,
    Report,
    Said,
    SegmentEntry,
    Step,
    TranscriptEntry,
    WordEntry,
    dump_json,
)
from voicereport.store import Store
from voicereport.store.canonical import canonical, digest, moment, search_key, week_of
from voicereport.store.index import Extract, extract, put_all_repeats
from voicereport.store.models import (
    ApplianceRow,
    Base,
    BodyRow,
    CheckTitleRow,
    FittedRow,
    JobCheckRow,
    JobReadingRow,
    JobRow,
    RecordingRow,
    ReportRow,
    SearchTextRow,
    TallyRow,
    TrailRow,
)
from voicereport.store.writing import GENESIS, entry_hash, seal_values, trail_end
from voicereport.trades import load_trade

TECHNICIANS = 40
MODELS = 300
WORDS = 5000  #: different invented words
_TEMPLATES = 200
_SEGMENTS, _SEGMENT_WORDS = 36, 11
_DAYS = 730  #: over which the jobs lie
_BATCH = 1000
_READINGS = (("temperature", "Cel", -24.0, 12.0), ("resistance", "Ohm", 5.0, 900.0), ("pressure", "kPa", 20.0, 1500.0),
             ("current", "A", 0.1, 9.0), ("voltage", "V", 110.0, 245.0))  # fmt: skip
_TOKENS = ("@WORK-ORDER@", "@RECORDED-AT@", "@MODEL@", "@SERIAL@", "@CUSTOMER@", "@JOB-TYPE@")


@dataclass(frozen=True, kw_only=True, slots=True)
class Template:
    """A report with tokens for what differs from job to job, and what the tables take out of it."""

    body: str
    extract: Extract
    status: JobStatus
    numbers: tuple[str, ...]  #: how the readings' values stand in `body`, in order


def vocabulary(random_: random.Random) -> tuple[list[str], list[float]]:
    """Invented words and their cumulated weights: the n-th word is 1 / n as frequent as the first (Zipf)."""
    syllables = [c + v for c in "bdfgklmnprstvz" for v in "aeiou"]
    words: dict[str, None] = {}
    while len(words) < WORDS:
        words["".join(random_.choices(syllables, k=random_.randint(1, 4)))] = None
    return list(words), list(accumulate(1 / n for n in range(1, WORDS + 1)))


def fill(store: Store, count: int, *, trade: str, now: datetime, seed: int = 7) -> None:
    """Puts `count` jobs with a report each into an empty store, the last at `now`."""
    random_ = random.Random(seed)
    pack = load_trade(trade)
    store.people.add("office", "Office", "office", by="office", now=now)
    for n in range(TECHNICIANS):
        store.people.add(f"tech{n:02}", f"Technician {n}", "technician", by="office", now=now)
    parts = sorted({" ".join(words) for words in pack.words.parts})
    checks = [(entry.id, entry.title, entry.severity) for entry in pack.entries.entries]
    words, weights = vocabulary(random_)
    templates = [_template(random_, words, weights, parts, checks) for _ in range(_TEMPLATES)]
    filler = _Filler(store, random_, templates, pack.job_types, now=now, count=count)
    for first in range(1, count + 1, _BATCH):
        filler.batch(range(first, min(first + _BATCH, count + 1)))
    filler.finish()


def _template(
    random_: random.Random,
    words: Sequence[str],
    weights: Sequence[float],
    parts: Sequence[str],
    checks: Sequence[tuple[str, str, Any]],
) -> Template:
    segments = tuple(_segment(random_, n, words, weights, parts) for n in range(_SEGMENTS))
    proof = tuple(
        Evidence(recording="visit.ogg", segment=s.id, start=s.start, end=s.end, quote=s.text, confidence=0.9)
        for s in segments
    )
    numbers = tuple(f"-900{n}.125" for n in range(len(_READINGS)))
    states: list[CheckState] = random_.choices(
        ["confirmed", "not_applicable", "missing", "unclear", "contradicted", "out_of_order"],
        weights=[60, 32, 4, 2, 1, 1],
        k=len(checks),
    )  # fmt: skip
    still = {severity for (_, _, severity), state in zip(checks, states, strict=True)
             if state not in ("confirmed", "not_applicable")}  # fmt: skip
    status: JobStatus = "blocked" if "stop" in still else "incomplete" if still else "complete"
    token = {name: Said[str](value=name) for name in _TOKENS}
    report = Report(
        job=Job(work_order=token["@WORK-ORDER@"], recorded_at=token["@RECORDED-AT@"], customer=token["@CUSTOMER@"],
                job_type=token["@JOB-TYPE@"],
                appliance=Appliance(model=token["@MODEL@"], serial=token["@SERIAL@"])),
        transcript=TranscriptEntry(segments=segments),
        complaint=(Remark(text=segments[0].text, evidence=proof[:1]),),
        steps=tuple(
            Step(id=f"step{n}", action="remove", part=random_.choice(parts), status="done", evidence=proof[n : n + 1])
            for n in range(12)
        ),
        readings=tuple(
            Reading(id=f"reading{n}", quantity=cast("Any", quantity), value=float(numbers[n]), unit=unit,
                    stage="as_left", spoken="so much", evidence=proof[n : n + 1])
            for n, (quantity, unit, _, _) in enumerate(_READINGS)
        ),
        parts_used=(PartUsed(part=random_.choice(parts), evidence=proof[:1]),),
        checks=tuple(
            Check(id=name, title=title, severity=severity, state=state, reason="So it was said.")
            for (name, title, severity), state in zip(checks, states, strict=True)
        ),
        status=status,
    )  # fmt: skip
    return Template(body=dump_json(report), extract=extract(report), status=status, numbers=numbers)


def _segment(
    random_: random.Random, n: int, words: Sequence[str], weights: Sequence[float], parts: Sequence[str]
) -> SegmentEntry:
    said = [*random_.choices(words, cum_weights=weights, k=_SEGMENT_WORDS), random_.choice(parts)]
    spoken = " ".join(said).split()
    timed = tuple(
        WordEntry(word=word, start=round(n * 5 + i * 0.35, 2), end=round(n * 5 + i * 0.35 + 0.3, 2), probability=0.93)
        for i, word in enumerate(spoken)
    )
    text = " ".join(spoken)
    return SegmentEntry(id=f"r1s{n:03}", recording="visit.ogg", start=n * 5.0, end=n * 5.0 + 4.5, heard=text, text=text,
                        words=timed)  # fmt: skip


class _Filler:
    """Makes the rows of jobs, and keeps the trail and the tallies going from batch to batch."""

    def __init__(
        self,
        store: Store,
        random_: random.Random,
        templates: Sequence[Template],
        job_types: Sequence[str],
        *,
        now: datetime,
        count: int,
    ) -> None:
        self._store, self._random, self._templates, self._job_types = store, random_, templates, job_types
        self._now, self._count = now, count
        with store.database.read() as session:
            self._end = trail_end(session)
        self._people = {person.login: person.id for person in store.people.list()}
        self._tallies: Counter[tuple[str, str, str, str]] = Counter()
        self._skipped: Counter[tuple[str, str, str, str]] = Counter()
        self._appliances: dict[str, dict[str, Any]] = {}
        self._rows: dict[type[Base], list[dict[str, Any]]] = {}

    def batch(self, ids: Sequence[int]) -> None:
        """Writes the jobs of `ids`."""
        self._rows = {table: [] for table in (JobRow, RecordingRow, ReportRow, BodyRow, JobCheckRow, JobReadingRow,
                                              FittedRow, SearchTextRow, TrailRow)}  # fmt: skip
        for job_id in ids:
            self._job(job_id)
        with self._store.database.write() as writing:
            for table, rows in self._rows.items():
                if rows:
                    writing.session.execute(insert(table), rows)
            writing.session.commit()
        self._store.database.heads.begin_at(self._end)

    def finish(self) -> None:
        """Writes the tallies and the titles of the checks, and lets SQLite look at what it has."""
        names = ("dimension", "key", "week", "check_id")
        rows = [dict(zip(names, key, strict=True)) | {"applicable": n, "skipped": self._skipped[key]}
                for key, n in self._tallies.items()]  # fmt: skip
        titles = {check["check_id"]: check for template in self._templates for check in template.extract.checks}
        with self._store.database.write() as writing:
            writing.session.execute(insert(TallyRow), rows)
            known = [{k: check[k] for k in ("check_id", "title", "severity")} for check in titles.values()]
            writing.session.execute(insert(CheckTitleRow), known)
            writing.session.execute(insert(ApplianceRow), list(self._appliances.values()))
            put_all_repeats(writing.session)

    def _job(self, job_id: int) -> None:
        random_, template = self._random, self._random.choice(self._templates)
        at = self._now.astimezone(UTC) - timedelta(days=_DAYS * (1 - job_id / self._count), minutes=random_.random())
        login = f"tech{random_.randrange(TECHNICIANS):02}"
        model = f"QZ{random_.randrange(MODELS):03}-N"
        facts = {"work_order": f"W{job_id:06}", "recorded_at": moment(at), "model": model,
                 "serial": f"S{random_.randrange(max(1, self._count * 6 // 10)):07}",
                 "customer": f"Customer {random_.randrange(30_000)}",
                 "job_type": random_.choice(self._job_types)}  # fmt: skip
        body = template.body
        for token, value in zip(_TOKENS, _in_order(facts), strict=True):
            body = body.replace(token, value)
        values = [round(random_.uniform(low, high), 2) for _, _, low, high in _READINGS]
        for number, reading in zip(template.numbers, values, strict=True):
            body = body.replace(number, repr(reading), 1)
        self._rows_of(job_id, login, at, facts, template, body)
        self._derived(job_id, login, at, facts, template, values)

    def _rows_of(
        self, job_id: int, login: str, at: datetime, facts: dict[str, str], template: Template, body: str
    ) -> None:
        sha256, time = digest(body), moment(at)
        overdue = [c for c in template.extract.checks if c["open"]]
        stops = sum(c["severity"] == "stop" for c in overdue)
        state = self._random.choices(("ready", "accepted", "issued"), weights=(10, 5, 85))[0] if not stops else "ready"
        said = {**facts, "site": None, "trade": None, "appliance_kind": None, "maker": None}
        job: dict[str, Any] = {
            "id": job_id, "key": None, "technician_id": self._people[login], "state": state, "typed": "{}",
            "held": False, "version": 1, "issued": 0, "created_at": time, "updated_at": time, "problem": None,
            "said": json.dumps(said, sort_keys=True), "happened_at": time, "week": week_of(at),
            "status": template.status, "open_stops": stops, "open_warnings": len(overdue) - stops, "questions": 0,
            "recordings": 1, "attention": 2 if stops else 0, "model_key": search_key(facts["model"]),
            "serial_key": search_key(facts["serial"]), **{k: v for k, v in said.items() if k != "recorded_at"},
        }  # fmt: skip
        recording = {"id": job_id, "job_id": job_id, "position": 1, "visit": None, "name": "visit.ogg",
                     "sha256": digest(f"recording {job_id}"), "bytes": 1_000_000, "media_type": "audio/ogg",
                     "received_at": time, "received_from": login, "deleted_at": None}  # fmt: skip
        report = {"job_id": job_id, "version": 1, "saved_at": time, "saved_by": "voicereport", "why": "heard",
                  "sha256": sha256, "status": template.status}  # fmt: skip
        for table, row in ((JobRow, job), (RecordingRow, recording), (ReportRow, report)):
            self._rows[table].append(row)
        self._rows[BodyRow].append({"job_id": job_id, "version": 1, "packed": zlib.compress(body.encode(), 6)})
        self._note("job.created", login, job_id, time, [(RecordingRow, (job_id,), recording)])
        seals = [(JobRow, (job_id,), job | {"sealed_state": state}), (ReportRow, (job_id, 1), report)]
        self._note("report.made", "voicereport", job_id, time, seals)

    def _note(
        self, act: str, by: str, job_id: int, time: str, rows: Sequence[tuple[type[Base], tuple[int, ...], Any]]
    ) -> None:
        sealed = [seal_values(table, key, [row[name] for name in table.__sealed__]) for table, key, row in rows]
        entry = TrailRow(number=self._end[0] + 1, at=time, by=by, act=act, job_id=job_id, about=f"job {job_id}",
                         before="null", after="null", why=None, seals=canonical(sealed),
                         previous=self._end[1] or GENESIS)  # fmt: skip
        entry.hash = entry_hash(entry)
        self._end = (entry.number, entry.hash)
        names = [column.name for column in TrailRow.__table__.columns]
        self._rows[TrailRow].append({name: getattr(entry, name) for name in names})

    def _derived(
        self, job_id: int, login: str, at: datetime, facts: dict[str, str], template: Template, values: Sequence[float]
    ) -> None:
        own, week = {"job_id": job_id}, week_of(at)
        for check in template.extract.checks:
            self._rows[JobCheckRow].append(own | {k: v for k, v in check.items() if k != "title"})
            if check["state"] == "not_applicable":
                continue
            for dimension, key in (("", ""), ("technician", login), ("job_type", facts["job_type"])):
                counted = (dimension, key, week, check["check_id"])
                self._tallies[counted] += 1
                self._skipped[counted] += check["open"]
        for reading, value in zip(template.extract.readings, values, strict=True):
            self._rows[JobReadingRow].append(own | reading | {"value": value})
        plate = {"model_key": search_key(facts["model"]), "serial_key": search_key(facts["serial"])}
        seen = self._appliances.setdefault(plate["serial_key"], {**plate, "jobs": 0})
        seen |= {"model_key": plate["model_key"], "jobs": seen["jobs"] + 1, "last_job_id": job_id}
        for part in template.extract.fitted:
            self._rows[FittedRow].append(own | {"part": part, "happened_at": moment(at)} | plate)
        appliance = [facts[name] for name in ("work_order", "customer", "job_type", "model", "serial")]
        texts = {"words": template.extract.words, "parts": template.extract.parts, "appliance": "\n".join(appliance)}
        self._rows[SearchTextRow].append(own | texts)


def _in_order(facts: dict[str, str]) -> tuple[str, ...]:
    names = ("work_order", "recorded_at", "model", "serial", "customer", "job_type")
    return tuple(facts[name] for name in names)
