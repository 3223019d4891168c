"""The reader's marks to acts: names of the trade, what pronouns stand for, what a fastener holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from voicereport.report import Action, ItemKind
from voicereport.statements.acts import Memory, cover_named, expanded, holder_of, located, split_fastener
from voicereport.statements.commitment import Commitment
from voicereport.statements.grammar import grammar
from voicereport.statements.names import Name, names_in
from voicereport.statements.reader import Mark
from voicereport.statements.tokens import Clause, Sentence
from voicereport.statements.values import Act
from voicereport.trades.words import Words, singular
from voicereport.transcript import Segment
from voicereport.wording.numbers import find_numbers
from voicereport.wording.quantities import find_quantities

_AS_FASTENER: dict[Action, Action] = {"disconnect": "remove", "reconnect": "refit", "reseal": "refit"}
_AS_CONNECTOR: dict[Action, Action] = {"remove": "disconnect", "refit": "reconnect"}
_THINGS_OF: dict[Action, str] = {
    "charge": "refrigerant",
    "recover": "refrigerant",
    "evacuate": "sealed system",
    "leak_test": "sealed system",
    "discharge": "capacitor",
    "run_test": "appliance",
}


_ORDINALS = frozenset({"first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "last"})


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
        spans = [
            _whole(sentence, [t for s in group if (t := tokens(s))]) for group in (mark.things, mark.holds, mark.counts)
        ]
        out.append(Placed(mark=mark, first=own[0], last=own[1], things=spans[0], holds=spans[1], counts=spans[2]))
    return tuple(out)


def _whole(sentence: Sentence, spans: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """An article marked apart from its name, with its name."""
    articles = {"the", "a", "an", "that", "this", "my", "its"}
    out: list[tuple[int, int]] = []
    for first, last in sorted(spans):
        if out and first <= out[-1][1] and {t.text for t in sentence.tokens[out[-1][0] : out[-1][1]]} <= articles:
            out[-1] = (out[-1][0], max(last, out[-1][1]))
        else:
            out.append((first, last))
    return tuple(out)


def learned_acts(
    sentence: Sentence, marks: Sequence[Placed], parts: tuple[Clause, ...], words: Words, memory: Memory
) -> list[tuple[Act, Placed]]:
    """The acts of a sentence, one a thing, from the reader's marks."""
    whole = Clause(sentence=sentence, first=0, last=len(sentence.tokens), joint="")
    names = names_in(whole, words)
    out: list[tuple[Act, Placed]] = []
    waiting = list(names)
    for mark in _merged(marks):
        first = min([mark.first, *(f for f, _ in (*mark.things, *mark.holds))])
        _mention(waiting, first, memory, words, sentence)  # what was named up to here is what a pronoun may stand for
        for name in _things(mark, sentence, names, words, memory):
            act = _act(mark, name, sentence, parts, names, words, memory)
            twin = next(
                (
                    k
                    for k, (o, _) in enumerate(out)
                    if act and (o.action, o.part, o.count, o.span) == (act.action, act.part, act.count, act.span)
                ),
                None,
            )
            if act is not None and twin is None:
                out.append((act, mark))
            elif act is not None and twin is not None and mark.mark.status_sure > out[twin][1].mark.status_sure:
                out[twin] = (act, mark)
        _mention(waiting, max([mark.last, *(e for _, e in (*mark.things, *mark.holds))]), memory, words, sentence)
    _mention(waiting, len(sentence.tokens), memory, words, sentence)
    out += [(a, m) for a, m in _fastened(sentence, names, out, words) if not any(_alike(a, o) for o, _ in out)]
    if not out:
        held = next(
            (n for n in names if n.known and n.kind not in {"fastener", "connector"} and n.part not in words.not_parts),
            None,
        )
        if held is not None and any(n.kind == "fastener" for n in names):  # "two screws hold the pump"
            memory.holder = completed(held, memory, words).part
    return [(_held(_recounted(act, sentence), out, words, memory), mark) for act, mark in out]


def _recounted(act: Act, sentence: Sentence) -> Act:
    """The act with the count that a correction in its sentence ends on: "eight screws, check that, nine"."""
    if act.kind != "fastener" or act.count is None or act.status == "retracted":
        return act
    found = grammar().patterns["recount"].search(sentence.text)
    if found is None:
        return act
    texts = [t.text for t in sentence.tokens]
    after = len(sentence.text[: found.start()].split())
    numbers = [
        n
        for n in find_numbers(texts)
        if n.first >= after and n.value == int(n.value) and 0 < n.value <= 60 and n.style not in {"ordinal", "clock"}
    ]
    before = [n for n in find_numbers(texts[:after]) if n.value == act.count]
    return replace(act, count=numbers[-1].value) if numbers and before else act


def _mention(waiting: list[Name], end: int, memory: Memory, words: Words, sentence: Sentence) -> None:
    """What is named before token `end` is what a pronoun may stand for, but for what only says where."""
    whole = Clause(sentence=sentence, first=0, last=len(sentence.tokens), joint="")
    fastened = False
    while waiting and waiting[0].first < end:
        name = waiting.pop(0)
        fastened = fastened or name.kind == "fastener"
        after = [t.text for t in sentence.tokens[name.last : name.last + 1]]
        if not name.known or name.part in words.not_parts or " ".join([name.part, *after]) in words.not_parts:
            continue
        before = {t.text for t in sentence.tokens[max(0, name.first - 2) : name.first]}
        owner = before & {"of", "from", "off"} and fastened
        where = located(whole, name) and not owner
        if not where and not any(n.first == name.first and n.part == name.part for n in memory.things[-3:]):
            memory.things = [*memory.things[-8:], expanded(name, memory)]
        if name.kind != "fastener" and not name.bare:
            memory.named.append(name.part)


def _alike(one: Act, other: Act) -> bool:
    return one.kind == other.kind == "fastener" and one.action == other.action and one.part == other.part


_OUTWARD = frozenset({"remove", "disconnect", "peel", "open"})
_INWARD = frozenset({"refit", "replace", "reconnect", "reseal"})


def _stated(sentence: Sentence, name: Name, names: Sequence[Name], words: Words) -> tuple[Act, Placed] | None:
    """What a count of fasteners and the preposition after it say without a verb: "ten screws from the outer panel"."""
    after = [t.text for t in sentence.tokens[name.last : name.last + 2]]
    if not after or name.count is None or sentence.tokens[name.last - 1].mark:
        return None
    action: Action | None = (
        "remove"
        if after[0] in {"from", "off"} or after == ["out", "of"]
        else "refit"
        if after[0] in {"in", "into", "onto"}
        else None
    )
    owner = next((n for n in names if n.first >= name.last and n.first - name.last <= 4 and n.kind != "fastener"), None)
    if action is None or owner is None or owner.part in words.not_parts:
        return None
    part, _ = split_fastener(name, words)
    clause = Clause(sentence=sentence, first=0, last=len(sentence.tokens), joint="")
    act = Act(
        action=action,
        part=part,
        kind="fastener",
        status="unclear" if sentence.question else "done",
        span=clause.span(),
        visit=sentence.visit,
        count=name.count,
        plural=name.plural,
        holds=owner.part,
    )
    mark = Mark(action=action, status=act.status, sure=0.5, status_sure=0.5, first=0, last=0)
    return act, Placed(mark=mark, first=name.first, last=name.last, things=(), holds=(), counts=())


def _fastened(
    sentence: Sentence, names: Sequence[Name], found: Sequence[tuple[Act, Placed]], words: Words
) -> list[tuple[Act, Placed]]:
    """Fasteners that a sentence counts beside the part that it takes off or puts on: "two screws, motor out"."""
    out = []
    for name in names:
        if (
            name.kind != "fastener"
            or (name.count is None and not name.same)
            or any(
                (m.first < name.last and name.first < m.last)
                or any(f < name.last and name.first < e for f, e in m.things)
                for _, m in found
            )
        ):
            continue
        stated = _stated(sentence, name, names, words)
        if stated is not None:
            out.append(stated)
            continue
        near = [
            (abs(m.first - name.first), a, m)
            for a, m in found
            if a.kind in {"part", "seal", "tube"} and a.action in _OUTWARD | _INWARD and a.part != "everything"
        ]
        if not near:
            continue
        _, act, mark = min(near, key=lambda x: x[0])
        between = {t.text for t in sentence.tokens[min(mark.first, name.first) : max(mark.last, name.last)]}
        if between & {"but", "left", "missing", "short", "lost", "stripped", "no", "without", "new"}:
            continue
        action: Action = "remove" if act.action in _OUTWARD else "refit"
        part, _ = split_fastener(name, words)
        out.append(
            (
                replace(
                    act,
                    action=action,
                    part=part,
                    kind="fastener",
                    count=name.count,
                    plural=name.plural,
                    holds=act.part,
                    new=False,
                    remaining=name.remaining,
                ),
                mark,
            )
        )
    return out


def _merged(marks: Sequence[Placed]) -> list[Placed]:
    """Pieces of one act's words as one mark: the same act of the same things, said of one thing or of none."""
    out: list[Placed] = []
    for mark in marks:
        last = out[-1] if out else None
        if last and mark.first == last.last and mark.things == last.things and mark.last - mark.first == 1:
            continue  # "cut out": one act, its particle marked as another
        if (
            last
            and last.mark.action == mark.mark.action
            and last.mark.status == mark.mark.status
            and (mark.things == last.things or (not mark.things and mark.first - last.last <= 3))
        ):
            counts = last.counts or mark.counts
            out[-1] = replace(last, last=mark.last, holds=last.holds or mark.holds, counts=counts)
        else:
            out.append(mark)
    return out


def _things(mark: Placed, sentence: Sentence, names: tuple[Name, ...], words: Words, memory: Memory) -> list[Name]:
    count = _count(mark, sentence)
    found: list[Name] = []
    for first, last in mark.things:
        found += _named(first, last, sentence, names, words, memory, mark.mark.action, count)
    found += _joined(mark, found, names, sentence, memory, words)
    named = bool(found)
    found = _apart(found, sentence)
    found = [
        n
        for n in found
        if n.part not in words.not_parts or mark.mark.action in _THINGS_OF or mark.mark.action == "measure"
    ]
    if found:
        if count is not None:
            _counted(mark, found, count, names)
        memory.things = [*memory.things[-8:], *found]
        return found
    action = mark.mark.action
    if named and action not in {"isolate", "restore_power"} and action not in _THINGS_OF:
        whole = Clause(sentence=sentence, first=0, last=len(sentence.tokens), joint="")
        where = (
            n for n in names if n.first >= mark.last and located(whole, n) and n.known and n.part not in words.not_parts
        )
        if action in {"thaw", "clean"} and (iced := _finned(sentence, memory, words)):
            return [Name(part=iced, kind="part", first=-1, last=-1)]
        return [completed(n, memory, words) for n in where][:1]  # a window is no part of the appliance
    if action in {"isolate", "restore_power"} or action in _THINGS_OF:
        return [Name(part="", kind="part", first=mark.first, last=mark.last)]
    after = [t.text for t in sentence.tokens[mark.last : mark.last + 2]]
    if (
        mark.last
        and not sentence.tokens[mark.last - 1].mark
        and set(after[:1]) & {"the", "a", "an", "my", "his", "her", "their", "your"}
    ):
        if action in {"thaw", "clean"} and (iced := _finned(sentence, memory, words)):
            return [Name(part=iced, kind="part", first=-1, last=-1)]
        return []  # something is named that is no thing of the appliance: "opened the window"
    return _from_memory(memory, words, action, count, plural=count is not None and count > 1)


def _finned(sentence: Sentence, memory: Memory, words: Words) -> str | None:
    """What has fins, of which frost and ice are cleared: the last one spoken of, else the trade's first."""
    texts = {singular(t.text) for t in sentence.tokens}
    if not texts & {"frost", "ice", "snow", "fin", "lint", "dust"}:
        return None
    spoken = [*memory.named[-20:], *(n.part for n in memory.things)]
    told = next(
        (n for n in reversed(spoken) if "fins" in words.classes_of(n) and "cover" not in words.classes_of(n)), None
    )
    first = next((" ".join(key) for key, thing in words.heads.items() if "fins" in thing.classes), None)
    return told or (first if "fin" in texts else None)


def _apart(found: list[Name], sentence: Sentence) -> list[Name]:
    """Without what only says where, after a thing that something is done to: "the tape along the edge of the cover"."""
    whole = Clause(sentence=sentence, first=0, last=len(sentence.tokens), joint="")
    if len(found) < 2 or found[0].first < 0:
        return found
    return [n for k, n in enumerate(found) if not (k and n.first > found[0].first and located(whole, n))]


def _joined(
    mark: Placed, found: Sequence[Name], names: Sequence[Name], sentence: Sentence, memory: Memory, words: Words
) -> list[Name]:
    """A part joined to the fasteners before it: "two screws and the motor's out"."""
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


def _counted(mark: Placed, found: list[Name], count: float, names: Sequence[Name]) -> None:
    """Gives the count to the thing that it stands before, or to the thing that can be many."""
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


def _count(mark: Placed, sentence: Sentence) -> float | None:
    for first, last in mark.counts:
        texts = [t.text for t in sentence.tokens[first:last]]
        if "dozen" in texts:
            return 6.0 if "half" in texts else 12.0
        numbers = [n for n in find_numbers(texts) if n.value == int(n.value) and 0 < n.value <= 99]
        again = [n for n in find_numbers(texts[-1:]) if n.value == int(n.value) and 0 < n.value < 20]
        if again and len(texts) > 1 and texts[-2] == texts[-1]:  # "three, three": said again
            return again[0].value
        if numbers:
            return numbers[-1].value
        if set(texts) & {"both", "couple", "pair"}:
            return 2.0
        if texts and texts[-1] in {"a", "an"}:
            return 1.0
    return None


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
    if set(texts) & {"everything", "rest"} or " ".join(texts) in {
        "the lot",
        "the whole lot",
        "it all",
        "all of it",
        "all",
    }:
        return [Name(part="everything", kind="part", first=first, last=last, plural=True)]
    for name in names:
        if name.first < last and first < name.last and (name.last >= last or name.last - name.first >= last - first):
            return [completed(name, memory, words)]
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
    if not core and action in _THINGS_OF:
        return [Name(part="", kind="part", first=first, last=last)]
    if not core:
        plural = bool(set(texts) & (sets["plural_pronouns"] | {"both", "all", "ones"})) or (count or 0) > 1
        return _from_memory(memory, words, action, count, plural=plural)
    for name in names:
        if name.first < last and first < name.last and name.last >= last:
            return [completed(name, memory, words)]
    form = [*core[:-1], singular(core[-1])]
    thing = words.thing([singular(t) for t in form])
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


def _from_memory(memory: Memory, words: Words, action: Action, count: float | None, *, plural: bool) -> list[Name]:
    """What a pronoun or nothing stands for."""
    pool = [n for n in memory.things[-6:] if n.part and n.part not in words.not_parts]
    if action in {"disconnect", "reconnect"}:
        pool = [n for n in pool if n.kind == "connector" or "electrical" in words.classes_of(n.part)] or pool
    if not pool:
        return []
    if plural or count is not None:
        several = [n for n in pool if n.kind in {"fastener", "connector"} or n.plural or (n.count or 0) > 1]
        if action in {"remove", "refit", "loosen", "tighten"}:  # what is counted without a noun is screwed
            several = [n for n in several if n.kind == "fastener"] or several
        if several:
            return [replace(several[-1], count=count, plural=True, first=-1, last=-1)]
    others = [n for n in pool if n.kind != "fastener"]
    chosen = others[-1] if others else pool[-1]
    return [replace(chosen, count=count, first=-1, last=-1)]


def _act(
    mark: Placed,
    name: Name,
    sentence: Sentence,
    parts: tuple[Clause, ...],
    names: tuple[Name, ...],
    words: Words,
    memory: Memory,
) -> Act | None:
    action, part, kind = mark.mark.action, name.part, name.kind
    if action in {"isolate", "restore_power", "close", "open"}:
        action, part, kind = _supply(action, name, mark, sentence, parts, words)
    elif action in _THINGS_OF:
        part, kind = _object(action, name, mark, sentence, parts, words)
    elif (
        action == "measure"
        and (not part or name.bare or part in words.not_parts)
        and grammar().patterns["earth"].search(sentence.text)
    ):
        part, kind = "earth", "part"
    elif (
        part in {"plug", "mains plug", "power cord", "cord"}
        and action in {"disconnect", "reconnect", "remove", "refit"}
        and (
            not name.plural
            and (name.count or 1) == 1
            and (
                not any(a.kind == "connector" and a.action == "disconnect" for a in memory.acts[-12:]) or part != "plug"
            )
        )
    ):
        action, part, kind = (
            ("isolate" if action in {"disconnect", "remove"} else "restore_power"),
            "power supply",
            "part",
        )
    elif action in {"disconnect", "reconnect"} and kind == "part" and "electrical" in words.classes_of(part):
        part, kind = f"{part.removesuffix(' motor')} connector", "connector"
    if kind == "fastener":
        action = _AS_FASTENER.get(action, action)
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
    if (
        not part
        or (action == "other" and mark.mark.status == "advised")
        or (action == "open" and part.endswith("door"))
    ):
        return None  # how it is to be used; doors stand open by themselves
    clause = next((c for c in parts if c.first <= mark.first < c.last), parts[0])
    holds = None
    count = name.count
    if kind == "fastener":
        part, holds = split_fastener(replace(name, part=part), words)
        if count is None and not name.plural and name.first >= 0:
            count = 1.0
    owner = next((n for f, e in mark.holds for n in names if n.first < e and f < n.last and n.kind != "fastener"), None)
    if owner is None and mark.holds:
        f, e = mark.holds[0]
        texts = [singular(t.text) for t in sentence.tokens[f:e] if t.text not in grammar().words["lead"]]
        owner = Name(part=" ".join(texts), kind="part", first=f, last=e) if texts else None
    if owner is not None and owner.part in words.not_parts:
        owner = None
    if owner is None and kind in {"fastener", "connector"} and name.first >= 0:
        owner = holder_of(Clause(sentence=sentence, first=0, last=len(sentence.tokens), joint=""), name, names)
    if owner is not None and kind == "fastener":
        holds = completed(owner, memory, words).part
    elif owner is not None and kind == "connector" and name.bare:
        part = f"{owner.part} {part}"
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
        span=clause.span(),
        visit=sentence.visit,
        count=count,
        plural=name.plural,
        holds=holds,
        new=name.new,
        remaining=name.remaining,
    )


def _supply(
    action: Action, name: Name, mark: Placed, sentence: Sentence, parts: tuple[Clause, ...], words: Words
) -> tuple[Action, str, ItemKind]:
    said = " ".join(t.text for t in sentence.tokens[name.first : name.last]) + " / " + name.part
    if not name.part or not any(_speaks(s.words | s.bare, said) for s in words.supplies):
        clause = next((c for c in parts if c.first <= mark.first < c.last), parts[0])
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
    default = _THINGS_OF[action]
    if action == "run_test" and "defrost" in {
        t.text for a, b in (*mark.things, (mark.first, mark.last)) for t in sentence.tokens[a:b]
    }:
        return "defrost", "part"
    if action == "run_test":
        clause = next((c for c in parts if c.first <= mark.first < c.last), parts[0])
        for phrase in words.phrases:
            if phrase.act == action and phrase.part != default and phrase.pattern.search(clause.text):
                return phrase.part, "part"
    if action in {"charge", "recover", "evacuate"} or not name.part:
        return default, "part"
    if name.part in words.appliances or name.part in words.not_parts or name.part == "everything":
        return default, "part"
    if (
        action == "run_test"
        and not words.classes_of(name.part) & {"electrical", "heater"}
        and "ice maker" not in name.part
    ):
        return default, "part"
    return name.part, name.kind


def _held(act: Act, found: list[tuple[Act, Placed]], words: Words, memory: Memory) -> Act:
    """The act with what its fastener holds, where the words leave that to be understood."""
    if act.kind != "fastener" or act.holds:
        return act
    near = next(
        (
            a.part
            for a, _ in found
            if a.kind in {"part", "seal", "tube"} and a.part not in {"power supply", "everything"}
        ),
        None,
    )
    near = near or next((a.holds for a, _ in found if a.kind == "fastener" and a.holds), None)
    if near is None and act.action == "refit":  # it goes back where as many came out and are out still
        near = _still_out(act, memory)
    return replace(act, holds=near or cover_named(memory, words) or memory.holder)


def _still_out(act: Act, memory: Memory) -> str | None:
    out: dict[str, float] = {}
    for old in memory.acts:
        if old.kind == "fastener" and old.part == act.part and old.holds and old.status in {"done", "narrated"}:
            moved = (old.count or 0) * (1 if old.action == "remove" else -1 if old.action == "refit" else 0)
            out[old.holds] = out.get(old.holds, 0) + moved
    fits = [holds for holds, left in out.items() if left > 0 and (act.count is None or left == act.count)]
    recent = memory.holder if memory.holder in out and out[memory.holder] > 0 else None
    return recent or (fits[-1] if len(fits) == 1 else None)


def doubted(found: Commitment) -> bool:
    """True where the rules hear a cue that takes the assertion away."""
    return found.status not in {"done", "narrated"}
