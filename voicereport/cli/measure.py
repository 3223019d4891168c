"""The command that measures: evaluate."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicereport.cli import common
from voicereport.cli.common import JsonOption, ProfileOption, TradeOption, UnitsOption

if TYPE_CHECKING:
    from voicereport.settings import Settings


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
    compare: Annotated[
        bool, typer.Option("--compare", help="One table: keywords, an untrained embedding, rules, reader, both.")
    ] = False,
    trade: TradeOption = None,
    units: UnitsOption = None,
    profile: ProfileOption = None,
    audio: Annotated[
        Path | None, typer.Option(help="Folder of recordings of known words: recognise them and compare.")
    ] = None,
    only: Annotated[str, typer.Option(help="With --audio: names of recordings, comma between.")] = "",
    levels: Annotated[str, typer.Option(help="With --audio: folders of noise levels, comma between.")] = "",
    against: Annotated[
        str, typer.Option(help="With --audio: plain engines beside ours: batched,sequential,reference.")
    ] = "",
    as_json: JsonOption = False,
) -> int:
    """Run narrations through the pipeline and score the reports against their gold.

    Example: voicereport evaluate tests/corpus/shared --misses
    With recordings: voicereport evaluate tests/corpus/shared --audio voiced --levels fan-10 --against batched
    """
    from voicereport.evaluation import run, text
    from voicereport.evaluation.demo_gold import corpus_of
    from voicereport.evaluation.thresholds import read_thresholds, shortfalls

    settings = common.settings_of(context, trade=trade, units=units, profile=profile)
    if audio is not None:
        return _evaluate_audio(corpus, audio, settings, (only, levels, against), misses=misses, as_json=as_json)
    if compare:
        return _compare(corpus, settings, as_json=as_json)
    bounds = read_thresholds(thresholds, corpus.resolve().name) if thresholds else {}
    with common.progress_bar(quiet=as_json) as progress:
        result = run.evaluate(corpus_of(corpus), settings, progress=progress)
    if as_json:
        common.print_json(text.json_of(result))
    else:
        for line in text.lines_of(result, misses=misses):
            typer.echo(line)
    lacking = shortfalls(result.figures, bounds)
    for sentence in lacking:
        common.say(f"threshold: {sentence}")
    return 1 if lacking else 0


def _compare(corpus: Path, settings: Settings, *, as_json: bool) -> int:
    from voicereport.evaluation import baselines
    from voicereport.evaluation.demo_gold import corpus_of

    with common.progress_bar(quiet=as_json) as progress:
        found = baselines.compare_methods(corpus_of(corpus), settings, progress=progress)
    if as_json:
        common.print_json(baselines.json_of(found))
    else:
        for line in baselines.lines_of(found):
            typer.echo(line)
    return 0


def _evaluate_audio(
    corpus: Path, audio: Path, settings: Settings, chosen: tuple[str, str, str], *, misses: bool, as_json: bool
) -> int:
    from dataclasses import asdict

    from voicereport.evaluation import audio_bench
    from voicereport.evaluation.audio_engines import kinds_of
    from voicereport.evaluation.demo_gold import corpus_of

    only, levels, against = (tuple(name.strip() for name in names.split(",") if name.strip()) for names in chosen)
    items = audio_bench.find_items(audio, only=only, levels=levels)
    with common.progress_bar(quiet=as_json) as progress:
        found = audio_bench.bench(corpus_of(corpus), items, settings, against=kinds_of(against), progress=progress)
    if as_json:
        common.print_json(asdict(found))
    else:
        for line in audio_bench.lines_of(found, misses=misses):
            typer.echo(line)
    return 0
