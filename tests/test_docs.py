"""The documents: what exists is named in them, what they name exists, and what they show runs."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer
from conftest import ROOT, Run

from voicereport.cli.app import app
from voicereport.evaluation.tables import load_tables
from voicereport.settings import Letterhead, Settings

README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
DOCUMENTS = README + DEVELOPERS
VISIT = "WEBVTT\n\n00:00.000 --> 00:04.000\nFour screws out of the rear panel.\n"


def leaves(group: Any, words: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every command with its words, groups themselves included."""
    yield words, group
    for name, command in getattr(group, "commands", {}).items():
        yield from leaves(command, (*words, name))


COMMANDS = dict(leaves(typer.main.get_command(app)))
OPTIONS = sorted({o for c in COMMANDS.values() for p in c.params for o in getattr(p, "opts", []) if o.startswith("--")})
MODULES = sorted(
    path.stem
    for path in (ROOT / "voicereport").iterdir()
    if not path.name.startswith("_") and (path.suffix == ".py" or (path / "__init__.py").is_file())
)
SOURCES = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "voicereport").rglob("*.py"))]
ERRORS = sorted({name for text in SOURCES for name in re.findall(r"^class (\w+Error)\(", text, re.MULTILINE)})
KEYS = sorted({*Settings.__dataclass_fields__, *Letterhead.__dataclass_fields__})
PATHS = sorted(
    set(re.findall(r"(?<![\w./-])((?:\.ci|models|templates|tests|demo_audio|voicereport)/[\w./-]*)", DOCUMENTS))
)
BLOCKS = re.findall(r"^```(\w+)\n(.*?)^```$", README, re.DOTALL | re.MULTILINE)
LINES = [line for kind, block in BLOCKS if kind == "sh" for line in block.splitlines()]


@pytest.mark.parametrize("words", [w for w, c in COMMANDS.items() if w and not hasattr(c, "commands")], ids=" ".join)
def test_each_command_is_in_the_readme(words: tuple[str, ...]) -> None:
    assert f"`voicereport {' '.join(words)}" in README


@pytest.mark.parametrize("option", OPTIONS)
def test_each_option_is_named(option: str) -> None:
    assert f"`{option}`" in DOCUMENTS


@pytest.mark.parametrize("name", ERRORS)
def test_each_error_is_named(name: str) -> None:
    assert f"`{name}`" in DEVELOPERS


@pytest.mark.parametrize("name", MODULES)
def test_each_module_is_in_the_map(name: str) -> None:
    assert f"| `{name}` |" in DEVELOPERS


@pytest.mark.parametrize("key", KEYS)
def test_each_setting_is_named(key: str) -> None:
    assert f"`{key}`" in README
    assert re.search(rf"^# .*\b{key}\b", (ROOT / "models" / "settings.toml").read_text(encoding="utf-8"), re.MULTILINE)


@pytest.mark.parametrize("check", load_tables().checks)
def test_each_check_is_named(check: str) -> None:
    assert f"`{check}`" in README


def test_each_dependency_is_named_with_its_licence() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    needed = [*project["dependencies"], *(need for extra in extras.values() for need in extra)]
    names = {re.split(r"[\[=<>~! ]", need)[0] for need in needed}
    assert {name for name in names if f"`{name}`" not in DEVELOPERS} == set()


@pytest.mark.parametrize("path", PATHS)
def test_each_path_exists(path: str) -> None:
    assert (ROOT / path).exists()


def test_files_named_at_the_top_exist() -> None:
    for name in ("LICENSE", "README.md", "DEVELOPERS.md", "pyproject.toml", ".importlinter"):
        assert (ROOT / name).is_file()


def test_the_licence_is_apache_2() -> None:
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert "Apache License" in text
    assert "Version 2.0, January 2004" in text


def test_the_readme_gives_the_two_commands_once() -> None:
    assert README.count(".venv/bin/voicereport demo\n") == 1
    assert README.count("'.[weights,test]' && .venv/bin/python -m pytest\n") == 1


@pytest.mark.parametrize("line", LINES)
def test_each_command_line_shown_runs(line: str, tmp_path: Path, voicereport: Run) -> None:
    for name in ("demo_audio", "tests"):
        (tmp_path / name).symlink_to(ROOT / name)
    words = shlex.split(line)
    assert words[0] == "voicereport"
    outcome = voicereport(*words[1:])
    assert outcome.returncode in ((0, 1) if words[1] == "report" else (0,)), outcome.stderr
    assert outcome.stdout


@pytest.mark.parametrize("code", [block for kind, block in BLOCKS if kind == "python"])
def test_each_piece_of_python_shown_runs(code: str, tmp_path: Path) -> None:
    (tmp_path / "visit.vtt").write_text(VISIT, encoding="utf-8")
    subprocess.run([sys.executable, "-c", code], cwd=tmp_path, check=True, capture_output=True, timeout=120)
    assert (tmp_path / "visit" / "report.json").is_file()
