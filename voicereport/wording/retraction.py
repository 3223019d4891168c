"""Corrections within a dictated identifier: where they end, and what they take back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from voicereport.trades.spoken_units import shipped_units
from voicereport.wording.dictated import core_of, listed
from voicereport.wording.signs import Item, item_at

_LONGEST = 6  #: words of the longest correction
_LEAST_AGAIN = 2  #: signs that are said again after one of them was corrected
_LEAST_APART = 3  #: signs that are said again, and more, after nothing but a comma


@dataclass(frozen=True, kw_only=True, slots=True)
class Correction:
    """Words of correction that end before token `end`, and what they take back."""

    end: int
    restart: bool = False  #: the last group and all that is said again from its start
    anew: bool = False  #: everything
    last_sign: bool = False  #: one sign


def correction_at(tokens: Sequence[str], i: int) -> Correction | None:
    """The words of correction at i ("no,", "scratch that,", "no, I tell a lie,"); None if none."""
    found = _phrase(tokens, i)
    while found is not None and (more := _phrase(tokens, found.end)) is not None:
        found = replace(more, restart=found.restart or more.restart, anew=found.anew or more.anew)
    if found is None:
        return None
    if (end := _last_sign(tokens, found.end)) is not None:
        found = replace(found, end=end, last_sign=True)
    end = denied(tokens, found.end) or found.end
    return replace(found, end=_softened(tokens, end))


def denied(tokens: Sequence[str], i: int) -> int | None:
    """Where "not R," at i ends, which says what a sign is not; None where none stands there."""
    if i >= len(tokens) or core_of(tokens[i]).lower() != "not":
        return None
    at = i + 2 if i + 1 < len(tokens) and tokens[i + 1] in ("a", "an") else i + 1
    item = item_at(tokens, at) if at < len(tokens) else None
    while item is not None and not item.comma and item.end < len(tokens):
        item = item_at(tokens, item.end)
    return item.end if item is not None and (item.comma or item.end == len(tokens)) else None


def _at_the_end(tokens: Sequence[str], at: int) -> bool:
    """True where "at the end" stands at `at`."""
    return listed("ends_it", *(core_of(t).lower() for t in tokens[at : at + 3]))


def _phrase(tokens: Sequence[str], i: int) -> Correction | None:
    """The longest phrase of correction at i."""
    units, best = shipped_units(), None
    known, dictated = units.lists["corrections.words"], units.lists["corrections.dictated"]
    words = [core_of(t).lower().replace("’", "'") for t in tokens[i : i + _LONGEST]]
    for at in range(i + 1, i + len(words) + 1):
        said = tuple(words[: at - i])
        for phrase in (said, tuple(w for w in said if not listed("fillers", w))):
            if phrase and (phrase in known or phrase in dictated):
                best = Correction(
                    end=at,
                    restart=units.has("corrections.restart", phrase) or (best is not None and best.restart),
                    anew=units.has("corrections.anew", phrase) or (best is not None and best.anew),
                )
    return best


def _last_sign(tokens: Sequence[str], i: int) -> int | None:
    """Where "the last digit", "not that last one" at i ends; None where none stands there."""
    at = i
    while at < min(len(tokens), i + 3) and (
        shipped_units().has("corrections.before_last_sign", (core_of(tokens[at]).lower(),))
    ):
        at += 1
    said = [core_of(t).lower().replace("’", "'") for t in tokens[at : at + 2]]
    if len(said) < 2 or not shipped_units().has("corrections.last_sign", (said[0], said[1].removesuffix("'s"))):
        return None
    return at + 2


def _softened(tokens: Sequence[str], at: int) -> int:
    """Where "that's", "it's a" between a correction and what is right end."""
    while at < len(tokens) and shipped_units().has(
        "corrections.fillers", (core_of(tokens[at]).lower().replace("’", "'"),)
    ):
        at += 1
    article = at + 1 < len(tokens) and tokens[at].lower() in ("a", "an", "is") and item_at(tokens, at + 1) is not None
    return at + 1 if article else at


def corrected(
    items: Sequence[Item], new: Sequence[Item], how: Correction, tokens: Sequence[str], end: int
) -> list[Item]:
    """`items` with what the words after a correction, `new`, put in the place of all or a part of them.

    end: where the tokens of `new` end; "at the end" may stand there.
    """
    if not new:
        return list(items)
    if _at_the_end(tokens, end) and len(_text(new)) > 1:
        return _ending(items, new)
    if how.anew:
        return list(new)
    size = next((n + 1 for n, item in enumerate(new) if item.comma), len(new))
    first, rest = list(new[:size]), list(new[size:])
    if how.last_sign:
        return _said_again([*_less(items, 1), *first], rest)
    if _is_mended(_text(items), _text(first), _text(rest)):
        return rest
    if _text(first) != "" and len(_text(first)) == 1 and rest:
        mended = [*_retracted(items, first, how.restart), *first]
        again = _said_again(mended, rest)
        if len(_text(again)) < len(_text(mended)) + len(_text(rest)):
            return again
    return [*_retracted(items, new, how.restart), *new]


def _is_mended(old: str, end: str, whole: str) -> bool:
    """True where `whole` is `old` with another `end`, which was said first: "88204, no, 14, 88214"."""
    return 0 < len(end) < len(old) == len(whole) and whole.endswith(end) and whole[: -len(end)] == old[: -len(end)]


def without_false_starts(items: Sequence[Item]) -> list[Item]:
    """`items` less what was said, broken off and said again from its start: "six one, um, six one zero" is 610.

    After a hesitation that is all so far, or two signs and more of the group; after a comma alone, three and more
    ("seven one, seven one two" may be dictated so, "seven one four, seven one four two" hardly is).
    """
    out = list(items)
    for at in range(len(out) - 1, 0, -1):
        begin = next((n for n in _group_starts(out[:at]) if _is_false_start(out, n, at)), None)
        if begin is not None:
            return without_false_starts([*out[:begin], *out[at:]])
    return out


def _group_starts(items: Sequence[Item]) -> list[int]:
    """Indices of items that start a group: the first, and those after a comma."""
    return [n for n in range(len(items)) if n == 0 or items[n - 1].comma]


def _is_false_start(items: Sequence[Item], begin: int, at: int) -> bool:
    """True where items [begin, at) are said again by the items from `at` on, which go on or are as many signs."""
    if not (items[at].paused or items[at - 1].comma):
        return False
    said, again = _text(items[begin:at]), _text(items[at:])
    whole = begin == 0
    if not again.startswith(said) or (not items[at].paused and not whole):
        return False
    if len(again) == len(said):
        return whole and len(said) > (_LEAST_AGAIN if items[at].paused else _LEAST_APART)
    if not items[at].paused:
        return len(said) >= (_LEAST_AGAIN if said.isalpha() else _LEAST_APART)
    return len(said) >= _LEAST_AGAIN or (whole and (items[at - 1].comma or said.isalpha()))


def _text(items: Sequence[Item]) -> str:
    return "".join(i.text for i in items)


def _less(items: Sequence[Item], signs: int) -> list[Item]:
    """`items` without their last signs."""
    out = list(items)
    while out and signs:
        if len(out[-1].text) > signs:
            out[-1] = replace(out[-1], text=out[-1].text[:-signs])
            return out
        signs -= len(out.pop().text)
    return out


def _said_again(mended: Sequence[Item], rest: Sequence[Item]) -> list[Item]:
    """`mended` and `rest`, which may begin with the last signs of `mended` ("that's an eight, seven eight, two")."""
    have, more = _text(mended), _text(rest)
    least = 1 if len(have) == 1 and have.isalpha() else _LEAST_AGAIN
    for size in range(min(len(have), len(more)), least - 1, -1):
        if have[-size:] == more[:size] and (size == len(have) or _ends_group(rest, size)):
            return [*_less(mended, size), *rest]
    return [*mended, *rest]


def _ending(items: Sequence[Item], new: Sequence[Item]) -> list[Item]:
    """`items` that end with `new`: from where they begin to be the same, or as many signs."""
    again = _said_again(items, new)
    if len(_text(again)) < len(_text(items)) + len(_text(new)):
        return again
    have, put = _text(items), _text(new)
    for size in range(min(len(have), len(put) - 1), 1, -1):
        if have[-size:] == put[:size]:
            return [*_less(items, size), *new]
    return [*_less(items, len(put)), *new]


def _ends_group(items: Sequence[Item], size: int) -> bool:
    """True where the first `size` signs end with a comma or are all."""
    seen = 0
    for item in items:
        seen += len(item.text)
        if seen >= size:
            return seen == size and (item.comma or item is items[-1])
    return False


def _groups(items: Sequence[Item]) -> list[int]:
    """Indices of items that start a group: the first, those after a comma, and where letters and digits change."""
    starts = []
    for n, item in enumerate(items):
        before = items[n - 1] if n else None
        if before is None or before.comma or before.text[-1:].isdigit() != item.text[:1].isdigit():
            starts.append(n)
    return starts


def _retracted(items: Sequence[Item], new: Sequence[Item], restart: bool) -> list[Item]:
    """`items` less what the words after a correction, `new`, replace."""
    if not items or not new:
        return list(items)
    starts = _groups(items)
    same = [n for n in starts if items[n].text[:1] == new[0].text[:1]]
    if same and len(_text(new)) > 1:
        return list(items[: same[0] if restart or _is_whole(items, new) else _changed_from(items, new, same)])
    if _is_whole(items, new):
        return []
    if restart:
        return list(items[: starts[-1]])
    last = next((n + 1 for n in range(len(items) - 2, -1, -1) if items[n].comma), 0)
    size = next((n + 1 for n, item in enumerate(new) if item.comma), len(new))
    if len(items) - last == size > 1:
        return list(items[:last])  # "four one, I mean one four": as many signs
    if len(_text(new[:size])) == 1 and new[0].text.isdigit() and _spoken_units(items[-1].text):
        return _less(items, 1)  # "forty seven, no, six"
    return list(items[:-1])


def _changed_from(items: Sequence[Item], new: Sequence[Item], starts: Sequence[int]) -> int:
    """The last of `starts` from which `new` changes what was said rather than goes on with it."""
    old, put = _text(items), _text(new)
    return next((n for n in reversed(starts) if not (_text(items[:n]) + put).startswith(old)), starts[-1])


def _spoken_units(text: str) -> bool:
    """Two figures whose last was a word of its own ("forty seven")."""
    return len(text) == 2 and text.isdigit() and text[0] > "1" and text[1] != "0"


def _is_whole(items: Sequence[Item], new: Sequence[Item]) -> bool:
    """As many signs as were said, most of them the same: the whole is said anew."""
    old, put = _text(items), _text(new)
    differ = sum(a != b for a, b in zip(old, put, strict=False))
    return len(old) == len(put) >= 3 and differ <= len(old) // 2
