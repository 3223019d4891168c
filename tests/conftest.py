"""Fixtures that several test files share."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from voicereport.requests import Phrases
    from voicereport.settings import Settings

ROOT = Path(__file__).resolve().parent.parent

BROWSER = shutil.which("chromium")

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture(autouse=True)
def no_settings_of_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """Settings in the environment of whoever runs the tests do not reach them."""
    for name in [name for name in os.environ if name.startswith("VOICEREPORT_") and name != "VOICEREPORT_CACHE"]:
        monkeypatch.delenv(name)


@pytest.fixture(autouse=True)
def clock_of_no_place(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Times are shown as they are in UTC, wherever the tests run."""
    with monkeypatch.context() as here:
        here.setenv("TZ", "UTC")
        time.tzset()
        yield
    time.tzset()


@pytest.fixture(autouse=True)
def processes_run_this_code(monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that a test starts imports the package that the test imports."""
    import voicereport as package

    monkeypatch.setenv("PYTHONPATH", str(Path(package.__file__).resolve().parent.parent))


@pytest.fixture
def voicereport(tmp_path: Path) -> Run:
    """Runs the program in a process of its own, in an empty folder: voicereport("report", "x.vtt") -> its outcome."""

    def run(*arguments: str | Path, given: str | None = None, **environment: str) -> subprocess.CompletedProcess[str]:
        own = {name: value for name, value in os.environ.items() if not name.startswith("VOICEREPORT_")}
        own |= {"VOICEREPORT_HOME": str(tmp_path / "home"), "NO_COLOR": "1"} | environment
        if "VOICEREPORT_CACHE" in os.environ:
            own["VOICEREPORT_CACHE"] = os.environ["VOICEREPORT_CACHE"]
        command = [sys.executable, "-m", "voicereport", *map(str, arguments)]
        return subprocess.run(
            command, cwd=tmp_path, env=own, input=given, capture_output=True, text=True, timeout=600, check=False
        )

    return run


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which the demo has run once, from its recordings, with what it said in account.txt."""
    path = tmp_path_factory.mktemp("elsewhere")
    own = {name: value for name, value in os.environ.items() if not name.startswith("VOICEREPORT_")}
    own |= {"PYTHONPATH": str(ROOT), "VOICEREPORT_HOME": str(path / "home")}
    if "VOICEREPORT_CACHE" in os.environ:
        own["VOICEREPORT_CACHE"] = os.environ["VOICEREPORT_CACHE"]
    outcome = subprocess.run(
        [sys.executable, "-m", "voicereport", "demo"], cwd=path, env=own, capture_output=True, text=True, check=False
    )
    assert outcome.returncode == 0, outcome.stderr
    (path / "account.txt").write_text(outcome.stdout, encoding="utf-8")
    return path


def find_axe() -> str | None:
    """The text of axe-core: from AXE_CORE, or from a folder node_modules on the way up."""
    named = os.environ.get("AXE_CORE")
    places = [Path(named)] if named else [up / "node_modules/axe-core/axe.min.js" for up in (ROOT, *ROOT.parents)]
    return next((place.read_text(encoding="utf-8") for place in places if place.is_file()), None)


def axe_source() -> str:
    """The text of axe-core; without it the test is skipped."""
    return find_axe() or pytest.skip("axe-core is not installed; AXE_CORE may name its axe.min.js")


@pytest.fixture(scope="module")
def settings() -> Settings:
    """The shipped settings."""
    from voicereport.settings import load_settings

    return load_settings(environment={})


@pytest.fixture(scope="module")
def phrases() -> Phrases:
    """The shipped phrases of spoken requests."""
    from voicereport.requests import load_phrases

    return load_phrases(folder=Path("/nowhere"))


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A headless Chromium, one for the tests of a file."""
    if BROWSER is None:
        pytest.skip("chromium is not installed")
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as running:
        started = running.chromium.launch(executable_path=BROWSER, args=["--no-sandbox", "--mute-audio"])
        yield started
        started.close()
