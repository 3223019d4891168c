"""Recordings of one job to one transcript."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from voicereport.audio import find_speech, load, measure_levels, speech_probabilities
from voicereport.errors import AudioError, WeightsError
from voicereport.speech.catalogue import Catalogue, EngineName, catalogue
from voicereport.speech.coverage import gaps, listen_again, split_spoken, without_repeats
from voicereport.speech.doubt import Look, rivals, with_doubt
from voicereport.speech.engine import BATCH, Engine, Manner, open_engine
from voicereport.speech.hear import Ear, hear
from voicereport.speech.resume import Memory
from voicereport.speech.second_look import matters, second_look
from voicereport.speech.segments import bounds, cut, flags_of, segment, unheard, with_stops
from voicereport.speech.windows import Window, apart, pack
from voicereport.transcript import Flag, Recording, Segment, Transcript, Word

if TYPE_CHECKING:
    from voicereport.audio import Clip, Stretch

Progress = Callable[[str, float], None]
Span = tuple[float, float]  #: [start, end) seconds
_PAD_S = 0.3  #: sound kept around a stretch of speech
_LISTENED, _DECODED, _LOOKED = 0.1, 0.75, 0.8  #: shares of a recording's work that are done after each step
_SECOND_S = 19.0  #: longest window of the second look: another one than the first time, and cheaper
_RUN_S = 30.0  #: sentences farther apart are compared apart
_QUICK = Manner(beam=1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Desk:
    """What all recordings of a job are worked on with."""

    first: Engine
    second: Engine | None
    language: str
    resume: bool
    shelf: Catalogue
    watched: frozenset[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """One recording, recognised."""

    recording: Recording
    segments: tuple[Segment, ...]
    dropped: tuple[str, ...]


def transcribe(
    paths: Sequence[Path],
    *,
    engine: Literal["auto", "faster-whisper", "openai-whisper"] = "auto",
    weights: str = "auto",
    threads: int = 0,
    language: str = "en",
    visits: Sequence[int] | None = None,
    watched: Collection[str] = (),
    look_twice: bool = True,
    resume: bool = True,
    progress: Progress | None = None,
) -> Transcript:
    """What is said in the recordings of one job, in the given order. The same files give the same words.

    visits: for each recording; None counts a new visit at each new day that the files say they were recorded on.
    watched: words, lower case, that are read twice beside numbers and identifiers. look_twice: False reads nothing
    twice. resume: windows that an earlier run decoded are taken from the cache. threads: 0 = all cores.
    Raises AudioError for a file that cannot be used, WeightsError where weights are missing or wrong.
    """
    _refuse_counts(paths, visits)
    clips = [load(path, progress=_part(progress, f"reading {path.name}")) for path in paths]
    desk = open_desk(engine, weights, threads, language, look_twice=look_twice, resume=resume, watched=watched)
    names = _names(paths)
    taken = [
        take_clip(clip, desk, name=name, number=n, progress=_part(progress, f"listening to {name}"))
        for n, (clip, name) in enumerate(zip(clips, names, strict=True), 1)
    ]
    counted = visits or _visits([clip.recorded for clip in clips])
    return Transcript(
        recordings=tuple(replace(t.recording, visit=v) for t, v in zip(taken, counted, strict=True)),
        segments=tuple(s for t in taken for s in t.segments),
        dropped=tuple(d for t in taken for d in t.dropped),
    )


def _refuse_counts(paths: Sequence[Path], visits: Sequence[int] | None) -> None:
    if not paths:
        raise AudioError("recordings", "none is named", "name at least one")
    if visits is not None and len(visits) != len(paths):
        raise AudioError("visits", f"{len(visits)} numbers for {len(paths)} recordings", "give one for each")


def _part(progress: Progress | None, what: str) -> Callable[[float], None]:
    def tell(done: float) -> None:
        if progress:
            progress(what, done)

    return tell


def open_desk(
    engine: Literal["auto", "faster-whisper", "openai-whisper"],
    weights: str,
    threads: int,
    language: str,
    *,
    look_twice: bool,
    resume: bool,
    watched: Collection[str],
) -> Desk:
    """The recognisers, loaded. Without other weights for the second look there is none, which is noted."""
    shelf = catalogue()
    first = open_engine(engine, weights=weights, threads=threads, language=language)
    second: Engine | None = None
    name = second_of(shelf, first.name, first.model, language)
    if look_twice and name is not None:
        try:
            second = open_engine(engine, weights=name, threads=threads)
        except WeightsError as error:
            logging.getLogger(__name__).warning("numbers are not read twice: %s", error)
    return Desk(
        first=first,
        second=second,
        language=language,
        resume=resume,
        shelf=shelf,
        watched=shelf.watched_words | {word.lower() for word in watched},
    )


def second_of(shelf: Catalogue, engine: EngineName, first: str, language: str) -> str | None:
    """The weights that look again beside the weights `first`: as they were published where those are; None where they
    would be the same, or do not know the language."""
    read = shelf.named(first, engine)
    usual = shelf.named(shelf.usual(engine, language, second=True), engine)
    again = shelf.named(usual.published, engine) if read.as_published else usual
    return again.name if again.published != read.published and again.knows(language) else None


def _names(paths: Sequence[Path]) -> list[str]:
    """The names of the files; one that comes again gets a number, "a.wav (2)"."""
    names: list[str] = []
    for path in paths:
        name, n = path.name, 1
        while name in names:
            n += 1
            name = f"{path.name} ({n})"
        names.append(name)
    return names


def _visits(recorded: Sequence[str | None]) -> list[int]:
    """Visits by the days the files say they were recorded on: each new day is a new visit; 1 where none says."""
    numbers: list[int] = []
    day: str | None = None
    for moment in recorded:
        own = moment[:10] if moment else day
        new = bool(numbers) and day is not None and own != day
        numbers.append(numbers[-1] + new if numbers else 1)
        day = own
    return numbers


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """What a recording gave at first."""

    speech: tuple[Stretch, ...]
    groups: list[tuple[Word, ...]]  #: the words of each window, those of gaps last
    lost: list[tuple[Word, ...]]  #: words of each window over no speech
    loops: list[bool]
    left: list[Span]  #: speech without words


def first_reading(ear: Ear, desk: Desk, progress: Callable[[float], None]) -> Reading:
    """The words of a recording, before anything is heard a second time."""
    clip = ear.clip
    probabilities = speech_probabilities(clip)
    speech = find_speech(probabilities, duration_s=clip.duration_s)
    windows = pack(find_speech(probabilities, duration_s=clip.duration_s, pad_s=_PAD_S))
    progress(_LISTENED)
    heard = hear(windows, ear, progress=lambda done: progress(_LISTENED + (_DECODED - _LISTENED) * done))
    missing = gaps(speech, (w for h in heard for w in h.words))
    more, left = listen_again(missing, ear, [desk.second] if desk.second else [])
    more = without_repeats(more, [w for h in heard for w in h.words], desk.shelf.number_words)
    split = [split_spoken(h, probabilities, desk.shelf.invented) for h in (*heard, *more)]
    return Reading(
        speech=tuple(speech),
        groups=[words for words, _ in split],
        lost=[lost for _, lost in split],
        loops=[h.loop for h in (*heard, *more)],
        left=left,
    )


def take_clip(clip: Clip, desk: Desk, *, name: str, number: int, progress: Callable[[float], None]) -> Taken:
    """One recording, recognised. number: counts from 1 in the job."""
    memory = Memory(clip.sha256) if desk.resume else None
    ear = Ear(clip=clip, engine=desk.first, memory=memory, language=desk.language)
    read = first_reading(ear, desk, progress)
    progress(_LOOKED)
    looked = with_second_look(read.groups, ear, desk)
    kept = [with_stops(words, desk.shelf.stops) for words in looked]
    segments = _segments(name, number, kept, read.loops, read.left)
    progress(1.0)
    speech = read.speech
    recording = Recording(
        name=name,
        sha256=clip.sha256,
        duration_s=round(clip.duration_s, 3),
        speech_s=round(sum(s.end - s.start for s in speech), 3),
        engine=desk.first.name,
        model=desk.first.model,
        language=desk.language,
        notes=(*clip.notes, *_more_notes(clip, speech, desk)),
        recorded=clip.recorded,
    )
    return Taken(recording=recording, segments=segments, dropped=tuple(_dropped(name, read.lost)))


def _more_notes(clip: Clip, speech: Sequence[Stretch], desk: Desk) -> list[str]:
    notes = list(measure_levels(clip, speech).warnings())
    if not speech and "is silent from start to end" not in clip.notes:
        notes.append("holds no speech")
    if speech and desk.second is None:
        notes.append("numbers were not heard a second time")
    return notes


def with_second_look(groups: list[tuple[Word, ...]], ear: Ear, desk: Desk) -> list[tuple[Word, ...]]:
    """The words of each window, with what other weights, in other windows, heard in the sentences that matter."""
    if desk.second is None:
        return groups
    looked = [list(group) for group in groups]
    for n, first, last, look in looks(groups, ear, desk, desk.second):
        shelf = desk.shelf
        differing = second_look(look.words, look.other, numbers=shelf.number_words, watched=desk.watched,
                                same=shelf.same, units=shelf.units)  # fmt: skip
        looked[n][first:last] = with_doubt(look, differing, shelf.doubt, values=shelf.number_words, units=shelf.units,
                                           same=shelf.same)  # fmt: skip
    return [tuple(group) for group in looked]


def looks(
    groups: Sequence[tuple[Word, ...]], ear: Ear, desk: Desk, second: Engine
) -> Iterator[tuple[int, int, int, Look]]:
    """What other weights make of the sentences that matter: window, words [first, last) of it, the look."""
    numbers = desk.shelf.number_words
    sentences = [
        (n, first, last)
        for n, group in enumerate(groups)
        for first, last in bounds(group)
        if any(matters(word, numbers=numbers, watched=desk.watched) for word in group[first:last])
    ]
    spans = apart([(groups[n][first].start, groups[n][last - 1].end) for n, first, last in sentences], pad_s=_PAD_S)
    other = Ear(clip=ear.clip, engine=second, memory=ear.memory, language=ear.language)
    windows = pack(sorted(spans, key=lambda span: span.start), longest_s=_SECOND_S)
    spoken = sorted((w for n, first, last in sentences for w in groups[n][first:last]), key=lambda w: w.start)
    again: list[Word] = []
    told: dict[int, tuple[float, float]] = {}
    for start in range(0, len(windows), BATCH):  # weighed and decoded by turns, while the engine knows their sound
        some = windows[start : start + BATCH]
        held = [[w for w in spoken if any(p.start <= _middle(w) < p.end for p in window.pieces)] for window in some]
        told |= _weighed(some, held, other, numbers)
        decoded = other.decode(some, manner=_QUICK)
        again += [word for window, result in zip(some, decoded, strict=True) for word in window.back(result.words)]
    for n, first, last, span in _runs(sentences, spans):
        words = groups[n][first:last]
        yield (
            n,
            first,
            last,
            Look(
                words=words,
                other=tuple(word for word in again if span[0] <= _middle(word) < span[1]),
                told=tuple(told.get(id(word), (0.0, 0.0)) for word in words),
            ),
        )


def _weighed(
    windows: Sequence[Window], held: Sequence[Sequence[Word]], ear: Ear, numbers: Mapping[str, int]
) -> dict[int, tuple[float, float]]:
    """How likely the ear takes each word of a window to be, as it was read and with the other of "-teen" and "-ty", by
    id."""
    texts = [tuple(word.word for word in words) for words in held]
    turned = [rivals(text, numbers) for text in texts]
    changed = [n for n in range(len(windows)) if texts[n] != turned[n]]
    told = ear.score(windows, texts)
    again = dict(zip(changed, ear.score([windows[n] for n in changed], [turned[n] for n in changed]), strict=True))
    return {
        id(word): (told[n][at], again[n][at] if texts[n][at] != turned[n][at] else told[n][at])
        for n, words in enumerate(held)
        for at, word in enumerate(words)
    }


def _middle(word: Word) -> float:
    return (word.start + word.end) / 2


def _runs(sentences: Sequence[tuple[int, int, int]], spans: Sequence[Stretch]) -> list[tuple[int, int, int, Span]]:
    """Sentences that follow each other as one, (window, first, last, seconds): a word timed into the next one by the
    other decode is then no difference."""
    runs: list[tuple[int, int, int, Span]] = []
    for (n, first, last), span in zip(sentences, spans, strict=True):
        before = runs[-1] if runs else None
        if before and (before[0], before[2]) == (n, first) and 0 <= span.start - before[3][1] < _RUN_S:
            runs[-1] = (n, before[1], last, (before[3][0], span.end))
        else:
            runs.append((n, first, last, (span.start, span.end)))
    return runs


def _segments(
    name: str,
    number: int,
    kept: Sequence[Sequence[Word]],
    loops: Sequence[bool],
    left: Sequence[Span],
) -> tuple[Segment, ...]:
    """The segments of a recording in time order, those without words among them."""
    pieces: list[tuple[float, Sequence[Word], Sequence[Flag], Span]] = [
        (words[0].start, words, flags_of(words, loop=loop), (0.0, 0.0))
        for group, loop in zip(kept, loops, strict=True)
        for words in cut(group)
    ]
    pieces += [(span[0], (), ("unheard",), span) for span in left]
    return tuple(
        segment(name, f"r{number}s{n:03}", words, flags) if words else unheard(name, f"r{number}s{n:03}", span)
        for n, (_, words, flags, span) in enumerate(sorted(pieces, key=lambda piece: piece[0]), 1)
    )


def _dropped(name: str, lost: Sequence[Sequence[Word]]) -> list[str]:
    return [f"{name} {words[0].start:.1f} s: {' '.join(w.word for w in words)}" for words in lost if words]
