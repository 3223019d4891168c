"""Text, numbers and times as people see them. What cannot be seen is given its number instead."""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal

MINUS = "\N{MINUS SIGN}"
NO_BREAK = "\N{NO-BREAK SPACE}"

# Cc control, Cf format (bidi controls, zero widths), Cs lone surrogate, Co private, Cn unassigned
_UNSEEN = ("Cc", "Cf", "Cs", "Co", "Cn")
_BREAKS = "\t\n\r\x0b\x0c\x85\u2028\u2029"


def by_number(character: str) -> str:
    """A character as its code point: [U+202E]."""
    return f"[U+{ord(character):04X}]"


def shown(text: str) -> str:
    """Text on one line in which every character can be seen.

    Line breaks and tabs become blanks. Control, bidi and zero-width characters, which could hide or turn words round,
    stand as their numbers: "a\\u202eb" is "a[U+202E]b".
    """
    return "".join(
        " " if c in _BREAKS else by_number(c) if unicodedata.category(c) in _UNSEEN else c for c in text
    )  # fmt: skip


def capital(text: str) -> str:
    """Text with its first letter in upper case."""
    return text[:1].upper() + text[1:]


def plain_number(value: float, decimals: int | None = None) -> str:
    """A number in ASCII digits, in as many decimals as were spoken, else in as few as it needs; never 1e-05."""
    if decimals is not None:
        return f"{value:.{decimals}f}"
    return format(Decimal(repr(value)).normalize(), "f")


def number(value: float, decimals: int | None = None) -> str:
    """A number with a true minus sign."""
    return plain_number(value, decimals).replace("-", MINUS)


def clock(seconds: float) -> str:
    """Seconds as 12:04, or 1:02:04 from an hour on; fractions of a second are cut off."""
    whole = int(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, rest = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes:02d}:{rest:02d}"


def moment(stamp: str) -> str:
    """An RFC 3339 time as 2026-03-09 09:12, by the clock of the place it was written at; other text as it is."""
    found = re.fullmatch(r"(\d{4}-\d\d-\d\d)[Tt ](\d\d:\d\d)(:\d\d(\.\d+)?)?([Zz]|[+-]\d\d:\d\d)?", stamp)
    return f"{found[1]} {found[2]}" if found else shown(stamp)


def ended(sentence: str) -> str:
    """A sentence with its full stop."""
    return sentence if not sentence or sentence.endswith((".", "?", "!")) else sentence + "."


def initials(name: str) -> str:
    """The initials of a person, three at most."""
    return "".join(part[0].upper() for part in shown(name).split())[:3]
