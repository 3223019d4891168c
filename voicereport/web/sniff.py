"""What a file is, by its first bytes and never by its name or by what the sender says."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import BinaryIO

_HEAD = 65_536  #: bytes looked at
_TEXT_BYTES = 50_000_000  #: most of a transcript


@dataclass(frozen=True, kw_only=True, slots=True)
class Kind:
    """A kind of file that is taken."""

    media_type: str


def kind_of(file: BinaryIO) -> Kind | None:
    """The kind of a file, read from its start; None for one that is not taken. The file is left at its start."""
    file.seek(0)
    head = file.read(_HEAD)
    file.seek(0, 2)
    size = file.tell()
    file.seek(0)
    return _sound(head) or (_transcript(file, head) if size <= _TEXT_BYTES else None)


def _sound(head: bytes) -> Kind | None:
    """Containers of sound by their signatures, as their specifications give them."""
    if head[:4] in (b"RIFF", b"RF64") and head[8:12] == b"WAVE":
        return Kind(media_type="audio/wav")
    if head[:4] == b"OggS":
        return Kind(media_type="audio/ogg")
    if head[:4] == b"fLaC":
        return Kind(media_type="audio/flac")
    if head[4:8] == b"ftyp":
        phone = head[8:11] in (b"3gp", b"3g2")
        return Kind(media_type="audio/3gpp" if phone else "audio/mp4")
    if head[:4] == b"\x1aE\xdf\xa3":
        return Kind(media_type="audio/webm")
    if head[:5] == b"#!AMR":
        return Kind(media_type="audio/amr")
    if head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"):
        return Kind(media_type="audio/aiff")
    if head[:4] == b"caff":
        return Kind(media_type="audio/x-caf")
    if head[:3] == b"ID3" or (len(head) > 1 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0):
        stream = head[:1] == b"\xff" and head[1] & 0xF6 == 0xF0
        return Kind(media_type="audio/aac" if stream else "audio/mpeg")
    return None


def _transcript(file: BinaryIO, head: bytes) -> Kind | None:
    """Text with times: WebVTT, SubRip, or this tool's own JSON."""
    if b"\0" in head:
        return None
    start = head.decode("utf-8-sig", errors="replace").lstrip()
    if start.startswith("WEBVTT"):
        return Kind(media_type="text/vtt")
    first, _, rest = start.partition("\n")
    if first.strip().isdigit() and "-->" in rest[:200]:
        return Kind(media_type="application/x-subrip")
    if not start.startswith("{"):
        return None
    try:
        data = json.load(file)
    except (ValueError, RecursionError):
        return None
    finally:
        file.seek(0)
    if isinstance(data, dict) and "recordings" in data:
        return Kind(media_type="application/json")
    return None
