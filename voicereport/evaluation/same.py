"""Whether a reported item is what a gold item says, by any of the gold's alternatives."""

from __future__ import annotations

from typing import Any

from voicereport.evaluation.matching import Row
from voicereport.evaluation.names import Names, identity, number, same_value
from voicereport.evaluation.reported import bare
from voicereport.evaluation.tables import CIRCUITS


def options(item: Row, key: str) -> list[Any]:
    """The values of a gold key that are right: its own and the alternatives beside it."""
    return [item.get(key), *item.get(f"{key}_ok", [])]


class Same:
    """Tests of a gold item `g` against a reported item `r`."""

    def __init__(self, names: Names) -> None:
        self.names = names

    def value(self, g: Row, r: Row, key: str) -> bool:
        return bare(r.get(key)) in options(g, key)

    def name(self, g: Row, r: Row, key: str, action: str | None = None) -> bool:
        return any(self.names.same(option, bare(r.get(key)), action) for option in options(g, key))

    def step_loose(self, g: Row, r: Row) -> bool:
        return self.value(g, r, "action") and self.name(g, r, "part", g["action"])

    def step(self, g: Row, r: Row) -> bool:
        return self.value(g, r, "status") and self.step_loose(g, r)

    def step_count(self, g: Row, r: Row) -> bool:
        return self.step(g, r) and bool(g["count"] == number(bare(r.get("count"))))

    def step_holds(self, g: Row, r: Row) -> bool:
        return self.step(g, r) and self.name(g, r, "holds")

    def reading(self, g: Row, r: Row) -> bool:
        """The same quantity and amount. An open or short circuit has no amount, and none stands for it."""
        if not self.value(g, r, "quantity"):
            return False
        if g["value"] is None or r.get("qualifier") in CIRCUITS:
            return self.value(g, r, "qualifier")
        ends = [(g["value"], r.get("value"))]
        if g.get("value_high") is not None or r.get("value_high") is not None:
            ends.append((g.get("value_high"), r.get("value_high")))
        difference = g["quantity"] == "temperature_difference"
        return any(
            all(same_value(a, unit, b, r.get("unit"), difference=difference) for a, b in ends)
            for unit in options(g, "unit")
        )

    def reading_full(self, g: Row, r: Row) -> bool:
        subject = g["subject"] is None or self.name(g, r, "subject")
        return self.reading(g, r) and self.value(g, r, "stage") and subject

    def reading_qualifier(self, g: Row, r: Row) -> bool:
        return self.reading(g, r) and self.value(g, r, "qualifier")

    def reading_reference(self, g: Row, r: Row) -> bool:
        return self.reading(g, r) and self.value(g, r, "reference")

    def part(self, g: Row, r: Row) -> bool:
        return self.name(g, r, "part")

    def part_full(self, g: Row, r: Row) -> bool:
        number_right = identity(g.get("part_number") or "") == identity(bare(r.get("part_number")) or "")
        return self.part(g, r) and number_right and g.get("quantity") in (None, number(bare(r.get("quantity"))))

    def note(self, g: Row, r: Row) -> bool:
        return self.value(g, r, "kind") and self.name(g, r, "about")

    def fastener(self, g: Row, r: Row) -> bool:
        totals = (g["out"], g["in"]) == (r["out"], r["in"])
        return totals and self.name(g, r, "holds") and self.name(g, r, "kind")

    def count(self, g: Row, r: Row) -> bool:
        held = g["holds"] is None or self.name(g, r, "holds")
        return self.value(g, r, "direction") and self.value(g, r, "count") and self.name(g, r, "part") and held

    def field(self, key: str, g: object, r: object) -> bool:
        return number(g) == number(r) if key == "labour_min" else identity(g) == identity(r)
