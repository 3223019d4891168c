"""Fasteners: counts said beside the part that they hold, and what they hold where that is left to be understood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from voicereport.report import Action
from voicereport.statements.acts import Memory, split_fastener
from voicereport.statements.grammar import grammar
from voicereport.statements.names import Name
from voicereport.statements.placing import Placed, unmarked
from voicereport.statements.tokens import Sentence, whole_of
from voicereport.statements.values import Act
from voicereport.trades.words import Words, singular
from voicereport.wording.numbers import find_numbers

_OUTWARD = frozenset({"remove", "disconnect", "peel", "open"})


_INWARD = frozenset({"refit", "replace", "reconnect", "reseal"})


def _stated(sentence: Sentence, name: Name, names: Sequence[Name], words: Words) -> tuple[Act, Placed] | None:
    """What a count of fasteners and the preposition after it say without a verb: "ten screws from the outer panel"."""
    after = [t.text for t in sentence.tokens[name.last : name.last + 4]]
    while after and after[0] in grammar().words["in_total"]:
        after = after[1:]
    after = after[:2]
    if not after or name.count is None or sentence.tokens[name.last - 1].mark:
        return None
    if grammar().patterns["describes"].search(" ".join(t.text for t in sentence.tokens[: name.first])):
        return None
    action: Action | None = (
        "remove"
        if after[0] in {"from", "off"} or after == ["out", "of"]
        else "refit"
        if after[0] in {"in", "into", "onto"}
        else None
    )
    owner = next((n for n in names if n.first >= name.last and n.first - name.last <= 5 and n.kind != "fastener"), None)
    if action is None or owner is None or owner.part in words.not_parts:
        return None
    part, _ = split_fastener(name, words)
    clause = whole_of(sentence)
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
    return act, unmarked(act, name.first, name.last)


def _is_left(sentence: Sentence, name: Name) -> bool:
    """Whether what is counted is none at all, or what a thing comes out of.

    "Not a screw in it", "out of its two clips", "pushed on the two pins".
    """
    lists = grammar().words
    small = lists["articles"] | lists["possessives"] | lists["lead"]
    before = [t.text for t in sentence.tokens[: name.last - 1]]
    while before and (before[-1] in small - {"of"} or find_numbers(before[-1:])):
        before.pop()
    if set(before[-1:]) & {"not", "no", "nor", "never", "without"}:
        return True
    if set(before[-1:]) & {"on", "onto", "over"} and name.part.split()[-1] in lists["pegs"]:
        return True  # "the relay's pushed on the two pins"
    out_of = set(before[-1:]) & {"of", "from", "off"} and not find_numbers(before[-2:-1])
    return bool(out_of) and name.part.split()[-1] in lists["gripping"]


def fastened(
    sentence: Sentence,
    names: Sequence[Name],
    found: Sequence[tuple[Act, Placed]],
    words: Words,
    memory: Memory,
    elsewhere: Sequence[tuple[int, int]] = (),
) -> list[tuple[Act, Placed]]:
    """Fasteners that a sentence counts beside the part that it takes off or puts on: "two screws, motor out".

    elsewhere: the tokens of things whose act another sentence of the line says.
    """
    out = []
    for name in names:
        if (
            name.kind != "fastener"
            or any(f < name.last and name.first < e for f, e in elsewhere)
            or (name.count is None and not name.same)
            or _is_left(sentence, name)
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
                    holds=None,
                    new=False,
                    remaining=name.remaining,
                ),
                mark,
            )
        )
    return out


def alike(one: Act, other: Act) -> bool:
    return one.kind == other.kind == "fastener" and one.action == other.action and one.part == other.part


def recounted(act: Act, sentence: Sentence) -> Act:
    """The act with the count that a correction in its sentence ends on: "eight screws, check that, nine"."""
    if act.kind != "fastener" or act.count is None or act.status == "retracted":
        return act
    found = grammar().patterns["recount"].search(sentence.text)
    if found is None:
        return act
    texts = [t.text for t in sentence.tokens]
    after = len(sentence.text[: found.start()].split())
    spoken = [t.text + t.mark for t in sentence.tokens]  # "three, one was missing" is no thirty one
    numbers = [
        n
        for n in find_numbers(spoken)
        if n.first >= after and n.value == int(n.value) and 0 < n.value <= 60 and n.style not in {"ordinal", "clock"}
    ]
    before = [n for n in find_numbers(texts[:after]) if n.value == act.count]
    others = grammar().words["screwed"] - {act.part.split()[-1]}
    if numbers and {singular(t) for t in texts[numbers[-1].last : numbers[-1].last + 1]} & others:
        return act  # "three screws, no washers, four clips"
    return replace(act, count=numbers[-1].value) if numbers and before else act
