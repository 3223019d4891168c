"""Sentences, acts and marks made by hand, for tests of the rules that come after the reader."""

from __future__ import annotations

from voicereport.report import Action, ItemKind, StepStatus
from voicereport.statements.placing import Placed
from voicereport.statements.reader import Mark
from voicereport.statements.tokens import Sentence, sentences, whole_of
from voicereport.statements.values import Act
from voicereport.trades import load_trade
from voicereport.transcript import Segment, spread

WORDS = load_trade("domestic-refrigeration").words


def sentence_of(line: str) -> Sentence:
    segment = Segment(id="s1", recording="r1", start=0.0, end=5.0, heard=line, text=line, words=spread(line, 0.0, 5.0))
    return sentences(segment, 1)[0]


def act(
    line: str,
    action: Action,
    part: str,
    *,
    kind: ItemKind = "fastener",
    count: float | None = None,
    holds: str | None = None,
    status: StepStatus = "done",
    plural: bool = False,
) -> Act:
    return Act(action=action, part=part, kind=kind, status=status, span=whole_of(sentence_of(line)).span(),
               count=count, holds=holds, plural=plural)  # fmt: skip


def mark(line: str, word: str, thing: str | None = None, holder: str | None = None) -> Placed:
    """A mark on `word` of the line, whose thing and holder are those words of it."""
    texts = [t.text for t in sentence_of(line).tokens]

    def place(words: str | None) -> tuple[tuple[int, int], ...]:
        if words is None:
            return ()
        first = next(n for n in range(len(texts)) if " ".join(texts[n:]).startswith(words))
        return ((first, first + len(words.split())),)

    at = place(word)[0]
    made = Mark(action="remove", status="done", sure=1.0, status_sure=1.0, first=0, last=0)
    return Placed(mark=made, first=at[0], last=at[1], things=place(thing), holds=place(holder), counts=())
