"""The things of a mark: names of the trade, what pronouns and counts stand for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise

from voicereport.report import Action
from voicereport.statements.acts import Memory, expanded, located, still_off
from voicereport.statements.grammar import grammar
from voicereport.statements.names import OBJECT_WORDS, Name, is_wired, pins_of
from voicereport.statements.placing import Placed
from voicereport.statements.pointing import Pointing
from voicereport.statements.tokens import Sentence, Token, whole_of
from voicereport.statements.values import MOVED
from voicereport.trades.words import Words, singular
from voicereport.wording.numbers import find_numbers

THINGS_OF: dict[Action, str] = {
    "charge": "refrigerant",
    "recover": "refrigerant",
    "evacuate": "sealed system",
    "leak_test": "sealed system",
    "discharge": "capacitor",
    "run_test": "appliance",
}


_SURELY = 0.8  #: the share of the chance from which on a pronoun stands for a fastener
_MANY = frozenset({"remove", "refit", "loosen", "tighten"})
_WORDS = re.compile(r"\w+")
_PLUGS = frozenset({"disconnect", "reconnect"})
_FINNED = frozenset({"adjust", "repair", "clean", "cut"})
_OF_A_REST = frozenset({"the", "rest", "of", "a", "that", "its"})
_FROZEN = frozenset({"frost", "ice", "snow"})
_ORDINALS = frozenset({"first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "last"})


def things_of(
    mark: Placed,
    sentence: Sentence,
    names: tuple[Name, ...],
    words: Words,
    memory: Memory,
    pointing: Pointing | None = None,
) -> list[Name]:
    """What the mark is of: things named in the sentence or before it in its line, or what a pronoun stands for."""
    if mark.mark.action == "other" and _is_whole(mark, sentence, names, words):
        return [Name(part="appliance", kind="part", first=-1, last=-1)]
    mark = _with_noun(mark, names, sentence)
    count = _count(mark, sentence, memory)
    if mark.mark.action in _FINNED and (fins := _fins(mark, sentence, memory, words)) is not None:
        return [fins]
    if (pair := _both_of_them(mark, sentence, names, memory)) is not None:
        return pair
    later = mark.mark.status in {"not_done", "planned"}
    if (carried := _whole_of_it(mark, sentence, names, words, memory)) is not None:
        return [carried]
    if mark.mark.action in _MANY:
        if count is not None:
            mark = _without(mark, sentence, _places())
        rest = mark.mark.status == "planned" and count is None and "other" in _said(mark, sentence) <= _pronouns()
        if rest and memory.things and memory.things[-1].kind == "fastener":
            return [replace(memory.things[-1], count=1.0, plural=False, first=-1, last=-1)]  # "I'll do the other later"
        if later:
            mark = _without(mark, sentence, _pronouns())
        elif _is_place(mark, sentence):
            return _placed_thing(mark, sentence, memory, words, pointing)
        elif count is None and "other" in _said(mark, sentence) <= _pronouns() and _is_single(memory.things[-1:]):
            return [replace(memory.things[-1], first=-1, last=-1)]  # "one screw in, the other in"
        elif count is None and mark.things and not _without(mark, sentence, _pronouns()).things:
            several = _said(mark, sentence) & grammar().words["plural_pronouns"]
            pointed = _pointed(mark, memory, pointing, None if several else 1.0, least=_SURELY, named=True)
            if pointed is not None and pointed.kind == "fastener":
                return [pointed]
    plugs = [n for n in memory.things if n.kind == "connector"] if mark.mark.action in _PLUGS else []
    if plugs and mark.things and "one" in _said(mark, sentence) and _is_place(mark, sentence):
        return [replace(plugs[-1], count=1.0, plural=False, first=-1, last=-1)]  # "left one's on, right one's on"
    found: list[Name] = []
    for first, last in mark.things:
        bare = {t.text for t in sentence.tokens[first:last]} <= grammar().words["fresh_words"]
        if bare and len(mark.things) > 1:
            continue  # "a fresh strip", of which only the adjective was marked
        if _repeats(first, last, mark, sentence, names):
            continue  # "board cover, three screws, and it's off"
        other = len(mark.things) > 1 and [t.text for t in sentence.tokens[first:last]] == ["it"]
        other = other and first > 0 and sentence.tokens[first - 1].text in {"and", "then"}
        how_often = None if other else count  # "three bolts, and it drops": the number is another's
        found += _named(first, last, sentence, names, words, memory, mark.mark.action, how_often)
    found = [n for n in found if n.part == "everything"] or found  # "everything that came off" is one thing
    told_before = [(named_before(text, memory, words), number)
                   for text, number in zip(mark.things_before, mark.numbers_before, strict=True)]  # fmt: skip
    earlier = [n for n, _ in told_before if n is not None]
    earlier = [n for n in earlier if not any(o.part.startswith(f"{n.part} ") for o in earlier)]  # "a strip of foam"
    if not found and not earlier and mark.mark.action in _MANY | _PLUGS and _one_of(mark.things_before):
        those = [n for n in memory.things if n.kind in {"fastener", "connector"}]  # "two on. Third one, stiff. On."
        if those:
            return [replace(those[-1], count=1.0, plural=False, first=-1, last=-1)]
    if not found:
        found = earlier
        if count is None and found:
            count = _number((mark.counts_before[-1:] or mark.numbers_before[:1] or ("",))[0])
            if not mark.counts_before and _is_single_place(mark, sentence):
                count = 1.0  # "hangs on three screws. The bottom one's out"
            many = {"fastener", "connector"}
            found = [replace(n, count=count, plural=n.plural or (count or 1) > 1) if n.kind in many else n
                     for n in found]  # fmt: skip
            return _remembered(found, memory, words)
    else:  # "Two new clips, had some in the tin. Cover's on."
        told = _number(mark.counts_before[-1]) if mark.counts_before else None
        if all(f.kind != "fastener" for f in found):
            numbers = [(n, told if told is not None else _number(before)) for n, before in told_before if n is not None]
            found += [replace(n, count=k, plural=True) for n, k in numbers if n.kind == "fastener" and k is not None]
    if count is None and mark.counts_before and not mark.things:
        count = _number(mark.counts_before[-1])
    found += _joined(mark, found, names, sentence, memory, words)
    named = bool(found)
    if mark.mark.action in {"remove", "refit"}:
        found = [_its_plug(n, sentence, words) for n in found]
    found = [_as_moved(n, memory, words) for n in _apart(found, sentence, mark.mark.action)]
    found = [_by_its_pins(n, mark.mark.action, memory) for n in _without_sorts(found, sentence, words)]
    pinned = mark.mark.action in _MANY and (count is not None or bool(mark.holds))  # "both pins out of the hinge"
    found = [n for n in found if n.part not in words.not_parts or _counts(n, mark.mark.action, words)
             or (pinned and n.kind == "fastener")]  # fmt: skip
    alike = len(found) > 1 and all(n.kind == "fastener" and n.part == found[0].part for n in found)
    if count is not None and alike and len(_numbers(mark, sentence)) > 1:
        # "three short ones along the top and two of the long ones"
        found = [replace(found[0], count=count, plural=count > 1, last=max(n.last for n in found))]
    if found:
        if count is not None:
            fasteners = [k for k, n in enumerate(found) if n.kind == "fastener"]
            numbers_here = _numbers(mark, sentence)
            said = [n for _, _, n in numbers_here]
            summed = len(said) == 2 and len(found) == 1
            summed = summed and _is_of_another_place(numbers_here[0][1], numbers_here[1], sentence)
            if (len(said) > 1 and said[-1] == count and len(fasteners) == 1) or (summed and fasteners):
                # "two on each rail, so four out"
                found[fasteners[0]] = replace(found[fasteners[0]], count=count)
            else:
                _counted(mark, found, count, names, several=len(said) > 1)
        memory.things = [*memory.things[-8:], *found]
        return found
    action = mark.mark.action
    if named and action not in {"isolate", "restore_power"} and action not in THINGS_OF:
        whole = whole_of(sentence)
        begins = min([mark.last, *(last for _, last in mark.things)])  # "the dust on the compressor I brushed off"
        where = (
            n for n in names if n.first >= begins and located(whole, n) and n.known and n.part not in words.not_parts
        )
        if action in {"thaw", "clean", "adjust", "repair"} and (iced := _finned(sentence, memory, words)):
            return [Name(part=iced, kind="part", first=-1, last=-1)]
        located_at = [completed(n, memory, words) for n in where][:1]  # a window is no part of the appliance
        frosted = action == "thaw" and {t.text for t in sentence.tokens} & _FROZEN  # not "steamed down the hole"
        return located_at or ([_iced(memory, words)] if frosted else [])
    if action in {"isolate", "restore_power"} or action in THINGS_OF:
        return [Name(part="", kind="part", first=mark.first, last=mark.last)]
    after = [t.text for t in sentence.tokens[mark.last : mark.last + 2]]
    if (
        mark.last
        and (count is None or action not in _MANY | _PLUGS)
        and not sentence.tokens[mark.last - 1].mark
        and set(after[:1]) & {"the", "a", "an", "my", "his", "her", "their", "your"}
    ):
        if action in {"thaw", "clean"} and (iced := _finned(sentence, memory, words)):
            return [Name(part=iced, kind="part", first=-1, last=-1)]
        return []  # something is named that is no thing of the appliance: "opened the window"
    own = next((n for n in names if n.kind == "fastener" and mark.first <= n.first and n.last <= mark.last), None)
    if own is not None and action in {*_MANY, "replace"}:  # "new pump in, three screws": the noun itself is the act
        return [replace(own, count=own.count if own.count is not None else count)]
    if mark.holds and not mark.things and count is not None and action in _MANY:
        kind = next((n.part for n in reversed(memory.things) if n.kind == "fastener"), "screw")
        return [
            Name(part=kind, kind="fastener", first=-1, last=-1, count=count, plural=count > 1)
        ]  # "the two that hold it"
    if _of_one(mark, sentence):
        count = None  # "three screws, and it's off": the number is another's
    so_far = [t.text for t in sentence.tokens[: mark.first]]
    which = set(so_far) & _ORDINALS or grammar().patterns["spoiled"].search(" ".join(so_far))
    if later and action in {"remove", "refit"} and which:
        held = [n for n in memory.things if n.kind == "fastener"]  # "third one, hole's stripped, left out"
        if held:
            return [replace(held[-1], count=1.0, plural=False, first=-1, last=-1)]
    if (count is not None or later) and action in _MANY:
        planned = mark.mark.status == "planned" and count is None  # "we'll pull it"
        pointed = _pointed(mark, memory, pointing, count if count is not None else 1.0, named=planned)
        unheard = count is None and not any(a.kind == "fastener" for a in memory.acts)
        if pointed is not None and (count is not None or pointed.kind == "fastener"):
            return [] if unheard and pointed.kind == "fastener" else [pointed]
    unsaid = _from_memory(memory, words, action, count, plural=count is not None and count > 1)
    return [_iced(memory, words)] if action == "thaw" and _carries_current(unsaid, words) else unsaid


def _iced(memory: Memory, words: Words) -> Name:
    """What ice is cleared from where nothing else is named: "steamed all that ice off"."""
    return Name(part=_with_fins(memory, words) or "", kind="part", first=-1, last=-1)


def _carries_current(things: Sequence[Name], words: Words) -> bool:
    """Whether what a word stands for is screwed in or live, so that it is not what was thawed."""
    powered = grammar().words["powered"] | {"fan"}
    return any(n.kind in {"fastener", "connector"} or words.classes_of(n.part) & powered for n in things)


def _whole_of_it(mark: Placed, sentence: Sentence, names: Sequence[Name], words: Words, memory: Memory) -> Name | None:
    """The part that "it" is, after several of its fasteners or its plug: "undid its two screws and lifted it off".

    Of a part that the fasteners stand beside ("the two screws on the ice maker, and it's down"), else of the one that
    the sentence spoke of before them. None where one of the fasteners may be meant, or no part was named.
    """
    single = grammar().words["single_pronouns"] - {"one", "that", "this"}
    light = grammar().words["carried"]
    texts = [t.text for t in sentence.tokens]
    inside = {t for t in texts[mark.first : mark.last + 1] if t in single}
    said = _said(mark, sentence) or inside or set([t for t in texts[: mark.first] if t not in light][-1:])
    if (
        mark.mark.action not in {"remove", "refit"}
        or mark.counts
        or mark.mark.status not in MOVED
        or not said <= single
    ):
        return None
    place = min([mark.first, *(f for f, _ in mark.things)])
    before = [n for n in names if n.last <= place and n.known]
    held = [k for k, n in enumerate(before) if n.kind in {"fastener", "connector"}]
    if not held:
        return None
    last = before[held[-1]]
    since = texts[last.last : place]
    if {"one", "ones", *_ORDINALS} & set(since) or (last.kind == "fastener" and find_numbers(since)):
        return None
    whole = whole_of(sentence)
    can = [n for n in before if n.kind in {"part", "tube"} and n.part not in words.not_parts | words.appliances]
    own = [n for n in can if n.first >= last.last] if last.kind == "fastener" else []
    subjects = [n for n in can if n.last <= last.first and not located(whole, n)]
    chosen = next(iter(own), None) or next(reversed(subjects), None)
    return replace(completed(chosen, memory, words), first=-1, last=-1) if chosen is not None else None


def _with_noun(mark: Placed, names: Sequence[Name], sentence: Sentence) -> Placed:
    """A mark whose thing is an ordinal with the noun after it: "the third drawer is split, I have left it out"."""

    def whole(thing: tuple[int, int]) -> tuple[int, int]:
        said = [t.text for t in sentence.tokens[thing[0] : thing[1]]]
        noun = next((n for n in names if n.first <= thing[1] < n.last and n.kind == "part"), None)
        return (thing[0], noun.last) if noun is not None and said[-1:] and said[-1] in _ORDINALS else thing

    return replace(mark, things=tuple(whole(thing) for thing in mark.things))


def _both_of_them(mark: Placed, sentence: Sentence, names: Sequence[Name], memory: Memory) -> list[Name] | None:
    """The two parts that were named last, one by one, where "the pair of them" is said; None where it is not.

    "Relay beside the overload." "Pulled the pair of them off." Where fasteners were named since, it is of those.
    """
    near = [t.text for t in sentence.tokens[max(0, mark.first) : mark.last + 6]]
    said = {t for f, e in (*mark.things, *mark.counts) for t in (x.text for x in sentence.tokens[f:e])}
    several = {"them", "’em", "those", "these"} & said and "of" in near
    if not {"pair", "both"} & said or not (several or (len(mark.things_before) > 1 and not mark.things)):
        return None
    before = [n for n in names if n.last <= mark.first and n.known]
    last = [m for m in memory.mentions if m.number == memory.mentions[-1].number]
    pair = _pair(before if len(before) > 1 else [m.name for m in last])
    if len(pair) < 2 or any(n.kind not in {"part", "connector"} for n in pair) or pair[0].kind != pair[1].kind:
        return None
    memory.things = [*memory.things[-8:], *pair]
    return pair


def one_of_several(sentence: Sentence, place: int, memory: Memory) -> str | None:
    """Which of the things that head the line a sentence speaks of by its side: "Hinges. Top, two off".

    place: the last token that is looked at.
    """
    line, part = memory.several
    if not part or line != sentence.segment.id:
        return None
    sides = grammar().words["sides"]
    texts = [t.text for t in sentence.tokens[: place + 1]]
    side = next((w for w in reversed(texts) if w in sides), None)
    return f"{side} {part}" if side is not None else None


def _one_of(told: Sequence[str]) -> bool:
    """Whether what a mark names in a sentence before is one of several: "third one"."""
    words = told[-1].split() if told else []
    return bool(words) and words[-1].strip(".,") == "one" and bool(set(words) & (_ORDINALS | {"other"}))


def _is_single_place(mark: Placed, sentence: Sentence) -> bool:
    """Whether the act is said of one by its place: "the bottom one came out"."""
    texts = [t.text for t in sentence.tokens[: mark.first]]
    while texts and texts[-1] in {"’s", "is", "was", "’ve", "i", "also"}:
        texts.pop()
    where = _places() - grammar().words["articles"] - {"one", "ones"}  # "the last one's out": all of them are
    return texts[-1:] == ["one"] and set(texts[-2:-1]) <= where


def _is_single(things: Sequence[Name]) -> bool:
    return bool(things) and things[0].kind == "fastener" and things[0].count == 1


def _pointed(
    mark: Placed,
    memory: Memory,
    pointing: Pointing | None,
    count: float | None,
    *,
    least: float = 0.5,
    named: bool = False,
) -> Name | None:
    """What a number or a pronoun is pointed at as: fasteners, or another thing; None where nothing is pointed at.

    least: the share of the chance, 0..1, that fasteners have to have. named: only those that somebody named.
    """
    told = pointing.meant(mark.mark) if pointing is not None else None
    if told is None:
        return None
    shares: dict[Name, float] = {}
    for name, share in told.named(memory.mentions):
        shares[name] = shares.get(name, 0.0) + share
    screwed = {n: s for n, s in shares.items() if n.kind == "fastener"}
    fasteners = sum(screwed.values()) + (0.0 if named else told.unnamed)
    plural = count is None or count > 1
    if fasteners > least * (told.unnamed + sum(shares.values())):
        best = max(screwed, key=screwed.__getitem__, default=None)
        called = best is not None and screwed[best] > told.unnamed
        kind = best.part.split()[-1] if best is not None and called else _usual(memory, mark.mark.action)
        return Name(part=kind, kind="fastener", first=-1, last=-1, count=count, plural=plural)
    many = {n: s for n, s in shares.items() if count is None or count < 2 or n.plural or n.kind != "part"}
    other = max(many, key=many.__getitem__, default=None)
    return replace(other, count=count, plural=plural, first=-1, last=-1) if other is not None else None


def _placed_thing(
    mark: Placed, sentence: Sentence, memory: Memory, words: Words, pointing: Pointing | None
) -> list[Name]:
    """What is only called by its place: "the bottom one's out", "front's off"."""
    first, last = mark.things[-1]
    said = [t.text for t in sentence.tokens[first:last] if t.text not in grammar().words["articles"]]
    several = said[-1:] == ["ones"]
    if said and said[-1] != "one" and not several and said[-1] in grammar().words["panels"]:
        called = {said[-1], "rear"} if said[-1] == "back" else {said[-1]}
        known = (p for p in reversed(memory.named[-60:])
                 if (words.closes(p) and p.split()[0] in called) or _ends_in(p, said[-1], words))  # fmt: skip
        part = next(known, f"{said[-1]} panel")
        return [Name(part=part, kind=words.kind_of(part), first=first, last=last)]
    if said[-1:] == ["one"] and (sided := one_of_several(sentence, last - 1, memory)) is not None:
        return [Name(part=sided, kind="part", first=first, last=last)]
    pointed = _pointed(mark, memory, pointing, None if several else 1.0)
    if pointed is None:
        return []
    return [pointed if pointed.kind == "fastener" else replace(pointed, count=None)]


def _ends_in(part: str, side: str, words: Words) -> bool:
    """Whether a part is called by its own side: "the drawer front", of which "the front" is short."""
    told = part.split()
    return len(told) > 1 and told[-1] == side and not set(told) & words.appliances


def _is_place(mark: Placed, sentence: Sentence) -> bool:
    """Whether all that is marked as the thing says where: "the bottom one", "front"."""
    said = _said(mark, sentence)
    return bool(said - grammar().words["articles"] - {"one", "ones"}) and said <= _places()


def _said(mark: Placed, sentence: Sentence) -> set[str]:
    """The words of all things of a mark."""
    return {t.text for f, e in mark.things for t in sentence.tokens[f:e]}


def _without(mark: Placed, sentence: Sentence, empty: frozenset[str]) -> Placed:
    """Without the things that are told in `empty` words alone: what is meant is looked for as if nothing was said."""
    kept = tuple((f, e) for f, e in mark.things if not {t.text for t in sentence.tokens[f:e]} <= empty)
    return replace(mark, things=kept)


@cache
def _places() -> frozenset[str]:
    """Words that only say where: "top, one in", of which "top" was marked as the thing."""
    lists = grammar().words
    return lists["implied_where"] | lists["sides"] | lists["articles"] | lists["panels"] | {"one", "ones"}


@cache
def _sorting() -> frozenset[str]:
    """Words before a connector's noun that say of what sort it is, and not whose."""
    lists = grammar().words
    return lists["articles"] | lists["sizes"] | lists["colours"] | lists["lead"]


@cache
def _pronouns() -> frozenset[str]:
    """Words of which a thing that is only a pronoun consists: "the other one"."""
    return grammar().words["single_pronouns"] | {"other", "the"}


def _is_whole(mark: Placed, sentence: Sentence, names: Sequence[Name], words: Words) -> bool:
    """True where an act that has no name of its own names nothing, or the appliance: "rolled her out"."""
    inside = [n for f, e in mark.things for n in names if n.first < e and f < n.last]
    said = _said(mark, sentence)
    return all(n.part in words.appliances for n in inside) and (bool(inside) or said <= grammar().words["whole"])


def _counts(name: Name, action: Action, words: Words) -> bool:
    """True of what is no part and yet counts: all of it, what is measured, a lamp that is unplugged."""
    if name.part == "everything" or action in THINGS_OF or action == "measure":
        return True
    if action in {"open", "close"}:  # the water
        return any(name.part in s.words for s in words.supplies)
    return action in _PLUGS and name.part in grammar().words["unplugged_lamps"]


def _without_sorts(found: list[Name], sentence: Sentence, words: Words) -> list[Name]:
    """Without what only says of what sort another thing is: "unplugged it, two pin connector"."""
    others = [n for n in found if pins_of(n.part) is None]
    sorts = [n for n in found if pins_of(n.part) is not None]
    if len(others) == len(sorts) == 1 and sorts[0].first >= 1:
        before = sentence.tokens[sorts[0].first - 1]
        return others if before.mark == "," and before.text not in grammar().words["articles"] else found
    if len(found) == 2 and found[0].kind == "connector" and _is_sort(found[0], found[1], sentence, words):
        return found[:1]
    return found


def _is_sort(thing: Name, other: Name, sentence: Sentence, words: Words) -> bool:
    """True where the other name follows a connector's after a comma and names no owner: "the earth, one flat plug"."""
    between = sentence.tokens[thing.last : other.first]
    if not 0 < thing.last <= other.first or sentence.tokens[thing.last - 1].mark != ",":
        return False
    sets = grammar().words
    light = _sorting() | {"that", "this", "one", "just"}
    *sort, noun = other.part.split()
    generic = noun in sets["colours"] or (other.kind == "connector" and not any((w,) in words.heads for w in sort))
    return generic and all(t.text in light and not t.mark for t in between)


def _by_its_pins(name: Name, action: Action, memory: Memory) -> Name:
    """The connector that was said to be of that sort: "four pin's in", after "unplugged the fan, it's a four pin"."""
    meant_ = memory.sorts.get(pins_of(name.part) or "") if action == "reconnect" else None
    return replace(name, part=meant_) if meant_ is not None else name


def _repeats(first: int, last: int, mark: Placed, sentence: Sentence, names: Sequence[Name]) -> bool:
    """True of a pronoun where the mark names a part before it in the same sentence: it is that."""
    if not {t.text for t in sentence.tokens[first:last]} <= grammar().words["single_pronouns"]:
        return False
    parts = [n for n in names if n.known and n.kind != "fastener" and n.last <= first]
    return any(n.first < e and f < n.last for n in parts for f, e in mark.things)


def _of_one(mark: Placed, sentence: Sentence) -> bool:
    """True where the act is said of "it", marked or straight before its words."""
    single, small = (
        grammar().words["single_pronouns"],
        {"’s", "is", "was", "’ve", "now", "just", "all", "came", "comes"},
    )
    said = [t.text for first, last in mark.things for t in sentence.tokens[first:last]]
    if not said:
        if any(e == mark.first for _, e in mark.counts):
            return False  # "all four in"
        said = [t.text for t in sentence.tokens[: mark.first] if t.text not in small][-1:]
    return bool(said) and set(said) <= single


def _remembered(found: list[Name], memory: Memory, words: Words) -> list[Name]:
    """Things of a sentence before, as they were moved; those that are no part of the appliance are left out."""
    kept = [_as_moved(n, memory, words) for n in found]
    kept = [n for n in kept if n.part not in words.not_parts or n.part == "everything"]
    memory.things = [*memory.things[-8:], *kept]
    return kept


def _number(text: str) -> float | None:
    """How many some words say, up to 60."""
    return how_many(text.split(), 60)


def how_many(told: Sequence[str], most: float) -> float | None:
    """The last whole number of some words, no ordinal and no more than `most`; two for "both" and "pair"."""
    number = whole_number(told, most)
    return 2.0 if number is None and set(told) & {"both", "couple", "pair"} else number


def whole_number(told: Sequence[str], most: float) -> float | None:
    """The last whole number of some words, no ordinal, over nought and no more than `most`."""
    numbers = [n.value for n in find_numbers(told) if n.style != "ordinal" and 0 < n.value <= most]
    return next((value for value in reversed(numbers) if value == int(value)), None)


def _its_plug(name: Name, sentence: Sentence, words: Words) -> Name:
    """The plug of a part in a line that is headed with plugs alone: "Plugs. Fan, on. Heater, on"."""
    noun = _heading(sentence)
    if name.kind != "part" or not noun or words.kind_of(noun) != "connector":
        return name
    if "electrical" not in words.classes_of(name.part):
        return name
    return replace(name, part=f"{name.part.removesuffix(' motor')} {noun}", kind="connector", bare=False)


def _heading(sentence: Sentence) -> str:
    """The singular of the one plural word that heads the sentences up to this one in its line: "Plugs."; else empty."""
    said = [w.word.lower() for w in sentence.segment.words[: sentence.first]]
    ends = [-1, *(n for n, w in enumerate(said) if w[-1:] in {".", ":", "?", "!"})]
    alone = [said[n].strip(".:") for before, n in pairwise(ends) if n == before + 1]
    heads = [w for w in alone if w.isalpha() and singular(w) != w]
    return singular(heads[-1]) if heads else ""


def _as_moved(name: Name, memory: Memory, words: Words) -> Name:
    """A word that names no part by itself stands for the part of that word that was moved before: "bucket's in"."""
    if name.part not in words.not_parts or name.part == "everything":
        return name
    for act in reversed(memory.acts[-60:]):
        if act.part.endswith(" " + name.part) and act.kind in {"part", "seal", "tube"} and act.status == "done":
            return replace(name, part=act.part, kind=act.kind, bare=False, known=True)
    for part in reversed(memory.named[-12:]):
        if part.endswith(" " + name.part):
            return replace(name, part=part, bare=False, known=True)
    return name


def named_before(text: str, memory: Memory, words: Words) -> Name | None:
    """The thing that was called `text` in a sentence before; None where that is no name."""
    form = [w.strip(".,;:!?") for w in text.split()]
    form = [
        w for w in form if w and w not in grammar().words["lead"] and w not in OBJECT_WORDS and not find_numbers([w])
    ]
    if not form:
        return None
    form = _turned(form)
    plural = singular(form[-1]) != form[-1]
    form[-1] = singular(form[-1])
    thing = words.thing(form)
    if thing is None:
        return None
    part = thing.name if thing.name and tuple(form) in words.parts else " ".join(form)
    name = Name(part=part, kind=thing.kind, first=-1, last=-1, plural=plural, bare=len(form) == 1)
    return completed(name, memory, words)


def _fins(mark: Placed, sentence: Sentence, memory: Memory, words: Words) -> Name | None:
    """What has the fins that an act is of, as "them", too: "some fins were bent, so I combed them straight"."""
    said, lists = _said(mark, sentence), grammar().words
    verb = {t.text for t in sentence.tokens[mark.first : mark.last]}
    spoken = {singular(w.word.strip(".,;:!?").lower()) for w in sentence.segment.words[: sentence.last]}
    said = said or {t.text for t in sentence.tokens[mark.last : mark.last + 1]}
    if "fin" not in spoken or not (verb & lists["combs"] or said & {"fins", "fin"}):
        return None
    if not said <= lists["plural_pronouns"] | {"fins", "fin", "bent", "ones", "few", *lists["articles"]}:
        return None
    iced = _with_fins(memory, words)
    return Name(part=iced, kind="part", first=-1, last=-1) if iced else None


def _finned(sentence: Sentence, memory: Memory, words: Words) -> str | None:
    """What has fins, of which frost and ice are cleared: the last one spoken of, else the trade's first."""
    texts = {singular(t.text) for t in sentence.tokens}
    if not texts & (_FROZEN | {"fin", "lint", "dust"}):
        return None
    return _with_fins(memory, words, least="fin" in texts)


def _with_fins(memory: Memory, words: Words, *, least: bool = True) -> str | None:
    """What has fins: the last one spoken of, else, with `least`, the trade's first."""
    spoken = [*memory.named[-20:], *(n.part for n in memory.things)]
    told = next(
        (n for n in reversed(spoken) if "fins" in words.classes_of(n) and "cover" not in words.classes_of(n)), None
    )
    first = next((" ".join(key) for key, thing in words.heads.items() if "fins" in thing.classes), None)
    return told or (first if least else None)


def _apart(found: list[Name], sentence: Sentence, action: Action) -> list[Name]:
    """Without what only says where, after a thing that something is done to: "the tape along the edge of the cover"."""
    whole = whole_of(sentence)
    if len(found) < 2 or found[0].first < 0:
        return found
    return [
        n
        for k, n in enumerate(found)
        if not (k and n.first > found[0].first and located(whole, n)) or _seats(n, sentence, action)
    ]


def _seats(name: Name, sentence: Sentence, action: Action) -> bool:
    """Whether a thing goes on or comes off by its own fasteners: "it's sat on its four bolts", "off its two screws".

    What it is only pushed on or hung from, pins and clips, may have been there all the time.
    """
    sets = grammar().words
    if name.kind != "fastener" or name.count is None or name.part.split()[-1] in sets["pegs"] | sets["gripping"]:
        return False
    own = sets["possessives"] | {"same"}
    small = own | sets["articles"] | sets["lead"] | {"all", "both"}
    texts = [t.text for t in sentence.tokens[: name.last - 1]]
    lead: list[str] = []
    while texts and (texts[-1] in small or find_numbers(texts[-1:])):
        lead.append(texts.pop())
    where = sets["seats_in"] if action in {"refit", "replace"} else sets["seats_out"] if action == "remove" else ()
    return bool(own & set(lead)) and bool(texts) and texts[-1] in where


def _joined(
    mark: Placed, found: Sequence[Name], names: Sequence[Name], sentence: Sentence, memory: Memory, words: Words
) -> list[Name]:
    """A part joined to the fasteners before it, "two screws and the motor's out", and one connector to another."""
    if found and mark.things and all(n.kind == "connector" for n in found):
        return _also(mark.things[-1][1], names, sentence)
    if not found or any(n.kind != "fastener" for n in found) or not mark.things:
        return []
    end = mark.things[-1][1]
    out = []
    for name in names:
        if end <= name.first and name.last <= mark.first and name.kind != "fastener" and name.known:
            between = {t.text for t in sentence.tokens[end : name.first]}
            if between and between <= {"and", "the", "so", "my", "that", "old", "then", ","} and "and" in between:
                out.append(completed(name, memory, words))
    return out


def _also(end: int, names: Sequence[Name], sentence: Sentence) -> list[Name]:
    """The connectors joined to one that ends at token `end`: "the two pin plug and the six pin plug"."""
    out = []
    for name in names:
        between = sentence.tokens[end : name.first]
        comma = end > 0 and sentence.tokens[end - 1].mark == ","
        start = 0 if comma else _goes_on(between)
        if name.kind != "connector" or name.first < end or start is None:
            continue
        where, rest = [t.text for t in between[:start]], {t.text for t in between[start:]}
        if rest <= grammar().words["joining"] and (not where or where[0] in {"from", "off", "of", "on"}):
            out.append(name)
            end = name.last
    return out


def _goes_on(tokens: Sequence[Token]) -> int | None:
    """Where a list goes on, after what only says where ("from the board and ..."); None where it does not."""
    if [t.text for t in tokens[:3]] == ["as", "well", "as"]:
        return 0
    joint = next((n for n, t in enumerate(tokens) if t.text == "and"), None)
    return joint if joint is not None else next((n + 1 for n, t in enumerate(tokens) if t.mark == ","), None)


def _counted(mark: Placed, found: list[Name], count: float, names: Sequence[Name], *, several: bool) -> None:
    """Gives the count to the thing that it stands before, or to the thing that can be many."""
    if several and sum(n.count is not None for n in found) >= 1:
        return  # "both clips, four screws": each has its own
    end = mark.counts[-1][1]
    owner = next((n for n in names if n.first <= end < n.last or n.first == end or (n.first < end <= n.last)), None)
    for k, name in enumerate(found):
        if owner is not None and name.first < owner.last and owner.first < name.last:
            found[k] = replace(name, count=count)
            return
    if owner is not None and owner.kind == "fastener":
        return  # the fastener is counted for itself
    best = next((k for k, n in enumerate(found) if n.kind == "fastener"), None)
    best = (
        best
        if best is not None
        else next((k for k, n in enumerate(found) if n.plural or n.kind in {"connector", "tube"}), None)
    )
    if best is None and count == 1:
        best = 0
    if best is not None:
        found[best] = replace(found[best], count=count)


def _count(mark: Placed, sentence: Sentence, memory: Memory) -> float | None:
    """How many the counts of a mark come to: "two at the front and two at the back" are four."""
    told = _numbers(mark, sentence)
    after = [(words, n) for words, count in mark.counts_after if (n := _number(count)) is not None]
    if told and after and mark.mark.action in _MANY:
        so_far = sum(n for _, _, n in told)
        mine = {singular(t.text) for f, e in mark.things for t in sentence.tokens[f:e]}
        for words, n in after:
            if {singular(w) for w in _WORDS.findall(words)} & grammar().words["screwed"] - mine:
                break  # "all four washers, then the nuts, one, two, three"
            if set(_WORDS.findall(words)) & grammar().words["sums"] and n != so_far:
                break  # a total of this line, or of several
            found_again = n == so_far + 1 and not grammar().words["looking"].isdisjoint(_WORDS.findall(words))
            anew = n == so_far or found_again or grammar().patterns["recount"].search(words) is not None
            so_far = n if anew else so_far + n
        return so_far
    if told and _is_total(told[-1][1], sentence):  # "two more, nine in all", "that is also out, four together"
        last, others = told[-1][2], sum(n for _, _, n in told[:-1])
        goes_on = bool(memory.acts) and memory.acts[-1].kind == "fastener"  # no part was moved since
        moved = _moved_before(mark, memory) if goes_on else 0.0
        return others or (last - moved if 0 < moved < last else last)
    if len(told) < 2:
        return told[0][2] if told else None
    numbers = [n for _, _, n in told]
    last = numbers[-1]
    if len(told) == 2 and last == numbers[0] and all(_is_placed(e, sentence) for _, e, _ in told):
        return 2 * last  # "two left and two right"
    if last > sum(numbers[:-1]) and _moved_before(mark, memory) + sum(numbers[:-1]) == last:
        return sum(numbers[:-1])  # "a couple, out. Eight in the lid."
    between = " ".join(t.text for t in sentence.tokens[told[0][1] : told[-1][0]])
    lead = [t.text for t in sentence.tokens[max(0, told[-1][0] - 2) : told[-1][0]]]
    total_words = grammar().words["said_again"] | grammar().words["sums"]
    if len(told) == 2 and not total_words & set(lead[-1:]) and _is_of_another_place(told[0][1], told[1], sentence):
        return sum(numbers)  # "two screws in the front and two at the back"
    again = not grammar().words["said_again"].isdisjoint(lead)
    if again and "the" in lead:  # "the bottom five, then the four" are nine
        again = last in numbers[:-1] or last > sum(numbers[:-1])
    summed = again or lead == ["that", "’s"]
    summed = summed or not (grammar().words["sums"] - {"that", "this"}).isdisjoint(lead[-1:])
    if summed and _moved_before(mark, memory) + sum(numbers[:-1]) == last:
        return sum(numbers[:-1])  # "the other four are in, so total eight"
    if last == sum(numbers[:-1]) or summed or grammar().patterns["recount"].search(between):
        return last
    before = " ".join(t.text for t in sentence.tokens[: told[0][0]])
    told_of = grammar().patterns["describes"].search(before)
    if told_of and not find_numbers(before[told_of.end() :].split()) and sum(numbers[1:]) <= numbers[0]:
        return sum(numbers[1:])  # "has eight screws, I've got six out"
    return sum(numbers)


def _is_of_another_place(first: int, second: tuple[int, int, float], sentence: Sentence) -> bool:
    """Whether two counts are told apart by their places alone: "two screws in the front and one in the back".

    first: the token after the first count. second: the tokens and the number of the other one.
    """
    lists = grammar().words
    places = lists["implied_where"] | lists["placed_at"] | lists["sides"] | lists["panels"]
    at = lists["numbered_beside"] | {"on"}
    between = [t.text for t in sentence.tokens[first : second[0]]]
    after = [t.text for t in sentence.tokens[second[1] : second[1] + 3]]
    joined = between[-1:] in (["and"], ["plus"]) or bool(sentence.tokens[second[0] - 1].mark)
    joined = joined and not places.isdisjoint(between)
    rest = set(between) - places - at - lists["articles"] - {"and", "plus"}
    if between[-1:] in (["and"], ["plus"]) and "ones" in after[1:]:
        return True  # "two small screws and three big ones"
    where = bool(set(after[:1]) & places) or (bool(set(after[:1]) & at) and not places.isdisjoint(after))
    return joined and where and all(singular(w) in lists["screwed"] for w in rest)


def _is_total(last: int, sentence: Sentence) -> bool:
    """Whether a number that ends before token `last` is said to be that of all: "nine total", "four in all"."""
    after = [t.text for t in sentence.tokens[last : last + 2]]
    lists = grammar().words
    return bool(set(after[:1]) & lists["in_total"]) or " ".join(after) in lists["in_total"]


def _is_placed(last: int, sentence: Sentence) -> bool:
    """Whether a word of place follows a number that ends before token `last`: "two left"."""
    return bool({t.text for t in sentence.tokens[last : last + 1]} & grammar().words["sides"])


def _moved_before(mark: Placed, memory: Memory) -> float:
    """How many fasteners the acts before moved last, of one thing and the mark's way."""
    last = next((a for a in reversed(memory.acts) if a.kind == "fastener" and a.status in {"done", "narrated"}), None)
    if last is None or last.action != mark.mark.action:
        return 0.0
    return sum(a.count or 0 for a in memory.acts if (a.action, a.part, a.holds) == (last.action, last.part, last.holds))


def _numbers(mark: Placed, sentence: Sentence) -> list[tuple[int, int, float]]:
    """The counts of a mark that say how many moved: first and last token, and the number."""
    told = [(f, e, n) for f, e in mark.counts if (n := _count_of(f, e, sentence)) is not None]
    told = [c for k, c in enumerate(told) if not (k and _of_how_many(c[0], sentence))]
    if mark.counts_before and len(told) == 1 and _is_total(told[0][1], sentence):
        return []  # "lip, two more. Nine total"
    return [c for c in told if not _left_over(c[1], sentence)] or told[:1]


def _left_over(last: int, sentence: Sentence) -> bool:
    """True of a number of those that went nowhere: "one screw left over", "two short"."""
    after = " ".join(t.text for t in sentence.tokens[last : last + 4])
    return grammar().patterns["left_over"].match(after) is not None


def _of_how_many(first: int, sentence: Sentence) -> bool:
    """True of a number that says how many there are in all: "three of the six", "two more, that's eight"."""
    before = " ".join(t.text for t in sentence.tokens[max(0, first - 4) : first])
    return grammar().patterns["in_all"].search(before) is not None


def _count_of(first: int, last: int, sentence: Sentence) -> float | None:
    texts = [t.text for t in sentence.tokens[first:last]]
    if any(t.text in grammar().words["sorts"] for t in sentence.tokens[last - 1 : last + 1]):
        return None  # "two pin connector"
    if is_wired(sentence.tokens, last - 1, len(sentence.tokens)):
        return None  # "four wire plug"
    if "dozen" in texts:
        return 6.0 if "half" in texts else 12.0
    spoken = [t.text + t.mark for t in sentence.tokens[first:last]]  # "no, three, three" is no thirty three
    numbers = [n for n in find_numbers(spoken) if n.value == int(n.value) and 0 < n.value <= 99]
    again = [n for n in find_numbers(texts[-1:]) if n.value == int(n.value) and 0 < n.value < 20]
    if again and len(texts) > 1 and texts[-2] == texts[-1]:  # "three, three": said again
        return again[0].value
    if numbers:
        return 1.0 if numbers[-1].style == "ordinal" else numbers[-1].value
    if set(texts) & {"both", "couple", "pair"}:
        return 2.0
    return 1.0 if texts and texts[-1] in {"a", "an"} else None


def _named(
    first: int,
    last: int,
    sentence: Sentence,
    names: tuple[Name, ...],
    words: Words,
    memory: Memory,
    action: Action,
    count: float | None,
) -> list[Name]:
    texts = [t.text for t in sentence.tokens[first:last]]
    sets = grammar().words
    if set(texts) & sets["portions"] and (whole := _rest_of(first, last, sentence, names)) is not None:
        return [meant(whole, action, memory, words)]
    if set(texts) & {"everything", "rest"} or " ".join(texts) in {
        "the lot",
        "the whole lot",
        "it all",
        "all of it",
        "all",
    }:
        return [Name(part="everything", kind="part", first=first, last=last, plural=True)]
    inside = [n for n in names if n.first < last and first < n.last]
    if "and" in texts and len(inside) > 1:  # two things marked as one
        return [meant(n, action, memory, words) for n in inside]
    for name in inside:
        if name.last >= last or name.last - name.first >= last - first:
            if (owner := _owner_of(name, first, sentence)) is not None:
                return [replace(name, part=f"{owner} {name.part}", bare=False)]
            return [meant(name, action, memory, words)]
    lead = set(sets["lead"]) | {
        "the",
        "a",
        "an",
        "both",
        "all",
        "new",
        "old",
        "these",
        "those",
        "them",
        "it",
        "that",
        "this",
        "one",
        "ones",
        "other",
        "same",
        "they",
        "and",
        "there",
        "which",
        *sets["whole"],
        "’s",
    }
    core = [t for t in texts if t not in lead and not t[:1].isdigit()]
    core = [t for t in core if not find_numbers([t]) and t not in _ORDINALS and t != "what"]
    if (not core and set(texts) & _ORDINALS) or (
        not core and texts[-1:] == ["one"] and first and sentence.tokens[first - 1].text in _ORDINALS
    ):
        held = [n for n in memory.things if n.kind in {"fastener", "connector"}]
        if held:
            return [replace(held[-1], count=1.0, plural=False, first=-1, last=-1)]
    if not core and "rest of" in sentence.text:
        return [Name(part="everything", kind="part", first=first, last=last, plural=True)]
    if not core and action in THINGS_OF:
        return [Name(part="", kind="part", first=first, last=last)]
    if not core:
        if count is None and texts[-1:] == ["one"] and not set(texts) & {"new", "old", "replacement"}:
            count = 1.0  # "pushed one on": not all that came off
        if texts[-1:] == ["one"] and (sided := one_of_several(sentence, last - 1, memory)) is not None:
            return [Name(part=sided, kind="part", first=first, last=last)]
        plural = bool(set(texts) & (sets["plural_pronouns"] | {"both", "all", "ones"})) or (count or 0) > 1
        return _from_memory(memory, words, action, count, plural=plural, said=bool(set(texts) & {"them", "they"}))
    form = _turned([*core[:-1], singular(core[-1])])
    thing = words.thing([singular(t) for t in form])
    fasteners = [n for n in memory.things[-6:] if n.kind == "fastener"]
    if thing is None and fasteners and texts[-1] in {"one", "ones"} and set(core) <= sets["sizes"]:
        one = texts[-1] == "one" and count is None  # "a fatter one where I drilled"
        return [replace(fasteners[-1], count=1.0 if one else count, plural=not one, first=-1, last=-1)]
    if action in _PLUGS and set(form) <= sets["colours"] and (wire := _coloured(form[-1], memory)) is not None:
        return [replace(wire, first=first, last=last)]
    if thing is None and texts[-1:] == ["one"]:  # "put the new style one in"
        colours = [w for w in form if w in sets["colours"]]
        if action in _PLUGS | _MANY and colours and (sort := _coloured(" ".join(colours), memory)) is not None:
            return [replace(sort, first=first, last=last)]
        if not set(form) <= sets["sides"] | _places():
            return _from_memory(memory, words, action, None, plural=False)
    part = thing.name if thing and thing.name and tuple(form) in words.parts else " ".join(form)
    return [
        Name(
            part=part,
            kind=thing.kind if thing else "part",
            first=first,
            last=last,
            plural=form[-1] != core[-1],
            new=bool(set(texts) & {"new", "replacement", "fresh"}),
            bare=len(form) == 1,
            known=thing is not None,
        )
    ]


def _rest_of(first: int, last: int, sentence: Sentence, names: Sequence[Name]) -> Name | None:
    """The one thing that the rest is of: "steamed the rest of the coil" is of the coil, and not of everything."""
    tokens = [t.text for t in sentence.tokens]
    for name in names:
        between = tokens[first : name.first]
        near = between[-1:] == ["of"] or (name.first < last + 3 and between[-2:-1] == ["of"])
        light = _OF_A_REST | grammar().words["portions"] | grammar().words["lead"]
        if near and first < name.first and not name.plural and name.kind in {"part", "tube"} and name.known:
            return name if set(between[:-1]) <= light else None
    return None


def _turned(form: list[str]) -> list[str]:
    """The words of a name without its "of": "strip of foam" is a foam strip."""
    at = form.index("of") if "of" in form[1:-1] else 0
    return [*form[at + 1 :], *form[:at]] if at else form


def _owner_of(name: Name, first: int, sentence: Sentence) -> str | None:
    """The words before a connector's noun that the trade does not know as a part: "door lock connector"."""
    if name.kind != "connector" or not name.bare or name.last - name.first != 1:
        return None
    before = [t.text for t in sentence.tokens[first : name.first]]
    light = _sorting() | grammar().words["stop"]
    if not before or set(before) & light or any(find_numbers([t]) or not t.isalpha() for t in before):
        return None
    return " ".join(before)


def _coloured(colour: str, memory: Memory) -> Name | None:
    """The wire, plug or tube that only its colour names: as named before, else of the sort that was last spoken of.

    None where a wire and a tube of that colour were both spoken of.
    """
    lines = [n for n in reversed(memory.things) if n.kind in {"connector", "wiring", "tube"}]
    same = [n for n in lines if colour in n.part.split()]
    if not lines or len({n.kind == "tube" for n in same}) > 1:
        return None
    if same:
        return replace(same[0], count=None, plural=False)
    return replace(lines[0], part=f"{colour} {lines[0].part.split()[-1]}", count=None, plural=False, bare=False)


def meant(name: Name, action: Action, memory: Memory, words: Words) -> Name:
    """The thing that a name stands for: what goes back in a word is the last thing of that word that is off."""
    if action in {"refit", "reseal", "close"} and name.kind in {"part", "seal"} and len(name.part.split()) == 1:
        off = still_off(
            memory.acts[-80:], name.part, {"remove", "peel", "open"}, {"refit", "reseal", "replace", "close"}
        )
        off = off or _begun_so(name.part, memory)
        if off and off[-1] != name.part:
            return replace(name, part=off[-1], bare=False, known=True)
    if action == "reconnect" and name.kind == "connector" and name.bare and not name.plural:
        off = still_off(memory.acts[-80:], name.part, {"disconnect"}, {"reconnect"})
        if len(off) == 1 and off[0] != name.part:  # "that harness is clicked in": no other harness is off
            return replace(name, part=off[0], bare=False)
    return completed(name, memory, words)


def _begun_so(word: str, memory: Memory) -> list[str]:
    """The seals that are off and whose names begin with a word: what goes back as "the foam" is the foam strip."""
    seals = {a.part: a for a in memory.acts[-80:] if a.kind == "seal" and a.part.startswith(f"{word} ")}
    out: set[Action] = {"remove", "peel", "open"}
    back: set[Action] = {"refit", "reseal", "replace", "close"}
    return [p for p in seals if p in still_off([a for a in memory.acts if a.part == p], p.split()[-1], out, back)]


def completed(name: Name, memory: Memory, words: Words) -> Name:
    """The name in full where it is plain which is meant: "the fan plug" after the evaporator fan was spoken of."""
    if name.plural and name.kind == "part":
        return name  # "the drawers" are not the top drawer
    name = expanded(name, memory)
    if name.bare and name.kind == "part" and len(name.part.split()) == 1:
        for earlier in reversed(memory.named[-40:]):
            told = earlier.split()
            if len(told) >= 3 and told[-2] == name.part:
                return replace(name, part=" ".join(told[:-1]), bare=False)
    if name.bare and name.part == "motor" and (driven := _driven(memory, words)) is not None:
        return replace(name, part=f"{driven} motor", bare=False)
    if name.bare and name.kind == "part" and len(name.part.split()) == 2:
        # "board" is short for one board, and may be another
        same = next((n for n in reversed(memory.named[-40:]) if n.split()[-1] == name.part.split()[-1]), None)
        if same is not None and same != name.part:
            return replace(name, part=same, bare=False)
    modifiers = name.part.split()[:-1]
    if not modifiers or name.kind == "fastener" or tuple(name.part.split()) in words.parts:
        return name
    for earlier in reversed(memory.named[-40:]):
        if earlier.split()[-1] in words.appliances:
            continue
        told = [w for w in earlier.split() if w != "motor"]
        if len(told) > len(modifiers) and told[-len(modifiers) :] == modifiers and told[-1] != name.part.split()[-1]:
            return replace(name, part=" ".join([*told, name.part.split()[-1]]))
        if len(earlier.split()) > len(name.part.split()) and earlier.endswith(" " + name.part):
            return replace(name, part=earlier)
    return name


def _driven(memory: Memory, words: Words) -> str | None:
    """What a motor that nobody named drives: the last electrical part that was handled."""
    for act in reversed(memory.acts[-20:]):
        if act.kind == "part" and act.status in {"done", "narrated"} and "electrical" in words.classes_of(act.part):
            return act.part if act.part.split()[-1] in grammar().words["driven"] else None
    return None


def _usual(memory: Memory, action: Action) -> str:
    """The kind of fasteners that nobody named: going back, of those moved last; coming out, screws."""
    last = next((a.part for a in reversed(memory.acts) if a.kind == "fastener"), "screw")
    return last.split()[-1] if action == "refit" else "screw"


def _pair(named: Sequence[Name]) -> list[Name]:
    """The two that were named last, each by itself: "the damper plug and the fan plug. I undid both." """
    last = [replace(n, first=-1, last=-1) for n in named[-2:] if not n.plural and (n.count or 1) == 1]
    return last if len({n.part for n in last}) == 2 else []


def _from_memory(
    memory: Memory, words: Words, action: Action, count: float | None, *, plural: bool, said: bool = False
) -> list[Name]:
    """What a pronoun or nothing stands for. said: "them" was, so that something was named."""
    pool = [n for n in memory.things[-6:] if n.part and n.part not in words.not_parts]
    if action in {"disconnect", "reconnect"}:
        pool = [n for n in pool if n.kind == "connector" or "electrical" in words.classes_of(n.part)] or pool
    if not pool:
        return []
    if plural or count is not None:
        several = [n for n in pool if n.kind == "fastener" or n.plural or (n.count or 0) > 1]
        several = [n for n in several if pins_of(n.part) is None] or several
        if action in _MANY:  # what is counted without a noun is screwed
            screws = [n for n in several if n.kind == "fastener"]
            cover = pool[-1].kind == "part" and words.closes(pool[-1].part)
            several = screws or [n for n in several if n.kind != "connector" or not cover]
            if not several and count is not None and not said:  # "Back panel. Six down the sides, out."
                kind = _usual(memory, action)
                return [Name(part=kind, kind="fastener", first=-1, last=-1, count=count, plural=count > 1)]
        elif not several:
            several = [n for n in pool if n.kind == "connector"]
            if count == 2 and len(pair := _pair(several)) == 2:
                return pair
        if several:
            told = several[-1].count if several[-1].kind == "fastener" else None
            return [replace(several[-1], count=count if count is not None else told, plural=True, first=-1, last=-1)]
    others = [n for n in pool if n.kind != "fastener"]
    chosen = others[-1] if others else pool[-1]
    return [replace(chosen, count=count, plural=chosen.plural or (said and plural), first=-1, last=-1)]
