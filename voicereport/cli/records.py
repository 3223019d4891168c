"""Commands on a report.json that is there: check, render."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from voicereport.cli import common
from voicereport.cli.common import JsonOption, OutOption, PaperOption, ProfileOption, TradeOption

ReportArgument = Annotated[Path, typer.Argument(metavar="REPORT.JSON", help="A report of the contract.")]


def register(app: typer.Typer) -> None:
    """Add this module's commands to the program."""
    app.command("check")(check)
    app.command("render")(render)


def check(
    context: typer.Context,
    report: ReportArgument,
    trade: TradeOption = None,
    profile: ProfileOption = None,
    as_json: JsonOption = False,
) -> int:
    """Judge a report's readings and state its checks anew, and say what is open.

    Example: voicereport check kitchen/report.json
    """
    from voicereport.pipeline import recheck

    settings = common.settings_of(context, trade=trade, profile=profile)
    checked = recheck(common.read_report(report), settings, trade=trade)
    if as_json:
        common.print_json({"status": checked.status, "checks": [c.model_dump(mode="json") for c in checked.checks]})
    else:
        common.print_account(checked)
    return common.status_of(checked)


def render(
    context: typer.Context,
    report: ReportArgument,
    out: OutOption = None,
    recordings: Annotated[
        list[Path] | None, typer.Option("--recording", help="A recording of the job, for the sounds; repeatable.")
    ] = None,
    paper: PaperOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write a report's pages, PDF and tables anew; by default beside it.

    Example: voicereport render kitchen/report.json --paper us-letter
    """
    from voicereport.pipeline import write_report

    settings = common.settings_of(context, paper=paper)
    made = common.read_report(report)
    written = write_report(made, out or report.parent, settings, sources=tuple(recordings or ()))
    if as_json:
        common.print_json([str(path) for path in written])
    else:
        for path in written:
            typer.echo(path)
