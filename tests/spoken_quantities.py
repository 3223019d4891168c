"""Quantities put into words by two independent generators, num2words and the spell-out rules of CLDR (ICU)."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from num2words import num2words

#: UCUM code: singular and plural as NIST SP 811 and the UCUM tables name the units
UNITS = {
    "Ohm": ("ohm", "ohms"),
    "kOhm": ("kilohm", "kilohms"),
    "MOhm": ("megohm", "megohms"),
    "V": ("volt", "volts"),
    "mV": ("millivolt", "millivolts"),
    "A": ("ampere", "amperes"),
    "mA": ("milliampere", "milliamperes"),
    "W": ("watt", "watts"),
    "kW": ("kilowatt", "kilowatts"),
    "Cel": ("degree Celsius", "degrees Celsius"),
    "[degF]": ("degree Fahrenheit", "degrees Fahrenheit"),
    "kPa": ("kilopascal", "kilopascals"),
    "bar": ("bar", "bar"),
    "mbar": ("millibar", "millibar"),
    "[psi]": ("pound per square inch", "pounds per square inch"),
    "um[Hg]": ("micron", "microns"),
    "g": ("gram", "grams"),
    "kg": ("kilogram", "kilograms"),
    "[oz_av]": ("ounce", "ounces"),
    "mm": ("millimetre", "millimetres"),
    "[in_i]": ("inch", "inches"),
    "Hz": ("hertz", "hertz"),
    "%": ("percent", "percent"),
    "N.m": ("newton metre", "newton metres"),
    "uF": ("microfarad", "microfarads"),
    "L/min": ("litre per minute", "litres per minute"),
    "s": ("second", "seconds"),
    "min": ("minute", "minutes"),
}
QUALIFIERS = {
    "about": "about",
    "roughly": "about",
    "at least": "at_least",
    "over": "at_least",
    "under": "at_most",
    "less than": "at_most",
}
Spell = Callable[[int, random.Random], str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Spoken:
    """A quantity in words with what it must be read as."""

    words: str
    value: float
    high: float | None
    unit: str
    qualifier: str
    decimals: int


def by_num2words(number: int, chance: random.Random) -> str:
    """A whole number in words: cardinal, or in the style of years ("one fifteen")."""
    year = 100 < number < 10_000 and chance.random() < 0.4
    words: str = num2words(number, to="year") if year else num2words(number)
    return words.replace(",", "")


@cache
def _rules() -> Any:
    import icu

    return icu.RuleBasedNumberFormat(icu.URBNFRuleSetTag.SPELLOUT, icu.Locale("en"))


def by_cldr(number: int, chance: random.Random) -> str:
    """A whole number in words by CLDR: cardinal with or without "and"."""
    rules = _rules()
    rules.setDefaultRuleSet(chance.choice(["%spellout-cardinal", "%spellout-cardinal-verbose"]))
    return str(rules.format(number))


def _digits(text: str, spell: Spell, chance: random.Random) -> str:
    zero = chance.choice(["oh", "zero", "nought"])
    return " ".join(zero if c == "0" else spell(int(c), chance) for c in text)


def _amount(spell: Spell, chance: random.Random) -> tuple[str, str]:
    """A number in words, and as text with its decimals."""
    form = chance.random()
    whole = chance.choice([chance.randrange(0, 100), chance.randrange(0, 1000), chance.randrange(0, 10_000)])
    if form < 0.45:
        return spell(whole, chance), str(whole)
    if form < 0.85:
        places = "".join(chance.choice("0123456789") for _ in range(chance.choice([1, 1, 2, 3])))
        lead = "" if whole == 0 and chance.random() < 0.3 else f"{spell(whole, chance)} "
        return f"{lead}point {_digits(places, spell, chance)}", f"{whole}.{places}"
    if form < 0.95:
        part = chance.choice([("a half", "5"), ("a quarter", "25"), ("three quarters", "75")])
        return f"{spell(whole, chance)} and {part[0]}", f"{whole}.{part[1]}"
    return _digits(str(whole + 100), spell, chance), str(whole + 100)


def spoken(spell: Spell, chance: random.Random) -> Spoken:
    """One quantity in words."""
    unit = chance.choice(list(UNITS))
    words, text = _amount(spell, chance)
    value = float(text)
    decimals = len(text.partition(".")[2])
    singular, plural = UNITS[unit]
    name = singular if text == "1" else plural
    qualifier, high = "exact", None
    if unit in ("Cel", "[degF]") and chance.random() < 0.4 and value:
        words, value = f"{chance.choice(['minus', 'negative'])} {words}", -value
    form = chance.random()
    if form < 0.15:
        lead = chance.choice(list(QUALIFIERS))
        words, qualifier = f"{lead} {words}", QUALIFIERS[lead]
    elif form < 0.25 and value >= 0:
        upper = int(value) + chance.randrange(1, 40)
        words, high, qualifier = f"between {words} and {spell(upper, chance)}", float(upper), "range"
        name, decimals = plural, max(decimals, 0)
    return Spoken(words=f"{words} {name}", value=value, high=high, unit=unit, qualifier=qualifier, decimals=decimals)


def many(count: int, spell: Spell, *, seed: int = 0) -> Iterator[Spoken]:
    """`count` quantities in words, the same for the same seed."""
    chance = random.Random(seed)
    for _ in range(count):
        yield spoken(spell, chance)
