"""The reassembly sheet: what came off, last off first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from voicereport.render import text
from voicereport.render.context import Context, Mark, first_mark
from voicereport.render.facts import Fact, job_facts
from voicereport.render.letterhead import Letterhead
from voicereport.render.sentences import Line, note_line, step_sentence
from voicereport.report import LedgerItem, Note, Report, Step


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetItem:
    """An item to put back."""

    count: str = field(metadata={"help": "how many came off"})
    part: str = field(metadata={"help": "the part, plural where there are several"})
    holds: str = field(metadata={"help": "what it holds, or empty"})
    notes: tuple[str, ...] = field(metadata={"help": "which way round, how it runs, cautions"})
    mark: Mark = field(metadata={"help": "when it came off"})
    state: str = field(metadata={"help": "state in words where it is no longer off, with its time; else empty"})


@dataclass(frozen=True, kw_only=True, slots=True)
class ReassemblyView:
    """All that reassembly.html shows."""

    lang: str = field(metadata={"help": "language of the page"})
    title: str = field(metadata={"help": "title of the document"})
    words: Mapping[str, str] = field(metadata={"help": "labels and headings"})
    letterhead: Letterhead = field(metadata={"help": "the sender; its paper cuts the page"})
    facts: tuple[Fact, ...] = field(metadata={"help": "which appliance, which job"})
    strip_down: tuple[Line, ...] = field(metadata={"help": "steps of taking it apart; empty unless spoken as one"})
    intro: str = field(metadata={"help": "where to start, or that nothing came off"})
    items: tuple[SheetItem, ...] = field(metadata={"help": "last off first"})
    dense: bool = field(metadata={"help": "many items: lower rows"})
    notes: tuple[Line, ...] = field(metadata={"help": "notes that belong to no item"})
    cautions: tuple[Line, ...] = field(metadata={"help": "cautions that were spoken"})
    closing: tuple[str, ...] = field(metadata={"help": "deference to local codes, and what the report is not"})
    legend: tuple[str, ...] = field(metadata={"help": "how to read the times in the margin"})


_SHEET_FACTS = ("work_order", "appliance", "model", "serial")


def reassembly_view(report: Report, context: Context, letterhead: Letterhead) -> ReassemblyView:
    """The view of a report. Raises TemplateError where the wording lacks a text."""
    wording = context.wording
    by_id = {item.id: item for item in report.ledger.items}
    items = [by_id[id_] for id_ in report.ledger.reassembly_order if id_ in by_id]
    labels = {wording.label(key) for key in _SHEET_FACTS}
    order = report.job.work_order
    title = wording.label("reassembly")
    used: set[int] = set()
    rows = tuple(_item(item, report, context, used) for item in items)
    strip_down = _strip_down(report, context)
    return ReassemblyView(
        lang=letterhead.language,
        title=f"{title} {text.shown(order.value)}" if order else title,
        words=wording.tables["label"],
        letterhead=letterhead,
        facts=tuple(fact for fact in job_facts(report.job, wording) if fact.label in labels),
        strip_down=strip_down,
        intro=wording.sentence("last_off_first" if rows else "no_reassembly"),
        items=rows,
        dense=len(rows) > wording.limits["roomy_items"],
        notes=tuple(
            note_line(note, context)
            for place, note in enumerate(report.notes)
            if note.kind != "caution" and place not in used
        ),
        cautions=tuple(note_line(note, context) for note in report.notes if note.kind == "caution"),
        closing=(wording.sentence("deference"), wording.sentence("nature")),
        legend=(wording.label("times_refer"),) if report.recordings else (),
    )


def _strip_down(report: Report, context: Context) -> tuple[Line, ...]:
    """The steps of taking it apart, where most of what was spoken is in the imperative."""
    said = [step for step in report.steps if step.status in ("done", "narrated")]
    if 2 * sum(step.status == "narrated" for step in said) <= len(said):
        return ()
    return tuple(_step_line(step, context) for step in said if step.action in context.wording.strip_down)


def _step_line(step: Step, context: Context) -> Line:
    words = step_sentence(step, context.wording, instruction=step.status == "narrated")
    return Line(text=words, mark=first_mark(context, step.evidence, step.entered_by))


def _item(item: LedgerItem, report: Report, context: Context, used: set[int]) -> SheetItem:
    """A row of the sheet; notes shown with it are entered in `used` by their place."""
    wording = context.wording
    notes = [item.orientation] if item.orientation else []
    for place, note in enumerate(report.notes):
        if _is_about(note, item):
            used.add(place)
            if note.text not in notes:
                notes.append(note.text)
    part = text.shown(item.part)
    state = ""
    if item.state != "open":
        state = text.capital(wording.word("item_state", item.state))
        when = first_mark(context, item.in_evidence).text
        state += f" {when}" if when else ""
    elif item.explained:
        notes.append(wording.sentence("explained", text=item.explained))
    return SheetItem(
        count=text.number(item.count_out),
        part=text.capital(part if item.count_out <= 1 else wording.plural(part)),
        holds=wording.sentence("of_holds", holds=text.shown(item.holds)).strip() if item.holds else "",
        notes=tuple(text.capital(text.shown(note)) for note in notes),
        mark=first_mark(context, item.out_evidence),
        state=state,
    )


def _is_about(note: Note, item: LedgerItem) -> bool:
    return bool(note.about) and note.about.casefold() == item.part.casefold()
