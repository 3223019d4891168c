"""The command that measures: evaluate."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from voicereport.cli import common
from voicereport.cli.common import JsonOption, ProfileOption, TradeOption, UnitsOption


def register(app: typer.Typer) -> None:
    """Add this module's commands to the program."""
    app.command("evaluate")(evaluate)


def evaluate(
    context: typer.Context,
    corpus: Annotated[Path, typer.Argument(help="Folder of annotated narrations and sentences.")],
    misses: Annotated[bool, typer.Option("--misses", help="List what was missed and invented.")] = False,
    thresholds: Annotated[
        Path | None, typer.Option(help="TOML file; status 1 where a figure is below its table named as the folder.")
    ] = None,
    trade: TradeOption = None,
    units: UnitsOption = None,
    profile: ProfileOption = None,
    as_json: JsonOption = False,
) -> int:
    """Run narrations through the pipeline and score the reports against their gold.

    Example: voicereport evaluate tests/corpus/shared --misses
    """
    from voicereport.evaluation import run, text
    from voicereport.evaluation.corpus import read_corpus
    from voicereport.evaluation.thresholds import read_thresholds, shortfalls

    settings = common.settings_of(context, trade=trade, units=units, profile=profile)
    bounds = read_thresholds(thresholds, corpus.resolve().name) if thresholds else {}
    with common.progress_bar(quiet=as_json) as progress:
        result = run.evaluate(read_corpus(corpus), settings, progress=progress)
    if as_json:
        common.print_json(text.json_of(result))
    else:
        for line in text.lines_of(result, misses=misses):
            typer.echo(line)
    lacking = shortfalls(result.figures, bounds)
    for sentence in lacking:
        common.say(f"threshold: {sentence}")
    return 1 if lacking else 0
