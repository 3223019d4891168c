"""The demo's jobs as annotated narrations: NAME.gold.toml with the words and times of what was spoken.

The grammar of a gold file stands at its head; NAME.toml of a recording has the spoken lines, NAME.txt when each was
spoken. `disagreements` compares a report with it entry by entry, places of the words included; the scorer of the
other corpora takes the same narrations through `read_demo`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from voicereport.errors import TranscriptError
from voicereport.evaluation.corpus import LAST_LINE_S, Corpus, Narration, read_corpus
from voicereport.evaluation.matching import Row, optional, pair
from voicereport.evaluation.names import Names, identity, number
from voicereport.evaluation.narrations import gold_open
from voicereport.evaluation.reported import Reported, bare
from voicereport.evaluation.same import Same
from voicereport.evaluation.tables import STATES, load_tables

GOLD_SUFFIX = ".gold.toml"
_TRADE = "domestic-refrigeration"
_KEPT: dict[str, Row] = {
    "steps": {},
    "readings": {"value": None, "value_high": None, "unit": None, "subject": None, "stage": None, "reference": None},
    "parts_used": {},
    "notes": {},
}  #: a gold item's keys that may be left out, and what stands for them
_SLACK_S = 1.0  #: how far the words of an entry may lie outside the seconds of their line: recognised times are rough

Place = tuple[float, float]  #: start of a line and of the next one, seconds in the visit's recording
Test = Callable[[Row, Row], bool]


@dataclass(frozen=True, kw_only=True, slots=True)
class DemoGold:
    """What one job's report must say, and where each line of it is spoken."""

    narration: Narration
    said: dict[str, tuple[str, ...]]  #: words that must be found in the entry of that name
    status: str
    places: dict[tuple[int, int], Place]  #: by visit and line


def corpus_of(folder: Path) -> Corpus:
    """The corpus in `folder`, be it the demo's files or annotated narrations. Raises TranscriptError."""
    if not any(folder.glob(f"*{GOLD_SUFFIX}")):
        return read_corpus(folder)
    narrations = tuple(job.narration for job in read_demo(folder))
    return Corpus(folder=folder, narrations=narrations, sentences=(), aliases=None)


def read_demo(folder: Path) -> tuple[DemoGold, ...]:
    """The jobs of `folder` by name. Raises TranscriptError for the first file that cannot be used."""
    return tuple(_job(path) for path in sorted(folder.glob(f"*{GOLD_SUFFIX}")))


def disagreements(gold: DemoGold, report: Row) -> tuple[str, ...]:
    """One sentence for each entry of `report`, a report.json, that is lacking, wrong or too many."""
    return tuple(_compare(gold, report))


def _compare(gold: DemoGold, report: Row) -> Iterator[str]:
    rows, same = Reported(report, gold.narration.name, lambda _problem: None), Same(Names())
    wanted = gold.narration.gold
    visits = {row.get("name"): row.get("visit") for row in rows.rows("recordings")}
    for key, test, shown in _kinds(same):
        placed = test if key == "parts_used" else _placed(gold.places, visits, test)
        yield from _matched(key, wanted[key], rows.rows(key), placed, shown)
    yield from _matched("open", gold_open(wanted), rows.open_items(), same.part, ("part",))
    yield from _matched("fasteners", wanted["fasteners"], rows.fasteners(same.names), same.fastener,
                        ("holds", "kind", "out", "in"))  # fmt: skip
    yield from _job_fields(wanted["job"], rows.job(), same)
    yield from _states(wanted, rows.states())
    if report.get("status") != gold.status:
        yield f"status: {report.get('status')}, not {gold.status}"
    yield from _said_words(gold.said, report)


def _kinds(same: Same) -> tuple[tuple[str, Test, tuple[str, ...]], ...]:
    def step(g: Row, r: Row) -> bool:
        counted = g.get("count") is None or same.step_count(g, r)
        return same.step(g, r) and counted and (g.get("holds") is None or same.name(g, r, "holds"))

    def reading(g: Row, r: Row) -> bool:
        limits = all(g.get(key) is None or g[key] == number(r.get(f"limit_{key}")) for key in ("low", "high"))
        # None in the gold asserts no stage and no reference, as the contract has it for values of the process
        return same.reading_full(g, r) and same.value(g, r, "qualifier") and same.value(g, r, "reference") and limits

    return (
        ("steps", step, ("action", "part", "count", "holds", "status")),
        ("readings", reading, ("quantity", "subject", "value", "unit", "qualifier", "stage", "reference", "limit_low")),
        ("parts_used", same.part_full, ("part", "part_number", "quantity")),
        ("notes", same.note, ("kind", "about")),
    )


def _matched(key: str, gold: Sequence[Row], said: Sequence[Row], test: Test, shown: tuple[str, ...]) -> Iterator[str]:
    """What has no partner in the largest matching; optional items of the gold may go without one."""
    ordered = sorted(gold, key=optional)
    matched = pair(ordered, said, test)
    for n, item in enumerate(ordered):
        if n not in matched and not optional(item):
            yield f"{key}: lacking {_words(item, (*shown, 'low', 'high', 'visit', 'line'))}"
    taken = set(matched.values())
    for n, item in enumerate(said):
        if n not in taken:
            quote = next((e.get("quote") for e in item.get("evidence") or [] if isinstance(e, dict)), "")
            yield f"{key}: not in the gold: {_words(item, shown)} [{quote}]"


def _placed(places: Mapping[tuple[int, int], Place], visits: Mapping[object, object], test: Test) -> Test:
    """The test, and that words of the reported item were spoken in the gold item's line."""

    def same_place(g: Row, r: Row) -> bool:
        if not test(g, r):
            return False
        visit = g.get("visit", 1)
        start, end = places[visit, g["line"]]
        return any(
            visits.get(e["recording"]) == visit and e["start"] < end + _SLACK_S and e["end"] > start - _SLACK_S
            for e in r.get("evidence") or []
        )

    return same_place


def _job_fields(wanted: Row, found: Row, same: Same) -> Iterator[str]:
    for key in dict.fromkeys((*wanted, *found)):
        if key not in wanted or key not in found or not same.field(key, wanted[key], found[key]):
            yield f"job {key}: {found.get(key)}, not {wanted.get(key)}"


def _states(wanted: Row, found: dict[str, str]) -> Iterator[str]:
    """Checks in a state that the gold does not allow; nothing confirms a stop-level one that it finds lacking."""
    tables = load_tables()
    for check in tables.checks:
        right = [wanted["checks"][check], *wanted["also_ok"].get(check, [])]
        if check in tables.stop and right[0] in tables.lacking:
            right = [state for state in right if state != "confirmed"]
        if found.get(check) not in right:
            yield f"check {check}: {found.get(check, 'absent')}, not {' or '.join(right)}"


def _said_words(said: dict[str, tuple[str, ...]], report: Row) -> Iterator[str]:
    for entry, wanted in said.items():
        text = " ".join(str(remark.get("text", "")) for remark in report.get(entry) or []).lower()
        yield from (f"{entry}: lacks the words “{words}”" for words in wanted if words not in text)


def _words(item: Row, keys: tuple[str, ...]) -> str:
    return ", ".join(f"{key} {bare(item[key])}" for key in keys if bare(item.get(key)) is not None)


# ------------------------------------------------------------------ reading the files


def _job(path: Path) -> DemoGold:
    name = path.name.removesuffix(GOLD_SUFFIX)
    data = _table(path)
    try:
        recordings = [Path(recording).stem for recording in data["recordings"]]
        gold = {key: [_whole(key, item) for item in data[key]] for key in _KEPT}
        gold |= {"job": data["job"], "fasteners": data["fasteners"], "open": data["open"], "checks": data["checks"]}
        gold["also_ok"] = data.get("also_ok", {})
        said = {entry: tuple(map(str.lower, words)) for entry, words in data.get("said", {}).items()}
        status = str(data["status"])
    except (KeyError, TypeError, AttributeError) as error:
        raise TranscriptError(str(path), f"is no gold of a demo job ({error})") from error
    _refuse_unknown_states(path, gold)
    parts = [_recording(path.parent, recording) for recording in recordings]
    lines = tuple((start, words) for _, spoken in parts for start, _, words in spoken)
    visits = tuple(visit for visit, (_, spoken) in enumerate(parts, 1) for _ in spoken)
    places = {(visit, n): place
              for visit, (_, spoken) in enumerate(parts, 1) for n, place in enumerate(_places(spoken))}  # fmt: skip
    for item in [*gold["steps"], *gold["readings"], *gold["notes"]]:
        if (item.get("visit", 1), item.get("line")) not in places:
            raise TranscriptError(str(path), f"names line {item.get('line')}, which is not spoken: {_short(item)}")
    narration = Narration(name=name, trade=_TRADE, style="plain", voice=parts[0][0], lines=lines, gold=gold,
                          visits=visits)  # fmt: skip
    return DemoGold(narration=narration, said=said, status=status, places=places)


def _places(spoken: Sequence[tuple[float, float, str]]) -> list[Place]:
    starts = [start for start, _, _ in spoken]
    return list(zip(starts, [*starts[1:], starts[-1] + LAST_LINE_S], strict=True))


def _whole(key: str, item: Row) -> Row:
    """A gold item with all keys; an empty string among alternatives stands for none."""
    whole = _KEPT[key] | item
    return {k: [None if x == "" else x for x in v] if k.endswith("_ok") else v for k, v in whole.items()}


def _refuse_unknown_states(path: Path, gold: Row) -> None:
    named = {state for states in gold["also_ok"].values() for state in states} | set(gold["checks"].values())
    wrong = sorted(named - set(STATES)) + sorted(set(load_tables().checks) ^ set(gold["checks"]))
    if wrong:
        raise TranscriptError(str(path), f"states or checks that are none, or lack: {', '.join(wrong)}")


def _recording(folder: Path, name: str) -> tuple[str, list[tuple[float, float, str]]]:
    """The voice of a recording, and its lines as start, end in seconds and words."""
    data, times = _table(folder / f"{name}.toml"), folder / f"{name}.txt"
    try:
        rows = [row.split("\t", 2) for row in times.read_text(encoding="utf-8").splitlines() if row.strip()]
        spoken = [(float(start), float(end), words) for start, end, words in rows]
        said = [str(line["say"]) for line in data["lines"]]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise TranscriptError(str(times), f"cannot be read ({error})") from error
    if [identity(words) for _, _, words in spoken] != [identity(words) for words in said]:
        raise TranscriptError(str(times), f"does not have the lines of {name}.toml", "make the recordings anew")
    return str(data.get("voice", "")), spoken


def _table(path: Path) -> Row:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise TranscriptError(str(path), f"cannot be read ({' '.join(str(error).split())})") from error


def _short(item: Row) -> str:
    return ", ".join(f"{key} {value}" for key, value in item.items() if value is not None)[:80]
