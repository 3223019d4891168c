"""A site for the tests of the pages: a store with people and jobs, a clock that is set, clients that are signed in."""

from __future__ import annotations

import io
import re
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from starlette.testclient import TestClient

from voicereport.report import Report
from voicereport.settings import load_settings
from voicereport.store import Store, open_store
from voicereport.store.values import SYSTEM, Job, NewJob
from voicereport.web import create_app
from voicereport.web.options import WebOptions
from voicereport.web.passwords import hashed
from voicereport.web.work import Worker

DATA = Path(__file__).parent / "data" / "render"
PASSWORD = "plum tarpaulin lantern"
HASHED = hashed(PASSWORD)
PEOPLE = {
    "ada": ("Ada Vennmoor", "administrator"),
    "otto": ("Otto Farrowby", "office"),
    "sina": ("Sina Quillhart", "supervisor"),
    "tarn": ("Tarn Brackwell", "technician"),
    "una": ("Una Holmstead", "technician"),
}
BY_ROLE = {"administrator": "ada", "office": "otto", "supervisor": "sina", "technician": "tarn"}
FAULTY = """WEBVTT

1
00:00.000 --> 00:05.000
Work order four four one seven. Upright freezer, model QF four four one, serial number B seven seven two nine.
Customer says it is warm.

2
00:06.000 --> 00:11.000
Took the rear panel off, six screws out.

3
00:12.000 --> 00:18.000
Unplugged the fan motor harness. Fan motor reads forty eight ohms.

4
00:19.000 --> 00:26.000
The cause is a seized evaporator fan motor. Fitted a new evaporator fan motor.

5
00:27.000 --> 00:34.000
Rear panel is back on, six screws in. Labour was fifty minutes.
"""


@dataclass(kw_only=True)
class Site:
    """A running site."""

    app: FastAPI
    store: Store
    folder: Path
    now: datetime = field(default_factory=lambda: datetime(2026, 3, 9, 9, 12, tzinfo=UTC))

    def client(self) -> TestClient:
        """A browser that nobody has signed in with."""
        return TestClient(self.app, base_url="http://127.0.0.1", follow_redirects=False)

    def signed_in(self, login: str) -> Browser:
        """A browser of that person."""
        browser = Browser(client=self.client())
        browser.sign_in(login)
        return browser

    def role(self, role: str) -> Browser:
        """A browser of somebody with that role."""
        return self.signed_in(BY_ROLE[role])

    def later(self, **span: float) -> None:
        """The clock goes on."""
        self.now += timedelta(**span)

    def job(self, report: Report | None = None, *, technician: str = "tarn", **known: Any) -> Job:
        """A job, with its report where one is given."""
        job = self.store.jobs.create(NewJob(technician=technician, **known), by=technician, now=self.now)
        if report is not None:
            self.store.reports.save(job.id, report, by=SYSTEM, now=self.now, why="made from the recordings")
        return self.store.jobs.get(job.id)

    def work(self) -> None:
        """The worker does all that waits."""
        worker = Worker(self.app.state.site)
        while worker.run_once():
            pass


@dataclass(kw_only=True)
class Browser:
    """A client that fills in forms with the token of its session."""

    client: TestClient
    token: str = ""

    def sign_in(self, login: str, password: str = PASSWORD) -> Any:
        """The sign-in page, filled in and sent."""
        form = self.client.get("/signin").text
        token = hidden(form, "token")
        answer = self.client.post("/signin", data={"login": login, "password": password, "token": token, "next": "/me"})
        if answer.status_code == 303:
            self.token = hidden(self.client.get("/me").text, "token")
        return answer

    def get(self, path: str, **options: Any) -> Any:
        """A page."""
        return self.client.get(path, **options)

    def post(self, path: str, data: dict[str, Any] | None = None, **options: Any) -> Any:
        """A form."""
        return self.client.post(path, data={"token": self.token, **(data or {})}, **options)

    def upload(self, name: str, content: bytes, path: str = "/jobs/new", **fields: str) -> Any:
        """A file."""
        return self.post(path, {"technician": "tarn", **fields}, files={"files": (name, io.BytesIO(content))})


def hidden(page: str, name: str) -> str:
    """The value of a hidden field."""
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found is not None, page[:500]
    return found[1]


@contextmanager
def running(folder: Path, **options: Any) -> Iterator[Site]:
    """A site with everybody of PEOPLE, its files in `folder`."""
    store = open_store(f"sqlite:///{folder / 'store.db'}", folder)
    site: Site
    usual = {"requests_a_minute": 100_000, "sign_ins_a_minute": 10_000}
    web = WebOptions(folder=folder, clock=lambda: site.now, **{**usual, **options})
    site = Site(app=create_app(load_settings(environment={}), store, web), store=store, folder=folder)
    first, *rest = PEOPLE.items()
    store.people.set_up_first(first[0], first[1][0], HASHED, now=site.now)
    for login, (name, role) in rest:
        store.people.add(login, name, role, by=first[0], now=site.now, password_hash=HASHED)  # type: ignore[arg-type]
    try:
        yield site
    finally:
        store.close()


def sample(name: str) -> Report:
    """One of the reports that the renderings are tested with."""
    return Report.model_validate_json((DATA / f"{name}.json").read_text(encoding="utf-8"))


@contextmanager
def served(site: Site, *, work: bool = False) -> Iterator[str]:
    """The site on a port of its own; its address."""
    import uvicorn

    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(site.app, log_level="error", ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    worker = Worker(site.app.state.site)
    if work:
        worker.start()
    while not server.started:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    if work:
        worker.stop()
    server.should_exit = True
    thread.join(10)
    listening.close()


def signed_in(browser: Any, address: str, login: str, **options: Any) -> Any:
    """A window of that person's."""
    context = browser.new_context(**options)
    page = context.new_page()
    if login:
        page.goto(f"{address}/signin")
        page.fill("#login", login)
        page.fill("#password", PASSWORD)
        page.keyboard.press("Enter")
        page.wait_for_url(lambda url: "/signin" not in url)
    return page
