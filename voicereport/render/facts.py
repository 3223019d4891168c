"""What is known of the job, as label and value."""

from __future__ import annotations

from dataclasses import dataclass, field

from voicereport.render import text
from voicereport.render.wording import Wording
from voicereport.report import Job, Said


@dataclass(frozen=True, kw_only=True, slots=True)
class Fact:
    """A label and a value."""

    label: str = field(metadata={"help": "what it is"})
    value: str = field(metadata={"help": "its value"})
    figures: bool = field(default=False, metadata={"help": "set in the monospaced face: numbers, serials"})


def job_facts(job: Job, wording: Wording) -> tuple[Fact, ...]:
    """All that is known of the job, in the order of the contract; unknown values are left out."""
    appliance = job.appliance
    values: tuple[tuple[str, Said[str] | None, bool], ...] = (
        ("work_order", job.work_order, True),
        ("recorded_at", job.recorded_at, True),
        ("technician", job.technician, False),
        ("customer", job.customer, False),
        ("site", job.site, False),
        ("job_type", job.job_type, False),
        ("appliance", appliance.kind, False),
        ("maker", appliance.maker, False),
        ("model", appliance.model, True),
        ("serial", appliance.serial, True),
    )
    facts = [
        Fact(label=wording.label(key), value=_value(key, said.value), figures=figures)
        for key, said, figures in values
        if said is not None
    ]
    if job.labour_min is not None:
        facts.append(Fact(label=wording.label("labour"), value=_duration(job.labour_min.value, wording), figures=True))
    return tuple(facts)


def _duration(minutes: float, wording: Wording) -> str:
    """Minutes as "3 h 25 min"; below an hour, and where there are fractions of a minute, as "45 min"."""
    hours, rest = divmod(minutes, 60)
    parts = [(hours, "hours"), (rest, "minutes")] if hours and rest == int(rest) else [(minutes, "minutes")]
    return " ".join(text.number(n) + text.NO_BREAK + wording.label(unit) for n, unit in parts if n or len(parts) == 1)


def _value(key: str, value: str) -> str:
    if key == "recorded_at":
        return text.moment(value)
    return text.capital(text.shown(value)) if key in ("appliance", "job_type") else text.shown(value)
