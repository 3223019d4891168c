"""Which of several readings of a few words to believe, by how people talk about the job, where little rests on it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from functools import lru_cache
from typing import TYPE_CHECKING

from voicereport.speech.second_look import matters, plain, same_numbers
from voicereport.speech.talk import END, NUMBER, Talk
from voicereport.transcript import Word, spread

if TYPE_CHECKING:
    from voicereport.speech.engine import Runner

_ENDS = ".,?!;:"
_AROUND = 2  #: words of the model after a change, which it may make likelier too
_BEFORE = 12  #: words before a change that are looked at; the model goes by two, which one word may hold
_SHORTEST = 3  #: letters of a word that is exchanged for one of the same sound
_BEHIND = -8.0  #: log chance of what is no runner-up beside what came first
_TENSES = ("ed", "d", "ing")  #: endings that make a deed of an order


@dataclass(frozen=True, kw_only=True, slots=True)
class ChoiceModel:
    """A logistic model: the chance that a change is for the better is that of `bias` and the sum of `weights` times
    what was seen."""

    bias: float
    weights: Mapping[str, float]
    least: float  #: chance from which on a change is made
    kept: frozenset[str]  #: words, lower case, that are never changed and never put in

    def chance(self, seen: Mapping[str, float]) -> float:
        """The chance that a change is for the better, 0..1."""
        total = self.bias + sum(weight * seen[name] for name, weight in self.weights.items())
        return 1 / (1 + math.exp(-max(-30.0, min(30.0, total))))


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """Words [first, last) as they may have been said instead."""

    first: int
    last: int
    words: tuple[str, ...]
    behind: float | None  #: log chance of the runner-up that has them beside what came first; None: no runner-up has
    seen: Mapping[str, float]


def chosen(
    words: Sequence[Word],
    runners: Sequence[Runner],
    talk: Talk,
    model: ChoiceModel,
    *,
    numbers: Mapping[str, int],
    watched: Collection[str],
) -> tuple[Word, ...]:
    """The words of a window, changed where other words are likelier to have been said.

    What may be put in: what a runner-up of the recogniser has, a word of the same sound, "plug's" for "plugs". Nothing
    is put in or left out where the other has no word. Numbers and their units, identifiers, `watched` and kept words
    stay as they came first, and so does the tense of a verb; where a likelier runner-up has them otherwise, it is
    their `alternative`.
    """
    found: list[tuple[float, Change]] = []
    for change in changes(words, runners, talk, numbers=numbers):
        chance = model.chance(change.seen)
        if chance >= model.least:
            found.append((chance, change))
    taken: set[int] = set()
    out: dict[int, tuple[int, tuple[Word, ...]]] = {}
    for _, change in sorted(found, key=lambda one: (-one[0], one[1].first, one[1].words)):
        if taken.isdisjoint(range(change.first, change.last)):
            taken |= set(range(change.first, change.last))
            old = words[change.first : change.last]
            out[change.first] = (change.last, _settled(old, change, model, numbers=numbers, watched=watched))
    result: list[Word] = []
    at = 0
    while at < len(words):
        last, new = out.get(at, (at + 1, (words[at],)))
        result += new
        at = last
    return tuple(result)


def changes(
    words: Sequence[Word], runners: Sequence[Runner], talk: Talk, *, numbers: Mapping[str, int]
) -> Iterator[Change]:
    """All that may have been said instead, and what there is to see of each.

    gain: how much likelier the talk's model finds it, as a logarithm. heard, behind: whether a runner-up has it, and
    its log chance. short_is: "plug's" for "plugs", or the other way. alike: it only sounds the same. letters: how many
    differ then. strange: the model has no such word as came first. longer: by how many words.
    """
    plains = [plain(word) for word in words]
    behind: dict[tuple[int, int, tuple[str, ...]], float] = {}
    for runner in runners:
        theirs = [plain(_bare(word)) for word in runner.words]
        for kind, a, b, c, d in SequenceMatcher(None, plains, theirs, autojunk=False).get_opcodes():
            if kind == "replace" and not same_numbers(plains[a:b], theirs[c:d], numbers):
                key = (a, b, runner.words[c:d])
                behind[key] = max(behind.get(key, _BEHIND), runner.behind)
    for (first, last, put), gap in behind.items():
        yield _change(words, first, last, put, talk, behind=gap)
    for n, word in enumerate(words):
        for other, manner in _sounding(word.word, words, n, talk):
            change = _change(words, n, n + 1, (other,), talk, kind=manner)
            if change.seen["gain"] > 0 and (n, n + 1, (other,)) not in behind:
                yield change


def _bare(word: str) -> Word:
    return Word(word=word, start=0.0, end=0.0)


def _change(
    words: Sequence[Word],
    first: int,
    last: int,
    new: tuple[str, ...],
    talk: Talk,
    *,
    behind: float | None = None,
    kind: str = "",
) -> Change:
    old = [word.word for word in words[first:last]]
    mine, theirs = talk.words(" ".join(old)), talk.words(" ".join(new))
    alike = kind == "alike"
    seen = {
        "gain": _gain(words, first, last, new, talk),
        "heard": float(behind is not None),
        "behind": _BEHIND if behind is None else max(_BEHIND, behind),
        "short_is": float(kind == "short_is"),
        "alike": float(alike),
        "letters": float(_apart(mine[:1], theirs[:1])) if alike else 0.0,
        "strange": float(alike and not all(talk.knows(word) for word in mine)),
        "longer": float(len(new) - (last - first)),
    }
    return Change(first=first, last=last, words=new, behind=behind, seen=seen)


def _apart(mine: Sequence[str], theirs: Sequence[str]) -> int:
    from rapidfuzz.distance import Levenshtein

    return Levenshtein.distance("".join(mine), "".join(theirs))


def _gain(words: Sequence[Word], first: int, last: int, new: Sequence[str], talk: Talk) -> float:
    """How much likelier the model finds other words in the place of [first, last), as a logarithm."""
    before = talk.words(" ".join(word.word for word in words[max(0, first - _BEFORE) : first]))
    after = talk.words(" ".join(word.word for word in words[last : last + _BEFORE]))[:_AROUND]
    sides = (talk.words(" ".join(new)), talk.words(" ".join(word.word for word in words[first:last])))
    mine, theirs = (talk.likely([*side, *after], before) for side in sides)
    return mine - theirs


def _sounding(written: str, words: Sequence[Word], n: int, talk: Talk) -> Iterator[tuple[str, str]]:
    """What sounds as word n does: with the other of "s" and "'s", and the likeliest other word of the same sound."""
    bare = [word for word in talk.words(written) if word != END]
    if len(bare) != 1 or len(bare[0]) < _SHORTEST or bare[0] == NUMBER or "-" in written:
        return
    [word] = bare
    short = _other_short(word)
    if short and talk.knows(short) and n + 1 < len(words) and written[-1] not in _ENDS:
        yield _as(written, short), "short_is"
    others = [w for w in _by_sound(talk).get(_sound(word), ()) if w.replace("'", "") != word.replace("'", "")]
    if others:
        yield _as(written, max(others, key=lambda w: (_gain(words, n, n + 1, (_as(written, w),), talk), w))), "alike"


def _other_short(word: str) -> str | None:
    """ "plug's" for "plugs", "plugs" for "plug's"; None for what is neither."""
    if word.endswith("'s"):
        return word[:-2] + "s"
    return word[:-1] + "'s" if word.endswith("s") and not word.endswith(("ss", "'")) and "'" not in word else None


def _as(written: str, word: str) -> str:
    """A word with the capital and the closing marks of the one in whose place it comes."""
    tail = written[len(written.rstrip(_ENDS)) :]
    return (word[0].upper() + word[1:] if written[:1].isupper() else word) + tail


@lru_cache(maxsize=1)
def _by_sound(talk: Talk) -> dict[str, tuple[str, ...]]:
    """The model's words by their sound."""
    found: dict[str, list[str]] = defaultdict(list)
    for word in talk.places:
        if word.isascii() and word[0].isalpha() and len(word) > 1:
            found[_sound(word)].append(word)
    return {sound: tuple(words) for sound, words in found.items()}


@lru_cache(maxsize=65536)
def _sound(word: str) -> str:
    import jellyfish

    return jellyfish.metaphone(word.replace("'", ""))


def _settled(
    old: Sequence[Word], change: Change, model: ChoiceModel, *, numbers: Mapping[str, int], watched: Collection[str]
) -> tuple[Word, ...]:
    """The words after a change; those that must stay, with a runner-up as what was heard instead."""
    if not rests(old, change, model, numbers=numbers, watched=watched):
        if len(change.words) == len(old):
            return tuple(replace(a, word=b) for a, b in zip(old, change.words, strict=True))
        doubt = min(word.probability for word in old)
        return spread(" ".join(change.words), old[0].start, old[-1].end, probability=doubt)
    if change.behind is None:
        return tuple(old)
    instead = change.words if len(change.words) == len(old) else (" ".join(change.words),) * len(old)
    return tuple(
        a if plain(a) == plain(_bare(b)) else replace(a, alternative=b) for a, b in zip(old, instead, strict=True)
    )


def rests(
    old: Sequence[Word], change: Change, model: ChoiceModel, *, numbers: Mapping[str, int], watched: Collection[str]
) -> bool:
    """Whether something may rest on what a change puts in or takes away, so that it is never made silently."""
    new = [_bare(word) for word in change.words]
    same = {plain(word) for word in old} & {plain(word) for word in new}
    telling = [word for word in (*old, *new) if plain(word) not in same or change.seen["short_is"]]
    return _tense(old, new) or any(_rests(word, model, numbers=numbers, watched=watched) for word in telling)


def _rests(word: Word, model: ChoiceModel, *, numbers: Mapping[str, int], watched: Collection[str]) -> bool:
    """Whether something may rest on a word, so that it is never changed silently."""
    bare = word.word.lower().replace("’", "'").strip("\"'.,?!;:()")
    parts = {plain(word), bare, *bare.replace("-", " ").split(), *bare.split("'"), bare.removesuffix("'s")}
    parts |= {part.removesuffix("s") for part in parts}
    return matters(word, numbers=numbers, watched=watched) or "n't" in bare or not model.kept.isdisjoint(parts)


def _tense(old: Sequence[Word], new: Sequence[Word]) -> bool:
    """Whether a change makes a deed of an order, or the other way: "remove", "removed", "removing"."""
    return any(
        a != b and not _stems(a).isdisjoint(_stems(b)) and any(w.endswith(_TENSES) for w in (a, b))
        for a in map(plain, old)
        for b in map(plain, new)
    )


def _stems(word: str) -> set[str]:
    """What a word may be a form of: "plugged" of "plug", "checked" of "check", "removing" of "remove"."""
    bare = {word, *(word.removesuffix(ending) for ending in _TENSES if word.endswith(ending))}
    single = {w[:-1] for w in bare if w != word and w[-2:-1] == w[-1:]}
    return {w.removesuffix("e") for w in bare | single if len(w) > 1}
