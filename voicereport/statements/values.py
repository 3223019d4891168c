"""What was claimed, as frozen values: the border between the words and the report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from voicereport.report import Action, ItemKind, NoteKind, Qualifier, QuantityName, Reference, StepStatus
from voicereport.transcript import Span

Field = Literal["work_order", "model", "serial", "labour_min", "appliance", "customer", "site"]
MOVED = frozenset({"done", "narrated"})  #: statuses of an act that took place
Topic = Literal["complaint", "findings", "cause", "correction", "recommendations"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Act:
    """One act: something done, planned, denied, ... to one thing."""

    action: Action
    part: str  #: the trade's name, singular, lower case; "everything" for a blanket statement
    kind: ItemKind
    status: StepStatus
    span: Span
    visit: int = 1
    count: float | None = None  #: None = no number was said
    plural: bool = False  #: the words were plural ("the screws are in"): all of them where no number was said
    holds: str | None = None  #: for a fastener: what it holds
    location: str | None = None
    new: bool = False  #: a new one was fitted
    part_number: str | None = None
    remaining: bool = False  #: "the other two", "the rest"
    explained: str | None = None  #: why fewer went back, in the speaker's words ("one's stripped")


@dataclass(frozen=True, kw_only=True, slots=True)
class Measured:
    """One value that was measured or stated."""

    quantity: QuantityName
    subject: str | None
    value: float | None
    value_high: float | None
    unit: str | None
    unit_assumed: bool
    decimals: int | None
    qualifier: Qualifier
    reference: Reference | None
    stage: Literal["as_found", "as_left"] | None  #: as the words say it; None = they do not: assembly decides
    timeless: bool  #: a value of the process itself (vacuum, test pressure, duration): its stage stays null
    dated: bool = False  #: its clause says that it was taken before the work ("when I came", "was nine")
    spoken: str
    span: Span
    visit: int = 1
    limit_low: float | None = None  #: spoken specification, in `unit`
    limit_high: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class ClaimSaid:
    """A fact of the trade pack's claims.toml that was claimed."""

    claim: str
    about: str | None
    status: StepStatus
    span: Span
    visit: int = 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Identity:
    """A field of the job that was said; the last one said stands. Labour is in minutes."""

    field: Field
    value: str | float
    span: Span
    visit: int = 1
    total: bool = False  #: labour: said to be the total over all visits


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """Words filed under a heading of the report as they stand."""

    topic: Topic
    text: str
    status: StepStatus
    span: Span


@dataclass(frozen=True, kw_only=True, slots=True)
class Noted:
    """An orientation, a routing or a caution that was spoken."""

    kind: NoteKind
    about: str
    text: str
    span: Span


@dataclass(frozen=True, kw_only=True, slots=True)
class Fitted:
    """A new part with its number and quantity."""

    part: str
    part_number: str | None
    quantity: float | None
    span: Span


@dataclass(frozen=True, kw_only=True, slots=True)
class Lost:
    """A fastener said to be stripped, broken or lost."""

    part: str
    holds: str | None
    text: str
    span: Span


@dataclass(frozen=True, kw_only=True, slots=True)
class Statements:
    """All that a transcript claims, each group in the order of speech."""

    acts: tuple[Act, ...] = ()
    readings: tuple[Measured, ...] = ()
    claims: tuple[ClaimSaid, ...] = ()
    identity: tuple[Identity, ...] = ()
    told: tuple[Told, ...] = ()
    notes: tuple[Noted, ...] = ()
    fitted: tuple[Fitted, ...] = ()
    at_hand: tuple[Fitted, ...] = ()  #: new parts whose numbers were read out before they were fitted
    lost: tuple[Lost, ...] = ()
