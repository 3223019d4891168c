"""Values of two parts in the smaller unit: "an hour and ten", "four minutes thirty", "two pounds six ounces"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from voicereport.trades.spoken_units import SpokenUnit, shipped_units
from voicereport.wording.lexemes import Lexeme
from voicereport.wording.number_words import Parsed
from voicereport.wording.unit_words import Measured, unit_at


def _minutes(value: Decimal, unit: str) -> Decimal:
    return value * 60 if unit == "h" else value


#: UCUM codes of a larger unit, of the smaller one said after it, and how many of these are in it
_PARTS = (("[lb_av]", "[oz_av]", 16), ("kg", "g", 1000), ("[ft_i]", "[in_i]", 12), ("m", "cm", 100))


def in_parts(lexemes: Sequence[Lexeme], found: Measured, numbers: dict[int, Parsed]) -> Measured:
    """`found` with the smaller unit after it: "two pounds six ounces" is 38 oz, "an hour and ten" 70 min."""
    for large, small, times in _PARTS:
        number = numbers.get(found.end)
        if found.code != large or number is None or found.value != int(found.value) or lexemes[found.end - 1].broken:
            continue
        unit = unit_at(lexemes, number.end, shipped_units(), number)
        if unit is not None and unit[0].code == small and 0 < number.value < times:
            return _as_smaller(found, found.value * times + number.value, small, unit[1], number.decimals)
    return as_duration(lexemes, found, numbers)


def as_duration(lexemes: Sequence[Lexeme], found: Measured, numbers: dict[int, Parsed]) -> Measured:
    """Hours with minutes after them as minutes, minutes with seconds as seconds ("an hour and ten", "hour five")."""
    if found.code not in ("h", "min"):
        return found
    smaller = "min" if found.code == "h" else "s"
    whole = found.value == int(found.value)
    end = found.end
    if end < len(lexemes) and not lexemes[end - 1].broken and whole:
        at = end + 1 if lexemes[end].word == "and" else end
        fraction = _duration_fraction(lexemes, at, numbers) if at > end else None
        if fraction is not None:
            value = (found.value + fraction[0]) * 60
            return _as_smaller(found, value, smaller, fraction[1])
        number = numbers.get(at)
        if number is not None and number.style in ("cardinal", "pair") and 0 < number.value < 60:
            unit = unit_at(lexemes, number.end, shipped_units(), number)
            if unit is not None and unit[0].code == smaller:
                return _as_smaller(found, found.value * 60 + number.value, smaller, unit[1])
            if unit is None and found.code == "h" and not (at > end and noun_follows(lexemes, number.end)):
                return _as_smaller(found, found.value * 60 + number.value, smaller, number.end)
            if unit is None and at == end and number.value >= 5 and _is_told(lexemes, number.end):
                return _as_smaller(found, found.value * 60 + number.value, smaller, number.end)
    own = lexemes[found.start : found.end]
    decimal = any(x.word == "point" or "." in (x.written or "") for x in own)
    if not whole and found.code == "h" and _is_simple_fraction(found.value) and not decimal:
        return _as_smaller(found, found.value * 60, "min", found.end)
    return found


def _is_simple_fraction(value: Decimal) -> bool:
    return (value * 4) % 1 == 0


def _as_smaller(found: Measured, value: Decimal, smaller: str, end: int, decimals: int | None = None) -> Measured:
    unit = next(u for u in shipped_units().units if u.code == smaller)
    places = found.decimals if decimals is None else decimals
    return replace(found, value=value, decimals=0 if value == int(value) else places, code=smaller, unit=unit, end=end)


def _is_told(lexemes: Sequence[Lexeme], i: int) -> bool:
    """Nothing follows that a number ending at i may count or belong to: "four minutes thirty, that fill took"."""
    if i >= len(lexemes) or lexemes[i - 1].broken:
        return True
    return shipped_units().has("numbers.after_seconds", (lexemes[i].word,))


def _duration_fraction(lexemes: Sequence[Lexeme], at: int, numbers: dict[int, Parsed]) -> tuple[Decimal, int] | None:
    """ "(an hour and) a half", "(an hour and) three quarters"."""
    number = numbers.get(at)
    if number is not None and number.style == "fraction" and number.value < 1:
        return number.value, number.end
    return None


def noun_follows(lexemes: Sequence[Lexeme], i: int) -> bool:
    """A word follows that the number may count ("an hour and four screws")."""
    if i >= len(lexemes) or lexemes[i - 1].broken or not lexemes[i].word.isalpha():
        return False
    return not shipped_units().has("numbers.after_minutes", (lexemes[i].word,))


def bare_hours(lexemes: Sequence[Lexeme], numbers: dict[int, Parsed], taken: set[int]) -> list[Measured]:
    """ "hour five", "hour and a half": an hour without a number before it."""
    out = []
    unit = next((u for u in shipped_units().units if u.code == "h"), None)
    for i, lexeme in enumerate(lexemes):
        if (
            unit is None
            or i in taken
            or (lexeme.word,) not in unit.spoken
            or lexeme.broken
            or lexeme.word.endswith("s")
        ):
            continue
        if i and (
            lexemes[i - 1].word
            in ("a", "an", "half", "per", "quarter", "of", "the", "each", "every", "this", "last", "next")
            or i - 1 in taken
        ):
            continue
        one = Measured(
            value=Decimal(1), decimals=0, unit=unit, code="h", quantity="time", reference=None, start=i, end=i + 1
        )
        longer = as_duration(lexemes, one, numbers)
        if longer.end > one.end:
            out.append(longer)
    return out


def is_implausible(lexemes: Sequence[Lexeme], number: Parsed, unit: SpokenUnit) -> bool:
    """ "two ten minutes": two numbers rather than one of that size."""
    return number.style == "pair" and unit.quantity == "time" and number.value >= 200
