"""Entries that are counted from the ledger: what came off must be said to be back."""

from __future__ import annotations

from collections.abc import Iterable

from voicereport.checks.events import Event, Names, beside
from voicereport.checks.order import Scene, Verdict, poorly_heard, same_part, worst
from voicereport.report import Evidence, ItemKind, LedgerItem, Report

_ACTED = ("done", "narrated")
_LAID = frozenset({"refit", "reseal", "tighten"})


def judge(scene: Scene, report: Report, names: Names) -> Verdict | None:
    """The verdict over the ledger's items of the entry's kinds and classes; None where there are none."""
    items = [i for i in report.ledger.items if _falls_under(scene, i.part, i.kind, names)]
    if not items:
        return None
    verdicts = [_counted(scene, i) if scene.entry.counted else _item(scene, i, report) for i in items]
    bad = worst(verdicts)
    if bad is None or bad.state != "confirmed":
        return bad
    return Verdict(state="confirmed", evidence=tuple(e for v in verdicts for e in v.evidence))


def uncalled(scene: Scene, names: Names) -> Verdict | None:
    """Confirmed where things are plainly said to be back that nobody was heard to take off; else None."""
    said = [e for e in scene.events if e.kind == "step" and e.action in scene.entry.restored_by
            and e.status != "retracted" and _falls_under(scene, e.name, _kind(scene, e, names), names)]  # fmt: skip
    if scene.entry.severity == "stop":  # a new one of what nobody took off asserts nothing of what is off
        said = [e for e in said if e.action != "replace"]
    firm = [e for e in said if e.status == "done" and not poorly_heard(e, scene.book.least_confidence)]
    open_ = [e for e in said if e not in firm and not any(same_part(e.name, f.name) and f.at > e.at for f in firm)]
    if not firm or open_:  # "did you put the plug back?" is answered by "I plugged it in"
        return None
    wanted = scene.entry.needs_claim
    claims = [e for e in scene.events if wanted and scene.has(e, wanted) and e.status != "retracted"]
    asserted = [c.at for c in claims if c.status == "done"]
    if wanted and (not asserted or any(c.status != "done" and c.at > min(asserted) for c in claims)):
        return None  # what is doubted before ("the wire was taped to the duct") may be asserted then
    if wanted and not any(beside(c, f, scene.book.beside_s) for c in claims for f in firm):
        return None
    return Verdict(state="confirmed", evidence=tuple(e for f in firm for e in f.evidence))


def _kind(scene: Scene, event: Event, names: Names) -> ItemKind:
    """What a step puts back: a lead that is laid back where it ran is wiring, what is plugged in a connector."""
    kind = names.kind_of(event.name)
    if event.action == "reconnect" and kind in ("part", "wiring"):
        return "connector"  # as in the ledger: "brown on, blue on"
    if kind != "connector" or event.action not in _LAID:
        return kind
    beside_it = [e for e in scene.events if e.status == "done" and e.segments() & event.segments()]
    wirings = [entry for entry in scene.book.entries if "wiring" in entry.kinds]
    return "wiring" if any(scene.has(e, entry.needs_claim) for entry in wirings for e in beside_it) else kind


def _falls_under(scene: Scene, part: str, kind: ItemKind, names: Names) -> bool:
    """Whether the entry asks about a thing of that name and kind."""
    classes = names.classes_of(part)
    entry = scene.entry
    if entry.not_classes & classes:
        return False
    return kind in entry.kinds or bool(entry.classes & classes)


def label(item: LedgerItem) -> str:
    """The item by name: a fastener says what it holds."""
    return f"{item.holds} {item.part}" if item.holds else item.part


def _counted(scene: Scene, item: LedgerItem) -> Verdict:
    """A fastener: as many in as out, or the difference explained."""
    what = f"{label(item)}: {item.count_out:g} out, {item.count_in:g} in"
    if item.explained or (item.count_in == item.count_out and item.state != "open"):
        return Verdict(state="confirmed", what=what, evidence=(*item.out_evidence, *item.in_evidence))
    if item.count_in > item.count_out:
        return Verdict(state="unclear", what=what, how="half", evidence=item.in_evidence)
    return _lacking(scene, item, what)


def _item(scene: Scene, item: LedgerItem, report: Report) -> Verdict:
    what = label(item)
    if item.state == "open":
        if item.count_out > 1:
            what = f"{what}: {item.count_out:g} out, {item.count_in:g} in"
        return _lacking(scene, item, what)
    if scene.entry.orientation and (note := _turned(scene, item, report)):
        return note
    if scene.entry.severity != "stop":
        return Verdict(state="confirmed", what=what, evidence=item.in_evidence)
    return _asserted(scene, item, what)


def _steps(scene: Scene, item: LedgerItem) -> list[Event]:
    """The restoring steps that name the item."""
    return [e for e in scene.events if e.kind == "step" and e.action in scene.entry.restored_by
            and same_part(e.name, item.part)]  # fmt: skip


def _lacking(scene: Scene, item: LedgerItem, what: str) -> Verdict:
    """An item that is not back: denied, spoken of, or not mentioned."""
    after = _start(item.out_evidence)
    steps = [
        e for e in scene.events if e.kind == "step" and e.action in scene.entry.restored_by and e.status not in _ACTED
    ]
    named = [e for e in steps if same_part(e.name, item.part) and _not_before(e, after)]
    also = [
        e
        for e in scene.events
        if e.status not in _ACTED and scene.has(e, scene.entry.also_by) and _not_before(e, after)
    ]
    for state, statuses in (("contradicted", ("not_done",)), ("unclear", ("unclear", "planned", "advised"))):
        for event in (*named, *also):
            if event.status in statuses:
                return Verdict(state=state, what=what, how=event.status, evidence=event.evidence)  # type: ignore[arg-type]
    return Verdict(state="missing", what=what, evidence=item.out_evidence)


def _asserted(scene: Scene, item: LedgerItem, what: str) -> Verdict:
    """A stop-level item that is back: only by words that assert it of this item."""
    back = [e for e in scene.events if e.kind == "step" and e.action in scene.entry.restored_by and e.status in _ACTED
            and _overlap(e.evidence, item.in_evidence)]  # fmt: skip
    own = [e for e in back if e.name not in scene.book.blanket] or [
        e for e in _steps(scene, item) if e.status in _ACTED
    ]
    firm = [e for e in own if e.status == "done" and not poorly_heard(e, scene.book.least_confidence)]
    uncovered = [e for e in item.in_evidence if not any(_overlap(f.evidence, (e,)) for f in firm)]
    later = [e for e in _steps(scene, item) if e.status in ("not_done", "unclear") and firm and e.at > firm[-1].at]
    if later:
        state = "contradicted" if later[-1].status == "not_done" else "unclear"
        return Verdict(state=state, what=what, how=later[-1].status, evidence=later[-1].evidence)  # type: ignore[arg-type]
    if not firm or (uncovered and any(_overlap(b.evidence, uncovered) for b in back if b not in firm)):
        how = own[-1].status if own and own[-1].status != "done" else "poorly" if own else "blanket"
        return Verdict(state="unclear", what=what, how=how, evidence=item.in_evidence)
    if scene.entry.needs_claim:
        return _with_claim(scene, item, what, firm)
    return Verdict(state="confirmed", what=what, evidence=item.in_evidence or firm[-1].evidence)


def _with_claim(scene: Scene, item: LedgerItem, what: str, firm: list[Event]) -> Verdict:
    """Back, and said to be as it should be: a claim of the entry stands in the same words or right beside."""
    said = [e for e in scene.events if scene.has(e, scene.entry.needs_claim) and e.status != "retracted"]
    claims = [e for e in said if any(beside(e, f, scene.book.beside_s) for f in firm)]
    asserting = next((c for c in claims if c.status == "done"), None)
    if asserting is not None and claims[-1].status not in ("unclear", "not_done"):  # the last word counts
        return Verdict(state="confirmed", what=what, evidence=item.in_evidence or asserting.evidence)
    how = claims[-1].status if claims else "half"
    state = "contradicted" if how == "not_done" else "unclear"
    return Verdict(state=state, what=what, how=how, evidence=item.in_evidence)  # type: ignore[arg-type]


def _overlap(one: Iterable[Evidence], other: Iterable[Evidence]) -> bool:
    others = tuple(other)
    return any(
        a == b or (a.recording == b.recording and a.start < b.end and b.start < a.end) for a in one for b in others
    )


def _start(evidence: tuple[Evidence, ...]) -> Evidence | None:
    return evidence[0] if evidence else None


def _not_before(event: Event, first: Evidence | None) -> bool:
    if first is None or not event.evidence or event.evidence[0].recording != first.recording:
        return True
    return event.evidence[0].start >= first.start


def _turned(scene: Scene, item: LedgerItem, report: Report) -> Verdict | None:
    """Contradicted where the place noted at removal and the one said at the refit exclude each other."""
    notes = [n for n in report.notes if n.kind == "orientation" and same_part(n.about, item.part)]
    back = _start(item.in_evidence)
    if back is None:
        return None
    before = (
        " ".join([item.orientation or "", *(n.text for n in notes if not _noted_after(n.evidence, back))])
        .lower()
        .split()
    )
    after = [n for n in notes if _noted_after(n.evidence, back)]
    texts = " ".join(n.text for n in after).lower().replace(",", " ").split()
    for group in scene.book.opposites:
        was = [side for side in group if side & set(before)]
        now = [side for side in group if side & set(texts)]
        if was and now and not any(side in now for side in was):
            return Verdict(state="contradicted", what=label(item), how="turned", evidence=after[0].evidence)
    return None


def _noted_after(evidence: tuple[Evidence, ...], back: Evidence) -> bool:
    return bool(evidence) and evidence[0].recording == back.recording and evidence[0].end >= back.start
