"""An evaluation as lines of text, and as a JSON value."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any

from voicereport.evaluation.figures import Figure
from voicereport.evaluation.matching import Row, Tally
from voicereport.evaluation.narrations import DETAILS, METRICS, NarrationsScore, WrongState
from voicereport.evaluation.run import Evaluation
from voicereport.evaluation.sentences import SENTENCE_METRICS, SentencesScore
from voicereport.evaluation.tables import STATES


def lines_of(evaluation: Evaluation, *, misses: bool) -> Iterator[str]:
    """The account, line by line. misses: with what each narration and sentence missed and invented."""
    yield from (_figure(figure) for figure in evaluation.figures)
    if evaluation.words:
        speed = evaluation.words / evaluation.seconds if evaluation.seconds else 0.0
        yield f"{'words a second, one process':42}{speed:10.0f}   ({evaluation.words} words)"
    yield from (f"refused: {fault}" for fault in evaluation.faults)
    if evaluation.narrations:
        yield from _narrations(evaluation.narrations, misses=misses)
    if evaluation.sentences:
        yield from _sentences(evaluation.sentences, misses=misses)


def json_of(evaluation: Evaluation) -> Row:
    """The evaluation as JSON can hold it."""
    data = _plain(evaluation)
    if not isinstance(data, dict):
        raise TypeError(type(data))
    return data


def _figure(figure: Figure) -> str:
    if figure.value is None or figure.low is None or figure.high is None:
        return f"{figure.title:42}{'-':>10}"
    interval = f"{100 * figure.low:.1f} to {100 * figure.high:.1f} %"
    if figure.counts:
        return f"{figure.title:42}{figure.value:10.0f}   of {figure.of} occasions; rate {interval}"
    return f"{figure.title:42}{100 * figure.value:10.1f}   {interval}, n = {figure.of}"


def _row(title: str, tally: Tally) -> str:
    columns = "".join(f"{_percent(x):>6}" for x in (tally.precision, tally.recall, tally.f1))
    return f"  {title:36}{columns}   {tally.hit}/{tally.gold}/{tally.said}"


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{100 * share:.1f}"


def _narrations(score: NarrationsScore, *, misses: bool) -> Iterator[str]:
    if score.missing:
        yield f"no report, all counted as missed ({len(score.missing)}): {', '.join(score.missing)}"
    yield from (f"note: {problem}" for problem in score.problems)
    for style, totals in score.styles.items():
        yield ""
        yield f"{style} ({totals.narrations} narrations){'P':>{24 - len(style)}}{'R':>6}{'F1':>6}   hit/gold/said"
        yield from (_row(title, totals.tallies[metric]) for metric, title in METRICS.items())
        for key, title in DETAILS.items():
            share = totals.details[key]
            yield f"  {title:36}{_percent(share.value):>6}   {share.right}/{share.of} of what matched"
        yield (f"  fastener totals exact {totals.fasteners.right}/{totals.fasteners.of}, "
               f"report status right {totals.status.right}/{totals.status.of}, "
               f"check states right {totals.states.right}/{totals.states.of}")  # fmt: skip
        yield (f"  false confirms {totals.false_confirms}, false alarms {totals.false_alarms}, "
               f"waived {totals.waived}")  # fmt: skip
    yield from _confusion(score)
    yield from _listed("false confirms: confirmed in the report, not in the gold", score.false_confirms)
    yield from _listed("waived: lacking in the gold, not applicable or absent in the report", score.waived)
    yield from _listed("false alarms: confirmed in the gold, lacking in the report", score.false_alarms)
    if misses:
        yield from _missed(score)


def _confusion(score: NarrationsScore) -> Iterator[str]:
    yield ""
    yield "check states (rows: gold, columns: report)"
    yield " " * 16 + "".join(f"{state:>16}" for state in (*STATES, "absent"))
    for gold in STATES:
        cells = (score.confusion.get((gold, said), 0) or "." for said in (*STATES, "absent"))
        yield f"{gold:16}" + "".join(f"{cell:>16}" for cell in cells)


def _listed(title: str, rows: tuple[WrongState, ...]) -> Iterator[str]:
    yield ""
    yield f"{title}: {len(rows)} ({sum(row.stop for row in rows)} stop-level)"
    for row in rows:
        level = "stop" if row.stop else "warning"
        yield f"  {level:8}{row.check:30} {row.narration:8} gold {row.gold}, report {row.report}"


def _missed(score: NarrationsScore) -> Iterator[str]:
    yield ""
    for name, result in score.narrations.items():
        for metric in ("steps", "readings", "parts_used_full", "open", "notes", "job"):
            yield from (f"{name} {metric} missed: {item}" for item in result.misses[metric].missed)
            yield from (f"{name} {metric} spurious: {item}" for item in result.misses[metric].spurious)
        if result.fasteners_exact is False:
            yield f"{name} fasteners: gold {list(result.fasteners[0])}, report {list(result.fasteners[1])}"


def _sentences(score: SentencesScore, *, misses: bool) -> Iterator[str]:
    yield ""
    yield f"sentences{'P':>35}{'R':>6}{'F1':>6}   hit/gold/said"
    if score.missing:
        yield f"  no answer, counted as missed ({len(score.missing)}): {', '.join(score.missing)}"
    yield from (f"  note: {problem}" for problem in score.problems)
    yield from (_row(title, score.tallies[metric]) for metric, title in SENTENCE_METRICS.items())
    share = score.references
    yield f"  {'pressures: reference':36}{_percent(share.value):>6}   {share.right}/{share.of} of what matched"
    for title, table in (("wholly right", score.exact), ("by status", score.by_status), ("by field", score.by_field)):
        yield f"  {title}: " + ", ".join(f"{key} {s.right}/{s.of}" for key, s in table.items() if s.of)
    for title, rows in (("false confirms", score.false_confirms), ("missed confirms", score.missed_confirms)):
        yield f"  {title}: {len(rows)} ({sum(row['stop'] for row in rows)} stop-level)"
        for row in rows if misses or title == "false confirms" else ():
            after = f" [after: {row['context']}]" if row["context"] else ""
            yield f"    {'stop' if row['stop'] else 'warning':8}{row['id']} {row['check']}: {row['say']}{after}"
    if misses:
        yield from (f"  {kind} wrong: {' '.join(ids)}" for kind, ids in score.wrong.items() if ids and kind != "safety")


def _plain(value: Any) -> Any:
    if isinstance(value, Tally):
        shares = {"precision": value.precision, "recall": value.recall, "f1": value.f1}
        return shares | {"hit": value.hit, "gold": value.gold, "said": value.said}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {" > ".join(k) if isinstance(k, tuple) else str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(v) for v in value]
    return value
