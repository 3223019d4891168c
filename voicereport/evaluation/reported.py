"""A report, or a fragment of one, read without trusting it."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Callable

from voicereport.evaluation.matching import Row
from voicereport.evaluation.names import Names, number
from voicereport.evaluation.tables import load_tables


class Reported:
    """The items of a report; `complain` hears of what was not usable."""

    def __init__(self, data: object, name: str, complain: Callable[[str], None]) -> None:
        self.name, self._complain = name, complain
        self.data: Row = data if isinstance(data, dict) else {}
        if data is not None and not isinstance(data, dict):
            complain(f"{name}: not an object; counted as empty")

    def rows(self, key: str, *, within: str | None = None) -> list[Row]:
        """The list of objects at key; anything else in its place is named and left out."""
        holder = self.data if within is None else self.data.get(within)
        value = holder.get(key) if isinstance(holder, dict) else None
        if value is None:
            return []
        if not isinstance(value, list):
            self._complain(f"{self.name}: {key} is not a list; counted as empty")
            return []
        rows = [r for r in value if isinstance(r, dict)]
        if len(rows) < len(value):
            self._complain(f"{self.name}: {len(value) - len(rows)} of {key} are not objects; left out")
        return rows

    def job(self) -> Row:
        """Order, model, serial and labour, as far as they are there."""
        job = self.data.get("job")
        job = job if isinstance(job, dict) else {}
        appliance = job.get("appliance")
        appliance = appliance if isinstance(appliance, dict) else {}
        found = {
            "work_order": bare(job.get("work_order")),
            "model": bare(appliance.get("model")),
            "serial": bare(appliance.get("serial")),
            "labour_min": bare(job.get("labour_min")),
        }
        return {key: value for key, value in found.items() if value not in (None, "")}

    def states(self) -> dict[str, str]:
        """Check ids with their states."""
        return {text(r.get("id")): text(r.get("state")) for r in self.rows("checks")}

    def open_items(self) -> list[Row]:
        """The items that ledger.open lists, by id or by object with an id, as {"part": name}."""
        items = {text(i.get("id")): i for i in self.rows("items", within="ledger")}
        ledger = self.data.get("ledger")
        listed = ledger.get("open") if isinstance(ledger, dict) else None
        if not isinstance(listed, list):
            if items:
                self._complain(f"{self.name}: ledger.open is no list; items in state open are taken")
            listed = [key for key, item in items.items() if item.get("state") == "open"]
        found = []
        for reference in listed:
            key = text(reference.get("id") if isinstance(reference, dict) else reference)
            if key not in items:
                self._complain(f"{self.name}: ledger.open names {key!r}, which is no item")
            found.append({"part": item_name(items[key]) if key in items else key})
        return found

    def fasteners(self, names: Names) -> list[Row]:
        """Totals by what is held, summed over the items; those that never came out are left out."""
        totals: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        for item in self.rows("items", within="ledger"):
            if item.get("kind") == "fastener":
                total = totals[names.norm(bare(item.get("holds"))), names.norm(bare(item.get("part")))]
                total["out"] += number(item.get("count_out")) or 0  # type: ignore[assignment]
                total["in"] += number(item.get("count_in")) or 0  # type: ignore[assignment]
        return [
            {"holds": holds, "kind": kind, "out": total["out"], "in": total["in"]}
            for (holds, kind), total in totals.items()
            if any(total.values())
        ]

    def counted(self) -> list[Row]:
        """Ledger items as counts with a direction."""
        rows = []
        for item in self.rows("items", within="ledger"):
            for direction, key in (("out", "count_out"), ("in", "count_in")):
                count = number(item.get(key))
                if count:
                    name = {"part": bare(item.get("part")), "holds": bare(item.get("holds"))}
                    rows.append(name | {"count": count, "direction": direction})
        return rows


def bare(value: object) -> object:
    """A value that may come wrapped with its evidence."""
    return value.get("value") if isinstance(value, dict) else value


def text(value: object) -> str:
    """Text as it is, anything else as JSON."""
    return value if isinstance(value, str) else json.dumps(value, default=str)


def item_name(item: Row) -> str:
    """A ledger item as the gold's `open` names it: "rear panel screw", "evaporator fan connector"."""
    part = str(bare(item.get("part")) or "")
    if item.get("kind") == "fastener" and item.get("holds"):
        return f"{bare(item['holds'])} {part}"
    if item.get("kind") == "connector" and not part.endswith(load_tables().connector_nouns):
        return f"{part} connector"
    return part
