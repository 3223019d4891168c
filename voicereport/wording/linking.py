"""Words within a dictated identifier that are no sign: "with a slash", "first bit", "then there's a Q at the end"."""

from __future__ import annotations

from collections.abc import Sequence

from voicereport.trades.spoken_units import shipped_units
from voicereport.wording.dictated import SPOKEN_DIGITS, comma_after, core_of, listed, stops
from voicereport.wording.signs import Item, item_at

_LONGEST = 6  #: words of the longest phrase that adds a sign
_CLAUSES = 2  #: clauses that may be said in a pause
_ARTICLES = ("a", "an", "the")


def passed_over(word: str) -> bool:
    """True of a word that may stand before an identifier, and inside it."""
    return listed("links", word) or listed("fillers", word)


def adds_nothing(tokens: Sequence[str], at: int) -> bool:
    """True of a word within an identifier that adds nothing to it."""
    core = core_of(tokens[at])
    return (not core or listed("fillers", core.lower())) and item_at(tokens, at) is None


def goes_on(tokens: Sequence[str], at: int) -> bool:
    """True where another sign follows, or words that add one."""
    return at < len(tokens) and (item_at(tokens, at) is not None or joined_at(tokens, at) is not None)


def joined_at(tokens: Sequence[str], at: int, before: str = "") -> int | None:
    """Where the sign begins that words at `at` add ("with a slash", "and a nought", "a Z"); None where none do.

    before: the sign before them, which "that's a Z" may only say again.
    """
    for length in range(_LONGEST, 0, -1):
        phrase = tuple(t.replace("’", "'") for t in tokens[at : at + length])  # as written: "A," is a letter
        end = at + length
        if len(phrase) < length or end >= len(tokens) or stops(tokens[end - 1]):
            continue
        if listed("joins", *phrase):
            item = item_at(tokens, end)
            says_again = (
                item is not None
                and (phrase[0] in ("that's", "it's") or "letter" in phrase)
                and item.text == before[-1:]
            )
            stands = item is not None and (phrase[-1] not in ("a", "an") or _stands(tokens, item))
            if item is not None and _one_sign(item) and stands and not says_again:
                return end
        if listed("joins_any", *(core_of(t).lower() for t in phrase)) and _row_stands(tokens, end):
            return end
    return None


def _one_sign(item: Item) -> bool:
    return (len(item.text) == 1 and not item.text.isdigit()) or item.text == "0"


def _stands(tokens: Sequence[str], item: Item) -> bool:
    """No noun follows that the sign goes with ("a C clip")."""
    if item.comma or item.end >= len(tokens) or stops(tokens[item.end - 1]):
        return True
    after = core_of(tokens[item.end]).lower()
    return passed_over(after) or listed("after_sign", after) or item_at(tokens, item.end) is not None


def _row_stands(tokens: Sequence[str], at: int) -> bool:
    """True where nothing but signs follows up to a comma or the end."""
    item = item_at(tokens, at)
    while item is not None:
        if item.end >= len(tokens) or comma_after(tokens[item.end - 1]) or stops(tokens[item.end - 1]):
            return True
        item = item_at(tokens, item.end)
    return False


def aside(tokens: Sequence[str], i: int) -> int | None:
    """Where words at i end that are said beside an identifier: "all one word,", "hang on, torch, right,"."""
    words = [core_of(t).lower().replace("’", "'") for t in tokens[i : i + _LONGEST]]
    example = tuple(words[:2]) in (("as", "in"), ("like", "in"))
    for size in range(len(words), 0, -1):
        end = i + size
        if not comma_after(tokens[end - 1]) or end >= len(tokens):
            continue
        if listed("asides", *words[:size]) or (example and not any(map(comma_after, tokens[i : end - 1]))):
            return end
        if listed("pauses", *words[:size]):
            return _resumes(tokens, end)
    return None


def pause(tokens: Sequence[str], i: int) -> int | None:
    """Where words at i end that fill a pause ("let me see,", "okay,"); None where none stand there."""
    words = [core_of(t).lower().replace("’", "'") for t in tokens[i : i + _LONGEST]]
    ends = (i + n for n in range(len(words), 0, -1) if listed("pauses", *words[:n]) and comma_after(tokens[i + n - 1]))
    return next(ends, None)


def _resumes(tokens: Sequence[str], i: int) -> int | None:
    """Where the signs begin again after a pause, past at most two clauses without any, and stand alone."""
    at, begin = i, i
    for _ in range(_CLAUSES + 1):
        if at > i and _row_stands(tokens, at):
            return at
        while at < len(tokens) and at - begin < _LONGEST and item_at(tokens, at) is None and not stops(tokens[at]):
            at += 1
            if comma_after(tokens[at - 1]):
                break
        if at == begin or not comma_after(tokens[at - 1]):
            return None
        begin = at
    return None


def heading(tokens: Sequence[str], i: int) -> int | None:
    """Where the name of a piece at i ends: "first bit", "and the last letter's a", "three lots of two"."""
    words = [core_of(t).lower().replace("’", "'") for t in tokens[i : i + 8]]
    if (lots := _lots(words)) is not None:
        return i + lots
    at = 0
    while at < min(len(words), 3) and words[at] in ("and", "then", "with", "the", "but"):
        at += 1
    if at + 1 >= len(words) or not listed("orders", words[at]):
        return None
    at += 1
    if words[at] in SPOKEN_DIGITS and at + 1 < len(words):
        at += 1
    if not listed("pieces", words[at].removesuffix("'s")):
        return None
    at += 1
    while at < len(words) and words[at] in ("is", "are", "being", "reads", "goes", "says", "that's", "it's"):
        at += 1
    article = at + 1 < len(words) and words[at] in _ARTICLES and item_at(tokens, i + at + 1) is not None
    return i + at + article


def _lots(words: Sequence[str]) -> int | None:
    """How many words "three lots of two", "two groups" are."""
    if not words or words[0] not in SPOKEN_DIGITS:
        return None
    lists = shipped_units().lists["identifiers.lots"]
    size = next((n for n in (2, 1) if tuple(words[1 : 1 + n]) in lists), None)
    if size is None:
        return None
    return 2 + size if len(words) > 1 + size and words[1 + size] in SPOKEN_DIGITS and size > 1 else 1 + size
