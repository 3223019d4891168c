"""Entries that are confirmed by words at the right time: before what they guard, or after what they follow."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from voicereport.checks.events import Event, any_matches
from voicereport.report import CheckState, Evidence, LedgerItem
from voicereport.trades.entries import ANY_BUT_RETRACTED, Entry, EntryBook, Term

Stance = Literal["yes", "no", "doubt", "weak"]
WORST: tuple[CheckState, ...] = ("contradicted", "missing", "out_of_order", "unclear", "confirmed")
_ACTED = frozenset({"done", "narrated"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Verdict:
    """The state of one thing under a check, and the words that it rests on."""

    state: CheckState
    what: str = ""  #: the thing that it is about
    how: str = ""  #: the status in which it was said
    evidence: tuple[Evidence, ...] = ()
    note: str = ""  #: a sentence to add to the reason
    instead: bool = False  #: the note is the reason


def worst(verdicts: Iterable[Verdict]) -> Verdict | None:
    """The worst of them in the contract's order, the earliest where several are as bad; None of none."""
    return min(verdicts, key=lambda v: WORST.index(v.state), default=None)


@dataclass(frozen=True, kw_only=True, slots=True)
class Scene:
    """One entry, and all that was said."""

    entry: Entry
    book: EntryBook
    events: tuple[Event, ...]
    items: tuple[LedgerItem, ...] = ()  #: of the ledger, by which a cover is back that went on under another name
    #: what `has` found, by the places of event and terms in memory: each is asked for at every call of the entry. Both
    #: are kept with it, so that no other can take their place.
    known: dict[tuple[int, int], tuple[Event, object, bool]] = field(default_factory=dict, compare=False, repr=False)

    def has(self, event: Event, terms: Sequence[Term]) -> bool:
        key = (id(event), id(terms))
        if key not in self.known:
            found = any_matches(event, terms, self.events, beside_s=self.book.beside_s)
            self.known[key] = (event, terms, found)
        return self.known[key][2]

    def acted(self, terms: tuple[Term, ...]) -> list[Event]:
        """Events of `terms`: steps that were done or told; other things whatever their status, but for denials.

        A term that names statuses takes those instead.
        """
        return [e for e in self.events if self.has(e, terms) and (self.names_status(e, terms) or _moves(e))]

    def names_status(self, event: Event, terms: tuple[Term, ...]) -> bool:
        named = [t for t in terms if t.statuses]
        found = any_matches(event, named, self.events, beside_s=self.book.beside_s)
        return found and event.status != "retracted"

    def stance(self, event: Event, *, half: bool = False) -> Stance | None:
        """What the event says to this entry; None = nothing. half: it would be only half of what is asked for."""
        if event.status not in ANY_BUT_RETRACTED:
            return None
        if event.status == "not_done" or event.denies:
            return "no"
        if event.status == "unclear" or not event.sound:
            return "doubt"
        if event.status in ("planned", "advised") or half:
            return "weak"
        stop = self.entry.severity == "stop"
        if event.status == "narrated":
            return "weak" if stop else "yes"
        return "doubt" if stop and poorly_heard(event, self.book.least_confidence) else "yes"


def poorly_heard(event: Event, least: float) -> bool:
    """True where none of the event's words was heard with confidence `least` or more. Typed entries are not heard."""
    return bool(event.evidence) and max(e.confidence for e in event.evidence) < least


def _moves(event: Event) -> bool:
    return event.status in _ACTED if event.kind == "step" else event.status not in ("retracted", "not_done")


def judge(scene: Scene) -> Verdict | None:
    """The verdict on an entry of the rules before and after; None where this job does not call for it."""
    entry = scene.entry
    if entry.only_if and not scene.acted(entry.only_if):
        return None
    calls = scene.acted(entry.applies_when)
    if entry.unless and (off := scene.acted(entry.unless)) and (not calls or off[0].at < calls[0].at):
        return None
    if entry.only_after:
        calls = [c for c in calls if any(o.at < c.at and o.visit == c.visit for o in scene.acted(entry.only_after))]
    if entry.rule == "before":
        verdict = worst(_before(scene, call) for call in calls)
    else:
        verdict = _after(scene) if calls or not entry.applies_when else None
    if verdict is None and entry.said_applies:
        verdict = said(scene, scene.events)
        return verdict if verdict and verdict.state == "confirmed" else None
    return verdict


def _combined(parts: Sequence[Verdict]) -> Verdict:
    """The verdict over the groups that must all be confirmed: one said and another not is half, so unclear."""
    if len({p.state for p in parts} & {"confirmed", "missing"}) == 2 and not any(
        p.state == "contradicted" for p in parts
    ):
        said_parts = [p for p in parts if p.evidence]
        return Verdict(state="unclear", what=parts[0].what, how="half",
                       evidence=tuple(e for p in said_parts for e in p.evidence))  # fmt: skip
    bad = min(parts, key=lambda p: WORST.index(p.state))
    if bad.state != "confirmed":
        return bad
    evidence = tuple(e for p in parts for e in p.evidence)
    return Verdict(state="confirmed", what=bad.what, how=bad.how, evidence=evidence)


def _before(scene: Scene, call: Event) -> Verdict:
    """Whether everything asked for had been said when `call` came, and still held."""
    entry = scene.entry
    scope = [e for e in scene.events if entry.lasts == "job" or e.visit == call.visit]
    undone = [e.at for e in scope if scene.has(e, entry.undone_by) and e.status in _ACTED]
    since = max((at for at in undone if at < call.at), default=None)
    until = min((at for at in undone if at > call.at), default=None)
    window = [e for e in scope if (since is None or e.at > since) and (until is None or e.at < until)]
    parts = [_group_before(scene, group, window, call) for group in entry.confirmed_by]
    return _combined(parts)


def _group_before(scene: Scene, group: tuple[Term, ...], window: list[Event], call: Event) -> Verdict:
    spoken = [(e, s) for e in window if (s := _says(scene, e, group)) is not None]
    held: tuple[Event, Stance] | None = None
    later_yes: Event | None = None
    for event, stance in spoken:
        if event.at < call.at:
            held = _latest(held, event, stance)
        elif held is None or held[1] != "yes":
            if stance == "yes" and later_yes is None:
                later_yes = event
            elif later_yes is None and (held is None or held[1] == "weak"):
                held = _latest(held, event, stance)
        elif scene.entry.severity == "stop" and stance in ("no", "doubt", "yes"):
            held = _later(held, event, stance)
    if later_yes is not None and (held is None or held[1] != "no"):
        return Verdict(state="out_of_order", what=call.name, how=later_yes.status, evidence=later_yes.evidence)
    return _verdict(held, call.name)


def _says(scene: Scene, event: Event, group: tuple[Term, ...]) -> Stance | None:
    if scene.has(event, group):
        return scene.stance(event)
    if event.status == "unclear" and scene.entry.severity == "stop" and scene.has(event, scene.entry.undone_by):
        return "doubt"  # "somebody says he's put it back on"
    return scene.stance(event, half=True) if scene.has(event, scene.entry.half_by) else None


def _latest(held: tuple[Event, Stance] | None, event: Event, stance: Stance) -> tuple[Event, Stance]:
    """What holds after one more event: the last word counts, and a plan or advice takes nothing back."""
    if held is not None and stance == "weak" and held[1] != "weak":
        return held
    return event, stance


def _later(held: tuple[Event, Stance], event: Event, stance: Stance) -> tuple[Event, Stance]:
    """Words after the guarded act: they can take an assertion away, and a new assertion cannot bring it back late."""
    return held if stance == "yes" else (event, stance)


def _verdict(held: tuple[Event, Stance] | None, what: str) -> Verdict:
    if held is None:
        return Verdict(state="missing", what=what)
    event, stance = held
    states: dict[Stance, CheckState] = {"yes": "confirmed", "no": "contradicted", "doubt": "unclear", "weak": "unclear"}
    how = event.status if stance != "doubt" or event.status != "done" else "poorly"
    if stance == "weak" and event.status == "done":
        how = "half"
    return Verdict(
        state=states[stance], what=event.name or what if stance == "no" else what, how=how, evidence=event.evidence
    )


def _after(scene: Scene) -> Verdict:
    """Whether everything asked for was said after the last event that it must follow, and before the next bound."""
    entry = scene.entry
    anchors = scene.acted(entry.after_last)
    since = anchors[-1].at if anchors else None
    bounds = [e.at for e in scene.acted(entry.before_first) if since is None or e.at > since]
    window = [e for e in scene.events if (since is None or e.at > since) and (not bounds or e.at < bounds[0])]
    if entry.not_while_open:
        window = list(scene.events) if since is None else window
    what = anchors[-1].name if anchors else ""
    parts = []
    for number, group in enumerate(entry.confirmed_by):
        inside = _outcomes(scene, window) if entry.outcome_after and number else window
        found = _fold(scene, group, inside)
        if found is None and bounds:
            late = [e for e in scene.events if e.at > bounds[0] and _says(scene, e, group) == "yes"]
            if late:
                parts.append(Verdict(state="out_of_order", what=what, how=late[0].status, evidence=late[0].evidence))
                continue
        if found is None and since is not None and entry.severity == "stop":
            early = [e for e in scene.events if e.at < since and scene.has(e, group) and scene.stance(e) == "yes"]
            if early and not entry.before_first and _same_kind(early[-1], scene):
                parts.append(Verdict(state="out_of_order", what=what, how="early", evidence=early[-1].evidence))
                continue
        parts.append(_verdict(found, what))
    verdict = _combined(parts)
    return _while_open(scene, verdict) if entry.not_while_open else verdict


def _same_kind(event: Event, scene: Scene) -> bool:
    """True for an event of the visit in which the last bound fell: an earlier visit's test is nothing out of order."""
    anchors = scene.acted(scene.entry.after_last)
    return bool(anchors) and event.visit == anchors[-1].visit


def _fold(scene: Scene, group: tuple[Term, ...], window: Iterable[Event]) -> tuple[Event, Stance] | None:
    held: tuple[Event, Stance] | None = None
    for event in window:
        stance = _says(scene, event, group)
        if stance is None:
            continue
        to_come = event.status in ("planned", "advised")
        if held is not None and held[1] == "yes" and scene.entry.severity == "stop" and to_come:
            held = (event, stance)  # a test that is still to come leaves something untested
        else:
            held = _latest(held, event, stance)
    return held


def _outcomes(scene: Scene, window: list[Event]) -> list[Event]:
    """The events of `window` from the last test run on, those of its own segment included."""
    runs = [e for e in window if scene.has(e, scene.entry.confirmed_by[0]) and e.status in _ACTED]
    if not runs:
        return window
    first = runs[0]
    return [e for e in window if e.at >= first.at or e.segments() & first.segments()]


def _while_open(scene: Scene, verdict: Verdict) -> Verdict:
    """Out of order where a part of the named classes was off when it was last done in a visit."""
    if verdict.state != "confirmed":
        return verdict
    last: dict[int, Event] = {}
    for event in scene.events:
        if scene.has(event, scene.entry.confirmed_by[0]) and event.status in _ACTED:
            last[event.visit] = event
    for event in last.values():
        off = open_parts(scene, event)
        if off:
            return Verdict(state="out_of_order", what=off[0].name, how=event.status, evidence=event.evidence)
    return verdict


def open_parts(scene: Scene, until: Event) -> list[Event]:
    """The parts of the entry's `not_while_open` classes that were off when `until` came."""
    off: list[Event] = []
    for event in scene.events:
        if event.at >= until.at or event.kind != "step" or event.status not in _ACTED:
            continue
        if event.name in scene.book.blanket and event.action in scene.entry.restored_by:
            off = []
        elif not scene.entry.not_while_open & event.classes:
            continue
        elif event.action in ("remove", "open"):
            off = [o for o in off if not same_part(o.name, event.name)] + [event]
        elif event.action in scene.entry.restored_by:
            matched = [o for o in off if same_part(o.name, event.name)]
            off = [o for o in off if o not in matched]
    return [o for o in off if not _is_back(scene, o, until)]


def _is_back(scene: Scene, off: Event, until: Event) -> bool:
    """Whether the ledger has what came off back before `until`, by whatever name: "lower panel", "back panel"."""
    items = [i for i in scene.items if i.state != "open" and set(i.out_evidence) & set(off.evidence)]
    last = [i.in_evidence[-1] for i in items if i.in_evidence]
    before = [e for e in last if until.evidence and e.recording == until.evidence[0].recording
              and off.evidence[0].start < e.start < until.evidence[0].start]  # fmt: skip
    return bool(items) and len(before) == len(items)


def same_part(one: str, other: str) -> bool:
    """True where the names are the same, or one only says more than the other ("panel", "rear panel")."""
    a, b = set(one.lower().split()), set(other.lower().split())
    return one == other or a <= b or b <= a


def said(scene: Scene, events: Iterable[Event]) -> Verdict | None:
    """What `events` alone say to the entry, whatever the job called for; None where they do not speak to it."""
    inside = list(events)
    if not any(_says(scene, e, g) is not None for e in inside for g in scene.entry.confirmed_by):
        return None
    found = [_fold(scene, group, inside) for group in scene.entry.confirmed_by]
    return _combined([_verdict(f, "") for f in found])
