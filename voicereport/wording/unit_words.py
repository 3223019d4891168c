"""The unit that goes with a number, and what the words around it say about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from voicereport.report import Qualifier, QuantityName, Reference
from voicereport.trades.spoken_units import SpokenUnit, SpokenUnits, shipped_units
from voicereport.wording.lexemes import DIGITS, Lexeme
from voicereport.wording.number_words import Parsed

_LONGEST_PHRASE = 5
_SAME_PLURAL = frozenset({"hertz", "bar", "celsius", "fahrenheit", "percent", "micro"})  #: singular and plural alike


#: where the unit of a number was said: with it, after a pause ("nineteen, Celsius"), or of another value
UnitFrom = Literal["beside", "apart", "elsewhere"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Measured:
    """A number with the unit that follows it, over lexemes [start, end)."""

    value: Decimal
    decimals: int
    unit: SpokenUnit
    code: str
    quantity: QuantityName
    reference: Reference | None
    start: int  #: of the number itself
    end: int
    high: Decimal | None = None
    qualifier: Qualifier = "exact"
    first: int = -1  #: start with qualifiers and retracted words; -1 = start
    last: int = -1
    joined: bool = False  #: shares the unit of the one after it
    unit_from: UnitFrom = "beside"


def phrase_at(lexemes: Sequence[Lexeme], i: int, phrases: frozenset[tuple[str, ...]]) -> int | None:
    """Where the longest of `phrases` that starts at i ends; None where none does."""
    words: list[str] = []
    best = None
    for at in range(i, min(len(lexemes), i + _LONGEST_PHRASE)):
        words.append(lexemes[at].word)
        if tuple(words) in phrases:
            best = at + 1
        if lexemes[at].broken:
            break
    return best


def phrase_before(lexemes: Sequence[Lexeme], i: int, phrases: frozenset[tuple[str, ...]]) -> int | None:
    """Where the longest of `phrases` that ends before i starts; None where none does."""
    best = None
    words: list[str] = []
    for at in range(i - 1, max(-1, i - 1 - _LONGEST_PHRASE), -1):
        if lexemes[at].broken:
            break
        words.insert(0, lexemes[at].word)
        if tuple(words) in phrases:
            best = at
    return best


def unit_at(
    lexemes: Sequence[Lexeme], i: int, units: SpokenUnits, number: Parsed | None
) -> tuple[SpokenUnit, int] | None:
    """The unit that starts at i, after "of a(n)", and where it ends."""
    if i >= len(lexemes) or (i > 0 and lexemes[i - 1].broken):
        return None
    at = i
    if lexemes[at].word == "of" and at + 1 < len(lexemes) and lexemes[at + 1].word in ("a", "an"):
        at += 2
    elif lexemes[at].word in ("a", "an") and number is not None and number.style in ("fraction", "mixed"):
        at += 1
    elif number is not None:
        at = phrase_at(lexemes, at, units.lists["qualifiers.between_about"]) or at
        if at >= len(lexemes) or lexemes[at - 1].broken:
            return None
    best: tuple[SpokenUnit, int] | None = None
    words: list[str] = []
    for end in range(at, min(len(lexemes), at + units.longest)):
        words.append(lexemes[end].word)
        found = units.words.get(tuple(words))
        if found is not None:
            best = found, end + 1
        if lexemes[end].broken:
            break
    lexeme = lexemes[at] if at < len(lexemes) else None
    if lexeme is not None and (best is None or best[1] == at + 1):
        symbol = units.symbols.get(lexeme.raw)
        if symbol is not None and (lexeme.attached or _symbol_stands(lexemes, at, number)):
            return symbol, at + 1
    return best


def _symbol_stands(lexemes: Sequence[Lexeme], i: int, number: Parsed | None) -> bool:
    """A symbol apart from its number ("3.6 A", "18 C") is a unit only after written digits, or as a scale."""
    if number is None or i == 0:
        return False
    after = lexemes[i + 1] if i + 1 < len(lexemes) and not lexemes[i].broken else None
    if after is not None and (
        after.kind == "number" or (len(after.word) == 1 and after.word != "a") or after.word in DIGITS
    ):
        return False  # spelled letters go on: an identifier
    raw = lexemes[i].raw
    if lexemes[i - 1].kind in ("number", "fraction"):
        return len(raw) > 1 or raw in ("V", "A", "W", "C", "F", "g", "s", "L", "Ω", "Ω", "h", "%", "°")
    return raw in ("C", "F")


def _contains(lexemes: Sequence[Lexeme], phrases: Sequence[tuple[str, ...]]) -> bool:
    words = [x.word.removesuffix("'s") for x in lexemes]
    for phrase in phrases:
        n = len(phrase)
        if any(tuple(words[i : i + n]) == phrase for i in range(len(words) - n + 1)):
            return True
    return False


def in_unit(lexemes: Sequence[Lexeme], number: Parsed, unit: SpokenUnit, end: int, setting: str) -> Measured:
    """`number` in `unit`, with what the words after it and elsewhere in the sentence say about the unit."""
    units = shipped_units()
    code = setting if unit.assumed else unit.code
    quantity, reference = unit.quantity, unit.reference
    for cue in units.cues:
        if code in cue.units and _contains(lexemes, cue.words):
            code, quantity, reference = cue.code or code, cue.quantity or quantity, cue.reference or reference
    for cue in units.after:
        if code in cue.units and end < len(lexemes) and not lexemes[end - 1].broken:
            stop = phrase_at(lexemes, end, frozenset(cue.words))
            if stop is not None:
                code, quantity, reference = cue.code or code, cue.quantity or quantity, cue.reference or reference
                end = stop if cue.reference else end
                break
    value, start = number.value, number.start
    below = sign_after(lexemes, end) if quantity == "temperature" and number.value > 0 else None
    if below is not None:
        value, end = value * below[0], below[1]
        scale = unit_at(lexemes, end, units, number)
        if scale is not None and scale[0].quantity == "temperature":
            code, end, unit = scale[0].code, scale[1], scale[0]
    return Measured(value=value, decimals=number.decimals, unit=unit, code=code, quantity=quantity, reference=reference,
                     start=start, end=end)  # fmt: skip


def sign_after(lexemes: Sequence[Lexeme], i: int) -> tuple[int, int] | None:
    """The sign that "below (zero)", "under zero" or "above (zero)" after a number gives, and where it ends."""
    if i >= len(lexemes) or not i or lexemes[i - 1].broken:
        return None
    lists = shipped_units().lists
    for name, sign in (("signs.minus", -1), ("signs.plus", 1)):
        end = phrase_at(lexemes, i, lists[name])
        if end is not None:
            return sign, end
    if lexemes[i].word not in ("below", "above") or not _stands_there(lexemes, i + 1):
        return None
    return (-1 if lexemes[i].word == "below" else 1), i + 1


def _stands_there(lexemes: Sequence[Lexeme], i: int) -> bool:
    """Nothing comes at i that "below" may go with: "eighteen below now", but not "two below the shelf"."""
    return i >= len(lexemes) or lexemes[i - 1].broken or shipped_units().has("numbers.after_below", (lexemes[i].word,))


def is_open_sign(lexemes: Sequence[Lexeme], found: Measured) -> bool:
    """A temperature whose words leave it open: "two degrees below the shelf", "ten Fahrenheit below freezing"."""
    if found.quantity != "temperature":
        return False
    if any(x.word == "freezing" for x in lexemes[found.start : found.end]):
        return found.code != "Cel"  # water freezes at 0 Cel: only there is "below freezing" a sign
    if found.value <= 0 or found.end >= len(lexemes) or lexemes[found.end - 1].broken:
        return False
    if lexemes[found.end].word == "under":
        return found.end + 1 >= len(lexemes) or lexemes[found.end].broken
    return lexemes[found.end].word in ("below", "above")


def read_rkm(lexemes: Sequence[Lexeme], number: Parsed, unit: SpokenUnit, end: int) -> tuple[Parsed, int] | None:
    """ "four K seven", "4K7": a decimal whose point is the unit."""
    if unit.quantity != "resistance" or end != number.end + 1 or end >= len(lexemes) or lexemes[end - 1].broken:
        return None
    if number.style not in ("cardinal", "digits") or number.value != int(number.value):
        return None
    after = lexemes[end]
    if lexemes[number.end].word.startswith("ohm") and end + 1 < len(lexemes) and not after.broken:
        return None  # "fifty seven ohms one way"
    digit = str(DIGITS[after.word]) if after.word in DIGITS else after.written or ""
    attached = lexemes[end].token == lexemes[number.start].token
    if not digit.isdigit() or not (attached or len(digit) == 1):
        return None
    if (
        end + 1 < len(lexemes)
        and not after.broken
        and (lexemes[end + 1].word in DIGITS or lexemes[end + 1].kind == "number")
    ):
        return None
    value = Decimal(f"{int(number.value)}.{digit}")
    return replace(number, value=value, decimals=len(digit), end=end + 1), end + 1


def implicit_one(lexemes: Sequence[Lexeme], i: int, units: SpokenUnits) -> Parsed | None:
    """ "a milliamp", "an hour": one, where the unit allows it or a qualifier stands before it."""
    if lexemes[i].word not in ("a", "an") or lexemes[i].broken or i + 1 >= len(lexemes):
        return None
    number = Parsed(value=Decimal(1), start=i, end=i + 1, style="cardinal")
    found = unit_at(lexemes, i + 1, units, None)
    if found is None or lexemes[i + 1].word in ("k", "kay"):
        return None
    before = lexemes[i - 1] if i and not lexemes[i - 1].broken else None
    if before is not None and (before.word in units.single or before.word in ("times", "twice", "once", "half", "of")):
        return None  # "litres a minute", "twice an hour"
    if found[0].one or qualifier_before(lexemes, i) is not None:
        return number
    return None


def unspoken_one(
    lexemes: Sequence[Lexeme], i: int, numbers: Mapping[int, Parsed], units: SpokenUnits
) -> Measured | None:
    """ "(an) inch and a half", where a unit in the singular begins what is said and a fraction follows it."""
    if (i and not lexemes[i - 1].broken) or lexemes[i].broken or i + 2 >= len(lexemes):
        return None
    unit, part = units.words.get((lexemes[i].word,)), numbers.get(i + 2)
    if unit is None or not unit.one or unit.quantity == "time" or lexemes[i + 1].word != "and" or part is None:
        return None
    if part.style != "fraction" or part.value >= 1:
        return None
    return Measured(value=1 + part.value, decimals=part.decimals, unit=unit, code=unit.code, quantity=unit.quantity,
                    reference=unit.reference, start=i, end=part.end)  # fmt: skip


def qualifier_before(lexemes: Sequence[Lexeme], i: int) -> tuple[Qualifier, int] | None:
    """The qualifier that ends just before lexeme i, and where it starts."""
    lists = shipped_units().lists
    best: tuple[Qualifier, int] | None = None
    for name in ("about", "at_most", "at_least"):
        start = phrase_before(lexemes, i, lists[f"qualifiers.{name}"])
        if start is not None and (best is None or start < best[1]) and not _goes_up(lexemes, start):
            best = name, start
    if best is None and i >= 1 and lexemes[i - 1].broken and lexemes[i - 1].word == "what":
        return "about", i - 1  # "there was, what, two inches"
    return best


def _goes_up(lexemes: Sequence[Lexeme], i: int) -> bool:
    """ "Up to" at i is where something went, and no limit: "it went up to ten bar"."""
    if tuple(x.word for x in lexemes[i : i + 2]) != ("up", "to"):
        return False
    if i == 0 or lexemes[i - 1].broken:
        return True
    return (lexemes[i - 1].word,) in shipped_units().lists["ranges.change"]


def is_size(lexemes: Sequence[Lexeme], unit: SpokenUnit, end: int) -> bool:
    """The size of a tool or fastener ("quarter inch screws"), or a rating ("a ten amp fuse"), ends at `end`."""
    lists = shipped_units().lists
    if unit.quantity == "length" or unit.code == "mL":
        nouns, reach = lists["sizes.nouns"], 2
    elif unit.quantity != "time" and _is_singular(lexemes[end - 1]):
        nouns, reach = lists["sizes.rated"], 1
    else:
        return False
    for at in range(end, min(len(lexemes), end + reach)):
        if lexemes[at - 1].broken:
            return False
        word = lexemes[at].word
        if unit.quantity == "resistance" and (word,) in lists["sizes.tested"]:
            return False
        if any((w,) in nouns for w in (word, word.removesuffix("s"), word.removesuffix("es"))):
            return True
        if not word.isalpha() or (word,) in lists["sizes.stops"]:
            return False
    return False


def _is_singular(lexeme: Lexeme) -> bool:
    """A unit spoken in the singular, as it is before a noun; no symbol."""
    word = lexeme.word
    return len(word) > 2 and not word.endswith("s") and not lexeme.attached and word not in _SAME_PLURAL


def count_before_size(lexemes: Sequence[Lexeme], number: Parsed, unit: SpokenUnit, end: int) -> Parsed:
    """Of "two ten millimetre bolts" the size alone; `number` itself otherwise."""
    if number.tail is None or not is_size(lexemes, unit, end):
        return number
    value, start = number.tail
    return Parsed(value=value, start=start, end=number.end, style="cardinal")
