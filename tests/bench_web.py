"""Times of the list, search and overview pages over a store with many reports. Not a test; run it by hand:

python tests/bench_web.py FOLDER [COUNT]   an empty FOLDER is filled with COUNT invented reports; then it is measured
"""

from __future__ import annotations

import resource
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from urllib.parse import urlencode

from starlette.testclient import TestClient
from web_site import HASHED, PASSWORD, hidden

from voicereport.evaluation.store_fill import fill
from voicereport.settings import load_settings
from voicereport.store import Store, address, open_store
from voicereport.store.values import SYSTEM, JobFilter
from voicereport.web import create_app
from voicereport.web.options import WebOptions

LOGIN = "page-bench"
PAGES = (
    "/jobs", "/jobs?show=review", "/jobs?show=all&page=40", "/search?words=evaporator+fan", "/search?words=humming",
    "/search?part=fan+motor", "/search?quantity=temperature&low=-20&high=-10&unit=Cel", "/search?appliance=SN01",
    "/search?since=2024-01-01&until=2024-02-01", "/appliances", "/appliances?q=SN0042", "/oversight",
    "/oversight/checks", "/oversight/checks/power-isolated", "/oversight/repeats", "/trail",
)  # fmt: skip


def prepare(store: Store, count: int, now: datetime) -> None:
    """Reports up to `count`, where the store is empty; and somebody to look at them."""
    if store.jobs.page(JobFilter(), size=1).total == 0:
        fill(store, count, trade=load_settings(environment={}).trade, now=now)
    if LOGIN not in {person.login for person in store.people.list()}:
        store.people.add(LOGIN, "Ada Vennmoor", "administrator", by=SYSTEM, now=now, password_hash=HASHED)


def measure(store: Store, folder: Path, now: datetime) -> None:
    """Each page twenty times; half and 95 of 100 of the answers came within what is printed."""
    options = WebOptions(folder=folder, clock=lambda: now, requests_a_minute=100_000)
    app = create_app(load_settings(environment={}), store, options)
    client = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False)
    token = hidden(client.get("/signin").text, "token")
    client.post("/signin", data={"login": LOGIN, "password": PASSWORD, "token": token, "next": "/me"})
    total = store.jobs.page(JobFilter(), size=1).total
    known = store.jobs.appliances(limit=1)
    plates = [f"/appliances/plate?{urlencode({'serial': plate.serial})}" for plate in known]
    print(f"{total} jobs")
    for path in (*PAGES, *plates, f"/jobs/{total}"):
        times = []
        for _ in range(20):
            before = time.monotonic()
            answer = client.get(path)
            times.append(time.monotonic() - before)
            assert answer.status_code == 200, (path, answer.status_code)
        times.sort()
        print(f"{path:60} median {median(times) * 1000:6.0f} ms   95 % {times[18] * 1000:6.0f} ms", flush=True)
    print(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000:.0f} MB")


if __name__ == "__main__":
    where = Path(sys.argv[1])
    where.mkdir(parents=True, exist_ok=True)
    moment = datetime.now(UTC)
    opened = open_store(address(where, None), where)
    prepare(opened, int(sys.argv[2]) if len(sys.argv) > 2 else 1000, moment)
    measure(opened, where, moment)
    opened.close()
