"""The strip of a pair of readings: every reading a mark on its own scale, the limit as a bracket."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from voicereport.render.figures import Pair, figure, limit_words, limits
from voicereport.render.text import number
from voicereport.render.wording import Wording
from voicereport.report import Reading

# Measures of the drawing, in its own units (a strip is 320 wide and 74 high)
_LEFT, _RIGHT, _OFF_SCALE, _EDGE, _TEXT_END = 44.0, 276.0, 284.0, 10.0, 316.0
_RIGHT_WITH_OFF_SCALE = 216.0
_CLEARANCE = 0.12  # of the span between the outermost figures, at each end of the scale


@dataclass(frozen=True, kw_only=True, slots=True)
class Dot:
    """One reading on a strip."""

    x: float = field(metadata={"help": "from the left edge of the drawing"})
    shape: str = field(metadata={"help": "open (as found), filled (as left) or square (during the work)"})
    text: str = field(metadata={"help": "the value beside it"})
    anchor: str = field(metadata={"help": "which end of the text stands at the mark: middle or end"})
    text_x: float = field(metadata={"help": "where the text stands"})
    above: bool = field(metadata={"help": "the value stands above the line, else below"})
    off_scale: bool = field(metadata={"help": "it has no figure (open circuit) and stands beyond the scale"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Strip:
    """One strip."""

    name: str = field(metadata={"help": "place and quantity"})
    alt: str = field(metadata={"help": "the strip in words"})
    end: float = field(metadata={"help": "where the scale's line ends"})
    dots: tuple[Dot, ...] = field(metadata={"help": "the readings, as found first"})
    low: float | None = field(metadata={"help": "x of the bracket's left end; None = no lower limit"})
    high: float | None = field(metadata={"help": "x of the bracket's right end; None = no upper limit"})
    low_text: str = field(metadata={"help": "the lower limit"})
    high_text: str = field(metadata={"help": "the upper limit"})
    label_x: float | None = field(metadata={"help": "where the limits stand as one text; None = one at each end"})
    label: str = field(metadata={"help": "both limits in one text"})


def strips(pairs: tuple[Pair, ...], wording: Wording) -> tuple[Strip, ...]:
    """A strip for every pair that has two figures or a figure and a limit; one figure alone has no scale."""
    return tuple(strip for pair in pairs if (strip := _strip(pair, wording)) is not None)


def _strip(pair: Pair, wording: Wording) -> Strip | None:
    low, high, unit = limits(pair.deciding)
    if low is None and high is None:
        low, high, unit = limits(pair.readings[0])
    figures = [r.value for r in pair.readings if r.value is not None]
    units = {r.unit for r in pair.readings if r.unit is not None}
    if len(units) > 1:
        return None
    if unit not in units and units:
        low = high = None  # another unit than the scale's: the bracket would lie
    points = figures + [v for v in (low, high) if v is not None]
    if not figures or len(points) < 2:
        return None
    off_scale = len(figures) < len(pair.readings)
    right = _RIGHT_WITH_OFF_SCALE if off_scale else _RIGHT
    least, most = min(points), max(points)
    span = (most - least) or abs(most) or 1.0
    least, most = least - span * _CLEARANCE, most + span * _CLEARANCE

    def x(value: float) -> float:
        return round(_LEFT + (value - least) / (most - least) * (right - _LEFT), 1)

    low_x, high_x = (None if v is None else x(v) for v in (low, high))
    tight = low_x is not None and high_x is not None and high_x - low_x < 24
    return Strip(
        name=pair.name,
        alt=_alt(pair, wording),
        end=right + _LEFT - _EDGE if not off_scale else right + _EDGE,
        dots=tuple(_dot(r, x, wording) for r in pair.readings),
        low=low_x,
        high=high_x,
        low_text="" if low is None else number(low),
        high_text="" if high is None else number(high),
        label_x=round(((low_x or 0) + (high_x or 0)) / 2, 1) if tight else None,
        label=f"{number(low)}–{number(high)}" if low is not None and high is not None else "",
    )


def _dot(reading: Reading, x: Callable[[float], float], wording: Wording) -> Dot:
    shape = {"as_found": "open", "as_left": "filled"}.get(reading.stage or "", "square")
    off = reading.value is None
    at = _OFF_SCALE if reading.value is None else x(reading.value)
    return Dot(
        x=at,
        shape=shape,
        text=figure(reading, wording).words,
        anchor="end" if off else "middle",
        text_x=_TEXT_END if off else at,
        above=shape != "filled",
        off_scale=off,
    )


def _alt(pair: Pair, wording: Wording) -> str:
    parts = []
    for key, reading in (("found", pair.found), ("left", pair.left), ("process", pair.process)):
        if reading is not None:
            parts.append(wording.sentence(f"strip_alt_{key}", value=figure(reading, wording).words))
    limit = limit_words(pair.deciding, wording)
    if limit:
        parts.append(wording.sentence("strip_alt_limit", value=limit))
    return wording.sentence("strip_alt", name=pair.name, parts=" ".join(parts))
