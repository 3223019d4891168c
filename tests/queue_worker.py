"""A process that works through a store's queue until it is killed: URL FOLDER. It says "begin JOB" and "end JOB".

The worker is the real one; in place of hearing, it takes a moment and gives a report that names the recordings.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from store_kit import report

from voicereport.report import RecordingEntry, Report
from voicereport.settings import load_settings
from voicereport.store import open_store
from voicereport.store.values import Recording
from voicereport.web import create_app, work
from voicereport.web.options import WebOptions

LEASE_S = 2.0


def understood(recordings: Sequence[Recording]) -> Report:
    """A report of these recordings."""
    entries = tuple(
        RecordingEntry(name=f"{r.position}-{r.name}", sha256=r.sha256, duration_s=4, speech_s=2, visit=1, engine="none",
                       model="none", language="en") for r in recordings
    )  # fmt: skip
    return report(state="confirmed").model_copy(update={"recordings": entries})


def make_report(recordings: Sequence[Recording], settings: object, progress: Any = None, **more: Any) -> Report:
    print("begin", recordings[0].job_id, flush=True)
    time.sleep(random.uniform(0.02, 0.25))
    return understood(recordings)


if __name__ == "__main__":
    work.make_report = make_report
    folder = Path(sys.argv[2])
    store = open_store(sys.argv[1], folder)
    app = create_app(load_settings(environment={}), store, WebOptions(folder=folder))
    worker = work.Worker(app.state.site, lease_s=LEASE_S)
    print("ready", flush=True)
    while True:
        if not worker.run_once():
            time.sleep(0.05)
