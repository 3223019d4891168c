"""What is said on the line to a technician's phone: recordings opened, pieces taken in, recordings closed."""

from __future__ import annotations

import asyncio
import json
import tomllib
from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StrictFloat, StrictInt, StrictStr, ValidationError

from voicereport.errors import TemplateError
from voicereport.render import text
from voicereport.render.wording import find_template
from voicereport.store import StoreError
from voicereport.store.values import Job, NewJob, Recording
from voicereport.trades import list_trades
from voicereport.web.access import Me, NotThereError, job_for
from voicereport.web.jobs import long_title, plain_name
from voicereport.web.site import site_of

if TYPE_CHECKING:
    from fastapi import Request

    from voicereport.web.hearing import Desk

_BYTES_A_SECOND = 32_000  #: of sound, mono, 16 bit, 16 kHz
_WAV = "audio/wav"


@lru_cache(maxsize=1)
def work_words() -> dict[str, Any]:
    """The words of this page. Raises TemplateError."""
    path = find_template("web/technician/words.toml")
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise TemplateError(str(path), f"cannot be read ({error})", "correct it, or remove your own copy") from error


def told(key: str, **values: object) -> str:
    """A sentence of the server about this page, its braces filled."""
    return str(work_words()["server"][key]).format(**values)


class _Given(BaseModel):
    model_config = ConfigDict(extra="ignore")


Id = Annotated[StrictStr, Field(pattern=r"^[0-9a-f]{32}$")]
Short = Annotated[StrictStr, Field(max_length=200)]


class JobIn(_Given):
    """The job of a recording: a known one by its id, or one that was begun on the phone by its key."""

    id: StrictInt | None = None
    key: Annotated[StrictStr, Field(max_length=100)] | None = None
    work_order: Short | None = None
    trade: Short | None = None


class OpenIn(_Given):
    """A recording that the phone has."""

    recording: Id
    name: Short
    job: JobIn
    live: bool = False


class PieceIn(_Given):
    """The head of a piece."""

    recording: Id
    number: Annotated[StrictInt, Field(ge=0, lt=100_000)]
    sha256: Annotated[StrictStr, Field(pattern=r"^[0-9a-f]{64}$")]
    bytes: Annotated[StrictInt, Field(ge=1, le=1_000_000)]


class Break(_Given):
    """Where a recording broke off and went on."""

    at: StrictFloat | StrictInt
    seconds: StrictFloat | StrictInt


class CloseIn(_Given):
    """A recording that is whole. pieces: how many, the head included."""

    recording: Id
    pieces: Annotated[StrictInt, Field(ge=2, le=100_000)]
    breaks: Annotated[list[Break], Field(max_length=10_000)] = Field(default_factory=list)


class SpokeIn(_Given):
    """What the phone said aloud, in seconds of the recording."""

    recording: Id
    text: Annotated[StrictStr, Field(max_length=2000)]
    start: StrictFloat | StrictInt
    end: StrictFloat | StrictInt


class ListenIn(_Given):
    """Listening goes on by a touch."""

    recording: Id


class Talk:
    """What was said on one line so far."""

    def __init__(self, request: Request, me: Me, desk: Desk | None) -> None:
        self.request, self.me = request, me
        self.site = site_of(request)
        self.out: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        self._loop = asyncio.get_running_loop()
        self._desk = desk
        self._open: dict[str, int] = {}  #: job by recording

    def take(self, message: bytes | str) -> dict[str, Any] | None:
        """The answer to a message; None where there is none."""
        try:
            if isinstance(message, bytes):
                return self._piece(message)
            given = json.loads(message)
            does = {"open": self._begin, "close": self._close, "spoke": self._spoke, "listen": self._listen}
            return does[given["do"]](given) if given.get("do") != "there" else {"there": True}
        except (ValidationError, ValueError, KeyError, AttributeError, TypeError):
            return {"problem": f"{told('message')} {told('message_problem')}; {told('message_remedy')}"}

    def end(self) -> None:
        """The line is down."""
        for recording in self._open:
            if self._desk is not None:
                self._desk.leave(recording, self.tell)

    def tell(self, message: dict[str, Any]) -> None:
        """Say something, from any thread."""
        try:
            self._loop.call_soon_threadsafe(self.out.put_nowait, message)
        except RuntimeError:  # the loop is closed: nobody hears it
            return

    def _begin(self, given: dict[str, Any]) -> dict[str, Any]:
        wanted = OpenIn.model_validate(given)
        try:
            job = self._job(wanted.job)
            upload = self.site.store.recordings.start(job.id, plain_name(wanted.name), media_type=_WAV,
                                                      by=self.me.login, now=self.site.now(),
                                                      upload_id=wanted.recording)  # fmt: skip
        except StoreError as error:
            return {"recording": wanted.recording, "problem": str(error)}
        except NotThereError:
            return {"recording": wanted.recording, "problem": f"{told('place')} {told('closed')}"}
        self._open[wanted.recording] = job.id
        if wanted.live and upload.recording is None and self._desk is not None:
            self._desk.listen(wanted.recording, job, self.tell)
            self._desk.arrived(wanted.recording, upload.bytes / _BYTES_A_SECOND, number=0)
        sealed = None
        if upload.recording is not None:
            sealed = {"sha256": upload.recording.sha256, "bytes": upload.recording.bytes}
            self._queue(upload.recording)
        return {"opened": True, "recording": wanted.recording, "job": job_row(job),
                "have": spans(upload.received), "sealed": sealed}  # fmt: skip

    def _job(self, wanted: JobIn) -> Job:
        """The job, made where it was begun on the phone. Raises NotThereError for somebody else's."""
        if wanted.id is not None:
            return job_for(self.request, self.me, wanted.id)
        trade = wanted.trade if wanted.trade in list_trades() else None
        new = NewJob(technician=self.me.login, work_order=wanted.work_order or None, trade=trade, key=wanted.key)
        job = self.site.store.jobs.create(new, by=self.me.login, now=self.site.now())
        if job.technician != self.me.login:
            raise NotThereError
        return job

    def _piece(self, message: bytes) -> dict[str, Any]:
        length = int.from_bytes(message[:4], "big")
        head = PieceIn.model_validate_json(message[4 : 4 + length])
        data = message[4 + length : 4 + length + head.bytes]
        answer = {"recording": head.recording, "number": head.number}
        if head.recording not in self._open:
            return answer | {"problem": f"{told('message')} {told('message_problem')}"}
        try:
            upload = self.site.store.recordings.put_piece(head.recording, head.number, data, head.sha256,
                                                          now=self.site.now())  # fmt: skip
        except StoreError as error:
            return answer | {"problem": str(error), "again": error.kind == "refused"}
        if self._desk is not None and head.number:
            self._desk.arrived(head.recording, upload.bytes / _BYTES_A_SECOND, number=head.number,
                               ear=message[4 + length + head.bytes :])  # fmt: skip
        return {"recording": head.recording, "kept": head.number}

    def _close(self, given: dict[str, Any]) -> dict[str, Any]:
        wanted = CloseIn.model_validate(given)
        job_id = self._open[wanted.recording]
        store, by, now = self.site.store, self.me.login, self.site.now()
        first = store.recordings.upload(wanted.recording).recording is None
        try:
            recording = store.recordings.seal(wanted.recording, wanted.pieces, None, by=by, now=now)
        except StoreError as error:
            return {"recording": wanted.recording, "problem": str(error)}
        about = f"job {job_id}, recording {recording.position}"
        if first and wanted.breaks:
            broken = {"breaks": [one.model_dump() for one in wanted.breaks]}
            store.trail.note("recording.breaks", about, by=by, now=now, job_id=job_id, why=told("broken_off"),
                             after=broken)  # fmt: skip
        lines = self._desk.close(wanted.recording) if self._desk is not None else ()
        if lines:
            store.trail.note("recording.heard", about, by=by, now=now, job_id=job_id, why=told("heard"),
                             after={"lines": list(lines)})  # fmt: skip
        self._queue(recording)
        return {"recording": wanted.recording, "sealed": {"sha256": recording.sha256, "bytes": recording.bytes}}

    def _queue(self, recording: Recording) -> None:
        """Put the job into the queue, unless that was done since the recording was closed: a process may have died
        between the two."""
        tasks = self.site.store.queue.of(recording.job_id)
        if not any(task.put_at >= recording.received_at for task in tasks):
            self.site.store.queue.put(recording.job_id, now=self.site.now(), by=self.me.login)

    def _spoke(self, given: dict[str, Any]) -> None:
        wanted = SpokeIn.model_validate(given)
        found = self._desk.hearing(wanted.recording) if self._desk and wanted.recording in self._open else None
        if found is not None:
            found.spoke(wanted.text, float(wanted.start), float(wanted.end))

    def _listen(self, given: dict[str, Any]) -> None:
        wanted = ListenIn.model_validate(given)
        found = self._desk.hearing(wanted.recording) if self._desk and wanted.recording in self._open else None
        if found is not None:
            found.listen_again()


def spans(numbers: Sequence[int]) -> list[list[int]]:
    """Rising numbers as [first, last] of each run."""
    runs = [[n for _, n in group] for _, group in groupby(enumerate(numbers), lambda pair: pair[1] - pair[0])]
    return [[run[0], run[-1]] for run in runs]


def job_row(job: Job) -> dict[str, Any]:
    return {"id": job.id, "key": job.key, "title": text.shown(long_title(job))}
