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


def second_look(
    words: Sequence[Word],
    other: Sequence[Word],
    *,
    numbers: Mapping[str, int],
    watched: Collection[str],
    same: Mapping[str, str] = MappingProxyType({}),
) -> tuple[Word, ...]:
    """The words, with what another decode heard instead as `alternative` where it matters and differs.

    words, other: of the same stretch of sound. numbers: number words and their values. watched: other words that
    matter, lower case. "15" and "fifteen" are the same, "GK 55" and "GK55" are; same: others that are, the first
    counts as the second. A word that the other decode left out has "" as alternative.
    """
    mine, theirs = ([same.get(bare, bare) for bare in map(_bare, side)] for side in (words, other))
    found = list(words)
    for kind, a, b, c, d in SequenceMatcher(None, mine, theirs, autojunk=False).get_opcodes():
        if kind == "equal" or a == b:
            continue
        if not any(matters(word, numbers=numbers, watched=watched) for word in (*words[a:b], *other[c:d])):
            continue
        if _same(mine[a:b], theirs[c:d], numbers):
            continue
        heard = " ".join(w.word for w in other[c:d])
        for n in range(a, b):
            if matters(words[n], numbers=numbers, watched=watched) or b - a == 1:
                own = other[c + n - a].word if b - a == d - c else heard
                if not _same([_bare(found[n])], [own.lower().strip(".,!?;:")], numbers):
                    found[n] = replace(found[n], alternative=own)
    return tuple(found)


def matters(word: Word, *, numbers: Mapping[str, int], watched: Collection[str]) -> bool:
    """Whether a word is a number, part of an identifier, or one of the watched."""
    bare = _bare(word)
    if _DIGITS.search(bare) or bare in numbers or bare in watched:
        return True
    return len(bare) == 1 and bare.isalpha() and bare not in ("a", "i")


def _same(mine: Sequence[str], theirs: Sequence[str], numbers: Mapping[str, int]) -> bool:
    """Whether two readings differ in nothing but how they are written. Digits are never joined: 10 4 is not 104."""
    return _JOINT.sub("", _value(mine, numbers)) == _JOINT.sub("", _value(theirs, numbers))


def _bare(word: Word) -> str:
    return _BARE.sub("", word.word.lower()).strip(".-_") or word.word.lower()


def _value(words: Sequence[str], numbers: Mapping[str, int]) -> str:
    """Words as one text in which numbers are digits: ["twenty", "four", "volts"] -> "24 volts"."""
    out: list[str] = []
    total: int | None = None
    for word in words:
        for part in word.replace("-", " ").split():
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
    return " ".join(out)
