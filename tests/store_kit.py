"""Values and small doings that the tests of the store share."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta

from sqlalchemy import Connection, text

from voicereport.report import (
    Appliance,
    Check,
    Evidence,
    Job,
    PartUsed,
    Reading,
    Report,
    Said,
    SegmentEntry,
    Step,
    TranscriptEntry,
)
from voicereport.store import Store
from voicereport.store.values import NewJob, StoredReport

NOW = datetime(2026, 3, 2, 8, 15, tzinfo=UTC)
PROOF = (Evidence(recording="visit.ogg", segment="r1s001", start=1, end=2.5, quote="four screws out", confidence=0.9),)
SOUND = b"OggS" + bytes(range(256)) * 40


def later(seconds: float = 0, *, days: float = 0) -> datetime:
    """A time after NOW."""
    return NOW + timedelta(seconds=seconds, days=days)


def report(
    *,
    state: str = "missing",
    words: str = "four screws out of the rear panel",
    model: str | None = "QZ418-N",
    serial: str | None = "2206-1183",
    part: str = "evaporator fan motor",
    value: float = -19.0,
    recorded_at: str | None = None,
    job_type: str | None = None,
) -> Report:
    """A small report of the contract. state: of its one stop-level check."""

    def said(value: str | None) -> Said[str] | None:
        return None if value is None else Said[str](value=value, evidence=PROOF)

    segment = SegmentEntry(id="r1s001", recording="visit.ogg", start=1, end=2.5, heard=words, text=words, words=())
    checks = (
        Check.model_validate({"id": "power-isolated", "title": "Supply off", "severity": "stop", "state": state,
                              "reason": "Nobody says so."}),
        Check(id="labour-recorded", title="Labour", severity="warning", state="confirmed", reason="Said."),
    )  # fmt: skip
    return Report(
        job=Job(recorded_at=said(recorded_at), job_type=said(job_type),
                appliance=Appliance(model=said(model), serial=said(serial))),
        transcript=TranscriptEntry(segments=(segment,)),
        steps=(Step(id="step1", action="remove", part="screw", count=4, status="done", evidence=PROOF),),
        readings=(Reading(id="reading1", quantity="temperature", subject="freezer", value=value, unit="Cel",
                          stage="as_left", spoken="minus nineteen", evidence=PROOF),),
        parts_used=(PartUsed(part=part, part_number="FM-2207", evidence=PROOF),),
        checks=checks,
        status="blocked" if state not in ("confirmed", "not_applicable") else "complete",
    )  # fmt: skip


def with_people(store: Store) -> Store:
    """The store with one person of each role."""
    store.people.set_up_first("ada", "Ada Quill", "$hash$", now=NOW)
    store.people.add("tess", "Tess Finch", "technician", by="ada", now=NOW)
    store.people.add("theo", "Theo Marsh", "technician", by="ada", now=NOW)
    store.people.add("otto", "Otto Reed", "office", by="ada", now=NOW)
    store.people.add("sue", "Sue Vale", "supervisor", by="ada", now=NOW)
    return store


def with_job(store: Store, made: Report | None = None, *, technician: str = "tess", now: datetime = NOW) -> int:
    """A job with one recording and one report; gives its number."""
    job = store.jobs.create(NewJob(technician=technician, work_order="4410"), by=technician, now=now)
    sound = io.BytesIO(SOUND + str(job.id).encode())
    store.recordings.add(job.id, "visit.ogg", sound, media_type="audio/ogg", by=technician, now=now)
    store.reports.save(job.id, report() if made is None else made, by="voicereport", now=now, why="heard")
    return job.id


def issued(store: Store, job_id: int) -> StoredReport:
    """Accepts and issues a job whose checks are in order."""
    version = store.jobs.get(job_id).version
    accepted = store.review.accept(job_id, expected=version, by="sue", now=NOW)
    store.review.issue(job_id, by="otto", now=NOW, documents={"customer.pdf": b"%PDF-"})
    return accepted


def by_hand(store: Store, *statements: str) -> None:
    """Changes the tables as somebody with a database tool would."""
    connection: Connection
    with store.database.engine.connect() as connection:
        for statement in statements:
            connection.execute(text(statement))
        connection.commit()
