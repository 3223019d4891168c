"""The folder of the store: recordings and documents named by their digest, pieces of recordings on their way.

A file is written beside its place, put on disk and renamed, so it is whole or not there.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import uuid
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, BinaryIO

from voicereport.store.canonical import digest, storable
from voicereport.store.faults import refused

_BLOCK = 1 << 20  #: bytes read at a time
_ABANDONED_S = 86_400  #: age in seconds at which an unfinished file is nobody's


@dataclass(frozen=True, kw_only=True, slots=True)
class Written:
    """A file that was put in its place."""

    sha256: str
    bytes: int


class Files:
    """Files named by digest under one folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("recordings", "documents", "pieces", "unfinished"):
            (folder / name).mkdir(parents=True, exist_ok=True)

    def recording(self, sha256: str) -> Path:
        """Where the recording of a digest lies, or would."""
        return self._named("recordings", sha256)

    def document(self, sha256: str) -> Path:
        """Where the document of a digest lies, or would."""
        return self._named("documents", sha256)

    def keep_recording(self, blocks: Iterable[bytes], *, expected: str | None = None) -> Written:
        """Writes a recording as it comes. Raises StoreError where it is empty or its digest is not `expected`."""
        with self._unfinished() as (file, path):
            count, sha = _copy(blocks, file)
            if not count:
                raise refused("recording", "is empty", "record again")
            if expected is not None and expected.lower() != sha:
                raise refused("recording", "did not arrive as it was sent: its digest is another", "send it again")
            _settle(file, path, self.recording(sha))
        return Written(sha256=sha, bytes=count)

    def keep_document(self, content: bytes) -> Written:
        """Writes a document."""
        sha = digest(content)
        with self._unfinished() as (file, path):
            file.write(content)
            _settle(file, path, self.document(sha))
        return Written(sha256=sha, bytes=len(content))

    def keep_piece(self, upload: str, number: int, sha256: str, content: bytes) -> None:
        """Writes one piece of a recording on its way; other bytes under the same number are another file."""
        place = self._piece(upload, number, sha256)
        with self._unfinished() as (file, path):
            file.write(content)
            _settle(file, path, place)

    def pieces(self, upload: str, digests: Sequence[str]) -> Iterator[bytes]:
        """The pieces of these digests, from number 0 on, as one stream of blocks. Raises OSError where one lacks."""
        for number, sha256 in enumerate(digests):
            with self._piece(upload, number, sha256).open("rb") as file:
                yield from blocks_of(file)

    def piece(self, upload: str, number: int, sha256: str) -> bytes:
        """One piece of a recording on its way. Raises FileNotFoundError where it is not here."""
        return self._piece(upload, number, sha256).read_bytes()

    def drop_pieces(self, upload: str) -> None:
        """Takes the pieces of a recording away that has been joined."""
        shutil.rmtree(self._pieces(upload), ignore_errors=True)

    def clear_unfinished(self, now_s: float) -> None:
        """Takes away what was never finished. now_s: the time in seconds since 1970, as files bear it."""
        for path in (self.folder / "unfinished").iterdir():
            if now_s - path.stat().st_mtime > _ABANDONED_S:
                path.unlink(missing_ok=True)

    def _pieces(self, upload: str) -> Path:
        return self.folder / "pieces" / digest(storable(upload))

    def _piece(self, upload: str, number: int, sha256: str) -> Path:
        return self._pieces(upload) / f"{number:06}-{sha256}"

    def _named(self, kind: str, sha256: str) -> Path:
        if not re.fullmatch("[0-9a-f]{64}", sha256):
            raise refused("digest", "is no SHA-256 in hex")
        return self.folder / kind / sha256[:2] / sha256

    @contextmanager
    def _unfinished(self) -> Iterator[tuple[IO[bytes], Path]]:
        path = self.folder / "unfinished" / uuid.uuid4().hex
        try:
            with path.open("xb") as file:
                yield file, path
        finally:
            path.unlink(missing_ok=True)


def blocks_of(file: BinaryIO) -> Iterator[bytes]:
    """The content of an open file, block by block."""
    while block := file.read(_BLOCK):
        yield block


def file_digest(path: Path) -> str:
    """SHA-256 of a file, in hex. Raises OSError."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _copy(blocks: Iterable[bytes], file: IO[bytes]) -> tuple[int, str]:
    count, sha = 0, hashlib.sha256()
    for block in blocks:
        file.write(block)
        sha.update(block)
        count += len(block)
    return count, sha.hexdigest()


def _settle(file: IO[bytes], path: Path, place: Path) -> None:
    """Puts a written file on disk and in its place."""
    file.flush()
    os.fsync(file.fileno())
    place.parent.mkdir(parents=True, exist_ok=True)
    path.replace(place)
    folder = os.open(place.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
