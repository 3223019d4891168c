"""Recordings: whole or in numbered pieces, named by digest, kept byte for byte. Sent again is not kept twice."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from voicereport.store.canonical import digest, maybe_time, moment, storable, time_of
from voicereport.store.database import Database
from voicereport.store.faults import conflict, not_found, refused
from voicereport.store.files import Files, Written, blocks_of
from voicereport.store.jobs import job_row
from voicereport.store.models import JobRow, PieceRow, RecordingRow, UploadRow
from voicereport.store.values import Recording, Upload
from voicereport.store.writing import Writing

MOST_PIECES = 100_000
LARGEST_PIECE = 64 * 1024 * 1024  #: bytes
_LONGEST_ID = 200


class Recordings:
    """The recordings of all jobs."""

    def __init__(self, database: Database, files: Files) -> None:
        self._database = database
        self._files = files

    def add(
        self,
        job_id: int,
        name: str,
        source: Path | BinaryIO,
        *,
        media_type: str,
        by: str,
        now: datetime,
        visit: int | None = None,
        sha256: str | None = None,
    ) -> Recording:
        """A recording from a file or stream, never whole in memory; the same bytes again give the same recording.

        sha256: of the bytes as they were sent. Raises StoreError where it is another, or nothing came.
        """
        with self._database.read() as session:
            job_row(session, job_id)
        if isinstance(source, Path):
            with source.open("rb") as file:
                written = self._files.keep_recording(blocks_of(file), expected=sha256)
        else:
            written = self._files.keep_recording(blocks_of(source), expected=sha256)
        with self._database.write() as writing:
            row, job = self._put(writing, job_id, name, written, media_type=media_type, by=by, now=now, visit=visit)
            return recording_of(row, job, self._files)

    def start(
        self,
        job_id: int,
        name: str,
        *,
        media_type: str,
        by: str,
        now: datetime,
        upload_id: str | None = None,
        visit: int | None = None,
    ) -> Upload:
        """A recording that will come in pieces. The same id again gives the same upload, with what is here of it."""
        own = uuid.uuid4().hex if upload_id is None else storable(upload_id)
        if not 0 < len(own) <= _LONGEST_ID:
            raise refused("upload", f"has an id of {len(own)} signs", f"choose one of 1 to {_LONGEST_ID}")
        with self._database.write() as writing:
            session = writing.session
            job_row(session, job_id)
            known = session.get(UploadRow, own)
            if known is None:
                known = UploadRow(id=own, job_id=job_id, name=file_name(name), media_type=storable(media_type)[:200],
                                  visit=_visit(visit), started_at=moment(now), started_by=by)  # fmt: skip
                session.add(known)
                session.flush()
            elif known.job_id != job_id:
                raise conflict(f"upload {own}", "is of another job", "choose another id")
            return self._upload_of(session, known)

    def put_piece(self, upload_id: str, number: int, data: bytes, sha256: str, *, now: datetime) -> Upload:
        """Takes in one piece, counted from 0, in any order; the same piece again does nothing.

        Raises StoreError: refused where the digest is not the data's; conflict where other bytes are there already.
        """
        if not 0 <= number < MOST_PIECES or not 0 < len(data) <= LARGEST_PIECE:
            raise refused(f"piece {number}", f"of {len(data)} bytes cannot be taken in")
        sha256 = sha256.lower()
        if digest(data) != sha256:
            raise refused(f"piece {number}", "did not arrive as it was sent: its digest is another", "send it again")
        with self._database.read() as session:
            upload = _upload_row(session, upload_id)
            known = session.get(PieceRow, (upload.id, number))
            if known is not None or upload.recording_id is not None:
                _refuse_other(known, number, sha256)
                return self._upload_of(session, upload)
        self._files.keep_piece(
            upload.id, number, sha256, data
        )  # on disk before the writers' lock: that is held briefly
        with self._database.write() as writing:
            session = writing.session
            upload = _upload_row(session, upload_id)
            known = session.get(PieceRow, (upload.id, number))
            if known is None and upload.recording_id is None:
                session.add(PieceRow(upload_id=upload.id, number=number, sha256=sha256, bytes=len(data),
                                     received_at=moment(now)))  # fmt: skip
                session.flush()
            else:
                _refuse_other(known, number, sha256)
            return self._upload_of(session, upload)

    def piece(self, upload_id: str, number: int) -> bytes | None:
        """One piece of a recording on its way; None where it is not here, yet or any more."""
        with self._database.read() as session:
            row = session.get(PieceRow, (upload_id, number))
            if row is None:
                return None
            try:
                return self._files.piece(upload_id, number, row.sha256)
            except FileNotFoundError:  # it was joined meanwhile
                return None

    def seal(self, upload_id: str, pieces: int, sha256: str | None, *, by: str, now: datetime) -> Recording:
        """Joins pieces 0 to `pieces` - 1 to the recording; again: the same recording.

        sha256: of the whole, None = not known to the sender. Raises StoreError where a piece lacks or the whole is not
        what was sent; nothing is lost then.
        """
        with self._database.read() as session:
            upload = _upload_row(session, upload_id)
            if upload.recording_id is not None:
                return self.get(upload.recording_id)
            own = select(PieceRow.number, PieceRow.sha256).where(PieceRow.upload_id == upload.id)
            here: dict[int, str] = {}
            for number, name in session.execute(own):
                here[number] = name
        lacking = [number for number in range(min(pieces, MOST_PIECES)) if number not in here]
        if not 1 <= pieces <= MOST_PIECES or lacking:
            shown = ", ".join(map(str, lacking[:10])) or "all"
            raise refused(f"upload {upload_id}", f"lacks pieces: {shown}", "send them and seal again")
        try:
            blocks = self._files.pieces(upload.id, [here[number] for number in range(pieces)])
            written = self._files.keep_recording(blocks, expected=sha256)
        except FileNotFoundError:  # somebody else has just sealed it
            written = None
        with self._database.write() as writing:
            upload = _upload_row(writing.session, upload_id)
            if upload.recording_id is None:
                if written is None:
                    raise conflict(f"upload {upload_id}", "has lost its pieces", "send it again under another id")
                row, job = self._put(writing, upload.job_id, upload.name, written, media_type=upload.media_type, by=by,
                                     now=now, visit=upload.visit)  # fmt: skip
                upload.recording_id = row.id
            else:
                row = writing.session.get_one(RecordingRow, upload.recording_id)
                job = writing.session.get_one(JobRow, row.job_id)
            recording = recording_of(row, job, self._files)
        self._files.drop_pieces(upload.id)
        return recording

    def upload(self, upload_id: str) -> Upload:
        """What is here of a recording on its way. Raises StoreError (not_found)."""
        with self._database.read() as session:
            return self._upload_of(session, _upload_row(session, upload_id))

    def open_uploads(self, job_id: int) -> tuple[Upload, ...]:
        """Recordings of a job that are not sealed yet, oldest first."""
        query = select(UploadRow).where(UploadRow.job_id == job_id, UploadRow.recording_id.is_(None))
        with self._database.read() as session:
            rows = session.scalars(query.order_by(UploadRow.started_at, UploadRow.id)).all()
            return tuple(self._upload_of(session, row) for row in rows)

    def of(self, job_id: int) -> tuple[Recording, ...]:
        """A job's recordings, in order."""
        query = select(RecordingRow).where(RecordingRow.job_id == job_id).order_by(RecordingRow.position)
        with self._database.read() as session:
            job = job_row(session, job_id)
            return tuple(recording_of(row, job, self._files) for row in session.scalars(query))

    def get(self, recording_id: int) -> Recording:
        """A recording. Raises StoreError (not_found)."""
        with self._database.read() as session:
            row = session.get(RecordingRow, recording_id)
            if row is None:
                raise not_found(f"recording {recording_id}")
            return recording_of(row, session.get_one(JobRow, row.job_id), self._files)

    def _put(
        self,
        writing: Writing,
        job_id: int,
        name: str,
        written: Written,
        *,
        media_type: str,
        by: str,
        now: datetime,
        visit: int | None,
    ) -> tuple[RecordingRow, JobRow]:
        session = writing.session
        job = job_row(session, job_id)
        here = (RecordingRow.job_id == job_id, RecordingRow.sha256 == written.sha256)
        known = session.scalar(select(RecordingRow).where(*here))
        if known is not None and known.deleted_at is None:
            return known, job
        if not self._files.recording(written.sha256).is_file():  # retention took it between writing and here
            raise conflict(f"recording {name!r}", "was taken away while it came in", "send it again")
        if known is not None:
            raise conflict(f"recording {known.name!r}", "was deleted after the set time", "hold the job before that")
        position = (
            session.scalar(select(func.max(RecordingRow.position)).where(RecordingRow.job_id == job_id)) or 0
        ) + 1
        row = RecordingRow(job_id=job_id, position=position, visit=_visit(visit), name=file_name(name),
                           sha256=written.sha256, bytes=written.bytes, media_type=storable(media_type)[:200],
                           received_at=moment(now), received_from=by)  # fmt: skip
        session.add(row)
        job.recordings, job.updated_at = position, moment(now)
        after = {"name": row.name, "sha256": row.sha256, "bytes": row.bytes}
        writing.note("recording.received", f"job {job_id}, recording {position}", by=by, now=now, job_id=job_id,
                     after=after, rows=[row])  # fmt: skip
        return row, job

    def _upload_of(self, session: Session, row: UploadRow) -> Upload:
        query = select(PieceRow.number, PieceRow.bytes).where(PieceRow.upload_id == row.id).order_by(PieceRow.number)
        pieces: Iterable[tuple[int, int]] = session.execute(query).all()
        recording = None if row.recording_id is None else session.get_one(RecordingRow, row.recording_id)
        sealed = None
        if recording is not None:
            sealed = recording_of(recording, session.get_one(JobRow, recording.job_id), self._files)
        return Upload(id=row.id, job_id=row.job_id, name=row.name, media_type=row.media_type,
                      received=tuple(number for number, _ in pieces), bytes=sum(count for _, count in pieces),
                      recording=sealed)  # fmt: skip


def recording_of(row: RecordingRow, job: JobRow, files: Files) -> Recording:
    """A row as a value."""
    return Recording(
        id=row.id,
        job_id=row.job_id,
        position=row.position,
        visit=row.visit,
        name=row.name,
        sha256=row.sha256,
        bytes=row.bytes,
        media_type=row.media_type,
        received_at=time_of(row.received_at),
        received_from=row.received_from,
        held=job.held,
        deleted_at=maybe_time(row.deleted_at),
        path=files.recording(row.sha256) if row.deleted_at is None else None,
    )


def file_name(name: str) -> str:
    """The last part of a sender's file name: never a path, never empty."""
    last = storable(name).replace("\\", "/").rstrip("/").rpartition("/")[2].strip()
    return last[:255] if last not in ("", ".", "..") else "recording"


def _visit(visit: int | None) -> int | None:
    if visit is not None and visit < 1:
        raise refused("visit", f"{visit} is none", "count from 1")
    return visit


def _upload_row(session: Session, upload_id: str) -> UploadRow:
    row = session.get(UploadRow, storable(upload_id))
    if row is None:
        raise not_found(f"upload {upload_id}")
    return row


def _refuse_other(known: PieceRow | None, number: int, sha256: str) -> None:
    if known is None:
        raise conflict(f"piece {number}", "comes after the recording was sealed", "start another recording")
    if known.sha256 != sha256:
        raise conflict(f"piece {number}", "is there already with other bytes", "start another recording")
