"""A corpus folder: narrations with their gold, single sentences, alias names of its own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from voicereport.errors import TranscriptError
from voicereport.evaluation.matching import Row
from voicereport.evaluation.tables import AliasTable, alias_table
from voicereport.settings import Units
from voicereport.transcript import Recording, Segment, Transcript, spread

LAST_LINE_S = 4.0  #: how long the last line of a narration lasts
_NARRATION_KEYS = ("id", "trade", "style", "lines", "gold")
_GOLD_KEYS = ("job", "steps", "readings", "parts_used", "fasteners", "open", "checks", "notes")
_SENTENCE_KINDS = ("safety", "status", "reading", "count", "identity")


@dataclass(frozen=True, kw_only=True, slots=True)
class Narration:
    """What was said on one job, and the report that it should lead to."""

    name: str  #: the file's name without its suffix
    trade: str
    style: str
    voice: str  #: name of a voice; "am_" and "af_" are American
    lines: tuple[tuple[float, str], ...]  #: start in seconds, words
    gold: Row
    visits: tuple[int, ...] = ()  #: of each line, counted from 1; empty = one visit, one recording


@dataclass(frozen=True, kw_only=True, slots=True)
class Corpus:
    """All of a folder."""

    folder: Path
    narrations: tuple[Narration, ...]
    sentences: tuple[Row, ...]
    aliases: AliasTable | None


def read_corpus(folder: Path) -> Corpus:
    """The corpus in `folder`: *.yaml narrations, sentences*.yaml, aliases.yaml.

    Raises TranscriptError for a folder without any, and for the first file that cannot be used.
    """
    if not folder.is_dir():
        raise TranscriptError(str(folder), "is no folder", "name a folder with annotated narrations")
    narrations, sentences, aliases = [], [], None
    for path in sorted(folder.glob("*.yaml")):
        if path.stem == "aliases":
            aliases = alias_table(_mapping(path))
        elif path.stem.startswith("sentences"):
            sentences += _sentences(path)
        else:
            narrations.append(_narration(path))
    if not narrations and not sentences:
        raise TranscriptError(str(folder), "holds no narrations and no sentences", "name a folder with *.yaml files")
    ids = [s["id"] for s in sentences]
    twice = sorted({i for i in ids if ids.count(i) > 1}) if len(set(ids)) < len(ids) else []
    if twice:
        raise TranscriptError(str(folder), f"sentence ids stand twice: {', '.join(twice)}", "give each its own")
    return Corpus(folder=folder, narrations=tuple(narrations), sentences=tuple(sentences), aliases=aliases)


def to_transcript(narration: Narration) -> Transcript:
    """The narration as a transcript: one segment a line, which lasts until the next line of the visit starts."""
    visits = narration.visits or (1,) * len(narration.lines)
    recordings, segments = [], []
    for visit in dict.fromkeys(visits):
        name = f"{narration.name}.vtt" if len(set(visits)) == 1 else f"{narration.name}-{visit}.vtt"
        lines = [line for line, own in zip(narration.lines, visits, strict=True) if own == visit]
        starts = [start for start, _ in lines]
        ends = [*starts[1:], starts[-1] + LAST_LINE_S]
        segments += [
            Segment(id=f"r{visit}s{n:03}", recording=name, start=start, end=end, heard=words, text=words,
                    words=spread(words, start, end))
            for n, ((start, words), end) in enumerate(zip(lines, ends, strict=True), 1)
        ]  # fmt: skip
        recordings.append(
            Recording(name=name, sha256="", duration_s=ends[-1], speech_s=ends[-1] - starts[0], visit=visit)
        )
    return Transcript(recordings=tuple(recordings), segments=tuple(segments))


def units_of(voice: str, otherwise: Units) -> Units:
    """The units that a voice leaves unspoken: us for American ones, metric for others; `otherwise` without a voice."""
    if not voice:
        return otherwise
    return "us" if voice.startswith(("am_", "af_")) else "metric"


def _load(path: Path) -> Any:
    import yaml  # type: ignore[import-untyped]

    try:
        return yaml.safe_load(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, yaml.YAMLError) as error:
        problem = " ".join(str(error).split())
        raise TranscriptError(str(path), f"cannot be read ({problem})") from error


def _mapping(path: Path) -> Row:
    data = _load(path)
    if not isinstance(data, dict):
        raise TranscriptError(str(path), "is no mapping of keys to values")
    return data


def _narration(path: Path) -> Narration:
    data = _mapping(path)
    gold = data.get("gold")
    lacking = [key for key in _NARRATION_KEYS if key not in data]
    lacking += [f"gold.{key}" for key in _GOLD_KEYS if not isinstance(gold, dict) or key not in gold]
    if lacking or not isinstance(gold, dict) or not data["lines"]:
        raise TranscriptError(str(path), f"is no annotated narration, it lacks {', '.join(lacking) or 'lines'}")
    lines = tuple((float(line["t"]), " ".join(str(line["say"]).split())) for line in data["lines"])
    voice = str(data.get("voice", ""))
    return Narration(name=path.stem, trade=data["trade"], style=data["style"], voice=voice, lines=lines, gold=gold)


def _sentences(path: Path) -> list[Row]:
    data = _load(path)
    if not isinstance(data, list):
        raise TranscriptError(str(path), "is no list of sentences")
    for n, row in enumerate(data, 1):
        if (
            not isinstance(row, dict)
            or not row.get("id")
            or not row.get("say")
            or row.get("kind") not in _SENTENCE_KINDS
        ):
            raise TranscriptError(str(path), f"sentence {n} lacks id, say or a known kind")
    return data
