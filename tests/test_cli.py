"""The commands: exit status and output, one line for an error, nothing heavy before it is needed."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from conftest import Run

from voicereport import __version__
from voicereport.cli.app import app, run
from voicereport.report import Check, Report

HEAVY = ("torch", "whisper", "faster_whisper", "ctranslate2", "onnxruntime", "av", "spacy", "pydantic", "CoolProp",
         "pint", "typst", "rich", "jinja2", "numpy", "yaml", "rapidfuzz")  # fmt: skip

Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("VOICEREPORT_HOME", str(tmp_path / "home"))
    return tmp_path


def commands() -> list[list[str]]:
    """Every command by its words: ["report"], ["trades", "list"], ..."""
    import typer

    group = typer.main.get_command(app)
    found = []
    for name, command in group.commands.items():  # type: ignore[attr-defined]
        inner = getattr(command, "commands", None)
        found += [[name, sub] for sub in inner] if inner else [[name]]
    return found


# ---------------------------------------------------------------- help and start


def test_help_takes_less_than_three_tenths_of_a_second(voicereport: Run) -> None:
    seconds = []
    for _ in range(5):
        started = time.perf_counter()
        assert voicereport("--help").returncode == 0
        seconds.append(time.perf_counter() - started)
    assert min(seconds) < 0.3


def test_nothing_heavy_is_imported_before_a_command_needs_it() -> None:
    code = f"import sys, voicereport.cli; print([name for name in {HEAVY!r} if name in sys.modules])"
    outcome = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert outcome.stdout.strip() == "[]"


@pytest.mark.parametrize("words", commands(), ids=" ".join)
def test_each_command_says_what_it_does(words: list[str], capsys: Capture) -> None:
    assert run([*words, "--help"]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith(f"Usage: voicereport {' '.join(words)}")
    says = re.search(r"^  (\w.*)$", shown.partition("\n\n")[2], re.MULTILINE)
    assert says is not None
    assert len(says[1]) > 20


def test_the_version_is_the_packages(capsys: Capture) -> None:
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"voicereport {__version__}\n"


def test_completion_is_offered(voicereport: Run) -> None:
    outcome = voicereport(_VOICEREPORT_COMPLETE="complete_bash", COMP_WORDS="voicereport tra", COMP_CWORD="1")
    assert outcome.stdout.split() == ["transcribe", "trades"]


# ---------------------------------------------------------------- wrong usage: 2, one line


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["fly"], "No such command 'fly'"),
        (["report"], "Missing argument"),
        (["report", "--colour", "x.vtt"], "No such option"),
        (["check"], "Missing argument"),
        (["trades", "burn"], "No such command 'burn'"),
        (["report", "x.vtt", "--visits", "one"], "'one' is no list of numbers"),
        (["compute", "heater", "--volts", "115"], "give --ohms or --watts"),
        (["compute", "heater", "--ohms", "31.6"], "Missing option '--volts'"),
        (["explain"], "give a sentence or --jsonl FILE"),
        (["explain", "a", "--jsonl", "b"], "give a sentence or --jsonl FILE"),
        (["report", "x.vtt", "--units", "imperial"], "'imperial' is not one of metric, us"),
        (["report", "x.vtt", "--paper", "a3"], "'a3' is not one of a4, us-letter"),
        (["report", "x.vtt", "--profile", "FR"], "'FR' is not one of US, UK"),
        (["report", "x.vtt", "--threads", "many"], "Invalid value for '--threads'"),
        (["report", "x.vtt", "--threads", "-2"], "-2 is no number of threads"),
        (["--config", "gone.toml", "report", "x.vtt"], "gone.toml: there is no such settings file"),
    ],
)
def test_wrong_usage_is_status_2_and_one_line(arguments: list[str], said: str, capsys: Capture) -> None:
    assert run(arguments) == 2
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.err.startswith("voicereport: ")
    assert shown.err.count("\n") == 1
    assert shown.out == ""


def test_without_a_command_the_help_is_shown(capsys: Capture) -> None:
    run([])
    shown = capsys.readouterr()
    assert "Commands:" in shown.out + shown.err


# ---------------------------------------------------------------- what cannot be done: 3, one line


def test_a_fault_of_the_program_is_one_line_too(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    from voicereport import settings

    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("first\nsecond")

    monkeypatch.setattr(settings, "load_settings", fail)
    assert run(["report", "x.vtt"]) == 3
    shown = capsys.readouterr().err
    assert "a fault of the program: RuntimeError: first second" in shown
    assert shown.count("\n") == 1
    monkeypatch.setenv("VOICEREPORT_DEBUG", "1")
    with pytest.raises(RuntimeError):
        run(["report", "x.vtt"])


def test_an_interrupted_run_says_so(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    from voicereport import settings

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(settings, "load_settings", stop)
    assert run(["report", "x.vtt"]) == 130
    assert "stopped" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [["check", "r.json"], ["render", "r.json"]])
@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "there is no such file"),
        (b"", "is no report of the contract"),
        (b"{", "is no report of the contract"),
        (b"[]", "is no report of the contract"),
        (b"\xff\xfe", "is no report of the contract"),
        (b'{"schema_version": "9"}', "schema_version"),
        (b'{"steps": [{"id": "s1"}]}', "steps.0.action"),
        (b'{"colour": 1, "a": 1, "b": 1, "c": 1, "d": 1, "e": 1, "f": 1}', "and 2 more"),
    ],
)
def test_what_is_no_report_is_named(
    here: Path, arguments: list[str], content: bytes | None, said: str, capsys: Capture
) -> None:
    if content is not None:
        (here / "r.json").write_bytes(content)
    assert run(arguments) == 3
    shown = capsys.readouterr()
    assert "r.json: " in shown.err
    assert said in shown.err
    assert shown.err.count("\n") == 1
    assert sorted(p.name for p in here.iterdir()) == ([] if content is None else ["r.json"])


@pytest.mark.parametrize(
    ("text", "said"),
    [("{\n", "lines:1: is no JSON"), ('{"id": "a", "say": "x"}\n{"id": "b"}\n', "lines:2: lacks id or say")],
)
def test_a_faulty_line_of_sentences_is_named(here: Path, text: str, said: str, capsys: Capture) -> None:
    (here / "lines").write_text(text)
    assert run(["explain", "--jsonl", "lines"]) == 3
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.out == ""


def test_an_unknown_trade_is_named_with_the_known_ones(here: Path, capsys: Capture) -> None:
    (here / "x.vtt").write_text("WEBVTT\n\n00:00.000 --> 00:01.000\nplug is out\n")
    assert run(["report", "x.vtt", "--trade", "falconry"]) == 3
    shown = capsys.readouterr().err
    assert "falconry" in shown
    assert "domestic-refrigeration" in shown


# ---------------------------------------------------------------- results


def test_a_report_from_a_transcript_is_written_and_told(here: Path, voicereport: Run) -> None:
    (here / "x.vtt").write_text("WEBVTT\n\n00:00.000 --> 00:04.000\nFour screws out of the rear panel.\n")
    outcome = voicereport("report", "x.vtt", "--out", "out")
    assert outcome.returncode == 1, outcome.stderr
    assert outcome.stdout.startswith("status: ")
    assert outcome.stdout.endswith("files: out\n")
    assert outcome.stderr == ""
    told = voicereport("report", "x.vtt", "--out", "out", "--json")
    assert told.returncode == 1
    summary = json.loads(told.stdout)
    assert summary["status"] == json.loads((here / "out" / "report.json").read_text())["status"]
    assert {Path(name).name for name in summary["files"]} == {p.name for p in (here / "out").iterdir()}


def test_checking_a_report_anew_gives_its_own_states(here: Path, capsys: Capture) -> None:
    (here / "x.vtt").write_text("WEBVTT\n\n00:00.000 --> 00:04.000\nFour screws out of the rear panel.\n")
    run(["report", "x.vtt", "--out", "out"])
    capsys.readouterr()
    assert run(["check", "out/report.json", "--json"]) == 1
    report = json.loads((here / "out" / "report.json").read_text())
    assert json.loads(capsys.readouterr().out) == {"status": report["status"], "checks": report["checks"]}


def test_rendering_a_report_anew_changes_no_byte(here: Path, capsys: Capture) -> None:
    (here / "x.vtt").write_text("WEBVTT\n\n00:00.000 --> 00:04.000\nFour screws out of the rear panel.\n")
    run(["report", "x.vtt", "--out", "out"])
    before = {path.name: path.read_bytes() for path in (here / "out").iterdir()}
    assert run(["render", "out/report.json"]) == 0
    assert {path.name: path.read_bytes() for path in (here / "out").iterdir()} == before


def test_status_is_0_only_where_nothing_is_open() -> None:
    from voicereport.cli.common import status_of

    check = Check(id="a", title="A", severity="warning", state="confirmed", reason="said")
    assert status_of(Report(status="complete", checks=(check,))) == 0
    assert status_of(Report(status="incomplete", checks=(check.model_copy(update={"state": "unclear"}),))) == 1
    assert status_of(Report(status="blocked")) == 1


def test_a_transcript_is_written_in_either_form(here: Path, capsys: Capture) -> None:
    (here / "x.srt").write_text("1\n00:00:00,000 --> 00:00:04,000\nThe plug is out.\n")
    assert run(["transcribe", "x.srt"]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("WEBVTT")
    assert "The plug is out." in shown
    assert run(["transcribe", "x.srt", "--out", "deep/x.json"]) == 0
    again = json.loads((here / "deep" / "x.json").read_text(encoding="utf-8"))
    assert again["segments"][0]["text"] == "The plug is out."
    assert [p.name for p in (here / "deep").iterdir()] == ["x.json"]


def test_a_sentence_is_explained(capsys: Capture) -> None:
    assert run(["explain", "I've pulled the plug", "--json"]) == 0
    assert "isolate" in capsys.readouterr().out
    assert run(["explain", "I've pulled the plug"]) == 0
    assert "power supply" in capsys.readouterr().out


def test_lines_are_answered_by_id(here: Path, capsys: Capture) -> None:
    rows = [{"id": "a", "say": "I've pulled the plug."}, {"id": "b", "context": "Is it out?", "say": "Yes."}]
    (here / "lines").write_text("".join(json.dumps(row) + "\n" for row in rows))
    assert run(["explain", "--jsonl", "lines"]) == 0
    answers = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [answer["id"] for answer in answers] == ["a", "b"]


def test_the_shipped_trades_have_no_fault(capsys: Capture) -> None:
    assert run(["trades", "list", "--json"]) == 0
    names = [row["id"] for row in json.loads(capsys.readouterr().out)]
    assert "domestic-refrigeration" in names
    assert run(["trades", "check"]) == 0
    assert capsys.readouterr().out.splitlines() == [f"{name}: no fault found" for name in names]


def test_a_trade_of_ones_own_with_a_fault_is_named(here: Path, capsys: Capture) -> None:
    pack = here / "home" / "trades" / "falconry"
    pack.mkdir(parents=True)
    (pack / "trade.toml").write_text('id = "falcon"\n')
    assert run(["trades", "check", "falconry"]) == 3
    assert "must be the folder's name" in capsys.readouterr().out


# One volt-ampere into one ohm: P = V²/R, I = V/R; 0 °F is −17.78 °C (NIST SP 811, B.8).
@pytest.mark.parametrize(
    ("arguments", "value"),
    [
        (["heater", "--volts", "120", "--watts", "450"], 32.0),
        (["convert", "0", "[degF]", "Cel"], -17.7778),
        (["convert", "-40", "Cel", "[degF]"], -40.0),
        (["convert", "9", "[degF]", "K", "--difference"], 5.0),
    ],
)
def test_figures_are_computed(arguments: list[str], value: float, capsys: Capture) -> None:
    assert run(["compute", *arguments, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["value"] == pytest.approx(value, abs=1e-3)
    assert found["worked"]
    assert found["source"]


def test_what_cannot_be_computed_is_one_line(capsys: Capture) -> None:
    assert run(["compute", "convert", "1", "Ohm", "kPa"]) == 3
    shown = capsys.readouterr()
    assert shown.err.count("\n") == 1
    assert shown.out == ""


def test_weights_are_listed_and_their_digests_are_right(capsys: Capture) -> None:
    assert run(["weights", "list", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)) >= 2
    assert run(["weights", "verify"]) == 0
