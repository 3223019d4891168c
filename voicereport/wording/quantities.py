"""Numbers with their units as they are spoken: qualifiers, ranges, corrections, shared units, durations, sizes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from itertools import product
from typing import Literal

from voicereport.report import Qualifier, QuantityName, Reference
from voicereport.trades.spoken_units import SpokenUnits, shipped_units
from voicereport.wording.apart import said_once, with_lent_units, with_units_apart, without_denied
from voicereport.wording.durations import bare_hours, in_parts, is_implausible
from voicereport.wording.joined import with_ranges, with_shared_unit, without_retracted
from voicereport.wording.lexemes import DIGITS, OHS, ZEROS, Lexeme, plain_word
from voicereport.wording.number_words import Parsed
from voicereport.wording.numbers import holds_number, scanned_words
from voicereport.wording.unit_words import (
    Measured,
    UnitFrom,
    count_before_size,
    implicit_one,
    in_unit,
    is_open_sign,
    is_size,
    phrase_at,
    qualifier_before,
    read_rkm,
    unit_at,
    unspoken_one,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Quantity:
    """A value with its unit over tokens [first, last)."""

    quantity: QuantityName | None
    value: float | None  #: in `unit`; None for an open or a short circuit
    value_high: float | None
    unit: str | None  #: UCUM
    unit_assumed: bool
    decimals: int | None  #: decimal places spoken
    qualifier: Qualifier
    reference: Reference | None
    spoken: str
    first: int
    last: int
    role: Literal["value", "size"] = "value"  #: size: of a tool or a fastener, no reading
    unit_from: UnitFrom = "beside"  #: where its unit was said


@cache
def _quantities() -> dict[str, QuantityName]:
    out: dict[str, QuantityName] = {}
    for unit in shipped_units().units:
        out.setdefault(unit.code, unit.quantity)
    return out


def quantity_of(unit: str) -> QuantityName:
    """What is measured in `unit` (UCUM), by the spoken units' table; "other" for a unit it lacks."""
    return _quantities().get(unit, "other")


def _qualified(lexemes: Sequence[Lexeme], found: Measured) -> Measured:
    """`found` with the qualifiers before its number and after its unit."""
    first = found.first if found.first >= 0 else found.start
    last = found.last if found.last >= 0 else found.end
    before = qualifier_before(lexemes, found.start if found.first < 0 else first)
    qualifier: Qualifier = found.qualifier
    if before is not None:
        first = min(first, before[1])
        qualifier = before[0] if qualifier == "exact" else qualifier
    elif qualifier == "exact":
        ends = [found.end] if not lexemes[found.end - 1].broken else []
        ends += [found.last] if found.unit_from == "apart" and found.last >= 0 else []
        names: tuple[Qualifier, ...] = ("about", "at_most", "at_least")
        for end, name in product(ends, names):
            stop = phrase_at(lexemes, end, shipped_units().lists[f"qualifiers.after_{name}"])
            if stop is not None:
                qualifier, last = name, max(last, stop)
                break
    return replace(found, qualifier=qualifier, first=first, last=last)


def _with_units(lexemes: Sequence[Lexeme], numbers: Sequence[Parsed], setting: str) -> list[Measured]:
    """Every number that a unit follows."""
    units = shipped_units()
    by_start = {n.start: n for n in numbers}
    out: list[Measured] = []
    taken: set[int] = set()
    for i in range(len(lexemes)):
        if i in taken:
            continue
        number = by_start.get(i) or implicit_one(lexemes, i, units)
        if number is None and (whole := unspoken_one(lexemes, i, by_start, units)):
            out.append(whole)
            taken |= set(range(whole.start, whole.end))
        if number is None or number.style in ("clock", "ordinal"):
            continue
        found = unit_at(lexemes, number.end, units, number)
        if found is None:
            continue
        unit, end = found
        if rkm := read_rkm(lexemes, number, unit, end):
            number, end = rkm
            longer = unit_at(lexemes, end, units, None)
            if longer is not None and longer[0].code == "Ohm":
                end = longer[1]
        if is_implausible(lexemes, number, unit):
            continue
        number = count_before_size(lexemes, number, unit, end)
        measured = in_unit(lexemes, number, unit, end, setting)
        if phrase_at(lexemes, number.end, units.lists["qualifiers.between_about"]) is not None:
            measured = replace(measured, qualifier="about")
        if is_open_sign(lexemes, measured):
            taken |= set(range(measured.start, measured.end))
            continue
        measured = _and_a_half(lexemes, in_parts(lexemes, measured, by_start), by_start, units)
        out.append(measured)
        taken |= set(range(measured.start, measured.end))
    out += bare_hours(lexemes, by_start, taken)
    return sorted(out, key=lambda m: m.start)


def _and_a_half(lexemes: Sequence[Lexeme], found: Measured, numbers: dict[int, Parsed], units: SpokenUnits) -> Measured:
    """`found` with the fraction after its unit: "an amp and a half"."""
    part = numbers.get(found.end + 1)
    if part is None or part.style != "fraction" or lexemes[found.end - 1].broken or lexemes[found.end].word != "and":
        return found
    rate = _rate_after(lexemes, found, part, units)
    if rate is not None:
        return rate
    if found.value != int(found.value) or part.value >= 1 or unit_at(lexemes, part.end, units, part) is not None:
        return found
    return replace(found, value=found.value + part.value, decimals=part.decimals, end=part.end)


def _rate_after(lexemes: Sequence[Lexeme], found: Measured, part: Parsed, units: SpokenUnits) -> Measured | None:
    """ "A litre and a half a minute": the fraction belongs to the litres, and the whole is a flow."""
    at = part.end - 1 if lexemes[part.end - 1].word in ("a", "an") else part.end
    per = tuple(x.word for x in lexemes[at : at + 2])
    unit = units.words.get((lexemes[found.end - 1].word, *per))
    paused = any(x.broken for x in lexemes[found.end : at + 1])
    if len(per) < 2 or unit is None or paused or found.value != int(found.value):
        return None
    return replace(found, value=found.value + part.value, decimals=part.decimals, end=at + 2, unit=unit,
                   code=unit.code, quantity=unit.quantity)  # fmt: skip


def _finished(tokens: Sequence[str], lexemes: Sequence[Lexeme], found: Measured) -> Quantity:
    first_lexeme = found.first if found.first >= 0 else found.start
    last_lexeme = max(found.end, found.last)
    first, last = lexemes[first_lexeme].token, lexemes[last_lexeme - 1].token + 1
    size = is_size(lexemes, found.unit, found.end)
    unit, quantity = found.code, found.quantity
    if size and unit == "mL":
        unit, quantity = "mm", "length"
    return Quantity(
        quantity=quantity, value=float(found.value), value_high=float(found.high) if found.high is not None else None,
        unit=unit, unit_assumed=found.unit.assumed, decimals=found.decimals, qualifier=found.qualifier,
        reference=found.reference, spoken=" ".join(tokens[first:last]), first=first, last=last,
        role="size" if size else "value", unit_from=found.unit_from,
    )  # fmt: skip


def find_quantities(
    tokens: Sequence[str], *, temperature_unit: Literal["Cel", "[degF]"] = "Cel"
) -> tuple[Quantity, ...]:
    """The quantities of one sentence, in order; numbers without a unit are left to `find_numbers`.

    temperature_unit: UCUM unit of bare "degrees"; such quantities have `unit_assumed`.
    """
    return _quantities_of(tuple(tokens), temperature_unit)


@lru_cache(maxsize=1024)
def _quantities_of(tokens: tuple[str, ...], temperature_unit: Literal["Cel", "[degF]"]) -> tuple[Quantity, ...]:
    """As `find_quantities`: several stages ask for those of one sentence."""
    if not holds_number(tokens) and not any(plain_word(token) in ("a", "an") for token in tokens):
        return ()
    lexemes, numbers = scanned_words(tokens)
    if not lexemes:
        return ()
    found = with_units_apart(lexemes, numbers, _with_units(lexemes, numbers, temperature_unit), temperature_unit)
    if not found:
        return ()
    found = with_shared_unit(lexemes, numbers, found)
    found = without_denied(lexemes, numbers, said_once(lexemes, numbers, found))
    found = without_retracted(lexemes, numbers, found)
    found = with_lent_units(lexemes, numbers, found)
    found = with_ranges(lexemes, found)
    return tuple(_finished(tokens, lexemes, _qualified(lexemes, m)) for m in found if not _is_name(lexemes, m))


def _is_name(lexemes: Sequence[Lexeme], found: Measured) -> bool:
    """A number that is a name, or part of an identifier ("pin four amp", "X R three two two K")."""
    prices = shipped_units().lists["names.prices"]
    if found.code == "[lb_av]" and any((x.word,) in prices for x in lexemes):
        return True
    if found.code == "kOhm" and found.end - found.start > 4 and len(lexemes[found.end - 1].word) <= 3:
        words = lexemes[found.start : found.end - 1]
        if all(x.word in DIGITS or x.word in ZEROS or x.word in OHS for x in words):
            return True
    if found.start == 0 or lexemes[found.start - 1].broken:
        return False
    word = lexemes[found.start - 1].word
    if len(word) == 1 and word.isalpha() and word != "a":
        return True
    return len(word) > 1 and shipped_units().has("names.number_before", (word,))


def find_circuit_words(tokens: Sequence[str]) -> tuple[Quantity, ...]:
    """Words that a meter's open or short circuit is told by; whether they are a reading is for the caller to decide."""
    lists = shipped_units().lists
    begins = {phrase[0] for phrase in lists["circuit.open_circuit"] | lists["circuit.short_circuit"]}
    if not any((word := plain_word(token)) is None or word in begins for token in tokens):
        return ()
    lexemes, _ = scanned_words(tuple(tokens))
    out: list[Quantity] = []
    i = 0
    while i < len(lexemes):
        if lexemes[i].word not in begins:
            i += 1
            continue
        ends = [
            (phrase_at(lexemes, i, lists[f"circuit.{name}"]) or 0, name) for name in ("open_circuit", "short_circuit")
        ]
        end, name = max(ends)
        if not end:
            i += 1
            continue
        first, last = lexemes[i].token, lexemes[end - 1].token + 1
        qualifier: Qualifier = "open_circuit" if name == "open_circuit" else "short_circuit"
        out.append(
            Quantity(
                quantity="resistance",
                value=None,
                value_high=None,
                unit=None,
                unit_assumed=False,
                decimals=None,
                qualifier=qualifier,
                reference=None,
                spoken=" ".join(tokens[first:last]),
                first=first,
                last=last,
            )
        )
        i = end
    return tuple(out)
