"""A process that works on a store until it is killed, and says what was acknowledged, one line each."""

from __future__ import annotations

import hashlib
import io
import random
import sys
from datetime import UTC, datetime
from pathlib import Path

from store_kit import report

from voicereport.store import Store, open_store
from voicereport.store.values import Edit, NewJob


def work(store: Store, seed: int) -> None:
    """One job after the other, through all that can be acknowledged."""
    random_ = random.Random(seed)
    n = 0
    while True:
        n += 1
        now = datetime.now(UTC)
        job = store.jobs.create(NewJob(technician="tess", key=f"{seed}-{n}"), by="tess", now=now)
        say("job", job.id)
        sound = random_.randbytes(random_.randint(1, 200_000))
        recording = store.recordings.add(job.id, "x.ogg", io.BytesIO(sound), media_type="audio/ogg", by="tess", now=now)
        say("recording", job.id, recording.sha256)
        pieces = [random_.randbytes(2000) for _ in range(3)]
        upload = store.recordings.start(job.id, "y.ogg", media_type="audio/ogg", by="tess", now=now)
        for number, piece in enumerate(pieces):
            store.recordings.put_piece(upload.id, number, piece, hashlib.sha256(piece).hexdigest(), now=now)
            say("piece", upload.id, number)
        sealed = store.recordings.seal(upload.id, 3, None, by="tess", now=now)
        say("recording", job.id, sealed.sha256)
        store.queue.put(job.id, by="tess", now=now)
        say("task", job.id)
        task = store.queue.claim(f"worker {seed}", now=now)
        if task is not None and store.reports.save_result(
            task, report(state="confirmed"), by="w", now=now, why="heard"
        ):
            say("version", task.job_id, 1)
        if store.jobs.get(job.id).version == 1:
            edit = Edit(kind="add", path="/findings/-", value=f"finding {n}", why="seen")
            store.reports.edit(job.id, [edit], expected=1, by="otto", now=now)
            say("version", job.id, 2)
            store.review.accept(job.id, expected=2, by="sue", now=now)
            say("version", job.id, 3)
            store.review.issue(job.id, by="otto", now=now, documents={"a.pdf": f"{seed} {n}".encode()})
            say("issue", job.id, 1)


def say(*words: object) -> None:
    """What the store has acknowledged."""
    print(*words, flush=True)


if __name__ == "__main__":
    opened = open_store(sys.argv[1], Path(sys.argv[2]))
    print("ready", flush=True)
    work(opened, int(sys.argv[3]))
