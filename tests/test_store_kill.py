"""kill -9 in the middle of work: what was acknowledged is there, nothing is there twice, the trail is sound."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from store_kit import report

from voicereport.store import Store, open_store

pytest_plugins = ["store_fixtures"]

KILLS = 5
WORKERS = 2  #: that are killed at once


def killed(url: str, folder: Path, round_: int) -> list[list[str]]:
    """Starts workers, kills them at a random moment, gives the lines that they said whole.

    The moment comes after some lines, of which a job has eleven, and a little more: it does not hang on the machine.
    """
    wanted = random.randint(1, 12) if round_ else 25
    script = Path(__file__).with_name("store_worker.py")
    workers = [
        subprocess.Popen(
            [sys.executable, str(script), url, str(folder), str(round_ * 100 + n)], stdout=subprocess.PIPE, text=True
        )
        for n in range(WORKERS)
    ]
    try:
        for worker in workers:
            assert worker.stdout is not None
            assert worker.stdout.readline() == "ready\n"
        first = workers[0].stdout
        assert first is not None
        said = [first.readline().rstrip("\n") for _ in range(wanted)]
        time.sleep(random.uniform(0, 0.05))
    finally:
        for worker in workers:
            worker.send_signal(signal.SIGKILL)
    lines = [line.split() for line in said]
    for worker in workers:
        assert worker.stdout is not None
        lines += [line.split() for line in worker.stdout.read().split("\n")[:-1]]
        assert worker.wait() == -signal.SIGKILL
        worker.stdout.close()
    return lines


def missing(store: Store, lines: list[list[str]]) -> list[list[str]]:
    """What was acknowledged and is not there."""
    return [line for line in lines if not there(store, line)]


def there(store: Store, line: list[str]) -> bool:
    kind, owner, *rest = line
    if kind == "job":
        return store.jobs.get(int(owner)).technician == "tess"
    if kind == "recording":
        found = [r for r in store.recordings.of(int(owner)) if r.sha256 == rest[0]]
        return len(found) == 1 and found[0].path is not None and found[0].path.is_file()
    if kind == "piece":
        upload = store.recordings.upload(owner)
        return int(rest[0]) in upload.received or upload.recording is not None
    if kind == "task":
        return len(store.queue.of(int(owner))) == 1
    if kind == "version":
        return store.reports.get(int(owner), int(rest[0])).version == int(rest[0])
    return store.review.issues(int(owner))[0].number == int(rest[0])


def test_what_was_acknowledged_outlives_the_process(store: Store, url: str) -> None:
    folder = store.files.folder
    acknowledged: list[list[str]] = []
    for round_ in range(KILLS):
        acknowledged += killed(url, folder, round_)
        after = open_store(url, folder)
        assert missing(after, acknowledged) == []
        assert after.trail.verify(files=True, derived=True).faults == ()
        after.close()
    assert {line[0] for line in acknowledged} >= {"job", "recording", "piece", "task", "version"}
    later = datetime.now(UTC) + timedelta(seconds=60)
    while task := store.queue.claim("the next", now=later):  # what the dead left is done, once
        assert store.reports.save_result(task, report(), by="w", now=later, why="heard")
    for job in store.jobs.page(size=500).items:
        first = [v for v in store.reports.versions(job.id) if v.version == 1]
        assert len(first) == len(store.queue.of(job.id))
    assert store.trail.verify(files=True, derived=True).faults == ()
