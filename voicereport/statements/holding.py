"""What a fastener holds: the candidates of the sentence and of what went before, weighed by what was learnt."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import fsum

from voicereport.errors import PackError
from voicereport.paths import models_dir
from voicereport.statements.acts import Memory, holder_of, located, split_fastener
from voicereport.statements.grammar import grammar
from voicereport.statements.names import Name
from voicereport.statements.naming import completed
from voicereport.statements.placing import Placed
from voicereport.statements.tokens import Sentence, whole_of
from voicereport.statements.values import Act
from voicereport.trades.words import Words

_MOVED = frozenset({"done", "narrated"})
_WAYS = {"remove": "out", "disconnect": "out", "peel": "out", "open": "out", "cut": "out", "loosen": "out",
         "refit": "in", "replace": "in", "reconnect": "in", "reseal": "in", "close": "in", "tighten": "in"}  # fmt: skip
_POSSESSIVE = frozenset({"its", "their"})
_NOTHING = frozenset({"power supply", "water supply", "everything", "appliance", ""})

FEATURES = (
    "said",  #: the words name it as what is held
    "marked",  #: the reader marked it so
    "by_preposition",  #: "out of", "from", "on" stand between
    "acted_alike",  #: this sentence takes it off where the fasteners come out, or puts it on where they go in
    "acted_otherwise",  #: this sentence does something else to it
    "acted_nearest",  #: of what this sentence acts on, it stands nearest
    "before",  #: this sentence names it before the fasteners
    "after",
    "gap",  #: tokens between, up to ten, as 0..1
    "where",  #: named in this sentence by a preposition: it says where
    "holder",  #: the last part that was taken off or put on
    "acted_last",  #: the last part of the sentences before on which anything was done
    "acted_last_alike",  #: the last part taken off where these come out, put on where these go in
    "last_held",  #: what the last fasteners held
    "named_last",  #: the last thing named in the sentences before
    "recent",  #: 1 / (1 + number of other names since)
    "is_cover",
    "is_seal",
    "is_tube",
    "is_wired",  #: a connector or wiring
    "is_fixing",  #: it carries something itself: a bracket
    "out_again",  #: coming out: some of its fasteners of that kind are out already
    "open",  #: going in: some of its fasteners of that kind are out
    "open_as_many",
    "open_more",
    "open_fewer",
    "open_only",  #: and of nothing else
    "its_last",  #: "its screws": the last thing named before them
    "same_as_many",  #: "the same two": as many are out of it
    "only_named",  #: the one thing that this sentence names beside the fasteners
    "none_open",  #: none of its own are out, but some of another
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Candidate:
    """A thing that fasteners may hold, and what speaks for and against it: a value for each of `FEATURES`."""

    part: str
    features: tuple[float, ...]


def held(
    act: Act,
    mark: Placed,
    found: Sequence[tuple[Act, Placed]],
    sentence: Sentence,
    names: Sequence[Name],
    words: Words,
    memory: Memory,
) -> Act:
    """The act with what its fastener holds; of a screw that is named after its part ("hinge screw"), that part."""
    if act.kind != "fastener":
        return act
    own = _own(mark, names)
    called = split_fastener(own, words)[1] if own is not None else None
    if called is not None:
        return replace(act, holds=completed(replace(own, part=called, kind="part"), memory, words).part)
    best = choice(candidates(act, mark, found, sentence, names, words, memory))
    if own is None and not mark.things_before and _WAYS.get(act.action) == "in":
        for kind in _kinds_out(memory):  # only a number, or a pronoun: the kind is that of what is out
            other = replace(act, part=kind)
            there = choice(candidates(other, mark, found, sentence, names, words, memory))
            if there is not None and (best is None or weight(there.features) > weight(best.features)):
                act, best = other, there
    if best is None:
        return act
    full = dict(pair.split("=") for pair in grammar().words["held_names"])
    return replace(act, holds=full.get(best.part, best.part))


def choice(told: Sequence[Candidate]) -> Candidate | None:
    """The likeliest of the candidates; of equals the first."""
    return max(told, key=lambda c: weight(c.features), default=None)


def weight(features: Sequence[float]) -> float:
    """How much speaks for a candidate: the sum of its features by their weights."""
    return fsum(f * w for f, w in zip(features, weights(), strict=True))


@lru_cache(maxsize=1)
def weights() -> tuple[float, ...]:
    """The weight of each feature, in the order of `FEATURES`. PackError: the file names other features."""
    file = models_dir() / "reader" / "holders.toml"
    told = tomllib.loads(file.read_text(encoding="utf-8"))["weights"]
    if set(told) != set(FEATURES):
        strange = ", ".join(sorted(set(told) ^ set(FEATURES)))
        raise PackError(f"{file}: [weights] does not fit the program in {strange}: make it again with its recipe")
    return tuple(float(told[name]) for name in FEATURES)


def candidates(
    act: Act,
    mark: Placed,
    found: Sequence[tuple[Act, Placed]],
    sentence: Sentence,
    names: Sequence[Name],
    words: Words,
    memory: Memory,
) -> list[Candidate]:
    """What `act`, a fastener's, may hold. found: the sentence's acts; names: what it names."""
    whole = whole_of(sentence)
    way = _WAYS.get(act.action, "")
    at, own = _place(mark), _own(mark, names)
    prepared = holder_of(whole, own, tuple(names)) if own is not None else None
    here: dict[str, Name] = {}
    for name in names:
        if name.known and name.kind != "fastener" and name.part not in words.not_parts:
            here.setdefault(completed(name, memory, words).part, name)
    acted = [(a, m) for a, m in found if a.kind != "fastener" and a.part not in _NOTHING]
    nearest = min(acted, key=lambda x: abs(_place(x[1]) - at), default=None)
    parts = [a for a in memory.acts if a.kind in {"part", "seal", "tube"} and a.status in _MOVED and a.part not in _NOTHING]
    moved = [a for a in parts if a.action in _WAYS]
    screws = [a for a in memory.acts if a.kind == "fastener" and a.status in _MOVED and a.holds]
    named = [p for p in memory.named if p not in here]
    out = still_out(memory, act.part)
    lead = {t.text for t in sentence.tokens[max(0, at - 4) : at + 1]}
    possessive, same = bool(lead & _POSSESSIVE), "same" in lead
    last_named = next((p for p, n in reversed(here.items()) if n.first < at), named[-1] if named else None)
    pool = [act.holds or "", *here, *(a.part for a, _ in acted), *(a.part for a in reversed(parts[-4:])),
            *reversed(named[-5:]), *reversed(list(out)), memory.holder or "", *(a.holds or "" for a in screws[-1:])]  # fmt: skip
    told = []
    for part in dict.fromkeys(pool):
        if part in _NOTHING or part in words.not_parts or part in words.appliances or not words_fit(part):
            continue
        name = here.get(part)
        in_this = [(a, m) for a, m in acted if alike(a.part, part)]
        alike_way = [a for a, _ in in_this if _WAYS.get(a.action, "?") == way]
        left = next((n for p, n in out.items() if alike(p, part)), None)
        same_way = [a for a in moved if _WAYS[a.action] == way]
        age = next((k for k, p in enumerate(dict.fromkeys(reversed(named))) if alike(p, part)), 99)
        classes = words.classes_of(part)
        kind = words.kind_of(part)
        inward = way == "in"
        values = {
            "said": act.holds is not None and alike(act.holds, part),
            "marked": bool(mark.holds or mark.holds_before) and act.holds is not None and alike(act.holds, part),
            "by_preposition": prepared is not None and name is prepared,
            "acted_alike": bool(alike_way),
            "acted_otherwise": bool(in_this) and not alike_way,
            "acted_nearest": nearest is not None and alike(nearest[0].part, part),
            "before": name is not None and name.first < at,
            "after": name is not None and name.first > at,
            "gap": min(abs(name.first - at), 10) / 10 if name is not None else 0.0,
            "where": name is not None and located(whole, name),
            "holder": memory.holder is not None and alike(memory.holder, part),
            "acted_last": bool(parts) and alike(parts[-1].part, part),
            "acted_last_alike": bool(same_way) and alike(same_way[-1].part, part),
            "last_held": bool(screws) and alike(screws[-1].holds or "", part),
            "named_last": age == 0,
            "recent": 1 / (1 + age) if age < 99 else 0.0,
            "is_cover": "cover" in classes,
            "is_seal": kind == "seal",
            "is_tube": kind == "tube",
            "is_wired": kind in {"connector", "wiring"},
            "is_fixing": part.split()[-1] in {"bracket", "mount", "plate"},
            "out_again": way == "out" and left is not None,
            "open": inward and left is not None,
            "open_as_many": inward and left is not None and act.count == left,
            "open_more": inward and left is not None and act.count is not None and act.count < left,
            "open_fewer": inward and left is not None and act.count is not None and act.count > left,
            "open_only": inward and left is not None and len(out) == 1,
            "its_last": possessive and last_named is not None and alike(last_named, part),
            "same_as_many": same and inward and left is not None and act.count in {left, None},
            "only_named": len(here) == 1 and name is not None,
            "none_open": inward and left is None and bool(out),
        }
        told.append(Candidate(part=part, features=tuple(float(values[f]) for f in FEATURES)))
    return told


def words_fit(part: str) -> bool:
    return bool(part.split())


def still_out(memory: Memory, kind: str) -> dict[str, float]:
    """How many fasteners of a kind ("screw") are out of each thing that they hold; the last to come out stands last."""
    out: dict[str, float] = {}
    for old in memory.acts:
        if old.kind != "fastener" or not old.holds or old.status not in _MOVED or old.part.split()[-1] != kind.split()[-1]:
            continue
        key = next((p for p in out if alike(p, old.holds)), old.holds)
        if old.action == "remove":
            out[key] = out.pop(key, 0) + (old.count or 1)
        elif old.action in {"refit", "replace"} and key in out:
            out[key] -= old.count if old.count is not None else out[key]
            if out[key] <= 0:
                del out[key]
    return out


def _kinds_out(memory: Memory) -> list[str]:
    """The kinds of fasteners that are out of something."""
    kinds = dict.fromkeys(a.part for a in memory.acts if a.kind == "fastener" and a.status in _MOVED)
    return [k for k in kinds if still_out(memory, k)]


def alike(one: str, other: str) -> bool:
    """Whether two names are the same but for words before the last ones: "cover", "rear cover"."""
    return bool(one and other) and (one == other or one.endswith(" " + other) or other.endswith(" " + one))


def _own(mark: Placed, names: Sequence[Name]) -> Name | None:
    """The name of the fastener itself, where this sentence has it."""
    at = _place(mark)
    return next((n for n in names if n.kind == "fastener" and n.first <= at < n.last), None)


def _place(mark: Placed) -> int:
    return mark.things[-1][0] if mark.things else mark.first
