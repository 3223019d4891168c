"""Recordings that are listened to while they arrive: a live session for each, fed from the pieces that the store has.

A session that was lost with its process is made anew from its journal and hears only what was not settled.
"""

from __future__ import annotations

import contextlib
import logging
import threading
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicereport.errors import VoiceReportError
from voicereport.store.canonical import digest
from voicereport.store.values import Job
from voicereport.web.recheck import settings_for

if TYPE_CHECKING:
    from voicereport.live import Session
    from voicereport.live.events import Event
    from voicereport.live.recognise import LoadedRecogniser
    from voicereport.requests.said import Said
    from voicereport.settings import Settings
    from voicereport.transcript import Segment
    from voicereport.web.site import Site

Tell = Callable[[dict[str, Any]], None]
_log = logging.getLogger("voicereport.hearing")
_RATE_HZ = 16_000
_LATE_S = 10.0  #: behind by more than that, the tool does not speak up: its moment is over
_LEFT_S = 900.0  #: without a piece for so long, a session is put away; its journal stays
_LINES = 4  #: of what was heard, shown
_EARS = 200  #: pieces heard only, that may wait


class Desk:
    """All recordings that are listened to in this process. The recogniser is loaded once, by the first of them."""

    def __init__(self, site: Site, *, most: int = 8) -> None:
        self._site = site
        self._most = most  #: sessions at a time; further recordings are kept and understood afterwards
        self._hearings: dict[str, Hearing] = {}
        self._lock = threading.Lock()
        self._loading = threading.Lock()
        self._recogniser: LoadedRecogniser | None = None

    def listen(self, upload: str, job: Job, tell: Tell) -> None:
        """Listen to a recording, or go on; what is understood is told to `tell`, from another thread."""
        with self._lock:
            found = self._hearings.get(upload)
            if found is None or not found.alive:
                if sum(one.alive for one in self._hearings.values()) >= self._most:
                    tell({"live": True, "recording": upload, "off": True})
                    return
                found = Hearing(self._site, upload, job, self._load)
                self._hearings[upload] = found
        found.follow(tell)

    def arrived(self, upload: str, seconds: float, *, number: int, ear: bytes = b"") -> None:
        """A piece is in the store. seconds: of the recording that are there. ear: what was heard and is not kept."""
        found = self._hearings.get(upload)
        if found is not None:
            found.arrived(seconds, number, ear)

    def hearing(self, upload: str) -> Hearing | None:
        """The recording's session, where there is one."""
        return self._hearings.get(upload)

    def leave(self, upload: str, tell: Tell) -> None:
        """The one that was told is gone; the session goes on."""
        found = self._hearings.get(upload)
        if found is not None:
            found.leave(tell)

    def close(self, upload: str) -> tuple[str, ...]:
        """The recording is whole: the session ends. Gives the lines of its record: requests, prompts, answers."""
        with self._lock:
            found = self._hearings.pop(upload, None)
        if found is not None:
            found.stop()
            found.join()
        path = journal_path(self._site, upload)
        lines = _record_of(path)
        path.unlink(missing_ok=True)
        return lines

    def stop(self) -> None:
        """End all sessions; their journals stay."""
        for one in list(self._hearings.values()):
            one.stop()
        for one in list(self._hearings.values()):
            one.join()

    def _load(self, settings: Settings) -> LoadedRecogniser:
        from voicereport.live import open_recogniser

        with self._loading:
            if self._recogniser is None:
                self._recogniser = open_recogniser(settings)
            return self._recogniser


class _Turns:
    """The recogniser of all sessions; one at a time, since it takes all of the processor."""

    _turn = threading.Lock()

    def __init__(self, recogniser: LoadedRecogniser) -> None:
        self._recogniser = recogniser

    @property
    def engine(self) -> str:
        return self._recogniser.engine

    @property
    def model(self) -> str:
        return self._recogniser.model

    def words(self, samples: Any, start: float, *, well: bool = False) -> tuple[Segment, ...]:
        with self._turn:
            return self._recogniser.words(samples, start, well=well)

    def second_look(self, samples: Any, start: float, segments: Sequence[Segment]) -> tuple[Segment, ...]:
        with self._turn:
            return self._recogniser.second_look(samples, start, segments)


class Hearing:
    """One recording, listened to on a thread of its own."""

    def __init__(self, site: Site, upload: str, job: Job, load: Callable[[Settings], LoadedRecogniser]) -> None:
        self._site, self._upload, self._job, self._load = site, upload, job, load
        self._tells: list[Tell] = []
        self._ears: dict[int, bytes] = {}
        self._there_s = 0.0  #: seconds of the recording that are in the store
        self._last: dict[str, Any] = {"live": True, "recording": upload, "loading": True}
        self._more = threading.Event()
        self._stopped = False
        self._requests: list[tuple[str, tuple[Any, ...]]] = []
        self._thread = threading.Thread(target=self._run, name="voicereport-hearing", daemon=True)
        self._thread.start()

    @property
    def alive(self) -> bool:
        """Whether it still listens."""
        return self._thread.is_alive()

    def follow(self, tell: Tell) -> None:
        """Tell what is understood from now on, and how it stands."""
        self._tells = [*self._tells, tell]
        tell({**self._last, "events": []})

    def leave(self, tell: Tell) -> None:
        """Tell no more."""
        self._tells = [one for one in self._tells if one is not tell]

    def arrived(self, seconds: float, number: int, ear: bytes) -> None:
        """A piece is in the store."""
        self._there_s = max(self._there_s, seconds)
        if ear and len(self._ears) < _EARS:
            self._ears[number] = ear
        self._more.set()

    def spoke(self, text: str, start: float, end: float) -> None:
        """The phone spoke `text`; what the microphone heard of it is no part of the job."""
        self._requests.append(("spoke", (text, start, end)))
        self._more.set()

    def listen_again(self) -> None:
        """The person touched the page: listening goes on."""
        self._requests.append(("start", ()))
        self._more.set()

    def stop(self) -> None:
        """End soon."""
        self._stopped = True
        self._more.set()

    def join(self, seconds: float = 20.0) -> None:
        """Wait for the end."""
        self._thread.join(seconds)

    def _run(self) -> None:
        try:
            self._listen(self._session())
        except VoiceReportError as error:
            _log.warning("nothing is understood live: %s", error)
            self._tell({"live": True, "recording": self._upload, "off": True})
        except Exception as error:  # the recording itself is safe; its report is made afterwards
            place = traceback.extract_tb(error.__traceback__)[-1]  # its message may hold spoken words
            _log.error("listening ended by a fault: %s, %s:%s", type(error).__name__, place.name, place.lineno)
            self._tell({"live": True, "recording": self._upload, "off": True})

    def _session(self) -> Session:
        from voicereport.live import Session, load_phrases
        from voicereport.trades import load_trade

        company = self._site.company.get()
        settings = settings_for(self._site.settings, company, self._job.trade)
        trade = company.own_trade(load_trade(settings.trade))
        session = Session(trade=trade, settings=settings, phrases=load_phrases(),
                          recogniser=_Turns(self._load(settings)))  # fmt: skip
        session.warm_up()
        return session

    def _listen(self, session: Session) -> None:
        from voicereport.live.record import Journal

        path = journal_path(self._site, self._upload)
        path.parent.mkdir(parents=True, exist_ok=True)
        skip = self._restored(session, path)
        journal = Journal(path)
        keeper = _Keeper(journal, session)
        number, idle = 1, 0.0
        try:
            while not (self._stopped or session.finished):
                self._more.clear()  # before the look: what arrives after it is not missed
                data = self._site.store.recordings.piece(self._upload, number)
                if data is None:
                    self._do(session)
                    idle = 0.0 if self._more.wait(1.0) else idle + 1.0
                    if idle >= _LEFT_S:
                        return
                    continue
                data, number = self._ears.pop(number, data), number + 1
                if skip >= len(data):
                    skip -= len(data)
                    continue
                self._do(session)
                session.ask = self._there_s - session.at < _LATE_S
                for events in session.hearing(_floats(data[skip:])):
                    keeper.keep(events)
                    if events:
                        self._told(session, events)
                skip = 0
                self._told(session, ())
        finally:
            keeper.keep(())
            journal.close()

    def _restored(self, session: Session, path: Path) -> int:
        """Take up what an earlier session had settled; gives the bytes of sound that it need not hear again."""
        from voicereport.live.record import read_journal

        if path.is_file():
            _mend(path)
            kept = read_journal(path)
            session.restore(kept.said, kept.dropped, kept.settled_to)
        self._told(session, ())
        return 2 * round(session.at * _RATE_HZ)

    def _do(self, session: Session) -> None:
        requests, self._requests = self._requests, []
        for what, values in requests:
            if what == "spoke":
                session.spoke(*values)
            elif not session.listening:
                self._told(session, (session.start(),))

    def _told(self, session: Session, events: tuple[Event, ...]) -> None:
        from voicereport.live.events import as_json

        behind = max(0.0, self._there_s - session.at)
        before = self._last
        message = {"live": True, "recording": self._upload, "at": round(session.at, 2), "behind": round(behind, 1),
                   "listening": session.listening}  # fmt: skip
        if not events and "board" in before:
            if int(before["at"] / 2) == int(session.at / 2):
                return
            message["board"] = before["board"]
        else:
            message["board"] = board_of(session)
        self._last = message
        self._tell(message | {"events": [as_json(event) for event in events]})

    def _tell(self, message: dict[str, Any]) -> None:
        self._last = {key: value for key, value in message.items() if key != "events"}
        for tell in self._tells:
            tell(message)


class _Keeper:
    """Writes events, and what they settled, into the journal."""

    def __init__(self, journal: Any, session: Session) -> None:
        self._journal, self._session = journal, session
        self._written: tuple[Said, ...] = tuple(session.settled)
        self._dropped = len(session.dropped)

    def keep(self, events: tuple[Event, ...]) -> None:
        from voicereport.live.events import as_json
        from voicereport.live.record import settled_row

        session = self._session
        for event in events:
            self._journal.write(as_json(event))
        settled = tuple(session.settled)
        if settled != self._written or len(session.dropped) != self._dropped:
            same = 0
            for one, other in zip(self._written, settled, strict=False):
                if one != other:
                    break
                same += 1
            row = settled_row(settled[same:], tuple(session.dropped), session.settled_to)
            self._journal.write(row | {"from": same})
            self._written, self._dropped = settled, len(session.dropped)


def board_of(session: Session) -> dict[str, Any]:
    """What the page shows: the last lines heard, what is off, the checks that lack something."""
    from voicereport.live.changes import LACKING
    from voicereport.live.replies import open_items, spoken_item
    from voicereport.render.wording import load_wording

    report = session.report
    said = [one.segment for one in session.said if one.kind == "content" and one.segment.text][-_LINES:]
    lacking = (
        sorted((c for c in report.checks if c.state in LACKING), key=lambda c: c.severity != "stop") if report else []
    )
    word = load_wording().word
    return {
        "heard": [{"at": segment.start, "text": segment.text} for segment in said],
        "off": [spoken_item(item, session.phrases) for item in open_items(report)] if report else [],
        "lacking": [
            {"title": c.title, "stop": c.severity == "stop",
             "word": "" if c.state == "missing" else word("state", c.state).lower()}
            for c in lacking
        ],
    }  # fmt: skip


def journal_path(site: Site, upload: str) -> Path:
    """Where the journal of a recording on its way lies."""
    return site.store.files.folder / "live" / f"{digest(upload)}.jsonl"


def _record_of(path: Path) -> tuple[str, ...]:
    from voicereport.live.record import read_journal

    if not path.is_file():
        return ()
    with contextlib.suppress(VoiceReportError, OSError, ValueError, KeyError):
        return read_journal(path).dropped
    return ()


def _mend(path: Path) -> None:
    """Take away a last line that was cut off by the end of the process."""
    data = path.read_bytes()
    if data and not data.endswith(b"\n"):
        path.write_bytes(data[: data.rfind(b"\n") + 1])


def _floats(data: bytes) -> Any:
    import numpy as np

    return np.frombuffer(data[: len(data) // 2 * 2], "<i2").astype(np.float32) / np.float32(32768)
