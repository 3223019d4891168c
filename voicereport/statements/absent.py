"""Fasteners that did not go back, by their place in the count: "two screws in, the third one snapped"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from voicereport.statements.grammar import grammar
from voicereport.statements.tokens import Sentence
from voicereport.statements.values import MOVED, Act
from voicereport.wording.numbers import find_numbers


def without_absent(here: Sequence[Act], sentences: Sequence[Sentence]) -> list[Act]:
    """The acts of a line without the fastener that it says is not in: "one's in, and the second I'll put in later".

    Only where the line says nothing of having it after all ("the fourth rolled off, found it, in").
    """
    acts = list(here)
    for sentence in sentences:
        number = _absent(sentence)
        if number is None or sentence.question or _is_said(number, sentences):
            continue
        whole = [a for a in acts if _goes_back(a) and a.count == number]
        if len(whole) == 1:
            less = replace(whole[0], count=number - 1, plural=number > 2)
            acts = [less if a is whole[0] else a for a in acts]
            continue
        rest = [a for a in acts if _goes_back(a) and a.count == number - 1]
        own = [a for a in acts if _goes_back(a) and a.count == 1 and sentence.begins(a.span) and a not in rest]
        if len(rest) == 1 and len(own) == 1 and own[0].holds == rest[0].holds:
            acts = [a for a in acts if a is not own[0]]
    return acts


def _goes_back(act: Act) -> bool:
    return act.kind == "fastener" and act.action == "refit" and act.status in MOVED


def _absent(sentence: Sentence) -> float | None:
    """The place in the count of the one that the sentence says is not in."""
    text = sentence.text
    found = grammar().patterns["nth_absent"].search(text)
    if found is None or not grammar().words["regained"].isdisjoint(text[found.end() :].split()):
        return None
    nth = find_numbers([found["nth"] or found["later"]])
    return nth[0].value if nth else 2.0  # a "second" by itself may be one of time


def _is_said(number: float, sentences: Sequence[Sentence]) -> bool:
    """Whether the line says the number itself, too: "the fifth rolled off. Five in"."""
    texts = [t.text for s in sentences for t in s.tokens]
    return any(n.value == number and n.style != "ordinal" for w in texts for n in find_numbers([w]))
