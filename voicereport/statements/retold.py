"""Acts of a line that only tell once more what another act of it tells, or ask what it answers."""

from __future__ import annotations

from collections.abc import Sequence

from voicereport.statements.grammar import grammar
from voicereport.statements.names import OBJECT_WORDS
from voicereport.statements.settling import INWARD
from voicereport.statements.tokens import Sentence, Token
from voicereport.statements.values import MOVED, Act
from voicereport.trades.words import Words

_SUPPLIES = frozenset({"isolate", "restore_power"})


def is_retold(act: Act, acts: Sequence[Act], told: Sequence[Sentence], words: Words) -> bool:
    """Whether an act of a line, whose acts are `acts`, is told by another one of them.

    "Motor's in, three screws, tight": nobody tightened them besides. "New valve's in. Valve's on its bracket." "Pulling
    the drawers, three. Three out." "Fan plug. Did I push it home? It's in." told: the sentences of the line.
    """
    here = next(n for n, a in enumerate(acts) if a is act)
    before, after = [a for a in acts[:here] if a.status in MOVED], acts[here + 1 :]
    if act.action in _SUPPLIES or act.part == "water supply":
        return False
    if act.status == "unclear":
        return _is_answered(act, after, told)
    if act.status not in MOVED:
        return False
    if act.action == "tighten":
        inward = any(a.action in INWARD and (a.kind == act.kind or a.part == act.part) for a in before)
        return inward and act.status == "done" and not _says(act, told, words, sense="tighten")
    if act.action == "refit" and act.kind == "part" and act.count is None and not act.plural:
        return any(a.action == "replace" and a.part == act.part for a in before)
    ends = (later for later in after if _is_end_of(later, act) and not _is_elsewhere(later, act, told))
    return any(ends) and _is_going_on(act, told, words)


def _is_answered(act: Act, after: Sequence[Act], told: Sequence[Sentence]) -> bool:
    """ "Bottle rack, did that go in? It did, it's in." """
    asked = next((s.question for s in told if s.begins(act.span)), False)
    same = ((a.action, a.part) == (act.action, act.part) and a.status == "done" for a in after)
    return bool(asked) and any(same)


def _is_end_of(later: Act, act: Act) -> bool:
    """Whether a later act may be the end of what is going on in another: "Backing two screws out. Both out." """
    same = (act.part, act.kind, act.status) == (later.part, later.kind, later.status)
    undone = act.kind == "fastener" and {act.action, later.action} == {"loosen", "remove"}
    count = act.count is None or later.count in {None, act.count}
    holder = act.holds is None or later.holds in {None, act.holds}
    # of an end without a number the number is lost: "pulling two plugs. They're off"
    counted = act.count is None or later.count is not None
    return same and (act.action == later.action or undone) and count and counted and holder and act.span != later.span


def _is_elsewhere(later: Act, act: Act, told: Sequence[Sentence]) -> bool:
    """Whether the words of a later act name a place or more of them: "two out on the left. Two on the right." """
    lists = grammar().words
    other = lists["sides"] | lists["implied_where"] | lists["placed_at"] | lists["further"]
    said = {t.text for t in _tokens_of(later, told)}
    before = {t.text for s in told if s.begins(act.span) for t in s.tokens}
    return bool((said - before - set(act.part.split())) & other)


def _is_going_on(act: Act, told: Sequence[Sentence], words: Words) -> bool:
    """Whether the words of an act say that it was being done: "backing them out", "drawers coming out"."""
    going = grammar().words["going_on"]
    return any(
        t.text not in act.part.split()
        and (t.text in going or any(f.tense == "ing" for f in words.verbs.get(t.text, ())))
        for t in _tokens_of(act, told)
    )


def _says(act: Act, told: Sequence[Sentence], words: Words, *, sense: str) -> bool:
    """Whether the words of an act have a verb of that sense: "snugged them", "I snug those two", not "snug"."""
    tokens = _tokens_of(act, told)
    for n, token in enumerate(tokens):
        tenses = {f.tense for f in words.verbs.get(token.text, ()) if f.sense == sense}
        near = {t.text for t in tokens[max(0, n - 1) : n]} & {"i", "we"} or {t.text for t in tokens[n + 1 : n + 2]}
        if tenses - {"base"} or (tenses and near & (OBJECT_WORDS | {"i", "we", "these", "up"})):
            return True
    return False


def _tokens_of(act: Act, told: Sequence[Sentence]) -> list[Token]:
    """The tokens that an act rests on."""
    own = next((s for s in told if s.begins(act.span)), None)
    return [t for t in own.tokens if act.span.first <= t.word < act.span.last] if own is not None else []
