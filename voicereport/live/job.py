"""A live job in its folder: sound to disk as it arrives, to the session after; a job that broke off taken up again."""

from __future__ import annotations

import hashlib
import queue
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from voicereport.errors import AudioError
from voicereport.live.events import Event, as_json
from voicereport.live.record import JOURNAL, RECORDING, Journal, WavWriter, read_journal, settled_row
from voicereport.live.sources import Source
from voicereport.requests.said import Said

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from voicereport.live.session import Session

_BEHIND = 600  #: pieces that may wait for the session; from there on a source that is no microphone waits
_AT_ONCE = 20  #: pieces that are taken together where the session is behind
_CATCH_UP = 16_000  #: samples of a piece of what was recorded before


@dataclass(slots=True)
class LiveJob:
    """A session with its folder. Use `begin` or `resume`."""

    folder: Path
    session: Session
    writer: WavWriter
    journal: Journal
    stopping: bool = False  #: set it to end after what is on disk already was heard
    _written: tuple[Said, ...] = ()
    _dropped: int = 0

    def events(self, source: Source) -> Iterator[tuple[Event, ...]]:
        """The events of each piece of sound, in order, until the source or the job ends. Raises what the source raises.

        An empty tuple comes where nothing happened, several times a second; what was heard comes before what it means.
        """
        intake = Intake(source, self.writer, self.session)
        intake.start()
        try:
            while not (self.session.finished or self.stopping):
                piece = intake.get()
                if isinstance(piece, _End):
                    break
                if piece is not None:
                    yield from self.hearing(piece)
                yield ()
        finally:
            intake.stop()
        for piece in intake.rest():
            yield from self.hearing(piece)

    def hear(self, piece: NDArray[np.float32]) -> tuple[Event, ...]:
        """The events of sound that is on disk already."""
        return tuple(event for events in self.hearing(piece) for event in events)

    def hearing(self, piece: NDArray[np.float32]) -> Iterator[tuple[Event, ...]]:
        """As `hear`, each group of events as soon as it is there."""
        for events in self.session.hearing(piece):
            yield self.keep(events)

    def keep(self, events: tuple[Event, ...]) -> tuple[Event, ...]:
        """Put events, and what they settled, into the journal."""
        for event in events:
            self.journal.write(as_json(event))
        settled = tuple(self.session.settled)
        if events and (settled != self._written or len(self.session.dropped) != self._dropped):
            same = sum(1 for _ in _same(self._written, settled))
            row = settled_row(settled[same:], tuple(self.session.dropped), self.session.settled_to)
            self.journal.write(row | {"from": same})
            self._written, self._dropped = settled, len(self.session.dropped)
        return events

    def finish(self) -> tuple[Event, ...]:
        """End the job: the recording is whole, everything is settled, the report stands."""
        self.writer.close()
        self.session.duration_s = self.writer.seconds
        with self.writer.path.open("rb") as file:
            self.session.sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        done = self.session.finished
        events = tuple(self.session.understand()) if done else self.session.finish()
        self.keep(events)
        self.journal.close()
        return events

    @property
    def recording(self) -> Path:
        """The recording."""
        return self.writer.path


def _same(one: tuple[Said, ...], other: tuple[Said, ...]) -> Iterator[Said]:
    for a, b in zip(one, other, strict=False):
        if a != b:
            return
        yield a


def begin(folder: Path, session: Session, *, settings: dict[str, str]) -> LiveJob:
    """A new job. Raises AudioError where the folder holds one already."""
    path = folder / RECORDING
    if path.exists():
        raise AudioError(str(path), "is there already", "go on with it by --resume, or name another folder by --out")
    folder.mkdir(parents=True, exist_ok=True)
    job = LiveJob(folder=folder, session=session, writer=WavWriter(path), journal=Journal(folder / JOURNAL))
    job.journal.write({"begun": settings})
    return job


def resume(folder: Path, session: Session) -> Iterator[tuple[LiveJob, tuple[Event, ...]]]:
    """A job that broke off, taken up: what was settled is taken from its journal, what came after is heard again.

    Yields the job with the events as they come; the last one is where to go on. Raises AudioError, TranscriptError.
    """
    kept = read_journal(folder / JOURNAL)
    writer = WavWriter(folder / RECORDING, resume=True)
    _mend(folder / JOURNAL)
    session.restore(kept.said, kept.dropped, min(kept.settled_to, writer.seconds))
    job = LiveJob(folder=folder, session=session, writer=writer, journal=Journal(folder / JOURNAL),
                  _written=tuple(session.settled), _dropped=len(kept.dropped))  # fmt: skip
    first = round(session.at * 16_000)
    while first < writer.samples:
        last = min(first + _CATCH_UP, writer.samples)
        yield job, job.hear(writer.read(first, last))
        first = last
    if not kept.finished:
        session.note("break", "", at=writer.seconds)
    yield job, job.keep(session.flush())


def _mend(path: Path) -> None:
    """Take away a last line that was cut off, so that what follows stands on lines of its own."""
    data = path.read_bytes()
    if data and not data.endswith(b"\n"):
        path.write_bytes(data[: data.rfind(b"\n") + 1])


class _End:
    """Marks the end of a source."""


END = _End()


@dataclass(slots=True)
class Intake:
    """Takes sound from a source to the disk on a thread of its own, so that understanding never holds it up."""

    source: Source
    writer: WavWriter
    session: Session
    _queue: queue.Queue[NDArray[np.float32] | Exception | _End] = field(
        default_factory=lambda: queue.Queue(maxsize=_BEHIND)
    )
    _stopped: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None
    _held: NDArray[np.float32] | Exception | _End | None = None  #: taken from the queue, not yet given

    def start(self) -> None:
        """Begin to take sound."""
        self._thread = threading.Thread(target=self._run, name="intake", daemon=True)
        self._thread.start()

    def get(self) -> NDArray[np.float32] | _End | None:
        """The sound that came in, None where none did for a moment, END after the last. Raises what the source raised.

        Where more waits, it comes in one piece of up to _AT_ONCE: what the speaker went on to say is known then.
        """
        import numpy as np

        try:
            found = self._held if self._held is not None else self._queue.get(timeout=0.2)
        except queue.Empty:
            return None
        self._held = None
        if isinstance(found, Exception):
            raise found
        if isinstance(found, _End):
            return found
        pieces = [found]
        while len(pieces) < _AT_ONCE and not self._queue.empty():
            following = self._queue.get_nowait()
            if isinstance(following, Exception | _End):
                self._held = following
                break
            pieces.append(following)
        return np.concatenate(pieces)

    def stop(self) -> None:
        """Take no more sound."""
        self._stopped.set()
        if self._thread is not None:
            self._thread.join(timeout=5)
        self.source.close()

    def rest(self) -> Iterator[NDArray[np.float32]]:
        """What was taken and not yet asked for."""
        while True:
            try:
                found = self._queue.get_nowait()
            except queue.Empty:
                return
            if not isinstance(found, Exception | _End):
                yield found

    def _run(self) -> None:
        import numpy as np

        try:
            for piece in self.source.pieces():
                if self._stopped.is_set():
                    return
                if piece is None:
                    continue
                if self.session.listening:
                    self._put(self.writer.add(piece))
                else:  # nothing that is said now is kept; silence stands for it, so that times go on being right
                    self.writer.add(np.zeros(len(piece), np.float32))
                    self._put(piece)
            self._put(END)
        except Exception as error:  # handed to the one who asks for the next piece
            self._put(error)

    def _put(self, found: NDArray[np.float32] | Exception | _End) -> None:
        while not self._stopped.is_set():
            try:
                return self._queue.put(found, timeout=0.2)
            except queue.Full:
                continue
