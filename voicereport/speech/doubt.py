"""How likely it is that a number was heard wrongly, by a logistic model of what the recognisers say about it."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from functools import lru_cache

from voicereport.speech.second_look import plain, same_numbers
from voicereport.transcript import Word

_DIGIT = re.compile(r"\d")
_PARTS = ("half", "quarter", "quarters")
_SIGNS = ("minus", "negative")
_LEADS = ("point", *_SIGNS)
_INSIDE = ("point", "and")
_ENDS = (",", ".", ";", "?", "!")
_NOUGHT = (
    "not",
    "note",
    "know",
    "knot",
    "point",
)  #: before a number, what "nought" and a lost decimal point leave behind
_TEENS = {13: 30, 14: 40, 15: 50, 16: 60, 17: 70, 18: 80, 19: 90}
_SWAPS = {**_TEENS, **{tens: teen for teen, tens in _TEENS.items()}}
_NEAR = 3  #: words on either side that are near
_BESIDE = 8
_LEAST = 1e-3  #: lower chances count as this
_TOLD = 1e-4  #: the same of a text that was weighed


@dataclass(frozen=True, kw_only=True, slots=True)
class Look:
    """Sentences that follow each other, as they were read, and what the other weights make of them."""

    words: tuple[Word, ...]
    other: tuple[Word, ...]  #: what the other weights heard
    #: how likely they take each word to be, 0..1, and the other of "-teen" and "-ty" for it (twice the same: none)
    told: tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class DoubtModel:
    """A logistic model: the chance of a wrong number is that of `bias` and the sum of `weights` times what was seen."""

    bias: float
    weights: Mapping[str, float]
    doubtful: float  #: chance from which on a number is in doubt

    def chance(self, seen: Mapping[str, float]) -> float:
        """The chance that a number was heard wrongly, 0..1."""
        total = self.bias + sum(weight * seen[name] for name, weight in self.weights.items())
        return 1 / (1 + math.exp(-max(-30.0, min(30.0, total))))


def with_doubt(
    look: Look,
    looked: Sequence[Word],
    model: DoubtModel,
    *,
    values: Mapping[str, int],
    units: Collection[str],
    same: Mapping[str, str],
) -> tuple[Word, ...]:
    """The words of a look, each number in doubt where the model finds it so, and nowhere else.

    looked: the words with what was heard instead. A number in doubt gets a probability under one half, others get at
    least one half and nothing that was heard instead. Identifiers stay as they are, and so does a sign that the other
    decode lacks. "Point not nine" is always in doubt: a nought was lost in it.
    """
    found = list(looked)
    stands = _aligned(look.words, look.other)
    for first, last in numbers_in(look.words, values):
        what = seen(look, first, last, values=values, units=units, same=same)
        if what["letters"]:
            continue
        chance = 1.0 if what["lost"] else model.chance(what)
        for n in range(first, last):
            word = found[n]
            if chance >= model.doubtful:
                least = 0.499 * (1 - chance) / (1 - model.doubtful)
                found[n] = replace(word, probability=min(word.probability, round(least, 6)))
            elif plain(word) not in _SIGNS or stands[n][1]:  # what is left of its chance went to "-"
                found[n] = replace(word, probability=max(word.probability, 0.5), alternative=None)
    return tuple(found)


def numbers_in(words: Sequence[Word], values: Mapping[str, int]) -> tuple[tuple[int, int], ...]:
    """Where numbers stand, words [first, last): number words in a row, with their sign, point and fraction."""
    plains = [plain(word) for word in words]
    core = [_is_number(text, values) for text in plains]
    found: list[tuple[int, int]] = []
    n = 0
    while n < len(words):
        if not core[n]:
            n += 1
            continue
        last = n + 1
        while last < len(words) and not words[last - 1].word.endswith(_ENDS) and _goes_on(plains, core, last):
            last += 1 if core[last] else 2
        first = n
        while first > (found[-1][1] if found else 0) and plains[first - 1] in _LEADS:
            first -= 1
        if plains[n:last] != ["oh"]:
            found.append((first, last))
        n = last
    return tuple(found)


def _is_number(text: str, values: Mapping[str, int]) -> bool:
    return bool(_DIGIT.search(text)) or all(part in values or part in _PARTS for part in text.split("-"))


def _goes_on(plains: Sequence[str], core: Sequence[bool], at: int) -> bool:
    """Whether word `at` belongs to the number before it, or joins it to more: the "point" of "three point six"."""
    return core[at] or (plains[at] in _INSIDE and at + 1 < len(plains) and core[at + 1])


def rivals(words: Sequence[str], values: Mapping[str, int]) -> tuple[str, ...]:
    """The words with each "-teen" as the "-ty" that it sounds like, and the other way round: "116" -> "160"."""
    names = {value: name for name, value in reversed(list(values.items()))}

    def other(word: str) -> str:
        bare = word.strip(".,?!;:")
        value = values.get(bare.lower())
        if value in _SWAPS:
            name = names[_SWAPS[value]]
            return word.replace(bare, name.capitalize() if bare[0].isupper() else name)
        found = re.fullmatch(r"(\d*?)(\d\d)(\D*)", bare)
        if found is None or int(found[2]) not in _SWAPS:
            return word
        return word.replace(bare, f"{found[1]}{_SWAPS[int(found[2])]}{found[3]}")

    return tuple(other(word) for word in words)


def seen(
    look: Look, first: int, last: int, *, values: Mapping[str, int], units: Collection[str], same: Mapping[str, str]
) -> dict[str, float]:
    """What there is to see of the number at words [first, last). Chances are logarithms.

    least, mean, near (3 words on either side), near_least, beside (8, the number among them), after: what the first
    weights believe. differs, silent, agrees_sure, differs_sure, agreement (of `beside`): what the other heard.
    told, told_near, told_beside: what it believes of the words as read; rival: how near it comes to the other of
    "-teen" and "-ty". unit, words, digits, decimal, broken (commas or dashes inside), short (nothing else was said):
    what kind of number. letters: in an identifier. lost: after "point not".
    """
    words = look.words
    inside = range(first, last)
    near = [n for n in range(max(0, first - _NEAR), min(len(words), last + _NEAR)) if n not in inside]
    beside = range(max(0, first - _BESIDE), min(len(words), last + _BESIDE))
    own = [_log(words[n].probability) for n in inside]
    stands = _aligned(words, look.other)
    heard = list(dict.fromkeys(word for n in inside for word in stands[n][0]))
    mine, theirs = ([same.get(t, t) for t in map(plain, side)] for side in (words[first:last], heard))
    agrees = bool(heard) and same_numbers(mine, theirs, values)
    sure = min((_log(word.probability) for word in heard), default=0.0)
    turned = [n for n in inside if look.told[n][0] != look.told[n][1]][:1]
    bare = [plain(words[n]) for n in inside]
    after = plain(words[last]) if last < len(words) else ""
    before = [plain(word) for word in words[first - 2 : first]] if first >= 2 else []
    return {
        "least": min(own),
        "mean": _mean(own),
        "near": _mean([_log(words[n].probability) for n in near]),
        "near_least": min((_log(words[n].probability) for n in near), default=0.0),
        "beside": _mean([_log(words[n].probability) for n in beside]),
        "after": _log(words[last].probability) if last < len(words) else 0.0,
        "differs": float(bool(heard) and not agrees),
        "silent": float(not heard),
        "agrees_sure": sure if agrees else 0.0,
        "differs_sure": sure if heard and not agrees else 0.0,
        "agreement": _mean([float(stands[n][1]) for n in beside]),
        "told": min(_log(look.told[n][0], _TOLD) for n in inside),
        "told_near": _mean([_log(look.told[n][0], _TOLD) for n in near]),
        "told_beside": _mean([_log(look.told[n][0], _TOLD) for n in beside]),
        "rival": max((_gain(look.told[n]) for n in turned), default=0.0),
        "unit": float(after in units or any(t[-1:].isalpha() and t[:1].isdigit() for t in bare)),
        "words": float(min(4, last - first)),
        "digits": float(min(8, sum(c.isdigit() for text in bare for c in text))),
        "decimal": float(any("." in text for text in bare) or "point" in bare),
        "broken": float(any("," in words[n].word[:-1] or "-" in words[n].word[1:] for n in inside)),
        "short": float(len(words) <= 2),
        "letters": float(any(_is_letter(plain(words[n])) for n in (*near, *inside))),
        "lost": float(before[:1] == ["point"] and before[1] in _NOUGHT),
    }


def _gain(chances: tuple[float, float]) -> float:
    """How near the other of two comes: 0 where it is out of the question, 6 as likely, 10 far likelier."""
    return max(-6.0, min(4.0, _log(chances[1], _TOLD) - _log(chances[0], _TOLD))) + 6.0


def _is_letter(text: str) -> bool:
    mixed = bool(_DIGIT.search(text)) and any(c.isalpha() for c in text)
    return mixed or (len(text) == 1 and text.isalpha() and text not in ("a", "i"))


@lru_cache(maxsize=1)  # each number of a look asks for it
def _aligned(words: tuple[Word, ...], other: tuple[Word, ...]) -> tuple[tuple[tuple[Word, ...], bool], ...]:
    """What stands against each word, and whether it is the same word."""
    mine, theirs = ([plain(word) for word in side] for side in (words, other))
    found: list[tuple[tuple[Word, ...], bool]] = [((), False)] * len(words)
    for kind, a, b, c, d in SequenceMatcher(None, mine, theirs, autojunk=False).get_opcodes():
        for n in range(a, b):
            found[n] = ((other[c + n - a],) if b - a == d - c else tuple(other[c:d]), kind == "equal")
    return tuple(found)


def _log(chance: float, least: float = _LEAST) -> float:
    return math.log(max(chance, least))


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else 0.0
