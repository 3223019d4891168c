"""Checks that a supervisor let pass: the report's review says so, and every rendering tells it where they stand."""

from __future__ import annotations

from collections.abc import Mapping

from voicereport.render import text
from voicereport.render.wording import Wording
from voicereport.report import LET_PASS, LIFTED, Change, Check, Report

_PLACE = "/checks/"


def passed(report: Report) -> Mapping[str, Change]:
    """By the id of a check that is open and was let pass: who decided it, when and why. The last decision holds."""
    standing: dict[str, Change] = {}
    for change in report.review.changes:
        if change.path.startswith(_PLACE) and change.after in (LET_PASS, LIFTED):
            standing[change.path.removeprefix(_PLACE)] = change
    still = {check.id for check in report.checks if check.state not in ("confirmed", "not_applicable")}
    return {id_: change for id_, change in standing.items() if change.after == LET_PASS and id_ in still}


def title_of(check: Check, decided: Mapping[str, Change], wording: Wording) -> str:
    """A check's title; of one that was let pass, with the name of who did."""
    title = text.shown(check.title)
    if check.id not in decided:
        return title
    return f"{title} ({wording.sentence('passed_title', who=text.shown(decided[check.id].who))})"


def decision(check: Check, decided: Mapping[str, Change], wording: Wording) -> str:
    """By whom, when, why and in which state a check was let pass; empty where it was not."""
    change = decided.get(check.id)
    if change is None:
        return ""
    return wording.sentence(
        "passed",
        who=text.shown(change.who),
        when=text.moment(change.when)[:16],
        state=wording.word("state", check.state).lower(),
        reason=text.ended(text.shown(change.why or "")),
    )


def reason_of(check: Check, decided: Mapping[str, Change], wording: Wording) -> str:
    """A check's reason; of one that was let pass, with the decision after it."""
    reason, let_pass = text.shown(check.reason), decision(check, decided, wording)
    return f"{text.ended(reason)} {let_pass}" if let_pass else reason


def status_word(report: Report, wording: Wording) -> str:
    """A report's status in words; where every open stop-level check was let pass, it is not said to be blocked."""
    decided = passed(report)
    stops = {c.id for c in report.checks if c.severity == "stop" and c.state not in ("confirmed", "not_applicable")}
    if stops and stops <= decided.keys():
        return wording.word("job_status", "passed")
    return wording.word("job_status", report.status)
