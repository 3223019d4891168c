"""Holders that a line names after its fasteners: "retainer clip off. Start relay off", "one screw behind it, out"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from voicereport.report import Action
from voicereport.statements.grammar import grammar
from voicereport.statements.holding import alike
from voicereport.statements.names import names_in
from voicereport.statements.tokens import Sentence, whole_of
from voicereport.statements.values import MOVED, Act
from voicereport.trades.words import Words

_OFF: frozenset[Action] = frozenset({"remove", "open"})
_BACK: frozenset[Action] = frozenset({"refit", "replace", "close"})


def uncovered(sentences: Sequence[Sentence], acts: Sequence[Act], start: int, words: Words) -> list[Act]:
    """The acts of a line, `acts[start:]`, with fasteners as those of what comes off after them.

    Only where they cannot be of what they were taken to hold: it was off before the line ("retainer clip off. Start
    relay off"), it is a plug, or they lie behind it ("lens off, one screw behind it, out, and the housing's out").
    """
    here = list(acts[start:])
    for n, act in enumerate(here):
        if act.kind != "fastener" or act.action != "remove" or act.status not in MOVED:
            continue
        own = next((s for s in sentences if s.begins(act.span)), None)
        after = _next_off(act, here[n + 1 :])
        if own is None or after is None or not _may_be_moved_on(act, own, sentences, acts[:start], here[:n], words):
            continue
        here[n] = replace(act, holds=after.part)
    return here


def _next_off(act: Act, after: Sequence[Act]) -> Act | None:
    """The part that comes off next, where that is the next thing done but for more fasteners."""
    first = next((a for a in after if a.kind != "fastener"), None)
    if first is None or first.kind != "part" or first.action not in _OFF or first.status not in MOVED:
        return None
    unheld = first.part.split()[-1] in grammar().words["unheld"]
    return None if first.plural or unheld or alike(first.part, act.holds or "") else first


def _may_be_moved_on(
    act: Act, own: Sentence, sentences: Sequence[Sentence], before: Sequence[Act], earlier: Sequence[Act], words: Words
) -> bool:
    """Whether fasteners can only be of something that was not named yet."""
    if act.holds is None:
        return not _named(own, act, words)
    if act.holds.split()[-1] in grammar().words["unscrewed"]:
        return not _says_of(own)
    at = sentences.index(own)
    behind = any(_behind(s) for s in sentences[max(0, at - 1) : at + 1])
    over = grammar().words["uncovering"]
    if behind and any(a.kind == "part" and (alike(a.part, act.holds) or a.part.split()[-1] in over) for a in earlier):
        return True
    told = [a.action for a in before if a.kind == "part" and alike(a.part, act.holds) and a.status in MOVED]
    is_off = told[-1:] != [] and told[-1] in _OFF
    line = [n.part for s in sentences[: at + 1] for n in names_in(whole_of(s), words) if n.known]
    parts = [p for p in line if words.kind_of(p) != "fastener" and p.split()[-1] not in over]
    return is_off and not parts and not any(a.action in _BACK for a in earlier)


def _named(own: Sentence, act: Act, words: Words) -> bool:
    """Whether the sentence of an act names anything but fasteners."""
    return any(n.known and n.kind != "fastener" for n in names_in(whole_of(own), words))


def _says_of(own: Sentence) -> bool:
    """Whether a sentence says of what its fasteners are: "two screws out of the plug"."""
    return bool({"of", "from"} & {t.text for t in own.tokens})


def _behind(own: Sentence) -> bool:
    """Whether a sentence says that its fasteners lie behind what was just named: "behind it", "under that"."""
    texts = [t.text for t in own.tokens]
    hiding, pronouns = grammar().words["hiding"], grammar().words["single_pronouns"]
    return any(a in hiding and (b in pronouns or b in {"there", "the"}) for a, b in pairwise(texts))
