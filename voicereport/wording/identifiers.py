"""Model, serial, part and job numbers as they are dictated: letters and digits, spelled, grouped, corrected."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from voicereport.trades.spoken_units import shipped_units
from voicereport.wording.clock import clock_time
from voicereport.wording.dictated import comma_after, core_of, listed, stops
from voicereport.wording.linking import adds_nothing, aside, goes_on, heading, joined_at, passed_over, pause
from voicereport.wording.retraction import corrected, correction_at, denied, without_false_starts
from voicereport.wording.signs import Item, item_at

_LEAST_WORD = 3  #: letters of a word of an alphabet
_LEAST_AGAIN = 2  #: signs that are said again after what they are not
_LEAST_IN_FULL = 3  #: signs of a value that is said in full
_LONGEST_PHRASE = 6  #: words that say that it is


@dataclass(frozen=True, kw_only=True, slots=True)
class Identifier:
    """A dictated identifier over tokens [first, last)."""

    value: str
    first: int
    last: int
    alternative: str | None = None  #: the value with O and 0 read the other way, where a spoken "O" leaves it open


def _read_items(tokens: Sequence[str], i: int) -> tuple[list[Item], int]:
    """The items from token i on, corrections applied and false starts left out, and where they end."""
    items, last = _read_signs(tokens, i)
    return without_false_starts(items), last


def _read_signs(tokens: Sequence[str], i: int) -> tuple[list[Item], int]:
    """The items from token i on, corrections applied, and where they end."""
    items: list[Item] = []
    at = last = i
    paused = False
    while at < len(tokens):
        again = _again(tokens, at, items) if items else None
        if again is not None:
            at = last = again
            continue
        if items and (over := _starts_over(tokens, at, items)) is not None:
            at, paused = over, True
            continue
        if adds_nothing(tokens, at) and not (items and joined_at(tokens, at, items[-1].text)):
            paused = paused or listed("hesitations", core_of(tokens[at]).lower())
            at += 1
            if items and stops(tokens[at - 1]):
                break
            continue
        if items and (found := correction_at(tokens, at)) is not None:
            more, end = _read_items(tokens, found.end)
            if not more:
                break
            return corrected(without_false_starts(items), more, found, tokens, end), end
        if (piece := heading(tokens, at)) is not None:
            at = piece
            continue
        joined = joined_at(tokens, at, items[-1].text) if items else None
        at = at if joined is None else joined
        item = item_at(tokens, at)
        if item is None or _is_word(tokens, at, item, bool(items)):
            return _without_count(tokens, at, items, last)
        items.append(replace(item, paused=paused))
        at, last, paused = item.end, item.end, False
        if stops(tokens[at - 1]):
            break
    return items, last


def _without_count(tokens: Sequence[str], at: int, items: list[Item], last: int) -> tuple[list[Item], int]:
    """`items` less the last group where the word at `at` goes on with it ("K L forty, four star freezer")."""
    cut = next((n + 1 for n in range(len(items) - 2, -1, -1) if items[n].comma), 0)
    if not cut or at != last or items[-1].comma:
        return items, last
    group, word = "".join(i.text for i in items[cut:]), core_of(tokens[at]).lower().replace("’", "'")
    gas = not group.isdigit() and (group.lower(),) in shipped_units().lists["names.refrigerants"]
    if not gas and (passed_over(word) or listed("after_sign", word) or not word.replace("'", "").isalpha()):
        return items, last
    return items[:cut], items[cut - 1].end


def _explanation(tokens: Sequence[str], at: int, items: Sequence[Item]) -> int | None:
    """Where a bare letter, said again with its example, and what follows of the same identifier end; None where none.

    "Z, zed for zebra", "J four two, J for jam", "K R sixty, K for kettle, R for red, sixty".
    """
    item = item_at(tokens, at)
    if item is None or not items[-1].comma:
        return None
    if not item.example:
        return _words_again(tokens, at, "".join(i.text for i in items))
    if items[-1].text == item.text and not items[-1].example:
        return item.end
    if not any(i.text == item.text and not i.example for i in items):
        return None
    said, again, end = "".join(i.text for i in items), "", at
    while end < len(tokens) and (item := item_at(tokens, end)) is not None:
        again, end = again + item.text, item.end
    signs = iter(said)
    return end if all(sign in signs for sign in again) else None


def _words_again(tokens: Sequence[str], at: int, said: str) -> int | None:
    """Where words of an alphabet end that say the last letters of `said` again ("F M, Foxtrot Mike,")."""
    again, end = "", at
    while end < len(tokens) and (item := item_at(tokens, end)) is not None:
        if not item.text.isalpha() or len(core_of(tokens[end])) < _LEAST_WORD:
            return None
        again, end = again + item.text, item.end
        if item.comma or stops(tokens[end - 1]):
            return end if len(again) > 1 and said.endswith(again) else None
    return None


def _again(tokens: Sequence[str], at: int, items: Sequence[Item]) -> int | None:
    """Where words at `at` end that say again, explain or tell apart what was dictated; None where none stand there."""
    again = _read_back(tokens, at, items) or _explanation(tokens, at, items) or _denied(tokens, at, items)
    return again or (aside(tokens, at) if comma_after(tokens[at - 1]) else None)


def _denied(tokens: Sequence[str], at: int, items: Sequence[Item]) -> int | None:
    """Where "not fifty," at `at` ends, and with it what is said again after it ("fifteen, not fifty, fifteen")."""
    end = n = denied(tokens, at)
    if n is None:
        return None
    said, again = "".join(i.text for i in items), ""
    while n < len(tokens) and (item := item_at(tokens, n)) is not None:
        again, n = again + item.text, item.end
        if item.comma or stops(tokens[n - 1]):
            break
    return n if len(again) >= _LEAST_AGAIN and said.endswith(again) else end


def _starts_over(tokens: Sequence[str], at: int, items: Sequence[Item]) -> int | None:
    """Where a pause at `at` ends after which all of `items` is said again ("four two, let me see, four two one")."""
    end = pause(tokens, at) if comma_after(tokens[at - 1]) else None
    if end is None or correction_at(tokens, at) is not None:
        return None
    said, again, n = "".join(i.text for i in items), "", end
    while n < len(tokens) and len(again) < len(said) and (item := item_at(tokens, n)) is not None:
        again, n = again + item.text, item.end
    return end if again.startswith(said) else None


def _read_back(tokens: Sequence[str], i: int, items: Sequence[Item]) -> int | None:
    """Where a read-back at i of what was just dictated ends; None where none stands there."""
    said = "".join(item.text for item in items)
    for length in (2, 1):
        phrase = tuple(core_of(t).lower().replace("’", "'") for t in tokens[i : i + length])
        if len(phrase) < length or not listed("read_back", *phrase):
            continue
        again, at = "", i + length
        article = tokens[at : at + 1] in (["a"], ["an"])
        if phrase == ("the", "letter") or (phrase[0] in ("that's", "it's") and article):
            item = item_at(tokens, at + article) if at + article < len(tokens) else None
            return item.end if item is not None and item.text == said[-1:] else None
        if (example := _examples_of(tokens, at, said)) is not None:
            return example
        while at < len(tokens) and (item := item_at(tokens, at)) is not None:
            again, at = again + item.text, item.end
            if len(again) > 1 and said.endswith(again):
                return at
    return None


def _examples_of(tokens: Sequence[str], at: int, said: str) -> int | None:
    """Where letters of `said` end that are said again with their examples ("W for whisky"); None where none are."""
    end = None
    while at < len(tokens) and (item := item_at(tokens, at)) is not None and item.example and item.text in said:
        at = end = item.end
    return end


def _is_word(tokens: Sequence[str], at: int, item: Item, inside: bool) -> bool:
    """A capital "I" or "A" that goes with the words after it ("I think"), not with the identifier."""
    if item.end != at + 1 or core_of(tokens[at]) not in ("I", "A") or item.comma or tokens[at].endswith("."):
        return False
    if at + 1 >= len(tokens):
        return False
    return not goes_on(tokens, at + 1) and (not inside or core_of(tokens[at]) == "I" or comma_after(tokens[at - 1]))


def _join(items: Sequence[Item]) -> tuple[str, str | None]:
    """The value of `items`, and its other reading where an "O" beside digits leaves one."""
    value, other, is_open = "", "", False
    for n, item in enumerate(items):
        if item.open_o:
            before = items[n - 1].text[-1:] if n else ""
            after = items[n + 1].text[:1] if n + 1 < len(items) else ""
            if before.isdigit() or after.isdigit():
                digit = before.isdigit() and (after.isdigit() or not after)
                value, other, is_open = value + ("0" if digit else "O"), other + ("O" if digit else "0"), True
                continue
        value, other = value + item.text, other + item.text
    return value.strip("-/."), other.strip("-/.") if is_open else None


def _read_from(tokens: Sequence[str], start: int) -> Identifier | None:
    """The identifier at tokens[start], after link words."""
    found = correction_at(tokens, start) if start < len(tokens) else None
    at = found.end if found else start
    while at < len(tokens):
        piece = heading(tokens, at)
        item = item_at(tokens, at)
        if piece is None and not passed_over(core_of(tokens[at]).lower().replace("’", "'")):
            break
        if piece is None and item is not None and (item.end > at + 1 or goes_on(tokens, item.end)):
            break  # "A for apple", "A six"
        at = piece or at + 1
    items, last = _read_items(tokens, at)
    while items and items[-1].text in ("-", "/", ".", ""):
        items.pop()
    value, other = _join(items)
    if not value or not (any(c.isdigit() for c in value) or len(value) >= 2):
        return None
    return Identifier(value=value, first=at, last=last, alternative=other)


def read_identifier(tokens: Sequence[str], start: int = 0, *, reach: int = 8) -> Identifier | None:
    """The identifier dictated from tokens[start] on, after link words ("is", "number"); None where there is none.

    Commas stand between groups; a full stop, a question mark and any ordinary word end it. reach: words that may be
    passed over before one with at least four signs, a figure among them ("serial's on the frame, three M one zero
    zero"), that counts nothing.
    """
    found = _read_from(tokens, start)
    if found is not None:
        return found
    for at in range(start, min(len(tokens), start + reach)):
        if stops(tokens[at]):
            return None
        if comma_after(tokens[at]) or begins_identifier(tokens, at + 1):
            found = _read_from(tokens, at + 1)
            if found is not None and len(found.value) >= 4 and has_figure(found) and not counts(tokens, found):
                return found
    return None


def corrects(tokens: Sequence[str]) -> bool:
    """True where the first words take back what was dictated before ("no,", "scratch that,")."""
    return bool(tokens) and correction_at(tokens, 0) is not None


def has_figure(found: Identifier) -> bool:
    """True where one sign at least is a figure."""
    return any(c.isdigit() for c in found.value)


def is_gas(found: Identifier) -> bool:
    """True where an identifier reads like a refrigerant's designation ("R600A")."""
    return (found.value.lower().lstrip("r").replace("-", ""),) in shipped_units().lists["names.refrigerants"]


def begins_identifier(tokens: Sequence[str], at: int) -> bool:
    """True where a sign stands at `at` that no sign stands before, and that is no pronoun ("this one")."""
    if at >= len(tokens) or item_at(tokens, at) is None:
        return False
    before = core_of(tokens[at - 1]).lower() if at else ""
    if core_of(tokens[at]).lower() == "one" and before and shipped_units().has("numbers.pronoun_after", (before,)):
        return False
    return not before or passed_over(before) or item_at(tokens, at - 1) is None


def counts(tokens: Sequence[str], found: Identifier) -> bool:
    """True where the word after the figures `found` is what they count or measure ("ninety minutes", "six screws")."""
    if not found.value.isdigit() or found.last >= len(tokens):
        return False
    last = tokens[found.last - 1]
    if comma_after(last) or stops(last):
        return False
    for length in (3, 2, 1):
        if tuple(core_of(t).lower() for t in tokens[found.last : found.last + length]) in shipped_units().words:
            return True
    word = core_of(tokens[found.last]).lower().replace("’", "'")
    return word.endswith("s") and not word.endswith("'s") and not listed("not_counted", word)


def is_time(tokens: Sequence[str], found: Identifier) -> bool:
    """True where the figures `found` are a time of the clock or begin one ("ten past nine", "nine fifteen to ten")."""
    if not found.value.isdigit() or found.last >= len(tokens) or comma_after(tokens[found.last - 1]):
        return False
    after = core_of(tokens[found.last]).lower().replace("’", "'")
    until = listed("until", after) and clock_time(tokens, found.last + 1) is not None
    return until or after in ("past", "o'clock")


def read_in_full(tokens: Sequence[str], start: int) -> tuple[Identifier, bool] | None:
    """The last identifier from tokens[start] on that is said as what it comes to ("so that's S K two six T").

    Second: True where the words say that it is the whole ("the whole of it is", "altogether").
    """
    best: tuple[Identifier, bool] | None = None
    for at in range(start, len(tokens)):
        for end, whole in _conclusions(tokens, at):
            found = _read_from(tokens, end)
            if found is None or found.first < end or len(found.value) < _LEAST_IN_FULL or not has_figure(found):
                continue
            after = in_full(tokens, found.last)
            if not counts(tokens, found) and (after or _is_closed(tokens, found)):
                best = found, whole or after
                break
    return best


def _conclusions(tokens: Sequence[str], at: int) -> Iterator[tuple[int, bool]]:
    """Where phrases at `at` that come to a value end, the longest first, and whether they say that it is the whole."""
    words = [core_of(t).lower().replace("’", "'") for t in tokens[at : at + _LONGEST_PHRASE]]
    for n in range(len(words), 0, -1):
        if listed("concludes_whole", *words[:n]):
            yield at + n, True
        elif listed("concludes", *words[:n]):
            yield at + n, False


def in_full(tokens: Sequence[str], at: int) -> bool:
    """True where words at `at` say that what stands before them is the whole ("altogether")."""
    words = [core_of(t).lower().replace("’", "'") for t in tokens[at : at + _LONGEST_PHRASE]]
    return any(listed("in_full", *words[:n]) for n in range(1, len(words) + 1))


def _is_closed(tokens: Sequence[str], found: Identifier) -> bool:
    last = tokens[found.last - 1]
    if found.last >= len(tokens) or comma_after(last) or stops(last):
        return True
    return listed("after_sign", core_of(tokens[found.last]).lower())
