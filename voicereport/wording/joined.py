"""Numbers that belong together: one unit for several, corrections, ranges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from voicereport.trades.spoken_units import shipped_units
from voicereport.wording.durations import noun_follows
from voicereport.wording.lexemes import Lexeme
from voicereport.wording.number_words import Parsed
from voicereport.wording.unit_words import Measured, is_size, phrase_at, phrase_before, qualifier_before


def _between(lexemes: Sequence[Lexeme], start: int, end: int) -> tuple[str, ...]:
    """The words of lexemes [start, end)."""
    return tuple(x.word for x in lexemes[start:end])


def with_shared_unit(lexemes: Sequence[Lexeme], numbers: Sequence[Parsed], found: list[Measured]) -> list[Measured]:
    """`found` with the numbers before each that share its unit: "six point two, six point three ohms"."""
    out: list[Measured] = []
    covered = {i for m in found for i in range(m.start, m.end)}
    for measured in found:
        chain: list[Measured] = []
        start = measured.start
        while True:
            before = next((n for n in numbers if n.end <= start and not ({*range(n.start, n.end)} & covered)
                           and _joins(lexemes, n.end, start)), None)  # fmt: skip
            if (
                before is None
                or before.weak
                or before.style in ("clock", "ordinal")
                or is_size(lexemes, measured.unit, measured.end)
            ):
                break
            if measured.quantity == "time" and measured.code != measured.unit.code:
                break
            chain.insert(0, replace(measured, value=before.value, decimals=before.decimals, start=before.start,
                                    end=before.end, joined=True))  # fmt: skip
            start = before.start
        out += [*chain, measured]
    return out


def _joins(lexemes: Sequence[Lexeme], end: int, start: int) -> bool:
    """Only a comma, "and", "or", "to", or words of correction stand in lexemes [end, start)."""
    units = shipped_units()
    words = _between(lexemes, end, start)
    if not words:
        return end == start and lexemes[end - 1].broken
    if (
        words in (("and",), ("then",), ("and", "then"))
        or units.has("ranges.join", words)
        or units.has("ranges.either", words)
    ):
        return True
    return _corrects(lexemes, end, start) is not None


def _corrects(lexemes: Sequence[Lexeme], end: int, start: int) -> bool | None:
    """True where lexemes [end, start) are words of correction; None where they are not."""
    units = shipped_units()
    end = _after_place(lexemes, end, start)
    fillers = units.lists["corrections.fillers"]
    words = [w for w in _between(lexemes, end, start) if (w,) not in fillers]
    # "no", "actually" and the like correct only where the speaker breaks off for them
    if not words or not (lexemes[end - 1].broken or len(words) > 1 or words[0] in ("correction", "sorry")):
        return None
    best = units.has("corrections.words", words) or _breaks_off(lexemes, end, start)
    if not best:
        qualified = qualifier_before(lexemes, start)
        if qualified is not None and qualified[1] >= end:
            rest = [w for w in _between(lexemes, end, qualified[1]) if (w,) not in fillers]
            best = bool(rest) and units.has("corrections.words", rest)
    return True if best else None


def _after_place(lexemes: Sequence[Lexeme], end: int, start: int) -> int:
    """Where the words that say where a value was read end: "(seven bar) on the high side, (no, nine)"."""
    if lexemes[end - 1].broken or (lexemes[end].word,) not in shipped_units().lists["corrections.places"]:
        return end
    pause = next((i + 1 for i in range(end, min(start, end + 6)) if lexemes[i].broken), end)
    return pause if pause < start else end


def _breaks_off(lexemes: Sequence[Lexeme], end: int, start: int) -> bool:
    """ "(ten bar,) no, wrong gauge, (eight)": a word of correction that stands alone, and a few words that say why."""
    opener = phrase_at(lexemes, end, shipped_units().lists["corrections.openers"])
    if opener is None or not lexemes[end - 1].broken or not lexemes[opener - 1].broken:
        return False
    near = start - opener <= (6 if lexemes[start - 1].broken else 2)
    return near and all(x.kind == "word" for x in lexemes[opener:start])


def without_retracted(lexemes: Sequence[Lexeme], numbers: Sequence[Parsed], found: list[Measured]) -> list[Measured]:
    """`found` less what was taken back; what replaced it reaches back over the retracted words."""
    out: list[Measured] = []
    for measured in found:
        at = measured
        while out and not _far(out[-1], at) and _corrects(lexemes, out[-1].end, at.start) and _same_kind(out[-1], at):
            gone = out.pop()
            at = replace(at, first=gone.first if gone.first >= 0 else gone.start)
        out.append(at)
    return [_bare_correction(lexemes, numbers, m, out) for m in out]


def _far(before: Measured, after: Measured) -> bool:
    return before.end > after.start


def _same_kind(a: Measured, b: Measured) -> bool:
    return a.unit.quantity == b.unit.quantity


def _bare_correction(
    lexemes: Sequence[Lexeme], numbers: Sequence[Parsed], found: Measured, all_found: Sequence[Measured]
) -> Measured:
    """ "forty ohms, sorry, forty four": the bare number takes the place and the unit of the one before."""
    nearest = next((n for n in numbers if n.start >= found.end), None)
    if (
        nearest is None
        or nearest.weak
        or nearest.style in ("clock", "ordinal")
        or any(m.start <= nearest.start < m.end for m in all_found)
    ):
        return found
    if not _corrects(lexemes, found.end, nearest.start) or noun_follows(lexemes, nearest.end):
        return found
    first = found.first if found.first >= 0 else found.start
    code, unit = found.code, found.unit
    if code == "h" and nearest.value >= 10:
        code = "min"
        unit = next(u for u in shipped_units().units if u.code == "min")
    return replace(
        found,
        value=nearest.value,
        decimals=nearest.decimals,
        start=nearest.start,
        end=nearest.end,
        first=first,
        code=code,
        unit=unit,
    )


def with_ranges(lexemes: Sequence[Lexeme], found: list[Measured]) -> list[Measured]:
    """`found` with the two ends of each range made one."""
    out: list[Measured] = []
    two = len(found) == 2  # of more than two values side by side none is the end of a range
    for measured in found:
        if out and _same_kind(out[-1], measured) and out[-1].qualifier != "range":
            joined = _range(lexemes, out[-1], measured, two=two)
            if joined is not None:
                out[-1] = joined
                continue
        out.append(measured)
    return out


def _range(lexemes: Sequence[Lexeme], low: Measured, high: Measured, *, two: bool) -> Measured | None:
    """The range from `low` to `high` where the words between and before make it one."""
    units = shipped_units()
    middle = _between(lexemes, low.end, high.start)
    if low.joined is False and low.code != high.code:
        return None
    lead_start = phrase_before(lexemes, low.start, units.lists["ranges.open"])
    lead = _between(lexemes, lead_start, low.start) if lead_start is not None else ()
    if lead and lead[-1] == "between":
        if not units.has("ranges.join_between", middle):
            return None
    elif units.has("ranges.join", middle):
        if low.value >= high.value or (lead and _changes(lexemes, lead_start or 0)) or _changes(lexemes, low.start):
            return None
    elif not (
        low.joined
        and low.value < high.value
        and (units.has("ranges.either", middle) or (two and _either(low, high, middle)))
    ):
        return None
    a, b = sorted((low.value, high.value))
    first = lead_start if lead_start is not None else low.start
    return replace(high, value=a, high=b, decimals=max(low.decimals, high.decimals), start=low.start, first=first,
                   qualifier="range")  # fmt: skip


def _either(low: Measured, high: Measured, middle: Sequence[str]) -> bool:
    """ "ten, twelve minutes": a time that nobody measured, said as two whole numbers near each other."""
    whole = low.value == int(low.value) and high.value == int(high.value)
    return not middle and whole and high.unit.quantity == "time" and low.value > 3 and high.value <= low.value * 2


def _changes(lexemes: Sequence[Lexeme], i: int) -> bool:
    """A verb of change before i: "went from 400 to 600" are two values."""
    words = shipped_units().lists["ranges.change"]
    return any((x.word,) in words for x in lexemes[max(0, i - 3) : i])
