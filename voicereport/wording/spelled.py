"""First names and everyday words that stand for a letter: "Henry Mary twelve hundred William"."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from voicereport.wording.dictated import MULTIPLES, SPOKEN_DIGITS, comma_after, core_of, letter_of, listed, stops
from voicereport.wording.lexemes import OHS, TEENS, TENS, ZEROS

Kind = Literal["name", "letter", "figure"]
_FIGURES = frozenset({*SPOKEN_DIGITS, *ZEROS, *OHS, *TEENS, *TENS, *MULTIPLES})
_FEW = 2  #: names that may end an identifier


def is_spelled(tokens: Sequence[str], i: int) -> bool:
    """True where the name or noun at i is a letter: it stands in a row of signs that has figures.

    A name that may as well be a person or belong to the sentence ("job for Peter, four four one", "four four one two,
    David King") is none.
    """
    if not _named(tokens, i):
        return False
    first, last = _row(tokens, i)
    begin, end = _series(tokens, i, first, last)
    kinds = [_kind(tokens[n]) for n in range(first, last)]
    if first > 1 and listed("starts", _lower(tokens[first - 2])) and _lower(tokens[first - 1]) == "with":
        return "figure" in kinds
    if "figure" not in kinds or (begin == first and first and listed("before_persons", _lower(tokens[first - 1]))):
        return False
    letters = sum(kind in ("letter", "name") for kind in kinds) - 1
    if any(listed("spelled_plain", _lower(tokens[n])) for n in range(begin, end)) and not letters:
        return False
    if end < last:
        return end - begin > 1 or not comma_after(tokens[end - 1])
    return _ends_row(tokens, begin, end, bool(letters))


def _ends_row(tokens: Sequence[str], begin: int, end: int, lettered: bool) -> bool:
    """True where names at the end of a row go with it. lettered: there is another letter in the row."""
    if end - begin > _FEW or (comma_after(tokens[begin - 1]) and not (begin > 1 and comma_after(tokens[begin - 2]))):
        return False
    if not lettered and not all(listed("spelled_nouns", _lower(tokens[n])) for n in range(begin, end)):
        return False
    closed = end == len(tokens) or comma_after(tokens[end - 1]) or stops(tokens[end - 1])
    return closed or listed("after_sign", _lower(tokens[end]))


def _lower(token: str) -> str:
    return core_of(token).lower()


def _named(tokens: Sequence[str], i: int) -> bool:
    return any(listed(f"spelled_{name}", _lower(tokens[i])) for name in ("names", "nouns", "plain"))


def _kind(token: str) -> Kind | None:
    """What a word can be in a row of signs."""
    core = core_of(token)
    lower = core.lower()
    if lower in _FIGURES or lower.split("-")[0] in TENS or any(c.isdigit() for c in core):
        return "figure"
    if (len(core) == 1 and core.isupper()) or (letter_of(lower) and not listed("fillers", lower)):
        return "letter"
    return "name" if _named([token], 0) else None


def _row(tokens: Sequence[str], i: int) -> tuple[int, int]:
    """Where the row of signs around i begins and ends, "hundred" and "thousand" among them."""
    first = last = i
    while first and not stops(tokens[first - 1]) and _in_row(tokens[first - 1]):
        first -= 1
    while last < len(tokens) and (last == i or not stops(tokens[last - 1])) and _in_row(tokens[last]):
        last += 1
    return first, last


def _in_row(token: str) -> bool:
    return _kind(token) is not None or listed("in_rows", _lower(token))


def _series(tokens: Sequence[str], i: int, first: int, last: int) -> tuple[int, int]:
    """The names in a row around i, within [first, last)."""
    begin, end = i, i + 1
    while begin > first and _named(tokens, begin - 1):
        begin -= 1
    while end < last and _named(tokens, end):
        end += 1
    return begin, end
