"""What a fastener holds: the candidates of the sentence and of what went before, weighed by what was learnt."""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import fsum
from typing import Literal

from voicereport.errors import PackError
from voicereport.paths import models_dir
from voicereport.report import Action
from voicereport.statements.acts import Memory, holder_of, located, split_fastener
from voicereport.statements.grammar import grammar
from voicereport.statements.names import Name
from voicereport.statements.naming import completed, one_of_several
from voicereport.statements.placing import Placed
from voicereport.statements.pointing import Pointing
from voicereport.statements.tokens import Sentence, whole_of
from voicereport.statements.values import MOVED, Act
from voicereport.trades.words import Words
from voicereport.wording.numbers import find_numbers

Found = Sequence[tuple[Act, Placed]]
Way = Literal["out", "in"]

_WAYS: dict[Action, Way] = {
    "remove": "out", "disconnect": "out", "peel": "out", "open": "out", "cut": "out", "loosen": "out",
    "refit": "in", "replace": "in", "reconnect": "in", "reseal": "in", "close": "in", "tighten": "in",
}  # fmt: skip
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
    "topic",  #: what was named most often so far, twice at least
    "replaced_last",  #: the last part that a new one was fitted for
    "unheld",  #: it lies or sticks, and nothing screws it down: foam, a cap over a screw
    "headed",  #: a sentence before began with it, and did nothing to it
    "headed_here",  #: this sentence does
    "pointed",  #: the share of the chance with which its words are pointed at as what is held, 0..1
    "just_moved",  #: the sentence before in the same line moved it the same way: "cover on. Six in."
    "just_moved_only",  #: and this one names nothing else
    "beside",  #: it stands before the fasteners with nothing but a count, an owner's word or a comma between
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Candidate:
    """A thing that fasteners may hold, and what speaks for and against it: a value for each of `FEATURES`."""

    part: str
    features: tuple[float, ...]

    @property
    def noun(self) -> str:
        """The last word of its name."""
        return self.part.split()[-1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Scene:
    """What stands around an act of fasteners: its sentence, the acts and names of that, and what went before."""

    mark: Placed
    found: Found  #: the acts of the sentence
    sentence: Sentence
    names: Sequence[Name]  #: of the sentence
    words: Words
    memory: Memory
    pointing: Pointing | None = None

    @property
    def place(self) -> int:
        """The token at which the fasteners stand."""
        return _place(self.mark)

    @property
    def own(self) -> Name | None:
        """The name of the fasteners, where this sentence has one."""
        return next((n for n in self.names if n.kind == "fastener" and n.first <= self.place < n.last), None)


def held(act: Act, scene: Scene) -> Act:
    """The act with what its fastener holds; of a screw that is named after its part ("hinge screw"), that part."""
    if act.kind != "fastener":
        return act
    own = scene.own
    called = split_fastener(own, scene.words)[1] if own is not None else None
    if own is not None and called is not None:
        named = replace(own, part=called, kind="part")
        return replace(act, holds=completed(named, scene.memory, scene.words).part)
    if (sided := one_of_several(scene.sentence, scene.place, scene.memory) or _other_side(scene)) is not None:
        return replace(act, holds=sided)
    if _is_plainly_said(act, scene):
        return act
    told = candidates(act, scene)
    best = choice(told)
    if best is not None and _is_before_them(best.part, act, scene):
        if (meant := _meant_by(best.part, act, scene)) is not None:
            return replace(act, holds=meant)
        best = choice([c for c in told if not _is_before_them(c.part, act, scene)])
    if own is None and not scene.mark.things_before and _WAYS.get(act.action) == "in":
        act, best = _of_a_kind(act, best, scene)
    if best is None:
        return act
    full = dict(pair.split("=") for pair in grammar().words["held_names"])
    return replace(act, holds=full.get(best.part, best.part))


def _is_before_them(part: str, act: Act, scene: Scene) -> bool:
    """Whether fasteners lie behind a part and are of another: "knob off. Small nut behind it, off".

    So do screws, bolts and nuts that come out after a plug came off: none of them is the plug's.
    """
    words = grammar().words
    if _WAYS.get(act.action) != "out" or act.holds == part:
        return False
    moved = [a for a in scene.memory.acts[-3:] if a.kind != "fastener" and alike(a.part, part)]
    moved += [a for a, m in scene.found if a.kind != "fastener" and m.first < scene.place and alike(a.part, part)]
    texts = [t.text for t in scene.sentence.tokens]
    behind = any(a in words["hiding"] and b in words["single_pronouns"] for a, b in pairwise(texts))
    if part.split()[-1] in words["uncovering"] and behind and bool(moved):
        return True
    named = any(n.kind in {"connector", "wiring"} for n in scene.names if n.first > scene.place)
    return part.split()[-1] in words["unscrewed"] and act.part.split()[-1] in words["screwed_in"] and not named


def _meant_by(part: str, act: Act, scene: Scene) -> str | None:
    """What fasteners hold that came into view with a part: the owner of a plug, the control that a knob turns."""
    words = grammar().words
    if part.split()[-1] in words["knobs"] and act.part.split()[-1] in words["knob_nuts"]:
        named = [*scene.memory.named, *(a.part for a in scene.memory.acts)]
        return next((w for p in reversed(named) for w in p.split() if w in words["controls"]), None)
    owner = tuple(part.split()[:-1])
    plugged = scene.words.kind_of(part) == "connector" and scene.words.thing(owner) is not None
    return " ".join(owner) if owner and plugged else None


def _of_a_kind(act: Act, best: Candidate | None, scene: Scene) -> tuple[Act, Candidate | None]:
    """An act of which only a number or a pronoun was said, and its likeliest holder: the kind is that of what is out.

    Where as many are out of anything, only what as many are out of comes into question.
    """
    others = [replace(act, part=kind) for kind in _kinds_out(scene.memory)]
    told = [(other, c) for other in others for c in candidates(other, scene)]
    count = act.count if not scene.mark.things else None
    if count is not None:
        out = {
            other.part: [p for p, n in still_out(scene.memory, other.part).items() if n >= count] for other in others
        }
        enough = [(other, c) for other, c in told if any(alike(p, c.part) for p in out[other.part])]
        if enough:
            return max(enough, key=lambda x: weight(x[1]))
    for other, there in told:
        if best is None or weight(there) > weight(best):
            act, best = other, there
    return act, best


def _other_side(scene: Scene) -> str | None:
    """The holder that is only told by its side, after one of another side: "two of the top rail, two of the left"."""
    sets = grammar().words
    sides = sets["sides"] | sets["panels"]
    said = [t.text for f, e in scene.mark.holds[-1:] for t in scene.sentence.tokens[f:e]]
    side = next((w for w in said if w in sides), None)
    if side is None or not set(said) <= sides | sets["articles"] | {"one", "hand", "side"}:
        return None
    held_so_far = [a.holds for a, _ in reversed(scene.found)] + [a.holds for a in reversed(scene.memory.acts[-12:])]
    told = [*held_so_far, *reversed(scene.memory.named[-12:])]
    known = next((h for h in told if h and h.split()[0] == side and len(h.split()) > 1), None)
    like = next((h for h in told if h and h.split()[0] in sides and len(h.split()) > 1), None)
    if like is not None and like.split()[0] in {"front", "rear"} and side not in {"front", "rear", "back"}:
        like = None  # "rear cover, four off the left" are of that cover
    return known or (" ".join([side, *(w for w in like.split() if w not in sides)]) if like else None)


def _is_plainly_said(act: Act, scene: Scene) -> bool:
    """Whether the reader and the words agree: "two screws out of the fan bracket"."""
    if act.holds is None or scene.own is None or not scene.mark.holds:
        return False
    named = holder_of(whole_of(scene.sentence), scene.own, tuple(scene.names))
    return named is not None and alike(completed(named, scene.memory, scene.words).part, act.holds)


def choice(told: Sequence[Candidate]) -> Candidate | None:
    """The likeliest of the candidates; of equals the first."""
    return max(told, key=weight, default=None)


def weight(candidate: Candidate) -> float:
    """How much speaks for a candidate: the sum of its features by their weights, and what its noun adds."""
    features, nouns = weights()
    told = fsum(f * w for f, w in zip(candidate.features, features, strict=True))
    return told + nouns.get(candidate.noun, 0.0)


@lru_cache(maxsize=1)
def weights() -> tuple[tuple[float, ...], Mapping[str, float]]:
    """The weight of each feature, in the order of `FEATURES`, and of the nouns that were seen often enough.

    Raises PackError where the file names other features. Source: models/reader/holders.py fits them.
    """
    file = models_dir() / "reader" / "holders.toml"
    told = tomllib.loads(file.read_text(encoding="utf-8"))
    if set(told["weights"]) != set(FEATURES):
        strange = ", ".join(sorted(set(told["weights"]) ^ set(FEATURES)))
        raise PackError(str(file), f"its [weights] and the program differ in {strange}", "install its files anew")
    return tuple(float(told["weights"][name]) for name in FEATURES), told["nouns"]


def candidates(act: Act, scene: Scene) -> list[Candidate]:
    """What `act`, a fastener's, may hold, each with its features."""
    words, memory = scene.words, scene.memory
    here: dict[str, Name] = {}
    for name in scene.names:
        if _owns(name, scene) or (_WAYS.get(act.action) == "in" and _was_in(name, scene.sentence)):
            continue
        if name.known and name.kind != "fastener" and name.part not in words.not_parts:
            here.setdefault(completed(name, memory, words).part, name)
    before = _Before.of(act, memory, here, words)
    pointed = pointed_holders(scene.mark, memory, scene.pointing)
    acted = [(a, m) for a, m in scene.found if a.kind != "fastener" and a.part not in _NOTHING]
    likeliest = [max(pointed, key=pointed.__getitem__)] if pointed else []
    pool = [act.holds or "", *here, *(a.part for a, _ in acted), *before.parts, *likeliest]
    return [
        Candidate(part=part, features=_features(part, act, scene, here, acted, before, pointed))
        for part in dict.fromkeys(pool)
        if part.strip()
        and part not in _NOTHING
        and part not in words.not_parts
        and part not in words.appliances
        and part.split()[-1] not in grammar().words["places"]
    ]


def _was_in(name: Name, sentence: Sentence) -> bool:
    """True of what fasteners that go back were kept in: "all four screws, the two out of the crisper as well"."""
    before = [t.text for t in sentence.tokens[: name.first] if t.text not in {"the", "a", "my"}]
    return before[-2:] == ["out", "of"] or before[-1:] == ["from"]


def _owns(name: Name, scene: Scene) -> bool:
    """True of a name of which only a part is spoken of: "the dryer's front panel"."""
    after = scene.sentence.tokens[name.last : name.last + 1]
    part = next((n for n in scene.names if n.first == name.last + 1), None)
    return bool(after) and after[0].text == "’s" and part is not None and part.known and part.kind == "part"


@dataclass(frozen=True, kw_only=True, slots=True)
class _Before:
    """What the sentences before leave to choose from."""

    acts: list[Act]  #: of parts, latest last
    screws: list[Act]
    named: list[str]
    out: dict[str, float]  #: fasteners of the kind that are out, by what they hold
    holder: str | None
    headed: str | None
    topic: str | None  #: named most often
    replaced: str | None  #: the last part that was replaced
    just_moved: str | None  #: the part that the sentence before moved, in the line of this one

    @classmethod
    def of(cls, act: Act, memory: Memory, here: dict[str, Name], words: Words) -> _Before:
        moved = [a for a in memory.acts if a.status in MOVED and a.part not in _NOTHING]
        return cls(
            acts=[a for a in moved if a.kind in {"part", "seal", "tube"}],
            screws=[a for a in moved if a.kind == "fastener" and a.holds],
            named=[p for p in memory.named if p not in here],
            out=still_out(memory, act.part),
            holder=memory.holder,
            headed=memory.headed,
            topic=_topic(memory, words),
            just_moved=_just_moved(moved, act),
            replaced=next((a.part for a in reversed(moved) if a.action == "replace" and a.kind == "part"), None),
        )

    @property
    def parts(self) -> list[str]:
        last = [a.holds or "" for a in self.screws[-1:]]
        acted = [a.part for a in reversed(self.acts[-4:])]
        told = [self.holder or "", self.headed or "", *last, self.topic or "", self.replaced or ""]
        return [*acted, *reversed(self.named[-5:]), *reversed(list(self.out)), *told]


def _just_moved(moved: Sequence[Act], act: Act) -> str | None:
    """The part that was moved last, where that was in the line of `act`, the same way and before it."""
    last = next(
        (a for a in reversed(moved) if a.span.last <= act.span.first or a.span.segment != act.span.segment), None
    )
    if last is None or last.kind not in {"part", "seal"} or last.span.segment != act.span.segment:
        return None
    return last.part if _WAYS.get(last.action) == _WAYS.get(act.action) else None


def _topic(memory: Memory, words: Words) -> str | None:
    """The part named most often so far, of several the latest; None where none was named twice."""
    told = Counter(p for p in memory.named if p not in words.appliances and words.kind_of(p) == "part")
    most = max(told.values(), default=0)
    return next((p for p in reversed(memory.named) if told.get(p) == most), None) if most > 1 else None


def _features(
    part: str,
    act: Act,
    scene: Scene,
    here: dict[str, Name],
    acted: Found,
    before: _Before,
    pointed: Mapping[str, float],
) -> tuple[float, ...]:
    values = {
        "pointed": sum(share for other, share in pointed.items() if alike(other, part)),
        **_in_sentence(part, act, scene, here, acted),
        **_from_before(part, act, before, here),
        **_of_its_kind(part, scene.words),
        **_by_number(part, act, scene, here, before),
    }
    return tuple(float(values[f]) for f in FEATURES)


def pointed_holders(mark: Placed, memory: Memory, pointing: Pointing | None) -> dict[str, float]:
    """The parts that are pointed at as what the fasteners or the plug of a mark belong to, with their shares."""
    told = pointing.toward(mark.mark) if pointing is not None else None
    out: dict[str, float] = {}
    if told is None:
        return out
    for name, share in told.named(memory.mentions):
        if name.kind != "fastener":
            out[name.part] = out.get(name.part, 0.0) + share
    return out


def _in_sentence(part: str, act: Act, scene: Scene, here: dict[str, Name], acted: Found) -> dict[str, float]:
    at, name, whole = scene.place, here.get(part), whole_of(scene.sentence)
    prepared = holder_of(whole, scene.own, tuple(scene.names)) if scene.own is not None else None
    nearest = min(acted, key=lambda x: abs(_place(x[1]) - at), default=None)
    said = act.holds is not None and alike(act.holds, part)
    ways = [_WAYS.get(a.action) for a, _ in acted if alike(a.part, part)]
    same_way = _WAYS.get(act.action, "") in ways
    return {
        "said": said,
        "marked": said and bool(scene.mark.holds or scene.mark.holds_before),
        "by_preposition": prepared is not None and name is prepared,
        "acted_alike": same_way,
        "acted_otherwise": bool(ways) and not same_way,
        "acted_nearest": nearest is not None and alike(nearest[0].part, part),
        "before": name is not None and name.first < at,
        "after": name is not None and name.first > at,
        "gap": min(abs(name.first - at), 10) / 10 if name is not None else 0.0,
        "where": name is not None and located(whole, name),
        "only_named": name is not None and len(here) == 1,
        "headed_here": name is not None and name.first <= 3 and name is scene.names[0] and not ways,
        "beside": name is not None and _beside(name, scene),
    }


def _beside(name: Name, scene: Scene) -> bool:
    """ "Door lock, two screws out", "kick strip and the two short ones"."""
    first = scene.own.first if scene.own is not None else scene.place
    between = [t.text for t in scene.sentence.tokens[name.last : first]]
    small = grammar().words["beside_words"]
    return name.last <= first and all(w in small or find_numbers([w]) for w in between)


def _from_before(part: str, act: Act, before: _Before, here: dict[str, Name]) -> dict[str, float]:
    same_way = [a for a in before.acts if a.action in _WAYS and _WAYS[a.action] == _WAYS.get(act.action)]
    age = next((k for k, p in enumerate(dict.fromkeys(reversed(before.named))) if alike(p, part)), None)
    return {
        "holder": before.holder is not None and alike(before.holder, part),
        "acted_last": bool(before.acts) and alike(before.acts[-1].part, part),
        "acted_last_alike": bool(same_way) and alike(same_way[-1].part, part),
        "last_held": bool(before.screws) and alike(before.screws[-1].holds or "", part),
        "named_last": age == 0,
        "recent": 1 / (1 + age) if age is not None else 0.0,
        "headed": before.headed is not None and alike(before.headed, part),
        "topic": before.topic is not None and alike(before.topic, part),
        "just_moved": before.just_moved is not None and alike(before.just_moved, part),
        "just_moved_only": before.just_moved is not None and alike(before.just_moved, part) and not here,
        "replaced_last": before.replaced is not None and alike(before.replaced, part),
    }


def _of_its_kind(part: str, words: Words) -> dict[str, float]:
    kind = words.kind_of(part)
    return {
        "is_cover": words.closes(part),
        "is_seal": kind == "seal",
        "is_tube": kind == "tube",
        "is_wired": kind in {"connector", "wiring"},
        "unheld": part.split()[-1] in grammar().words["unheld"],
        "is_fixing": part.split()[-1] in grammar().words["fixings"],
    }


def _by_number(part: str, act: Act, scene: Scene, here: dict[str, Name], before: _Before) -> dict[str, float]:
    left = next((n for p, n in before.out.items() if alike(p, part)), None)
    way, count = _WAYS.get(act.action), act.count
    there = way == "in" and left is not None
    lead = {t.text for t in scene.sentence.tokens[max(0, scene.place - 4) : scene.place + 1]}
    earlier = [p for p, n in here.items() if n.first < scene.place] or before.named
    return {
        "out_again": way == "out" and left is not None,
        "open": there,
        "open_as_many": there and count == left,
        "open_more": there and count is not None and left is not None and count < left,
        "open_fewer": there and count is not None and left is not None and count > left,
        "open_only": there and len(before.out) == 1,
        "its_last": bool(lead & grammar().words["possessives"]) and bool(earlier) and alike(earlier[-1], part),
        "same_as_many": "same" in lead and there and count in {left, None},
        "none_open": way == "in" and left is None and bool(before.out),
    }


def still_out(memory: Memory, kind: str) -> dict[str, float]:
    """How many fasteners of a kind ("screw") are out of each thing that they hold; what came out last stands last."""
    out: dict[str, float] = {}
    for old in memory.acts:
        if old.kind != "fastener" or not old.holds or old.status not in MOVED:
            continue
        if old.part.split()[-1] != kind.split()[-1]:
            continue
        key = next((p for p in out if alike(p, old.holds or "")), old.holds)
        if old.action == "remove":
            out[key] = out.pop(key, 0) + (old.count or 1)
        elif old.action in {"refit", "replace"} and key in out:
            out[key] -= old.count if old.count is not None else out[key]
            if out[key] <= 0:
                del out[key]
    return out


def _kinds_out(memory: Memory) -> list[str]:
    """The kinds of fasteners that are out of something."""
    kinds = dict.fromkeys(a.part for a in memory.acts if a.kind == "fastener" and a.status in MOVED)
    return [k for k in kinds if still_out(memory, k)]


def alike(one: str, other: str) -> bool:
    """Whether two names are the same but for words before the last ones: "cover", "rear cover"."""
    return bool(one and other) and (one == other or one.endswith(" " + other) or other.endswith(" " + one))


def _place(mark: Placed) -> int:
    return mark.things[-1][0] if mark.things else mark.first
