"""From what was claimed to the report: steps, readings, parts, ledger, notes; the checks are made elsewhere."""

from __future__ import annotations

from collections.abc import Sequence

from voicereport.assembly.evidence import Places, evidence
from voicereport.assembly.job import make_job
from voicereport.assembly.ledger import make_ledger
from voicereport.assembly.names import load_names, load_sentences
from voicereport.assembly.parts import make_parts
from voicereport.assembly.readings import make_readings
from voicereport.report import (
    Claim,
    Note,
    RecordingEntry,
    Remark,
    Report,
    SegmentEntry,
    Step,
    TranscriptEntry,
    WordEntry,
)
from voicereport.statements.values import Act, Statements, Topic
from voicereport.trades import Trade
from voicereport.transcript import Recording, Segment, Transcript, span

__all__ = ["assemble", "with_notes"]


def assemble(statements: Statements, transcript: Transcript, trade: Trade, *, recorded_at: str | None = None) -> Report:
    """The report of `statements`, all of it with evidence, without checks and verdicts.

    recorded_at: when the job was recorded, RFC 3339, or None. Raises PackError where the common trade data is at fault.
    """
    common = trade.folder.parent / "common"
    names, sentences = load_names(common), load_sentences(common)
    places = Places(transcript)
    return Report(
        job=make_job(statements, transcript, trade.id, recorded_at),
        recordings=tuple(map(_recording, transcript.recordings)),
        transcript=TranscriptEntry(segments=tuple(map(_segment, transcript.segments)), dropped=transcript.dropped),
        complaint=_remarks(statements, "complaint"),
        findings=_remarks(statements, "findings"),
        cause=_remarks(statements, "cause"),
        correction=_remarks(statements, "correction"),
        recommendations=_remarks(statements, "recommendations"),
        steps=_steps(statements.acts, places),
        readings=make_readings(statements, transcript, names, sentences),
        parts_used=make_parts(statements, transcript, trade.words, names),
        ledger=make_ledger(statements, transcript, trade.words, names, sentences),
        notes=tuple(Note(kind=n.kind, about=n.about, text=n.text, evidence=(evidence(n.span),))
                    for n in statements.notes),
        claims=tuple(Claim(id=f"c{n}", visit=c.visit, claim=c.claim, about=c.about, status=c.status,
                           evidence=(evidence(c.span),)) for n, c in enumerate(statements.claims, 1)),
    )  # fmt: skip


def with_notes(report: Report, asked: Sequence[Segment]) -> Report:
    """The report with the notes that the speaker asked the tool to make, in the words of their segments."""
    if not asked:
        return report
    notes = tuple(Note(kind="other", about="", text=s.text, evidence=(evidence(span(s)),)) for s in asked)
    return report.model_copy(update={"notes": (*report.notes, *notes)})


def _recording(recording: Recording) -> RecordingEntry:
    return RecordingEntry(
        name=recording.name, sha256=recording.sha256, duration_s=recording.duration_s, speech_s=recording.speech_s,
        visit=recording.visit, engine=recording.engine, model=recording.model, language=recording.language,
        notes=recording.notes,
    )  # fmt: skip


def _segment(segment: Segment) -> SegmentEntry:
    words = tuple(WordEntry(word=w.word, start=w.start, end=w.end, probability=min(1.0, max(0.0, w.probability)),
                            alternative=w.alternative) for w in segment.words)  # fmt: skip
    return SegmentEntry(
        id=segment.id, recording=segment.recording, start=segment.start, end=segment.end, heard=segment.heard,
        text=segment.text, words=words, flags=segment.flags,
    )  # fmt: skip


def _remarks(statements: Statements, topic: Topic) -> tuple[Remark, ...]:
    """What was told under one heading, but for what was taken back."""
    return tuple(Remark(text=t.text, status=t.status, evidence=(evidence(t.span),))
                 for t in statements.told if t.topic == topic and t.status != "retracted")  # fmt: skip


def _steps(acts: tuple[Act, ...], places: Places) -> tuple[Step, ...]:
    ordered = sorted(acts, key=lambda a: places.of(a.span))
    return tuple(
        Step(id=f"s{n}", visit=a.visit, action=a.action, part=a.part, count=a.count, holds=a.holds,
             location=a.location, status=a.status, evidence=(evidence(a.span),))
        for n, a in enumerate(ordered, 1)
    )  # fmt: skip
