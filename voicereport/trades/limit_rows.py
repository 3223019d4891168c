"""The rows of limits.toml to values; every fault of every row is kept."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Any, get_args

from voicereport.report import QuantityName, Stage, VerdictResult
from voicereport.trades.limit_values import (
    Around,
    Band,
    Condition,
    Curve,
    Example,
    Heard,
    Implied,
    Limit,
    Refrigerant,
    Step,
)
from voicereport.units import UNITS

_QUANTITIES = get_args(QuantityName)
_RESULTS = get_args(VerdictResult)
_STATUSES = ("V", "S", "C", "M")
KEYS = {
    "limits": (
        "id title quantity subjects unless unit low high tolerance ignore_below usual_low usual_high step around when "
        "stage source status why examples"
    ),
    "bands": "id quantity subjects unless unit low high why source",
    "sensors": "id title source steinhart scale beta reference table",
    "refrigerants": "name fluid class flammable_limit practical_limit gwp source",
    "implied": "set when",
    "heard": "fact value any near",
    "when": "fact is min max",
    "step": "fact over each add most",
    "around": "fact percent percent_fact least_percent most_percent plus_fact",
    "examples": "subject value value_high unit stage qualifier facts result",
}


class Reader:
    """Reads the tables of the files of one pack and keeps every fault."""

    def __init__(self) -> None:
        self.faults: list[str] = []
        self.where = ""

    def fault(self, entry: str, problem: str) -> None:
        self.faults.append(f"{self.where}: {entry}: {problem}")

    def keys(self, entry: str, row: Mapping[str, Any], table: str) -> None:
        allowed = KEYS[table].split()
        unknown = sorted(set(row) - set(allowed))
        if unknown:
            self.fault(entry, f"unknown {', '.join(unknown)}; allowed: {', '.join(allowed)}")

    def number(self, entry: str, row: Mapping[str, Any], key: str) -> float | None:
        value = row.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fault(entry, f"{key} {value!r} is no number")
            return None
        return float(value)

    def text(self, entry: str, row: Mapping[str, Any], key: str) -> str:
        value = row.get(key)
        if not isinstance(value, str) or not value:
            self.fault(entry, f"needs {key}")
            return ""
        return value

    def conditions(self, entry: str, row: Mapping[str, Any], questions: Mapping[str, str]) -> tuple[Condition, ...]:
        out = []
        for given in row.get("when", ()):
            self.keys(f"{entry}: when", given, "when")
            fact = self.text(f"{entry}: when", given, "fact")
            if fact and fact not in questions:
                self.fault(entry, f"fact {fact!r} has no question in [facts]; known: {', '.join(sorted(questions))}")
            if ("is" in given) == ("min" in given or "max" in given):
                self.fault(entry, f"the condition on {fact!r} needs either `is` or `min`, `max`")
            out.append(
                Condition(
                    fact=fact,
                    values=frozenset(map(str, given.get("is", ()))),
                    low=self.number(entry, given, "min"),
                    high=self.number(entry, given, "max"),
                )
            )
        return tuple(out)

    def common(self, entry: str, row: Mapping[str, Any], subjects: Iterable[str]) -> None:
        """The checks that limits and bands share."""
        known = set(subjects)
        if row.get("quantity") not in _QUANTITIES:
            self.fault(entry, f"quantity {row.get('quantity')!r} is not one of {', '.join(_QUANTITIES)}")
        if row.get("unit") not in UNITS:
            self.fault(entry, f"unit {row.get('unit')!r} is not known")
        for key in ("subjects", "unless"):
            for name in row.get(key, ()):
                if name not in known:
                    self.fault(entry, f"{key}: there is no group {name!r} in [subjects]")
        low, high = self.number(entry, row, "low"), self.number(entry, row, "high")
        if low is None and high is None and "around" not in row:
            self.fault(entry, "needs low or high")
        if low is not None and high is not None and low > high:
            self.fault(entry, f"low {low} is above high {high}")


def read_limit(
    reader: Reader, row: Mapping[str, Any], subjects: Iterable[str], questions: Mapping[str, str]
) -> Limit | None:
    entry = f"limit {row.get('id')!r}"
    before = len(reader.faults)
    reader.keys(entry, row, "limits")
    reader.common(entry, row, subjects)
    texts = {key: reader.text(entry, row, key) for key in ("id", "title", "source", "status", "why")}
    if texts["status"] and texts["status"] not in _STATUSES:
        reader.fault(entry, f"status {texts['status']!r} is not one of {', '.join(_STATUSES)}")
    if row.get("stage") not in (None, *get_args(Stage)):
        reader.fault(entry, f"stage {row['stage']!r} is not one of {', '.join(get_args(Stage))}")
    examples = tuple(e for e in (_example(reader, entry, x) for x in row.get("examples", ())) if e is not None)
    if not examples:
        reader.fault(entry, "needs examples, which the tests run")
    step = row.get("step")
    if step is not None:
        reader.keys(f"{entry}: step", step, "step")
        if set(step) != set(KEYS["step"].split()):
            reader.fault(entry, f"step needs {KEYS['step']}")
            step = None
    around = row.get("around")
    if around is not None:
        reader.keys(f"{entry}: around", around, "around")
        forms = ({"percent"}, {"percent_fact"}, {"least_percent", "most_percent"})
        if not around.get("fact") or sum(bool(around.keys() & keys) for keys in forms) != 1:
            reader.fault(entry, "around needs a fact, and one of percent, percent_fact, least_percent or most_percent")
            around = None
    when = reader.conditions(entry, row, questions)
    numbers = {
        key: reader.number(entry, row, key) for key in ("low", "high", "ignore_below", "usual_low", "usual_high")
    }
    tolerance = reader.number(entry, row, "tolerance") or 0.0
    if len(reader.faults) > before:
        return None
    return Limit(
        id=texts["id"],
        title=texts["title"],
        source=texts["source"],
        status=texts["status"],
        why=texts["why"],
        low=numbers["low"],
        high=numbers["high"],
        ignore_below=numbers["ignore_below"],
        usual_low=numbers["usual_low"],
        usual_high=numbers["usual_high"],
        quantity=row["quantity"],
        unit=row["unit"],
        tolerance=tolerance,
        when=when,
        subjects=tuple(row.get("subjects", ())),
        unless=tuple(row.get("unless", ())),
        stage=row.get("stage"),
        step=Step(**step) if step else None,
        around=Around(**around) if around else None,
        examples=examples,
    )


def _example(reader: Reader, entry: str, row: Mapping[str, Any]) -> Example | None:
    reader.keys(f"{entry}: example", row, "examples")
    if row.get("result") not in _RESULTS:
        reader.fault(entry, f"example: result {row.get('result')!r} is not one of {', '.join(_RESULTS)}")
        return None
    return Example(
        subject=row.get("subject"),
        value=reader.number(entry, row, "value"),
        unit=row.get("unit"),
        result=row["result"],
        stage=row.get("stage"),
        facts=dict(row.get("facts", {})),
    )


def read_band(reader: Reader, row: Mapping[str, Any], subjects: Iterable[str]) -> Band | None:
    entry = f"band {row.get('id')!r}"
    before = len(reader.faults)
    reader.keys(entry, row, "bands")
    reader.common(entry, row, subjects)
    texts = {key: reader.text(entry, row, key) for key in ("id", "why", "source")}
    if len(reader.faults) > before:
        return None
    return Band(
        **texts,
        quantity=row["quantity"],
        unit=row["unit"],
        subjects=tuple(row.get("subjects", ())),
        unless=tuple(row.get("unless", ())),
        low=reader.number(entry, row, "low"),
        high=reader.number(entry, row, "high"),
    )


def read_curve(reader: Reader, row: Mapping[str, Any]) -> Curve | None:
    entry = f"sensor {row.get('id')!r}"
    before = len(reader.faults)
    reader.keys(entry, row, "sensors")
    texts = {key: reader.text(entry, row, key) for key in ("id", "title", "source")}
    forms = [key for key in ("steinhart", "beta", "table") if key in row]
    if len(forms) != 1:
        reader.fault(entry, "needs exactly one of steinhart, beta, table")
    for key, length in (("steinhart", 3), ("beta", 2)):
        if key in row and len(row[key]) != length:
            reader.fault(entry, f"{key} needs {length} numbers")
    if "scale" in row and "steinhart" not in row:
        reader.fault(entry, "scale goes with steinhart")
    table = tuple((float(t), float(r)) for t, r in row.get("table", ()))
    if any(a[0] >= b[0] or a[1] <= b[1] for a, b in pairwise(table)):
        reader.fault(entry, "the table's temperatures must rise and its ohms fall")
    if len(reader.faults) > before:
        return None
    return Curve(
        **texts,
        steinhart=tuple(row["steinhart"]) if "steinhart" in row else None,
        scale=row.get("scale", 1.0),
        beta=tuple(row["beta"]) if "beta" in row else None,
        reference=row.get("reference", 25.0),
        table=table,
    )


def read_refrigerant(reader: Reader, row: Mapping[str, Any]) -> Refrigerant:
    entry = f"refrigerant {row.get('name')!r}"
    reader.keys(entry, row, "refrigerants")
    numbers = {key: reader.number(entry, row, key) for key in ("flammable_limit", "practical_limit", "gwp")}
    return Refrigerant(
        name=reader.text(entry, row, "name"),
        fluid=reader.text(entry, row, "fluid"),
        safety_class=reader.text(entry, row, "class"),
        source=reader.text(entry, row, "source"),
        **numbers,
    )


def read_heard(reader: Reader, row: Mapping[str, Any], questions: Mapping[str, str]) -> Heard | None:
    entry = f"heard {row.get('fact')!r} {row.get('value')!r}"
    reader.keys(entry, row, "heard")
    if row.get("fact") not in questions:
        reader.fault(entry, f"fact {row.get('fact')!r} has no question in [facts]")
    try:
        pattern = re.compile("|".join(f"(?:{p})" for p in row.get("any", ())) or r"(?!)")
    except re.error as error:
        reader.fault(entry, f"any: {error}")
        return None
    near = bool(row.get("near", False))
    return Heard(fact=str(row.get("fact")), value=reader.text(entry, row, "value"), pattern=pattern, near=near)


def read_implied(reader: Reader, row: Mapping[str, Any], questions: Mapping[str, str]) -> Implied:
    entry = f"implied {row.get('set')!r}"
    reader.keys(entry, row, "implied")
    for fact in row.get("set", {}):
        if fact not in questions:
            reader.fault(entry, f"fact {fact!r} has no question in [facts]")
    return Implied(facts=dict(row.get("set", {})), when=reader.conditions(entry, row, questions))
