"""Spoken and written numbers: a small closed grammar that abstains rather than guess.

Two numbers that follow each other without a word or a comma between are one number only where the grammar has
a form for it ("one fifteen", "two three oh", "eleven forty nine"); otherwise the whole run is left unread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from voicereport.trades.spoken_units import shipped_units
from voicereport.wording.lexemes import DENOMINATORS, PRONOUNCED, Lexeme, lex, plain_word
from voicereport.wording.number_forms import FIRST_WORDS, read_at
from voicereport.wording.number_words import Parsed, Style, Unread, is_glued, word_at

_ORDINALS = {"first": 1, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "eighth": 8, "ninth": 9,
             "tenth": 10, "eleventh": 11, "twelfth": 12}  # fmt: skip
#: words of which a number has one at least
_OF_NUMBERS = (FIRST_WORDS - {"a", "an", "the"}) | {*_ORDINALS, *DENOMINATORS, *PRONOUNCED, "second", "pair", "dozens"}


@dataclass(frozen=True, kw_only=True, slots=True)
class Number:
    """A number and the tokens [first, last) it was read from."""

    value: float
    decimals: int  #: decimal places spoken; of a fraction, those that write it exactly
    text: str
    first: int
    last: int
    style: Style
    digits: str | None = None  #: the digit string, where it was spoken or written digit by digit


def _is_pronoun(lexemes: Sequence[Lexeme], number: Parsed) -> bool:
    """ "this one", "the new one", "no one": no number."""
    if number.end != number.start + 1 or lexemes[number.start].word != "one":
        return False
    units = shipped_units()
    before = lexemes[number.start - 1].word if number.start and not lexemes[number.start - 1].broken else ""
    after = word_at(lexemes, number.end)
    if units.has("numbers.pronoun_before", (after,)):
        return True
    if units.has("numbers.pronoun_after", (before,)):
        return True
    alone = not after or units.has("sizes.stops", (after,)) or units.has("numbers.after_minutes", (after,))
    return alone and units.has("numbers.pronoun_if_alone_after", (before,))


def _is_price_or_age(lexemes: Sequence[Lexeme], number: Parsed) -> bool:
    """ "forty dollars", "fourteen years": no value that a meter shows."""
    units, after = shipped_units(), word_at(lexemes, number.end)
    return units.has("names.money", (after,)) or units.has("names.ages", (after,))


def _is_noun_point(lexemes: Sequence[Lexeme], number: Parsed) -> bool:
    """ "at that point five screws": the noun, no decimal point."""
    if lexemes[number.start].word != "point" or number.start == 0 or lexemes[number.start - 1].broken:
        return False
    return shipped_units().has("numbers.not_before_point", (lexemes[number.start - 1].word,))


def _refrigerant(lexemes: Sequence[Lexeme], number: Parsed) -> int | None:
    """Where the name of a refrigerant that holds `number` ends ("six hundred A", "R one three four A"); else None."""
    units = shipped_units()
    known = units.lists["names.refrigerants"]
    before = lexemes[number.start - 1] if number.start and not lexemes[number.start - 1].broken else None
    led = before is not None and units.has("names.letters_before", (before.word,))
    text = str(int(number.value)) if number.value == int(number.value) and number.value > 0 else ""
    after = lexemes[number.end] if is_glued(lexemes, number.end) else None
    if after is not None and len(after.word) == 1 and after.word.isalpha() and (text + after.word,) in known:
        follows = lexemes[number.end + 1] if is_glued(lexemes, number.end + 1) else None
        if after.raw.isupper() or led or follows is None or follows.kind == "word":
            return number.end + 1
    return number.end if led and (text,) in known else None


def scan(lexemes: Sequence[Lexeme]) -> tuple[Parsed, ...]:
    """Every number of `lexemes`, in order, weak ones included; names and pronouns left out."""
    out: list[Parsed] = []
    i = 0
    few = shipped_units().lists["numbers.few"]
    while i < len(lexemes):
        found = read_at(lexemes, i)
        if found is None:
            i += 1
            continue
        if isinstance(found, Unread):
            i = max(found.end, i + 1)
            continue
        if _is_noun_point(lexemes, found):
            i += 1
            continue
        name_end = _refrigerant(lexemes, found)
        if name_end is not None:
            i = name_end
            continue
        vague = lexemes[i].word in ("hundred", "thousand") and i > 0 and any(
            tuple(x.word for x in lexemes[max(0, i - len(p)) : i]) == p for p in few
        )  # fmt: skip
        if not _is_pronoun(lexemes, found) and not vague and not _is_price_or_age(lexemes, found):
            out.append(found)
        i = max(found.end, i + 1)
    return tuple(out)


def holds_number(tokens: Sequence[str]) -> bool:
    """False where no token is a word or a figure that a number has."""
    return any((word := plain_word(token)) is None or word in _OF_NUMBERS for token in tokens)


@lru_cache(maxsize=1024)
def scanned_words(tokens: tuple[str, ...]) -> tuple[tuple[Lexeme, ...], tuple[Parsed, ...]]:
    """The lexemes of the tokens, and their numbers as `scan` gives them."""
    lexemes = lex(tokens)
    return lexemes, scan(lexemes)


def _to_number(tokens: Sequence[str], lexemes: Sequence[Lexeme], parsed: Parsed) -> Number:
    first, last = lexemes[parsed.start].token, lexemes[parsed.end - 1].token + 1
    return Number(value=float(parsed.value), decimals=parsed.decimals, text=" ".join(tokens[first:last]), first=first,
                  last=last, style=parsed.style, digits=parsed.digits)  # fmt: skip


def _ordinals(tokens: Sequence[str], lexemes: Sequence[Lexeme], taken: set[int]) -> list[Number]:
    out = []
    for i, lexeme in enumerate(lexemes):
        if i in taken:
            continue
        value = int(lexeme.written) if lexeme.kind == "ordinal" and lexeme.written else _ORDINALS.get(lexeme.word)
        if lexeme.word == "second" and i and lexemes[i - 1].word == "the":
            value = 2
        if value is not None:
            out.append(Number(value=float(value), decimals=0, text=tokens[lexeme.token], first=lexeme.token,
                              last=lexeme.token + 1, style="ordinal"))  # fmt: skip
    return out


def find_numbers(tokens: Sequence[str]) -> tuple[Number, ...]:
    """The numbers of a sentence, in order: cardinals, decimals, digit strings, fractions, ordinals and clock times.

    tokens: words as spoken or written, with or without punctuation. A clock time's value is hours since midnight.
    Runs of number words without a single reading ("ten fifteen", "twenty four five") are left out.
    """
    return _numbers(tuple(tokens))


@lru_cache(maxsize=1024)
def _numbers(tokens: tuple[str, ...]) -> tuple[Number, ...]:
    """As `find_numbers`: several stages ask for those of one sentence."""
    if not holds_number(tokens):
        return ()
    lexemes, scanned = scanned_words(tokens)
    parsed = [p for p in scanned if not p.weak]
    taken = {i for p in parsed for i in range(p.start, p.end)}
    numbers = [_to_number(tokens, lexemes, p) for p in parsed]
    return tuple(sorted(numbers + _ordinals(tokens, lexemes, taken), key=lambda n: n.first))
