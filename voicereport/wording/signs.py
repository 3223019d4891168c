"""The signs of a dictated identifier, one by one: letters, figures, separators, as spoken and as written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from voicereport.trades.spoken_units import shipped_units
from voicereport.wording.dictated import (
    ENDS,
    LETTER_NAMES,
    MULTIPLES,
    SEPARATORS,
    SPOKEN_DIGITS,
    comma_after,
    core_of,
    letter_of,
    listed,
    stops,
)
from voicereport.wording.lexemes import OHS, TEENS, TENS, ZEROS
from voicereport.wording.spelled import is_spelled

_WRITTEN = re.compile(r"[A-Z0-9]+(?:[-/.][A-Z0-9]+)*\Z")
_THOUSANDS = re.compile(r"\d{1,3}(?:,\d{3})+\Z")


_SURE_LINKS = (("as", "in"), ("like", "in"))  #: before an example word even after a comma


@dataclass(frozen=True, slots=True)
class Item:
    """What one to a few tokens add: its text, where it ends, whether a comma follows, whether O or 0 is open."""

    text: str
    end: int
    comma: bool = False
    open_o: bool = False
    example: bool = False  #: a letter said with its example word ("S for sugar")
    paused: bool = False  #: the speaker hesitated before it ("four four two, um, four")


def _written(core: str) -> str | None:
    """The text of a token written with figures or capitals ("QZ418-N"); None where it is an ordinary word."""
    if _THOUSANDS.match(core):
        return core.replace(",", "")
    upper = core.upper().replace("–", "-")
    if not _WRITTEN.match(upper):
        return None
    if any(c.isdigit() for c in upper):
        if not core.isupper() and re.search(r"\d(?:st|nd|rd|th)\Z", core):
            return None
    elif not core.isupper() or core in ("OK", "I", "A") or len(core) > 5:
        return None
    pieces = re.split(r"[-.]", upper)
    if len(pieces) > 2 and (all(len(p) == 1 for p in pieces) or all(len(p) == 1 and p.isalpha() for p in pieces[:-1])):
        return "".join(pieces)  # "Q-Z-4" and "W-O-1149" are spelled out
    return upper


def _letter(tokens: Sequence[str], i: int) -> Item | None:
    """A letter at i, by itself or with its example ("Q as in Quebec"), or a word of the spelling alphabet."""
    core = core_of(tokens[i])
    lower = core.lower()
    if lower == "x" and i + 1 < len(tokens) and core_of(tokens[i + 1]).lower() == "ray":
        return Item("X", i + 2, comma_after(tokens[i + 1]))
    if lower == "double" and i + 1 < len(tokens) and core_of(tokens[i + 1]).lower() in ("u", "you"):
        return Item("W", i + 2, comma_after(tokens[i + 1]))
    if len(core) == 1 and core.isalpha() and not (stops(tokens[i]) and lower in "ai"):
        example = _example(tokens, i)
        if example is not None:
            return example
        if lower in "ai" and not core.isupper() and not (i and listed("cases", core_of(tokens[i - 1]).lower())):
            return None
        return Item(core.upper(), i + 1, comma_after(tokens[i]), open_o=lower == "o" and not _is_named(tokens, i))
    letter = None if tokens[i][:1] in "'’" else letter_of(lower)  # "'em" is no M
    if letter is None:
        return Item(core[0].upper(), i + 1, comma_after(tokens[i])) if is_spelled(tokens, i) else None
    example = _example(tokens, i, letter) if lower in LETTER_NAMES else None
    if example is None and listed("fillers", lower):
        return None  # "em" is said for want of words, too
    return example or Item(letter, i + 1, comma_after(tokens[i]))


def _is_named(tokens: Sequence[str], i: int) -> bool:
    """ "letter O"."""
    return i > 0 and core_of(tokens[i - 1]).lower() in ("letter", "capital")


def _known_example(word: str) -> bool:
    """A word of one of the spelling alphabets."""
    return any(listed(name, word) for name in ("alphabet", "spelled_names", "spelled_nouns", "spelled_plain"))


def _example(tokens: Sequence[str], i: int, name: str = "") -> Item | None:
    """ "Q as in Quebec", "S for sugar": the letter, by its example word. name: the letter, where it is written out."""
    apart = comma_after(tokens[i])
    for link in shipped_units().lists["identifiers.examples"]:
        if apart and link not in (*_SURE_LINKS, ("for",)):
            continue
        end = i + 1 + len(link)
        if end >= len(tokens) or tuple(core_of(t).lower() for t in tokens[i + 1 : end]) != link:
            continue
        while end + 1 < len(tokens) and listed("fillers", core_of(tokens[end]).lower()):
            end += 1  # "W as in, er, window"
        word = core_of(tokens[end]).lower()
        if not word[:1].isalpha() or listed("no_examples", word):
            continue
        letter = name or core_of(tokens[i]).upper()
        if apart and (word[0].upper() != letter or (link == ("for",) and not _known_example(word))):
            continue
        if word[0].upper() != letter and letter_of(word) is None and link not in (("as", "in"), ("for",)):
            continue
        # the word is heard better than the letter ("N as in Mike" is M)
        return Item(word[0].upper(), end + 1, comma_after(tokens[end]), example=True)
    return None


def _split(core: str) -> list[str]:
    return core.lower().split("-") if "-" in core and not any(c.isdigit() for c in core) else [core.lower()]


def _words(tokens: Sequence[str], i: int, most: int = 12) -> list[tuple[str, int, bool]]:
    """The next words as (word, end token, comma after), hyphens opened, up to the first break."""
    out: list[tuple[str, int, bool]] = []
    for at in range(i, min(len(tokens), i + most)):
        parts = _split(core_of(tokens[at]))
        for n, part in enumerate(parts):
            out.append((part, at + 1, comma_after(tokens[at]) and n == len(parts) - 1))
        if comma_after(tokens[at]) or tokens[at][-1:] in ENDS:
            break
    return out


def _small(words: Sequence[tuple[str, int, bool]], n: int) -> tuple[int, int] | None:
    """A spoken number below a hundred at words[n], and how many words it takes."""
    word = words[n][0]
    if word in TENS:
        if n + 1 < len(words) and words[n + 1][0] in SPOKEN_DIGITS:
            return TENS[word] + SPOKEN_DIGITS[words[n + 1][0]], 2
        return TENS[word], 1
    if word in TEENS:
        return TEENS[word], 1
    return (SPOKEN_DIGITS[word], 1) if word in SPOKEN_DIGITS else None


def _hundreds(words: Sequence[tuple[str, int, bool]], n: int) -> tuple[int, int] | None:
    """A number with "hundred" at words[n] ("a hundred and twelve", "twelve hundred"), and where it ends."""
    if n + 1 < len(words) and words[n][0] == "a" and words[n + 1][0] == "hundred":
        value, end = 1, n + 1
    else:
        small = _small(words, n) if n < len(words) else None
        if small is None or n + small[1] >= len(words) or words[n + small[1]][0] != "hundred":
            return None
        value, end = small[0], n + small[1]
    return _with_rest(words, value * 100, end + 1)


def _with_rest(words: Sequence[tuple[str, int, bool]], value: int, end: int) -> tuple[int, int]:
    """`value` and what follows of it below a hundred ("and twelve"), and where it ends."""
    rest = end + 1 if end < len(words) and words[end][0] == "and" else end
    small = _small(words, rest) if rest < len(words) else None
    return (value + small[0], rest + small[1]) if small is not None else (value, end)


def _large(words: Sequence[tuple[str, int, bool]]) -> tuple[int, int] | None:
    """A number with "hundred" or "thousand" at the start of `words`, and how many words it takes."""
    hundreds = _hundreds(words, 0)
    one = (1, 1) if words[0][0] == "a" else None
    for found in (hundreds, one, _small(words, 0)):
        if found is None or found[1] >= len(words) or words[found[1]][0] != "thousand":
            continue
        value, end = found[0] * 1000, found[1] + 1
        rest = end + 1 if end < len(words) and words[end][0] == "and" else end
        more = _hundreds(words, rest)
        return (value + more[0], more[1]) if more is not None and more[0] < 1000 else _with_rest(words, value, end)
    return hundreds


def _figures(tokens: Sequence[str], i: int) -> Item | None:
    """A spoken number at i as digits: "four" 4, "sixty one" 61, "one hundred" 100, "double seven" 77."""
    words = _words(tokens, i)
    if not words:
        return None
    first = words[0][0]
    if first in ZEROS or first == "oh":
        return Item("0", words[0][1], words[0][2])
    if first in MULTIPLES and len(words) > 1:
        next_word, end, comma = words[1]
        if next_word in SPOKEN_DIGITS or next_word in ZEROS or next_word in OHS:
            digit = "0" if next_word in ZEROS or next_word in OHS else str(SPOKEN_DIGITS[next_word])
        elif len(next_word) == 1 and next_word.isalnum():
            digit = next_word.upper()
        elif letter := letter_of(next_word):
            digit = letter
        else:
            return None
        return Item(digit * MULTIPLES[first], end, comma)
    found = _large(words) or _small(words, 0)
    if found is None:
        return None
    value, taken = found
    _, end, comma = words[taken - 1]
    if taken < len(words) and words[taken][1] == end:
        return None  # a hyphenated word that is only partly a number
    return Item(str(value), end, comma)


def item_at(tokens: Sequence[str], i: int) -> Item | None:
    """The next item of an identifier at i."""
    core = core_of(tokens[i])
    lower = core.lower()
    if lower in SEPARATORS and core:
        return Item(SEPARATORS[lower], i + 1, comma_after(tokens[i]))
    if core in ("-", "–", "—") or (not core and tokens[i] in ("-", "–", "/")):
        return Item("-", i + 1)
    found = _figures(tokens, i) or _letter(tokens, i)
    if found is not None:
        return found
    text = _written(core)
    return Item(text, i + 1, comma_after(tokens[i])) if text is not None else None
