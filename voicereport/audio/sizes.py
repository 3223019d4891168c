"""Lengths that stand in the files themselves, where the decoder shrinks its promise to what is there."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

_UNSET = (0, 0xFFFFFFFF)  #: what recorders write that could not go back to the header
_OGG_LAST = 0x04  #: header_type_flag of the last page of a stream (RFC 3533, section 6)
_OGG_LONGEST_PAGE = 65_307  #: bytes (RFC 3533, section 6)


@dataclass(frozen=True, kw_only=True, slots=True)
class Sizes:
    """Bytes of sound in a wav file."""

    declared: int  #: 0 where the header leaves it open
    present: int
    unset: bool  #: the header leaves it open


def declared_bytes(path: Path) -> Sizes | None:
    """The size field of the `data` chunk of a RIFF/WAVE file and what follows it; None for other files."""
    with path.open("rb") as file:
        head = file.read(12)
        if head[:4] != b"RIFF" or head[8:12] != b"WAVE":
            return None
        size = path.stat().st_size
        while len(chunk := file.read(8)) == 8:
            name, declared = struct.unpack("<4sI", chunk)
            if name == b"data":
                unset = declared in _UNSET
                return Sizes(declared=0 if unset else declared, present=size - file.tell(), unset=unset)
            file.seek(declared + declared % 2, 1)
    return None


def end_mark_missing(path: Path) -> bool:
    """True for an Ogg file whose last page is not marked as the last of its stream."""
    with path.open("rb") as file:
        if file.read(4) != b"OggS":
            return False
        file.seek(max(0, path.stat().st_size - _OGG_LONGEST_PAGE))
        tail = file.read()
    at = tail.rfind(b"OggS")
    return at < 0 or len(tail) < at + 6 or not tail[at + 5] & _OGG_LAST
