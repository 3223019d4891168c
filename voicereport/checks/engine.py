"""The checks of a report: each entry of the trade pack, its state, and one sentence that says why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

from voicereport.checks import order, restored
from voicereport.checks.events import Event, events_of
from voicereport.checks.order import Scene, Verdict
from voicereport.report import Check, Evidence, JobStatus, Remark, Report, Said
from voicereport.trades import Trade
from voicereport.trades.entries import Ask, Entry, Extra

Profile = Literal["US", "UK"]


def check_report(report: Report, trade: Trade, *, profile: Profile = "US") -> Report:
    """A copy of `report` with its checks stated and its status set.

    Every entry of the pack is there, those that this job does not call for as not_applicable, unless the words
    assert them all the same. profile: whose rules hold where they differ. complete = all that apply are confirmed;
    blocked = a stop-level one is not.
    """
    events = events_of(report, trade.words)
    checks = []
    for entry in trade.entries.entries:
        scene = Scene(entry=entry, book=trade.entries, events=events, items=report.ledger.items)
        checks.append(_check(scene, _judge(scene, report, trade) or _uncalled(scene, trade), profile))
    checks = [_with_limits(check, report, trade) for check in checks]
    return report.model_copy(update={"checks": tuple(checks), "status": status_of(checks)})


def check_said(report: Report, trade: Trade, *, segments: frozenset[str], profile: Profile = "US") -> tuple[Check, ...]:
    """The checks that the words of `segments` (ids) speak to, each in the state that these words lead to.

    For single sentences: nothing is asked of what the job called for, only what was said. What stands in other
    segments of the report is context.
    """
    events = events_of(report, trade.words)
    inside = [e for e in events if any(segment in segments for _, segment in e.segments())]
    checks = []
    for entry in trade.entries.entries:
        scene = Scene(entry=entry, book=trade.entries, events=events, items=report.ledger.items)
        verdict = _said(scene, inside, report, trade, segments)
        if verdict is not None:
            checks.append(_check(scene, verdict, profile))
    return tuple(checks)


def _with_limits(check: Check, report: Report, trade: Trade) -> Check:
    """A confirmed check whose reading lies outside its limit says so: it is recorded, and it is not good."""
    entry = next(e for e in trade.entries.entries if e.id == check.id)
    note = entry.reasons.get("outside")
    wanted = {q for group in entry.confirmed_by for term in group for q in term.quantities}
    bad = [r for r in report.readings if r.verdict.result == "outside" and r.quantity in wanted]
    if check.state != "confirmed" or note is None or not any(set(r.evidence) & set(check.evidence) for r in bad):
        return check
    return check.model_copy(update={"reason": f"{check.reason} {note}"})


def status_of(checks: Iterable[Check]) -> JobStatus:
    """complete, incomplete (a warning-level check is lacking) or blocked (a stop-level one is)."""
    lacking = {c.severity for c in checks if c.state not in ("confirmed", "not_applicable")}
    return "blocked" if "stop" in lacking else "incomplete" if lacking else "complete"


def _judge(scene: Scene, report: Report, trade: Trade) -> Verdict | None:
    if scene.entry.rule == "ledger":
        return restored.judge(scene, report, trade.words)
    if scene.entry.rule == "spoken":
        return _spoken(scene.entry, report)
    return order.judge(scene)


def _uncalled(scene: Scene, trade: Trade) -> Verdict | None:
    """What is plainly asserted stands confirmed, too, where nothing was heard that calls for it."""
    if not scene.entry.asserted_counts:
        return None
    if scene.entry.rule == "ledger":
        return restored.uncalled(scene, trade.words)
    verdict = order.said(scene, scene.events)
    return verdict if verdict is not None and verdict.state == "confirmed" else None


def _said(scene: Scene, inside: list[Event], report: Report, trade: Trade, segments: frozenset[str]) -> Verdict | None:
    if scene.entry.rule == "spoken":
        verdict = _spoken(scene.entry, report)
        return verdict if any(e.segment in segments for e in verdict.evidence) else None
    if scene.entry.rule == "ledger":
        touched = [e for e in inside if e.kind == "step" and e.action in scene.entry.restored_by]
        if not touched:
            return None
        return restored.judge(scene, report, trade.words) or _uncalled(scene, trade)
    return order.said(scene, inside)


def _check(scene: Scene, verdict: Verdict | None, profile: Profile) -> Check:
    entry = scene.entry
    reference = entry.references.get(profile) or None
    if verdict is None:
        reason = entry.reasons.get("not_applicable", scene.book.applied)
        return Check(id=entry.id, title=entry.title, severity=entry.severity, state="not_applicable", reason=reason,
                     reference=reference)  # fmt: skip
    for extra in entry.extras:
        verdict = _with_extra(scene, verdict, extra, profile)
    template = entry.reasons.get(verdict.state, entry.reasons["unclear"])
    how = scene.book.how.get(verdict.how, verdict.how)
    quotes = "; ".join(dict.fromkeys(e.quote.rstrip(" .,;:!?") for e in verdict.evidence))
    reason = template.format(what=verdict.what, how=how, items=verdict.what, said=quotes)
    reason = verdict.note if verdict.instead else f"{reason} {verdict.note}".strip()
    return Check(id=entry.id, title=entry.title, severity=entry.severity, state=verdict.state, reason=reason,
                 evidence=tuple(dict.fromkeys(verdict.evidence)), reference=reference)  # fmt: skip


def _with_extra(scene: Scene, verdict: Verdict, extra: Extra, profile: Profile) -> Verdict:
    """The verdict with what an extra says besides: a note, and a worse state where the extra has one."""
    if profile not in extra.profiles or not (extra.always or verdict.state == "confirmed"):
        return verdict
    called = scene.acted(extra.when)
    if (extra.when and not called) or (extra.only_if and not scene.acted(extra.only_if)) or scene.acted(extra.unless):
        return verdict
    lacking = [ask for ask in extra.asks if not _met(scene, ask)]
    if extra.asks and not lacking:
        return verdict
    text = extra.text.format(lacking=", ".join(ask.text for ask in lacking))
    note = f"{verdict.note} {text}".strip()
    if extra.state is None or order.WORST.index(extra.state) >= order.WORST.index(verdict.state):
        return replace(verdict, note=note)
    evidence = (*verdict.evidence, *(e for event in called for e in event.evidence))
    return replace(verdict, state=extra.state, evidence=evidence, note=note, instead=True)


def _met(scene: Scene, ask: Ask) -> bool:
    """Whether what is asked for was done, as often as asked, after and before what it must follow and precede.

    Done it was, or said in a status that the condition names. Where the entry lasts for a visit, what comes before or
    after something is of the same visit.
    """
    found = [e for e in scene.events if not e.denies and scene.has(e, ask.needs)]
    found = [e for e in found if e.status == "done" or scene.names_status(e, ask.needs)]
    lasts = scene.entry.rule == "before" and scene.entry.lasts == "visit"

    def near(event: Event, bound: Event) -> bool:
        return not lasts or event.visit == bound.visit

    if after := scene.acted(ask.after_last):
        found = [e for e in found if e.at[:3] >= after[-1].at[:3] and near(e, after[-1])]
    if first := scene.acted(ask.before_first):
        found = [e for e in found if e.at[:3] <= first[0].at[:3] and near(e, first[0])]
    if last := scene.acted(ask.before_last):
        found = [e for e in found if e.at[:3] <= last[-1].at[:3] and near(e, last[-1])]
    return len(found) >= ask.times


def _spoken(entry: Entry, report: Report) -> Verdict:
    """Whether the entry's fields were spoken or typed: all, some (unclear) or none (missing)."""
    found = [_field(name, report) for name in entry.fields]
    evidence = tuple(e for f in found for e in f.evidence)
    states = {f.state for f in found}
    if states == {"confirmed"}:
        return Verdict(state="confirmed", evidence=evidence)
    lacking = next(n for n, f in zip(entry.fields, found, strict=True) if f.state != "confirmed")
    if len(states) > 1 and "contradicted" not in states:
        return Verdict(state="unclear", what=lacking, how="half", evidence=evidence)
    first = order.worst(found) or Verdict(state="missing")
    return Verdict(state=first.state, what=lacking, how=first.how, evidence=evidence)


def _field(name: str, report: Report) -> Verdict:
    job = report.job
    remarks = {"complaint": report.complaint, "cause": report.cause}
    if name in remarks:
        return _remarks(remarks[name])
    values: dict[str, Said[str] | Said[float] | None] = {
        "model": job.appliance.model, "serial": job.appliance.serial, "labour": job.labour_min,
    }  # fmt: skip
    value = values[name]
    return Verdict(state="missing") if value is None else Verdict(state="confirmed", evidence=value.evidence)


def _remarks(remarks: tuple[Remark, ...]) -> Verdict:
    """The best of what was said: one firm statement is enough, a guess is unclear."""
    kept = [r for r in remarks if r.status != "retracted"]
    evidence: tuple[Evidence, ...] = tuple(e for r in kept for e in r.evidence)
    if any(r.status in ("done", "narrated") for r in kept):
        return Verdict(state="confirmed", evidence=evidence)
    if not kept:
        return Verdict(state="missing")
    state: Literal["contradicted", "unclear"] = (
        "contradicted" if all(r.status == "not_done" for r in kept) else "unclear"
    )
    return Verdict(state=state, how=kept[-1].status, evidence=evidence)
