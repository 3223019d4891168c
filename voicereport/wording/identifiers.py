"""Model, serial, part and job numbers as they are dictated: letters and digits, spelled, grouped, corrected."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from voicereport.trades.spoken_units import shipped_units
from voicereport.wording.lexemes import DIGITS, OHS, TEENS, TENS, ZEROS

#: names of letters as they are written out; those that are words of their own ("see", "tea", "are", "you") are left out
_LETTERS = {"bee": "B", "cee": "C", "dee": "D", "eff": "F", "gee": "G", "aitch": "H", "haitch": "H", "jay": "J",
            "kay": "K", "ell": "L", "em": "M", "en": "N", "pee": "P", "cue": "Q", "queue": "Q", "ess": "S", "tee": "T",
            "vee": "V", "double-u": "W", "double-you": "W", "ex": "X", "wye": "Y", "zed": "Z", "zee": "Z"}  # fmt: skip
_SPOKEN_DIGITS = DIGITS | {"tree": 3}
_TIMES = {"double": 2, "triple": 3, "treble": 3, "quadruple": 4}
_SEPARATORS = {
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
_END = frozenset(".?!")
_WRITTEN = re.compile(r"[A-Z0-9]+(?:[-/.][A-Z0-9]+)*\Z")
_THOUSANDS = re.compile(r"\d{1,3}(?:,\d{3})+\Z")
_CORE = re.compile(r"^[\"'“”‘’(\[#]+|[.,;:!?…)\]\"”’']+$")


@dataclass(frozen=True, kw_only=True, slots=True)
class Identifier:
    """A dictated identifier over tokens [first, last)."""

    value: str
    first: int
    last: int
    alternative: str | None = None  #: the value with O and 0 read the other way, where a spoken "O" leaves it open


@dataclass(frozen=True, slots=True)
class _Item:
    """What one to a few tokens add: its text, where it ends, whether a comma follows, whether O or 0 is open."""

    text: str
    end: int
    comma: bool = False
    open_o: bool = False
    example: bool = False  #: a letter said with its example word ("S for sugar")


def _listed(name: str, *words: str) -> bool:
    """The words stand in one of the lists for identifiers in units.toml."""
    return shipped_units().has(f"identifiers.{name}", words)


def _alphabet(word: str) -> str | None:
    """The letter that a word of the spelling alphabet, or the name of a letter, stands for."""
    return _LETTERS.get(word) or (word[0].upper() if _listed("alphabet", word) else None)


def _core(token: str) -> str:
    return _CORE.sub("", token)


def _stops(token: str) -> bool:
    """The token ends a sentence; "Q." within spelled letters does not."""
    return (token[-1:] in _END and len(_core(token)) > 1) or token[-1:] in ("?", "!")


def _comma(token: str) -> bool:
    return token[-1:] in ",;:"


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


def _letter(tokens: Sequence[str], i: int) -> _Item | None:
    """A letter at i, by itself or with its example ("Q as in Quebec"), or a word of the spelling alphabet."""
    core = _core(tokens[i])
    lower = core.lower()
    if lower == "x" and i + 1 < len(tokens) and _core(tokens[i + 1]).lower() == "ray":
        return _Item("X", i + 2, _comma(tokens[i + 1]))
    if lower == "double" and i + 1 < len(tokens) and _core(tokens[i + 1]).lower() in ("u", "you"):
        return _Item("W", i + 2, _comma(tokens[i + 1]))
    if len(core) == 1 and core.isalpha() and not (_stops(tokens[i]) and lower in "ai"):
        example = _example(tokens, i)
        if example is not None:
            return example
        if lower in "ai" and not core.isupper():
            return None
        return _Item(core.upper(), i + 1, _comma(tokens[i]), open_o=lower == "o")
    letter = None if tokens[i][:1] in "'’" else _alphabet(lower)  # "'em" is no M
    if letter is None:
        return None
    example = _example(tokens, i, letter) if lower in _LETTERS else None
    if example is None and _listed("fillers", lower):
        return None  # "em" is said for want of words, too
    return example or _Item(letter, i + 1, _comma(tokens[i]))


def _example(tokens: Sequence[str], i: int, name: str = "") -> _Item | None:
    """ "Q as in Quebec", "S for sugar": the letter, by its example word. name: the letter, where it is written out."""
    if _comma(tokens[i]):
        return None
    for link in shipped_units().lists["identifiers.examples"]:
        end = i + 1 + len(link)
        if end >= len(tokens) or tuple(_core(t).lower() for t in tokens[i + 1 : end]) != link:
            continue
        while end + 1 < len(tokens) and _listed("fillers", _core(tokens[end]).lower()):
            end += 1  # "W as in, er, window"
        word = _core(tokens[end]).lower()
        if not word[:1].isalpha() or _listed("no_examples", word):
            continue
        letter = name or _core(tokens[i]).upper()
        if word[0].upper() != letter and _alphabet(word) is None and link not in (("as", "in"), ("for",)):
            continue
        # the word is heard better than the letter ("N as in Mike" is M)
        return _Item(word[0].upper(), end + 1, _comma(tokens[end]), example=True)
    return None


def _split(core: str) -> list[str]:
    return core.lower().split("-") if "-" in core and not any(c.isdigit() for c in core) else [core.lower()]


def _words(tokens: Sequence[str], i: int, most: int = 8) -> list[tuple[str, int, bool]]:
    """The next words as (word, end token, comma after), hyphens opened, up to the first break."""
    out: list[tuple[str, int, bool]] = []
    for at in range(i, min(len(tokens), i + most)):
        parts = _split(_core(tokens[at]))
        for n, part in enumerate(parts):
            out.append((part, at + 1, _comma(tokens[at]) and n == len(parts) - 1))
        if _comma(tokens[at]) or tokens[at][-1:] in _END:
            break
    return out


def _small(words: Sequence[tuple[str, int, bool]], n: int) -> tuple[int, int] | None:
    """A spoken number below a hundred at words[n], and how many words it takes."""
    word = words[n][0]
    if word in TENS:
        if n + 1 < len(words) and words[n + 1][0] in _SPOKEN_DIGITS:
            return TENS[word] + _SPOKEN_DIGITS[words[n + 1][0]], 2
        return TENS[word], 1
    if word in TEENS:
        return TEENS[word], 1
    return (_SPOKEN_DIGITS[word], 1) if word in _SPOKEN_DIGITS else None


def _large(words: Sequence[tuple[str, int, bool]]) -> tuple[int, int] | None:
    """A number with "hundred" or "thousand" at the start of `words`, and how many words it takes."""
    total, n = 0, 0
    for scale, name in ((1000, "thousand"), (100, "hundred")):
        if n < len(words) and words[n][0] == "a" and n + 1 < len(words) and words[n + 1][0] == name:
            total, n = total + scale, n + 2
            continue
        small = _small(words, n) if n < len(words) else None
        if small is not None and n + small[1] < len(words) and words[n + small[1]][0] == name:
            total, n = total + small[0] * scale, n + small[1] + 1
    if n == 0:
        return None
    rest = n + 1 if n < len(words) and words[n][0] == "and" else n
    small = _small(words, rest) if rest < len(words) else None
    return (total + small[0], rest + small[1]) if small is not None else (total, n)


def _figures(tokens: Sequence[str], i: int) -> _Item | None:
    """A spoken number at i as digits: "four" 4, "sixty one" 61, "one hundred" 100, "double seven" 77."""
    words = _words(tokens, i)
    if not words:
        return None
    first = words[0][0]
    if first in ZEROS or first == "oh":
        return _Item("0", words[0][1], words[0][2])
    if first in _TIMES and len(words) > 1:
        next_word, end, comma = words[1]
        if next_word in _SPOKEN_DIGITS or next_word in ZEROS or next_word in OHS:
            digit = "0" if next_word in ZEROS or next_word in OHS else str(_SPOKEN_DIGITS[next_word])
        elif len(next_word) == 1 and next_word.isalnum():
            digit = next_word.upper()
        elif letter := _alphabet(next_word):
            digit = letter
        else:
            return None
        return _Item(digit * _TIMES[first], end, comma)
    found = _large(words) or _small(words, 0)
    if found is None:
        return None
    value, taken = found
    _, end, comma = words[taken - 1]
    if taken < len(words) and words[taken][1] == end:
        return None  # a hyphenated word that is only partly a number
    return _Item(str(value), end, comma)


def _item(tokens: Sequence[str], i: int) -> _Item | None:
    """The next item of an identifier at i."""
    core = _core(tokens[i])
    lower = core.lower()
    if lower in _SEPARATORS and core:
        return _Item(_SEPARATORS[lower], i + 1, _comma(tokens[i]))
    if core in ("-", "–", "—") or (not core and tokens[i] in ("-", "–", "/")):
        return _Item("-", i + 1)
    found = _figures(tokens, i) or _letter(tokens, i)
    if found is not None:
        return found
    text = _written(core)
    return _Item(text, i + 1, _comma(tokens[i])) if text is not None else None


def _correction(tokens: Sequence[str], i: int) -> tuple[int, bool] | None:
    """Where words of correction at i end ("no,", "scratch that,"), and True where they take back all; None if none."""
    units = shipped_units()
    at, best = i, None
    while at < len(tokens) and at < i + 5:
        at += 1
        said = tuple(_core(t).lower() for t in tokens[i:at])
        for phrase in (said, tuple(w for w in said if not _listed("fillers", w))):
            if phrase and units.has("corrections.words", phrase):
                best = at, units.has("corrections.restart", phrase) or (best is not None and best[1])
    while best is not None and best[0] < len(tokens) and _softens(tokens[best[0]]):
        best = best[0] + 1, best[1]
    return best


def _softens(token: str) -> bool:
    """ "that's", "it's" between a correction and what is right."""
    return shipped_units().has("corrections.fillers", (_core(token).lower().replace("’", "'"),))


def _groups(items: Sequence[_Item]) -> list[int]:
    """Indices of items that start a group: the first, those after a comma, and where letters and digits change."""
    starts = []
    for n, item in enumerate(items):
        before = items[n - 1] if n else None
        if before is None or before.comma or before.text[-1:].isdigit() != item.text[:1].isdigit():
            starts.append(n)
    return starts


def _retract(items: list[_Item], new: Sequence[_Item], restart: bool) -> list[_Item]:
    """`items` less what the words after a correction, `new`, replace."""
    if not items or not new:
        return items
    starts = _groups(items)
    same = [n for n in starts if items[n].text[:1] == new[0].text[:1]]
    if same and len("".join(i.text for i in new)) > 1:
        return items[: same[0] if restart else same[-1]]
    if restart:
        return items[: starts[-1]]
    last = next((n + 1 for n in range(len(items) - 2, -1, -1) if items[n].comma), 0)
    size = next((n + 1 for n, item in enumerate(new) if item.comma), len(new))
    if len(items) - last == size > 1:
        return items[:last]  # "four one, I mean one four": as many signs
    return items[:-1]


def _read_items(tokens: Sequence[str], i: int) -> tuple[list[_Item], int]:
    """The items from token i on, corrections applied, and where they end."""
    items: list[_Item] = []
    at = last = i
    while at < len(tokens):
        again = _read_back(tokens, at, items) or _explanation(tokens, at, items) if items else None
        if again is not None:
            at = last = again
            continue
        if _filler(tokens, at):
            at += 1
            if items and _stops(tokens[at - 1]):
                break
            continue
        if items and (found := _correction(tokens, at)) is not None:
            more, end = _read_items(tokens, found[0])
            if not more:
                break
            return _retract(items, more, found[1]) + more, end
        joined = _joined(tokens, at) if items else None
        at = at if joined is None else joined
        item = _item(tokens, at)
        if item is None or _is_word(tokens, at, item, bool(items)):
            return _without_count(tokens, at, items, last)
        items.append(item)
        at = last = item.end
        if _stops(tokens[at - 1]):
            break
    return items, last


def _without_count(tokens: Sequence[str], at: int, items: list[_Item], last: int) -> tuple[list[_Item], int]:
    """`items` less the last group where the word at `at` goes on with it ("K L forty, four star freezer")."""
    cut = next((n + 1 for n in range(len(items) - 2, -1, -1) if items[n].comma), 0)
    if not cut or at != last or items[-1].comma:
        return items, last
    group, word = "".join(i.text for i in items[cut:]), _core(tokens[at]).lower().replace("’", "'")
    gas = not group.isdigit() and (group.lower(),) in shipped_units().lists["names.refrigerants"]
    if not gas and (_passed_over(word) or _listed("after_sign", word) or not word.isalpha()):
        return items, last
    return items[:cut], items[cut - 1].end


def _filler(tokens: Sequence[str], at: int) -> bool:
    """A word within an identifier that adds nothing to it."""
    core = _core(tokens[at])
    return (not core or _listed("fillers", core.lower())) and _item(tokens, at) is None


def _joined(tokens: Sequence[str], at: int) -> int | None:
    """Where the sign begins that words at `at` add ("with a slash", "and a nought", "a Z"); None where none do."""
    for length in (3, 2, 1):
        phrase = tuple(tokens[at : at + length])  # as written: "A," is a letter
        end = at + length
        if len(phrase) == length and end < len(tokens) and _listed("joins", *phrase) and not _stops(tokens[end - 1]):
            item = _item(tokens, end)
            sign = item is not None and ((len(item.text) == 1 and not item.text.isdigit()) or item.text == "0")
            if item is not None and sign and (phrase[-1] not in ("a", "an") or _stands(tokens, item)):
                return end
    return None


def _stands(tokens: Sequence[str], item: _Item) -> bool:
    """No noun follows that the sign goes with ("a C clip")."""
    if item.comma or item.end >= len(tokens) or _stops(tokens[item.end - 1]):
        return True
    after = _core(tokens[item.end]).lower()
    return _passed_over(after) or _listed("after_sign", after) or _item(tokens, item.end) is not None


def _explanation(tokens: Sequence[str], at: int, items: Sequence[_Item]) -> int | None:
    """Where a bare letter, said again with its example, and what follows of the same identifier end; None where none.

    "Z, zed for zebra", "J four two, J for jam", "K R sixty, K for kettle, R for red, sixty".
    """
    item = _item(tokens, at)
    if item is None or not item.example or not items[-1].comma:
        return None
    if items[-1].text == item.text and not items[-1].example:
        return item.end
    if not any(i.text == item.text and not i.example for i in items):
        return None
    said, again, end = "".join(i.text for i in items), "", at
    while end < len(tokens) and (item := _item(tokens, end)) is not None:
        again, end = again + item.text, item.end
    signs = iter(said)
    return end if all(sign in signs for sign in again) else None


def _read_back(tokens: Sequence[str], i: int, items: Sequence[_Item]) -> int | None:
    """Where a read-back at i of what was just dictated ends; None where none stands there."""
    said = "".join(item.text for item in items)
    for length in (2, 1):
        phrase = tuple(_core(t).lower().replace("’", "'") for t in tokens[i : i + length])
        if len(phrase) < length or not _listed("read_back", *phrase):
            continue
        again, at = "", i + length
        if (example := _examples_of(tokens, at, said)) is not None:
            return example
        while at < len(tokens) and (item := _item(tokens, at)) is not None:
            again, at = again + item.text, item.end
            if len(again) > 1 and said.endswith(again):
                return at
    return None


def _examples_of(tokens: Sequence[str], at: int, said: str) -> int | None:
    """Where letters of `said` end that are said again with their examples ("W for whisky"); None where none are."""
    end = None
    while at < len(tokens) and (item := _item(tokens, at)) is not None and item.example and item.text in said:
        at = end = item.end
    return end


def _is_word(tokens: Sequence[str], at: int, item: _Item, inside: bool) -> bool:
    """A capital "I" or "A" that goes with the words after it ("I think"), not with the identifier."""
    if item.end != at + 1 or _core(tokens[at]) not in ("I", "A") or item.comma or tokens[at].endswith("."):
        return False
    if at + 1 >= len(tokens):
        return False
    return not _goes_on(tokens, at + 1) and (not inside or _core(tokens[at]) == "I" or _comma(tokens[at - 1]))


def _join(items: Sequence[_Item]) -> tuple[str, str | None]:
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


def _passed_over(word: str) -> bool:
    return _listed("links", word) or _listed("fillers", word)


def _goes_on(tokens: Sequence[str], at: int) -> bool:
    """True where another sign follows, or words that add one."""
    return at < len(tokens) and (_item(tokens, at) is not None or _joined(tokens, at) is not None)


def _read_from(tokens: Sequence[str], start: int) -> Identifier | None:
    """The identifier at tokens[start], after link words."""
    found = _correction(tokens, start) if start < len(tokens) else None
    at = found[0] if found else start
    while at < len(tokens) and _passed_over(_core(tokens[at]).lower().replace("’", "'")):
        item = _item(tokens, at)
        if item is not None and (item.end > at + 1 or _goes_on(tokens, item.end)):
            break  # "A for apple", "A six"
        at += 1
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
        if _stops(tokens[at]):
            return None
        if _comma(tokens[at]) or begins_identifier(tokens, at + 1):
            found = _read_from(tokens, at + 1)
            if found is not None and len(found.value) >= 4 and has_figure(found) and not counts(tokens, found):
                return found
    return None


def corrects(tokens: Sequence[str]) -> bool:
    """True where the first words take back what was dictated before ("no,", "scratch that,")."""
    return bool(tokens) and _correction(tokens, 0) is not None


def has_figure(found: Identifier) -> bool:
    """True where one sign at least is a figure."""
    return any(c.isdigit() for c in found.value)


def is_gas(found: Identifier) -> bool:
    """True where an identifier reads like a refrigerant's designation ("R600A")."""
    return (found.value.lower().lstrip("r").replace("-", ""),) in shipped_units().lists["names.refrigerants"]


def begins_identifier(tokens: Sequence[str], at: int) -> bool:
    """True where a sign stands at `at` that no sign stands before, and that is no pronoun ("this one")."""
    if at >= len(tokens) or _item(tokens, at) is None:
        return False
    before = _core(tokens[at - 1]).lower() if at else ""
    if _core(tokens[at]).lower() == "one" and before and shipped_units().has("numbers.pronoun_after", (before,)):
        return False
    return not before or _passed_over(before) or _item(tokens, at - 1) is None


def counts(tokens: Sequence[str], found: Identifier) -> bool:
    """True where the word after the figures `found` is what they count or measure ("ninety minutes", "six screws")."""
    if not found.value.isdigit() or found.last >= len(tokens):
        return False
    last = tokens[found.last - 1]
    if _comma(last) or _stops(last):
        return False
    for length in (3, 2, 1):
        if tuple(_core(t).lower() for t in tokens[found.last : found.last + length]) in shipped_units().words:
            return True
    word = _core(tokens[found.last]).lower().replace("’", "'")
    return word.endswith("s") and not word.endswith("'s") and not _listed("not_counted", word)
