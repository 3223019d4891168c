"""A report judged and checked anew by the company's own rules; people told by their names."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from voicereport.checks import check_report, status_of
from voicereport.checks.limits import judge_report
from voicereport.errors import PackError
from voicereport.report import OpenItem, Report
from voicereport.settings import Profile, Settings
from voicereport.trades import Trade, load_trade
from voicereport.web.company import Company
from voicereport.web.pages import local, say

_PEOPLE = ("entered_by", "signed_by", "who")
_TIMES = ("entered_at", "signed_at", "when")
_AS_THEY_STOOD = ("before", "after")  #: values of a change


def settings_for(settings: Settings, company: Company, trade: str | None = None) -> Settings:
    """The settings of a job: the server's, the company's profile and paper, the job's trade."""
    return replace(settings, profile=company.profile, paper=company.paper, trade=trade or settings.trade)


def rechecked(report: Report, company: Company, settings: Settings) -> Report:
    """The report with its readings judged and its checks stated anew. Raises PackError for a faulty trade."""
    named = report.job.trade.value if report.job.trade else settings.trade
    try:
        pack = load_trade(named)
    except PackError:
        if named == settings.trade:
            raise
        pack = load_trade(settings.trade)
    trade = company.own_trade(pack)
    judged = judge_report(report, trade, profile=company.profile)
    return _by_words(check_report(judged, trade, profile=company.profile), trade, company.profile)


def _by_words(checked: Report, trade: Trade, profile: Profile) -> Report:
    """A stop-level check is confirmed by what was said. One that only holds with what somebody typed is unclear."""
    said = _as_said(checked)
    if said == checked:
        return checked
    firm = {c.id: c.state for c in check_report(said, trade, profile=profile).checks}
    typed: dict[str, object] = {"state": "unclear", "reason": say("typed", "reason")}
    better = {"confirmed": ("confirmed",), "unclear": ("confirmed", "unclear")}  #: states that do not rest on typing
    checks = tuple(
        c.model_copy(update=typed)
        if c.severity == "stop" and c.state in better and firm[c.id] not in better[c.state] else c
        for c in checked.checks
    )  # fmt: skip
    return checked.model_copy(update={"checks": checks, "status": status_of(checks)})


def _as_said(report: Report) -> Report:
    """The report without the steps and readings that were typed, and without returns that nobody spoke of."""
    still = {"state": "open", "count_in": 0.0}
    items = tuple(item if item.state == "open" or item.in_evidence else item.model_copy(update=still)
                  for item in report.ledger.items)  # fmt: skip
    known = {entry.id for entry in report.ledger.open}
    more = tuple(OpenItem(id=item.id, reason=say("form", "open_reason")) for item in items
                 if item.state == "open" and item.id not in known)  # fmt: skip
    ledger = report.ledger.model_copy(update={"items": items, "open": (*report.ledger.open, *more)})
    return report.model_copy(update={
        "steps": tuple(s for s in report.steps if s.entered_by is None),
        "readings": tuple(r for r in report.readings if r.entered_by is None),
        "ledger": ledger if more or items != report.ledger.items else report.ledger,
    })  # fmt: skip


def as_shown(report: Report, names: Mapping[str, str]) -> Report:
    """The report as renderings show it: people by their names and not by what they sign in with, and what they did by
    the clock of the place where the server stands.

    names: by login.
    """
    plain = _named(report.model_dump(exclude={"transcript"}), names)
    return Report.model_validate(plain).model_copy(update={"transcript": report.transcript})


def _named(value: Any, names: Mapping[str, str]) -> Any:
    if isinstance(value, dict):
        return {key: _field(key, found, names) for key, found in value.items()}
    return [_named(one, names) for one in value] if isinstance(value, list | tuple) else value


def _field(key: str, value: Any, names: Mapping[str, str]) -> Any:
    if key in _AS_THEY_STOOD:
        return value
    if not isinstance(value, str):
        return _named(value, names)
    if key in _TIMES:
        with contextlib.suppress(ValueError):
            return local(datetime.fromisoformat(value)).isoformat()
    return names.get(value, value) if key in _PEOPLE else value
