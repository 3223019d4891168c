"""Recordings of known words, recognised and compared: by our recogniser and by the plain engines.

A folder of audio holds NAME.wav (or .ogg, .flac, .mp3, .m4a), in folders of their own for each kind of noise
("fan-10" is a fan 10 dB below the speech), and NAME.json with the words, {"lines": [{"start", "end", "say"}]}, beside
it or in a folder `clean` next to its own. Where a narration of the corpus bears the name, the report from the audio is
scored too, and its readings are held against the gold and against the report from the text: a reading is right where
one of the two has it.
"""

from __future__ import annotations

import dataclasses
import json
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicereport.errors import SettingsError, TranscriptError
from voicereport.evaluation.audio_engines import TITLES, EngineKind, Run, side_by_side
from voicereport.evaluation.corpus import Corpus, Narration, units_of
from voicereport.evaluation.figures import Figure, narration_figures
from voicereport.evaluation.matching import Row, pair, ratio
from voicereport.evaluation.names import Names
from voicereport.evaluation.narrations import score_narrations
from voicereport.evaluation.run import report_of
from voicereport.evaluation.same import Same
from voicereport.settings import Settings

if TYPE_CHECKING:
    from voicereport.transcript import Transcript

Progress = Callable[[str, float], None]
SUFFIXES = (".wav", ".ogg", ".flac", ".mp3", ".m4a")
_LOW = 0.5  #: a number word that the recogniser believes less than this is in doubt


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """A recording with the words that are spoken in it."""

    path: Path
    level: str  #: name of its folder: the kind of noise and dB
    said: tuple[str, ...]  #: line by line


@dataclass(frozen=True, kw_only=True, slots=True)
class Words:
    """Counts of words, and of numbers with and without their units."""

    said: int = 0
    substituted: int = 0
    left_out: int = 0
    invented: int = 0
    numbers: int = 0  #: said
    numbers_right: int = 0
    quantities: int = 0  #: numbers with a unit, said
    units_right: int = 0  #: of those with the right number
    units_of: int = 0
    signs: int = 0  #: numbers below zero, said
    signs_right: int = 0
    silent: int = 0  #: numbers heard that were not said, and nothing casts doubt on them


@dataclass(frozen=True, kw_only=True, slots=True)
class Readings:
    """Readings of reports from audio."""

    right: int = 0
    right_flagged: int = 0  #: false alarms
    wrong: int = 0
    wrong_flagged: int = 0
    in_text: int = 0  #: right readings of the reports from text
    silent: tuple[str, ...] = ()  #: wrong and not flagged, in words


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One engine at one level."""

    engine: EngineKind
    level: str
    files: int
    audio_s: float
    wall_s: float
    processor_s: float
    memory_mb: float
    words: Words
    parts: tuple[tuple[str, float], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Level:
    """Reports from audio at one level, and from the text of the same narrations."""

    level: str
    narrations: int
    readings: Readings
    audio: tuple[Figure, ...]
    text: tuple[Figure, ...]
    stop_false_confirms: tuple[str, ...]  #: of the audio


@dataclass(frozen=True, kw_only=True, slots=True)
class Bench:
    """All of a run."""

    lines: tuple[Line, ...]
    levels: tuple[Level, ...]


def find_items(folder: Path, *, only: Sequence[str] = (), levels: Sequence[str] = ()) -> tuple[Item, ...]:
    """The recordings of `folder` whose words are known. only: names; levels: folders. Raises for none."""
    found = []
    for path in sorted(p for p in folder.rglob("*") if p.suffix.lower() in SUFFIXES):
        level = path.parent.name
        told = next((j for j in (path.with_suffix(".json"), path.parent.parent / "clean" / f"{path.stem}.json")
                     if j.is_file()), None)  # fmt: skip
        if told and (not only or path.stem in only) and (not levels or level in levels):
            found.append(Item(path=path, level=level, said=_said(told)))
    if not found:
        problem = "holds no recording with its words in a .json beside it" + (" of those names" if only else "")
        raise SettingsError(str(folder), problem, "see the head of voicereport/evaluation/audio_bench.py")
    return tuple(found)


def bench(
    corpus: Corpus,
    items: Sequence[Item],
    settings: Settings,
    *,
    against: Sequence[EngineKind] = (),
    progress: Progress | None = None,
) -> Bench:
    """Each recording by each engine in turn, and the reports of ours. Raises AudioError for the first that fails."""
    kinds: tuple[EngineKind, ...] = ("ours", *(kind for kind in against if kind != "ours"))
    runs: dict[tuple[EngineKind, str], list[tuple[Item, Run]]] = {}
    with side_by_side(kinds, trade=settings.trade, threads=settings.threads) as recognise:
        for n, item in enumerate(items):
            for kind in kinds if n % 2 == 0 else reversed(kinds):
                if progress:
                    progress(f"{item.level}/{item.path.name}: {TITLES[kind]}", n / len(items))
                runs.setdefault((kind, item.level), []).append((item, recognise(kind, item.path)))
    named = {narration.name: narration for narration in corpus.narrations}
    names = Names(corpus.aliases) if corpus.aliases else Names()
    levels = []
    for level in dict.fromkeys(item.level for item in items):
        own = [(named[i.path.stem], run) for i, run in runs[("ours", level)] if i.path.stem in named]
        if own:
            levels.append(_level(level, own, names, settings))
    return Bench(lines=tuple(_line(kind, level, own) for (kind, level), own in runs.items()), levels=tuple(levels))


def _said(path: Path) -> tuple[str, ...]:
    try:
        return tuple(str(line["say"]) for line in json.loads(path.read_text("utf-8"))["lines"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise TranscriptError(str(path), f"holds no lines of words ({error!r})", None) from error


def _line(kind: EngineKind, level: str, own: Sequence[tuple[Item, Run]]) -> Line:
    parts: Counter[str] = Counter()
    for _, run in own:
        parts.update(dict(run.parts))
    return Line(
        engine=kind,
        level=level,
        files=len(own),
        audio_s=sum(run.duration_s for _, run in own),
        wall_s=sum(run.wall_s for _, run in own),
        processor_s=sum(run.processor_s for _, run in own),
        memory_mb=max(run.memory_mb for _, run in own),
        words=_sum([compare_words(item.said, run.texts, run.transcript) for item, run in own]),
        parts=tuple(parts.items()),
    )


def _sum(rows: Sequence[Words]) -> Words:
    return Words(**{f.name: sum(getattr(row, f.name) for row in rows) for f in dataclasses.fields(Words)})


def compare_words(said: Sequence[str], heard: Sequence[str], transcript: Transcript | None = None) -> Words:
    """What was said, line by line, against what was heard, text by text.

    Word errors by jiwer after the normaliser that was published with Whisper; numbers and units by our own reader on
    both sides, matched in order. transcript: of `heard`, for the doubts about its numbers.
    """
    import jiwer
    from whisper.normalizers import EnglishTextNormalizer

    plain = EnglishTextNormalizer()
    counted = jiwer.process_words([plain(" ".join(said))], [plain(" ".join(heard))])
    mine, theirs = _numbers(said), _numbers(heard)
    same = SequenceMatcher(None, [v for v, _ in mine], [v for v, _ in theirs], autojunk=False).get_matching_blocks()
    matched = [(a + n, b + n) for a, b, size in same for n in range(size)]
    taken = {b for _, b in matched}
    doubted = _doubted(transcript) if transcript else set()
    below = [n for n, (value, _) in enumerate(mine) if value < 0]
    with_unit = [(a, b) for a, b in matched if mine[a][1] is not None]
    return Words(
        said=counted.hits + counted.substitutions + counted.deletions,
        substituted=counted.substitutions,
        left_out=counted.deletions,
        invented=counted.insertions,
        numbers=len(mine),
        numbers_right=len(matched),
        quantities=sum(unit is not None for _, unit in mine),
        units_right=sum(mine[a][1] == theirs[b][1] for a, b in with_unit),
        units_of=len(with_unit),
        signs=len(below),
        signs_right=sum(a in set(below) for a, _ in matched),
        silent=sum(n not in taken and n not in doubted for n in range(len(theirs))),
    )


def _numbers(texts: Sequence[str]) -> list[tuple[float, str | None]]:
    """The numbers of the texts in order, each with its unit, or None."""
    return [(value, unit) for text in texts for value, unit, _, _ in _placed(text)]


def _placed(text: str) -> list[tuple[float, str | None, int, int]]:
    """The numbers of a text in order: value, unit, and the tokens [first, last) that they are made of."""
    from voicereport.wording.numbers import find_numbers
    from voicereport.wording.quantities import find_quantities

    tokens = text.split()
    rows: list[tuple[float, str | None, int, int]] = [
        (q.value, q.unit, q.first, q.last) for q in find_quantities(tokens) if q.value is not None
    ]
    at = {n for _, _, first, last in rows for n in range(first, last)}
    rows += [(n.value, None, n.first, n.last) for n in find_numbers(tokens) if n.first not in at]
    return sorted(rows, key=lambda row: row[2])


def _doubted(transcript: Transcript) -> set[int]:
    """Which of the numbers of a transcript are in doubt, counted as `_numbers` counts them."""
    doubted: set[int] = set()
    at = 0
    for segment in transcript.segments:
        for _, _, first, last in _placed(segment.text):
            words = segment.words[first:last]
            unsure = any(word.alternative is not None or word.probability < _LOW for word in words)
            if unsure or set(segment.flags) - {"low_confidence"}:
                doubted.add(at)
            at += 1
    return doubted


def _level(level: str, own: Sequence[tuple[Narration, Run]], names: Names, settings: Settings) -> Level:
    narrations = [narration for narration, _ in own]
    texts: dict[str, object] = {n.name: report_of(n, settings) for n in narrations}
    audio: dict[str, object] = {n.name: _report(n, run, settings) for n, run in own}
    heard, read = score_narrations(narrations, audio, names), score_narrations(narrations, texts, names)
    same = Same(names)
    return Level(
        level=level,
        narrations=len(narrations),
        readings=_all_readings([_readings(n, audio[n.name], texts[n.name], same) for n in narrations]),
        audio=narration_figures(heard),
        text=narration_figures(read),
        stop_false_confirms=tuple(f"{w.narration} {w.check}" for w in heard.false_confirms if w.stop),
    )


def _report(narration: Narration, run: Run, settings: Settings) -> Row:
    from voicereport.pipeline import understand
    from voicereport.trades import load_trade

    if run.transcript is None:
        raise TypeError("a run without its transcript")
    own = replace(settings, trade=narration.trade, units=units_of(narration.voice, settings.units))
    data: Row = understand(run.transcript, load_trade(narration.trade), own).model_dump(mode="json")
    return data


def _readings(narration: Narration, audio: Any, text: Any, same: Same) -> Readings:
    gold, heard, read = narration.gold["readings"], audio["readings"], text["readings"]
    right = set(pair(gold, heard, same.reading).values())
    left = [n for n in range(len(heard)) if n not in right]
    right |= {left[n] for n in pair(read, [heard[n] for n in left], same.reading).values()}
    flagged = {n for n, r in enumerate(heard) if r.get("doubt") or r["verdict"]["result"] == "suspect"}
    wrong = set(range(len(heard))) - right
    return Readings(
        right=len(right),
        right_flagged=len(right & flagged),
        wrong=len(wrong),
        wrong_flagged=len(wrong & flagged),
        in_text=len(pair(gold, read, same.reading)),
        silent=tuple(f"{narration.name}: {heard[n]['quantity']} {heard[n]['value']} {heard[n]['unit']} "
                     f"({heard[n]['evidence'][0]['quote'] if heard[n]['evidence'] else ''})"
                     for n in sorted(wrong - flagged)),
    )  # fmt: skip


def _all_readings(rows: Sequence[Readings]) -> Readings:
    counts = {f.name: sum(getattr(r, f.name) for r in rows) for f in dataclasses.fields(Readings) if f.name != "silent"}
    return Readings(**counts, silent=tuple(words for row in rows for words in row.silent))


#: two figures for one model, 5.6 % and 8.4 % on the same recordings, were published by two harnesses
HARNESS = "WER: jiwer, after the normaliser published with Whisper; figures of other harnesses cannot be compared"


def lines_of(found: Bench, *, misses: bool = False) -> Iterator[str]:
    """The account, line by line."""
    yield (f"{'level':12}{'engine':46}{'n':>3}{'WER %':>7}{'cover':>7}{'inv.':>5}{'num %':>7}{'unit %':>7}{'sign':>6}"
           f"{'silent':>7}{'x real':>8}{'x proc':>8}{'MB':>7}")  # fmt: skip
    yield from (_shown(line) for line in found.lines)
    for line in found.lines:
        if line.parts:
            spent = ", ".join(f"{what} {seconds:.1f} s" for what, seconds in line.parts)
            yield f"{line.level}: {line.audio_s:.0f} s of audio in {line.wall_s:.1f} s: {spent}"
    for level in found.levels:
        yield from _level_lines(level, misses=misses)
    if any(line.words.said for line in found.lines):
        yield HARNESS


def _shown(line: Line) -> str:
    w = line.words
    wrong = w.substituted + w.left_out + w.invented
    return (
        f"{line.level:12}{TITLES[line.engine]:46}{line.files:>3}{_percent(wrong, w.said):>7}"
        f"{_percent(w.said - w.left_out, w.said):>7}{w.invented:>5}{_percent(w.numbers_right, w.numbers):>7}"
        f"{_percent(w.units_right, w.units_of):>7}{f'{w.signs_right}/{w.signs}':>6}{w.silent:>7}"
        f"{line.audio_s / line.wall_s:>8.1f}{line.audio_s / line.processor_s:>8.1f}{line.memory_mb:>7.0f}"
    )


def _percent(a: float, b: float) -> str:
    share = ratio(a, b)
    return "-" if share is None else f"{100 * share:.1f}"


def _level_lines(level: Level, *, misses: bool) -> Iterator[str]:
    r = level.readings
    yield ""
    yield (f"{level.level}, {level.narrations} narrations: readings right {r.right} (from text {r.in_text}), "
           f"false alarms {r.right_flagged} = {_percent(r.right_flagged, r.right)} %; wrong {r.wrong}, flagged "
           f"{r.wrong_flagged} = {_percent(r.wrong_flagged, r.wrong)} %")  # fmt: skip
    yield from (f"  wrong and not flagged: {words}" for words in (r.silent if misses else ()))
    named = ", ".join(level.stop_false_confirms)
    yield f"  stop-level false confirms {len(level.stop_false_confirms)}  {named}".rstrip()
    for audio, text in zip(level.audio, level.text, strict=True):
        if audio.value is not None and text.value is not None and not audio.counts:
            change = 100 * (audio.value - text.value)
            yield f"  {audio.title:42}{100 * audio.value:7.1f}  from text {100 * text.value:.1f}  ({change:+.1f})"
