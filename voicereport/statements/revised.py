"""Readings that a later sentence says anew or says of another thing: "Forty ohms. Make that forty four"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

from voicereport.report import QuantityName
from voicereport.statements.grammar import grammar
from voicereport.statements.names import Name
from voicereport.statements.tokens import Sentence
from voicereport.statements.values import Measured
from voicereport.trades.words import Words
from voicereport.transcript import span
from voicereport.wording.numbers import Number, find_numbers

_NEAR = 15.0  #: seconds from a reading to the words that say it of another thing
_SAME: frozenset[QuantityName] = frozenset({"resistance", "current", "capacitance", "power"})


def without_broken_off(before: Sequence[Measured], new: Sequence[Measured]) -> list[Measured]:
    """`before` less a last value that broke off and was said whole: "eleven hundred. Eleven hundred and six ohms"."""
    out = list(before)
    if out and new and out[-1].unit_assumed and not new[0].unit_assumed:
        last, first = out[-1], new[0]
        said, whole = (re.findall(r"[\w.]+", m.spoken.lower()) for m in (last, first))
        if last.span.segment == first.span.segment and last.quantity == first.quantity and whole[: len(said)] == said:
            out.pop()
    while out and new and _counts_up(out[-1], new[0]):
        out.pop()
    return out


def _counts_up(last: Measured, new: Measured) -> bool:
    """A mass read off while it rose to the one charged: "fifty, fifty five, stop. Fifty eight grams are in"."""
    mass = last.quantity == new.quantity == "mass" and last.unit == new.unit and last.span.segment == new.span.segment
    bare = last.unit_assumed and not new.unit_assumed
    return mass and bare and last.value is not None and new.value is not None and last.value < new.value


def revised(
    before: Sequence[Measured], new: Sequence[Measured], sentence: Sentence
) -> tuple[list[Measured], list[Measured]]:
    """The readings before a sentence and those of it, where it says the last one before it anew.

    "Thirty ohms. Thirty three, sorry" is one reading of 33 ohms; it keeps the subject where the second names none.
    """
    last = before[-1] if before else None
    number = _said_anew(sentence, last) if last is not None and last.value is not None else None
    if last is None or number is None or not _may_be(last, number.value):
        return list(before), list(new)
    first, end = sentence.first + number.first, sentence.first + number.last
    own = next((m for m in new if m.span.first < end and first < m.span.last), None)
    if own is not None and (own.quantity != last.quantity or own.value_high is not None):
        return list(before), list(new)
    if own is None or own.unit_assumed or own.unit == last.unit:
        whole = span(sentence.segment, first, end)
        anew = replace(last, value=number.value, value_high=None, decimals=number.decimals, qualifier="exact",
                       spoken=whole.quote.strip(".,;"), span=whole)  # fmt: skip
    else:
        anew = replace(own, subject=last.subject, stage=last.stage)
    return list(before[:-1]), [anew, *(m for m in new if m is not own)]


def same_of_another(
    just_before: Sequence[Measured], sentence: Sentence, names: Sequence[Name], words: Words
) -> list[Measured]:
    """The one reading of the sentence before, where this one says it of another thing: "Same again on the other coil".

    None of what confirms a check of the highest kind: only electrical values, of electrical things.
    """
    said = grammar().patterns["same_reading"].search(sentence.text)
    if len(just_before) != 1 or sentence.question or said is None:
        return []
    last, part = just_before[0], names[0].part if names else said["of"]
    near = sentence.segment.start - last.span.end < _NEAR and last.span.recording == sentence.segment.recording
    electrical = "electrical" in words.classes_of(part) or grammar().patterns["electrical"].search(said["of"])
    if not near or part == last.subject or last.quantity not in _SAME or not electrical:
        return []
    own = span(sentence.segment, sentence.first, sentence.last)
    return [replace(last, subject=part, span=own, spoken=own.quote.strip(".,;"), limit_low=None, limit_high=None)]


def _said_anew(sentence: Sentence, last: Measured) -> Number | None:
    """The number of a sentence that takes the place of the one before: "No, thirty three", "Thirty three, sorry"."""
    words, patterns = sentence.words, grammar().patterns
    numbers = [n for n in find_numbers(words) if n.style not in ("ordinal", "clock")]
    if len(numbers) != 1 or sentence.question or not _is_just_before(last, sentence):
        return None
    number = numbers[0]
    if number.last < len(words) and words[number.last - 1][-1] not in ",.;":
        return None
    before = _plain(w.word for w in sentence.segment.words[last.span.last : sentence.first + number.first])
    if not number.first and patterns["revalued"].search(_plain(words[number.last :])):
        return number
    own = _plain(words[: number.first])
    return number if any(x and patterns["revalues"].search(x + " ") for x in (own, before)) else None


def _plain(words: Iterable[str]) -> str:
    """Words for the expressions, as sentences give them: lower case, without punctuation, clitics apart."""
    return re.sub(r"['’](s|m|d|ve|re|ll)\b", r" ’\1", " ".join(re.sub(r"[.,;:!?]", "", w.lower()) for w in words))


def _is_just_before(last: Measured, sentence: Sentence) -> bool:
    """No other number was said between the reading and the sentence, and both stand in one line."""
    if last.span.segment != sentence.segment.id or last.span.last > sentence.first:
        return False
    between = [w.word for w in sentence.segment.words[last.span.last : sentence.first]]
    return len(between) <= 6 and not find_numbers(between)


def _may_be(last: Measured, value: float) -> bool:
    """No temperature that an appliance does not reach in either scale."""
    return last.quantity != "temperature" or -60 <= value <= 350
