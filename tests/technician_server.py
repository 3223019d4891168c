"""A server of its own process for the tests of the technician's page, so that it can be killed: FOLDER PORT MODE.

MODE "deaf" listens to nothing, "scripted" tells what SCRIPT says, "live" listens with the real weights.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import uvicorn
from web_site import HASHED, PEOPLE

from voicereport.settings import load_settings
from voicereport.store import open_store
from voicereport.web import create_app
from voicereport.web.options import WebOptions, utc_now

BOARD = {
    "heard": [{"at": 1.0, "text": "The customer says the freezer is warm."},
              {"at": 2.2, "text": "Took the rear panel off, six screws out."}],
    "off": ["6 screws of the rear panel", "rear panel", "fan connector", "3 baskets"],
    "lacking": [{"title": "Supply off", "stop": True, "word": "out of order"},
                {"title": "Tested dead", "stop": True, "word": ""},
                {"title": "Cause recorded", "stop": False, "word": ""},
                {"title": "Operation verified", "stop": False, "word": ""}],
}  # fmt: skip
WARNING, DOUBT = "Is the plug out? Say so first.", "15 or 50? Say it again."
SCRIPT: dict[int, list[dict[str, Any]]] = {  # by number of the piece after which it is told
    4: [
        {"event": "prompt", "kind": "warning", "about": "power-isolated", "text": WARNING, "aloud": True, "at": 2.2},
        {"event": "prompt", "kind": "doubt", "about": "15 ohms", "text": DOUBT, "aloud": True, "at": 2.2},
    ],
    8: [{"event": "listening", "on": False, "at": 3.9}],
}


class Scripted:
    """Stands in for the desk."""

    def __init__(self, folder: Path) -> None:
        self._tells: dict[str, Callable[[dict[str, Any]], None]] = {}
        self._folder = folder

    def listen(self, upload: str, job: object, tell: Callable[[dict[str, Any]], None]) -> None:
        self._tells[upload] = tell

    def arrived(self, upload: str, seconds: float, *, number: int, ear: bytes = b"") -> None:
        if ear:
            with (self._folder / "ear.raw").open("ab") as file:
                file.write(ear)
        if number in SCRIPT and upload in self._tells:
            self._tells[upload]({"live": True, "recording": upload, "at": seconds, "behind": 0.0, "board": BOARD,
                                 "events": SCRIPT[number]})  # fmt: skip

    def hearing(self, upload: str) -> Scripted:
        return self

    def spoke(self, text: str, start: float, end: float) -> None:
        (self._folder / "spoke.txt").write_text(f"{text}|{start}|{end}", encoding="utf-8")

    def listen_again(self) -> None:
        (self._folder / "again.txt").touch()

    def leave(self, upload: str, tell: object) -> None:
        self._tells.pop(upload, None)

    def close(self, upload: str) -> tuple[str, ...]:
        return ("0:02 The tool asked",)


def main(folder: Path, port: int, mode: str) -> None:
    """Serve until killed."""
    store = open_store(f"sqlite:///{folder / 'store.db'}", folder)
    if not store.people.any():
        first, *rest = PEOPLE.items()
        store.people.set_up_first(first[0], first[1][0], HASHED, now=utc_now())
        for login, (name, role) in rest:
            store.people.add(login, name, role, by=first[0], now=utc_now(), password_hash=HASHED)  # type: ignore[arg-type]
    options = WebOptions(folder=folder, requests_a_minute=100_000, sign_ins_a_minute=1000)
    app = create_app(load_settings(environment={}), store, options)
    if mode != "live":
        app.state.hearing = Scripted(folder) if mode == "scripted" else None
    uvicorn.run(app, host="127.0.0.1", port=port, log_level="warning", access_log=False, ws_max_size=4_000_000)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3])
