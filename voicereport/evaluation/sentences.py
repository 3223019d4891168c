"""Answers to single sentences scored against their gold.

An answer is a fragment of a report in the contract's terms: checks for a safety sentence, steps for status, readings
for reading, ledger items for count, job fields and part numbers for identity.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from voicereport.evaluation.matching import Row, Share, Tally, add, add_shares, compare, detail, pair
from voicereport.evaluation.names import Names
from voicereport.evaluation.reported import Reported, bare
from voicereport.evaluation.same import Same
from voicereport.evaluation.tables import PRESSURES, STATUSES, load_tables

SENTENCE_METRICS = {
    "safety": "safety: confirms",
    "status": "status: action, part, status",
    "status_loose": "status: action, part",
    "reading": "reading: quantity, value, unit",
    "reading_full": "reading: with subject and stage",
    "count": "count: part, count, holds, in/out",
    "identity": "identity",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class SentenceScore:
    """One sentence."""

    id: str
    kind: str
    right: bool  #: wholly right, and answered
    tallies: dict[str, Tally]
    group: str = ""  #: the status of a status sentence, the field of an identity sentence
    hit: bool = False
    references: Share = field(default_factory=Share)
    confirmed: bool = False  #: safety: whether the answer confirms the check
    confirms: bool = False  #: safety: whether it should
    stop: bool = False  #: safety: whether the check is stop-level


@dataclass(frozen=True, kw_only=True, slots=True)
class SentencesScore:
    """All sentences of a corpus."""

    scores: tuple[SentenceScore, ...]
    tallies: dict[str, Tally]
    references: Share
    exact: dict[str, Share]  #: wholly right, by kind
    by_status: dict[str, Share]
    by_field: dict[str, Share]
    false_confirms: tuple[Row, ...]
    missed_confirms: tuple[Row, ...]
    wrong: dict[str, tuple[str, ...]]  #: ids, by kind
    missing: tuple[str, ...]
    problems: tuple[str, ...]


def score_sentences(sentences: Sequence[Row], answers: Mapping[str, object], names: Names) -> SentencesScore:
    """Every sentence against its answer, a JSON value by the sentence's id. To say nothing is an answer, too."""
    problems: list[str] = []
    same, known = Same(names), {s["id"] for s in sentences}
    problems += [f"no sentence {key!r}; left out" for key in answers if key not in known]
    scores = []
    for s in sentences:
        report = Reported(answers.get(s["id"], {}), s["id"], problems.append)
        scores.append(_SCORERS[s["kind"]](s, report, same, answered=s["id"] in answers))
    kinds = list(dict.fromkeys(s["kind"] for s in sentences))
    return SentencesScore(
        scores=tuple(scores),
        tallies={m: add(r.tallies[m] for r in scores if m in r.tallies) for m in SENTENCE_METRICS},
        references=add_shares(r.references for r in scores),
        exact={kind: _share([r.right for r in scores if r.kind == kind]) for kind in kinds},
        by_status={status: _share([r.hit for r in scores if r.kind == "status" and r.group == status])
                   for status in STATUSES},
        by_field=_by_field(scores),
        false_confirms=_safety(sentences, scores, lambda r: r.confirmed and not r.confirms),
        missed_confirms=_safety(sentences, scores, lambda r: r.confirms and not r.confirmed),
        wrong={kind: tuple(r.id for r in scores if r.kind == kind and not r.right) for kind in kinds},
        missing=tuple(s["id"] for s in sentences if s["id"] not in answers),
        problems=tuple(dict.fromkeys(problems)),
    )  # fmt: skip


def _score_safety(s: Row, report: Reported, same: Same, *, answered: bool) -> SentenceScore:
    yes, wanted = report.states().get(s["check"]) == "confirmed", bool(s["confirms"])
    tally = Tally(hit=int(yes and wanted), gold=int(wanted), said=int(yes))
    return SentenceScore(id=s["id"], kind="safety", right=yes == wanted and answered, tallies={"safety": tally},
                         confirmed=yes, confirms=wanted, stop=s["check"] in load_tables().stop)  # fmt: skip


def _score_status(s: Row, report: Reported, same: Same, *, answered: bool) -> SentenceScore:
    rows = report.rows("steps")
    hit, loose = bool(pair([s], rows, same.step)), bool(pair([s], rows, same.step_loose))
    tallies = {"status": Tally(hit=int(hit), gold=1, said=len(rows)),
               "status_loose": Tally(hit=int(loose), gold=1, said=len(rows))}  # fmt: skip
    right = hit and len(rows) == 1 and answered
    return SentenceScore(id=s["id"], kind="status", right=right, tallies=tallies, group=s["status"], hit=hit)


def _score_reading(s: Row, report: Reported, same: Same, *, answered: bool) -> SentenceScore:
    rows, gold = report.rows("readings"), s["readings"]
    tally, _ = compare(gold, rows, same.reading)
    full, _ = compare(gold, rows, same.reading_full)
    pressures = [r for r in gold if r["quantity"] in PRESSURES]
    references = detail(pressures, rows, same.reading, same.reading_reference)
    return SentenceScore(id=s["id"], kind="reading", right=_whole(tally) and answered, references=references,
                         tallies={"reading": tally, "reading_full": full})  # fmt: skip


def _score_count(s: Row, report: Reported, same: Same, *, answered: bool) -> SentenceScore:
    tally, _ = compare(s["items"], report.counted(), same.count)
    return SentenceScore(id=s["id"], kind="count", right=_whole(tally) and answered, tallies={"count": tally})


def _score_identity(s: Row, report: Reported, same: Same, *, answered: bool) -> SentenceScore:
    found = report.job()
    numbers = [bare(p.get("part_number")) for p in report.rows("parts_used") if bare(p.get("part_number"))]
    said = numbers if s["field"] == "part_number" else [found[s["field"]]] if s["field"] in found else []
    hit = len(said) == 1 and same.field(s["field"], s["value"], said[0])
    tally = Tally(hit=int(hit), gold=1, said=len(numbers) + len(found))
    return SentenceScore(id=s["id"], kind="identity", right=hit and answered, tallies={"identity": tally},
                         group=s["field"], hit=hit)  # fmt: skip


_SCORERS: dict[str, Callable[..., SentenceScore]] = {
    "safety": _score_safety,
    "status": _score_status,
    "reading": _score_reading,
    "count": _score_count,
    "identity": _score_identity,
}


def _whole(tally: Tally) -> bool:
    return tally.hit == tally.gold == tally.said


def _share(marks: list[bool]) -> Share:
    return Share(right=sum(marks), of=len(marks))


def _by_field(scores: Sequence[SentenceScore]) -> dict[str, Share]:
    fields = dict.fromkeys(r.group for r in scores if r.kind == "identity")
    return {f: _share([r.hit for r in scores if r.kind == "identity" and r.group == f]) for f in fields}


def _safety(
    sentences: Sequence[Row], scores: Sequence[SentenceScore], test: Callable[[SentenceScore], bool]
) -> tuple[Row, ...]:
    rows = [
        {k: s.get(k, "") for k in ("id", "check", "say", "context", "why")} | {"stop": r.stop}
        for s, r in zip(sentences, scores, strict=True)
        if r.kind == "safety" and test(r)
    ]
    return tuple(sorted(rows, key=lambda row: (not row["stop"], row["id"])))
