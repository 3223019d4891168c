"""What the tool answers to a spoken request: sentences from live.toml, filled in from the report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicereport.live.changes import LACKING
from voicereport.requests.phrases import Phrases

if TYPE_CHECKING:
    from voicereport.report import Check, LedgerItem, Report

_MOST_TITLES = 3  #: of missing checks, in one breath
_MOST_ITEMS = 6
_MOST_WORDS = 8  #: of a sentence that is taken back


def open_items(report: Report) -> tuple[LedgerItem, ...]:
    """What is off and not back, in the order in which it goes back."""
    wanted = {entry.id for entry in report.ledger.open}
    items = {item.id: item for item in report.ledger.items}
    order = [*report.ledger.reassembly_order, *(entry.id for entry in report.ledger.open)]
    return tuple(items[n] for n in dict.fromkeys(order) if n in wanted and n in items)


def spoken_item(item: LedgerItem, phrases: Phrases) -> str:
    """An item as it is said: "4 screws of the rear panel"."""
    left = item.count_out - item.count_in
    counted = left > 0 and (item.kind == "fastener" or (item.kind == "connector" and left > 1))
    key = "item" + ("_count" if counted else "") + ("_of" if item.holds else "")
    part = f"{item.part}s" if counted and left > 1 and not item.part.endswith("s") else item.part
    return phrases.says[key].format(part=part, holds=item.holds, count=f"{left:g}")


def still_off(report: Report, phrases: Phrases) -> str:
    """The items that are off."""
    items = [spoken_item(item, phrases) for item in open_items(report)]
    if not items:
        return phrases.says["nothing_off"]
    shown = items[:_MOST_ITEMS]
    if len(items) > len(shown):
        return phrases.says["still_off_more"].format(items=", ".join(shown), more=len(items) - len(shown))
    return phrases.says["still_off"].format(items=_joined(shown, phrases))


def next_back(report: Report, place: int, phrases: Phrases) -> str:
    """What goes back `place` steps from now, 0 = next; said anew each time that something went back."""
    items = open_items(report)
    if place >= len(items):
        return phrases.says["nothing_next"]
    key = "next_last" if place == len(items) - 1 else "next_back"
    return phrases.says[key].format(item=spoken_item(items[place], phrases))


def missing(report: Report, phrases: Phrases) -> str:
    """The titles of checks that are lacking, the highest kind first."""
    titles = [c.title for c in _lacking(report)]
    return _told("missing", titles, phrases) if titles else phrases.says["nothing_missing"]


def finished(report: Report, phrases: Phrases) -> str:
    """How the job ended: what blocks the report, else what is open in it."""
    lacking = _lacking(report)
    if not lacking:
        return phrases.says["finished"]
    stops = [c.title for c in lacking if c.severity == "stop"]
    return (
        _told("finished_blocked", stops, phrases)
        if stops
        else _told("finished_open", [c.title for c in lacking], phrases)
    )


def asked_for(check: Check, report: Report, phrases: Phrases) -> str:
    """The question of the wrap-up for a check that is lacking: by name what is not back, where it is about that."""
    known = phrases.asks.get(check.id)
    items = [spoken_item(i, phrases) for i in open_items(report) if known and i.kind in known.kinds]
    if known is None or (known.kinds and not items):
        return phrases.says["ask"].format(title=check.title, reason=check.reason)
    return known.ask.format(items=_joined(items[:_MOST_ITEMS], phrases)) if items else known.ask


def _lacking(report: Report) -> list[Check]:
    return sorted((c for c in report.checks if c.state in LACKING), key=lambda c: c.severity != "stop")


def _told(key: str, titles: list[str], phrases: Phrases) -> str:
    """A sentence with the first of the titles, and how many more there are."""
    if len(titles) > _MOST_TITLES:
        items = ", ".join(titles[:_MOST_TITLES])
        return phrases.says[f"{key}_more"].format(items=items, more=len(titles) - _MOST_TITLES)
    return phrases.says[key].format(items=_joined(titles, phrases))


def last_reading(report: Report, phrases: Phrases) -> str:
    """The last value, in the words that it was spoken in."""
    if not report.readings:
        return phrases.says["no_reading"]
    last = report.readings[-1]
    key = "reading_of" if last.subject else "reading"
    return phrases.says[key].format(subject=last.subject, spoken=last.spoken.rstrip(".,;"))


def shortened(quote: str) -> str:
    """The first words of what was said, as many as show which sentence it was."""
    words = quote.split()
    return quote if len(words) <= _MOST_WORDS + 2 else " ".join(words[:_MOST_WORDS]).rstrip(".,;:") + " …"


def _joined(items: list[str], phrases: Phrases) -> str:
    return ", ".join(items[:-1]) + phrases.says["and"] + items[-1] if len(items) > 1 else items[0]
