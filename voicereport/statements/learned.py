"""The reader's marks to acts: names of the trade, what pronouns stand for, what a fastener holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from voicereport.report import Action, ItemKind
from voicereport.statements.acts import Memory, cover_named, expanded, split_fastener
from voicereport.statements.commitment import Commitment
from voicereport.statements.grammar import grammar
from voicereport.statements.names import Name, names_in
from voicereport.statements.reader import Mark
from voicereport.statements.tokens import Clause, Sentence
from voicereport.statements.values import Act
from voicereport.trades.words import Words, singular
from voicereport.transcript import Segment
from voicereport.wording.numbers import find_numbers

_AS_FASTENER: dict[Action, Action] = {"disconnect": "remove", "reconnect": "refit", "reseal": "refit"}
_AS_CONNECTOR: dict[Action, Action] = {"remove": "disconnect", "refit": "reconnect"}
_THINGS_OF: dict[Action, str] = {"charge": "refrigerant", "recover": "refrigerant", "evacuate": "sealed system",
                                 "leak_test": "sealed system", "discharge": "capacitor", "run_test": "appliance"}  # fmt: skip


def line_of(segment: Segment) -> str:
    """The words of a segment as the line that the reader reads."""
    return " ".join(w.word for w in segment.words)


def places(sentence: Sentence) -> list[tuple[int, int]]:
    """Where each token of the sentence stands in its segment's line, in characters."""
    starts, at = [], 0
    for word in sentence.segment.words:
        starts.append(at)
        at += len(word.word) + 1
    out: list[tuple[int, int]] = []
    before = -1
    for token in sentence.tokens:
        start = out[-1][1] if token.word == before else starts[token.word] + _lead(token.raw)
        out.append((start, start + len(token.text)))
        before = token.word
    return out


def _lead(raw: str) -> int:
    return len(raw) - len(raw.lstrip('"“”([])'))


@dataclass(frozen=True, kw_only=True, slots=True)
class Placed:
    """A mark with its places as tokens [first, last) of the sentence."""

    mark: Mark
    first: int
    last: int
    things: tuple[tuple[int, int], ...]
    holds: tuple[tuple[int, int], ...]
    counts: tuple[tuple[int, int], ...]


def placed(sentence: Sentence, marks: Sequence[Mark]) -> tuple[Placed, ...]:
    """The marks that begin in this sentence."""
    where = places(sentence)

    def tokens(span: tuple[int, int]) -> tuple[int, int] | None:
        found = [k for k, (a, b) in enumerate(where) if a < span[1] and b > span[0]]
        return (found[0], found[-1] + 1) if found else None

    out = []
    for mark in marks:
        own = tokens((mark.first, mark.last))
        if own is None:
            continue
        spans = [tuple(t for s in group if (t := tokens(s))) for group in (mark.things, mark.holds, mark.counts)]
        out.append(Placed(mark=mark, first=own[0], last=own[1], things=spans[0], holds=spans[1], counts=spans[2]))
    return tuple(out)


def learned_acts(sentence: Sentence, marks: Sequence[Placed], parts: tuple[Clause, ...], words: Words,
                 memory: Memory) -> list[tuple[Act, Placed]]:  # fmt: skip
    """The acts of a sentence, one a thing, from the reader's marks."""
    whole = Clause(sentence=sentence, first=0, last=len(sentence.tokens), joint="")
    names = names_in(whole, words)
    out: list[tuple[Act, Placed]] = []
    waiting = [n for n in names if n.known and n.kind != "fastener" and not n.bare]
    for mark in _merged(marks):
        end = max([mark.last, *(e for _, e in (*mark.things, *mark.holds))])
        while waiting and waiting[0].first < end:  # what was named up to here is what a bare noun may stand for
            memory.named.append(waiting.pop(0).part)
        for name in _things(mark, sentence, names, words, memory):
            act = _act(mark, name, sentence, parts, names, words, memory)
            if act is not None and not any(_same(act, other) for other, _ in out):
                out.append((act, mark))
    memory.named += [n.part for n in waiting]
    return [(_held(act, out, words, memory), mark) for act, mark in out]


def _merged(marks: Sequence[Placed]) -> list[Placed]:
    """Pieces of one act's words as one mark: the same act of the same things, said of one thing or of none."""
    out: list[Placed] = []
    for mark in marks:
        last = out[-1] if out else None
        if last and last.mark.action == mark.mark.action and last.mark.status == mark.mark.status and (
            mark.things == last.things or (not mark.things and mark.first - last.last <= 3)
        ):  # fmt: skip
            counts = last.counts or mark.counts
            out[-1] = replace(last, last=mark.last, holds=last.holds or mark.holds, counts=counts)
        else:
            out.append(mark)
    return out


def _same(one: Act, other: Act) -> bool:
    return (one.action, one.part, one.status, one.count) == (other.action, other.part, other.status, other.count)


def _things(mark: Placed, sentence: Sentence, names: tuple[Name, ...], words: Words, memory: Memory) -> list[Name]:
    count = _count(mark, sentence)
    found: list[Name] = []
    for first, last in mark.things:
        found += _named(first, last, sentence, names, words, memory, mark.mark.action, count)
    if found:
        if count is not None:
            best = next((k for k, n in enumerate(found) if n.kind == "fastener"), 0)
            found[best] = replace(found[best], count=count)
        memory.things = [*memory.things[-6:], *found]
        return found
    action = mark.mark.action
    if action in {"isolate", "restore_power"} or action in _THINGS_OF:
        return [Name(part="", kind="part", first=mark.first, last=mark.last)]
    return _from_memory(memory, words, action, count, plural=count is not None and count > 1)


def _count(mark: Placed, sentence: Sentence) -> float | None:
    for first, last in mark.counts:
        texts = [t.text for t in sentence.tokens[first:last]]
        numbers = [n for n in find_numbers(texts) if n.value == int(n.value) and 0 < n.value <= 99]
        last = [n for n in find_numbers(texts[-1:]) if n.value == int(n.value) and 0 < n.value < 20]
        if last and len(texts) > 1 and texts[-2] == texts[-1]:  # "three, three": said again
            return last[0].value
        if numbers:
            return numbers[-1].value
        if set(texts) & {"both", "couple", "pair"}:
            return 2.0
        if texts and texts[-1] in {"a", "an"}:
            return 1.0
    return None


def _named(first: int, last: int, sentence: Sentence, names: tuple[Name, ...], words: Words, memory: Memory, action: Action,
           count: float | None) -> list[Name]:  # fmt: skip
    texts = [t.text for t in sentence.tokens[first:last]]
    sets = grammar().words
    if set(texts) & {"everything"} or " ".join(texts) in {"the lot", "the whole lot", "it all", "all of it", "all"}:
        return [Name(part="everything", kind="part", first=first, last=last, plural=True)]
    for name in names:
        if name.first < last and first < name.last and (name.last >= last or name.last - name.first >= last - first):
            return [completed(name, memory)]
    lead = set(sets["lead"]) | {"the", "a", "an", "both", "all", "new", "old", "these", "those", "them", "it", "that", "this", "one", "ones", "other", "same"}
    core = [t for t in texts if t not in lead and not t[:1].isdigit()]
    core = [t for t in core if not find_numbers([t])]
    if not core and action in _THINGS_OF:
        return [Name(part="", kind="part", first=first, last=last)]
    if not core:
        plural = bool(set(texts) & (sets["plural_pronouns"] | {"both", "all", "ones"})) or (count or 0) > 1
        return _from_memory(memory, words, action, count, plural=plural)
    for name in names:
        if name.first < last and first < name.last:
            return [completed(name, memory)]
    form = [*core[:-1], singular(core[-1])]
    thing = words.thing([singular(t) for t in form])
    part = thing.name if thing and thing.name and tuple(form) in words.parts else " ".join(form)
    return [Name(part=part, kind=thing.kind if thing else "part", first=first, last=last, plural=form[-1] != core[-1],
                 new=bool(set(texts) & {"new", "replacement", "fresh"}), bare=len(form) == 1, known=thing is not None)]  # fmt: skip


def completed(name: Name, memory: Memory) -> Name:
    """The name in full where it is plain which is meant: "the fan plug" after the evaporator fan was spoken of."""
    name = expanded(name, memory)
    modifiers = name.part.split()[:-1]
    if not modifiers or name.kind == "fastener":
        return name
    for earlier in reversed(memory.named[-40:]):
        told = [w for w in earlier.split() if w != "motor"]
        if len(told) > len(modifiers) and told[-len(modifiers) :] == modifiers and told[-1] != name.part.split()[-1]:
            return replace(name, part=" ".join([*told, name.part.split()[-1]]))
        if len(earlier.split()) > len(name.part.split()) and earlier.endswith(" " + name.part):
            return replace(name, part=earlier)
    return name


def _from_memory(memory: Memory, words: Words, action: Action, count: float | None, *, plural: bool) -> list[Name]:
    """What a pronoun or nothing stands for."""
    pool = [n for n in memory.things[-6:] if n.part and n.part not in words.not_parts]
    if action in {"disconnect", "reconnect"}:
        pool = [n for n in pool if n.kind == "connector" or "electrical" in words.classes_of(n.part)] or pool
    if not pool:
        return []
    if plural or count is not None:
        several = [n for n in pool if n.kind in {"fastener", "connector"} or n.plural or (n.count or 0) > 1]
        if several:
            return [replace(several[-1], count=count, plural=True)]
    others = [n for n in pool if n.kind != "fastener"]
    chosen = others[-1] if others else pool[-1]
    return [replace(chosen, count=count)]


def _act(mark: Placed, name: Name, sentence: Sentence, parts: tuple[Clause, ...], names: tuple[Name, ...], words: Words,
         memory: Memory) -> Act | None:  # fmt: skip
    action, part, kind = mark.mark.action, name.part, name.kind
    if action in {"isolate", "restore_power", "close", "open"}:
        action, part, kind = _supply(action, name, sentence, words)
    elif action in _THINGS_OF:
        part, kind = _object(action, name, words)
    if kind == "fastener":
        action = _AS_FASTENER.get(action, action)
        if action == "replace" and not name.new:
            action = "refit"
    elif kind == "connector" and not any(a.action == "loosen" and a.part == part for a in memory.acts[-20:]):
        action = _AS_CONNECTOR.get(action, action)
    if not part:
        return None
    clause = next((c for c in parts if c.first <= mark.first < c.last), parts[0])
    holds = None
    if kind == "fastener":
        part, holds = split_fastener(replace(name, part=part), words)
    owner = next((n for f, e in mark.holds for n in names if n.first < e and f < n.last and n.kind != "fastener"), None)
    if owner is None and mark.holds:
        f, e = mark.holds[0]
        texts = [singular(t.text) for t in sentence.tokens[f:e] if t.text not in grammar().words["lead"]]
        owner = Name(part=" ".join(texts), kind="part", first=f, last=e) if texts else None
    if owner is not None and kind == "fastener":
        holds = completed(owner, memory).part
    elif owner is not None and kind == "connector" and name.bare:
        part = f"{owner.part} {part}"
    return Act(action=action, part=part, kind=kind, status=mark.mark.status, span=clause.span(), visit=sentence.visit,
               count=name.count, plural=name.plural, holds=holds, new=name.new, remaining=name.remaining)  # fmt: skip


def _supply(action: Action, name: Name, sentence: Sentence, words: Words) -> tuple[Action, str, ItemKind]:
    said = set(name.part.split()) | {t.text for t in sentence.tokens[name.first : name.last]}
    for supply in words.supplies:
        known = {w for phrase in supply.words for w in phrase.split()}
        if supply.name == "water supply" and said & known:
            turned: Action = "isolate" if action in {"isolate", "close"} else "open"
            return turned, supply.name, "part"
    if action in {"isolate", "restore_power"}:
        return action, "power supply", "part"
    return action, name.part, name.kind


def _object(action: Action, name: Name, words: Words) -> tuple[str, ItemKind]:
    default = _THINGS_OF[action]
    if action in {"charge", "recover", "evacuate"} or not name.part:
        return default, "part"
    if name.part in words.appliances or name.part in words.not_parts or name.part == "everything":
        return default, "part"
    return name.part, name.kind


def _held(act: Act, found: list[tuple[Act, Placed]], words: Words, memory: Memory) -> Act:
    """The act with what its fastener holds, where the words leave that to be understood."""
    if act.kind != "fastener" or act.holds:
        return act
    near = next((a.part for a, _ in found if a.kind in {"part", "seal", "tube"} and a.part not in {"power supply"}), None)
    return replace(act, holds=near or cover_named(memory, words) or memory.holder)


def doubted(found: Commitment) -> bool:
    """True where the rules hear a cue that takes the assertion away."""
    return found.status not in {"done", "narrated"}
