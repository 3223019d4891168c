"""A report judged and checked anew by the company's own rules; overrides told in every rendering."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from voicereport.checks import check_report, status_of
from voicereport.checks.limits import judge_report
from voicereport.errors import PackError
from voicereport.render import text
from voicereport.render.context import context_of
from voicereport.render.customer import CustomerView, customer_view
from voicereport.render.letterhead import Letterhead
from voicereport.render.sentences import open_checks
from voicereport.render.wording import Wording, load_wording
from voicereport.report import Check, OpenItem, Report
from voicereport.settings import Profile, Settings
from voicereport.store.values import Override
from voicereport.trades import Trade, load_trade
from voicereport.web.company import Company
from voicereport.web.pages import say


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


@dataclass(frozen=True, kw_only=True, slots=True)
class ShownReport:
    """A report as every rendering shows it."""

    report: Report
    passed: Mapping[str, str]  #: by the title of a check that was let pass: by whom, when and why


def with_overrides(report: Report, overrides: Sequence[Override], names: Mapping[str, str]) -> ShownReport:
    """The report as every rendering shows it: a check that was let pass says so in its title and its reason.

    names: of people, by login. The check's own state stays as it was found.
    """
    standing = {o.check_id: o for o in overrides if o.lifted_at is None}
    passed: dict[str, str] = {}
    checks = tuple(_told(check, standing.get(check.id), names, passed) for check in report.checks)
    return ShownReport(report=report.model_copy(update={"checks": checks}), passed=passed)


def customer_shown(shown: ShownReport, wording: Wording, letterhead: Letterhead) -> CustomerView:
    """The customer's view; what was let pass is told with its reason where it stands open."""
    view = customer_view(shown.report, context_of(shown.report, wording), letterhead)
    told = {text.shown(title): sentence for title, sentence in shown.passed.items()}
    lines = tuple(replace(line, text=f"{text.ended(line.text)} {told[line.lead]}") if line.lead in told else line
                  for line in view.open)  # fmt: skip
    still = [c for c in open_checks(shown.report) if c.severity == "stop" and c.title not in shown.passed]
    status = say("override", "status") if shown.passed and not still else view.status
    return replace(view, open=lines, status=status)


def _told(check: Check, override: Override | None, names: Mapping[str, str], passed: dict[str, str]) -> Check:
    if override is None or check.state in ("confirmed", "not_applicable"):
        return check
    state = load_wording().word("state", check.state)
    who = text.shown(names.get(override.by, override.by))
    told = say("override", "told", who=who, when=text.moment(override.at.isoformat())[:16], state=state.lower(),
               reason=text.ended(text.shown(override.reason)))  # fmt: skip
    title = f"{check.title} ({say('override', 'title', who=who)})"
    passed[title] = told
    return check.model_copy(update={"reason": f"{text.ended(check.reason)} {told}", "title": title})
