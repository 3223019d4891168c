"""What a recording's container says of itself, before a single sample is decoded."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from voicereport.audio.sizes import declared_bytes, end_mark_missing
from voicereport.errors import AudioError

#: Containers that are opened. Play lists and scripts are not among them: they would make the decoder open other files.
FORMATS = (
    "wav,w64,mp3,mov,mp4,m4a,3gp,3g2,mj2,aac,ogg,matroska,webm,flac,amr,amrnb,amrwb,"
    "asf,aiff,caf,mpegts,mpeg,avi,au,loas,ac3,eac3,flv,wv"
)
_OTHER_FILE = "give the recording itself (wav, mp3, m4a, ogg, webm, flac, amr, 3gp, mp4, ...)"
_AGAIN = "copy it again from the device that recorded it"


@dataclass(frozen=True, kw_only=True, slots=True)
class Promise:
    """What the header says; nothing of it is trusted."""

    container: str  #: name of the format, "ogg"
    codec: str  #: "opus"
    rate_hz: int  #: as stored; 0 = not said
    channels: int
    tracks: int  #: sound tracks in the file
    duration_s: float | None  #: None = the header does not say
    recorded: str | None  #: ISO 8601 time of recording, where the file says it
    faults: tuple[str, ...]  #: in plain words, what the header contradicts


def digest(path: Path) -> str:
    """The SHA-256 of a file, as hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def probe(path: Path) -> Promise:
    """What the header of a recording promises. Raises AudioError for what is no recording."""
    with opened(path) as container:
        stream = sound_track(container)
        codec = stream.codec_context
        return Promise(
            container=container.format.name,
            codec=codec.name,
            rate_hz=int(codec.sample_rate or 0),
            channels=int(codec.channels or 0),
            tracks=len(container.streams.audio),
            duration_s=_duration(container, stream),
            recorded=_recorded(container, stream),
            faults=tuple(_header_faults(path, stream)),
        )


@contextmanager
def opened(path: Path) -> Iterator[Any]:
    """The recording, opened, with at least one sound track. Raises AudioError for what is no recording."""
    import av

    _refuse_at_sight(path)
    try:
        container = av.open(str(path), container_options={"format_whitelist": FORMATS, "protocol_whitelist": "file"})
    except (av.error.FFmpegError, ValueError) as error:
        raise AudioError(str(path), _not_a_recording(path), _remedy(path)) from error
    with container:
        if not container.streams.audio:
            raise AudioError(str(path), "has no sound track", "record with the microphone on, or give another file")
        if sound_track(container) is None:
            raise AudioError(str(path), "holds sound of a kind that cannot be decoded", "save it as wav, m4a or ogg")
        yield container


def sound_track(container: Any) -> Any:
    """The main sound track of a recording that can be decoded; None where none can."""
    best = container.streams.best("audio")
    tracks = [track for track in (best, *container.streams.audio) if track is not None]
    return next((track for track in tracks if track.codec_context is not None), None)


def _refuse_at_sight(path: Path) -> None:
    try:
        size = path.stat().st_size
    except OSError as error:
        raise AudioError(str(path), f"cannot be read ({error.strerror})", "check its name") from error
    if not path.is_file():
        raise AudioError(str(path), "is no file", "name the recordings themselves")
    if size == 0:
        raise AudioError(str(path), "is empty, 0 bytes", _AGAIN)
    if _is_text(path):
        raise AudioError(str(path), "is text, not a recording", _OTHER_FILE)


def _head(path: Path, count: int = 4096) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(count)
    except OSError as error:
        raise AudioError(str(path), f"cannot be read ({error.strerror})", "check who may read it") from error


def _is_text(path: Path) -> bool:
    head = _head(path)
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start < len(head) - 3:
            return False
        text = head[: error.start].decode("utf-8")
    return all(letter.isprintable() or letter in "\r\n\t\f\ufeff" for letter in text)


def _not_a_recording(path: Path) -> str:
    head = _head(path)
    if not any(head):
        return "holds nothing but zeros"
    if head[4:8] == b"ftyp":
        return "is a film or sound file without its index: it was cut off before its end was written"
    if head[:4] in (b"RIFF", b"OggS", b"fLaC", b"\x1aE\xdf\xa3") or head[:3] == b"ID3":
        return "begins like a recording, but holds none that can be decoded"
    return "is no recording of a known kind"


def _remedy(path: Path) -> str:
    return _AGAIN if "known kind" not in _not_a_recording(path) else _OTHER_FILE


def _duration(container: Any, stream: Any) -> float | None:
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    if container.duration and len(container.streams) == 1:
        return float(container.duration) / 1e6
    return None


def _recorded(container: Any, stream: Any) -> str | None:
    """The time of recording, ISO 8601, if a tag gives one with a day that can be."""
    from datetime import datetime

    for tags in (container.metadata, stream.metadata):
        for name in ("creation_time", "com.apple.quicktime.creationdate", "date", "DATE"):
            text = tags.get(name, "")
            try:
                when = datetime.fromisoformat(text)
            except ValueError:
                continue
            if when.year > 1990:  # an unset clock writes 1904 or 1970
                return when.isoformat()
    return None


def _header_faults(path: Path, stream: Any) -> Iterator[str]:
    sizes = declared_bytes(path)
    if sizes is not None and sizes.declared > sizes.present:
        per_second = stream.codec_context.bit_rate / 8 if stream.codec_context.bit_rate else 0
        said, there = sizes.declared, sizes.present
        if per_second:
            yield (f"is cut off: its header promises {said / per_second:.1f} s, "
                   f"{there / per_second:.1f} s are there")  # fmt: skip
        else:
            yield f"is cut off: its header promises {said} bytes of sound, {there} are there"
    if sizes is not None and sizes.unset:
        yield "has no length in its header; all that is there was read"
    if end_mark_missing(path):
        yield "has no end mark: it may have been cut off while it was recorded or copied"
