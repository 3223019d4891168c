"""The command that listens: listen."""

from __future__ import annotations

import json
import signal
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicereport.cli import common
from voicereport.cli.common import (
    EngineOption,
    LanguageOption,
    OutOption,
    ProfileOption,
    ThreadsOption,
    TradeOption,
    UnitsOption,
    WeightsOption,
)

if TYPE_CHECKING:
    from voicereport.live.events import Event
    from voicereport.live.job import LiveJob
    from voicereport.live.session import Session
    from voicereport.live.sources import Source
    from voicereport.settings import Settings

Show = Callable[[tuple["Event", ...], float], None]  #: events, and the seconds that understanding is behind


def register(app: typer.Typer) -> None:
    """Add this module's commands to the program."""
    app.command("listen")(listen)


def listen(
    context: typer.Context,
    recording: Annotated[
        Path | None, typer.Option("--from", help="A recording instead of the microphone, in real time.")
    ] = None,
    as_fast: Annotated[bool, typer.Option("--as-fast", help="With --from: as fast as it goes.")] = False,
    resume: Annotated[
        Path | None, typer.Option(help="Folder of a job that broke off: hear the rest and go on.")
    ] = None,
    finish: Annotated[
        Path | None, typer.Option(help="Folder of a job that broke off: hear the rest and write its report.")
    ] = None,
    out: OutOption = None,
    plain: Annotated[bool, typer.Option("--plain", help="Lines instead of a screen.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print each event as a line of JSON.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Prompts are shown, not spoken.")] = False,
    silent: Annotated[bool, typer.Option("--no-prompts", help="Never speak up unasked.")] = False,
    mute: Annotated[bool, typer.Option("--mute", help="Speak nothing aloud, replies neither.")] = False,
    call_word: Annotated[str | None, typer.Option(help="Word that calls the tool.")] = None,
    device: Annotated[str | None, typer.Option(help="Part of the microphone's name.")] = None,
    compare: Annotated[
        bool, typer.Option("--compare", help="Hear the whole recording again at the end; list what differs.")
    ] = False,
    trade: TradeOption = None,
    units: UnitsOption = None,
    profile: ProfileOption = None,
    engine: EngineOption = None,
    weights: WeightsOption = None,
    threads: ThreadsOption = None,
    language: LanguageOption = None,
) -> int:
    """Listen to a job as it is done, warn, answer, and write the report at the end.

    Example: voicereport listen --out kitchen
    """
    if sum(value is not None for value in (resume, finish)) > 1 or (finish and recording):
        raise typer.BadParameter("give one of --resume and --finish; --finish takes no --from")
    if as_fast and recording is None:
        raise typer.BadParameter("--as-fast goes with --from")
    begun = _begun(resume or finish)
    settings = common.settings_of(context, trade=trade or begun.get("trade"), units=units or begun.get("units"),
                                  profile=profile or begun.get("profile"), engine=engine, weights=weights,
                                  threads=threads, language=language)  # fmt: skip
    session = _session(settings, call_word, quiet=quiet, ask=not silent)
    folder = resume or finish or out or settings.out / time.strftime("listened-%Y%m%d-%H%M%S")
    source = None if finish else _source(recording, device, as_fast=as_fast)
    with _shown(session, plain=plain, as_json=as_json) as show:
        job = _job(folder, session, settings, show, resume=bool(resume or finish))
        if source is not None:
            _run(job, source, show, mute=mute or as_fast)
        show(job.finish(), 0.0)
    return _end(job, settings, as_json=as_json, compare=compare)


def _begun(folder: Path | None) -> dict[str, str]:
    """The settings that a job which broke off was begun with."""
    from voicereport.live.record import JOURNAL, read_journal

    return read_journal(folder / JOURNAL).settings if folder else {}


def _session(settings: Settings, call_word: str | None, *, quiet: bool, ask: bool) -> Session:
    from voicereport.live import Session, load_phrases, open_recogniser
    from voicereport.trades import load_trade

    trade = load_trade(settings.trade)
    phrases = load_phrases(call_word=call_word)
    session = Session(trade=trade, settings=settings, phrases=phrases, recogniser=open_recogniser(settings),
                      quiet=quiet, ask=ask)  # fmt: skip
    session.warm_up()
    return session


def _source(recording: Path | None, device: str | None, *, as_fast: bool) -> Source:
    from voicereport.errors import AudioError
    from voicereport.live.sources import FileSource, Microphone

    if recording is None:
        return Microphone(device=device)
    if not recording.is_file():
        raise AudioError(str(recording), "there is no such file", "check its name")
    return FileSource(path=recording, as_fast=as_fast)


def _job(folder: Path, session: Session, settings: Settings, show: Show, *, resume: bool) -> LiveJob:
    from voicereport.live import job as live

    if not resume:
        own = {"trade": settings.trade, "units": settings.units, "profile": settings.profile}
        return live.begin(folder, session, settings=own)
    for found, events in live.resume(folder, session):
        job = found
        show(events, max(0.0, job.writer.seconds - session.at))
    return job


def _run(job: LiveJob, source: Source, show: Show, *, mute: bool) -> None:
    """Listen until the source ends, the job is finished, or Ctrl-C; a second Ctrl-C ends at once."""
    from voicereport.errors import AudioError
    from voicereport.live.events import to_speak
    from voicereport.live.voice import Voice

    voice = Voice(language=job.session.settings.language, ring=lambda: typer.echo("\a", nl=False, err=True))

    def end(_signal: int, _frame: object) -> None:
        if job.stopping:
            raise KeyboardInterrupt
        job.stopping = True

    before = {sign: signal.signal(sign, end) for sign in (signal.SIGINT, signal.SIGTERM)}
    try:
        for events in job.events(source):
            show(events, source.waiting() + max(0.0, job.writer.seconds - job.session.at))
            text = " ".join(filter(None, map(to_speak, () if mute else events)))
            if text:  # several sentences at once are one: a second must not cut the first short
                start = job.writer.seconds
                job.session.spoke(text, start, start + voice.say(text))
    except (AudioError, OSError) as error:
        if not job.writer.samples:
            raise
        common.say(f"{error}; ended with what was recorded")
    finally:
        for sign, handler in before.items():
            signal.signal(sign, handler)
    voice.wait()


def _echo(lines: Iterable[str]) -> None:
    for line in lines:
        typer.echo(line)


@contextmanager
def _shown(session: Session, *, plain: bool, as_json: bool) -> Iterator[Show]:
    """How events are shown: lines of JSON, plain lines, or a screen where stdout is a terminal."""
    import sys

    from voicereport.live.events import as_json as row
    from voicereport.live.view import Board, line_of, screen

    if as_json:
        yield lambda events, _behind: _echo(json.dumps(row(event), ensure_ascii=False) for event in events)
        return
    if plain or not sys.stdout.isatty():
        yield lambda events, _behind: _echo(line for event in events if (line := line_of(event)))
        return
    from rich.live import Live

    board = Board()
    with Live(screen(session, board), screen=True, auto_refresh=False) as live:
        shown = 0.0

        def show(events: tuple[Event, ...], behind: float) -> None:
            nonlocal shown
            board.take(events)
            if events or time.monotonic() - shown > 0.25:
                shown = time.monotonic()
                live.update(screen(session, board, behind_s=behind, width=live.console.width), refresh=True)

        yield show


def _end(job: LiveJob, settings: Settings, *, as_json: bool, compare: bool) -> int:
    """Write the report and say what came of it."""
    from voicereport.pipeline import write_report

    report = job.session.report
    if report is None:  # nothing was said at all
        job.session.understand()
        report = job.session.report
    if report is None:
        return 3
    written = write_report(report, job.folder, settings, sources=[job.recording])
    differences = _differences(job, settings) if compare else None
    if as_json:
        row = {"event": "written", "status": report.status, "files": [str(path) for path in written]}
        typer.echo(json.dumps(row | ({} if differences is None else {"compared": differences}), ensure_ascii=False))
    else:
        common.print_account(report)
        typer.echo(f"files: {job.folder}")
        for line in _lines(differences or {}):
            typer.echo(line)
    return common.status_of(report)


def _differences(job: LiveJob, settings: Settings) -> dict[str, object]:
    from voicereport.live.compare import agreement, whole_report

    session = job.session
    if session.report is None:
        return {}
    whole = whole_report(job.recording, session.trade, settings, session.phrases)
    return asdict(agreement(session.report, whole))


def _lines(differences: dict[str, object]) -> Iterator[str]:
    if not differences:
        return
    yield (f"against the whole recording: checks {differences['checks']:.1%}, steps {differences['steps']:.3f}, "
           f"readings {differences['readings']:.3f}")  # fmt: skip
    rows = differences["differences"]
    for row in rows if isinstance(rows, tuple | list) else ():
        yield f"  {row['kind']:8}{row['what']}: {row['live'] or '-'} / {row['whole'] or '-'}"
