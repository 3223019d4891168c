"""What the commands share: options, settings, progress on stderr, results on stdout."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from voicereport.report import Report
    from voicereport.settings import Settings

Progress = Callable[[str, float], None]

JsonOption = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
TradeOption = Annotated[str | None, typer.Option(help="Trade pack; see `voicereport trades list`.")]
UnitsOption = Annotated[str | None, typer.Option(help="Units of values spoken without one: metric or us.")]
ProfileOption = Annotated[str | None, typer.Option(help="Whose rules the checks rest on: US or UK.")]
EngineOption = Annotated[str | None, typer.Option(help="Recogniser: auto, faster-whisper or openai-whisper.")]
WeightsOption = Annotated[str | None, typer.Option(help="Weights; see `voicereport weights list`.")]
ThreadsOption = Annotated[int | None, typer.Option(help="Processor threads; 0 = as many as there are cores.")]
LanguageOption = Annotated[str | None, typer.Option(help="Spoken language, two letters.")]
PaperOption = Annotated[str | None, typer.Option(help="Paper: a4 or us-letter.")]
OutOption = Annotated[Path | None, typer.Option("--out", "-o", help="Folder for the files.")]


def settings_of(context: typer.Context, **options: str | int | Path | None) -> Settings:
    """The settings of a command: --config from the program, options from the command."""
    from voicereport.settings import load_settings

    return load_settings(context.obj, options=options)


def print_json(value: Any) -> None:
    """A result as JSON on stdout."""
    typer.echo(json.dumps(value, indent=1, ensure_ascii=False))


def say(line: str) -> None:
    """A line of talk on stderr."""
    typer.echo(line, err=True)


@contextmanager
def progress_bar(*, quiet: bool = False) -> Iterator[Progress | None]:
    """A bar on stderr for long work, where stderr is a terminal; else None."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:3.0f} %"),
        TimeElapsedColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=1.0)

        def show(what: str, share: float) -> None:
            bar.update(task, description=what, completed=share)

        yield show


def read_report(path: Path) -> Report:
    """The report in a file. Raises ReportError where it is not of the contract."""
    from pydantic import ValidationError

    from voicereport.errors import ReportError
    from voicereport.report import Report

    try:
        return Report.model_validate_json(path.read_bytes())
    except FileNotFoundError as error:
        raise ReportError(str(path), "there is no such file", "check its name") from error
    except ValidationError as error:
        faults = [f"{'.'.join(map(str, fault['loc'])) or 'the file'}: {fault['msg']}" for fault in error.errors()]
        shown = "; ".join(faults[:5]) + (f"; and {len(faults) - 5} more" if len(faults) > 5 else "")
        raise ReportError(str(path), f"is no report of the contract ({shown})") from error


def open_checks(report: Report) -> list[dict[str, str]]:
    """The checks that hold a report back: neither confirmed nor not applicable."""
    from voicereport.render.passed import passed, reason_of
    from voicereport.render.wording import load_wording

    decided, wording = passed(report), load_wording()
    return [
        {"id": c.id, "title": c.title, "severity": c.severity, "state": c.state,
         "reason": reason_of(c, decided, wording)}
        for c in report.checks
        if c.state not in ("confirmed", "not_applicable")
    ]  # fmt: skip


def print_account(report: Report) -> None:
    """Status and what is open, on stdout."""
    typer.echo(f"status: {report.status}")
    for check in open_checks(report):
        typer.echo(f"  {check['severity']:8}{check['state'].replace('_', ' '):14}{check['title']}: {check['reason']}")
    names = {item.id: item for item in report.ledger.items}
    for entry in report.ledger.open:
        item = names.get(entry.id)
        what = entry.id if item is None else f"{item.holds} {item.part}" if item.holds else item.part
        typer.echo(f"  not back      {what}: {entry.reason}")


def status_of(report: Report) -> int:
    """0 where nothing is open, 1 where a check or a ledger item is."""
    return 0 if report.status == "complete" and not open_checks(report) else 1


def write_text(path: Path, text: str) -> None:
    """Write a file whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(f".{path.name}.unfinished")
    unfinished.write_text(text, encoding="utf-8")
    unfinished.replace(path)
