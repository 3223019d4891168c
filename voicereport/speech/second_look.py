"""Numbers, identifiers and other words that matter, heard a second time in another way."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from difflib import SequenceMatcher
from types import MappingProxyType

from voicereport.transcript import Word

_DIGITS = re.compile(r"\d")
_JOINT = re.compile(r"(?<=[a-z])[ -]+(?=[a-z0-9])|(?<=[0-9])[ -]+(?=[a-z])")
_BARE = re.compile(r"[^\w.%-]+")
_SPELLED = re.compile(r"(?<![\w.-])\d(?:-\d)+(?![\w-])|(?<!\S)\d(?: \d){2,}(?!\S)")
_DECIMAL = re.compile(r"(?:(?<!\S)(\d+) )?(?<!\S)point ((?:\d+(?: |$))+)")
_RUN_TOGETHER = re.compile(r"(?<=[a-z]{3})(?=\.\d)")
_NO_NOUGHT = re.compile(r"(?<![\d.])\.(?=\d)")


def second_look(
    words: Sequence[Word],
    other: Sequence[Word],
    *,
    numbers: Mapping[str, int],
    watched: Collection[str],
    same: Mapping[str, str] = MappingProxyType({}),
    units: Collection[str] = (),
) -> tuple[Word, ...]:
    """The words, with what another decode heard instead as `alternative` where it matters and differs.

    words, other: of the same stretch of sound. numbers: number words and their values. watched: other words that
    matter, lower case. units: words that matter where both decodes have one and not the same. "15" and "fifteen" are
    the same, "GK 55" and "GK55", ".3" and "point three" are; same: others that are, the first counts as the second. A
    word that the other decode left out has "" as alternative.
    """
    mine, theirs = ([same.get(word, word) for word in map(plain, side)] for side in (words, other))
    found = list(words)
    for kind, a, b, c, d in SequenceMatcher(None, mine, theirs, autojunk=False).get_opcodes():
        if a == b:
            continue
        if kind == "equal" or same_numbers(mine[a:b], theirs[c:d], numbers):
            continue
        unlike = _other_units(mine[a:b], theirs[c:d], units)
        telling = [_telling(_value(side, numbers), watched) for side in (mine[a:b], theirs[c:d])]
        if telling[0] == telling[1] and not unlike:
            continue
        heard = " ".join(w.word for w in other[c:d])
        for n in range(a, b):
            counts = matters(words[n], numbers=numbers, watched=watched) or (unlike and mine[n] in units)
            if counts or b - a == 1:
                own = other[c + n - a].word if b - a == d - c else heard
                if not same_numbers(
                    [plain(found[n])], [plain(Word(word=part, start=0.0, end=0.0)) for part in own.split()], numbers
                ):
                    found[n] = replace(found[n], alternative=own)
    return tuple(found)


def _other_units(mine: Sequence[str], theirs: Sequence[str], units: Collection[str]) -> bool:
    """Whether both sides name a unit, and not the same."""
    sides = [{word.rstrip("s") for word in side if word in units} for side in (mine, theirs)]
    return all(sides) and sides[0] != sides[1]


def _telling(text: str, watched: Collection[str]) -> str:
    """What of a text, numbers as digits, matters, run together where digits are not parted from digits."""
    kept = [t for t in text.split() if _DIGITS.search(t) or t in watched or _is_letter(t)]
    return _JOINT.sub("", " ".join(kept))


def _is_letter(bare: str) -> bool:
    return len(bare) == 1 and bare.isalpha() and bare not in ("a", "i")


def matters(word: Word, *, numbers: Mapping[str, int], watched: Collection[str]) -> bool:
    """Whether a word is a number, part of an identifier, or one of the watched."""
    bare = plain(word)
    if _DIGITS.search(bare) or bare in numbers or bare in watched:
        return True
    return _is_letter(bare)


def same_numbers(mine: Sequence[str], theirs: Sequence[str], numbers: Mapping[str, int]) -> bool:
    """Whether two readings differ in nothing but how they are written. Digits are never joined: 10 4 is not 104."""
    return _JOINT.sub("", _value(mine, numbers)) == _JOINT.sub("", _value(theirs, numbers))


def plain(word: Word) -> str:
    """A word without punctuation, lower case; a leading decimal point stays."""
    bare = _BARE.sub("", word.word.lower())
    inner = bare.strip(".-_")
    return "." + inner if bare.startswith(".") and inner[:1].isdigit() else inner or word.word.lower()


def _value(words: Sequence[str], numbers: Mapping[str, int]) -> str:
    """Words as one text in which numbers are digits: ["twenty", "four", "volts"] -> "24 volts", "point three" -> "0.3",
    and figures said one by one are together: "8 1 4" -> "814"."""
    out: list[str] = []
    total: int | None = None
    for word in words:
        for part in (word if _SPELLED.fullmatch(word) else word.replace("-", " ")).split():
            value = numbers.get(part)
            if value is None:
                if total is not None:
                    out.append(str(total))
                    total = None
                out.append(part)
            elif value >= 100 and total:
                total *= value
            elif (total is not None and total % 10 == 0 and total and value < 10) or (
                total is not None and total % 100 == 0 and total and value < 100
            ):
                total += value
            else:
                if total is not None:
                    out.append(str(total))
                total = value
    if total is not None:
        out.append(str(total))
    return _figures(" ".join(out))


def _figures(text: str) -> str:
    text = _RUN_TOGETHER.sub(" ", text)
    text = _DECIMAL.sub(lambda found: f"{found[1] or 0}.{found[2].replace(' ', '')} ", text).strip()
    text = _NO_NOUGHT.sub("0.", text)
    return _SPELLED.sub(lambda found: found[0].replace("-", "").replace(" ", ""), text)
