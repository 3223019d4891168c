"""Commands on the store: audit, backup, restore, retention, measure-store."""

from __future__ import annotations

import getpass
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from voicereport.cli import common
from voicereport.cli.common import JsonOption, TradeOption

if TYPE_CHECKING:
    from voicereport.store import Store
    from voicereport.store.values import BackupResult, TrailEntry

audit = typer.Typer(help="The audit trail: verify, list, head.", no_args_is_help=True)

StoreOption = Annotated[Path, typer.Option("--store", help="Folder of the store.")]
DatabaseOption = Annotated[
    str | None,
    typer.Option("--database", help="Address of the database, or @FILE that holds it; else SQLite in the store."),
]
HeadOption = Annotated[
    Path | None, typer.Option("--head-file", help="File that keeps the end of the trail; else in the store.")
]
ByOption = Annotated[str | None, typer.Option("--by", help="Who does this, for the trail; else your login.")]
STORE = Path("voicereport-store")


def register(app: typer.Typer) -> None:
    """Add this module's commands to the program."""
    app.add_typer(audit, name="audit")
    app.command("backup")(backup)
    app.command("restore")(restore)
    app.command("retention")(retention)
    app.command("measure-store")(measure_store)


@audit.command("verify")
def verify(
    store: StoreOption = STORE,
    database: DatabaseOption = None,
    head_file: HeadOption = None,
    files: Annotated[bool, typer.Option("--files", help="Also take the digest of every recording.")] = False,
    derived: Annotated[bool, typer.Option("--derived", help="Also hold the lists against the reports.")] = False,
    expect: Annotated[str | None, typer.Option(help="NUMBER:HASH of an entry, as `audit head` printed it.")] = None,
    as_json: JsonOption = False,
) -> int:
    """Look for anything in the store that was changed, taken out, put in or moved past the trail.

    Example: voicereport audit verify --files
    """
    wanted = _expected(expect)
    with _opened(store, database, head_file) as opened:
        found = opened.trail.verify(files=files, derived=derived, expect=wanted)
    if as_json:
        faults = [{"place": fault.place, "problem": fault.problem} for fault in found.faults]
        common.print_json({"entries": found.entries, "rows": found.rows, "files": found.files, "head": found.head,
                           "faults": faults})  # fmt: skip
    else:
        for fault in found.faults:
            typer.echo(f"{fault.place}: {fault.problem}")
        outcome = "no fault found" if found.sound else f"{len(found.faults)} faults found"
        typer.echo(f"{found.entries} entries, {found.rows} rows, {found.files} files: {outcome}")
    return 0 if found.sound else 3


@audit.command("head")
def head(
    store: StoreOption = STORE,
    database: DatabaseOption = None,
    head_file: HeadOption = None,
    as_json: JsonOption = False,
) -> None:
    """Print number and hash of the last entry, to be written down outside the store."""
    with _opened(store, database, head_file) as opened:
        number, name = opened.trail.head()
    if as_json:
        common.print_json({"number": number, "hash": name})
    else:
        typer.echo(f"{number}:{name}")


@audit.command("list")
def list_entries(
    store: StoreOption = STORE,
    database: DatabaseOption = None,
    head_file: HeadOption = None,
    job: Annotated[int | None, typer.Option(help="Only the entries of this job.")] = None,
    after: Annotated[int, typer.Option(help="Begin after this entry.")] = 0,
    limit: Annotated[int, typer.Option(help="Most entries.", min=1)] = 100,
    as_json: JsonOption = False,
) -> None:
    """Print entries of the trail, oldest first."""
    with _opened(store, database, head_file) as opened:
        entries = opened.trail.entries(after=after, limit=limit, job_id=job)
    if as_json:
        return common.print_json([_entry(entry) for entry in entries])
    for entry in entries:
        why = f" ({_plain(entry.why)})" if entry.why else ""
        typer.echo(f"{entry.number:6} {entry.at:%Y-%m-%d %H:%M:%S} {_plain(entry.by):16} {entry.act:24}"
                   f"{_plain(entry.about)}{why}")  # fmt: skip


def backup(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(help="Folder to write, which must not be there yet.")],
    store: StoreOption = STORE,
    database: DatabaseOption = None,
    head_file: HeadOption = None,
    by: ByOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write a back-up of the whole store and of your own settings, trades and texts, while it is in use.

    Example: voicereport backup /mnt/backup/monday
    """
    from voicereport.paths import user_config_dir
    from voicereport.settings import settings_file
    from voicereport.store.backup import backup as write

    with _opened(store, database, head_file) as opened:
        made = write(opened, folder, now=datetime.now(UTC), by=_who(by), own=user_config_dir(),
                     settings=settings_file(context.obj))  # fmt: skip
    _show_backup(made, as_json=as_json)


def restore(
    folder: Annotated[Path, typer.Argument(help="Folder of a back-up.")],
    store: StoreOption = STORE,
    database: DatabaseOption = None,
    head_file: HeadOption = None,
    by: ByOption = None,
    as_json: JsonOption = False,
) -> int:
    """Read a back-up into an empty store, put back your own settings where there are none, and verify its trail.

    Example: voicereport restore /mnt/backup/monday --store restored
    """
    from voicereport.paths import user_config_dir
    from voicereport.store import address
    from voicereport.store.backup import restore as read
    from voicereport.store.own_files import SETTINGS

    made = read(folder, address(store, database), store, now=datetime.now(UTC), by=_who(by), head=head_file,
                own=user_config_dir())  # fmt: skip
    _show_backup(made, as_json=as_json)
    for name in made.left:
        common.say(f"{name}: another one is in its place and was left; this one lies in {folder / 'settings' / name}")
    if (store / SETTINGS).is_file():
        common.say(f"{store / SETTINGS}: the settings that were in force; name them by --config, or move them")
    with _opened(store, database, head_file) as opened:
        found = opened.trail.verify(files=True)
    for fault in found.faults:
        common.say(f"{fault.place}: {fault.problem}")
    return 0 if found.sound else 3


def retention(
    keep_days: Annotated[float, typer.Option(help="Days that recordings are kept.", min=0)],
    store: StoreOption = STORE,
    database: DatabaseOption = None,
    head_file: HeadOption = None,
    only_show: Annotated[bool, typer.Option("--only-show", help="Delete nothing, name what would go.")] = False,
    by: ByOption = None,
    as_json: JsonOption = False,
) -> None:
    """Delete recordings past their time, but those of held jobs; reports and the trail stay.

    Example: voicereport retention --keep-days 365
    """
    with _opened(store, database, head_file) as opened:
        now = datetime.now(UTC)
        if only_show:
            recordings = opened.retention.due(now=now, keep_days=keep_days)
        else:
            recordings = opened.retention.sweep(now=now, keep_days=keep_days, by=_who(by)).recordings
    if as_json:
        return common.print_json(
            [{"job": r.job_id, "name": r.name, "sha256": r.sha256, "bytes": r.bytes} for r in recordings]
        )
    for recording in recordings:
        typer.echo(f"job {recording.job_id}: {_plain(recording.name)}, {recording.bytes} bytes")
    typer.echo(f"{len(recordings)} recordings {'would be ' if only_show else ''}deleted")


def measure_store(
    context: typer.Context,
    store: StoreOption = STORE,
    database: DatabaseOption = None,
    fill: Annotated[int | None, typer.Option(help="First make a new store with so many invented reports.")] = None,
    times: Annotated[int, typer.Option(help="How often each kind of question is asked.", min=1)] = 60,
    trade: TradeOption = None,
    as_json: JsonOption = False,
) -> int:
    """Time the lists, searches and overviews of a store; memory is told right only without --fill.

    Status 1 where a limit is not kept. Example: voicereport measure-store --fill 1000 --store measured
    """
    from voicereport.evaluation import store_bench, store_fill
    from voicereport.store import address, open_store

    pack = common.settings_of(context, trade=trade).trade
    now = datetime.now(UTC)
    if fill is not None:
        store.mkdir(parents=True)
        made = open_store(address(store, database), store)
        store_fill.fill(made, fill, trade=pack, now=now)
        made.close()
    with _opened(store, database, None) as opened:
        timings = store_bench.measure(opened, trade=pack, now=now, times=times)
    memory = store_bench.memory_mb()
    if as_json:
        common.print_json({"memory_mb": memory, "timings": [asdict(timing) for timing in timings]})
    else:
        typer.echo(store_bench.table(timings, memory))
    kept = all(timing.kept for timing in timings) and memory <= store_bench.MEMORY_MB
    return 0 if kept else 1


@contextmanager
def _opened(folder: Path, database: str | None, head_file: Path | None) -> Iterator[Store]:
    """A store that is there. Raises StoreError where there is none: none of these commands begins one."""
    from voicereport.store import StoreError, address, open_store

    if not folder.is_dir():
        raise StoreError(str(folder), "is no store", "name its folder by --store", kind="not_found")
    store = open_store(address(folder, database), folder, head=head_file)
    try:
        yield store
    finally:
        store.close()


def _expected(text: str | None) -> tuple[int, str] | None:
    if text is None:
        return None
    number, colon, name = text.partition(":")
    if not (colon and number.isdigit() and name):
        raise typer.BadParameter(f"--expect: {text!r} is no NUMBER:HASH")
    return int(number), name


def _who(by: str | None) -> str:
    return by if by is not None else getpass.getuser()


def _show_backup(made: BackupResult, *, as_json: bool) -> None:
    if as_json:
        common.print_json({"folder": str(made.folder), "rows": made.rows, "files": made.files, "bytes": made.bytes,
                           "head": made.head})  # fmt: skip
    else:
        typer.echo(f"{made.folder}: {made.rows} rows, {made.files} files, {made.bytes} bytes")


def _entry(entry: TrailEntry) -> dict[str, Any]:
    return {"number": entry.number, "at": entry.at.isoformat(), "by": entry.by, "act": entry.act, "job": entry.job_id,
            "about": entry.about, "before": entry.before, "after": entry.after, "why": entry.why, "hash": entry.hash,
            }  # fmt: skip


def _plain(text: str | None) -> str:
    """A text for a terminal: what could move its cursor or turn its direction is written as an escape."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text or "")
