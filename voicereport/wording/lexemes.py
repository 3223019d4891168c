"""Words as they come from a recogniser, split into the pieces that the number grammar reads."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from voicereport.trades.spoken_units import shipped_units

DIGITS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
          "niner": 9, "fower": 4, "fife": 5}  # fmt: skip
#: digits written as ICAO has them pronounced; such a word is one only beside another number word
PRONOUNCED = {"tree": "three", "wun": "one", "ait": "eight"}
_MENDED = frozenset({*PRONOUNCED, "comma"})
ZEROS = frozenset({"zero", "nought", "naught", "nil", "aught", "ought"})
OHS = frozenset({"oh", "o"})
TEENS = {"ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
         "seventeen": 17, "eighteen": 18, "nineteen": 19}  # fmt: skip
TENS = {"twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80,
        "ninety": 90}  # fmt: skip
DENOMINATORS = {"half": 2, "halves": 2, "third": 3, "quarter": 4, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7,
                "eighth": 8, "ninth": 9, "tenth": 10, "twelfth": 12, "sixteenth": 16, "thirtysecond": 32,
                "sixtyfourth": 64, "hundredth": 100, "thousandth": 1000}  # fmt: skip
DENOMINATORS |= {word + "s": n for word, n in DENOMINATORS.items() if not word.endswith("halves")}
NUMBER_WORDS = frozenset(
    {
        *DIGITS,
        *ZEROS,
        *TEENS,
        *TENS,
        *DENOMINATORS,
        "hundred",
        "thousand",
        "point",
        "minus",
        "negative",
        "and",
        "a",
        "dozen",
    }
)
_GLYPHS = {
    "½": (1, 2),
    "¼": (1, 4),
    "¾": (3, 4),
    "⅓": (1, 3),
    "⅔": (2, 3),
    "⅛": (1, 8),
    "⅜": (3, 8),
    "⅝": (5, 8),
    "⅞": (7, 8),
}
_SIGNS = {"<": "under", "≤": "under", ">": "over", "≥": "over", "~": "about", "≈": "about"}
_LEADING = "\"'“”‘’([{¿¡*_"
_TRAILING = ".,;:!?…)]}\"”’'—*_"
_BREAKING = frozenset(".,;:!?…—")
_PLAIN = re.compile(r"\+?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?\Z|\+?\.\d+\Z")
_FRACTION = re.compile(r"(?:(\d+)[-–])?(\d+)/(\d+)\Z")
_CLOCK = re.compile(r"\d{1,2}:\d{2}\Z")
_RKM = re.compile(r"(\d+)([kKM])(\d+)\Z")
_SUFFIXED = re.compile(r"(\+?[\d.,/]*\d)-?([^\d\s.,/-][^\s]*)\Z")
_RANGE = re.compile(r"(\d+(?:\.\d+)?)[-–](\d+(?:\.\d+)?)\Z")
_ORDINAL = re.compile(r"(\d+)(?:st|nd|rd|th)\Z")
_INITIALS = re.compile(r"(?:[A-Za-z]\.)+[A-Za-z]?\Z")


@dataclass(frozen=True, kw_only=True, slots=True)
class Lexeme:
    """A piece of a token."""

    word: str  #: lower case, without punctuation
    raw: str  #: as written, without punctuation
    token: int  #: index of the token it comes from
    broken: bool = False  #: punctuation after it ends the phrase
    written: str | None = None  #: digits as written without a sign, "26.4", "1500"; of a fraction "1 3/8"
    kind: str = "word"  #: word | number | fraction | clock | ordinal | money
    attached: bool = False  #: a symbol written straight after digits


def _number(text: str, token: int) -> Lexeme:
    return Lexeme(word=text, raw=text, token=token, written=text.replace(",", ""), kind="number")


@lru_cache(maxsize=20_000)
def _pieces(core: str) -> tuple[Lexeme, ...]:
    """The lexemes of one token without its punctuation; their `token` is 0."""
    text = core.replace("−", "-").replace("–", "-") if core[:1] in "−–" else core.replace("−", "-")
    if (text[:1] == "-" and text[1:2].isdigit()) or text[:2] == "-.":
        rest = _pieces(text[1:])
        if rest[0].kind in ("number", "fraction"):
            return (Lexeme(word="minus", raw="-", token=0), *rest)
    if _PLAIN.match(text):
        return (_number(text.lstrip("+"), 0),)
    if match := _FRACTION.match(text):
        whole, top, bottom = match.groups()
        if int(bottom) > 1 and int(top) < int(bottom):
            return (Lexeme(word=text, raw=text, token=0, written=f"{whole or 0} {top}/{bottom}", kind="fraction"),)
        return (Lexeme(word=text.lower(), raw=text, token=0),)
    if _CLOCK.match(text):
        return (Lexeme(word=text, raw=text, token=0, written=text, kind="clock"),)
    if match := _ORDINAL.match(text.lower()):
        return (Lexeme(word=text.lower(), raw=text, token=0, written=match[1], kind="ordinal"),)
    if text[:1] in "$£€" and _PLAIN.match(text[1:]):
        return (Lexeme(word=text, raw=text, token=0, written=text[1:], kind="money"),)
    if text and text[-1] in _GLYPHS and (text[:-1].isdigit() or not text[:-1]):
        top, bottom = _GLYPHS[text[-1]]
        return (Lexeme(word=text, raw=text, token=0, written=f"{text[:-1] or 0} {top}/{bottom}", kind="fraction"),)
    if match := _RANGE.match(text):
        low, high = match.groups()
        if float(low) < float(high) and not (low + high).startswith("0") and len(high) - len(low) <= 1:
            return (_number(low, 0), Lexeme(word="to", raw="to", token=0), _number(high, 0))
        return (Lexeme(word=text.lower(), raw=text, token=0),)
    if match := _RKM.match(text):
        unit = "k" if match[2] in "kK" else "meg"
        return (_number(match[1], 0), Lexeme(word=unit, raw=match[2], token=0, attached=True), _number(match[3], 0))
    if match := _SUFFIXED.match(text):
        return _suffixed(text, match[1], match[2])
    if _INITIALS.match(text):
        joined = text.replace(".", "")
        if len(joined) > 1:
            return (Lexeme(word=joined.lower(), raw=joined, token=0),)
    lower = text.lower().replace("’", "'")
    if lower.endswith("-ish"):
        return (*_pieces(text[:-4]), Lexeme(word="ish", raw="ish", token=0))
    if "-" in lower.strip("-"):
        parts = [p for p in lower.split("-") if p]
        if all(p.isalpha() for p in parts) and (
            any(p in NUMBER_WORDS for p in parts if p not in ("a", "and"))
            or all(p in shipped_units().single for p in parts)
        ):
            return tuple(Lexeme(word=p, raw=p, token=0) for p in parts)
    return (Lexeme(word=lower, raw=text, token=0),)


def _suffixed(text: str, digits: str, suffix: str) -> tuple[Lexeme, ...]:
    """The lexemes of digits with a unit written straight after them; the whole as one word where it is no unit."""
    symbols = shipped_units().symbols
    words = suffix.lower().split("-")
    known = suffix in symbols or all(w in shipped_units().single and len(w) > 1 for w in words)
    number = _pieces(digits)
    if suffix.lower() == "ish" and number[0].kind != "word":
        return (*number, Lexeme(word="ish", raw="ish", token=0))
    if not known or number[0].kind == "word":
        if suffix.lower() in ("am", "pm"):
            return (Lexeme(word=digits, raw=digits, token=0, written=digits, kind="clock"),)
        return (Lexeme(word=text.lower(), raw=text, token=0),)
    if suffix in symbols:
        return (*number, Lexeme(word=suffix.lower(), raw=suffix, token=0, attached=True))
    return (*number, *(Lexeme(word=w, raw=w, token=0) for w in words))


_HESITATIONS = frozenset({"er", "erm", "uh", "um", "ah", "eh", "hmm", "hm", "em", "ehm"})
_GOES_ON = frozenset({"and", "hundred", "thousand", "point", "minus"})  #: after these a number is not at its end


def lex(tokens: Sequence[str]) -> tuple[Lexeme, ...]:
    """The lexemes of `tokens`, each with the index of its token; punctuation only survives as `broken`."""
    out: list[Lexeme] = []
    for index, token in enumerate(tokens):
        sign, body, tail = _parts(token)
        if sign:
            out.append(Lexeme(word=_SIGNS[sign], raw=sign, token=index))
        if not body:
            if out and any(c in _BREAKING for c in token):
                out[-1] = _broken(out[-1])
            continue
        if body.lower() in _HESITATIONS and out and out[-1].word in _GOES_ON:
            out[-1] = replace(out[-1], broken=False)  # "two hundred and, er, eighty two"
            continue
        broken = not _BREAKING.isdisjoint(tail)
        if broken and tail == "." and len(body) == 1 and body.isalpha():
            broken = False  # "P. S. I." is spelled out
        if body.endswith("-") and len(body) > 1:
            body, broken = body.rstrip("-"), True
        out += _placed(body, index, broken)
    for n in range(1, len(out) - 1):
        if out[n].word == "and" and out[n - 1].broken and _is_joined(out, n, tokens):
            out[n - 1] = replace(out[n - 1], broken=False)
    if not any(lexeme.word in _MENDED for lexeme in out):
        return tuple(out)
    return tuple(
        _pronounced(out, n) if lexeme.word in PRONOUNCED else _point(out, n) if lexeme.word == "comma" else lexeme
        for n, lexeme in enumerate(out)
    )


def _is_joined(lexemes: Sequence[Lexeme], n: int, tokens: Sequence[str]) -> bool:
    """Whether "and", at n, joins what a comma parts: "two hundred, and forty volts" is 240 V, as it was heard."""
    before, after = lexemes[n - 1], lexemes[n + 1]
    more = lexemes[n + 2].word if n + 2 < len(lexemes) else ""
    small = after.word in DIGITS or after.word in TEENS or after.word in TENS
    comma = before.word in ("hundred", "thousand") and tokens[before.token].endswith(",")
    return comma and small and not lexemes[n].broken and more not in ("more", "hundred", "thousand")


@lru_cache(maxsize=20_000)
def _parts(token: str) -> tuple[str, str, str]:
    """The sign before a token ("~"), the token without its punctuation, and the punctuation after it."""
    core, sign = token.lstrip(_LEADING), ""
    if core[:1] in _SIGNS:
        sign, core = core[0], core[1:].lstrip("=")
    body = core.rstrip(_TRAILING)
    return sign, body, core[len(body) :]


@lru_cache(maxsize=20_000)
def plain_word(token: str) -> str | None:
    """The word of a token that is no more than one of letters, lower case; None of "9", "two-hole", "P.S.I."."""
    sign, body, _ = _parts(token)
    return body.lower() if not sign and (body.isalpha() or not body) else None


@lru_cache(maxsize=20_000)
def _placed(body: str, index: int, broken: bool) -> tuple[Lexeme, ...]:
    """The lexemes of token `index`; broken: punctuation after it ends the phrase."""
    pieces = _pieces(body)
    return tuple(
        Lexeme(word=piece.word, raw=piece.raw, token=index, broken=broken and n == len(pieces), written=piece.written,
               kind=piece.kind, attached=piece.attached) for n, piece in enumerate(pieces, 1)
    )  # fmt: skip


def _point(lexemes: Sequence[Lexeme], n: int) -> Lexeme:
    """A decimal comma that was spoken ("nought comma six") as the point that it is."""
    if not 0 < n < len(lexemes) - 1 or lexemes[n].broken:
        return lexemes[n]
    before, after = lexemes[n - 1], lexemes[n + 1]
    whole = before.word in DIGITS or before.word in ZEROS or before.word in TEENS or before.word in TENS
    whole = whole or before.word == "hundred" or before.kind == "number"
    part = after.word in DIGITS or after.word in ZEROS or after.word in TEENS or after.word in TENS
    if before.broken or not whole or not (part or after.kind == "number"):
        return lexemes[n]
    return replace(lexemes[n], word="point")


def _pronounced(lexemes: Sequence[Lexeme], n: int) -> Lexeme:
    """The digit that the lexeme at `n` is the pronunciation of, where a number word stands beside it."""
    beside = [lexemes[m].word for m in (n - 1, n + 1) if 0 <= m < len(lexemes)]
    if not any(word in DIGITS or word in ZEROS or word in PRONOUNCED or word == "point" for word in beside):
        return lexemes[n]
    return replace(lexemes[n], word=PRONOUNCED[lexemes[n].word])


def _broken(lexeme: Lexeme) -> Lexeme:
    return Lexeme(word=lexeme.word, raw=lexeme.raw, token=lexeme.token, broken=True, written=lexeme.written,
                  kind=lexeme.kind, attached=lexeme.attached)  # fmt: skip
