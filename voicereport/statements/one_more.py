"""Connectors of which one more is found: "all five off. No, wait, there's a sixth"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from voicereport.statements.grammar import grammar
from voicereport.statements.tokens import Sentence, line_text
from voicereport.statements.values import MOVED, Act
from voicereport.wording.numbers import find_numbers

_OFF = MOVED | {"retracted"}  #: the reader takes the count back, which leaves what came apart as it is


def finds_one_more(sentence: Sentence) -> bool:
    """Whether the line of a sentence finds one more of what it counted."""
    return grammar().patterns["one_more"].search(line_text(sentence)) is not None


def one_more(sentence: Sentence, acts: Sequence[Act]) -> Act | None:
    """The last act with the count that a sentence corrects, or None: it took apart all but the one that is found.

    "There's a sixth" counts on from five only; "there's another one" from any number. Without a word of surprise
    before it ("wait", "oh") it tells what there is.
    """
    match = grammar().patterns["one_more"].search(sentence.text)
    last = acts[-1] if acts else None
    if match is None or last is None or last.kind != "connector" or last.action != "disconnect":
        return None
    if last.count is None or last.status not in _OFF or last.span.segment != sentence.segment.id:
        return None
    number = next((n for n in find_numbers([match["which"]]) if n.style == "ordinal"), None)
    if number is not None and number.value != last.count + 1:
        return None
    return replace(last, count=last.count + 1, status="done" if last.status == "retracted" else last.status)
