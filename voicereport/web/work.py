"""The worker of this process: takes jobs from the queue, makes their reports, and keeps what people changed."""

from __future__ import annotations

import contextlib
import logging
import os
import re
import socket
import tempfile
import threading
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from voicereport.errors import VoiceReportError
from voicereport.pipeline import report_files
from voicereport.report import Report, Said
from voicereport.settings import Settings
from voicereport.store import StoreError
from voicereport.store.jobs import LARGEST_PAGE
from voicereport.store.values import SYSTEM, Job, JobFilter, Recording, Task
from voicereport.web.merge import carry_over
from voicereport.web.pages import say
from voicereport.web.recheck import rechecked, settings_for
from voicereport.web.site import Site

_log = logging.getLogger("voicereport.work")
_IDLE_S = 0.7  #: between looks at an empty queue
_LEASE_S = 60.0
_TRIES = 4  #: to save a report that people change at the same time
_BEAT_S = 10.0
_SWEEP_EVERY = timedelta(hours=1)
_TYPED = ("work_order", "customer", "site", "job_type")
_SUFFIXES = {
    "audio/wav": ".wav", "audio/ogg": ".ogg", "audio/flac": ".flac", "audio/mp4": ".m4a", "audio/3gpp": ".3gp",
    "audio/webm": ".webm", "audio/amr": ".amr", "audio/aiff": ".aiff", "audio/x-caf": ".caf", "audio/aac": ".aac",
    "audio/mpeg": ".mp3", "text/vtt": ".vtt", "application/x-subrip": ".srt", "application/json": ".json",
}  # fmt: skip


class Worker:
    """A thread that works through the queue until it is told to stop."""

    def __init__(self, site: Site, name: str | None = None, *, lease_s: float = _LEASE_S) -> None:
        """name: who holds a task; None = this machine and process. lease_s: so long after its end others take it."""
        self._site = site
        self._name = name or f"{socket.gethostname()}:{os.getpid()}"
        self._lease_s = lease_s
        self._swept: datetime | None = None
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="voicereport-worker", daemon=True)

    def start(self) -> None:
        """Begin to work."""
        self._thread.start()

    def stop(self, wait_s: float = 5.0) -> None:
        """Take no further job; what is at work is left to its lease."""
        self._stop.set()
        self._thread.join(wait_s)

    def run_once(self) -> bool:
        """Work on one job, if there is one; whether there was."""
        task = self._site.store.queue.claim(self._name, now=self._site.now(), lease_s=self._lease_s)
        if task is None:
            return False
        self._work(task)
        return True

    def sweep(self) -> None:
        """Delete the sound that is past the company's time, but where it is held; looked at once an hour."""
        days, now = self._site.company.get().keep_days, self._site.now()
        if days is None or (self._swept is not None and now - self._swept < _SWEEP_EVERY):
            return
        self._swept = now
        swept = self._site.store.retention.sweep(now=now, keep_days=days, by=SYSTEM)
        if swept.recordings:
            _log.info("the sound of %d recordings was past its time and is deleted", len(swept.recordings))

    def _run(self) -> None:
        try:
            self.take_up()
        except Exception:  # what was forgotten once is looked for again at the next start
            _log.exception("the worker met a fault")
        while not self._stop.is_set():
            try:
                worked = self.run_once()
                self.sweep()
            except Exception:  # the worker outlives whatever a job does to it
                _log.exception("the worker met a fault")
                worked = False
            if not worked:
                self._stop.wait(_IDLE_S)

    def take_up(self) -> None:
        """Put jobs into the queue that have recordings and wait for nothing: a process died when it had taken them."""
        store = self._site.store
        for job in store.jobs.page(JobFilter(states=("new",), order="oldest"), size=LARGEST_PAGE).items:
            if any(map(_is_heard, store.recordings.of(job.id))):
                store.queue.put(job.id, now=self._site.now(), by=SYSTEM)

    def _work(self, task: Task) -> None:
        store, now = self._site.store, self._site.now
        try:
            with _Beating(self._site, task, self._lease_s) as beating:
                seen = self._make(task, beating)
            if {r.id for r in self._heard(task)} - seen:  # came in after the look, and nobody put it
                store.queue.put(task.job_id, now=now(), by=SYSTEM)
        except VoiceReportError as error:
            name = error.place.rpartition("/")[2]  # of a recording, without the folder that it was worked on in
            told = f"{name} {error.problem}" + (f"; {error.remedy}" if error.remedy else "")
            overtaken = isinstance(error, StoreError) and error.kind == "conflict"
            store.queue.fail(task, told, now=now(), retry_at=now() + timedelta(seconds=5) if overtaken else None)
        except Exception as error:
            _log.error("job %d could not be worked on (%s)", task.job_id, type(error).__name__)
            if task.attempt < 3:
                retry = now() + timedelta(seconds=5 * task.attempt)
                store.queue.fail(task, type(error).__name__, now=now(), retry_at=retry)
            else:
                store.queue.fail(task, say("why", "fault", kind=type(error).__name__), now=now())

    def _make(self, task: Task, beating: _Beating) -> set[int]:
        """Make the report and save it; gives the ids of the recordings that were looked at.

        Where somebody changed the report meanwhile, it is understood anew on top of that; nothing is heard twice.
        """
        site = self._site
        recordings, made = self._heard(task), None
        for tries_left in reversed(range(_TRIES)):
            before = site.store.reports.latest(task.job_id)
            job, company = site.store.jobs.get(task.job_id), site.company.get()
            settings = settings_for(site.settings, company, job.trade)
            made = make_report(recordings, settings, beating.progress, earlier=before.report if before else None,
                               heard=made)  # fmt: skip
            report = rechecked(with_typed(made, job), company, settings)
            try:
                site.store.reports.save_result(task, report, by=SYSTEM, now=site.now(), why=say("why", "made"),
                                               expected=before.version if before else 0)  # fmt: skip
                break
            except StoreError as error:
                if error.kind != "conflict" or not tries_left:
                    raise
        return {r.id for r in recordings}

    def _heard(self, task: Task) -> list[Recording]:
        return [r for r in self._site.store.recordings.of(task.job_id) if _is_heard(r)]


def _is_heard(recording: Recording) -> bool:
    """Whether there is something to be understood: it is still kept, and no photo."""
    return recording.path is not None and not recording.media_type.startswith("image/")


class _Beating:
    """Keeps the lease of a task alive, and its progress told, while the work goes on."""

    def __init__(self, site: Site, task: Task, lease_s: float) -> None:
        self._site, self._task, self._lease_s = site, task, lease_s
        self._state = (say("work", "starting"), 0.0)
        self._done = threading.Event()
        self._told = ("", 0.0)
        self._thread = threading.Thread(target=self._beat, daemon=True)

    def __enter__(self) -> _Beating:
        self._thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._done.set()
        self._thread.join()

    def progress(self, what: str, share: float) -> None:
        """What is being done and how much of it is done, 0..1."""
        self._state = (what, share)

    def _beat(self) -> None:
        every = min(_BEAT_S, self._lease_s / 4)
        waited = every
        while True:
            what, share = self._state
            if waited >= every or what != self._told[0] or abs(share - self._told[1]) >= 0.02:
                self._told, waited = (what, share), 0.0
                with contextlib.suppress(VoiceReportError):
                    self._site.store.queue.beat(self._task, now=self._site.now(), progress=share, what=what,
                                                lease_s=self._lease_s)  # fmt: skip
            if self._done.wait(min(1.0, every)):
                return
            waited += min(1.0, every)


def make_report(
    recordings: Sequence[Recording],
    settings: Settings,
    progress: object = None,
    *,
    earlier: Report | None = None,
    heard: Report | None = None,
) -> Report:
    """The report of a job's recordings. What an earlier report heard is not heard again, and what people changed
    in it is carried over.

    heard: another report of these recordings, for its words only. Raises AudioError or TranscriptError for a recording
    that cannot be used.
    """
    known = {entry.sha256 for entry in earlier.recordings} if earlier else set()
    fresh = [r for r in recordings if r.sha256 not in known]
    words = None if heard is None else _only(heard, {r.sha256 for r in fresh}, earlier)
    if not recordings:
        raise VoiceReportError(say("work", "place"), say("work", "nothing"), say("work", "nothing_remedy"))
    with tempfile.TemporaryDirectory(prefix="voicereport-") as folder:
        files: list[Path] = []
        visits: list[int] = []
        for name, report in (("earlier", earlier), ("heard", words)):
            if report is not None and report.recordings:
                path = Path(folder) / f"{name}.json"
                path.write_text(report.model_dump_json(), encoding="utf-8")
                files.append(path)
                visits += [entry.visit for entry in report.recordings]
                fresh = [r for r in fresh if r.sha256 not in {entry.sha256 for entry in report.recordings}]
        for place, recording in enumerate(fresh):
            files.append(_named(Path(folder) / str(place), recording))
        told = _visits(visits, fresh)
        made = report_files(files, settings, progress, visits=told)  # type: ignore[arg-type]
    return made if earlier is None else carry_over(earlier, made)


def _only(report: Report, digests: set[str], earlier: Report | None) -> Report:
    """A report's recordings of these digests and their words, without those that it has of `earlier`."""
    kept = tuple(entry for entry in report.recordings if entry.sha256 in digests)
    names = {entry.name for entry in kept}
    segments = tuple(s for s in report.transcript.segments if s.recording in names)
    told = () if earlier is None else earlier.transcript.dropped
    dropped = tuple(words for words in report.transcript.dropped if words not in told)
    transcript = report.transcript.model_copy(update={"segments": segments, "dropped": dropped})
    return report.model_copy(update={"recordings": kept, "transcript": transcript})


def with_typed(report: Report, job: Job) -> Report:
    """The report with what was typed about the job before anything was said, where nothing was said about it."""
    at = job.created_at.isoformat()

    def said(heard: Said[str] | None, typed: str | None) -> Said[str] | None:
        return heard if heard is not None or not typed else Said[str](value=typed, entered_by=job.technician,
                                                                      entered_at=at)  # fmt: skip

    plate = report.job.appliance
    appliance = plate.model_copy(update={
        "kind": said(plate.kind, job.appliance_kind), "maker": said(plate.maker, job.maker),
        "model": said(plate.model, job.model), "serial": said(plate.serial, job.serial),
    })  # fmt: skip
    typed = {name: said(getattr(report.job, name), getattr(job, name)) for name in _TYPED}
    technician = said(report.job.technician, job.technician_name)
    known = report.job.model_copy(update=typed | {"appliance": appliance, "technician": technician})
    return report.model_copy(update={"job": known})


def _visits(before: list[int], fresh: Sequence[Recording]) -> list[int] | None:
    """The visit of every recording, or None to let the pipeline decide. A recording without one is of a new visit
    where the job is known already."""
    if not before and all(r.visit is None for r in fresh):
        return None
    visits = list(before)
    for recording in fresh:
        latest = visits[-1] if visits else 0
        wanted = recording.visit if recording.visit is not None else latest + 1
        visits.append(min(max(wanted, latest or 1), latest + 1))
    return visits


def _named(folder: Path, recording: Recording) -> Path:
    """A link to a recording under the name that its sender gave it: the record names it so."""
    folder.mkdir()
    stem = re.sub(r"[/\\\0]", "_", recording.name).strip(". ") or "recording"
    suffix = _SUFFIXES.get(recording.media_type, ".bin")
    bare = stem.rsplit(".", 1)[0] if "." in stem else stem
    plain = stem if stem.lower().endswith(suffix) else bare + suffix
    while len(plain.encode()) > 200:
        plain = plain[1:]
    link = folder / plain
    if recording.path is not None:
        link.symlink_to(recording.path.resolve())
    return link
