"""The commands on a store, run as a user runs them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import typer
from store_kit import by_hand, later, with_job
from typer.testing import CliRunner

from voicereport.cli import store_commands
from voicereport.errors import VoiceReportError
from voicereport.store import Store

pytest_plugins = ["store_fixtures"]

app = typer.Typer()
store_commands.register(app)


def run(*arguments: object) -> tuple[int, str]:
    """Status and output; an error of the package as its sentence, as the program prints it."""
    result = CliRunner().invoke(app, [str(a) for a in arguments], standalone_mode=False)
    if isinstance(result.exception, VoiceReportError):
        return 3, str(result.exception)
    if result.exception is not None:
        return 2, str(result.exception)
    return (result.return_value or 0), result.output


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of the user's own settings; not that of whoever runs the tests."""
    monkeypatch.setenv("VOICEREPORT_HOME", str(tmp_path / "own"))
    monkeypatch.chdir(tmp_path)
    return tmp_path / "own"


@pytest.fixture
def folder(sqlite_store: Store) -> Path:
    with_job(sqlite_store)
    return sqlite_store.files.folder


def test_a_sound_store_verifies(folder: Path) -> None:
    status, output = run("audit", "verify", "--files", "--derived", "--store", folder)
    assert status == 0
    assert re.fullmatch(r"8 entries, 8 rows, 1 files: no fault found\n", output)


def test_a_tampered_store_does_not(sqlite_store: Store, folder: Path) -> None:
    by_hand(sqlite_store, "UPDATE trail SET why = 'x' WHERE number = 8")
    status, output = run("audit", "verify", "--store", folder)
    assert status == 3
    assert output.startswith("trail entry 8: was changed")
    status, output = run("audit", "verify", "--store", folder, "--json")
    assert (status, json.loads(output)["faults"][0]["place"]) == (3, "trail entry 8")


def test_a_head_that_was_printed_is_expected_later(folder: Path) -> None:
    status, head = run("audit", "head", "--store", folder)
    assert status == 0
    assert run("audit", "verify", "--store", folder, "--expect", head.strip())[0] == 0
    assert run("audit", "verify", "--store", folder, "--expect", "8:" + "0" * 64)[0] == 3
    assert run("audit", "verify", "--store", folder, "--expect", "eight")[0] == 2
    assert json.loads(run("audit", "head", "--store", folder, "--json")[1])["number"] == 8


def test_entries_are_listed_without_moving_the_terminal(sqlite_store: Store, folder: Path) -> None:
    sqlite_store.trail.note("test", "\x1b[2Jwiped\u202e", by="tess", now=later(60), why="\r\nx")
    status, output = run("audit", "list", "--store", folder, "--after", 8)
    assert (status, output) == (
        0, f"{9:6} 2026-03-02 08:16:00 {'tess':16} {'test':24}" + "\\x1b[2Jwiped\\u202e (\\r\\nx)\n",
    )  # fmt: skip
    rows = json.loads(run("audit", "list", "--store", folder, "--job", 1, "--limit", 2, "--json")[1])
    assert [row["act"] for row in rows] == ["job.created", "recording.received"]


def test_a_back_up_is_written_and_read_back(folder: Path, tmp_path: Path) -> None:
    kept, back = tmp_path / "kept", tmp_path / "back"
    status, output = run("backup", kept, "--store", folder, "--by", "ada")
    assert (status, output.startswith(f"{kept}: ")) == (0, True)
    status, output = run("restore", kept, "--store", back, "--by", "ada", "--json")
    assert (status, json.loads(output)["files"]) == (0, 1)
    assert run("audit", "verify", "--files", "--derived", "--store", back)[0] == 0
    status, output = run("backup", kept, "--store", folder)
    assert (status, "is there already" in output) == (3, True)


def test_what_a_shop_has_set_is_backed_up_and_what_stands_in_its_way_is_named(
    folder: Path, own: Path, tmp_path: Path
) -> None:
    own.mkdir()
    (own / "live.toml").write_text("ours", encoding="utf-8")
    (folder / "company.json").write_text('{"company": "Vennmoor Cold Service"}', encoding="utf-8")
    (tmp_path / "voicereport.toml").write_text('units = "us"', encoding="utf-8")
    kept, back = tmp_path / "kept", tmp_path / "back"
    assert run("backup", kept, "--store", folder, "--json")[0] == 0
    (own / "live.toml").write_text("another", encoding="utf-8")
    status, output = run("restore", kept, "--store", back)
    assert status == 0
    assert f"own/live.toml: another one is in its place and was left; this one lies in {kept}" in output
    assert f"{back / 'voicereport.toml'}: the settings that were in force" in output
    assert (back / "company.json").read_text(encoding="utf-8") == '{"company": "Vennmoor Cold Service"}'
    assert (own / "live.toml").read_text(encoding="utf-8") == "another"


def test_sound_past_its_time_is_shown_then_deleted(folder: Path) -> None:
    status, output = run("retention", "--keep-days", 0, "--only-show", "--store", folder)
    assert (status, output.splitlines()[-1]) == (0, "1 recordings would be deleted")
    assert run("retention", "--keep-days", 100_000, "--store", folder) == (0, "0 recordings deleted\n")
    status, output = run("retention", "--keep-days", 0, "--store", folder, "--json", "--by", "ada")
    assert [row["name"] for row in json.loads(output)] == ["visit.ogg"]
    assert run("audit", "verify", "--files", "--store", folder)[0] == 0


def test_no_command_begins_a_store(tmp_path: Path) -> None:
    for command in (("audit", "verify"), ("audit", "head"), ("backup", tmp_path / "kept")):
        status, output = run(*command, "--store", tmp_path / "none")
        assert (status, "is no store" in output) == (3, True)
    assert not (tmp_path / "none").exists()


def test_a_store_is_filled_and_measured(tmp_path: Path) -> None:
    status, output = run("measure-store", "--fill", 150, "--times", 1, "--store", tmp_path / "many", "--json")
    figures = json.loads(output)
    assert status in (0, 1)  # one question of each kind on a busy machine says little of time
    assert {"list: newest", "search: common word", "overview", "save an edit"} <= {
        t["name"] for t in figures["timings"]
    }
    assert run("audit", "verify", "--derived", "--store", tmp_path / "many")[0] == 0  # as the store itself would write
    assert run("measure-store", "--times", 1, "--store", tmp_path / "many")[1].splitlines()[-1].startswith("memory")
