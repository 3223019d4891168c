"""Several worker processes on one store, some of them killed: every job is done once, and none is lost."""

from __future__ import annotations

import io
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from queue_worker import understood
from store_kit import NOW, later
from test_store_queue import run_all

from voicereport.store import Store
from voicereport.store.values import NewJob, Recording

pytest_plugins = ["store_fixtures"]

JOBS = 14
KILLS = 4


class Workers:
    """Two worker processes and what they have begun."""

    def __init__(self, url: str, folder: Path) -> None:
        self._arguments = [sys.executable, str(Path(__file__).with_name("queue_worker.py")), url, str(folder)]
        self.begun: list[str] = []
        self._listeners: list[threading.Thread] = []
        self.running = [self._start(), self._start()]

    def _start(self) -> subprocess.Popen[str]:
        process = subprocess.Popen(self._arguments, stdout=subprocess.PIPE, text=True)
        listener = threading.Thread(target=self._listen, args=(process,), daemon=True)
        listener.start()
        self._listeners.append(listener)
        return process

    def _listen(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        with process.stdout as said:
            for line in said:
                if line.startswith("begin"):
                    self.begun.append(line.split()[1])

    def kill_one(self, *, replaced: bool = True) -> None:
        """kill -9 in the middle of somebody's work."""
        victim = self.running.pop(random.randrange(len(self.running)))
        victim.send_signal(signal.SIGKILL)
        victim.wait()
        if replaced:
            self.running.append(self._start())

    def end(self) -> None:
        for process in self.running:
            process.send_signal(signal.SIGKILL)
            process.wait()
        for listener in self._listeners:
            listener.join()


@pytest.fixture
def workers(store: Store, url: str) -> Iterator[Workers]:
    made = Workers(url, store.files.folder)
    yield made
    made.end()


def until(met: object, seconds: float = 60) -> None:
    """Waits until `met` gives true."""
    end = time.monotonic() + seconds
    while not met():  # type: ignore[operator]
        assert time.monotonic() < end
        time.sleep(0.05)


def recording(store: Store, job_id: int, content: bytes) -> Recording:
    return store.recordings.add(job_id, "x.ogg", io.BytesIO(content), media_type="audio/ogg", by="tess", now=NOW)


def put(store: Store) -> int:
    job = store.jobs.create(NewJob(technician="tess"), by="tess", now=NOW)
    recording(store, job.id, f"OggS{job.id}".encode())
    store.queue.put(job.id, by="tess", now=NOW)
    return job.id


def test_no_job_is_done_twice_and_none_is_lost_when_workers_are_killed(store: Store, workers: Workers) -> None:
    ids = [put(store) for _ in range(JOBS)]
    for n in range(1, KILLS + 1):
        until(lambda n=n: len(workers.begun) >= 2 * n)
        time.sleep(random.uniform(0, 0.2))
        workers.kill_one()
    until(lambda: not store.queue.open())
    for job_id in ids:
        assert [v.version for v in store.reports.versions(job_id)] == [1]
        assert store.jobs.get(job_id).state == "ready"
        assert [task.state for task in store.queue.of(job_id)] == ["done"]
    # only the tasks of the dead were given anew: nobody takes one from a worker that lives
    again = sum(task.attempt - 1 for job_id in ids for task in store.queue.of(job_id))
    assert again <= KILLS
    assert store.trail.verify(files=True, derived=True).faults == ()


def test_the_last_worker_does_what_the_dead_one_left(store: Store, workers: Workers) -> None:
    ids = [put(store) for _ in range(4)]
    until(lambda: len(workers.begun) >= 2)
    workers.kill_one(replaced=False)
    until(lambda: not store.queue.open())
    assert [store.jobs.get(job_id).version for job_id in ids] == [1] * 4


def test_a_recording_that_comes_in_while_its_job_is_at_work_is_taken_up(store: Store) -> None:
    """Whatever the order of sealing, putting and ending: at the end all recordings are in the latest report."""
    job_id = put(store)
    done = threading.Event()

    def bring_in() -> None:
        for n in range(12):
            recording(store, job_id, f"OggS more {n}".encode())
            time.sleep(random.uniform(0, 0.01))
            store.queue.put(job_id, by="tess", now=NOW)
            time.sleep(random.uniform(0, 0.02))
        done.set()

    def work(name: str) -> None:
        while not done.is_set() or store.queue.open():
            task = store.queue.claim(name, now=later(1))
            if task is None:
                time.sleep(0.002)
                continue
            made = understood(store.recordings.of(job_id))
            time.sleep(random.uniform(0, 0.01))
            assert store.reports.save_result(task, made, by="w", now=NOW, why="heard") is not None

    run_all([bring_in, lambda: work("w1"), lambda: work("w2")])
    latest = store.reports.latest(job_id)
    assert latest is not None
    assert {r.sha256 for r in latest.report.recordings} == {r.sha256 for r in store.recordings.of(job_id)}
    assert store.jobs.get(job_id).state == "ready"
