"""The entries of a trade: what a report must hold, each a check in data, read from entries.toml."""

from __future__ import annotations

import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

from voicereport.report import Action, CheckState, ItemKind, QuantityName, Severity, Stage, StepStatus

Rule = Literal["before", "after", "ledger", "spoken"]
ANY_BUT_RETRACTED: frozenset[str] = frozenset(get_args(StepStatus)) - {"retracted"}
_STATUSES = frozenset(get_args(StepStatus))
_SETS: dict[str, frozenset[str]] = {
    "action": frozenset(get_args(Action)), "beside_action": frozenset(get_args(Action)), "status": _STATUSES,
    "reading": frozenset(get_args(QuantityName)), "stage": frozenset(get_args(Stage)),
    "kinds": frozenset(get_args(ItemKind)),
    "restored_by": frozenset(get_args(Action)),
}  # fmt: skip
_TERM_KEYS = (
    "action", "class", "not_class", "part", "word", "not_word", "status", "claim", "reading", "stage", "at_most",
    "beside_action", "beside_class",
)  # fmt: skip
_TERMS = (
    "applies_when", "only_if", "only_after", "unless", "half_by", "undone_by", "after_last", "before_first", "also_by",
    "needs_claim",
)  # fmt: skip
_KEYS = (
    "id", "title", "severity", "rule", "reference", "references", "said_applies", "asserted_counts", "confirmed_by",
    "lasts",
    "not_while_open", "outcome_after", "kinds", "classes", "not_classes", "restored_by", "counted", "orientation",
    "fields", "reasons", "extras", "examples", "counter_examples", *_TERMS,
)  # fmt: skip
_ASK_KEYS = ("needs", "times", "after_last", "before_first", "before_last")
_REASON_FIELDS = {"what", "how", "items", "said"}
FIELDS = ("complaint", "cause", "model", "serial", "labour")


@dataclass(frozen=True, kw_only=True, slots=True)
class Term:
    """A condition on one event: a step, a claim or a reading. Every set that is not empty must hold."""

    kind: Literal["step", "claim", "reading"]
    actions: frozenset[str] = frozenset()
    classes: frozenset[str] = frozenset()  #: one of them is a class of the part or subject
    not_classes: frozenset[str] = frozenset()
    parts: frozenset[str] = frozenset()  #: whole names
    words: frozenset[str] = frozenset()  #: one of them is a word of the name
    not_words: frozenset[str] = frozenset()
    statuses: frozenset[str] = frozenset()  #: empty = what the place of the term takes
    claims: frozenset[str] = frozenset()
    quantities: frozenset[str] = frozenset()
    stages: frozenset[str] = frozenset()
    at_most: float | None = None  #: highest value, in the reading's own unit
    beside_actions: frozenset[str] = frozenset()  #: such a step stands in the same segment, or close by
    beside_classes: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True, slots=True)
class Ask:
    """One thing that an extra asks for, so often and at the right time. Bounds that nobody spoke of bind nothing."""

    needs: tuple[Term, ...]  #: one of them, done
    times: int = 1
    after_last: tuple[Term, ...] = ()
    before_first: tuple[Term, ...] = ()
    before_last: tuple[Term, ...] = ()
    text: str = ""  #: what it is, for {lacking}


@dataclass(frozen=True, kw_only=True, slots=True)
class Extra:
    """What rules ask for or forbid besides: a note in the reason, or a state that takes a better one away."""

    profiles: frozenset[str]
    when: tuple[Term, ...]  #: empty = always
    only_if: tuple[Term, ...]  #: empty = always; else one of these must have been said too
    unless: tuple[Term, ...]  #: called off where one of these was said
    asks: tuple[Ask, ...]  #: empty = what `when` speaks of is forbidden, or worth a word
    state: CheckState | None  #: None = the text is only added to the reason
    text: str
    always: bool  #: False: only a confirmed check is looked at


@dataclass(frozen=True, kw_only=True, slots=True)
class Example:
    """A fragment of a job, and the state it leads to."""

    events: tuple[str, ...]
    state: CheckState
    profile: Literal["US", "UK"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One required entry. The grammar stands at the head of entries.toml."""

    id: str
    title: str
    severity: Severity
    rule: Rule
    references: Mapping[str, str]  #: by profile
    reasons: Mapping[
        str, str
    ]  #: by state; outside: what is added where the reading that confirms lies outside its limit
    applies_when: tuple[Term, ...] = ()
    said_applies: bool = False
    asserted_counts: bool = False
    only_if: tuple[Term, ...] = ()
    only_after: tuple[Term, ...] = ()
    unless: tuple[Term, ...] = ()
    confirmed_by: tuple[tuple[Term, ...], ...] = ()
    half_by: tuple[Term, ...] = ()
    undone_by: tuple[Term, ...] = ()
    lasts: Literal["visit", "job"] = "visit"
    after_last: tuple[Term, ...] = ()
    before_first: tuple[Term, ...] = ()
    not_while_open: frozenset[str] = frozenset()
    outcome_after: bool = False
    kinds: frozenset[str] = frozenset()
    classes: frozenset[str] = frozenset()
    not_classes: frozenset[str] = frozenset()
    restored_by: frozenset[str] = frozenset()
    also_by: tuple[Term, ...] = ()
    needs_claim: tuple[Term, ...] = ()
    counted: bool = False
    orientation: bool = False
    fields: tuple[str, ...] = ()
    extras: tuple[Extra, ...] = ()
    examples: tuple[Example, ...] = ()
    counter_examples: tuple[Example, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class EntryBook:
    """All of entries.toml."""

    entries: tuple[Entry, ...]
    how: Mapping[str, str]  #: status of a step -> how it was said, as words of a reason
    applied: str  #: reason of a check that does not apply
    blanket: frozenset[str]  #: part names of a statement that puts back everything
    opposites: tuple[tuple[frozenset[str], ...], ...]  #: places that exclude each other
    least_confidence: float  #: below it, words are poorly heard and confirm no stop-level check
    beside_s: float  #: seconds within which things said are "beside" each other


@dataclass
class _Reader:
    """Reads the tables of one file and keeps every fault."""

    file: str
    faults: list[str]
    claims: frozenset[str]
    where: str = ""
    used: set[str] = field(default_factory=set)

    def fault(self, text: str) -> None:
        self.faults.append(f"{self.where}: {text}")

    def keys(self, row: Mapping[str, Any], allowed: Sequence[str]) -> None:
        unknown = sorted(set(row) - set(allowed))
        if unknown:
            self.fault(f"unknown {', '.join(unknown)}; allowed: {', '.join(allowed)}")

    def names(self, row: Mapping[str, Any], key: str) -> frozenset[str]:
        value = row.get(key, ())
        if isinstance(value, str) or not all(isinstance(v, str) for v in value):
            self.fault(f"{key} must be a list of words")
            return frozenset()
        allowed = self.claims if key == "claim" else _SETS.get(key)
        wrong = sorted(set(value) - allowed) if allowed is not None else []
        if wrong:
            self.fault(f"{key} {', '.join(map(repr, wrong))} not known; allowed: {', '.join(sorted(allowed or ()))}")
        return frozenset(value)

    def term(self, row: Mapping[str, Any]) -> Term:
        self.keys(row, _TERM_KEYS)
        kinds = [k for k in ("action", "claim", "reading") if k in row]
        if len(kinds) != 1:
            self.fault(f"a condition needs exactly one of action, claim, reading: {dict(row)}")
        kind: Any = {"action": "step"}.get(kinds[0], kinds[0]) if kinds else "step"
        return Term(
            kind=kind, actions=self.names(row, "action"), classes=self.names(row, "class"),
            not_classes=self.names(row, "not_class"), parts=self.names(row, "part"), words=self.names(row, "word"),
            not_words=self.names(row, "not_word"), statuses=self.names(row, "status"), claims=self.names(row, "claim"),
            quantities=self.names(row, "reading"), stages=self.names(row, "stage"), at_most=row.get("at_most"),
            beside_actions=self.names(row, "beside_action"), beside_classes=self.names(row, "beside_class"),
        )  # fmt: skip

    def terms(self, row: Mapping[str, Any], key: str) -> tuple[Term, ...]:
        return tuple(self.term(t) for t in row.get(key, ()))


def _ask(reader: _Reader, row: Mapping[str, Any]) -> Ask:
    times = row.get("times", 1)
    if not isinstance(times, int) or times < 1:
        reader.fault(f"times {times!r} must be a whole number from 1")
    return Ask(
        needs=reader.terms(row, "needs"), times=times if isinstance(times, int) else 1, text=row.get("text", ""),
        after_last=reader.terms(row, "after_last"), before_first=reader.terms(row, "before_first"),
        before_last=reader.terms(row, "before_last"),
    )  # fmt: skip


def _asks(reader: _Reader, row: Mapping[str, Any]) -> tuple[Ask, ...]:
    """The one thing that an extra `needs`, or the rows of its `asks`."""
    rows = row.get("asks", ())
    if "needs" in row:
        if rows:
            reader.fault("an extra has needs or asks, not both")
        return (_ask(reader, row),)
    for one in rows:
        reader.keys(one, [*_ASK_KEYS, "text"])
        if not one.get("needs") or not one.get("text"):
            reader.fault("each of asks needs needs and text")
    return tuple(_ask(reader, one) for one in rows)


def _extra(reader: _Reader, row: Mapping[str, Any]) -> Extra:
    reader.keys(row, ["profiles", "when", "only_if", "unless", "asks", "state", "text", "always", *_ASK_KEYS])
    text = str(row.get("text", ""))
    if not text:
        reader.fault("an extra needs text")
    fields = {name for _, name, _, _ in string.Formatter().parse(text) if name}
    if fields - {"lacking"}:
        reader.fault(f"extra: unknown {sorted(fields - {'lacking'})}; allowed: lacking")
    if row.get("state") not in (None, *get_args(CheckState)):
        reader.fault(f"state {row.get('state')!r} not known; allowed: {', '.join(get_args(CheckState))}")
    return Extra(
        profiles=frozenset(row.get("profiles", ("US", "UK"))), when=reader.terms(row, "when"),
        only_if=reader.terms(row, "only_if"), unless=reader.terms(row, "unless"), asks=_asks(reader, row),
        state=row.get("state"), text=text, always=row.get("always", False),
    )  # fmt: skip


def _example(reader: _Reader, row: Mapping[str, Any], usual: str | None) -> Example:
    reader.keys(row, ["events", "state", "profile"])
    state: Any = row.get("state", usual)
    if state not in get_args(CheckState):
        reader.fault(f"example: state {state!r} not known; allowed: {', '.join(get_args(CheckState))}")
    return Example(events=tuple(row.get("events", ())), state=state, profile=row.get("profile", "US"))


def _reasons(reader: _Reader, row: Mapping[str, Any]) -> dict[str, str]:
    reasons = dict(row.get("reasons", {}))
    wanted = set(get_args(CheckState)) - {"not_applicable"}
    reader.keys(reasons, [*sorted(wanted), "not_applicable", "outside"])
    if "missing" not in reasons or "confirmed" not in reasons or "unclear" not in reasons:
        reader.fault("reasons needs confirmed, missing and unclear")
    for state, text in reasons.items():
        fields = {name for _, name, _, _ in string.Formatter().parse(text) if name}
        if fields - _REASON_FIELDS:
            reader.fault(
                f"reasons {state}: unknown {sorted(fields - _REASON_FIELDS)}; allowed: {sorted(_REASON_FIELDS)}"
            )
    return reasons


def _entry(reader: _Reader, row: Mapping[str, Any]) -> Entry:
    reader.where = f"{reader.file}: entry {row.get('id')!r}"
    reader.keys(row, _KEYS)
    if row.get("rule") in ("before", "after") and not row.get("confirmed_by"):
        reader.fault("needs confirmed_by")
    for key in ("id", "title", "severity", "rule", "reasons"):
        if not row.get(key):
            reader.fault(f"needs {key}")
    for key, allowed in (("severity", get_args(Severity)), ("rule", get_args(Rule)), ("lasts", ("visit", "job"))):
        if key in row and row[key] not in allowed:
            reader.fault(f"{key} {row[key]!r} not known; allowed: {', '.join(allowed)}")
    wrong = [f for f in row.get("fields", ()) if f not in FIELDS]
    if wrong:
        reader.fault(f"fields {wrong} not known; allowed: {', '.join(FIELDS)}")
    for key in ("examples", "counter_examples"):
        if len(row.get(key, ())) < 3:
            reader.fault(f"needs at least 3 {key}")
    references = row.get("references") or {"US": row.get("reference", ""), "UK": row.get("reference", "")}
    groups = row.get("confirmed_by", ())
    terms = {key: reader.terms(row, key) for key in _TERMS}
    return Entry(
        id=str(row.get("id")), title=str(row.get("title", "")), severity=row.get("severity", "warning"),
        rule=row.get("rule", "spoken"), references=references, reasons=_reasons(reader, row),
        said_applies=row.get("said_applies", False), asserted_counts=row.get("asserted_counts", False),
        lasts=row.get("lasts", "visit"), counted=row.get("counted", False),
        confirmed_by=tuple(tuple(reader.term(t) for t in group) for group in groups),
        not_while_open=reader.names(row, "not_while_open"), outcome_after=row.get("outcome_after", False),
        kinds=reader.names(row, "kinds"), classes=reader.names(row, "classes"),
        not_classes=reader.names(row, "not_classes"), restored_by=reader.names(row, "restored_by"),
        orientation=row.get("orientation", False), fields=tuple(row.get("fields", ())),
        extras=tuple(_extra(reader, x) for x in row.get("extras", ())),
        examples=tuple(_example(reader, x, "confirmed") for x in row.get("examples", ())),
        counter_examples=tuple(_example(reader, x, None) for x in row.get("counter_examples", ())), **terms,
    )  # fmt: skip


def read_entries(data: Mapping[str, Any], file: str, claims: frozenset[str], faults: list[str]) -> EntryBook:
    """The entries of one entries.toml, `data`. Faults are added to `faults` with file, entry, what is allowed."""
    reader = _Reader(file=file, faults=faults, claims=claims, where=file)
    reader.keys(data, ["include", "leave_out", "how", "settings", "entries"])
    settings = data.get("settings", {})
    reader.keys(settings, ["not_applicable", "blanket", "opposites", "least_confidence", "beside_s"])
    return EntryBook(
        entries=tuple(_entry(reader, row) for row in data.get("entries", ())), how=dict(data.get("how", {})),
        applied=settings.get("not_applicable", ""), blanket=frozenset(settings.get("blanket", ())),
        opposites=tuple(tuple(frozenset(side) for side in group) for group in settings.get("opposites", ())),
        least_confidence=settings.get("least_confidence", 0.0), beside_s=settings.get("beside_s", 12.0),
    )  # fmt: skip
