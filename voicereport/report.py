"""The report contract, version 1.0, as frozen pydantic models. The JSON Schema is generated from here."""

from __future__ import annotations

import json
from typing import Annotated, Any, Final, Generic, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field

SCHEMA_VERSION: Final = "1.0"

Action = Literal[
    "remove", "refit", "disconnect", "reconnect", "loosen", "tighten", "open", "close", "peel", "reseal", "cut",
    "drain", "clean", "thaw", "inspect", "measure", "adjust", "replace", "repair", "lubricate", "charge", "recover",
    "evacuate", "leak_test", "discharge", "isolate", "restore_power", "run_test", "other",
]  # fmt: skip
StepStatus = Literal["done", "narrated", "planned", "advised", "not_done", "unclear", "retracted"]
QuantityName = Literal[
    "resistance", "voltage", "current", "power", "temperature", "temperature_difference", "pressure", "vacuum",
    "mass", "volume", "time", "length", "flow", "frequency", "humidity", "torque", "capacitance",
    "insulation_resistance", "earth_continuity", "other",
]  # fmt: skip
Qualifier = Literal["exact", "about", "at_least", "at_most", "range", "open_circuit", "short_circuit"]
Reference = Literal["gauge", "absolute", "vacuum"]
Stage = Literal["as_found", "as_left"]
VerdictResult = Literal["within", "outside", "suspect", "not_checked"]
ItemKind = Literal["part", "fastener", "connector", "seal", "tube", "wiring"]
ItemState = Literal["open", "restored", "replaced"]
NoteKind = Literal["orientation", "routing", "caution", "other"]
CheckState = Literal["confirmed", "missing", "unclear", "contradicted", "out_of_order", "not_applicable"]
Severity = Literal["stop", "warning"]
JobStatus = Literal["complete", "incomplete", "blocked"]
SegmentFlag = Literal[
    "low_confidence", "repetition", "not_speech", "other_language", "unheard",
    "request", "answer", "note", "taken_back", "echo",
]  # fmt: skip

T = TypeVar("T")


class Model(BaseModel):
    """Base of all: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Evidence(Model):
    """Where the words stand: seconds in a recording, and the words themselves."""

    recording: str
    segment: str
    start: float = Field(ge=0, description="seconds from the start of the recording")
    end: float = Field(ge=0)
    quote: str = Field(description="the transcript text exactly as it stands between start and end")
    confidence: float = Field(ge=0, le=1)


EvidenceList = Annotated[tuple[Evidence, ...], Field(min_length=1)]


class Said(Model, Generic[T]):
    """A value that was said (evidence) or typed (entered_by, entered_at)."""

    value: T
    evidence: tuple[Evidence, ...] = ()
    entered_by: str | None = None
    entered_at: str | None = Field(default=None, description="RFC 3339")


class Appliance(Model):
    kind: Said[str] | None = None
    maker: Said[str] | None = None
    model: Said[str] | None = None
    serial: Said[str] | None = None


class Job(Model):
    work_order: Said[str] | None = None
    recorded_at: Said[str] | None = None
    technician: Said[str] | None = None
    customer: Said[str] | None = None
    site: Said[str] | None = None
    trade: Said[str] | None = None
    job_type: Said[str] | None = None
    appliance: Appliance = Appliance()
    labour_min: Said[float] | None = Field(default=None, description="minutes, the total over all visits")


class RecordingEntry(Model):
    name: str
    sha256: str
    duration_s: float
    speech_s: float
    visit: int = Field(ge=1)
    engine: str
    model: str
    language: str
    notes: tuple[str, ...] = ()


class WordEntry(Model):
    word: str
    start: float
    end: float
    probability: float = Field(ge=0, le=1)
    alternative: str | None = None


class SegmentEntry(Model):
    id: str
    recording: str
    start: float
    end: float
    heard: str
    text: str
    words: tuple[WordEntry, ...]
    flags: tuple[SegmentFlag, ...] = ()


class TranscriptEntry(Model):
    segments: tuple[SegmentEntry, ...] = ()
    dropped: tuple[str, ...] = ()


class Remark(Model):
    """A complaint, finding, cause, correction or recommendation in the speaker's words, or typed."""

    text: str
    status: StepStatus = "done"
    evidence: tuple[Evidence, ...] = ()
    entered_by: str | None = None
    entered_at: str | None = None


class Step(Model):
    id: str
    visit: int = 1
    action: Action
    part: str
    count: float | None = None
    holds: str | None = None
    location: str | None = None
    status: StepStatus
    evidence: tuple[Evidence, ...] = ()
    entered_by: str | None = None
    entered_at: str | None = None


class Verdict(Model):
    result: VerdictResult
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    source: str | None = None
    reason: str | None = None
    worked: str | None = Field(default=None, description="formula, numbers in, result: checkable by hand")


class Reading(Model):
    id: str
    visit: int = 1
    quantity: QuantityName
    subject: str | None = None
    value: float | None = None
    value_high: float | None = None
    unit: str | None = Field(default=None, description="UCUM")
    unit_assumed: bool = False
    decimals: int | None = Field(default=None, description="decimal places that were spoken")
    reference: Reference | None = None
    qualifier: Qualifier = "exact"
    stage: Stage | None = None
    spoken: str
    doubt: str | None = Field(default=None, description="what a second look heard instead")
    limit_low: float | None = Field(default=None, description="spoken specification, in `unit`")
    limit_high: float | None = None
    verdict: Verdict = Verdict(result="not_checked")
    evidence: tuple[Evidence, ...] = ()
    entered_by: str | None = None
    entered_at: str | None = None


class PartUsed(Model):
    part: str
    part_number: str | None = None
    quantity: float | None = 1
    evidence: tuple[Evidence, ...] = ()
    entered_by: str | None = None
    entered_at: str | None = None


class LedgerItem(Model):
    id: str
    part: str
    kind: ItemKind
    holds: str | None = None
    count_out: float = 0
    count_in: float = 0
    state: ItemState
    explained: str | None = Field(default=None, description="why fewer went back, in the speaker's words")
    orientation: str | None = None
    out_evidence: tuple[Evidence, ...] = ()
    in_evidence: tuple[Evidence, ...] = ()


class OpenItem(Model):
    id: str
    reason: str


class Ledger(Model):
    items: tuple[LedgerItem, ...] = ()
    reassembly_order: tuple[str, ...] = ()
    open: tuple[OpenItem, ...] = ()


class Note(Model):
    kind: NoteKind
    about: str
    text: str
    evidence: tuple[Evidence, ...] = ()


class Claim(Model):
    """A fact that was claimed and that a check may rest on, but that is no step ("gloves are on")."""

    id: str
    visit: int = 1
    claim: str = Field(description="name of a claim in the trade pack's claims.toml")
    about: str | None = None
    status: StepStatus
    evidence: tuple[Evidence, ...] = ()


class Check(Model):
    id: str
    title: str
    severity: Severity
    state: CheckState
    reason: str
    evidence: tuple[Evidence, ...] = ()
    reference: str | None = None


LET_PASS = "overridden"  #: `after` of a change whose path is "/checks/" and an id: the check was let pass, for `why`
LIFTED = "override lifted"  #: the same, where that was taken back


class Change(Model):
    who: str
    when: str
    path: str
    before: Any = None
    after: Any = None
    why: str | None = None


class Review(Model):
    changes: tuple[Change, ...] = ()
    signed_by: str | None = None
    signed_at: str | None = None


class Report(Model):
    schema_version: Literal["1.0"] = SCHEMA_VERSION
    job: Job = Job()
    recordings: tuple[RecordingEntry, ...] = ()
    transcript: TranscriptEntry = TranscriptEntry()
    complaint: tuple[Remark, ...] = ()
    findings: tuple[Remark, ...] = ()
    cause: tuple[Remark, ...] = ()
    correction: tuple[Remark, ...] = ()
    recommendations: tuple[Remark, ...] = ()
    steps: tuple[Step, ...] = ()
    readings: tuple[Reading, ...] = ()
    parts_used: tuple[PartUsed, ...] = ()
    ledger: Ledger = Ledger()
    notes: tuple[Note, ...] = ()
    claims: tuple[Claim, ...] = ()
    checks: tuple[Check, ...] = ()
    status: JobStatus = "incomplete"
    review: Review = Review()


def dump_json(report: Report) -> str:
    """The report as JSON text: UTF-8, keys in the contract's order, one trailing newline. Same report, same bytes."""
    return json.dumps(report.model_dump(mode="json"), indent=1, ensure_ascii=False) + "\n"


def json_schema() -> dict[str, Any]:
    """The contract's JSON Schema, draft 2020-12."""
    schema = Report.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "voicereport report 1.0", **schema}
