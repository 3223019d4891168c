"""What all views share: the wording, the letters of the recordings, the sounds that can be played."""

from __future__ import annotations

import base64
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from voicereport.render import text
from voicereport.render.passed import passed
from voicereport.render.wording import Wording
from voicereport.report import Change, Evidence, Report

Snippets = Callable[[str, float, float], bytes | None]  #: (recording, start, end in seconds) -> Ogg Opus bytes
Stretch = tuple[str, float, float]  #: recording, start, end


@dataclass(frozen=True, kw_only=True, slots=True)
class Mark:
    """What stands in the margin beside an entry."""

    text: str = field(metadata={"help": "time in the recording, or the initials of who typed it; may be empty"})
    label: str = field(default="", metadata={"help": "what the play button says to a screen reader"})
    sound: str = field(default="", metadata={"help": "id of the sound that the button plays; empty = no button"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Sound:
    """A stretch of a recording, embedded."""

    id: str = field(metadata={"help": "id of the audio element"})
    source: str = field(metadata={"help": "the sound as a data: URI"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Context:
    """Shared by the functions that build a view."""

    wording: Wording
    letters: Mapping[str, str]  #: recording name -> letter; empty where there is one recording
    sounds: Mapping[Stretch, Sound]
    passed: Mapping[str, Change] = field(default_factory=dict)  #: by the id of a check that was let pass


def context_of(report: Report, wording: Wording, snippets: Snippets | None = None) -> Context:
    """The context of a report; with `snippets` the sounds of every stretch that an entry rests on."""
    names = [recording.name for recording in report.recordings]
    letters = {name: _letter(place) for place, name in enumerate(names)} if len(names) > 1 else {}
    sounds = _sounds(report, wording, snippets) if snippets else {}
    return Context(wording=wording, letters=letters, sounds=sounds, passed=passed(report))


def mark(context: Context, evidence: Evidence) -> Mark:
    """The margin's mark of a piece of evidence."""
    time = time_text(context, evidence.recording, evidence.start)
    return _mark(context, time, (evidence.recording, evidence.start, evidence.end))


def stretch_mark(context: Context, recording: str, start: float, end: float) -> Mark:
    """The margin's mark of a stretch of a recording."""
    return _mark(context, time_text(context, recording, start), (recording, start, end))


def first_mark(context: Context, evidence: Sequence[Evidence], entered_by: str | None = None) -> Mark:
    """The mark of the first piece of evidence; initials for what a person typed."""
    if evidence:
        return mark(context, evidence[0])
    return Mark(text=text.initials(entered_by) if entered_by else "")


def time_text(context: Context, recording: str, seconds: float) -> str:
    """A time as the margin shows it: `12:04`, or `B 12:04` where there are several recordings."""
    letter = context.letters.get(recording)
    return f"{letter}{text.NO_BREAK}{text.clock(seconds)}" if letter else text.clock(seconds)


def doubtful_segments(report: Report, wording: Wording) -> frozenset[str]:
    """Ids of the segments that hold a doubtful word."""
    least = wording.limits["doubtful_below"]
    return frozenset(
        segment.id
        for segment in report.transcript.segments
        if segment.flags or any(w.probability < least or w.alternative is not None for w in segment.words)
    )


def _mark(context: Context, time: str, stretch: Stretch) -> Mark:
    sound = context.sounds.get(stretch)
    if sound is None:
        return Mark(text=time)
    seconds = str(max(1, math.ceil(stretch[2] - stretch[1])))
    return Mark(text=time, label=context.wording.sentence("play", time=time, seconds=seconds), sound=sound.id)


def _letter(place: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    high, low = divmod(place, 26)
    return (_letter(high - 1) if high else "") + chr(ord("A") + low)


def _sounds(report: Report, wording: Wording, snippets: Snippets) -> dict[Stretch, Sound]:
    sounds: dict[Stretch, Sound] = {}
    for stretch in _stretches(report, wording):
        if stretch in sounds:
            continue
        data = snippets(*stretch)
        if data:
            source = "data:audio/ogg;base64," + base64.b64encode(data).decode("ascii")
            sounds[stretch] = Sound(id=f"sound-{len(sounds) + 1}", source=source)
    return sounds


def _stretches(report: Report, wording: Wording) -> Iterator[Stretch]:
    """The stretches that the audit shows a time for, in its order, repeats included."""
    for evidence in _evidence(report):
        for piece in evidence:
            yield piece.recording, piece.start, piece.end
    for item in report.ledger.items:
        for piece in (*item.out_evidence, *item.in_evidence):
            yield piece.recording, piece.start, piece.end
    doubtful = doubtful_segments(report, wording)
    for segment in report.transcript.segments:
        if segment.id in doubtful:
            yield segment.recording, segment.start, segment.end


def _evidence(report: Report) -> Iterator[tuple[Evidence, ...]]:
    yield from (check.evidence for check in report.checks)
    for remarks in (report.complaint, report.findings, report.cause, report.correction, report.recommendations):
        yield from (remark.evidence for remark in remarks)
    yield from (step.evidence for step in report.steps)
    yield from (reading.evidence for reading in report.readings)
    yield from (part.evidence for part in report.parts_used)
    yield from (note.evidence for note in report.notes)
    yield from (claim.evidence for claim in report.claims)
