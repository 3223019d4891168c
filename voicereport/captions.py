"""Transcripts in and out: WebVTT, SubRip, and the project's own JSON."""

from __future__ import annotations

import hashlib
import html
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from voicereport.errors import TranscriptError
from voicereport.transcript import Recording, Segment, Transcript, Word, spread

_ARROW = "-->"
_VTT_TIME = re.compile(r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})")  #: W3C WebVTT, section 4.3
_SRT_TIME = re.compile(r"(\d{1,2}):([0-5]\d):([0-5]\d)[,.](\d{3})")
_TAG = re.compile(r"</?(?:c|i|b|u|v|ruby|rt|lang|font|\d[\d:.]*)(?:[.\s][^>]*)?>|</?[a-z]+>", re.IGNORECASE)
_NOT_CUES = ("NOTE", "STYLE", "REGION")
_OWN = "voicereport-transcript"


def read_transcript(path: Path) -> Transcript:
    """The transcript in a .vtt, .srt or .json file, one segment a cue, word times spread by length.

    A .json is either a file of `write_transcript_json` or a report.json. Raises TranscriptError with the line at
    fault.
    """
    data = _read(path)
    kind = path.suffix.lower()
    text = _decoded(path, data)
    if kind == ".json":
        return _from_json(path, text)
    if kind == ".vtt":
        return _from_cues(path, data, _vtt_cues(path, text))
    if kind == ".srt":
        return _from_cues(path, data, _srt_cues(path, text))
    raise TranscriptError(str(path), f"transcripts of kind '{kind}' are not read", "give a .vtt, .srt or .json file")


def write_vtt(transcript: Transcript) -> str:
    """The transcript as WebVTT, one cue for each segment with words. Recordings follow each other in one clock:

    a second recording starts where the first ends, and is announced by a note.
    """
    lines = ["WEBVTT", ""]
    offset = 0.0
    for recording in transcript.recordings:
        if len(transcript.recordings) > 1:
            lines += [f"NOTE {_one_line(recording.name).replace(_ARROW, '->')}", ""]
        for segment in (s for s in transcript.segments if s.recording == recording.name and s.text.strip()):
            start, end = _whole_ms(segment.start + offset), _whole_ms(segment.end + offset)
            lines += [segment.id, f"{_clock(start)} --> {_clock(max(end, start + 1))}", _escaped(segment.text), ""]
        offset += recording.duration_s
    return "\n".join(lines)


def write_transcript_json(transcript: Transcript) -> str:
    """The whole transcript as JSON; `read_transcript` gives it back."""
    return json.dumps({"format": _OWN, "version": 1, **asdict(transcript)}, ensure_ascii=False, indent=1) + "\n"


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise TranscriptError(str(path), f"cannot be read ({error.strerror})", "check its name") from error


def _decoded(path: Path, data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise TranscriptError(f"{path}, line {line}", "is not UTF-8", "save it as UTF-8") from error
    if not text.strip():
        raise TranscriptError(str(path), "is empty", "export it again")
    return text.replace("\r\n", "\n").replace("\r", "\n")


_Cue = tuple[float, float, str]  #: start, end in seconds, text


def _blocks(text: str) -> list[tuple[int, list[str]]]:
    """Blocks of lines without a blank line between them, each with the number of its first line."""
    blocks: list[tuple[int, list[str]]] = []
    fresh = True
    for number, line in enumerate(text.split("\n"), 1):
        if not line.strip():
            fresh = True
        elif fresh:
            blocks.append((number, [line]))
            fresh = False
        else:
            blocks[-1][1].append(line)
    return blocks


def _vtt_cues(path: Path, text: str) -> list[_Cue]:
    first = text.split("\n", 1)[0]
    if not re.fullmatch(r"WEBVTT(?:[ \t].*)?", first):
        raise TranscriptError(f"{path}, line 1", "does not start with WEBVTT", "export it as WebVTT again")
    cues = []
    for n, (number, lines) in enumerate(_blocks(text)):
        if n == 0 and _ARROW not in "".join(lines):
            continue
        if n == 0:
            number, lines = number + 1, lines[1:]
        if lines[0].split(maxsplit=1)[0] in _NOT_CUES and _ARROW not in lines[0]:
            continue
        cues.append(_cue(path, number, lines, _VTT_TIME, "hh:mm:ss.mmm"))
    return cues


def _srt_cues(path: Path, text: str) -> list[_Cue]:
    return [_cue(path, number, lines, _SRT_TIME, "hh:mm:ss,mmm") for number, lines in _blocks(text)]


def _cue(path: Path, number: int, lines: Sequence[str], pattern: re.Pattern[str], form: str) -> _Cue:
    """One cue of a block of lines. number: of the block's first line in the file."""
    at = next((n for n, line in enumerate(lines[:2]) if _ARROW in line), None)
    if at is None:
        raise TranscriptError(f"{path}, line {number}", f"a cue without a line of times ({form} --> {form})",
                              "correct or remove it")  # fmt: skip
    place = f"{path}, line {number + at}"
    left, _, right = lines[at].partition(_ARROW)
    start = _seconds(place, left.strip(), pattern, form)
    end = _seconds(place, (right.split() or [""])[0], pattern, form)
    if end < start:
        raise TranscriptError(place, "the cue ends before it starts", "correct its times")
    text = " ".join(_TAG.sub("", line) for line in lines[at + 1 :])
    return start, end, " ".join(html.unescape(text).split())


def _seconds(place: str, text: str, pattern: re.Pattern[str], form: str) -> float:
    match = pattern.fullmatch(text)
    if match is None:
        hint = "WebVTT has a full stop before the milliseconds, not a comma; " if "," in text and "." in form else ""
        raise TranscriptError(place, f"'{text}' is no time", f"{hint}write {form}")
    hours, minutes, seconds, thousandths = (int(part or 0) for part in match.groups())
    return hours * 3600 + minutes * 60 + seconds + thousandths / 1000


def _from_cues(path: Path, data: bytes, cues: Sequence[_Cue]) -> Transcript:
    """Cues as segments, in the order of their times."""
    spoken = sorted((cue for cue in cues if cue[2]), key=lambda cue: cue[0])
    if not spoken:
        raise TranscriptError(str(path), "has no cue with words", "export it again")
    segments = tuple(
        Segment(id=f"r1s{n:03}", recording=path.name, start=start, end=end, heard=text, text=text,
                words=spread(text, start, end))
        for n, (start, end, text) in enumerate(spoken, 1)
    )  # fmt: skip
    recording = Recording(
        name=path.name,
        sha256=hashlib.sha256(data).hexdigest(),
        duration_s=max(end for _, end, _ in spoken),
        speech_s=round(sum(end - start for start, end, _ in spoken), 3),
    )
    return Transcript(recordings=(recording,), segments=segments)


def _from_json(path: Path, text: str) -> Transcript:
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise TranscriptError(f"{path}, line {error.lineno}", f"is no JSON ({error.msg})", None) from error
    if not isinstance(data, dict) or "recordings" not in data:
        raise TranscriptError(str(path), "holds no transcript", "give a transcript or a report of this tool")
    inner = data["transcript"] if isinstance(data.get("transcript"), dict) else data
    try:
        found = Transcript(
            recordings=tuple(_recording(row) for row in data["recordings"]),
            segments=tuple(_segment(row) for row in inner["segments"]),
            dropped=tuple(str(words) for words in inner.get("dropped", ())),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise TranscriptError(str(path), f"is not of the expected form ({error!r})", "write it again") from error
    _refuse_strangers(path, found)
    return found


def _recording(row: Mapping[str, Any]) -> Recording:
    known = {key: row[key] for key in Recording.__dataclass_fields__ if key in row}
    return Recording(**(known | {"notes": tuple(row.get("notes") or ())}))


def _segment(row: Mapping[str, Any]) -> Segment:
    words = tuple(Word(**{k: w[k] for k in Word.__dataclass_fields__ if k in w}) for w in row.get("words") or ())
    text = str(row["text"])
    if len(words) != len(text.split()):
        words = spread(text, row["start"], row["end"])
    return Segment(
        id=row["id"],
        recording=row["recording"],
        start=float(row["start"]),
        end=float(row["end"]),
        heard=str(row.get("heard", text)),
        text=text,
        words=words,
        flags=tuple(row.get("flags") or ()),
    )


def _refuse_strangers(path: Path, transcript: Transcript) -> None:
    names = {recording.name for recording in transcript.recordings}
    for segment in transcript.segments:
        if segment.recording not in names:
            raise TranscriptError(str(path), f"segment {segment.id} is of '{segment.recording}', which is no "
                                  "recording of it", "write it again")  # fmt: skip
    if len({segment.id for segment in transcript.segments}) < len(transcript.segments):
        raise TranscriptError(str(path), "has two segments of the same id", "write it again")


def _whole_ms(seconds: float) -> int:
    return round(seconds * 1000)


def _clock(ms: int) -> str:
    seconds, ms = divmod(ms, 1000)
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}.{ms:03}"


def _escaped(text: str) -> str:
    return html.escape(_one_line(text), quote=False)


def _one_line(text: str) -> str:
    return " ".join(text.split())
