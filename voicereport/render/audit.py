"""The audit: every entry with what it rests on, the words beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from voicereport.render import text
from voicereport.render.context import (
    Context,
    Mark,
    Sound,
    first_mark,
    mark,
    stretch_mark,
)
from voicereport.render.customer import legend, signed
from voicereport.render.facts import Fact, job_facts
from voicereport.render.figures import Figure, figure, limit_words, pairs, reading_name
from voicereport.render.letterhead import Letterhead
from voicereport.render.passed import reason_of, status_word, title_of
from voicereport.render.sentences import Line, note_line, open_paragraph, step_sentence
from voicereport.render.strips import Strip, strips
from voicereport.render.wording import Wording
from voicereport.report import Check, Evidence, LedgerItem, Reading, Remark, Report, SegmentEntry, WordEntry


@dataclass(frozen=True, kw_only=True, slots=True)
class Quote:
    """Words that an entry rests on."""

    text: str = field(metadata={"help": "the words"})
    mark: Mark = field(metadata={"help": "when they were said"})
    confidence: str = field(metadata={"help": "the recogniser's confidence, two decimals"})


@dataclass(frozen=True, kw_only=True, slots=True)
class CheckEntry:
    """A check."""

    id: str = field(metadata={"help": "id in the trade pack"})
    title: str = field(metadata={"help": "what is asked for"})
    state: str = field(metadata={"help": "state of the contract: decides the rule"})
    state_word: str = field(metadata={"help": "the state in words"})
    severity: str = field(metadata={"help": "severity in words"})
    reason: str = field(metadata={"help": "why it has this state, what to say or do"})
    reference: str = field(metadata={"help": "the rule it rests on, or empty"})
    quotes: tuple[Quote, ...] = field(metadata={"help": "the words it rests on"})


@dataclass(frozen=True, kw_only=True, slots=True)
class RemarkGroup:
    """Remarks of one kind."""

    heading: str = field(metadata={"help": "which kind"})
    lines: tuple[Line, ...] = field(metadata={"help": "the remarks"})


@dataclass(frozen=True, kw_only=True, slots=True)
class StepEntry:
    """A step."""

    text: str = field(metadata={"help": "the step as a sentence"})
    status: str = field(metadata={"help": "what the words commit to, in words; empty for done"})
    quote: str = field(metadata={"help": "the words"})
    visit: str = field(metadata={"help": "the visit where it changes, else empty"})
    mark: Mark = field(metadata={"help": "time or initials"})
    rule: str = field(metadata={"help": "a state of the contract whose rule stands at the left"})


@dataclass(frozen=True, kw_only=True, slots=True)
class LedgerRow:
    """An item that came off."""

    part: str = field(metadata={"help": "the part, with what it holds"})
    kind: str = field(metadata={"help": "part, fastener, ..."})
    out: str = field(metadata={"help": "count off"})
    back: str = field(metadata={"help": "count back"})
    state: str = field(metadata={"help": "state in words"})
    remark: str = field(metadata={"help": "orientation, or why fewer went back"})
    out_mark: Mark = field(metadata={"help": "when it came off"})
    back_mark: Mark = field(metadata={"help": "when it went back"})
    rule: str = field(metadata={"help": "missing where it is open, else empty"})


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadingRow:
    """A reading."""

    name: str = field(metadata={"help": "place and quantity"})
    stage: str = field(metadata={"help": "as found, as left, during the work"})
    figure: Figure = field(metadata={"help": "the value"})
    limit: str = field(metadata={"help": "the limit in words, or empty"})
    result: str = field(metadata={"help": "the verdict in words"})
    spoken: str = field(metadata={"help": "the words it was read from"})
    doubt: str = field(metadata={"help": "what a second look heard, or empty"})
    reason: str = field(metadata={"help": "why it was judged so, or empty"})
    source: str = field(metadata={"help": "source of the limit, or empty"})
    worked: str = field(metadata={"help": "formula, numbers, result; or empty"})
    mark: Mark = field(metadata={"help": "time or initials"})


@dataclass(frozen=True, kw_only=True, slots=True)
class SpokenWord:
    """A word of the transcript."""

    text: str = field(metadata={"help": "the word"})
    doubtful: bool = field(metadata={"help": "improbable, or a second look heard something else"})
    alternative: str = field(metadata={"help": "what the second look heard, or empty"})


@dataclass(frozen=True, kw_only=True, slots=True)
class SegmentRow:
    """A segment of the transcript."""

    words: tuple[SpokenWord, ...] = field(metadata={"help": "its words"})
    heard: str = field(metadata={"help": "what the recogniser wrote, where it differs; else empty"})
    flags: str = field(metadata={"help": "flags in words, or empty"})
    mark: Mark = field(metadata={"help": "when it was said"})


@dataclass(frozen=True, kw_only=True, slots=True)
class RecordingRow:
    """A recording."""

    letter: str = field(metadata={"help": "its letter, or empty where there is one recording"})
    name: str = field(metadata={"help": "name of the file"})
    facts: tuple[Fact, ...] = field(metadata={"help": "visit, length, recogniser, digest"})
    notes: tuple[str, ...] = field(metadata={"help": "warnings about the file"})


@dataclass(frozen=True, kw_only=True, slots=True)
class PartLine:
    """A part fitted new."""

    text: str = field(metadata={"help": "count, part and number"})
    mark: Mark = field(metadata={"help": "time or initials"})


@dataclass(frozen=True, kw_only=True, slots=True)
class AuditView:
    """All that audit.html shows."""

    lang: str = field(metadata={"help": "language of the page"})
    title: str = field(metadata={"help": "title of the document"})
    words: Mapping[str, str] = field(metadata={"help": "labels and headings"})
    letterhead: Letterhead = field(metadata={"help": "the sender; its paper cuts the page"})
    facts: tuple[Fact, ...] = field(metadata={"help": "what is known of the job"})
    status: str = field(metadata={"help": "the job's status in words"})
    open_paragraph: str = field(metadata={"help": "what is open, to be read out"})
    checks: tuple[CheckEntry, ...] = field(metadata={"help": "entries that apply, open ones first"})
    not_applicable: str = field(metadata={"help": "titles of those that do not apply, in one line"})
    remarks: tuple[RemarkGroup, ...] = field(metadata={"help": "remarks by kind"})
    parts: tuple[PartLine, ...] = field(metadata={"help": "parts fitted"})
    steps: tuple[StepEntry, ...] = field(metadata={"help": "steps in time order"})
    claims: tuple[Line, ...] = field(metadata={"help": "facts claimed that are no steps"})
    ledger: tuple[LedgerRow, ...] = field(metadata={"help": "what came off"})
    readings: tuple[ReadingRow, ...] = field(metadata={"help": "every reading"})
    strips: tuple[Strip, ...] = field(metadata={"help": "the readings as drawings"})
    notes: tuple[Line, ...] = field(metadata={"help": "notes"})
    segments: tuple[SegmentRow, ...] = field(metadata={"help": "the transcript"})
    dropped: tuple[str, ...] = field(metadata={"help": "words over no speech"})
    recordings: tuple[RecordingRow, ...] = field(metadata={"help": "the files"})
    changes: tuple[str, ...] = field(metadata={"help": "changes by people"})
    signed: str = field(metadata={"help": "who signed, or empty"})
    closing: tuple[str, ...] = field(metadata={"help": "deference to local codes, and what the report is not"})
    legend: tuple[str, ...] = field(metadata={"help": "how to read the times in the margin"})
    sounds: tuple[Sound, ...] = field(metadata={"help": "embedded stretches of the recordings"})


def audit_view(report: Report, context: Context, letterhead: Letterhead) -> AuditView:
    """The view of a report. Raises TemplateError where the wording lacks a text."""
    wording = context.wording
    order = report.job.work_order
    title = wording.label("audit")
    return AuditView(
        lang=letterhead.language,
        title=f"{title} {text.shown(order.value)}" if order else title,
        words=wording.tables["label"],
        letterhead=letterhead,
        facts=job_facts(report.job, wording),
        status=status_word(report, wording),
        open_paragraph=open_paragraph(report, wording),
        checks=tuple(_check(check, context) for check in _sorted(report.checks)),
        not_applicable="; ".join(text.shown(c.title) for c in report.checks if c.state == "not_applicable"),
        remarks=_remark_groups(report, context),
        parts=_parts(report, context),
        steps=_steps(report, context),
        claims=_claims(report, context),
        ledger=tuple(_ledger_row(item, report, context) for item in report.ledger.items),
        readings=tuple(_reading(reading, context) for reading in report.readings),
        strips=strips(pairs(report.readings, wording), wording),
        notes=_notes(report, context),
        segments=tuple(_segment(segment, context) for segment in report.transcript.segments),
        dropped=tuple(text.shown(words) for words in report.transcript.dropped),
        recordings=_recordings(report, context),
        changes=_changes(report, wording),
        signed=signed(report, wording),
        closing=(wording.sentence("deference"), wording.sentence("nature")),
        legend=legend(report, context),
        sounds=tuple(context.sounds.values()),
    )


def _sorted(checks: tuple[Check, ...]) -> list[Check]:
    """Open stop-level checks, other open ones, confirmed ones; those that do not apply are left out."""
    applying = [check for check in checks if check.state != "not_applicable"]
    return sorted(applying, key=lambda c: (c.state == "confirmed", c.severity != "stop"))


def _check(check: Check, context: Context) -> CheckEntry:
    return CheckEntry(
        id=text.shown(check.id),
        title=title_of(check, context.passed, context.wording),
        state=check.state,
        state_word=context.wording.word("state", check.state),
        severity=context.wording.word("severity", check.severity),
        reason=reason_of(check, context.passed, context.wording),
        reference=text.shown(check.reference or ""),
        quotes=tuple(_quote(piece, context) for piece in check.evidence),
    )


def _quote(piece: Evidence, context: Context) -> Quote:
    return Quote(text=text.shown(piece.quote), mark=mark(context, piece), confidence=f"{piece.confidence:.2f}")


def _remark_groups(report: Report, context: Context) -> tuple[RemarkGroup, ...]:
    groups = (
        ("complaint", report.complaint),
        ("findings", report.findings),
        ("cause", report.cause),
        ("correction", report.correction),
        ("recommendations", report.recommendations),
    )
    return tuple(
        RemarkGroup(heading=context.wording.label(key), lines=tuple(_remark(r, context) for r in remarks))
        for key, remarks in groups
        if remarks
    )


def _remark(remark: Remark, context: Context) -> Line:
    lead = "" if remark.status == "done" else context.wording.word("step_status", remark.status)
    return Line(
        text=text.capital(text.shown(remark.text)),
        lead=text.capital(lead),
        mark=first_mark(context, remark.evidence, remark.entered_by),
        rule=_RULES.get(remark.status, ""),
    )


_RULES = {"unclear": "unclear", "retracted": "contradicted", "not_done": "contradicted"}


def _parts(report: Report, context: Context) -> tuple[PartLine, ...]:
    lines = []
    for part in report.parts_used:
        count = "" if part.quantity is None else f"{text.number(part.quantity)}{text.NO_BREAK}× "
        part_number = f", {text.shown(part.part_number)}" if part.part_number else ""
        mark_ = first_mark(context, part.evidence, part.entered_by)
        lines.append(PartLine(text=count + text.shown(part.part) + part_number, mark=mark_))
    return tuple(lines)


def _steps(report: Report, context: Context) -> tuple[StepEntry, ...]:
    wording, entries, visit = context.wording, [], 1
    for step in report.steps:
        told = step.status in ("narrated", "planned", "advised", "not_done")
        entries.append(
            StepEntry(
                text=step_sentence(step, wording, instruction=told),
                status="" if step.status == "done" else text.capital(wording.word("step_status", step.status)),
                quote=text.shown(step.evidence[0].quote) if step.evidence else "",
                visit=f"{wording.label('visit')} {step.visit}" if step.visit != visit else "",
                mark=first_mark(context, step.evidence, step.entered_by),
                rule=_RULES.get(step.status, ""),
            )
        )
        visit = step.visit
    return tuple(entries)


def _claims(report: Report, context: Context) -> tuple[Line, ...]:
    lines = []
    for claim in report.claims:
        words = text.shown(claim.claim).replace("-", " ").replace("_", " ")
        quote = text.shown(claim.evidence[0].quote).rstrip(" .,;:") if claim.evidence else ""
        lead = "" if claim.status == "done" else context.wording.word("step_status", claim.status)
        lines.append(
            Line(
                text=text.capital(words) + (f": “{quote}”" if quote else ""),
                lead=text.capital(lead),
                mark=first_mark(context, claim.evidence),
                rule=_RULES.get(claim.status, ""),
            )
        )
    return tuple(lines)


def _ledger_row(item: LedgerItem, report: Report, context: Context) -> LedgerRow:
    wording = context.wording
    reasons = [text.shown(entry.reason) for entry in report.ledger.open if entry.id == item.id]
    explained = [wording.sentence("explained", text=text.shown(item.explained))] if item.explained else []
    way_round = [text.shown(item.orientation)] if item.orientation else []
    of = wording.sentence("of_holds", holds=text.shown(item.holds)) if item.holds else ""
    part = text.shown(item.part)
    return LedgerRow(
        part=text.capital(wording.plural(part) if item.count_out > 1 else part) + of,
        kind=wording.word("item_kind", item.kind),
        out=text.number(item.count_out),
        back=text.number(item.count_in),
        state=text.capital(wording.word("item_state", item.state)),
        remark=" ".join(text.capital(text.ended(part)) for part in way_round + reasons + explained),
        out_mark=first_mark(context, item.out_evidence),
        back_mark=first_mark(context, item.in_evidence),
        rule="missing" if item.state == "open" else "",
    )


def _reading(reading: Reading, context: Context) -> ReadingRow:
    wording, verdict = context.wording, reading.verdict
    return ReadingRow(
        name=reading_name(reading, wording),
        stage=wording.word("stage", reading.stage or "process"),
        figure=figure(reading, wording),
        limit=limit_words(reading, wording),
        result=text.capital(wording.word("verdict", verdict.result)),
        spoken=text.shown(reading.spoken),
        doubt=text.shown(reading.doubt or ""),
        reason=text.shown(verdict.reason or ""),
        source=text.shown(verdict.source or ""),
        worked=text.shown(verdict.worked or ""),
        mark=first_mark(context, reading.evidence, reading.entered_by),
    )


def _notes(report: Report, context: Context) -> tuple[Line, ...]:
    return tuple(
        note_line(note, context, lead=text.capital(context.wording.word("note", note.kind))) for note in report.notes
    )


def _segment(segment: SegmentEntry, context: Context) -> SegmentRow:
    least = context.wording.limits["doubtful_below"]
    spoken = tuple(_word(word, least) for word in segment.words)
    if not spoken and segment.text:
        spoken = (SpokenWord(text=text.shown(segment.text), doubtful=False, alternative=""),)
    return SegmentRow(
        words=spoken,
        heard=text.shown(segment.heard) if segment.heard.strip() != segment.text.strip() else "",
        flags=text.capital(", ".join(context.wording.word("flag", flag) for flag in segment.flags)),
        mark=stretch_mark(context, segment.recording, segment.start, segment.end),
    )


def _word(word: WordEntry, least: float) -> SpokenWord:
    return SpokenWord(
        text=text.shown(word.word),
        doubtful=word.probability < least or word.alternative is not None,
        alternative=text.shown(word.alternative or ""),
    )


def _recordings(report: Report, context: Context) -> tuple[RecordingRow, ...]:
    label = context.wording.label
    rows = []
    for entry in report.recordings:
        engine = " ".join(text.shown(name) for name in (entry.engine, entry.model) if name)
        facts = (
            (label("visit"), str(entry.visit)),
            (label("duration"), text.clock(entry.duration_s)),
            (label("speech"), text.clock(entry.speech_s)),
            (label("engine"), engine),
            (label("language"), text.shown(entry.language)),
            (label("digest"), text.shown(entry.sha256)),
        )
        rows.append(
            RecordingRow(
                letter=context.letters.get(entry.name, ""),
                name=text.shown(entry.name),
                facts=tuple(Fact(label=key, value=value, figures=True) for key, value in facts if value),
                notes=tuple(text.shown(note) for note in entry.notes),
            )
        )
    return tuple(rows)


def _changes(report: Report, wording: Wording) -> tuple[str, ...]:
    lines = []
    for change in report.review.changes:
        who, when, path = text.shown(change.who), text.moment(change.when), text.shown(change.path)
        line = wording.sentence("changed", who=who, when=when, path=path)
        before, after = (text.shown("–" if value is None else str(value)) for value in (change.before, change.after))
        why = f" ({text.shown(change.why)})" if change.why else ""
        lines.append(f"{line}: {before} → {after}{why}")
    return tuple(lines)
