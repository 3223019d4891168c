"""Words of dictation: their core, what ends after them, and the letters that they name."""

from __future__ import annotations

import re
from functools import lru_cache

from voicereport.trades.spoken_units import shipped_units
from voicereport.wording.lexemes import DIGITS

#: names of letters as they are written out; those that are words of their own ("see", "tea", "are", "you") are left out
LETTER_NAMES = {"bee": "B", "cee": "C", "dee": "D", "eff": "F", "gee": "G", "aitch": "H", "haitch": "H", "jay": "J",
            "kay": "K", "ell": "L", "em": "M", "en": "N", "pee": "P", "cue": "Q", "queue": "Q", "ess": "S", "tee": "T",
            "vee": "V", "double-u": "W", "double-you": "W", "ex": "X", "wye": "Y", "zed": "Z", "zee": "Z"}  # fmt: skip
SPOKEN_DIGITS = DIGITS | {"tree": 3}
MULTIPLES = {"double": 2, "triple": 3, "treble": 3, "quadruple": 4}
SEPARATORS = {
    "dash": "-",
    "hyphen": "-",
    "minus": "-",
    "slash": "/",
    "stroke": "/",
    "oblique": "/",
    "forward": "",
    "point": ".",
    "dot": ".",
    "decimal": ".",
}
ENDS = frozenset(".?!")
_CORE = re.compile(r"^[\"'“”‘’(\[#]+|[.,;:!?…)\]\"”’']+$")


def listed(name: str, *words: str) -> bool:
    """The words stand in one of the lists for identifiers in units.toml."""
    return shipped_units().has(f"identifiers.{name}", words)


def letter_of(word: str) -> str | None:
    """The letter that a word of the spelling alphabet, or the name of a letter, stands for."""
    return LETTER_NAMES.get(word) or (word[0].upper() if listed("alphabet", word) else None)


@lru_cache(maxsize=20_000)
def core_of(token: str) -> str:
    """A word without the marks around it."""
    return _CORE.sub("", token)


def stops(token: str) -> bool:
    """The token ends a sentence; "Q." within spelled letters does not."""
    return (token[-1:] in ENDS and len(core_of(token)) > 1) or token[-1:] in ("?", "!")


def comma_after(token: str) -> bool:
    return token[-1:] in ",;:"
