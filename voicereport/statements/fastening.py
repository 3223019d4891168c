"""Fasteners: counts said beside the part that they hold, and what they hold where that is left to be understood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from voicereport.report import Action
from voicereport.statements.acts import Memory, cover_named, split_fastener
from voicereport.statements.grammar import grammar
from voicereport.statements.names import Name
from voicereport.statements.placing import Placed, unmarked
from voicereport.statements.tokens import Sentence, whole_of
from voicereport.statements.values import Act
from voicereport.trades.words import Words
from voicereport.wording.numbers import find_numbers

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


def fastened(
    sentence: Sentence, names: Sequence[Name], found: Sequence[tuple[Act, Placed]], words: Words, memory: Memory
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
    numbers = [
        n
        for n in find_numbers(texts)
        if n.first >= after and n.value == int(n.value) and 0 < n.value <= 60 and n.style not in {"ordinal", "clock"}
    ]
    before = [n for n in find_numbers(texts[:after]) if n.value == act.count]
    return replace(act, count=numbers[-1].value) if numbers and before else act


def held(act: Act, found: list[tuple[Act, Placed]], words: Words, memory: Memory) -> Act:
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
    left_over = [holds for holds, left in out.items() if left > 0]
    if act.status == "not_done" and len(left_over) == 1:
        return left_over[0]
    return recent or (fits[-1] if len(fits) == 1 else None)
