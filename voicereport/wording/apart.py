"""Numbers whose unit does not stand beside them: said once for several, said apart, or said of another value."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from voicereport.trades.spoken_units import SpokenUnit, shipped_units
from voicereport.wording.lexemes import DIGITS, OHS, ZEROS, Lexeme
from voicereport.wording.number_words import Parsed
from voicereport.wording.numbers import scanned_words
from voicereport.wording.unit_words import (
    Measured,
    in_unit,
    is_open_sign,
    is_size,
    phrase_at,
    phrase_before,
    qualifier_before,
)

_BELOW_ZERO = frozenset({"temperature", "temperature_difference", "pressure", "voltage"})  #: what may be negative
_LONGEST_PLACE = 4  #: words between a value and its digits: "thirty one degrees in the cabinet, three one"
_UNLENT = frozenset({"time", "length", "other"})  #: a bare number beside one of these is seldom another of them


@dataclass(frozen=True, kw_only=True, slots=True)
class _Apart:
    """A unit alone between two pauses, over lexemes [start, end)."""

    unit: SpokenUnit
    start: int
    end: int
    several: bool  #: it is of all numbers before it ("all Celsius"), not of the last one only


def with_units_apart(
    lexemes: Sequence[Lexeme], numbers: Sequence[Parsed], found: list[Measured], setting: str
) -> list[Measured]:
    """`found` with the numbers whose unit comes after a pause: "nineteen in there, Celsius", "two, five, all ohms"."""
    out = list(found)
    for apart in _units_apart(lexemes, found):
        since = max((m.end for m in out if m.end <= apart.start), default=0)
        bare = [n for n in numbers if since <= n.start and n.end <= apart.start and _is_plain(n)]
        bare = bare if apart.several else bare[-1:]
        for number in bare:
            if not _stands_alone(lexemes, number.end):
                continue
            measured = in_unit(lexemes, number, apart.unit, number.end, setting)
            last = apart.end if number is bare[-1] else -1
            if not is_open_sign(lexemes, measured):
                out.append(replace(measured, unit_from="apart", last=last))
    return sorted(out, key=lambda m: m.start)


def _units_apart(lexemes: Sequence[Lexeme], found: Sequence[Measured]) -> Iterator[_Apart]:
    """Each unit that a pause parts from its number, alone but for words such as "all", "that's", "that is"."""
    lists = shipped_units().lists
    for start in (i for i in range(1, len(lexemes)) if lexemes[i - 1].broken):
        at = start + 1 if lexemes[start].word in ("and", "so", "but") and not lexemes[start].broken else start
        led = phrase_at(lexemes, at, lists["apart.all"])
        several = led is not None
        led = led or phrase_at(lexemes, at, lists["apart.lead"]) or at
        unit = _longest_unit(lexemes, led)
        paused = led > start and lexemes[led - 1].broken
        if unit is None or paused or any(m.start <= led < m.end for m in found):
            continue
        end = unit[1]
        if not _at_pause(lexemes, end) and (lexemes[end].word,) not in lists["lent.between"]:
            tail = phrase_at(lexemes, end, lists["apart.after"])
            if tail is None:
                continue
            end = tail
        yield _Apart(unit=unit[0], start=start, end=end, several=several)


def _longest_unit(lexemes: Sequence[Lexeme], i: int) -> tuple[SpokenUnit, int] | None:
    """The unit whose words start at i, and where it ends."""
    units, words = shipped_units(), []
    best = None
    for at in range(i, min(len(lexemes), i + units.longest)):
        words.append(lexemes[at].word)
        found = units.words.get(tuple(words))
        if found is not None and len("".join(words)) > 1:
            best = found, at + 1
        if lexemes[at].broken:
            break
    return best


def _at_pause(lexemes: Sequence[Lexeme], i: int) -> bool:
    return i >= len(lexemes) or lexemes[i - 1].broken


def _is_plain(number: Parsed) -> bool:
    return not number.weak and number.style not in ("clock", "ordinal")


def _stands_alone(lexemes: Sequence[Lexeme], i: int) -> bool:
    """No word comes at i that the number before it may count."""
    lists = shipped_units().lists
    return (
        _at_pause(lexemes, i)
        or (lexemes[i].word,) in lists["sizes.stops"]
        or (lexemes[i].word,) in lists["numbers.after_minutes"]
        or any(phrase_at(lexemes, i, lists[f"qualifiers.after_{n}"]) for n in ("about", "at_most", "at_least"))
    )


def said_once(lexemes: Sequence[Lexeme], numbers: Sequence[Parsed], found: Sequence[Measured]) -> list[Measured]:
    """`found` with a number that was said again digit by digit made one: "sixteen, one six, ohms"."""
    out: list[Measured] = []
    for measured in found:
        if out and _repeats(lexemes, out[-1].end, out[-1], measured):
            measured = replace(measured, first=_first(out.pop()))
        out.append(measured)
    return [_with_repeat(lexemes, numbers, m, found) for m in out]


def said_again(tokens: Sequence[str]) -> frozenset[int]:
    """The first token of each number of a sentence that only says the one before it again: "seventy, seven zero"."""
    lexemes, numbers = scanned_words(tuple(tokens))
    return frozenset(lexemes[b.start].token for a, b in pairwise(numbers) if _repeats(lexemes, a.end, a, b))


def _with_repeat(
    lexemes: Sequence[Lexeme], numbers: Sequence[Parsed], found: Measured, all_found: Sequence[Measured]
) -> Measured:
    """`found` over a bare number beside it that says it again: "fifty ohms, five zero"."""
    bare = [n for n in numbers if not any(m.start <= n.start < m.end for m in all_found)]
    after = next((n for n in bare if n.start >= found.end), None)
    if after is not None and _repeats(lexemes, found.end, found, after):
        found = replace(found, last=max(found.last, after.end))
    before = next((n for n in reversed(bare) if n.end <= found.start), None)
    if before is not None and _repeats(lexemes, before.end, before, found):
        found = replace(found, first=before.start)
    return found


def _repeats(lexemes: Sequence[Lexeme], end: int, a: Measured | Parsed, b: Measured | Parsed) -> bool:
    """`b` is `a` said again: as many, with a pause or "that's" between, one of them digit by digit.

    What has no unit of its own may be said in the same words ("zero volts, zero"), and digit by digit after a place,
    too ("thirty one degrees in the cabinet, three one").
    """
    between = tuple(x.word for x in lexemes[end : b.start])
    if a.value != b.value:
        return False
    bare = isinstance(b, Parsed) and isinstance(a, Measured) and lexemes[b.start - 1].broken
    if bare and _ends_there(lexemes, b.end):
        apart = len(between) <= _LONGEST_PLACE and not _spelled(lexemes, a.start, a.end)
        if not between or (apart and _spelled(lexemes, b.start, b.end)):
            return True
    if not lexemes[end - 1].broken:
        return False
    if between and not shipped_units().has("apart.again", between):
        return False
    return bool(between) or _spelled(lexemes, a.start, a.end) != _spelled(lexemes, b.start, b.end)


def _ends_there(lexemes: Sequence[Lexeme], i: int) -> bool:
    """Nothing goes on with the number that ends at i: a pause, or "and" ("one point three and steady")."""
    return _at_pause(lexemes, i) or (lexemes[i].word,) in shipped_units().lists["apart.goes_on"]


def _spelled(lexemes: Sequence[Lexeme], start: int, end: int) -> bool:
    """The number that starts at `start` is said digit by digit."""
    digits = 0
    for lexeme in lexemes[start:end]:
        if not (lexeme.word in DIGITS or lexeme.word in ZEROS or lexeme.word in OHS or lexeme.word == "point"):
            break
        digits += lexeme.word != "point"
    return digits > 1


def _first(found: Measured) -> int:
    return found.first if found.first >= 0 else found.start


def is_denied(lexemes: Sequence[Lexeme], start: int) -> bool:
    """The number that starts at `start` is said not to be: "it wasn't fourteen", "not a fifteen"."""
    lists = shipped_units().lists
    at = start
    while at and not lexemes[at - 1].broken and (lexemes[at - 1].word,) in lists["denied.between"]:
        at -= 1
    return bool(at) and not lexemes[at - 1].broken and (lexemes[at - 1].word,) in lists["denied.words"]


def without_denied(lexemes: Sequence[Lexeme], numbers: Sequence[Parsed], found: Sequence[Measured]) -> list[Measured]:
    """`found` less what is denied; the number said in its place has its unit: "not fifteen volts, fifty"."""
    out: list[Measured] = []
    for measured in found:
        if not is_denied(lexemes, measured.start):
            out.append(measured)
            continue
        instead = next((n for n in numbers if n.start >= measured.end), None)
        if instead is None or any(m.start <= instead.start < m.end for m in found) or not _is_plain(instead):
            continue
        near = lexemes[measured.end - 1].broken and instead.start == measured.end
        if (near or _lends_before(lexemes, instead.start)) and _stands_alone(lexemes, instead.end):
            out.append(_as_lent(measured, instead))
    return out


def with_lent_units(lexemes: Sequence[Lexeme], numbers: Sequence[Parsed], found: list[Measured]) -> list[Measured]:
    """`found` with the bare values set beside one with a unit: "nine volts now, it was only four before"."""
    lenders = [m for m in found if _may_lend(lexemes, m)]
    out = list(found)
    for number in numbers:
        covered = any(_first(m) < number.end and number.start < max(m.end, m.last) for m in out)
        if covered or not _is_plain(number) or is_denied(lexemes, number.start):
            continue
        lender = max((m for m in lenders if m.end <= number.start), key=lambda m: m.end, default=None)
        lender = lender or min((m for m in lenders if m.start >= number.end), key=lambda m: m.start, default=None)
        if lender is None or not _parted(lexemes, lender, number):
            continue
        if lender.unit.quantity == "mass" and not number.value:
            continue  # "until it was at zero" is the gauge
        if number.value < 0 and lender.unit.quantity not in _BELOW_ZERO:
            continue  # "nought point eight amps, and it's down to minus five"
        if _lends_before(lexemes, number.start) and _lends_after(lexemes, number.end):
            out.append(_as_lent(lender, number))
    return sorted(out, key=lambda m: m.start)


def _may_lend(lexemes: Sequence[Lexeme], found: Measured) -> bool:
    """A value that was said with its number: not "before a gram went in", not the size of a thing."""
    if found.unit.quantity in _UNLENT or lexemes[found.start].word in ("a", "an"):
        return False
    return not is_size(lexemes, found.unit, found.end)


def _as_lent(lender: Measured, number: Parsed) -> Measured:
    return replace(
        lender, value=number.value, high=None, decimals=number.decimals, start=number.start, end=number.end,
        first=-1, last=-1, joined=False, qualifier="exact", unit_from="elsewhere",
    )  # fmt: skip


def _parted(lexemes: Sequence[Lexeme], a: Measured, b: Parsed) -> bool:
    """A pause or a word such as "but" parts the two."""
    first, second = (a.end, b.start) if a.end <= b.start else (b.end, a.start)
    return any(x.broken for x in lexemes[first - 1 : second]) or any(
        (x.word,) in shipped_units().lists["lent.between"] for x in lexemes[first:second]
    )


def _lends_before(lexemes: Sequence[Lexeme], start: int) -> bool:
    """The words before a number say that something was as much: "it was only", "I've got about"."""
    lists = shipped_units().lists
    qualified = qualifier_before(lexemes, start)
    at = qualified[1] if qualified is not None else start
    while at and not lexemes[at - 1].broken and (lexemes[at - 1].word,) in lists["lent.stays"]:
        at -= 1
    opening = phrase_before(lexemes, at, lists["lent.before"])
    opening = phrase_before(lexemes, start, lists["lent.before"]) if opening is None else opening
    if opening is None:
        return False
    return not (opening and lexemes[opening - 1].word in ("there", "here") and not lexemes[opening - 1].broken)


def _lends_after(lexemes: Sequence[Lexeme], end: int) -> bool:
    return _at_pause(lexemes, end) or phrase_at(lexemes, end, shipped_units().lists["lent.after"]) is not None
