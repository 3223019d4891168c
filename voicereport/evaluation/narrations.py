"""Reports scored against the gold of their narrations."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from voicereport.evaluation.corpus import Narration
from voicereport.evaluation.matching import Misses, Row, Share, Tally, add, add_shares, compare, detail, pair
from voicereport.evaluation.names import Names
from voicereport.evaluation.reported import Reported, bare, text
from voicereport.evaluation.same import Same
from voicereport.evaluation.tables import PRESSURES, STATES, STYLES, load_tables

METRICS = {
    "steps": "steps: action, part, status",
    "steps_loose": "steps: action, part",
    "readings": "readings: quantity, value, unit",
    "readings_full": "readings: with subject and stage",
    "parts_used": "parts used",
    "parts_used_full": "parts used: with number, quantity",
    "open": "open items",
    "notes": "notes: kind, about",
    "job": "job: order, model, serial, labour",
}
#: of the items that matched, those that also have this right
DETAILS = {
    "counts": "steps with a count: count",
    "holds": "fastener steps: holds",
    "qualifiers": "readings: qualifier",
    "references": "pressures: reference",
}
_VALUES = ("quantity", "subject", "value", "value_high", "unit", "qualifier", "stage")

Pair = tuple[str, str]  #: the gold's state and the report's


@dataclass(frozen=True, kw_only=True, slots=True)
class NarrationScore:
    """One narration's tallies and check states."""

    style: str
    tallies: dict[str, Tally]
    misses: dict[str, Misses]
    details: dict[str, Share]
    fasteners_exact: bool | None  #: None = none in the gold and none in the report
    fasteners: tuple[tuple[Row, ...], tuple[Row, ...]]  #: the gold's totals and the report's
    states: dict[str, Pair]  #: by check id
    status: tuple[str, object]


@dataclass(frozen=True, kw_only=True, slots=True)
class WrongState:
    """A check whose state is wrong in a way that matters."""

    check: str
    stop: bool
    narration: str
    gold: str
    report: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Totals:
    """The tallies of several narrations together."""

    narrations: int
    tallies: dict[str, Tally]
    details: dict[str, Share]
    fasteners: Share
    status: Share
    states: Share
    false_confirms: int
    false_alarms: int
    waived: int


@dataclass(frozen=True, kw_only=True, slots=True)
class NarrationsScore:
    """All narrations of a corpus."""

    styles: dict[str, Totals]
    narrations: dict[str, NarrationScore]
    confusion: dict[Pair, int]
    false_confirms: tuple[WrongState, ...]
    false_alarms: tuple[WrongState, ...]
    waived: tuple[WrongState, ...]
    missing: tuple[str, ...] = ()
    problems: tuple[str, ...] = field(default=())


def score_narrations(narrations: Sequence[Narration], reports: Mapping[str, object], names: Names) -> NarrationsScore:
    """Every narration against its report, a JSON value by the narration's name.

    A report that is missing counts as one that found nothing, and is named in `missing`.
    """
    problems: list[str] = []
    same, results = Same(names), {}
    for narration in narrations:
        data = reports.get(narration.name)
        if narration.name in reports:
            version = data.get("schema_version") if isinstance(data, dict) else None
            if version != "1.0":
                problems.append(f"{narration.name}: schema_version is {version!r}, not '1.0'")
        report = Reported(data, narration.name, problems.append)
        results[narration.name] = _score_one(narration, report, same)
        problems += _strange(report)
    groups = {style: [r for r in results.values() if r.style == style] for style in STYLES}
    styles = {style: _totals(rows) for style, rows in groups.items() if rows} | {"overall": _totals(results.values())}
    return NarrationsScore(
        styles=styles,
        narrations=results,
        confusion=Counter(p for r in results.values() for p in r.states.values()),
        false_confirms=_listed(results, lambda g, s: g != "confirmed" and s == "confirmed"),
        false_alarms=_listed(results, lambda g, s: g == "confirmed" and s in load_tables().lacking),
        waived=_listed(results, lambda g, s: g in load_tables().lacking and s in ("not_applicable", "absent")),
        missing=tuple(n.name for n in narrations if n.name not in reports),
        problems=tuple(dict.fromkeys(problems)),
    )


def gold_steps(gold: Row) -> Iterator[Row]:
    """The gold's steps, with a collective step opened up.

    A step that covers several items may be named by any of them, and each of them is an optional step besides:
    "everything back" is right as one step and as one step an item.
    """
    for step in gold["steps"]:
        covers = step.get("covers", [])
        yield step | {"part_ok": [*step.get("part_ok", []), *covers]}
        one = {k: v for k, v in step.items() if k not in ("count", "part_ok", "covers")}
        yield from (one | {"part": part, "optional": True} for part in covers if part != step["part"])


def gold_open(gold: Row) -> list[Row]:
    """The gold's open items, each with the other names that its steps allow."""
    names: defaultdict[str, list[str]] = defaultdict(list)
    for step in gold["steps"]:
        names[step["part"]] += step.get("part_ok", [])
    return [{"part": part, "part_ok": names[part]} for part in gold["open"]]


def overall_status(checks: Mapping[str, str]) -> str:
    """The report status that goes with check states."""
    tables = load_tables()
    lacking = {check for check, state in checks.items() if state in tables.lacking}
    return "blocked" if lacking & set(tables.stop) else "incomplete" if lacking else "complete"


def _score_one(narration: Narration, report: Reported, same: Same) -> NarrationScore:
    gold = narration.gold
    tallies: dict[str, Tally] = {}
    misses: dict[str, Misses] = {}

    def count(metric: str, g: list[Row], r: list[Row], test: Callable[[Row, Row], bool], *shown: str) -> None:
        tallies[metric], misses[metric] = compare(g, r, test, lambda x: _words(x, *shown))

    steps, readings, parts = report.rows("steps"), report.rows("readings"), report.rows("parts_used")
    g_steps, g_readings = list(gold_steps(gold)), gold["readings"]
    count("steps", g_steps, steps, same.step, "action", "part", "status")
    count("steps_loose", g_steps, steps, same.step_loose, "action", "part")
    count("readings", g_readings, readings, same.reading, *_VALUES)
    count("readings_full", g_readings, readings, same.reading_full, *_VALUES)
    count("parts_used", gold["parts_used"], parts, same.part, "part")
    count("parts_used_full", gold["parts_used"], parts, same.part_full, "part", "part_number", "quantity")
    count("open", gold_open(gold), report.open_items(), same.part, "part")
    count("notes", gold["notes"], report.rows("notes"), same.note, "kind", "about")
    g_job, job = _fields(gold["job"]), _fields(report.job())
    count("job", g_job, job, lambda g, r: g["field"] == r["field"] and same.field(g["field"], g["value"], r["value"]),
          "field", "value")  # fmt: skip
    g_fasteners, fasteners = gold["fasteners"], report.fasteners(same.names)
    matched = len(pair(g_fasteners, fasteners, same.fastener))
    exact = matched == len(g_fasteners) == len(fasteners) if g_fasteners or fasteners else None
    details = _details(g_steps, steps, g_readings, readings, same)
    states, status = _judge_checks(gold, report)
    return NarrationScore(
        style=narration.style, tallies=tallies, misses=misses, details=details,
        fasteners_exact=exact, fasteners=(tuple(g_fasteners), tuple(fasteners)), states=states,
        status=(status, report.data.get("status")),
    )  # fmt: skip


def _details(
    g_steps: list[Row], steps: list[Row], g_readings: list[Row], readings: list[Row], same: Same
) -> dict[str, Share]:
    counted, held = ([s for s in g_steps if key in s] for key in ("count", "holds"))
    pressures = [r for r in g_readings if r["quantity"] in PRESSURES]
    return {
        "counts": detail(counted, steps, same.step, same.step_count),
        "holds": detail(held, steps, same.step, same.step_holds),
        "qualifiers": detail(g_readings, readings, same.reading, same.reading_qualifier),
        "references": detail(pressures, readings, same.reading, same.reading_reference),
    }


def _judge_checks(gold: Row, report: Reported) -> tuple[dict[str, Pair], str]:
    """{check: (gold state, reported state)}, and the report status that goes with them.

    A reported state that is as good as the gold's stands as the gold's; a check that the report leaves out, or
    gives a state that is none, stands as absent.
    """
    found, states, held = report.states(), {}, {}
    for check in load_tables().checks:
        right, said = _right_states(gold, check), found.get(check)
        held[check] = said if said in right else right[0]
        states[check] = (right[0], right[0] if said in right else said if said in STATES else "absent")
    return states, overall_status(held)


def _right_states(gold: Row, check: str) -> list[str]:
    """The states that are right. Where the gold finds a stop-level check lacking, none confirms it."""
    state = gold["checks"][check]
    others = gold.get("also_ok", {}).get(check, [])
    if check in load_tables().stop and state in load_tables().lacking:
        others = [other for other in others if other != "confirmed"]
    return [state, *others]


def _totals(results: Iterable[NarrationScore]) -> Totals:
    rows = list(results)
    exact = [r.fasteners_exact for r in rows if r.fasteners_exact is not None]
    pairs = [p for r in rows for p in r.states.values()]
    lacking = load_tables().lacking
    return Totals(
        narrations=len(rows),
        tallies={metric: add(r.tallies[metric] for r in rows) for metric in METRICS},
        details={key: add_shares(r.details[key] for r in rows) for key in DETAILS},
        fasteners=Share(right=sum(exact), of=len(exact)),
        status=Share(right=sum(r.status[0] == r.status[1] for r in rows), of=len(rows)),
        states=Share(right=sum(g == s for g, s in pairs), of=len(pairs)),
        false_confirms=sum(g != "confirmed" == s for g, s in pairs),
        false_alarms=sum(g == "confirmed" and s in lacking for g, s in pairs),
        waived=sum(g in lacking and s in ("not_applicable", "absent") for g, s in pairs),
    )


def _listed(results: Mapping[str, NarrationScore], test: Callable[[str, str], bool]) -> tuple[WrongState, ...]:
    tables = load_tables()
    rows = [
        WrongState(check=check, stop=check in tables.stop, narration=name, gold=gold, report=said)
        for name, result in results.items()
        for check, (gold, said) in result.states.items()
        if test(gold, said)
    ]
    key = lambda w: (not w.stop, w.gold not in tables.lacking, tables.checks.index(w.check), w.narration)  # noqa: E731
    return tuple(sorted(rows, key=key))


def _strange(report: Reported) -> list[str]:
    """Units and checks of a report that the tables do not know."""
    tables = load_tables()
    units = [text(r["unit"]) for r in report.rows("readings") if r.get("unit") is not None]
    found = [
        f"{report.name}: unit {u!r} is not in the table; compared as written" for u in units if u not in tables.units
    ]
    for check, state in report.states().items():
        if check not in tables.checks or state not in STATES:
            found.append(f"{report.name}: check {check!r} in state {state!r} is not the contract's")
    return found


def _fields(job: Row) -> list[Row]:
    return [{"field": key, "value": value} for key, value in job.items()]


def _words(item: Row, *keys: str) -> str:
    return " ".join(str(bare(item.get(key))) for key in keys if bare(item.get(key)) is not None)
