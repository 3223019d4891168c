"""Steps as sentences, remarks as lines, and what is open in plain words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from voicereport.render import text
from voicereport.render.context import Context, Mark, first_mark
from voicereport.render.passed import passed
from voicereport.render.wording import Wording
from voicereport.report import Check, LedgerItem, Note, Remark, Report, Step


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """A sentence with its mark in the margin."""

    text: str = field(metadata={"help": "the sentence"})
    mark: Mark = field(metadata={"help": "time or initials"})
    lead: str = field(default="", metadata={"help": "a word that stands first: the state, the status"})
    rule: str = field(default="", metadata={"help": "which rule stands at the left: a state of the contract, or empty"})


def step_sentence(step: Step, wording: Wording, *, instruction: bool = False) -> str:
    """A step as a sentence: "Put back 4 screws of the rear panel."; as an instruction where asked for."""
    part = text.shown(step.part)
    of = wording.sentence("of_holds", holds=text.shown(step.holds)) if step.holds else ""
    of += wording.sentence("of_location", location=text.shown(step.location)) if step.location else ""
    thing = counted(part, step.count, wording)
    table = "instruction" if instruction else "done"
    return text.capital(wording.word(table, step.action, thing=thing, part=part, of=of))


def counted(part: str, count: float | None, wording: Wording) -> str:
    """A part with its count: "the rear panel", "4 screws"."""
    if count is None or count == 1:
        return wording.sentence("thing_one", part=part)
    return wording.sentence("thing_many", count=text.number(count), parts=wording.plural(part))


def item_words(item: LedgerItem, missing: float, wording: Wording) -> str:
    """An item of the ledger with a count: "2 screws of the rear panel"."""
    of = wording.sentence("of_holds", holds=text.shown(item.holds)) if item.holds else ""
    return counted(text.shown(item.part), missing, wording) + of


def remark_lines(remarks: Iterable[Remark], context: Context, *, trim: str = "") -> tuple[Line, ...]:
    """Remarks as lines; what was taken back is left out, what was hedged says so.

    trim: heading of the wording's table of words that are left away at the start; what is typed stays as it is.
    """
    lines = []
    for remark in remarks:
        if remark.status == "retracted":
            continue
        words = text.shown(remark.text)
        words = text.capital(trimmed(words, context.wording, trim) if trim and not remark.entered_by else words)
        if remark.status == "unclear":
            words = context.wording.sentence("not_certain", text=words)
        lines.append(Line(text=words, mark=first_mark(context, remark.evidence, remark.entered_by)))
    return tuple(lines)


def trimmed(words: str, wording: Wording, heading: str) -> str:
    """Words without what the heading makes needless at their start; as they are where too little would be left."""
    found = wording.trims[heading].match(words) if heading in wording.trims else None
    rest = words[found.end() :] if found else words
    return rest if len(rest.split()) > 1 else words


def step_lines(steps: Iterable[Step], context: Context, *, instruction: bool = False) -> tuple[Line, ...]:
    """Steps as sentences with their marks."""
    return tuple(
        Line(
            text=step_sentence(step, context.wording, instruction=instruction),
            mark=first_mark(context, step.evidence, step.entered_by),
        )
        for step in steps
    )


def open_checks(report: Report) -> tuple[Check, ...]:
    """Checks that apply and are not confirmed, stop-level first."""
    rest = [check for check in report.checks if check.state not in ("confirmed", "not_applicable")]
    return tuple(sorted(rest, key=lambda check: check.severity != "stop"))


def open_paragraph(report: Report, wording: Wording) -> str:
    """What is open, in words that can be read out on the telephone; what was let pass is counted after it."""
    decided = passed(report)
    checks = [check for check in open_checks(report) if check.id not in decided]
    told = [wording.sentence("passed_one" if len(decided) == 1 else "passed_many", count=str(len(decided)))]
    if not checks:
        return told[0] if decided else wording.sentence("nothing_open")
    stops = sum(check.severity == "stop" for check in checks)
    sentences = _counts(stops, len(checks) - stops, wording)
    if len(checks) <= wording.limits["reasons_in_full"]:
        sentences += [text.ended(text.shown(check.reason)) for check in checks]
    else:
        sentences += [text.ended("; ".join(_titled(check, wording) for check in checks))]
    return " ".join(sentences + (told if decided else []))


def _titled(check: Check, wording: Wording) -> str:
    return f"{text.shown(check.title)} ({wording.word('state', check.state).lower()})"


def _counts(stops: int, warnings: int, wording: Wording) -> list[str]:
    sentences = []
    for key, count in (("open_stop", stops), ("open_warning" if stops else "open_only_warning", warnings)):
        if count == 1:
            sentences.append(wording.sentence(f"{key}_one"))
        elif count:
            sentences.append(wording.sentence(f"{key}_many", count=str(count)))
    return sentences


def note_line(note: Note, context: Context, *, lead: str = "") -> Line:
    """A note as a line: "Rear panel: sharp fins behind it."."""
    about = f"{text.capital(text.shown(note.about))}: " if note.about else ""
    words = about + text.shown(note.text) if about else text.capital(text.shown(note.text))
    return Line(text=text.ended(words), lead=lead, mark=first_mark(context, note.evidence))
