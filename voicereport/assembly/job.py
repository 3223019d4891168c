"""The fields of the job: the last value said stands."""

from __future__ import annotations

from voicereport.assembly.evidence import Places, evidence
from voicereport.report import Appliance, Job, Said
from voicereport.statements.values import Field, Identity, Statements
from voicereport.transcript import Transcript


def make_job(statements: Statements, transcript: Transcript, trade_id: str, recorded_at: str | None) -> Job:
    """What was said of the job. recorded_at: RFC 3339, from the recording itself, or None."""
    places = Places(transcript)
    said = sorted(statements.identity, key=lambda i: places.of(i.span))

    def text(field: Field) -> Said[str] | None:
        found = [i for i in said if i.field == field]
        return Said[str](value=str(found[-1].value), evidence=(evidence(found[-1].span),)) if found else None

    return Job(
        work_order=text("work_order"),
        recorded_at=None if recorded_at is None else Said[str](value=recorded_at),
        customer=text("customer"),
        site=text("site"),
        trade=Said[str](value=trade_id),
        appliance=Appliance(kind=text("appliance"), model=text("model"), serial=text("serial")),
        labour_min=_labour([i for i in said if i.field == "labour_min"]),
    )


def _labour(said: list[Identity]) -> Said[float] | None:
    """Minutes over all visits: the last total said, or else the sum of the last value of each visit."""
    totals = [i for i in said if i.total]
    counted = totals[-1:] or list({i.visit: i for i in said}.values())
    if not counted:
        return None
    return Said[float](value=sum(float(i.value) for i in counted), evidence=tuple(evidence(i.span) for i in counted))
