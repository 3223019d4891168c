"""A report as the pages show it: every entry with its place in the report, its time, and the words it rests on."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from urllib.parse import urlencode

from voicereport.render import text
from voicereport.render.context import Context, context_of, doubtful_segments, time_text
from voicereport.render.facts import Fact, job_facts
from voicereport.render.figures import Figure, figure, limit_words, pairs, reading_name
from voicereport.render.passed import status_word
from voicereport.render.sentences import note_line, open_paragraph, step_sentence
from voicereport.render.strips import Strip, strips
from voicereport.render.wording import Wording
from voicereport.report import LET_PASS, LIFTED, Check, Evidence, LedgerItem, Reading, Remark, Report, Step
from voicereport.store.values import Override, Question, Recording
from voicereport.web.pages import say

_RULES = {"unclear": "unclear", "retracted": "contradicted", "not_done": "contradicted"}
REMARKS = ("complaint", "findings", "cause", "correction", "recommendations")
_AROUND_S = 0.15  #: played before and after the words, so that their first and last sound is whole


@dataclass(frozen=True, kw_only=True, slots=True)
class Time:
    """A time in the margin; with the sound it plays where the recording is kept."""

    text: str
    label: str = ""
    audio: str = ""  #: address of the recording; "" = no sound
    cut: str = ""  #: address of exactly these seconds
    start: float = 0.0
    end: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Words:
    """Words that an entry rests on."""

    quote: str
    time: Time


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One entry of the record."""

    path: str  #: JSON pointer of the entry in the report
    anchor: str
    text: str
    lead: str = ""
    rule: str = ""
    time: Time | None = None
    words: tuple[Words, ...] = ()
    typed: str = ""  #: who typed it, and when
    notes: tuple[str, ...] = ()
    figure: Figure | None = None
    editable: bool = True


@dataclass(frozen=True, kw_only=True, slots=True)
class Section:
    """Entries of one kind."""

    key: str
    heading: str
    entries: tuple[Entry, ...]
    addable: bool = True


@dataclass(frozen=True, kw_only=True, slots=True)
class CheckLine:
    """A check with the decision on it, if there is one."""

    id: str
    anchor: str
    title: str
    state: str
    state_word: str
    severity: str
    severity_word: str
    reason: str
    reference: str
    words: tuple[Words, ...]
    override: Override | None
    questions: tuple[Question, ...]

    @property
    def open(self) -> bool:
        return self.state not in ("confirmed", "not_applicable")


@dataclass(frozen=True, kw_only=True, slots=True)
class SpokenWord:
    """A word of what was said."""

    text: str
    doubtful: bool
    alternative: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Segment:
    """A stretch of what was said."""

    id: str
    time: Time
    words: tuple[SpokenWord, ...]
    heard: str
    flags: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Record:
    """A whole report for the pages."""

    facts: tuple[Fact, ...]
    status: str
    status_word: str
    opening: str
    checks: tuple[CheckLine, ...]
    not_applicable: str
    sections: tuple[Section, ...]
    strips: tuple[Strip, ...]
    segments: tuple[Segment, ...]
    doubts: int
    changes: tuple[str, ...]
    signed: str
    legend: tuple[str, ...]
    open_checks: tuple[CheckLine, ...] = field(default=())


class Sounds:
    """Where the sound of each recording of a job is to be had."""

    def __init__(self, job_id: int, report: Report, recordings: Sequence[Recording]) -> None:
        kept = {r.sha256: r for r in recordings if r.path is not None and r.media_type.startswith(("audio/", "video/"))}
        self._base = f"/jobs/{job_id}/recordings"
        self._ids = {entry.name: kept[entry.sha256].id for entry in report.recordings if entry.sha256 in kept}

    def has(self, recording: str) -> bool:
        """Whether the sound of a recording is still kept."""
        return recording in self._ids

    def time(self, context: Context, recording: str, start: float, end: float) -> Time:
        """The margin's time of a stretch."""
        shown = time_text(context, recording, start)
        if recording not in self._ids:
            return Time(text=shown)
        first, last = round(max(0.0, start - _AROUND_S), 3), round(end + _AROUND_S, 3)
        address = f"{self._base}/{self._ids[recording]}"
        seconds = str(max(1, round(end - start)))
        return Time(
            text=shown,
            label=context.wording.sentence("play", time=shown, seconds=seconds),
            audio=f"{address}/sound",
            cut=f"{address}/cut?{urlencode({'start': first, 'end': last})}",
            start=first,
            end=last,
        )


class _Maker:
    """Builds the parts of a record; keeps what they share."""

    def __init__(self, report: Report, wording: Wording, sounds: Sounds) -> None:
        self.report, self.wording, self.sounds = report, wording, sounds
        self.context = context_of(report, wording)
        self.places = {f"/checks/{check.id}": text.shown(check.title) for check in report.checks}

    def words(self, evidence: Sequence[Evidence]) -> tuple[Words, ...]:
        return tuple(
            Words(quote=text.shown(e.quote), time=self.sounds.time(self.context, e.recording, e.start, e.end))
            for e in evidence
        )

    def entry(self, path: str, sentence: str, evidence: Sequence[Evidence], by: str | None, at: str | None,
              *, lead: str = "", rule: str = "", notes: tuple[str, ...] = (), shown: Figure | None = None,
              editable: bool = True) -> Entry:  # fmt: skip
        words = self.words(evidence)
        typed = f"{text.shown(by)}, {text.moment(at or '')}" if by else ""
        return Entry(
            path=path, anchor=path.strip("/").replace("/", "-"), text=sentence, lead=text.capital(lead), rule=rule,
            time=words[0].time if words else None, words=words, typed=typed, notes=notes, figure=shown,
            editable=editable,
        )  # fmt: skip

    def remarks(self, key: str) -> Section:
        rows: tuple[Remark, ...] = getattr(self.report, key)
        entries = tuple(
            self.entry(f"/{key}/{n}", text.capital(text.shown(r.text)), r.evidence, r.entered_by, r.entered_at,
                       lead=self.lead(r.status), rule=_RULES.get(r.status, ""))
            for n, r in enumerate(rows)
        )  # fmt: skip
        return Section(key=key, heading=self.wording.label(key), entries=entries)

    def lead(self, status: str) -> str:
        return "" if status == "done" else self.wording.word("step_status", status)

    def steps(self) -> Section:
        entries, visit = [], 1
        for n, step in enumerate(self.report.steps):
            entries.append(self.step(n, step, visit))
            visit = step.visit
        return Section(key="steps", heading=self.wording.label("steps"), entries=tuple(entries))

    def step(self, place: int, step: Step, visit: int) -> Entry:
        told = step.status in ("narrated", "planned", "advised", "not_done")
        leads = [f"{self.wording.label('visit')} {step.visit}"] if step.visit != visit else []
        leads += [self.lead(step.status)] if step.status != "done" else []
        return self.entry(f"/steps/{place}", step_sentence(step, self.wording, instruction=told), step.evidence,
                          step.entered_by, step.entered_at, lead=". ".join(map(text.capital, leads)),
                          rule=_RULES.get(step.status, ""))  # fmt: skip

    def readings(self) -> Section:
        entries = tuple(self.reading(n, reading) for n, reading in enumerate(self.report.readings))
        return Section(key="readings", heading=self.wording.label("audit_readings"), entries=entries)

    def reading(self, place: int, reading: Reading) -> Entry:
        w, verdict = self.wording, reading.verdict
        stage = w.word("stage", reading.stage or "process")
        limit = limit_words(reading, w)
        judged = w.word("verdict", verdict.result) + (f" ({w.label('limit').lower()} {limit})" if limit else "")
        told_by_reason = verdict.reason and text.shown(verdict.reason).casefold().startswith(judged.casefold())
        notes = [] if told_by_reason else [text.capital(judged)]
        notes += [f"{w.label('doubt')}: {text.shown(reading.doubt)}"] if reading.doubt else []
        notes += [text.shown(verdict.reason)] if verdict.reason else []
        notes += [f"{w.label('worked')}: {text.shown(verdict.worked)}"] if verdict.worked else []
        notes += [f"{w.label('source')}: {text.shown(verdict.source)}"] if verdict.source else []
        rule = {"suspect": "unclear", "outside": "contradicted"}.get(verdict.result, "")
        return self.entry(f"/readings/{place}", f"{reading_name(reading, w)}, {stage}", reading.evidence,
                          reading.entered_by, reading.entered_at, rule=rule, notes=tuple(notes),
                          shown=figure(reading, w))  # fmt: skip

    def parts(self) -> Section:
        entries = []
        for n, part in enumerate(self.report.parts_used):
            count = "" if part.quantity is None else f"{text.number(part.quantity)}{text.NO_BREAK}× "
            number = f", {text.shown(part.part_number)}" if part.part_number else ""
            entries.append(self.entry(f"/parts_used/{n}", count + text.shown(part.part) + number, part.evidence,
                                      part.entered_by, part.entered_at))  # fmt: skip
        return Section(key="parts_used", heading=self.wording.label("parts"), entries=tuple(entries))

    def notes(self) -> Section:
        entries = tuple(
            self.entry(f"/notes/{n}", note_line(note, self.context).text, note.evidence, None, None,
                       lead=self.wording.word("note", note.kind))
            for n, note in enumerate(self.report.notes)
        )  # fmt: skip
        return Section(key="notes", heading=self.wording.label("notes"), entries=entries)

    def claims(self) -> Section:
        entries = []
        for n, claim in enumerate(self.report.claims):
            said = text.capital(text.shown(claim.claim).replace("-", " ").replace("_", " "))
            about = f" ({text.shown(claim.about)})" if claim.about else ""
            entries.append(self.entry(f"/claims/{n}", said + about, claim.evidence, None, None,
                                      lead=self.lead(claim.status), rule=_RULES.get(claim.status, ""),
                                      editable=False))  # fmt: skip
        return Section(key="claims", heading=self.wording.label("claims"), entries=tuple(entries), addable=False)

    def ledger(self) -> Section:
        entries = tuple(self.item(n, item) for n, item in enumerate(self.report.ledger.items))
        return Section(key="ledger", heading=self.wording.label("ledger"), entries=entries, addable=False)

    def item(self, place: int, item: LedgerItem) -> Entry:
        w = self.wording
        of = w.sentence("of_holds", holds=text.shown(item.holds)) if item.holds else ""
        out, back = text.number(item.count_out), text.number(item.count_in)
        counts = f"{w.label('out').lower()} {out}, {w.label('back').lower()} {back}"
        notes = [text.shown(item.orientation)] if item.orientation else []
        notes += [text.shown(entry.reason) for entry in self.report.ledger.open if entry.id == item.id]
        notes += [w.sentence("explained", text=text.shown(item.explained))] if item.explained else []
        state = w.word("item_state", item.state)
        return self.entry(f"/ledger/items/{place}", f"{text.capital(text.shown(item.part))}{of}: {counts}",
                          (*item.out_evidence, *item.in_evidence), None, None,
                          lead=state if item.state == "open" else "", rule="missing" if item.state == "open" else "",
                          notes=tuple(text.capital(note) for note in notes))  # fmt: skip

    def check(self, check: Check, overrides: Mapping[str, Override], questions: Sequence[Question]) -> CheckLine:
        w = self.wording
        return CheckLine(
            id=check.id, anchor=f"check-{check.id}", title=text.shown(check.title), state=check.state,
            state_word=w.word("state", check.state), severity=check.severity,
            severity_word=w.word("severity", check.severity), reason=text.shown(check.reason),
            reference=text.shown(check.reference or ""), words=self.words(check.evidence),
            override=overrides.get(check.id), questions=tuple(q for q in questions if q.check_id == check.id),
        )  # fmt: skip

    def segments(self) -> tuple[Segment, ...]:
        least = self.wording.limits["doubtful_below"]
        rows = []
        for s in self.report.transcript.segments:
            words = tuple(
                SpokenWord(text=text.shown(w.word), doubtful=w.probability < least or w.alternative is not None,
                           alternative=text.shown(w.alternative or "")) for w in s.words
            ) or (SpokenWord(text=text.shown(s.text), doubtful=False, alternative=""),)  # fmt: skip
            flags = text.capital(", ".join(self.wording.word("flag", flag) for flag in s.flags))
            heard = text.shown(s.heard) if s.heard.strip() != s.text.strip() else ""
            rows.append(Segment(id=s.id, time=self.sounds.time(self.context, s.recording, s.start, s.end),
                                words=words, heard=heard, flags=flags))  # fmt: skip
        return tuple(rows)

    def changes(self) -> tuple[str, ...]:
        lines = []
        for change in self.report.review.changes:
            before, after = (_value(value) for value in (change.before, change.after))
            place = self.places.get(change.path, text.shown(change.path))
            after = {LET_PASS: say("change", "let_pass"), LIFTED: say("change", "lifted")}.get(str(change.after), after)
            before = say("change", "let_pass") if change.before == LET_PASS else before
            why = f" ({text.shown(change.why)})" if change.why else ""
            lines.append(f"{text.shown(change.who)}, {text.moment(change.when)}: {place}: "
                         f"{before} → {after}{why}")  # fmt: skip
        return tuple(lines)


def _value(value: object) -> str:
    """A value of a change in few words: an entry by its text."""
    if value is None:
        return "–"
    if isinstance(value, Mapping):
        told = value.get("text") or value.get("value") or value.get("word")
        parts = [value.get(key) for key in ("action", "part", "quantity", "subject", "unit")]
        return text.shown(str(told)) if isinstance(told, str) else text.shown(
            " ".join(str(part) for part in (*parts, told) if part is not None) or "–")  # fmt: skip
    return text.shown(str(value))[:300]


def record_of(
    report: Report,
    wording: Wording,
    sounds: Sounds,
    *,
    overrides: Sequence[Override] = (),
    questions: Sequence[Question] = (),
) -> Record:
    """The record of a report. Raises TemplateError where the wording lacks a text."""
    make = _Maker(report, wording, sounds)
    by_check = {o.check_id: o for o in overrides if o.lifted_at is None}
    applying = [c for c in report.checks if c.state != "not_applicable"]
    order = sorted(applying, key=lambda c: (c.state == "confirmed", c.severity != "stop"))
    checks = tuple(make.check(check, by_check, questions) for check in order)
    makers: tuple[Callable[[], Section], ...] = (make.parts, make.readings, make.steps, make.ledger, make.claims,
                                                 make.notes)  # fmt: skip
    signed = ""
    if report.review.signed_by:
        when = text.moment(report.review.signed_at or "")
        signed = wording.sentence("signed_by", who=text.shown(report.review.signed_by), when=when)
    return Record(
        facts=job_facts(report.job, wording),
        status=report.status,
        status_word=status_word(report, wording),
        opening=open_paragraph(report, wording),
        checks=checks,
        not_applicable="; ".join(text.shown(c.title) for c in report.checks if c.state == "not_applicable"),
        sections=(*(make.remarks(key) for key in REMARKS), *(one() for one in makers)),
        strips=strips(pairs(report.readings, wording), wording),
        segments=make.segments(),
        doubts=count_doubts(report, wording),
        changes=make.changes(),
        signed=signed,
        legend=tuple(f"{letter} {text.shown(name)}" for name, letter in make.context.letters.items()),
        open_checks=tuple(check for check in checks if check.open),
    )


def count_doubts(report: Report, wording: Wording) -> int:
    """How many words are doubtful: improbable, or heard otherwise by a second look."""
    least = wording.limits["doubtful_below"]
    inside = doubtful_segments(report, wording)
    return sum(
        w.probability < least or w.alternative is not None
        for s in report.transcript.segments
        if s.id in inside
        for w in s.words
    )
