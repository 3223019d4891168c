"""Which of many regular expressions may match a text: those whose words stand in it that they cannot match without.

Most expressions of a trade find nothing in a clause. Of each, strings are known of which every match holds one: where
none of them stands in the text, it need not be searched.
"""

from __future__ import annotations

import re
import re._parser as parser  # type: ignore[import-not-found]
from collections.abc import Iterable
from functools import lru_cache
from itertools import product
from typing import Any

_LEAST = 3  #: letters of the shortest string that is looked for
_LETTERS = 4  #: that are looked for together, before the strings that they are of
_MOST = 64  #: strings that one stretch of an expression may be written out as
_SPREAD = 12.0  #: how many times rarer a string is for each letter more, roughly
_RARE_FIRST = "zqxjkvbywgpfmucdlhrsnioate "  #: letters and the blank, by how rare they are in English
_EDGE = "\0"  #: an edge of a word, in a string that is being put together
_NO_WORD = re.compile(r"\W")
_NOTHING = frozenset({""})


class Screen:
    """Several expressions, and which of them may match a text at all. Raises re.error."""

    __slots__ = ("_always", "_short", "_strings")

    def __init__(self, patterns: Iterable[str]) -> None:
        self._always: list[int] = []
        self._short: list[tuple[str, int]] = []  #: a string with fewer letters, and the expression's place
        self._strings: dict[str, list[tuple[str, int]]] = {}  #: by letters of it: a string, and the expression's place
        for place, pattern in enumerate(patterns):
            needed = needed_strings(pattern)
            if needed is None:
                self._always.append(place)
            for string in sorted(needed or ()):
                short = len(string) < _LETTERS
                same = self._short if short else self._strings.setdefault(_rarest_letters(string), [])
                same.append((string, place))

    def may_match(self, text: str) -> list[int]:
        """The places of the expressions that may find something in `text`, in their order; the others find nothing."""
        plain, letters = _looked_at(text)
        near = self._strings.keys() & letters
        found = {place for four in near for string, place in self._strings[four] if string in plain}
        return sorted(found.union(self._always, (place for string, place in self._short if string in plain)))


@lru_cache(maxsize=256)
def _looked_at(text: str) -> tuple[str, frozenset[str]]:
    """A text with blanks for all that stands in no word and around it, and all letters that follow each other in it."""
    plain = f" {_NO_WORD.sub(' ', text)} "
    return plain, frozenset(plain[n : n + _LETTERS] for n in range(len(plain) - _LETTERS + 1))


def _rarest_letters(string: str) -> str:
    """The letters of a string that stand in fewest texts, as far as single letters tell."""
    runs = [string[n : n + _LETTERS] for n in range(len(string) - _LETTERS + 1)]
    return min(runs, key=lambda run: sum(_RARE_FIRST.find(letter) for letter in run))


@lru_cache(maxsize=1024)
def needed_strings(pattern: str) -> frozenset[str] | None:
    """Strings of which every match of `pattern` holds one, with what stands beside it; None where there are none.

    Blanks stand for all that belongs to no word, the beginning and the end of the text included. Example:
    r"(turned|switched) it\\b" needs "turned it " or "switched it ".
    """
    tree = parser.parse(pattern)
    return None if tree.state.flags & ~re.UNICODE else _of_row(tree)  # of flags nothing is known here


def _of_row(items: Iterable[tuple[Any, Any]], before: frozenset[str] = _NOTHING) -> frozenset[str] | None:
    """The rarest of the strings that the items of a row need: all items must match. before: what stands before them."""
    best: frozenset[str] | None = None
    stretch = before
    for kind, value in items:
        written = _written_out(kind, value)
        if written is not None and len(stretch) * len(written) <= _MOST:
            stretch = _joined(stretch, written)
            if kind is parser.ASSERT:
                best = _rarer(best, _of_row(value[1]))
            continue
        once = _once(kind, value)
        near = stretch if once is None or len(stretch) * len(once) > _MOST else _joined(stretch, once)
        best = _rarer(_rarer(best, _finished(near)), _of_item(kind, value, stretch))
        stretch = written or once or _NOTHING
    return _rarer(best, _finished(stretch))


def _of_item(kind: Any, value: Any, before: frozenset[str]) -> frozenset[str] | None:
    if kind is parser.SUBPATTERN:
        return None if value[1] else _of_row(value[3], before)
    if kind in (parser.MAX_REPEAT, parser.MIN_REPEAT):
        return _of_row(value[2], before) if value[0] else None
    if kind is parser.BRANCH:
        ways = [_of_row(items, before) for items in value[1]]
        return frozenset().union(*(way for way in ways if way is not None)) if None not in ways else None
    return None


def _once(kind: Any, value: Any) -> frozenset[str] | None:
    """All that one turn of an item can match that is said once at least, and maybe more often."""
    return _all_of(value[2]) if kind in (parser.MAX_REPEAT, parser.MIN_REPEAT) and value[0] else None


def _written_out(kind: Any, value: Any) -> frozenset[str] | None:
    """All that an item can match, its edges of words marked; None where that is too much."""
    if kind is parser.LITERAL:
        return frozenset({chr(value)})
    if kind is parser.IN:
        return frozenset(chr(v) for _, v in value) if all(k is parser.LITERAL for k, _ in value) else None
    if kind is parser.AT:
        return frozenset({"" if value is parser.AT_NON_BOUNDARY else _EDGE})
    if kind is parser.FAILURE or (kind is parser.ASSERT_NOT and not len(value[1])):
        return frozenset()  # "(?!)": nothing matches
    if kind in (parser.ASSERT, parser.ASSERT_NOT):
        return _NOTHING  # they take up no letter
    if kind is parser.SUBPATTERN:
        return None if value[1] else _all_of(value[3])
    if kind is parser.BRANCH:
        ways = [_all_of(items) for items in value[1]]
        every = frozenset().union(*(way for way in ways if way is not None))
        return every if None not in ways and len(every) <= _MOST else None
    if kind in (parser.MAX_REPEAT, parser.MIN_REPEAT) and value[1] == 1:
        once = _all_of(value[2])
        return once | {""} if once is not None and not value[0] else once
    return None


def _all_of(items: Iterable[tuple[Any, Any]]) -> frozenset[str] | None:
    """All that a row of items can match; None where that is too much."""
    out = _NOTHING
    for item in items:
        written = _written_out(*item)
        if written is None or len(out) * len(written) > _MOST:
            return None
        out = _joined(out, written)
    return out


def _joined(one: frozenset[str], other: frozenset[str]) -> frozenset[str]:
    return frozenset(map("".join, product(one, other)))


def _finished(stretch: frozenset[str]) -> frozenset[str] | None:
    """The strings with blanks for what belongs to no word, and for the edges that they begin and end at."""
    out = frozenset(_plain(string) for string in stretch)
    return out if all(len(string) >= _LEAST for string in out) else None


def _plain(string: str) -> str:
    bare = string.replace(_EDGE, "")
    before = " " if string[:1] == _EDGE and _is_word(bare[:1]) else ""
    after = " " if string[-1:] == _EDGE and _is_word(bare[-1:]) else ""
    return before + _NO_WORD.sub(" ", bare) + after


def _is_word(letter: str) -> bool:
    return bool(letter) and not _NO_WORD.match(letter)


def _rarer(one: frozenset[str] | None, other: frozenset[str] | None) -> frozenset[str] | None:
    if one is None or other is None:
        return one if other is None else other
    return min(one, other, key=lambda strings: sum(_SPREAD ** -len(s.strip()) for s in strings))
