"""Short written fragments of a job as reports, for the examples in a pack and for trying an entry out.

One event a line: `STEP [COUNT] PART [of HOLDS] [STATUS]`, STEP an action of the contract; `claim NAME [STATUS]`;
`reading QUANTITY VALUE UNIT [of SUBJECT] [STAGE]`; `orientation PART: TEXT`; `explained PART [of HOLDS]`;
`complaint [STATUS]: TEXT`, `cause [STATUS]: TEXT`; `model X`, `serial X`, `labour MINUTES`; `visit N`; `pause`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, get_args

from voicereport.checks.events import Names
from voicereport.errors import ReportError
from voicereport.report import (
    Action,
    Appliance,
    Claim,
    Evidence,
    Job,
    Ledger,
    LedgerItem,
    Note,
    Reading,
    Remark,
    Report,
    Said,
    Stage,
    Step,
    StepStatus,
)

_ACTIONS, _STATUSES, _STAGES = (frozenset(get_args(t)) for t in (Action, StepStatus, Stage))
_OUT = {
    "part": ("remove", "open"), "fastener": ("remove",), "connector": ("disconnect", "remove"),
    "seal": ("peel", "remove"), "tube": ("remove", "disconnect"), "wiring": ("loosen", "remove", "disconnect"),
}  # fmt: skip
_IN = ("refit", "reconnect", "replace", "reseal", "close")


@dataclass
class _Draft:
    names: Names
    blanket: frozenset[str]
    at: float = 0.0
    visit: int = 1
    steps: list[Step] = field(default_factory=list)
    claims: list[Claim] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    remarks: dict[str, list[Remark]] = field(default_factory=lambda: {"complaint": [], "cause": []})
    job: dict[str, str] = field(default_factory=dict)
    items: dict[tuple[str, str | None], LedgerItem] = field(default_factory=dict)


def report_of(lines: Iterable[str], names: Names, *, blanket: frozenset[str] = frozenset()) -> Report:
    """The report that the fragment's lines stand for, its ledger moved by its steps, without checks.

    names: kinds of parts, for the ledger. Raises ReportError for a line that is not of the grammar.
    """
    draft = _Draft(names=names, blanket=blanket)
    for number, line in enumerate(lines):
        at = draft.at
        evidence = Evidence(recording="r", segment=f"s{number}", start=at, end=at + 1, quote=line, confidence=1)
        _add(draft, line, evidence)
        draft.at += 2
    return Report(
        steps=tuple(draft.steps), claims=tuple(draft.claims), readings=tuple(draft.readings), notes=tuple(draft.notes),
        complaint=tuple(draft.remarks["complaint"]), cause=tuple(draft.remarks["cause"]), job=_job(draft.job),
        ledger=Ledger(items=tuple(draft.items.values())),
    )  # fmt: skip


def _job(values: dict[str, str]) -> Job:
    def said(key: str) -> Said[str] | None:
        return Said[str](value=values[key]) if key in values else None

    labour = Said[float](value=float(values["labour"])) if "labour" in values else None
    return Job(appliance=Appliance(model=said("model"), serial=said("serial")), labour_min=labour)


def _add(draft: _Draft, line: str, evidence: Evidence) -> None:
    words = line.split()
    head = words[0].rstrip(":") if words else ""
    if head in _ACTIONS:
        _step(draft, words, evidence)
    elif head == "claim" and len(words) in (2, 3):
        status: Any = words[2] if len(words) == 3 else "done"
        draft.claims.append(
            Claim(id=f"c{draft.at}", visit=draft.visit, claim=words[1], status=status, evidence=(evidence,))
        )
    elif head == "reading" and len(words) > 3:
        _reading(draft, words, evidence)
    elif head in ("model", "serial", "labour") and len(words) == 2:
        draft.job[head] = words[1]
    elif head == "visit":
        draft.visit = int(words[1])
    elif head == "pause":
        draft.at += 120
    elif head in ("complaint", "cause", "orientation") and ":" in line:
        before, text = line.split(":", 1)
        _told(draft, head, before.split()[1:], text.strip(), evidence)
    elif head == "explained":
        key = _key(words[1:])
        draft.items[key] = draft.items[key].model_copy(update={"explained": line})
    else:
        raise ReportError("fragment", f"{line!r} is not of the grammar", "see voicereport/checks/fragments.py")


def _told(draft: _Draft, head: str, rest: list[str], text: str, evidence: Evidence) -> None:
    if head == "orientation":
        draft.notes.append(Note(kind="orientation", about=" ".join(rest), text=text, evidence=(evidence,)))
        return
    status: Any = rest[0] if rest else "done"
    draft.remarks[head].append(Remark(text=text, status=status, evidence=(evidence,)))


def _key(words: list[str]) -> tuple[str, str | None]:
    if "of" in words:
        at = words.index("of")
        return " ".join(words[:at]), " ".join(words[at + 1 :])
    return " ".join(words), None


def _step(draft: _Draft, words: list[str], evidence: Evidence) -> None:
    action: Any = words[0]
    rest = words[1:]
    status: Any = rest.pop() if rest[-1] in _STATUSES else "done"
    count = float(rest.pop(0)) if rest[0].isdigit() else None
    part, holds = _key(rest)
    draft.steps.append(Step(id=f"t{draft.at}", visit=draft.visit, action=action, part=part, count=count, holds=holds,
                            status=status, evidence=(evidence,)))  # fmt: skip
    if status in ("done", "narrated"):
        _move(draft, action, (part, holds), count or 1, evidence)


def _move(draft: _Draft, action: str, key: tuple[str, str | None], count: float, evidence: Evidence) -> None:
    if action in _IN:
        keys = list(draft.items) if key[0] in draft.blanket else [key]
        for one in keys:
            item = draft.items.get(one)
            if item and item.state == "open":
                back = item.count_out if key[0] in draft.blanket else min(item.count_out, item.count_in + count)
                state = "restored" if back >= item.count_out else "open"
                draft.items[one] = item.model_copy(
                    update={"count_in": back, "state": state, "in_evidence": (*item.in_evidence, evidence)}
                )
        return
    kind = draft.names.kind_of(key[0])
    if action in _OUT[kind]:
        draft.items[key] = LedgerItem(id=f"i{draft.at}", part=key[0], kind=kind, holds=key[1], count_out=count,
                                      state="open", out_evidence=(evidence,))  # fmt: skip


def _reading(draft: _Draft, words: list[str], evidence: Evidence) -> None:
    rest = words[4:]
    stage: Any = rest.pop() if rest and rest[-1] in _STAGES else None
    subject = " ".join(rest[1:]) if rest and rest[0] == "of" else None
    quantity: Any = words[1]
    draft.readings.append(Reading(id=f"m{draft.at}", visit=draft.visit, quantity=quantity, subject=subject,
                                  value=float(words[2]), unit=words[3], stage=stage, spoken=" ".join(words[2:4]),
                                  evidence=(evidence,)))  # fmt: skip
