"""How long the pages' questions to a full store take, and how much memory they need."""

from __future__ import annotations

import random
import resource
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from time import perf_counter, process_time

from voicereport.evaluation.store_fill import MODELS, TECHNICIANS, vocabulary
from voicereport.store import Store
from voicereport.store.values import Edit, JobFilter, SearchQuery
from voicereport.trades import load_trade

Question = Callable[[random.Random], object]
LIST_MS, OVERVIEW_MS, MEMORY_MB = 200, 500, 500  #: what is asked for, at the 95th percentile


@dataclass(frozen=True, kw_only=True, slots=True)
class Timing:
    """How long one kind of question took."""

    name: str
    asked: int
    median_ms: float
    p95_ms: float
    worst_ms: float
    cpu_p95_ms: float  #: of this process alone, whatever else the machine does
    limit_ms: float | None  #: None = none is set

    @property
    def kept(self) -> bool:
        """Whether the limit is kept."""
        return self.limit_ms is None or self.p95_ms <= self.limit_ms


def measure(store: Store, *, trade: str, now: datetime, times: int = 60, seed: int = 11) -> tuple[Timing, ...]:
    """Asks each kind of question `times` times, each with other words, people, weeks and pages."""
    random_ = random.Random(seed)
    return tuple(_time(name, ask, limit, random_, times) for name, limit, ask in _questions(store, trade, now))


def table(timings: Sequence[Timing], memory: float) -> str:
    """The figures as lines of text: milliseconds at the middle, at 95 of 100, at worst, and the limit."""
    lines = [f"{'':34}{'median':>9}{'95 %':>9}{'worst':>9}{'cpu 95 %':>10}{'limit':>8}  (ms)"]
    for t in timings:
        limit = "" if t.limit_ms is None else f"{t.limit_ms:.0f}"
        over = "" if t.kept else "  over"
        lines.append(
            f"{t.name:34}{t.median_ms:9.1f}{t.p95_ms:9.1f}{t.worst_ms:9.1f}{t.cpu_p95_ms:10.1f}{limit:>8}{over}"
        )
    return "\n".join([*lines, f"{'memory':34}{memory:9.0f} MB, limit {MEMORY_MB}"])


def memory_mb() -> float:
    """Most memory that this process has held so far, in MB of 10^6 bytes."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak * 1024 / 1e6


def _time(name: str, ask: Question, limit: float | None, random_: random.Random, times: int) -> Timing:
    took, worked = [], []
    for _ in range(times):
        begin, begin_cpu = perf_counter(), process_time()
        ask(random_)
        took.append((perf_counter() - begin) * 1000)
        worked.append((process_time() - begin_cpu) * 1000)
    took.sort()
    worked.sort()
    p95 = ceil(times * 0.95) - 1
    return Timing(name=name, asked=times, median_ms=took[times // 2], p95_ms=took[p95], cpu_p95_ms=worked[p95],
                  worst_ms=took[-1], limit_ms=limit)  # fmt: skip


def _questions(store: Store, trade: str, now: datetime) -> Iterator[tuple[str, float | None, Question]]:
    for name, ask in (*_lists(store, now), *_searches(store, trade, now)):
        yield name, LIST_MS, ask
    yield "overview", OVERVIEW_MS, lambda r: store.overview.overview(now=now, weeks=r.choice((4, 13, 26, 104)))
    for name, ask in _across(store, now):
        yield name, OVERVIEW_MS, ask
    yield "save an edit", None, lambda r: _edit(store, r, now)


def _lists(store: Store, now: datetime) -> Iterator[tuple[str, Question]]:
    def page(**fields: object) -> object:
        number = int(str(fields.pop("number", 1)))
        return store.jobs.page(JobFilter(**fields), page=number)  # type: ignore[arg-type]

    pages, checks = store.jobs.page(size=50).pages, _checks(store)
    yield "list: newest", lambda r: page()
    yield "list: any page", lambda r: page(number=r.randint(1, pages))
    yield "list: one technician", lambda r: page(technician=_tech(r), number=r.randint(1, 20))
    yield "list: blocked first", lambda r: page(needs_attention=True, order="blocked_first", number=r.randint(1, 20))
    yield "list: by state", lambda r: page(states=(r.choice(("ready", "accepted", "issued")),))
    yield "list: by check", lambda r: page(check=r.choice(checks))
    yield "list: one model", lambda r: page(model=_model(r))
    yield "list: one month", lambda r: page(since=now - timedelta(days=r.randint(30, 700)), until=now)


def _searches(store: Store, trade: str, now: datetime) -> Iterator[tuple[str, Question]]:
    words, _ = vocabulary(random.Random(7))
    parts, checks = sorted({" ".join(part) for part in load_trade(trade).words.parts}), _checks(store)

    def find(**fields: object) -> object:
        return store.search.find(SearchQuery(**fields), page=int(str(fields.pop("number", 1))))  # type: ignore[arg-type]

    yield "search: common word", lambda r: find(words=words[r.randrange(20)])
    yield "search: rare word", lambda r: find(words=words[r.randrange(1000, 5000)])
    yield "search: three words", lambda r: find(words=" ".join(r.choices(words[:200], k=3)))
    yield "search: phrase", lambda r: find(words=f'"{" ".join(r.choices(words[:10], k=2))}"')
    yield "search: beginning of words", lambda r: find(words=words[r.randrange(300)][:2])
    yield "search: part", lambda r: find(part=r.choice(parts))
    yield "search: reading", lambda r: find(quantity="temperature", low=_low(r), high=_low(r) + 1)
    yield "search: work order", lambda r: find(words=f"W{r.randint(1, 99_999):06}")
    yield "search: appliance", lambda r: find(appliance=_model(r))
    yield "search: common word, technician", lambda r: find(words=words[r.randrange(20)], technician=_tech(r))
    yield "search: common word, month", lambda r: find(words=words[r.randrange(20)], **_month(r, now))
    yield "search: common word, reading", lambda r: find(words=words[r.randrange(20)], quantity="resistance", high=6.0)
    yield "search: common word, model", lambda r: find(words=words[r.randrange(20)], appliance=_model(r))
    yield "search: part, check", lambda r: find(part=r.choice(parts), check=r.choice(checks))


def _across(store: Store, now: datetime) -> Iterator[tuple[str, Question]]:
    over, checks = store.overview, _checks(store)
    yield "shares: one technician by check", lambda r: over.shares("check", technician=_tech(r))
    yield "shares: one check by week", lambda r: over.shares("week", check=r.choice(checks))
    yield "shares: by technician, all weeks", lambda r: over.shares("technician")
    yield "skipped jobs", lambda r: over.skipped_jobs(r.choice(checks), page=r.randint(1, 5))
    yield "repeat failures", lambda r: over.repeats()
    yield "repeat failures of a model", lambda r: over.repeats(model=_model(r))
    yield "readings of an appliance", lambda r: over.readings(f"S{r.randrange(60_000):07}")
    yield "appliances by beginning", lambda r: store.jobs.appliances(f"S{r.randrange(60_000):07}"[:5])


def _edit(store: Store, random_: random.Random, now: datetime) -> object:
    ready = JobFilter(states=("ready",))
    pages = min(5, store.jobs.page(ready).pages)
    job = random_.choice(store.jobs.page(ready, page=random_.randint(1, pages)).items)
    edit = Edit(kind="add", path="/findings/-", value="worn", why="forgotten")
    return store.reports.edit(job.id, [edit], expected=job.version, by="office", now=now)


def _checks(store: Store) -> list[str]:
    return [share.key for share in store.overview.shares("check")]


def _tech(random_: random.Random) -> str:
    return f"tech{random_.randrange(TECHNICIANS):02}"


def _model(random_: random.Random) -> str:
    return f"QZ{random_.randrange(MODELS):03}-N"


def _low(random_: random.Random) -> float:
    return random_.uniform(-24, 11)


def _month(random_: random.Random, now: datetime) -> dict[str, datetime]:
    since = now - timedelta(days=random_.randint(30, 700))
    return {"since": since, "until": since + timedelta(days=30)}
