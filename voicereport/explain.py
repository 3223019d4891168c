"""One sentence explained: what was understood, and which words led to it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Literal

from voicereport.report import Reading, Report
from voicereport.statements import read_statements
from voicereport.statements.commitment import commitments
from voicereport.statements.reader import load_reader
from voicereport.statements.settling import INWARD, OUTWARD
from voicereport.statements.tokens import clauses, sentences
from voicereport.statements.values import MOVED, Act, Statements
from voicereport.trades import Trade
from voicereport.transcript import Recording, Segment, Transcript, spread


def spoken(say: str, context: str | None = None) -> Transcript:
    """A transcript of a sentence with what was said just before it."""
    lines = [line for line in (context, say) if line]
    segments = tuple(
        Segment(id=f"r1s{n:03}", recording="sentence", start=10.0 * n, end=10.0 * n + 8, heard=line,
                text=" ".join(line.split()), words=spread(line, 10.0 * n, 10.0 * n + 8))
        for n, line in enumerate(lines)
    )  # fmt: skip
    recording = Recording(name="sentence", sha256="", duration_s=10.0 * len(lines), speech_s=8.0 * len(lines))
    return Transcript(recordings=(recording,), segments=segments)


def trace(say: str, context: str | None, trade: Trade, units: Literal["metric", "us"] = "metric") -> Iterable[str]:
    """Lines that say what was understood of `say`, clause by clause, and why."""
    transcript = spoken(say, context)
    last = transcript.segments[-1]
    for sentence in sentences(last, 1):
        parts = clauses(sentence)
        for clause, found in zip(parts, commitments(sentence, parts, trade.words), strict=True):
            yield f"{clause.text!r}: {found.status} ({found.why})"
    yield from _marks(say, context)
    told = read_statements(transcript, trade, units=units)
    for act in told.acts:
        if act.span.segment == last.id:
            held = f" of {act.holds}" if act.holds else ""
            count = f" × {act.count:g}" if act.count else ""
            yield f"step: {act.action} {act.part}{held}{count}: {act.status}, from {act.span.quote!r}"
    for reading in told.readings:
        if reading.span.segment == last.id:
            value = f"{reading.value} {reading.unit or ''}".strip()
            subject = reading.subject or ""
            yield f"reading: {reading.quantity} {subject} {value} ({reading.qualifier}): {reading.spoken!r}"
    for claim in told.claims:
        if claim.span.segment == last.id:
            yield f"claim: {claim.claim}: {claim.status}, from {claim.span.quote!r}"


def _marks(say: str, context: str | None) -> Iterable[str]:
    """What the trained reader makes of the line; nothing where none is installed."""
    reader = load_reader()
    if reader is None:
        return
    line = " ".join(say.split())
    marked = reader.read(line, " ".join((context or "").split()))
    for mark in marked.marks:
        things = ", ".join(repr(line[a:b]) for a, b in mark.things)
        said = f"{mark.action} {mark.sure:.2f}, {mark.status} {mark.status_sure:.2f}"
        yield f"reader: {line[mark.first : mark.last]!r}: {said}" + (f", of {things}" if things else "")
    for value in marked.values:
        yield f"reader: {line[value.first : value.last]!r}: {value.quantity} {value.sure:.2f}"
    for check, chance in marked.asserts.items():
        if max(chance, marked.denies[check]) >= 0.3:
            yield f"reader: {check}: asserted {chance:.2f}, spoken of and not asserted {marked.denies[check]:.2f}"


def answer(say: str, context: str | None, trade: Trade, units: Literal["metric", "us"] = "metric") -> dict[str, Any]:
    """What `say` itself says, as a fragment of a report in the contract's terms."""
    from voicereport.assembly import assemble
    from voicereport.checks import check_said

    transcript = spoken(say, context)
    last = transcript.segments[-1].id
    told = read_statements(transcript, trade, units=units)
    report = assemble(told, transcript, trade)
    states = check_said(report, trade, segments=frozenset({last}), profile="US")
    checks = states.checks if hasattr(states, "checks") else states
    own = replace(told, identity=tuple(i for i in told.identity if i.span.segment == last))
    return {
        "checks": [c.model_dump(mode="json") for c in checks],
        "steps": [s.model_dump(mode="json") for s in report.steps if s.evidence and s.evidence[0].segment == last],
        "readings": [
            r.model_dump(mode="json") for r in _as_staged(report, told) if r.evidence and r.evidence[0].segment == last
        ],
        "ledger": {"items": _moved([a for a in told.acts if a.span.segment == last])},
        "job": assemble(own, transcript, trade).job.model_dump(mode="json"),
        "parts_used": [{"part_number": p} for p in _numbers(transcript)],
    }


def _moved(acts: Iterable[Act]) -> list[dict[str, Any]]:
    """Counted fasteners that came out or went in, summed as the ledger does: "two out, then two more" are four.

    What is only loosened or tightened went nowhere.
    """
    sums: dict[tuple[str, str | None, bool], float] = {}
    for act in acts:
        if act.kind != "fastener" or not act.count or act.status not in MOVED or act.action not in OUTWARD | INWARD:
            continue
        key = (act.part, act.holds, act.action in INWARD)
        sums[key] = sums.get(key, 0) + act.count
    return [
        {"part": part, "holds": holds, "count_out": 0 if inward else count, "count_in": count if inward else 0}
        for (part, holds, inward), count in sums.items()
    ]


def _as_staged(report: Report, told: Statements) -> tuple[Reading, ...]:
    """The readings with the stage that the words give them: where nothing was done, none is before or after it."""
    from voicereport.assembly.evidence import evidence

    if any(a.status in {"done", "narrated"} for a in told.acts):
        return report.readings
    named = {evidence(m.span) for m in told.readings if m.stage is not None}
    return tuple(r if named & set(r.evidence) else r.model_copy(update={"stage": None}) for r in report.readings)


def _numbers(transcript: Transcript) -> list[str]:
    """The part numbers of the last segment; the one before it may announce them."""
    from voicereport.statements.announced import Heard
    from voicereport.statements.identity import identity

    before: Heard | None = None
    found: list[str] = []
    for sentence in (s for segment in transcript.segments for s in sentences(segment, 1)):
        before = identity(sentence, before)
        if sentence.segment is transcript.segments[-1]:
            found = found[:-1] if before.mends else found
            found += [value for value, _, _ in before.parts]
    return found
