"""When the tool speaks up: a stop-level check violated or about to be, a number in doubt. Rarely, never twice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from voicereport.live.changes import LACKING
from voicereport.requests.phrases import Phrases, tokens
from voicereport.wording.numbers import find_numbers

if TYPE_CHECKING:
    from voicereport.report import Check, Reading, Report, Step
    from voicereport.settings import Settings
    from voicereport.trades import Trade

_DOUBTS_APART_S = 20.0  #: seconds between two questions about numbers
_FRESH_S = 30.0  #: a reading older than that is not asked about any more


@dataclass(frozen=True, kw_only=True, slots=True)
class Wanted:
    """What the tool is to say. about: a check's id, or the words in doubt."""

    kind: Literal["warning", "doubt"]
    about: str
    text: str
    reading: Reading | None = None  #: in doubt


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """What was prompted so far."""

    warned: frozenset[str] = frozenset()  #: checks that were warned of and are violated still
    planned: frozenset[str] = frozenset()  #: checks that a plan was warned of
    doubted: frozenset[str] = frozenset()  #: readings that were asked about, by words and place
    last: str | None = None  #: key of the last prompt
    doubt_at: float = -1e9  #: seconds of the recording, of the last question about a number


def next_prompt(
    report: Report, told: Told, trade: Trade, settings: Settings, phrases: Phrases, *, at: float, since: float
) -> tuple[Wanted | None, Told]:
    """The prompt that is due, if any, and what was prompted then. since: start of the last utterance, in seconds."""
    violated = [c for c in report.checks if _violated(c, trade)]
    ids = frozenset(c.id for c in violated)
    told = replace(told, warned=told.warned & ids)
    for check in violated:
        if check.id not in told.warned and told.last != f"warning {check.id}":
            text = phrases.warn[check.id].say if check.id in phrases.warn else phrases.says["warn"]
            wanted = Wanted(kind="warning", about=check.id, text=text.format(title=check.title))
            return wanted, replace(told, warned=told.warned | {check.id}, last=f"warning {check.id}")
    planned = _planned(report, ids, trade, settings, _now(report, phrases, since))
    for check in planned:
        if check.id not in told.planned and told.last != f"warning {check.id}":
            text = phrases.warn[check.id].before if check.id in phrases.warn else phrases.says["warn_before"]
            wanted = Wanted(kind="warning", about=check.id, text=text.format(title=check.title))
            return wanted, replace(told, planned=told.planned | {check.id}, last=f"warning {check.id}")
    return _doubt(report, told, phrases, at)


def _violated(check: Check, trade: Trade) -> bool:
    """A stop-level check whose time has come, and that is lacking: not one that can still be met later."""
    if check.severity != "stop" or check.state not in LACKING:
        return False
    rule = next((e.rule for e in trade.entries.entries if e.id == check.id), None)
    return rule == "before" or check.state == "out_of_order"


def _now(report: Report, phrases: Phrases, since: float) -> list[Step]:
    """The steps planned in the last utterance, but for those that its sentence puts off to another day."""
    texts = {s.id: f" {' '.join(tokens(s.text))} " for s in report.transcript.segments}
    later = [f" {' '.join(words)} " for words in phrases.later]
    return [
        step
        for step in report.steps
        if step.status == "planned" and step.evidence and step.evidence[0].start >= since - 0.05
        and not any(words in texts.get(step.evidence[0].segment, "") for words in later)
    ]  # fmt: skip


def _planned(
    report: Report, violated: frozenset[str], trade: Trade, settings: Settings, fresh: Sequence[Step]
) -> list[Check]:
    """Stop-level checks that would be violated if what was planned in the last utterance were done now."""
    from voicereport.checks import check_report

    if not fresh:
        return []
    # a plan that names the safe act itself ("I'll pull the plug and take the panel off") is met in its own order
    steps = tuple(s.model_copy(update={"status": "done"}) if s in fresh else s for s in report.steps)
    then = check_report(report.model_copy(update={"steps": steps}), trade, profile=settings.profile)
    return [c for c in then.checks if _violated(c, trade) and c.id not in violated]


def _doubt(report: Report, told: Told, phrases: Phrases, at: float) -> tuple[Wanted | None, Told]:
    if at - told.doubt_at < _DOUBTS_APART_S:
        return None, told
    for reading in reversed(report.readings):
        start = reading.evidence[0].start if reading.evidence else -1e9
        key = f"{reading.spoken} {start:.1f}"
        if at - start > _FRESH_S or key in told.doubted or reading.verdict.result != "suspect":
            continue
        pair = two_numbers(reading)
        if pair is None or told.last == f"doubt {key}":
            continue
        text = phrases.says["doubt"].format(one=pair[0], other=pair[1])
        wanted = Wanted(kind="doubt", about=reading.spoken, text=text, reading=reading)
        return wanted, replace(told, doubted=told.doubted | {key}, last=f"doubt {key}", doubt_at=at)
    return None, told


def two_numbers(reading: Reading) -> tuple[str, str] | None:
    """The number that was heard and the one that a second look heard, as written; None where they are not two."""
    one, other = _number(reading.spoken), _number(reading.doubt or "")
    return (one, other) if one and other and one != other else None


def _number(text: str) -> str | None:
    found = find_numbers(text.split())
    return f"{found[0].value:g}" if found else None
