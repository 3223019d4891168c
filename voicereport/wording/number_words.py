"""Whole numbers in words: cardinals, pairs ("one fifteen"), digits one by one; abstaining for two readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from voicereport.wording.lexemes import DENOMINATORS, DIGITS, OHS, TEENS, TENS, ZEROS, Lexeme

Style = Literal["cardinal", "decimal", "digits", "pair", "fraction", "mixed", "ordinal", "clock"]


MULTIPLES = {"double": 2, "triple": 3, "treble": 3}


@dataclass(frozen=True, kw_only=True, slots=True)
class Parsed:
    """A number over lexemes [start, end)."""

    value: Decimal
    start: int
    end: int
    style: Style
    decimals: int = 0
    digits: str | None = None
    weak: bool = False  #: "half", "quarter" alone: a number only before a unit
    tail: tuple[Decimal, int] | None = None  #: of a pair such as "two ten": its second half and where it starts


@dataclass(frozen=True, kw_only=True, slots=True)
class Unread:
    """A run of number words over lexemes [start, end) that has no single reading."""

    start: int
    end: int


def is_glued(lexemes: Sequence[Lexeme], i: int) -> bool:
    """Lexeme i stands and no punctuation parts it from the one before."""
    return i < len(lexemes) and (i == 0 or not lexemes[i - 1].broken)


def digit_of(lexeme: Lexeme) -> str | None:
    """The digits that one lexeme adds to a string of digits: "4", "0", or more where they are written."""
    if lexeme.word in DIGITS:
        return str(DIGITS[lexeme.word])
    if lexeme.word in ZEROS or lexeme.word in OHS:
        return "0"
    if lexeme.kind == "number" and lexeme.written and lexeme.written.isdigit() and len(lexeme.written) == 1:
        return lexeme.written
    return None


def sub_hundred(lexemes: Sequence[Lexeme], i: int) -> tuple[int, int] | None:
    """A number below a hundred at i, and where it ends; "oh" is none."""
    lexeme = lexemes[i]
    if lexeme.word in TENS:
        if is_glued(lexemes, i + 1) and not lexeme.broken:
            digit = lexemes[i + 1]
            if digit.word in DIGITS:
                return TENS[lexeme.word] + DIGITS[digit.word], i + 2
            if digit.kind == "number" and digit.written in set("123456789"):
                return TENS[lexeme.word] + int(digit.written or 0), i + 2
        return TENS[lexeme.word], i + 1
    if lexeme.word in TEENS:
        return TEENS[lexeme.word], i + 1
    if lexeme.word in DIGITS:
        return DIGITS[lexeme.word], i + 1
    written = lexeme.written or ""
    if lexeme.kind == "number" and written.isdigit() and len(written) <= 2 and written[0] != "0":
        return int(written), i + 1
    return None


def _group(lexemes: Sequence[Lexeme], i: int) -> tuple[int, int] | None:
    """A number with or without hundreds at i ("a hundred and twenty", "twelve hundred"), and where it ends."""
    word = lexemes[i].word
    if word == "hundred":
        value, end = 1, i
    elif word in ("a", "an") and is_glued(lexemes, i + 1) and lexemes[i + 1].word == "hundred":
        value, end = 1, i + 1
    elif word in ("a", "couple") and (couple := couple_end(lexemes, i)) and word_at(lexemes, couple) == "hundred":
        value, end = 2, couple
    else:
        found = sub_hundred(lexemes, i)
        if found is None:
            big = lexemes[i].written
            if lexemes[i].kind == "number" and big and big.isdigit() and (big[0] != "0" or big == "0"):
                return int(big), i + 1
            return (0, i + 1) if word in ZEROS else None
        value, end = found
    if end > i and word_at(lexemes, end) != "hundred":
        return value, end
    total, end = value * 100, end + 1
    rest = end + 1 if word_at(lexemes, end) == "and" and is_glued(lexemes, end + 1) else end
    if is_glued(lexemes, rest):
        found = sub_hundred(lexemes, rest)
        bigger = found is not None and rest > end and word_at(lexemes, found[1]) in ("hundred", "thousand")
        if found is not None and not bigger and not denominator_at(lexemes, found[1]):
            return total + found[0], found[1]
    return total, end


def word_at(lexemes: Sequence[Lexeme], i: int) -> str:
    """The word at i where nothing parts it from the one before, else an empty string."""
    return lexemes[i].word if is_glued(lexemes, i) else ""


def couple_end(lexemes: Sequence[Lexeme], i: int) -> int | None:
    """Where "a couple (of)", "a pair (of)" ends."""
    if lexemes[i].word == "a" and word_at(lexemes, i + 1) in ("couple", "pair"):
        end = i + 2
    elif lexemes[i].word == "couple":
        end = i + 1
    else:
        return None
    return end + 1 if word_at(lexemes, end) == "of" else end


def _cardinal(lexemes: Sequence[Lexeme], i: int) -> Parsed | None:
    """ "four", "a hundred and twenty", "two thousand five hundred", "1500"."""
    if lexemes[i].word in ("a", "an") and word_at(lexemes, i + 1) == "thousand":
        found: tuple[int, int] | None = (1, i + 1)
    elif lexemes[i].word == "thousand":
        found = None
    else:
        found = _group(lexemes, i)
    if found is None:
        return None
    value, end = found
    if word_at(lexemes, end) == "thousand":
        value, end = value * 1000, end + 1
        rest = end + 1 if word_at(lexemes, end) == "and" and is_glued(lexemes, end + 1) else end
        if is_glued(lexemes, rest) and lexemes[rest].word not in ("a", "couple", "hundred"):
            more = _group(lexemes, rest)
            if more is not None and 0 < more[0] < 1000 and not denominator_at(lexemes, more[1]):
                value, end = value + more[0], more[1]
    return Parsed(value=Decimal(value), start=i, end=end, style="cardinal")


def _approximate(a: int, b: int) -> bool:
    """Two numbers that people say one after the other for "about so many": "five six", "ten fifteen"."""
    return a < b and ((b - a == 1 and a > 1 and b < 13) or (a % 2 == 0 and b == a + 2 and b <= 12) or (
        a % 5 == 0 and b % 5 == 0 and b <= 2 * a))  # fmt: skip


def _pair(lexemes: Sequence[Lexeme], i: int) -> Parsed | Unread | None:
    """ "one fifteen" 115, "two thirty one" 231, "eleven forty nine" 1149, "nineteen oh five" 1905."""
    first = sub_hundred(lexemes, i)
    if first is None or not is_glued(lexemes, first[1]):
        return None
    a, middle = first
    if lexemes[middle].word in OHS or lexemes[middle].word in ZEROS:
        after = digit_of(lexemes[middle + 1]) if is_glued(lexemes, middle + 1) else None
        if after is None or after == "0":
            return None
        return Parsed(value=Decimal(a * 100 + int(after)), start=i, end=middle + 2, style="pair")
    second = sub_hundred(lexemes, middle)
    if second is None or second[0] < 10:
        return None
    if _approximate(a, second[0]):
        return Unread(start=i, end=second[1])
    return Parsed(
        value=Decimal(a * 100 + second[0]), start=i, end=second[1], style="pair", tail=(Decimal(second[0]), middle)
    )


def _digits(lexemes: Sequence[Lexeme], i: int) -> Parsed | Unread | None:
    """ "one one five", "two eight zero zero", "double seven": a string of digits."""
    text, at = "", i
    if lexemes[i].word in OHS and not (
        is_glued(lexemes, i + 2) and digit_of(lexemes[i + 1]) and digit_of(lexemes[i + 2])
    ):
        return None
    while is_glued(lexemes, at) or at == i:
        times = MULTIPLES.get(lexemes[at].word)
        if times and is_glued(lexemes, at + 1):
            digit, step = digit_of(lexemes[at + 1]), 2
        else:
            digit, step, times = digit_of(lexemes[at]), 1, 1
        if digit is None or (lexemes[at].word == "o" and lexemes[at].raw != "O" and step == 1):
            break
        text, at = text + digit * times, at + step
        if at >= len(lexemes):
            break
    if len(text) < 2:
        written = lexemes[i].written
        if lexemes[i].kind == "number" and written and written.isdigit() and written[0] == "0" and len(written) > 1:
            return Parsed(value=Decimal(int(written)), start=i, end=i + 1, style="digits", digits=written)
        return None
    if word_at(lexemes, at) == "thousand" and len(text) == 2 and text[0] != "0":
        if text[0] != "1" and _approximate(int(text[0]), int(text[1])):
            return Unread(start=i, end=at + 1)
        return Parsed(value=Decimal(int(text) * 1000), start=i, end=at + 1, style="digits", digits=text + "000")
    if len(text) == 2 and text[0] != "0" and at == i + 2 and _approximate(int(text[0]), int(text[1])):
        return Unread(start=i, end=at)
    return Parsed(value=Decimal(int(text)), start=i, end=at, style="digits", digits=text)


def whole_at(lexemes: Sequence[Lexeme], i: int) -> Parsed | Unread | None:
    """The longest whole number at i; of two readings of one length, digits before cardinals before pairs."""
    found = [p for p in (_digits(lexemes, i), _cardinal(lexemes, i), _pair(lexemes, i)) if p is not None]
    if not found:
        return None
    longest = max(p.end for p in found)
    return next(p for p in found if p.end == longest)


def denominator_at(lexemes: Sequence[Lexeme], i: int) -> tuple[int, int] | None:
    """The denominator word at i, and where it ends."""
    word = word_at(lexemes, i)
    if word in DENOMINATORS:
        return DENOMINATORS[word], i + 1
    if word in ("thirty", "sixty") and (second := word_at(lexemes, i + 1)):
        if word == "thirty" and second in ("second", "seconds"):
            return 32, i + 2
        if word == "sixty" and second in ("fourth", "fourths"):
            return 64, i + 2
    return None
