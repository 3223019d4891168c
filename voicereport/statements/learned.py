"""The reader's marks to acts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from voicereport.report import Action, ItemKind
from voicereport.statements.acts import Memory, expanded, holder_of, located, split_fastener
from voicereport.statements.fastening import alike, fastened, recounted
from voicereport.statements.grammar import grammar
from voicereport.statements.holding import Scene, held, pointed_holders
from voicereport.statements.names import Name, names_in, pins_of
from voicereport.statements.naming import THINGS_OF, completed, named_before, things_of
from voicereport.statements.placing import Placed, places
from voicereport.statements.pointing import Mention, Pointing
from voicereport.statements.settling import capped, mains_plug, of_holder, owned, settled
from voicereport.statements.tokens import Clause, Sentence, clause_with, line_text, whole_of
from voicereport.statements.values import Act
from voicereport.trades.words import Words, singular
from voicereport.transcript import Span, span
from voicereport.wording.quantities import find_quantities

_AS_FASTENER: dict[Action, Action] = {
    "disconnect": "remove", "open": "remove", "reconnect": "refit", "reseal": "refit", "close": "refit",
}  # fmt: skip


_OF_THE_SUPPLY: dict[Action, Action] = {"isolate": "disconnect", "restore_power": "reconnect"}
_SUBJECTS = frozenset({"’s", "is", "are", "was", "were", "’m", "’re", "has", "had", "i", "we"})
_AS_CONNECTOR: dict[Action, Action] = {"remove": "disconnect", "refit": "reconnect"}


def learned_acts(
    sentence: Sentence,
    marks: Sequence[Placed],
    parts: tuple[Clause, ...],
    words: Words,
    memory: Memory,
    elsewhere: Sequence[tuple[int, int]] = (),
    *,
    pointing: Pointing | None = None,
    mains: bool = True,
) -> list[tuple[Act, Placed]]:
    """The acts of a sentence, one a thing, from the reader's marks.

    elsewhere: the tokens of things whose act another sentence of the line says. pointing: looks back from the line for
    what it leaves unsaid. mains: the line may be about the supply, so that a plug that is pulled or put in may be the
    one in the wall.
    """
    whole = whole_of(sentence)
    names = names_in(whole, words)
    out: list[tuple[Act, Placed]] = []
    waiting = list(names)
    if pointing is not None:
        memory.mentions += _mentions(sentence, names, pointing.number, memory, words)
    seen: dict[tuple[tuple[int, int], ...], list[Name]] = {}
    moved: set[tuple[Action, int, int]] = set()
    for mark in (_of_its_own(m, sentence, parts) for m in _merged(marks, sentence)):
        spoken = mark.things if _is_pronoun(mark, sentence) else (*mark.things, *mark.holds)
        first = min([mark.first, *(f for f, _ in spoken)])
        _mention(waiting, first, memory, words, sentence)  # what was named up to here is what a pronoun may stand for
        same = seen.get(mark.things) if mark.things and not mark.counts else None  # "washed it and that's back on"
        meant = same or things_of(mark, sentence, names, words, memory, pointing)
        seen.setdefault(mark.things, meant)
        for name in meant:
            name = capped(_metered(name, mark, sentence, words, memory), sentence, names, words)
            name = _of_it(name, mark, sentence, words, memory)
            if mark.holds:
                name = of_holder(name, mark, names, words, memory)
            else:
                pointed = pointed_holders(mark, memory, pointing) if name.kind == "connector" and name.bare else {}
                name = owned(name, sentence, words, memory, mark.mark.action, pointed)
            act = _act(mark, name, sentence, parts, names, words, memory, mains=mains)
            if act is not None and act.kind == "fastener" and name.first >= 0:
                here = (act.action, name.first, name.last)
                if here in moved and name.count is None:
                    continue  # the same words marked for another act, too
                moved.add(here)
            twin = next(
                (
                    k
                    for k, (o, _) in enumerate(out)
                    if act
                    and (o.action, o.part, o.count, o.span) == (act.action, act.part, act.count, act.span)
                    and not _is_put_off(act, mark, o, out[k][1])
                ),
                None,
            )
            if act is not None and twin is None:
                out.append((act, mark))
            elif act is not None and twin is not None and mark.mark.status_sure > out[twin][1].mark.status_sure:
                out[twin] = (act, mark)
        _mention(waiting, max([mark.last, *(e for _, e in (*mark.things, *mark.holds))]), memory, words, sentence)
    _mention(waiting, len(sentence.tokens), memory, words, sentence)
    out += [
        (a, m)
        for a, m in fastened(sentence, names, out, words, memory, elsewhere)
        if not any(alike(a, o) for o, _ in out)
    ]
    if not out:
        holding = next(
            (n for n in names if n.known and n.kind not in {"fastener", "connector"} and n.part not in words.not_parts),
            None,
        )
        if holding is not None and any(n.kind == "fastener" for n in names):  # "two screws hold the pump"
            memory.holder = completed(holding, memory, words).part
    out = [x for pair in out for x in _its_fasteners(*pair, out, memory, sentence)]
    told: list[tuple[Act, Placed]] = []
    for act, mark in out:
        again = _same_again(mark, sentence, told)
        if again is not None:
            told.append((replace(again, span=act.span), mark))
            continue
        new = held(recounted(act, sentence), Scene(mark=mark, found=out, sentence=sentence, names=names, words=words,
                                                 memory=memory, pointing=pointing))  # fmt: skip
        if new.kind != "fastener" or not any(
            (o.action, o.part, o.count, o.holds, o.status) == (new.action, new.part, new.count, new.holds, new.status)
            and (m.counts == mark.counts or not mark.counts or not m.counts)
            for o, m in told
        ):
            told.append((new, mark))
    memory.headed = _head(names, told, words, memory) or memory.headed
    if not told and len(names) == 1 and names[0].plural and names[0].kind == "part" and len(sentence.tokens) <= 4:
        memory.several = (sentence.segment.id, completed(names[0], memory, words).part)
    elif not told and not names and len(sentence.tokens) == 1 and (one := sentence.tokens[0].text) != singular(one):
        memory.several = (sentence.segment.id, singular(one))  # "Sliders."
    apart = [a.part for a, _ in told if a.kind == "connector" and a.action == "disconnect"]
    said = grammar().patterns["of_a_sort"].search(sentence.text)
    if said is not None and len(apart) == 1:
        memory.sorts[said.group(1)] = apart[0]
    return settled(sentence, told, words, memory)


def _is_put_off(act: Act, mark: Placed, other: Act, told: Placed) -> bool:
    """Whether of two like acts one is still to be done: "one screw is in, and the second one I will put later"."""
    apart = bool(mark.things) and bool(told.things) and mark.things != told.things
    return apart and (act.status == "planned") != (other.status == "planned")


def _of_its_own(mark: Placed, sentence: Sentence, parts: tuple[Clause, ...]) -> Placed:
    """A mark without the things of which a later clause says something else.

    "Pulled the tube out, and the duckbill on the end of it is gummed shut": the duckbill is not out.
    """
    home = clause_with(parts, mark.first)
    texts = [t.text for t in sentence.tokens]
    said = set(texts[mark.first : mark.last])

    def is_others(thing: tuple[int, int]) -> bool:
        clause = parts[clause_with(parts, thing[0])]
        if any(grammar().patterns["so_is"].search(" ".join(texts[:k])) for k in range(clause.first, thing[0] + 1)):
            return False  # "and so's the damper"
        beside = {t.text for n, t in enumerate(clause.tokens, clause.first) if not thing[0] <= n < thing[1]}
        return clause is not parts[home] and thing[0] >= mark.last and bool(beside & _SUBJECTS) and not beside & said

    kept = tuple(thing for thing in mark.things if not is_others(thing))
    return replace(mark, things=kept) if kept else mark


def _metered(name: Name, mark: Placed, sentence: Sentence, words: Words, memory: Memory) -> Name:
    """What was metered as "it" beside its plug or wires: the part that they are of, but for a voltage at the plug."""
    if mark.mark.action == "measure" and name.kind == "fastener":  # "put the meter across the compressor pins"
        owner = holder_of(whole_of(sentence), name, names_in(whole_of(sentence), words))
        return owner or _of_pins(name, words)
    unsaid = _is_pronoun(mark, sentence) or (not mark.things and name.first < 0)
    if mark.mark.action != "measure" or name.kind not in {"connector", "wiring"} or not unsaid:
        return name
    if any(q.unit == "V" for q in find_quantities(sentence.words)):
        return name
    before = [n.part for n in names_in(whole_of(sentence), words) if n.last <= mark.first]
    spoken = [*(n.part for n in memory.things), *before]
    part = _powered([" ".join(name.part.split()[:-1]), *reversed(spoken)], words)
    return Name(part=part, kind="part", first=-1, last=-1) if part else name


def _is_lit(mark: Placed, name: Name, said: set[str]) -> bool:
    """ "Lamp on with the door shut": it shines, and nothing is plugged in; "fan, lamp. Both off" is of their plugs."""
    lists = grammar().words
    alone = name.first >= 0 and len(mark.things) == 1 and not mark.counts
    return alone and name.part in lists["shining"] and said <= lists["lit"]


def _of_pins(name: Name, words: Words) -> Name:
    """The part before the noun of what was metered as a fastener: "the compressor pins"."""
    part = _powered([" ".join(name.part.split()[:-1])], words)
    return replace(name, part=part, kind="part", count=None, plural=False) if part else name


def _of_it(name: Name, mark: Placed, sentence: Sentence, words: Words, memory: Memory) -> Name:
    """ "Heater. Plug off it": a connector that only its noun names, beside "it", is of the part spoken of last."""
    after = [t.text for t in sentence.tokens[mark.last - 1 : mark.last + 2]]
    if name.kind != "connector" or not name.bare or (after[1:2] != ["it"] and after[1:3] != ["on", "it"]):
        return name
    if {t.text for t in sentence.tokens[mark.first : mark.last]} - grammar().words["on_it"]:
        return name  # "plugging it in" is of the plug itself
    part = _powered([n.part for n in memory.things[::-1]], words)
    return replace(name, part=f"{part.removesuffix(' motor')} {name.part}", bare=False) if part else name


def _powered(parts: Sequence[str], words: Words) -> str | None:
    """The first of some parts that current flows through."""
    return next((p for p in parts if p and words.kind_of(p) == "part"
                 and words.classes_of(p) & grammar().words["powered"]), None)  # fmt: skip


def _is_pronoun(mark: Placed, sentence: Sentence) -> bool:
    """Whether a mark is of "it" alone, which may stand for what the sentence began with: "the front, and it's off"."""
    words = {t.text for f, e in mark.things for t in sentence.tokens[f:e]}
    return bool(words) and words <= grammar().words["single_pronouns"]


def _mentions(sentence: Sentence, names: Sequence[Name], number: int, memory: Memory, words: Words) -> list[Mention]:
    """The names of a sentence of line `number`, in full, where they stand in it."""
    where = places(sentence)
    return [
        Mention(number=number, first=where[n.first][0], last=where[n.last - 1][1], name=completed(n, memory, words))
        for n in names
        if n.known and n.part not in words.not_parts
    ]


def _head(names: Sequence[Name], told: Sequence[tuple[Act, Placed]], words: Words, memory: Memory) -> str | None:
    """The part that a sentence begins with where nothing is done to it: what is done next is done to that."""
    first = next((n for n in names if n.known and n.part not in words.not_parts), None)
    if first is None or first.kind == "fastener" or first.first > 3:
        return None
    part = completed(first, memory, words).part
    return None if any(a.part == part for a, _ in told) else part


def _same_again(mark: Placed, sentence: Sentence, told: Sequence[tuple[Act, Placed]]) -> Act | None:
    """ "Three bolts out of the left hinge, same again on the right": the fasteners just told, of the other side."""
    if not told or "same" not in {t.text for t in sentence.tokens[mark.first : mark.last]}:
        return None
    last = told[-1][0]
    sides = grammar().words["sides"]
    side = next((t.text for t in sentence.tokens[mark.last :] if t.text in sides), None)
    if side is None or last.kind != "fastener" or last.holds is None:
        return None
    bare = [w for w in last.holds.split() if w not in sides]
    return replace(last, holds=" ".join([side, *bare]))


def _its_fasteners(
    act: Act, mark: Placed, found: Sequence[tuple[Act, Placed]], memory: Memory, sentence: Sentence
) -> list[tuple[Act, Placed]]:
    """A number said of one cover is that of its screws: "side panel off, six"."""
    if (
        act.kind not in {"part", "seal"}
        or (act.plural and not _with_its_own(mark, sentence))
        or (act.count or 1) < 2
        or act.action not in {"remove", "refit", "open"}
    ):
        return [(act, mark)]
    plain = replace(act, count=None)
    if any(o is not act and o.plural and o.count == act.count and o.kind == act.kind for o, _ in found):
        return [(plain, mark)]  # "baskets out, both, and the divider"
    if any(o.kind == "fastener" and o.count == act.count for o, _ in found):
        return [(plain, mark)]
    kind = next((n.part for n in reversed(memory.things) if n.kind == "fastener"), "screw").split()[-1]
    action: Action = "refit" if act.action == "refit" else "remove"
    return [(plain, mark), (replace(act, action=action, part=kind, kind="fastener", holds=act.part, plural=True), mark)]


def _with_its_own(mark: Placed, sentence: Sentence) -> bool:
    """Whether the number of a mark is of what its things have: "the slides are on with their six"."""
    before = [t.text for f, _ in mark.counts[-1:] for t in sentence.tokens[max(0, f - 3) : f]]
    words = grammar().words
    ends = [e for _, e in mark.counts[-1:] if e == len(sentence.tokens) or sentence.tokens[e - 1].mark]
    return bool(ends) and not words["possessives"].isdisjoint(before) and not words["seats_in"].isdisjoint(before)


def _mention(waiting: list[Name], end: int, memory: Memory, words: Words, sentence: Sentence) -> None:
    """What is named before token `end` is what a pronoun may stand for, but for what only says where."""
    whole = whole_of(sentence)
    fastened = False
    while waiting and waiting[0].first < end:
        name = waiting.pop(0)
        fastened = fastened or name.kind == "fastener"
        after = [t.text for t in sentence.tokens[name.last : name.last + 1]]
        if not name.known or name.part in words.not_parts or " ".join([name.part, *after]) in words.not_parts:
            continue
        if set(after) & grammar().words["places"] and not name.plural:
            continue  # "down the hinge side" says where
        before = {t.text for t in sentence.tokens[max(0, name.first - 2) : name.first]}
        owner = before & {"of", "from", "off"} and fastened
        where = located(whole, name) and not owner and name.kind != "fastener"
        if not where and not any(n.first == name.first and n.part == name.part for n in memory.things[-3:]):
            memory.things = [*memory.things[-8:], expanded(name, memory)]
        if name.kind != "fastener" and not name.bare:
            memory.named.append(name.part)


def _merged(marks: Sequence[Placed], sentence: Sentence) -> list[Placed]:
    """Pieces of one act's words as one mark: the same act of the same things, said of one thing or of none."""
    out: list[Placed] = []
    for mark in marks:
        last = out[-1] if out else None
        if {t.text for t in sentence.tokens[mark.first : mark.last]} <= grammar().words["articles"]:
            continue  # no act is said by an article
        if last and mark.first == last.last and mark.things == last.things and mark.last - mark.first == 1:
            continue  # "cut out": one act, its particle marked as another
        if (
            last
            and last.mark.action == mark.mark.action
            and "same" not in {t.text for t in sentence.tokens[mark.first : mark.last]}
            and not (mark.counts and mark.holds and last.holds and mark.holds != last.holds)
            and last.mark.status == mark.mark.status
            and not (last.counts and mark.counts and last.counts[-1][1] <= mark.counts[0][0] and mark.first > last.last)
            and (mark.things == last.things or (not mark.things and mark.first - last.last <= 3))
        ):
            told_apart = mark.first == last.first and bool(last.counts) and bool(mark.counts)
            counts = tuple(sorted({*last.counts, *mark.counts})) if told_apart else last.counts or mark.counts
            out[-1] = replace(last, last=mark.last, holds=last.holds or mark.holds, counts=counts)
        else:
            out.append(mark)
    return out


def _act(
    mark: Placed,
    name: Name,
    sentence: Sentence,
    parts: tuple[Clause, ...],
    names: tuple[Name, ...],
    words: Words,
    memory: Memory,
    *,
    mains: bool,
) -> Act | None:
    action, part, kind = mark.mark.action, name.part, name.kind
    if action in _OF_THE_SUPPLY and pins_of(part) is not None:
        action = _OF_THE_SUPPLY[action]  # a plug that is called by its pins is not the one in the wall
    if action == "restore_power" and part in words.lamps:
        return None  # a control that is turned up gives nothing its supply back
    apart = _open_connector(memory) if action == "restore_power" and (not part or name.first < 0) else None
    back = _last_off(memory) if action == "restore_power" and name.first < 0 and apart is None else None
    if back is not None:  # "rear panel's off. It's back on."
        action, part, kind = "refit", back.part, back.kind
    elif apart is not None:  # "unplugged the harness ... plugged it back in"
        action, part, kind = "reconnect", apart.part, "connector"
    elif action in {"isolate", "restore_power", "close", "open"}:
        action, part, kind = _supply(action, name, mark, sentence, parts, words)
    elif action in THINGS_OF:
        part, kind = _object(action, name, mark, sentence, parts, words)
    elif (
        action == "measure"
        and (not part or name.bare or part in words.not_parts)
        and grammar().patterns["earth"].search(_asked_before(mark, sentence))
    ) or (action == "measure" and grammar().patterns["earth_pins"].search(sentence.text)):
        part, kind = "earth", "part"
    elif (
        part in {"plug", "mains plug", "power cord", "cord"}
        and (mains or part != "plug" or _is_three_pin(name, sentence))
        and action in {"disconnect", "reconnect", "remove", "refit"}
        and (
            not name.plural
            and (name.count or 1) == 1
            and (
                not any(a.kind == "connector" and a.action == "disconnect" for a in memory.acts[-12:])
                or part != "plug"
                or (action in {"reconnect", "refit"} and mains_plug(memory))
            )
        )
    ):
        action, part, kind = (
            ("isolate" if action in {"disconnect", "remove"} else "restore_power"),
            "power supply",
            "part",
        )
    elif action in {"disconnect", "reconnect"} and kind == "part" and _has_plug(part, words, mark, sentence):
        part, kind = f"{part.removesuffix(' motor')} connector", "connector"
    if kind == "fastener":
        eased = action == "remove" and grammar().patterns["eased"].search(sentence.text) is not None
        action = "loosen" if eased else _AS_FASTENER.get(action, action)
        if action == "replace" and not name.new:
            action = "refit"
    elif kind == "connector":
        freed = next(
            (a.action for a in reversed(memory.acts[-30:]) if a.part == part and a.action in {"loosen", "disconnect"}),
            None,
        )
        if freed == "loosen" and action in {"reconnect", "refit"}:
            action = "refit"
        else:
            action = _AS_CONNECTOR.get(action, action)
    if action == "inspect" and "electrical" in words.classes_of(part) and find_quantities(sentence.words):
        action = "measure"
    said = {t.text for t in sentence.tokens[mark.first : mark.last]}
    if kind == "fastener" and _goes_nowhere(action, said, sentence):
        return None
    if (
        not part
        or (action == "tighten" and said == {"tight"} and kind not in {"fastener", "tube"})  # "shaft's tight"
        or (action == "other" and mark.mark.status == "advised")
        or (action == "other" and mark.mark.status == "planned" and part in words.appliances)  # "I'll fetch it"
        or (action == "open" and part.endswith("door"))
        or (action in _OF_THE_SUPPLY.values() and _is_lit(mark, name, said))
    ):
        return None  # how it is to be used; doors stand open by themselves
    if action == "cut" and said & grammar().words["combs"]:
        action = "adjust"
    if action == "repair" and _is_put_on(mark, name, sentence):
        action = "replace"
    clause = parts[clause_with(parts, mark.first)]
    holds = None
    count = name.count
    if kind == "fastener":
        part, holds = split_fastener(replace(name, part=part), words)
        if count is None and not name.plural and name.first >= 0:
            count = 1.0
    owner = next((n for f, e in mark.holds for n in names if n.first < e and f < n.last and n.kind != "fastener"), None)
    if owner is None and mark.holds:
        f, e = mark.holds[0]
        owner = _called([t.text for t in sentence.tokens[f:e]], f, e)
    if owner is None and mark.holds_before and kind in {"fastener", "connector"}:
        owner = named_before(mark.holds_before[-1], memory, words) or _called(mark.holds_before[-1].split())
    beyond = (
        [t.text for t in sentence.tokens[owner.last : owner.last + 1]] if owner is not None and owner.last > 0 else []
    )
    if owner is not None and (owner.part in words.not_parts or set(beyond) & grammar().words["places"]):
        owner = None  # "off the compressor end" says where
    if owner is None and kind in {"fastener", "connector"} and name.first >= 0:
        owner = holder_of(whole_of(sentence), name, names)
    if owner is not None and kind == "fastener":
        holds = completed(owner, memory, words).part
    elif (
        owner is not None
        and kind == "connector"
        and name.bare
        and (owner.part.split()[-1] not in grammar().words["wire_holders"])
    ):
        part = f"{owner.part} {part}"
        owner = None
    where = owner.part if owner is not None and owner.known and kind in {"connector", "wiring"} else None
    status = mark.mark.status
    if status == "advised" and grammar().patterns["counsel"].search(clause.text):
        return None  # what the customer was told about use is advice, and no step
    if status in {"narrated", "done"} and grammar().patterns["habit"].search(clause.text):
        status = "advised"
    return Act(
        action=action,
        part=part,
        kind=kind,
        status=status,
        span=_words_of(clause, name, sentence, parts),
        visit=sentence.visit,
        count=count,
        plural=name.plural,
        holds=holds,
        location=where,
        new=name.new,
        remaining=name.remaining,
    )


def _is_put_on(mark: Placed, name: Name, sentence: Sentence) -> bool:
    """True of a new part that is joined on: "brazed on a new process tube", but "brazed the new joint" repairs one."""
    said = {t.text for t in sentence.tokens[mark.first : max(mark.last, name.first)]}
    return name.new and name.first >= mark.last and bool(said & {"on", "in"})


def _goes_nowhere(action: Action, said: set[str], sentence: Sentence) -> bool:
    """Whether fasteners did not move: "third one, stripped out", "hole's gone, screw tossed", "swapped them round"."""
    lists = grammar()
    if "stripped" in said and action in {"remove", "loosen"}:
        return True
    if action in {"refit", "replace", "tighten"} and said & lists.words["thrown"]:
        return True
    return lists.patterns["swapped"].search(sentence.text) is not None and bool(said & {"swapped", "swap", "changed"})


def _called(said: Sequence[str], first: int = -1, last: int = -1) -> Name | None:
    """A holder that no list knows, by the words that it was called by, tokens [first, last)."""
    lists = grammar().words
    empty = lists["lead"] | lists["articles"] | lists["plural_pronouns"]
    texts = [singular(w) for t in said if (w := t.strip(".,;:!?")) and w not in empty]
    return Name(part=" ".join(texts), kind="part", first=first, last=last) if texts else None


def _asked_before(mark: Placed, sentence: Sentence) -> str:
    """The words in which a test may be named: of the line up to here, where one that was not done names nothing.

    "You're meant to do an earth test. I've not done one."
    """
    if mark.mark.status == "done" or mark.things:
        return sentence.text
    return line_text(sentence, so_far=True)


def _is_three_pin(name: Name, sentence: Sentence) -> bool:
    """True of "the three pin plug", which is the one in the wall."""
    return [t.text for t in sentence.tokens[: name.last]][-3:-1] == ["three", "pin"]


def _has_plug(part: str, words: Words, mark: Placed, sentence: Sentence) -> bool:
    """Whether a part is plugged in: by what it is, or by the verb that is said of it, "unplugged the light socket"."""
    lists = grammar().words
    classes = words.classes_of(part)
    if "electrical" in classes or part in lists["unplugged_lamps"]:
        return True
    said = {t.text for t in sentence.tokens[mark.first : mark.last]}
    return bool(said & lists["plugs_in"]) and not classes & (lists["unplugged"] | lists["flowing"])


def _open_connector(memory: Memory) -> Act | None:
    """The connector that came apart last, where the supply was never off and it is not back."""
    for act in reversed(memory.acts[-12:]):
        if act.action in {"isolate", "reconnect", "restore_power"}:
            return None
        if act.action == "disconnect" and act.kind == "connector" and act.status == "done":
            return _of_the_new_part(memory) or act
    return None


def _of_the_new_part(memory: Memory) -> Act | None:
    """The connector that came off the part that a new one was just fitted for: "new damper's in. Plugged it in." """
    new = next((a for a in reversed(memory.acts[-4:]) if a.action == "replace" and a.kind == "part"), None)
    if new is None or not new.part:
        return None
    off = (a for a in reversed(memory.acts[-40:]) if a.action == "disconnect" and a.kind == "connector")
    return next(
        (a for a in off if a.status == "done" and a.part.startswith(new.part.removesuffix(" motor") + " ")), None
    )


def _words_of(clause: Clause, name: Name, sentence: Sentence, parts: tuple[Clause, ...]) -> Span:
    """The words that an act rests on: its clause, up to the clause of its thing where that comes later."""
    if name.first < clause.last:
        return clause.span()
    end = parts[clause_with(parts, name.first)]
    return span(sentence.segment, clause.tokens[0].word, end.tokens[-1].word + 1)


def _last_off(memory: Memory) -> Act | None:
    """The part that came off last, where the supply is not off: what is "back on" then is no supply."""
    supply = next((a for a in reversed(memory.acts) if a.part == "power supply" and a.status != "retracted"), None)
    if supply is not None and supply.action == "isolate":
        return None
    last = memory.acts[-1] if memory.acts else None
    off = last is not None and last.action in {"remove", "peel"} and last.status in {"done", "narrated"}
    return last if off and last is not None and last.kind != "fastener" else None


def _supply(
    action: Action, name: Name, mark: Placed, sentence: Sentence, parts: tuple[Clause, ...], words: Words
) -> tuple[Action, str, ItemKind]:
    said = " ".join(t.text for t in sentence.tokens[name.first : name.last]) + " / " + name.part
    if not name.part or not any(_speaks(s.words | s.bare, said) for s in words.supplies):
        clause = parts[clause_with(parts, mark.first)]
        said = clause.text if action in {"isolate", "restore_power"} and name.part in {"", *words.appliances} else said
    power = any(s.name == "power supply" and _speaks(s.words | s.bare, said) for s in words.supplies)
    for supply in words.supplies:
        if supply.name == "water supply" and not power and _speaks(supply.words, said):
            turned: Action = "isolate" if action in {"isolate", "close"} else "open"
            return turned, supply.name, "part"
    if action in {"isolate", "restore_power"}:
        return action, "power supply", "part"
    return action, name.part, name.kind


def _speaks(phrases: frozenset[str], said: str) -> bool:
    text = f" {said.replace('/', ' / ')} "
    return any(f" {p} " in text or f" {p}s " in text for p in phrases)


def _object(
    action: Action, name: Name, mark: Placed, sentence: Sentence, parts: tuple[Clause, ...], words: Words
) -> tuple[str, ItemKind]:
    default = THINGS_OF[action]
    if action == "run_test" and "defrost" in {
        t.text for a, b in (*mark.things, (mark.first, mark.last)) for t in sentence.tokens[a:b]
    }:
        return "defrost", "part"
    if action == "run_test":
        clause = parts[clause_with(parts, mark.first)]
        for phrase in words.phrases:
            if phrase.act == action and phrase.part != default and phrase.pattern.search(clause.text):
                return phrase.part, "part"
    if action in {"charge", "recover", "evacuate"} or not name.part:
        return default, "part"
    if action == "run_test" and name.part.split()[-1] in grammar().words["runs_of"]:
        name = replace(name, part=" ".join(name.part.split()[:-1]) or name.part)  # "ran the damper test"
    if name.part in words.appliances or name.part in words.not_parts or name.part == "everything":
        return default, "part"
    if (
        action == "run_test"
        and not words.classes_of(name.part) & {"electrical", "heater"}
        and "ice maker" not in name.part
    ):
        return default, "part"
    return name.part, name.kind
