"""What a sentence only says of a thing, where no act is told: damage as it was found, what is given up, experience."""

from __future__ import annotations

from voicereport.statements.grammar import grammar
from voicereport.statements.placing import Placed
from voicereport.statements.tokens import Sentence
from voicereport.statements.values import MOVED, Act

_IS = frozenset({"’s", "is", "was", "has", "had", "are", "were", "have", "’ve"})
_PERSONS = frozenset({"i", "we"})


def is_described(act: Act, mark: Placed, sentence: Sentence) -> bool:
    """Whether words that were marked as an act only say how a thing is, or what happens elsewhere."""
    told = _given_up(act, mark, sentence) or _broken_off(act, mark, sentence) or _met_with(act, sentence)
    return told or _only_counted(act, sentence)


def _given_up(act: Act, mark: Placed, sentence: Sentence) -> bool:
    """ "The board's past saving": nobody repairs it; "it's past repair, so I fitted a new one" tells an act besides."""
    near = " ".join(t.text for t in sentence.tokens[max(0, mark.first - 3) : mark.last])
    return act.action in {"repair", "replace"} and grammar().patterns["beyond"].search(near) is not None


def _broken_off(act: Act, mark: Placed, sentence: Sentence) -> bool:
    """ "The flap's broken off its hinge": it was found so; "I've broken it off" is an act."""
    if act.action not in {"remove", "peel", "disconnect"} or act.kind == "fastener" or act.status not in MOVED:
        return False
    texts = [t.text for t in sentence.tokens]
    lead = texts[max(0, mark.first - 3) : mark.first]
    if not set(lead) & _IS or set(lead) & _PERSONS or "hand" in texts or "hands" in texts:
        return False
    broken = grammar().patterns["broken_off"]
    starts = (max(0, mark.first - 1), mark.first)
    return any(broken.search(" ".join(texts[k:end])) for k in starts for end in (mark.last, mark.last + 1))


def _met_with(act: Act, sentence: Sentence) -> bool:
    """ "I never had one of these fail a ground check": no test of this job was left out."""
    return act.status == "not_done" and grammar().patterns["experience"].search(sentence.text) is not None


def _only_counted(act: Act, sentence: Sentence) -> bool:
    """ "On the drawing it's six screws", "two more and it would be off": how many there are or may be, none moved."""
    moves = act.action in {"remove", "refit"} and act.status in MOVED
    return moves and grammar().patterns["only_counted"].search(sentence.text) is not None
