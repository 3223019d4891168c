"""The customer's report: what a layman gets, without the transcript."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from voicereport.render import text
from voicereport.render.context import Context, first_mark
from voicereport.render.facts import Fact, job_facts
from voicereport.render.figures import Figure, Pair, figure, limit_words, pairs
from voicereport.render.letterhead import Letterhead
from voicereport.render.passed import decision, status_word, title_of
from voicereport.render.sentences import Line, item_words, note_line, open_checks, remark_lines, step_lines
from voicereport.render.strips import Strip, strips
from voicereport.render.wording import Wording
from voicereport.report import Check, Remark, Report


@dataclass(frozen=True, kw_only=True, slots=True)
class PartRow:
    """A part fitted new."""

    part: str = field(metadata={"help": "name"})
    part_number: str = field(metadata={"help": "number, or empty"})
    quantity: str = field(metadata={"help": "how many, or empty"})
    mark: str = field(metadata={"help": "time in the recording or initials"})


@dataclass(frozen=True, kw_only=True, slots=True)
class PairRow:
    """A row of the table of readings."""

    name: str = field(metadata={"help": "place and quantity"})
    found: Figure | None = field(metadata={"help": "as found, or None"})
    left: Figure | None = field(metadata={"help": "as left, or None"})
    process: Figure | None = field(metadata={"help": "during the work, or None"})
    limit: str = field(metadata={"help": "the limit in words, or empty"})
    result: str = field(metadata={"help": "the verdict in words, or empty where there is no limit"})
    mark: str = field(metadata={"help": "times in the recording or initials"})


@dataclass(frozen=True, kw_only=True, slots=True)
class CustomerView:
    """All that customer.html and customer.typ show."""

    lang: str = field(metadata={"help": "language of the page"})
    title: str = field(metadata={"help": "title of the document"})
    words: Mapping[str, str] = field(metadata={"help": "labels and headings"})
    letterhead: Letterhead = field(metadata={"help": "the sender"})
    facts: tuple[Fact, ...] = field(metadata={"help": "what is known of the job, label and value"})
    status: str = field(metadata={"help": "the job's status in words"})
    complaint: tuple[Line, ...] = field(metadata={"help": "what the customer reported"})
    found: tuple[Line, ...] = field(metadata={"help": "what was found, the cause last"})
    did_heading: str = field(metadata={"help": "heading over the work"})
    did_note: str = field(metadata={"help": "what the work's list does not say, or empty"})
    did: tuple[Line, ...] = field(metadata={"help": "the work that was done"})
    parts: tuple[PartRow, ...] = field(metadata={"help": "parts fitted"})
    before_after: tuple[PairRow, ...] = field(metadata={"help": "readings with a stage"})
    process: tuple[PairRow, ...] = field(metadata={"help": "readings of the work itself"})
    strips: tuple[Strip, ...] = field(metadata={"help": "the readings as drawings"})
    safety: tuple[Line, ...] = field(metadata={"help": "stop-level entries with their state"})
    open: tuple[Line, ...] = field(metadata={"help": "what is still open"})
    advice: tuple[Line, ...] = field(metadata={"help": "recommendations"})
    cautions: tuple[Line, ...] = field(metadata={"help": "cautions that were spoken"})
    closing: tuple[str, ...] = field(metadata={"help": "deference to local codes, and what the report is not"})
    signed: str = field(metadata={"help": "who signed and when, or empty: then lines to sign on"})
    legend: tuple[str, ...] = field(metadata={"help": "how to read the times in the margin"})


def customer_view(report: Report, context: Context, letterhead: Letterhead) -> CustomerView:
    """The view of a report. Raises TemplateError where the wording lacks a text."""
    wording = context.wording
    heading, note, did = _work(report, context)
    joined = pairs((r for r in report.readings if r.quantity not in wording.customer_left_out), wording)
    rows = [_row(pair, context) for pair in joined]
    return CustomerView(
        lang=letterhead.language,
        title=_title(report, wording),
        words=wording.tables["label"],
        letterhead=letterhead,
        facts=job_facts(report.job, wording),
        status=status_word(report, wording),
        complaint=remark_lines(report.complaint, context, trim="complaint"),
        found=remark_lines((*report.findings, *report.cause), context, trim="found"),
        did_heading=wording.label(heading),
        did_note=wording.sentence(note) if note else "",
        did=did,
        parts=tuple(_part_rows(report, context)),
        before_after=tuple(row for row in rows if row.process is None),
        process=tuple(row for row in rows if row.process is not None),
        strips=strips(joined, wording),
        safety=tuple(_safety(check, context) for check in report.checks if _is_safety(check)),
        open=_open(report, context),
        advice=remark_lines(
            (*report.recommendations, *(r for r in report.correction if r.status == "advised")), context, trim="advice"
        ),
        cautions=tuple(note_line(note, context) for note in report.notes if note.kind == "caution"),
        closing=(wording.sentence("deference"), wording.sentence("nature")),
        signed=signed(report, wording),
        legend=legend(report, context),
    )


def signed(report: Report, wording: Wording) -> str:
    """Who signed, or empty."""
    if not report.review.signed_by:
        return ""
    when = text.moment(report.review.signed_at or "")
    return wording.sentence("signed_by", who=text.shown(report.review.signed_by), when=when).rstrip(", ")


def legend(report: Report, context: Context) -> tuple[str, ...]:
    """How to read the times: a sentence, and the recordings by their letters where there are several."""
    if not report.recordings:
        return ()
    if not context.letters:
        name = text.shown(report.recordings[0].name)
        return (f"{context.wording.label('times_refer')} {context.wording.label('file')}: {name}.",)
    names = "; ".join(f"{letter} {text.shown(name)}" for name, letter in context.letters.items())
    return (f"{context.wording.label('times_refer')} {context.wording.label('times_refer_many')}", names)


def _title(report: Report, wording: Wording) -> str:
    order = report.job.work_order
    return f"{wording.label('report')} {text.shown(order.value)}" if order else wording.label("report")


def _work(report: Report, context: Context) -> tuple[str, str, tuple[Line, ...]]:
    """Heading, note and lines of what was done: remarks, else done steps, else the steps as instructions."""
    spoken = [remark for remark in report.correction if remark.status == "done"]
    if spoken:
        return "did", "", remark_lines(spoken, context)
    for actions in (context.wording.customer_work, context.wording.customer_otherwise):
        done = [step for step in report.steps if step.status == "done" and step.action in actions]
        if done:
            return "did", "", step_lines(done, context)
    told = [step for step in report.steps if step.status == "narrated"]
    remarks = [remark for remark in report.correction if remark.status == "narrated"]
    if told or remarks:
        lines = (*remark_lines(remarks, context), *step_lines(told, context, instruction=True))
        return "did_instructions", "instructions", lines
    return "did", "", ()


def _part_rows(report: Report, context: Context) -> list[PartRow]:
    return [
        PartRow(
            part=text.capital(text.shown(part.part)),
            part_number=text.shown(part.part_number or ""),
            quantity="" if part.quantity is None else text.number(part.quantity),
            mark=first_mark(context, part.evidence, part.entered_by).text,
        )
        for part in report.parts_used
    ]


def _row(pair: Pair, context: Context) -> PairRow:
    wording = context.wording
    marks = [first_mark(context, r.evidence, r.entered_by).text for r in pair.readings]
    limit, result = limit_words(pair.deciding, wording), pair.deciding.verdict.result
    return PairRow(
        name=pair.name,
        found=figure(pair.found, wording) if pair.found else None,
        left=figure(pair.left, wording) if pair.left else None,
        process=figure(pair.process, wording) if pair.process else None,
        limit=limit,
        result=wording.word("verdict", result) if limit or result != "not_checked" else "",
        mark=marks[-1],
    )


def _is_safety(check: Check) -> bool:
    return check.severity == "stop" and check.state != "not_applicable"


def _safety(check: Check, context: Context) -> Line:
    return Line(
        text=title_of(check, context.passed, context.wording),
        lead=context.wording.word("customer_state", check.state),
        mark=first_mark(context, check.evidence),
        rule="" if check.state == "missing" else check.state,  # the line to write on stands under what is open
    )


def _open(report: Report, context: Context) -> tuple[Line, ...]:
    """Open checks with their states, items that are not back, and work that was named and not done."""
    wording = context.wording
    lines = [
        Line(
            text=" ".join(filter(None, (text.ended(wording.word("customer_state", c.state)),
                                        decision(c, context.passed, wording)))),
            lead=title_of(c, context.passed, wording),
            mark=first_mark(context, c.evidence),
            rule=c.state,
        )
        for c in open_checks(report)
    ]  # fmt: skip
    items = {item.id: item for item in report.ledger.items}
    for entry in report.ledger.open:
        item = items.get(entry.id)
        if item is not None:
            what = item_words(item, max(item.count_out - item.count_in, 1), wording)
            line = wording.sentence("not_back", what=what)
            if item.explained:
                line += " " + text.ended(wording.sentence("explained", text=text.shown(item.explained)))
            lines.append(Line(text=line, mark=first_mark(context, item.out_evidence)))
    return (*lines, *(_undone(remark, context) for remark in report.correction if _is_undone(remark)))


def _is_undone(remark: Remark) -> bool:
    return remark.status in ("planned", "not_done", "unclear")


def _undone(remark: Remark, context: Context) -> Line:
    key = "not_certain" if remark.status == "unclear" else "not_done_yet"
    words = context.wording.sentence(key, text=text.shown(remark.text))
    return Line(text=words, mark=first_mark(context, remark.evidence, remark.entered_by))
