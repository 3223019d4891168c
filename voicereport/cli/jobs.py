"""Commands that turn what was said into a report: demo, report, transcribe, explain."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from voicereport.cli import common
from voicereport.cli.common import (
    EngineOption,
    JsonOption,
    LanguageOption,
    OutOption,
    PaperOption,
    ProfileOption,
    ThreadsOption,
    TradeOption,
    UnitsOption,
    WeightsOption,
)

FilesArgument = Annotated[
    list[Path], typer.Argument(help="Recordings, or .vtt .srt .json transcripts; several are one job, in this order.")
]


def register(app: typer.Typer) -> None:
    """Add this module's commands to the program."""
    app.command("demo")(demo)
    app.command("report")(report)
    app.command("transcribe")(transcribe)
    app.command("explain")(explain)


def demo(
    context: typer.Context,
    out: Annotated[Path, typer.Option("--out", "-o", help="Folder for the reports.")] = Path("voicereport-demo"),
    as_json: JsonOption = False,
) -> None:
    """Turn the shipped recordings into reports and say what came of it."""
    from voicereport.demo import run_demo

    settings = common.settings_of(context)
    with common.progress_bar(quiet=as_json) as progress:
        results = run_demo(out, settings, progress)
    if as_json:
        return common.print_json([_summary(r.report, r.files) | {"job": r.name} for r in results])
    for result in results:
        typer.echo(f"{result.title}")
        common.print_account(result.report)
        typer.echo(f"files: {result.files[0].parent}\n")


def report(
    context: typer.Context,
    files: FilesArgument,
    out: OutOption = None,
    visits: Annotated[str | None, typer.Option(help="Visit that each file is of, such as 1,1,2.")] = None,
    trade: TradeOption = None,
    units: UnitsOption = None,
    profile: ProfileOption = None,
    engine: EngineOption = None,
    weights: WeightsOption = None,
    threads: ThreadsOption = None,
    language: LanguageOption = None,
    paper: PaperOption = None,
    as_json: JsonOption = False,
) -> int:
    """Turn one job's recordings or transcripts into a checked report.

    Example: voicereport report kitchen.m4a --out kitchen
    """
    from voicereport.pipeline import report_files, write_report

    settings = common.settings_of(context, trade=trade, units=units, profile=profile, engine=engine,
                                  weights=weights, threads=threads, language=language, paper=paper)  # fmt: skip
    folder = out or settings.out / files[0].stem
    with common.progress_bar(quiet=as_json) as progress:
        made = report_files(files, settings, progress, visits=_visits(visits))
        written = write_report(made, folder, settings, sources=files)
    for entry in made.recordings:
        for note in entry.notes:
            common.say(f"{entry.name}: {note}")
    if as_json:
        common.print_json(_summary(made, written))
    else:
        common.print_account(made)
        typer.echo(f"files: {folder}")
    return common.status_of(made)


def transcribe(
    context: typer.Context,
    files: FilesArgument,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="File to write, .vtt or .json; without one, WebVTT on stdout.")
    ] = None,
    engine: EngineOption = None,
    weights: WeightsOption = None,
    threads: ThreadsOption = None,
    language: LanguageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write down what was said, with times.

    Example: voicereport transcribe kitchen.m4a --out kitchen.vtt
    """
    from voicereport.pipeline import transcribe_files, transcript_text

    settings = common.settings_of(context, engine=engine, weights=weights, threads=threads, language=language)
    kind: Literal["json", "vtt"] = "json" if as_json or (out and out.suffix.lower() == ".json") else "vtt"
    with common.progress_bar() as progress:
        text = transcript_text(transcribe_files(files, settings, progress), kind=kind)
    if out is None:
        typer.echo(text, nl=False)
    else:
        common.write_text(out, text)


def explain(
    context: typer.Context,
    sentence: Annotated[str | None, typer.Argument(help="What was said.")] = None,
    before: Annotated[str, typer.Option("--context", help="What was said just before.")] = "",
    lines: Annotated[
        Path | None,
        typer.Option("--jsonl", help='File of {"id", "context", "say"} lines, - for stdin; answers go to stdout.'),
    ] = None,
    trade: TradeOption = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what a sentence was understood to say, and which words led to it.

    Example: voicereport explain "Plug's out, four screws out of the rear panel"
    """
    if (sentence is None) == (lines is None):
        raise typer.BadParameter("give a sentence or --jsonl FILE, one of the two")
    rows = _rows(lines) if lines is not None else []
    from voicereport.explain import answer, trace
    from voicereport.trades import load_trade

    settings = common.settings_of(context, trade=trade, units=units)
    pack = load_trade(settings.trade)
    if lines is not None:
        for row in rows:
            found = answer(row["say"], row.get("context") or "", pack, settings.units)
            typer.echo(json.dumps({"id": row["id"]} | dict(found), ensure_ascii=False))
    elif as_json:
        common.print_json(answer(sentence or "", before, pack, settings.units))
    else:
        for line in trace(sentence or "", before, pack, settings.units):
            typer.echo(line)


def _visits(text: str | None) -> list[int] | None:
    if text is None:
        return None
    numbers = [number.strip() for number in text.split(",")]
    if not all(number.isdigit() for number in numbers):
        raise typer.BadParameter(f"--visits: {text!r} is no list of numbers such as 1,1,2")
    return [int(number) for number in numbers]


def _rows(path: Path) -> list[dict[str, Any]]:
    """The objects of a JSON lines file. Raises TranscriptError, naming the line, for one without id or say."""
    from voicereport.errors import TranscriptError

    text = sys.stdin.read() if str(path) == "-" else path.read_text(encoding="utf-8")
    rows = []
    for n, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        try:
            row = json.loads(line)
        except ValueError as error:
            raise TranscriptError(f"{path}:{n}", f"is no JSON ({error})") from error
        if not isinstance(row, dict) or "id" not in row or not isinstance(row.get("say"), str):
            raise TranscriptError(f"{path}:{n}", "lacks id or say", 'write {"id": "1", "say": "..."}')
        rows.append(row)
    return rows


def _summary(made: Any, files: tuple[Path, ...]) -> dict[str, Any]:
    """The short account of a report, as JSON."""
    return {
        "status": made.status,
        "open_checks": common.open_checks(made),
        "not_back": [entry.model_dump() for entry in made.ledger.open],
        "files": [str(path) for path in files],
    }
