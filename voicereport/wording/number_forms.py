"""Numbers in all their forms over lexemes: decimals, fractions, dozens, clock times, signs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from voicereport.wording.lexemes import DIGITS, OHS, TEENS, TENS, ZEROS, Lexeme
from voicereport.wording.number_words import (
    MULTIPLES,
    Parsed,
    Style,
    Unread,
    couple_end,
    denominator_at,
    digit_of,
    is_glued,
    sub_hundred,
    whole_at,
    word_at,
)
from voicereport.wording.unit_words import sign_after

FIRST_WORDS = frozenset({
    *DIGITS, *ZEROS, *OHS, *TEENS, *TENS, *MULTIPLES, "hundred", "thousand", "point", "minus", "negative", "plus",
    "half", "quarter", "a", "an", "the", "couple", "dozen",
})  #: the words that a number may begin with; with no other is anything looked for  # fmt: skip


def _decimal_digits(lexemes: Sequence[Lexeme], i: int) -> tuple[str, int] | None:
    """The digits after the point at i ("four oh", "oh four three", "fifteen"), and where they end."""
    text, at = "", i
    singles = False
    while is_glued(lexemes, at):
        lexeme = lexemes[at]
        times = MULTIPLES.get(lexeme.word)
        digit = digit_of(lexemes[at + 1]) if times and is_glued(lexemes, at + 1) else digit_of(lexeme)
        if digit is None:
            break
        text += digit * (times or 1)
        singles = singles or digit != "0"
        at += 2 if times else 1
    if not singles and is_glued(lexemes, at):
        lexeme = lexemes[at]
        if lexeme.kind == "number" and lexeme.written and lexeme.written.isdigit():
            return text + lexeme.written, at + 1
        found = sub_hundred(lexemes, at)
        if found is not None and found[0] >= 10:
            return text + str(found[0]), found[1]
    return (text, at) if text else None


def _proper(lexemes: Sequence[Lexeme], i: int) -> tuple[Decimal, int, bool] | None:
    """A fraction below one at i: its value, its end, and True where it needs a unit after it ("half", "quarter")."""
    lexeme = lexemes[i]
    if lexeme.kind == "fraction" and lexeme.written:
        whole, part = lexeme.written.split(" ")
        top, bottom = part.split("/")
        return Decimal(int(whole)) + Decimal(int(top)) / Decimal(int(bottom)), i + 1, False
    if lexeme.word == "half" or (lexeme.word in ("a", "one") and word_at(lexemes, i + 1) == "half"):
        end = i + 1 if lexeme.word == "half" else i + 2
        return Decimal("0.5"), end, lexeme.word == "half"
    if lexeme.word == "quarter":
        return Decimal("0.25"), i + 1, True
    if lexeme.word in ("a", "an", "one") and (found := denominator_at(lexemes, i + 1)):
        return Decimal(1) / Decimal(found[0]), found[1], False
    top_at = sub_hundred(lexemes, i) if lexeme.kind in ("word", "number") else None
    if top_at is None:
        return None
    below = denominator_at(lexemes, top_at[1])
    two_quarter = top_at[0] == 2 and word_at(lexemes, top_at[1]) == "quarter"
    if below is None or top_at[0] >= below[0] or two_quarter:
        return None
    return Decimal(top_at[0]) / Decimal(below[0]), below[1], False


def _places(value: Decimal) -> int:
    """The decimal places that write a fraction exactly, at most six."""
    text = format(value.normalize(), "f")
    return min(6, len(text.partition(".")[2]))


def _clock_words(lexemes: Sequence[Lexeme], i: int) -> Parsed | None:
    """ "half past two", "quarter to three", "three thirty p m", "two o'clock", in hours since midnight."""
    if lexemes[i].kind == "clock" and lexemes[i].written:
        hours, _, minutes = (lexemes[i].written or "").partition(":")
        if hours.isdigit():
            return Parsed(
                value=Decimal(int(hours)) + Decimal(int(minutes or 0)) / 60, start=i, end=i + 1, style="clock"
            )
        return None
    minute: tuple[int, int] | None
    if lexemes[i].word in ("half", "quarter"):
        minute = (30 if lexemes[i].word == "half" else 15), i + 1
    elif lexemes[i].word == "a" and word_at(lexemes, i + 1) == "quarter":
        minute = 15, i + 2
    else:
        minute = sub_hundred(lexemes, i)
    if minute is None:
        return None
    joint = word_at(lexemes, minute[1])
    if joint == "past" or (joint == "to" and lexemes[minute[1] - 1].word == "quarter"):
        hour = sub_hundred(lexemes, minute[1] + 1) if is_glued(lexemes, minute[1] + 1) else None
        if hour is not None and 1 <= hour[0] <= 12:
            value = Decimal(hour[0]) + Decimal(minute[0] if joint == "past" else -minute[0]) / 60
            return Parsed(value=value, start=i, end=hour[1], style="clock")
        return None
    if not 1 <= minute[0] <= 24:
        return None
    hour_end, value = minute[1], Decimal(minute[0])
    if is_glued(lexemes, hour_end) and (more := sub_hundred(lexemes, hour_end)) and 10 <= more[0] < 60:
        hour_end, value = more[1], value + Decimal(more[0]) / 60
    word = word_at(lexemes, hour_end)
    if word in ("o'clock", "oclock", "am", "pm"):
        return Parsed(value=value, start=i, end=hour_end + 1, style="clock")
    if word in ("a", "p") and word_at(lexemes, hour_end + 1) == "m":
        return Parsed(value=value, start=i, end=hour_end + 2, style="clock")
    return None


def _starts_number(lexemes: Sequence[Lexeme], i: int) -> bool:
    """A number word stands at i with nothing between it and the one before."""
    if not is_glued(lexemes, i):
        return False
    lexeme = lexemes[i]
    return (lexeme.word in DIGITS or lexeme.word in TEENS or lexeme.word in TENS or lexeme.word in ZEROS
            or lexeme.word in ("hundred", "thousand", "point", "oh") or lexeme.kind == "number")  # fmt: skip


def _run_end(lexemes: Sequence[Lexeme], i: int) -> int:
    """Where the run of number words from i ends."""
    at = i + 1
    while _starts_number(lexemes, at) or (word_at(lexemes, at) == "and" and _starts_number(lexemes, at + 1)):
        at += 1
    return at


def _whole_run(lexemes: Sequence[Lexeme], found: Unread) -> Unread:
    """`found` to the end of its run of number words, a fraction after it included."""
    end = max(found.end, _run_end(lexemes, found.end - 1))
    if word_at(lexemes, end) == "and" and is_glued(lexemes, end + 1) and (part := _proper(lexemes, end + 1)):
        end = part[1]
    return replace(found, end=end)


def _point(lexemes: Sequence[Lexeme], whole: Parsed | None, i: int) -> Parsed | None:
    """The decimal number whose point stands at i, after `whole` or after nothing."""
    if word_at(lexemes, i) != "point" and not (whole is None and i < len(lexemes) and lexemes[i].word == "point"):
        return None
    if not is_glued(lexemes, i + 1) or (found := _decimal_digits(lexemes, i + 1)) is None:
        return None
    digits, end = found
    head = int(whole.value) if whole else 0
    return Parsed(value=Decimal(f"{head}.{digits}"), start=whole.start if whole else i, end=end, style="decimal",
                  decimals=len(digits))  # fmt: skip


def _unsigned(lexemes: Sequence[Lexeme], i: int) -> Parsed | Unread | None:
    """The number at i without a sign."""
    if clock := _clock_words(lexemes, i):
        return clock
    lexeme = lexemes[i]
    if lexeme.word == "point":
        return _point(lexemes, None, i)
    if lexeme.word in OHS and word_at(lexemes, i + 1) == "point":
        return _point(lexemes, Parsed(value=Decimal(0), start=i, end=i + 1, style="cardinal"), i + 1)
    if lexeme.kind == "number" and lexeme.written and "." in lexeme.written:
        places = len(lexeme.written.partition(".")[2])
        return _scaled(
            lexemes, Parsed(value=Decimal(lexeme.written), start=i, end=i + 1, style="decimal", decimals=places)
        )
    if proper := _proper(lexemes, i):
        return _fraction(lexemes, i, proper)
    if (end := _dozen(lexemes, i)) is not None:
        return end
    whole = whole_at(lexemes, i)
    if whole is None or isinstance(whole, Unread):
        return whole
    if decimal := _point(lexemes, whole, whole.end):
        return _scaled(lexemes, decimal)
    return _with_fraction(lexemes, whole)


def _scaled(lexemes: Sequence[Lexeme], number: Parsed) -> Parsed:
    """A decimal or mixed number with "hundred" or "thousand" after it."""
    factor = {"hundred": 100, "thousand": 1000}.get(word_at(lexemes, number.end))
    if factor is None:
        return number
    value = number.value * factor
    return replace(number, value=value, end=number.end + 1, decimals=_places(value))


def _fraction(lexemes: Sequence[Lexeme], i: int, proper: tuple[Decimal, int, bool]) -> Parsed:
    value, end, weak = proper
    if weak and word_at(lexemes, end) in ("a", "an"):
        if word_at(lexemes, end + 1) == "dozen":
            return Parsed(value=Decimal(6), start=i, end=end + 2, style="cardinal")
        end, weak = end + 1, False
    if word_at(lexemes, end) == "dozen" and value == Decimal("0.5"):
        return Parsed(value=Decimal(6), start=i, end=end + 1, style="cardinal")
    style: Style = "fraction" if value < 1 else "mixed"
    return Parsed(value=value, start=i, end=end, style=style, decimals=_places(value), weak=weak)


def _dozen(lexemes: Sequence[Lexeme], i: int) -> Parsed | None:
    """ "a dozen", "two dozen", "a couple of", "a pair of"."""
    if (end := couple_end(lexemes, i)) is not None:
        if word_at(lexemes, end) in ("hundred", "thousand"):
            return None
        return Parsed(value=Decimal(2), start=i, end=end, style="cardinal")
    at, count = i, 1
    if lexemes[i].word in ("a", "the"):
        at = i + 1
    elif found := sub_hundred(lexemes, i):
        count, at = found
    if (at == i and lexemes[i].word != "dozen") or (at > i and word_at(lexemes, at) not in ("dozen", "dozens")):
        return None
    return Parsed(value=Decimal(count * 12), start=i, end=at + 1, style="cardinal")


def _with_fraction(lexemes: Sequence[Lexeme], whole: Parsed) -> Parsed | Unread:
    """ "seven and a half", "one and three eighths", "1 1/2"; `whole` itself where no fraction follows."""
    end = whole.end
    if is_glued(lexemes, end) and lexemes[end].kind == "fraction" and (lexemes[end].written or "").startswith("0 "):
        part = _proper(lexemes, end)
    elif word_at(lexemes, end) == "and" and is_glued(lexemes, end + 1):
        part = _proper(lexemes, end + 1)
    else:
        part = None
    if part is not None and part[0] < 1:
        value = whole.value + part[0]
        return _scaled(
            lexemes, Parsed(value=value, start=whole.start, end=part[1], style="mixed", decimals=_places(value))
        )
    # "six quarter inch screws", "four three eighths bolts": a count before a size
    if whole.style == "digits" and whole.digits and denominator_at(lexemes, end):
        return replace(whole, value=Decimal(whole.digits[0]), end=whole.start + 1, style="cardinal", digits=None)
    return whole


def _below(lexemes: Sequence[Lexeme], number: Parsed) -> Parsed | Unread:
    """`number` with "below (zero)" or "above (zero)" after it taken as its sign."""
    signed = sign_after(lexemes, number.end) if number.style != "clock" else None
    if signed is None:
        return number
    sign, end = signed
    if lexemes[end - 1].word == "freezing":
        return Unread(start=number.start, end=end)  # degrees below freezing: 14 F or -18 C
    return replace(number, value=sign * number.value, end=end)


def read_at(lexemes: Sequence[Lexeme], i: int) -> Parsed | Unread | None:
    """The number at lexeme i with its sign; Unread where the words have no single reading; None where there is none."""
    lexeme = lexemes[i]
    if lexeme.kind in ("money", "ordinal") or (lexeme.kind == "word" and lexeme.word not in FIRST_WORDS):
        return None
    if lexeme.word in ("minus", "negative", "plus") and is_glued(lexemes, i + 1):
        number = read_at(lexemes, i + 1)
        if number is None or isinstance(number, Unread):
            return replace(number, start=i) if number else None
        if i >= 2 and lexemes[i - 1].word == "or" and lexemes[i - 2].word == "plus":
            return Unread(start=i, end=number.end)  # "plus or minus five": a tolerance
        if number.style == "clock" or number.value < 0:
            return Unread(start=i, end=number.end)
        return replace(number, value=number.value if lexeme.word == "plus" else -number.value, start=i, weak=False)
    found = _unsigned(lexemes, i)
    if found is None or isinstance(found, Unread):
        return _whole_run(lexemes, found) if found else None
    before_size = found.end == i + 1 and is_glued(lexemes, found.end) and _proper(lexemes, found.end) is not None
    if _starts_number(lexemes, found.end) and found.style != "clock" and not before_size:
        return _whole_run(lexemes, Unread(start=i, end=found.end))
    return _below(lexemes, found)
