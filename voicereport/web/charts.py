"""Drawings of counts and readings as numbers for the templates; every one has a table beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from voicereport.render import text
from voicereport.render.figures import unit_sign
from voicereport.render.wording import Wording
from voicereport.store.values import Point, Share
from voicereport.web.pages import say

_LONGEST, _SIGN = 46, 6.7  #: signs of a label beside a bar, and the width of one
_LEFT, _RIGHT, _TOP, _BOTTOM, _WIDTH = 46.0, 10.0, 12.0, 24.0, 340.0
_ROW = 26.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Bar:
    """A share with its interval on an axis from none to all; coordinates in the drawing's own units."""

    label: str
    count: str  #: "3 of 17"
    y: float
    low: float
    high: float
    mean: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Bars:
    """Shares under each other."""

    title: str
    alt: str
    width: float
    height: float
    axis: float  #: x of none
    end: float  #: x of all
    bars: tuple[Bar, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Week:
    """A week's column: how many jobs called for it, how many of them lacked it."""

    label: str
    x: float
    width: float
    all_y: float
    all_height: float
    part_y: float
    part_height: float
    shown: bool  #: whether its label stands under it


@dataclass(frozen=True, kw_only=True, slots=True)
class Weeks:
    """Columns by week."""

    title: str
    alt: str
    width: float
    height: float
    base: float
    most: int
    weeks: tuple[Week, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Dot:
    """A reading."""

    x: float
    y: float
    left: bool  #: as left: filled
    value: str
    day: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """A reading of the table beside a course."""

    day: str
    job_id: int
    stage: str
    value: str
    verdict: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Course:
    """Readings of one quantity at one place over time."""

    title: str
    alt: str
    width: float
    height: float
    dots: tuple[Dot, ...]
    path: str
    ticks: tuple[tuple[float, str], ...]  #: (y, label)
    days: tuple[tuple[float, str, str], ...]  #: (x, label, anchor)
    rows: tuple[Row, ...]


def bars(title: str, shares: Sequence[Share], *, labels: Sequence[str] | None = None) -> Bars:
    """Shares as marks with their 95 % intervals."""
    names = labels or [share.title for share in shares]
    longest = min(_LONGEST, max((len(text.shown(name)) for name in names), default=0))
    axis, end = max(120.0, _SIGN * longest + 18), 560.0
    rows = tuple(
        Bar(label=_short(text.shown(name), _LONGEST), count=count_of(share), y=_TOP + n * _ROW + _ROW / 2,
            low=_on(share.low, axis, end), high=_on(share.high, axis, end), mean=_on(share.share, axis, end))
        for n, (share, name) in enumerate(zip(shares, names, strict=True))
    )  # fmt: skip
    told = " ".join(f"{text.shown(name)}: {count_of(share)}." for share, name in zip(shares, names, strict=True))
    height = _TOP + len(rows) * _ROW + 22
    return Bars(title=title, alt=f"{title}. {told}", width=650.0, height=height, axis=axis, end=end, bars=rows)


def count_of(share: Share) -> str:
    """ "3 of 17"."""
    return say("chart", "count", part=share.skipped, all=share.applicable)


def _on(share: float, axis: float, end: float) -> float:
    return round(axis + share * (end - axis), 1)


def _short(label: str, most: int) -> str:
    return label if len(label) <= most else label[: most - 1] + "…"


def weeks(title: str, shares: Sequence[Share]) -> Weeks:
    """Counts by week, the part that lacked it filled."""
    width, height, base = 650.0, 150.0, 126.0
    most = max((share.applicable for share in shares), default=1) or 1
    step = min(60.0, (width - _LEFT - _RIGHT) / max(1, len(shares)))
    every = max(1, math.ceil(len(shares) / 13))
    columns = []
    for n, share in enumerate(shares):
        whole, part = ((base - _TOP) * count / most for count in (share.applicable, share.skipped))
        columns.append(Week(
            label=share.key[2:].replace("-W", "/"), x=round(_LEFT + n * step + step * 0.15, 1),
            width=round(step * 0.7, 1), all_y=round(base - whole, 1), all_height=round(whole, 1),
            part_y=round(base - part, 1),
            part_height=round(part, 1), shown=n % every == 0,
        ))  # fmt: skip
    told = " ".join(f"{share.key}: {count_of(share)}." for share in shares)
    return Weeks(title=title, alt=f"{title}. {told}", width=width, height=height, base=base, most=most,
                 weeks=tuple(columns))  # fmt: skip


def course(subject: str, quantity: str, unit: str, points: Sequence[Point], wording: Wording) -> Course:
    """Readings over time: as found open, as left filled."""
    sign = unit_sign(unit) if unit else ""
    place = text.shown(subject)
    title = text.capital(quantity if not place else place if quantity in place else f"{place}, {quantity}")
    values = [p.value for p in points]
    low, high = min(values), max(values)
    margin = (high - low) * 0.12 or abs(high) * 0.1 or 1.0
    low, high = low - margin, high + margin
    first, last = (p.at.timestamp() for p in (points[0], points[-1]))
    height, base = 130.0, 104.0

    def x_of(p: Point) -> float:
        share = 0.5 if last == first else (p.at.timestamp() - first) / (last - first)
        return round(_LEFT + 12 + share * (_WIDTH - _LEFT - _RIGHT - 24), 1)

    def y_of(value: float) -> float:
        return round(base - (value - low) / (high - low) * (base - _TOP), 1)

    def told(p: Point) -> str:
        return text.number(p.value) + (f"{text.NO_BREAK}{sign}" if sign else "")

    dots = tuple(Dot(x=x_of(p), y=y_of(p.value), left=p.stage == "as_left", value=told(p), day=p.at.date().isoformat())
                 for p in points)  # fmt: skip
    path = "M" + "L".join(f"{d.x} {d.y}" for d in dots)
    ticks = tuple((y_of(v), text.number(round(v, 3))) for v in sorted({min(values), max(values)}))
    days = ((dots[0].x, dots[0].day, "start"),) + (((dots[-1].x, dots[-1].day, "end"),) if first != last else ())
    rows = tuple(Row(day=p.at.date().isoformat(), job_id=p.job_id, stage=wording.word("stage", p.stage or "process"),
                     value=told(p), verdict=wording.tables["verdict"].get(p.verdict, p.verdict))
                 for p in points)  # fmt: skip
    alt = f"{title}. " + " ".join(f"{d.day}: {d.value}." for d in dots)
    return Course(title=title, alt=alt, width=_WIDTH, height=height, dots=dots, path=path, ticks=ticks, days=days,
                  rows=rows)  # fmt: skip
