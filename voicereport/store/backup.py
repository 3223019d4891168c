"""Back-ups: every table as JSON lines, every file by its digest, the shop's own settings by their names, and a manifest
with the digests of all of them.

A back-up is of one moment, though work goes on meanwhile. It does not depend on the database that it came from: one of
SQLite can be read back into PostgreSQL, and the other way round.
"""

from __future__ import annotations

import base64
import hashlib
import json
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Table, insert, select, text
from sqlalchemy.orm import Session

from voicereport.store.canonical import moment
from voicereport.store.faults import conflict, damaged, refused
from voicereport.store.files import file_digest
from voicereport.store.heads import Head
from voicereport.store.index import put_all_repeats
from voicereport.store.migrate import REVISION
from voicereport.store.models import Base, IssueRow, RecordingRow
from voicereport.store.own_files import own_files, place_of
from voicereport.store.store import Store, open_store
from voicereport.store.values import BackupResult
from voicereport.store.writing import trail_end

MANIFEST = "manifest.json"
_FORMAT = 2
_READABLE = (1, 2)  #: 1 had no settings
_BATCH = 2000
_REVISIONS = ("0001", "0002")  #: whose tables can be read into those of today
# people sign in again; half a recording is sent again; repeats are counted anew
_LEFT_OUT = ("sessions", "uploads", "pieces", "repeats")


def backup(
    store: Store, folder: Path, *, now: datetime, by: str, own: Path | None = None, settings: Path | None = None
) -> BackupResult:
    """Writes a back-up into `folder`, which must not be there yet; it appears when it is whole.

    own: the folder of the shop's own settings, packs and texts. settings: the settings file in force, where it lies
    elsewhere. Raises StoreError where it is there, or a recording that should be in the store is not.
    """
    if folder.exists():
        raise refused(str(folder), "is there already", "name a new folder")
    store.trail.note("store.backed_up", folder.name, by=by, now=now)
    unfinished = folder.with_name(f".{folder.name}.unfinished")
    shutil.rmtree(unfinished, ignore_errors=True)
    (unfinished / "tables").mkdir(parents=True)
    with store.database.read() as session:
        head = trail_end(session)
        tables = {table.name: _write_table(session, table, unfinished) for table in _tables()}
        files = _copy_files(session, store, unfinished)
    kept = _copy_own(own_files(store.files.folder, own, settings), unfinished)
    manifest = {"format": _FORMAT, "revision": REVISION, "made_at": moment(now), "head": list(head), "tables": tables,
                "files": files, "settings": kept}  # fmt: skip
    (unfinished / MANIFEST).write_text(json.dumps(manifest, indent=1), encoding="utf-8")
    unfinished.rename(folder)
    return _result(folder, manifest)


def restore(
    folder: Path, url: str, into: Path, *, now: datetime, by: str, head: Path | None = None, own: Path | None = None
) -> BackupResult:
    """Reads a back-up into an empty database and an empty folder, and notes that in the trail.

    head: as in open_store. own: as in backup; a file that is there already and says something else is left, and so are
    all of them without `own`. Raises StoreError where the back-up is not whole or the store is not empty.
    """
    manifest = read_manifest(folder)
    check_backup(folder, manifest)
    store = open_store(url, into, head=head)
    try:
        with store.database.write() as writing:
            if any(writing.session.execute(select(table).limit(1)).first() for table in _tables()):
                raise conflict(url, "is not empty", "restore into a new database")
            for table in _tables():
                _read_table(writing.session, table, folder)
            put_all_repeats(writing.session)
            if not store.database.sqlite:
                _reset_counters(writing.session)
        _restore_files(folder, manifest, store)
        left = _restore_own(folder, manifest, into, own)
        store.database.heads.begin_at((int(manifest["head"][0]), str(manifest["head"][1])))
        store.trail.note("store.restored", folder.name, by=by, now=now, after={"made_at": manifest["made_at"]})
    finally:
        store.close()
    return replace(_result(folder, manifest), left=left)


def read_manifest(folder: Path) -> dict[str, Any]:
    """What a back-up says that it holds. Raises StoreError where it is none, or of another version."""
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise damaged(str(folder), f"is no back-up ({error})", "name the folder that holds manifest.json") from error
    if (
        not isinstance(manifest, dict)
        or manifest.get("format") not in _READABLE
        or manifest.get("revision") not in _REVISIONS
    ):
        raise damaged(str(folder), "is a back-up of another version", "restore it by that version")
    return manifest


def check_backup(folder: Path, manifest: dict[str, Any]) -> None:
    """Raises StoreError unless each file of a back-up is there with the digest that the manifest names."""
    wanted = {f"tables/{name}.jsonl": entry["sha256"] for name, entry in manifest["tables"].items()}
    wanted |= {f"{kind}/{sha256}": sha256 for kind, sha256, _ in manifest["files"]}
    wanted |= {f"settings/{name}": sha256 for name, sha256, _ in manifest.get("settings", ())}
    for name, _, _ in manifest.get("settings", ()):
        place_of(name, folder, folder)
    faults = [name for name, sha256 in wanted.items() if not _is(folder / name, sha256)]
    if faults:
        shown = ", ".join(faults[:5]) + (f" and {len(faults) - 5} more" if len(faults) > 5 else "")
        raise damaged(str(folder), f"lacks or has changed: {shown}", "take another back-up")


def _tables() -> list[Table]:
    return [table for table in Base.metadata.sorted_tables if table.name not in _LEFT_OUT]


def _write_table(session: Session, table: Table, folder: Path) -> dict[str, Any]:
    sha, rows, count = hashlib.sha256(), 0, 0
    with (folder / "tables" / f"{table.name}.jsonl").open("wb") as file:
        for line in _lines(session, table):
            file.write(line)
            sha.update(line)
            rows, count = rows + 1, count + len(line)
    return {"rows": rows, "bytes": count, "sha256": sha.hexdigest()}


def _lines(session: Session, table: Table) -> Iterator[bytes]:
    query = select(table).order_by(*table.primary_key.columns).execution_options(yield_per=_BATCH)
    for row in session.execute(query):
        plain = [{"base64": base64.b64encode(v).decode()} if isinstance(v, bytes) else v for v in row]
        yield json.dumps(plain, separators=(",", ":")).encode() + b"\n"


def _read_table(session: Session, table: Table, folder: Path) -> None:
    names = [column.name for column in table.columns]
    batch: list[dict[str, Any]] = []
    with (folder / "tables" / f"{table.name}.jsonl").open("rb") as file:
        for line in file:
            values = [base64.b64decode(v["base64"]) if isinstance(v, dict) else v for v in json.loads(line)]
            batch.append(dict(zip(names, values, strict=True)))
            if len(batch) == _BATCH:
                session.execute(insert(table), batch)
                batch = []
    if batch:
        session.execute(insert(table), batch)


def _copy_files(session: Session, store: Store, folder: Path) -> list[list[Any]]:
    recordings = select(RecordingRow.sha256).where(RecordingRow.deleted_at.is_(None)).distinct()
    documents = {sha256 for text_ in session.scalars(select(IssueRow.documents)) for _, sha256, _ in json.loads(text_)}
    wanted = [("recordings", sha256, store.files.recording(sha256)) for sha256 in session.scalars(recordings)]
    wanted += [("documents", sha256, store.files.document(sha256)) for sha256 in sorted(documents)]
    copied: list[list[Any]] = []
    for kind, sha256, path in wanted:
        (folder / kind).mkdir(exist_ok=True)
        try:
            shutil.copyfile(path, folder / kind / sha256)
        except FileNotFoundError as error:
            raise damaged(f"{kind} {sha256}", "has no file in the store", "run voicereport audit verify") from error
        copied.append([kind, sha256, path.stat().st_size])
    return copied


def _restore_files(folder: Path, manifest: dict[str, Any], store: Store) -> None:
    for kind, sha256, _ in manifest["files"]:
        place = store.files.recording(sha256) if kind == "recordings" else store.files.document(sha256)
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(folder / kind / sha256, place)


def _copy_own(files: Mapping[str, Path], folder: Path) -> list[list[Any]]:
    copied: list[list[Any]] = []
    for name, path in files.items():
        place = folder / "settings" / name
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, place)
        copied.append([name, file_digest(place), place.stat().st_size])
    return copied


def _restore_own(folder: Path, manifest: dict[str, Any], into: Path, own: Path | None) -> tuple[str, ...]:
    """Puts the shop's own settings in their places; gives the names of those that were left."""
    left = []
    for name, sha256, _ in manifest.get("settings", ()):
        place = place_of(name, into, own)
        if place is None or (place.exists() and not _is(place, sha256)):
            left.append(name)
            continue
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(folder / "settings" / name, place)
    return tuple(left)


def _reset_counters(session: Session) -> None:
    """Lets PostgreSQL count on after the rows that were read back with their numbers."""
    for table in _tables():
        column = next(iter(table.primary_key.columns))
        name = session.scalar(text("SELECT pg_get_serial_sequence(:table, :column)"),
                              {"table": table.name, "column": column.name})  # fmt: skip
        if name is not None:
            highest = f"SELECT setval('{name}', COALESCE((SELECT MAX({column.name}) FROM {table.name}), 0) + 1, false)"
            session.execute(text(highest))


def _is(path: Path, sha256: str) -> bool:
    try:
        return file_digest(path) == sha256
    except OSError:
        return False


def _result(folder: Path, manifest: dict[str, Any]) -> BackupResult:
    tables = tuple((name, int(entry["rows"])) for name, entry in manifest["tables"].items())
    size = sum(int(entry["bytes"]) for entry in manifest["tables"].values())
    own = manifest.get("settings", ())
    size += sum(int(count) for _, _, count in (*manifest["files"], *own))
    end: Head = (int(manifest["head"][0]), str(manifest["head"][1]))
    return BackupResult(folder=folder, rows=sum(count for _, count in tables), files=len(manifest["files"]) + len(own),
                        bytes=size, head=end[1], tables=tables)  # fmt: skip
