"""Acts: what was done to which thing, clause by clause, with what the words before leave to be understood."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace

from voicereport.report import Action, ItemKind
from voicereport.statements.commitment import Commitment
from voicereport.statements.grammar import grammar
from voicereport.statements.names import Name, names_in, pins_of
from voicereport.statements.pointing import Mention
from voicereport.statements.predicates import Predicate, predicates
from voicereport.statements.tokens import Clause, Sentence
from voicereport.statements.values import Act
from voicereport.trades.words import Words
from voicereport.wording.numbers import find_numbers
from voicereport.wording.quantities import find_quantities

_OUT: dict[ItemKind, Action] = {
    "part": "remove",
    "fastener": "remove",
    "connector": "disconnect",
    "seal": "remove",
    "tube": "remove",
    "wiring": "loosen",
}
_IN: dict[ItemKind, Action] = {
    "part": "refit",
    "fastener": "refit",
    "connector": "reconnect",
    "seal": "refit",
    "tube": "refit",
    "wiring": "refit",
}
_OUTWARD = frozenset({"remove", "disconnect", "peel", "loosen", "open", "cut"})
_INWARD = frozenset({"refit", "reconnect", "reseal", "replace"})


@dataclass(slots=True)
class Memory:
    """What the sentences before leave to be understood."""

    acts: list[Act] = field(default_factory=list)
    holder: str | None = None  #: the part last taken off or put on: screws without a holder are its
    things: list[Name] = field(default_factory=list)  #: last named, latest last
    sense: str | None = None  #: sense of the last sentence's last act
    named: list[str] = field(default_factory=list)  #: full names spoken, latest last
    sorts: dict[str, str] = field(default_factory=dict)  #: connectors by their pins: "unplugged it, it's a four pin"
    mentions: list[Mention] = field(default_factory=list)  #: names of the last lines where they stand, latest last
    headed: str | None = None  #: what a sentence began with and did nothing to: "Now, the back cover inside."
    several: tuple[str, str] = ("", "")  #: the line and the singular of what it is headed with, alone: "Hinges."


def action_for(sense: str, name: Name, words: Words) -> Action:
    """The contract's action for a sense and the thing it is done to."""
    classes = words.classes_of(name.part)
    if sense in {"in", "fit"} and name.new and name.kind != "fastener":
        return "replace"
    if sense == "fit":
        return _IN[name.kind]
    if sense in {"out", "unplug"}:
        if sense == "unplug" and name.kind not in {"fastener", "seal", "wiring"}:
            return "disconnect"
        return _OUT[name.kind]
    if sense == "unclip":
        return {"connector": "disconnect", "wiring": "loosen", "part": "remove", "tube": "remove"}.get(
            name.kind, "remove"
        )  # type: ignore[return-value]
    if sense in {"in", "plug"}:
        return "reconnect" if sense == "plug" and name.kind not in {"fastener", "seal"} else _IN[name.kind]
    if sense == "open" and "cover" in classes:
        return "remove"
    if sense == "check":
        return "measure" if classes & {"earth"} else "inspect"
    if sense == "loosen" and name.kind == "wiring":
        return "loosen"
    return sense  # type: ignore[return-value]


def holder_of(clause: Clause, name: Name, names: tuple[Name, ...]) -> Name | None:
    """The thing that a fastener or connector in this clause belongs to by a preposition ("out of the panel")."""
    tokens = clause.sentence.tokens
    wanted = grammar().words["holder_words"]
    for other in names:
        if other is name or other.kind in {"fastener"} or other.first < name.last:
            continue
        between = [t.text for t in tokens[max(name.last, clause.first) : other.first]]
        between = [w for w in between if w not in {"the", "a", "its", "that", "my", "your", "each", "corner", "all"}]
        if between and (between[-1] in wanted | {"hold", "holds", "holding"} or " ".join(between[-2:]) in wanted):
            return other
    for other in names:
        if other.last <= name.first and other.kind != "fastener":
            between = [t.text for t in tokens[other.last : name.first]]
            if any(w in {"held", "has", "had", "’s", "with", "holds"} for w in between):
                return other
    return None


def located(clause: Clause, name: Name) -> bool:
    """True where a preposition stands before the name: it says where, and nothing is done to it."""
    tokens = clause.sentence.tokens
    i = name.first - 1
    while i >= clause.first and tokens[i].text in {
        "the",
        "a",
        "an",
        "its",
        "that",
        "my",
        "your",
        "each",
        "both",
        "two",
        "three",
        "four",
        "this",
    }:
        i -= 1
    return (
        i >= clause.first
        and tokens[i].text
        in {
            "of",
            "along",
            "from",
            "on",
            "in",
            "at",
            "to",
            "behind",
            "under",
            "around",
            "into",
            "across",
            "onto",
            "off",
            "through",
            "by",
            "inside",
            "over",
            "round",
            "above",
            "below",
        }
        and not tokens[i].mark
    )


def split_fastener(name: Name, words: Words) -> tuple[str, str | None]:
    """ "hinge screw" is a screw that holds the hinge; a hose clamp is a kind of its own."""
    parts = name.part.split()
    for n in (3, 2, 1):
        tail = tuple(parts[-n:])
        if len(parts) >= n and tail in words.heads and words.heads[tail].kind == "fastener":
            rest = tuple(parts[:-n])
            if not rest:
                return " ".join(tail), None
            return " ".join(tail), " ".join(rest) if words.thing(rest) is not None else None
    return name.part, None


@dataclass(frozen=True, slots=True)
class Group:
    """Things and what is said of them."""

    names: tuple[Name, ...]
    predicate: Predicate
    clause: Clause
    commitment: Commitment
    owners: tuple[tuple[Name, Name], ...] = ()  #: (fastener or connector, what it belongs to)
    holder: str | None = None  #: the part that the sentence takes off or puts on beside its fasteners


def _count_alone(clause: Clause) -> float | None:
    raw = [t.text for t in clause.tokens]
    if find_quantities(raw):
        return None
    numbers = [n for n in find_numbers(raw) if n.value == int(n.value) and 0 < n.value <= 60]
    if numbers:
        return numbers[-1].value
    return 2.0 if "both" in raw else None


def _pronoun(clause: Clause, predicate: Predicate, memory: Memory, pending: list[Name], words: Words) -> list[Name]:
    """What "it", "them", "both", "all six" or a number alone stand for."""
    texts = [t.text for t in clause.tokens]
    count = _count_alone(clause)
    sets = grammar().words
    plural = any(t in sets["plural_pronouns"] for t in texts) or (count is not None and count > 1)
    pool = [n for n in pending or memory.things[-5:] if n.part not in words.not_parts]
    if predicate.sense in {"unplug", "plug"}:
        pool = [n for n in pool if n.kind == "connector" or "electrical" in words.classes_of(n.part)]
    if not pool or (
        predicate.sense in {"measure", "check", "inspect", "clean", "close", "open", "adjust", "cut"}
        and not pending
        and predicate.active is False
    ):
        return []
    if plural or count is not None:
        several = [n for n in pool if n.kind in {"fastener", "connector"} or n.plural or (n.count or 0) > 1]
        if pending and not several:
            return list(pending)
        if several:
            chosen = several[-1]
            if pending and count is None and "all" not in texts:
                return several
            return [replace(chosen, count=count if count is not None else chosen.count, plural=True)]
        return [replace(pool[-1], count=count)] if count else [pool[-1]]
    if any(t in sets["single_pronouns"] for t in texts):
        parts = [n for n in pool if n.kind != "fastener"]
        return [parts[-1]] if parts else [pool[-1]]
    return list(pending)


def groups(
    sentence: Sentence,
    parts: tuple[Clause, ...],
    found: tuple[Commitment, ...],
    words: Words,
    memory: Memory,
    taken: frozenset[int],
) -> list[Group]:
    """Things with their predicates, for one sentence; clauses in `taken` belong to a whole phrase."""
    out: list[Group] = []
    pending: list[Name] = []
    pending_owners: list[tuple[Name, Name]] = []
    for n, clause in enumerate(parts):
        if n in taken:
            pending = []
            continue
        names = tuple(expanded(x, memory) for x in names_in(clause, words) if x.known)
        memory.named += [x.part for x in names if x.kind != "fastener" and not x.bare]
        owners = [(x, o) for x in names if x.kind in {"fastener", "connector"} and (o := holder_of(clause, x, names))]
        owned = {id(o) for _, o in owners}
        names = tuple(x for n, x in enumerate(names) if not (n and located(clause, x)) or id(x) in owned)
        free = [
            x
            for x in names
            if id(x) not in owned or (x.kind in {"part"} and any(x.first < f.first for f, o in owners if o is x))
        ]
        saids = predicates(clause, words)
        if not saids:
            pending += free
            pending_owners += owners
            if out and not _subject_follows(parts, n, words, taken) and free:
                last = out[-1]
                ok = [x for x in free if x.kind in {"fastener", "seal"} or clause.joint in {"and", "plus"}]
                if ok and last.predicate.sense not in {"measure", "check", "inspect", "clean"}:
                    out.append(Group(tuple(ok), last.predicate, clause, found[n], tuple(owners)))
                    pending = [x for x in pending if x not in ok]
            continue
        for k, said in enumerate(saids):
            begin = clause.first if k == 0 else saids[k - 1].at + 1
            end = saids[k + 1].at if k + 1 < len(saids) else clause.last
            mine = [x for x in free if (begin <= x.first < end)]
            if said.active:
                after = [x for x in mine if x.first > said.at]
                before = [x for x in mine if x.last <= said.at]
                if before and not after and not _fronted(clause, before[-1], said):
                    continue
                things = after or before
            else:
                before = [x for x in mine if x.first < said.at]
                things = before or [x for x in mine if x.first > said.at and x.kind in {"fastener"}]
            if not things:
                things = _pronoun(clause, said, memory, pending, words)
            elif pending and (clause.joint in {"and", ",", ""}) and not said.active:
                things = [x for x in pending if x not in things] + things
            elif pending and not said.verb:
                things = pending + things
            if things:
                out.append(Group(tuple(things), said, clause, found[n], tuple(pending_owners + owners)))
                memory.things = [*memory.things[-6:], *things]
            pending, pending_owners = [], []
    out = _with_holders(out)
    if pending:
        memory.things = [*memory.things[-6:], *pending]
        fasteners = [x for x in pending if x.kind == "fastener" and x.count]
        if (
            fasteners
            and not out
            and memory.sense in {"in", "out", "fit", "plug", "replace"}
            and len(sentence.tokens) <= 6
        ):
            said = Predicate(
                sense="in" if memory.sense != "out" else "out", at=0, particle=None, active=False, verb=False
            )
            out.append(Group(tuple(fasteners), said, parts[-1], found[-1], tuple(pending_owners)))
    return out


def _with_holders(found: list[Group]) -> list[Group]:
    """Screws named apart from their part belong to the nearest part of the sentence that something was done to."""
    parts = [(n, name.part) for n, g in enumerate(found) for name in g.names if name.kind in {"part", "seal"}]
    out = []
    for n, group in enumerate(found):
        near = sorted(parts, key=lambda p: (abs(p[0] - n), p[0] < n))
        out.append(replace(group, holder=near[0][1]) if near else group)
    return out


def expanded(name: Name, memory: Memory) -> Name:
    """A bare noun stands for the thing of that noun that was spoken of last ("the motor")."""
    if not name.bare or name.kind == "fastener":
        return name
    for earlier in reversed(memory.named):
        if earlier != name.part and earlier.split()[-1] == name.part.split()[-1] and pins_of(earlier) is None:
            return replace(name, part=earlier, bare=False)
    if name.part == "motor":  # of the fan that was spoken of
        fan = next((n for n in reversed(memory.named[-40:]) if n.endswith(" fan")), None)
        if fan is None and any("fan" in p.split() for p in (*memory.named[-40:], *(n.part for n in memory.things))):
            fan = "fan"
        if fan is not None:
            return replace(name, part=f"{fan} motor", bare=False)
    if name.kind == "connector" and name.part != "plug" and memory.named:
        topic = next(
            (
                n
                for n in reversed(memory.named[-3:])
                if n.endswith((" motor", " heater", " sensor", " board", " valve"))
            ),
            None,
        )
        if topic:
            return replace(name, part=f"{topic.removesuffix(' motor')} {name.part}", bare=False)
    return name


def _fronted(clause: Clause, name: Name, said: Predicate) -> bool:
    """True where the thing acted on stands first, and somebody acts between it and the verb."""
    between = [t.text for t in clause.sentence.tokens[name.last : said.at]]
    return any(w in {"i", "we"} for w in between)


def _subject_follows(parts: tuple[Clause, ...], n: int, words: Words, taken: frozenset[int]) -> bool:
    """A later clause of the sentence has a predicate without a thing of its own."""
    for later in range(n + 1, len(parts)):
        if later in taken:
            return False
        if predicates(parts[later], words):
            return not any(x.known for x in names_in(parts[later], words))
    return False


def cover_named(memory: Memory, words: Words) -> str | None:
    """The cover named last, if that was not long ago."""
    return next((n for n in reversed(memory.named[-3:]) if "cover" in words.classes_of(n)), None)


def _passed_over(name: Name, group: Group, words: Words) -> bool:
    """Things that nothing was done to: whole appliances, lamps that are off, tested things after the first."""
    sense = group.predicate.sense
    if name.part in words.not_parts or any(name.part.endswith(" " + n) for n in ("pin", "wall")):
        return True
    if name.part in words.lamps and not group.predicate.verb:
        return True
    if name.part in words.appliances or (
        name.part in {"refrigerant", "sealed system", "earth"} and sense in {"out", "in", "fit", "open", "close"}
    ):
        return sense not in {"check", "measure", "inspect", "clean", "thaw", "adjust"}
    return sense in {"check", "measure"} and name is not group.names[0]


def acts_of(group: Group, words: Words, memory: Memory, visit: int) -> list[Act]:
    """The acts that a group says, one a thing."""
    out: list[Act] = []
    owners = {(f.first, f.kind): o for f, o in group.owners}
    holder = next((x.part for x in reversed(group.names) if x.kind not in {"fastener", "connector"}), None)
    for name in group.names:
        if _passed_over(name, group, words):
            continue
        action = action_for(group.predicate.sense, name, words)
        part, holds = name.part, None
        owner = owners.get((name.first, name.kind))
        if name.kind == "fastener":
            part, holds = split_fastener(name, words)
            holds = (
                owner.part if owner else holds or holder or group.holder or cover_named(memory, words) or memory.holder
            )
            if action == "reconnect" or action == "disconnect":
                action = "refit" if action == "reconnect" else "remove"
            if action == "replace" and not name.new:
                action = "refit"
        elif name.kind == "connector" and owner is not None and name.bare:
            part = f"{owner.part} {name.part}"
        span = group.clause.span()
        out.append(
            Act(
                action=action,
                part=part,
                kind=name.kind,
                status=group.commitment.status,
                span=span,
                visit=visit,
                count=name.count,
                plural=name.plural,
                holds=holds,
                new=name.new,
                remaining=name.remaining,
            )
        )
    return out


def phrase_acts(
    sentence: Sentence, parts: tuple[Clause, ...], found: tuple[Commitment, ...], words: Words, visit: int
) -> tuple[list[Act], frozenset[int]]:
    """Acts that whole phrases name, and the clauses that they took."""
    out: list[Act] = []
    taken: set[int] = set()
    for n, clause in enumerate(parts):
        text = clause.text
        for phrase in words.phrases_for(text):
            match = phrase.pattern.search(text)
            if match is None or (phrase.unless and phrase.unless.search(text)):
                continue
            status = found[n].status
            if status == "done" and phrase.imperative and phrase.imperative.search(text) and found[n].why != "carried":
                status = "narrated"
            elif status == "narrated" and not (phrase.imperative and phrase.imperative.search(text)):
                status = "done"
            if any(a.action == phrase.act and a.part == phrase.part and a.status == status for a in out):
                taken.add(n)
                continue
            if any(a.part == phrase.part == "power supply" and a.span == clause.span() for a in out):
                continue
            out.append(
                Act(action=phrase.act, part=phrase.part, kind="part", status=status, span=clause.span(), visit=visit)
            )
            taken.add(n)
    return out, frozenset(taken)


def still_off(acts: Sequence[Act], head: str, out: Collection[Action], back: Collection[Action]) -> list[str]:
    """The things whose name ends in `head` that went out by one of these actions and not back since, latest last."""
    off: list[str] = []
    for act in acts:
        if act.status not in {"done", "narrated"} or act.part.split()[-1] != head:
            continue
        if act.action in out or act.action in back:
            off = [*(p for p in off if p != act.part), *([act.part] if act.action in out else [])]
    return off


_OPPOSITE = frozenset(
    "remove disconnect peel open loosen cut refit reconnect reseal replace close tighten isolate restore_power".split()  # noqa: SIM905
)


def without_recaps(acts: list[Act], memory: Memory) -> list[Act]:
    """Acts that say again what the sentence or the ones before said are dropped."""
    out: list[Act] = []
    for act in acts:
        if act.count is None and _again(act, [*memory.acts[-6:], *out][-6:]):
            continue
        out.append(act)
    return out


def _same_plug(act: Act, other: Act) -> bool:
    """Whether two connectors of one line are of the same part: "did I plug the motor in? Yeah, motor plug's on"."""
    if act.kind != "connector" or other.kind != "connector" or act.span.segment != other.span.segment:
        return False
    one, two = ({*a.part.split()[:-1]} - {"motor"} for a in (act, other))
    return act.part != other.part and bool(one) and one == two


def _again(act: Act, earlier: list[Act]) -> bool:
    """True where `earlier`, the acts just before, say the same, and nothing has undone it since."""
    for n, other in enumerate(reversed(earlier)):
        same_part = act.part == other.part or (
            act.part.split()[-1] == other.part.split()[-1] and len(act.part.split()) == 1
        )
        same_part = same_part or _same_plug(act, other)
        if not same_part or act.holds != other.holds or act.visit != other.visit:
            continue
        if act.location is not None and other.location is not None and act.location != other.location:
            continue
        if act.action == other.action and act.status == other.status:
            return act.action in _OPPOSITE or n == 0 or act.span.segment == other.span.segment
        if act.action in _OPPOSITE and other.action in _OPPOSITE and other.status in {"done", "narrated"}:
            return False
    return False


def remember(memory: Memory, acts: list[Act], words: Words) -> None:
    """Takes a sentence's acts into memory."""
    for act in acts:
        memory.acts.append(act)
        moved = act.action in _OUTWARD | _INWARD and act.status in {"done", "narrated"}
        if moved and act.kind == "part" and act.part != "power supply":
            memory.holder = act.part
        if act.action in _OUTWARD:
            memory.sense = "out"
        elif act.action in _INWARD:
            memory.sense = "in"
