"""A number in doubt, put right by what was said again; a bare answer, read as part of a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from voicereport.requests.said import Said
from voicereport.transcript import Segment, Word, spread
from voicereport.wording.numbers import Number, find_numbers

if TYPE_CHECKING:
    from voicereport.report import Evidence

_SHORT = 8  #: words; a longer utterance is no bare answer


def bare_number(words: Sequence[Word]) -> Number | None:
    """The one number that a short utterance is about, None where it has none or several, or says more."""
    texts = [word.word for word in words]
    found = find_numbers(texts) if len(texts) <= _SHORT else []
    values = {number.value for number in found}
    return found[-1] if len(values) == 1 else None


def put_right(said: Sequence[Said], place: Evidence, answer: Number) -> list[Said] | None:
    """What was said, with the number in doubt at `place` as the answer has it; None where it is not found.

    Only `text` and `words` change: what was heard stays.
    """
    out = list(said)
    for n, one in enumerate(said):
        segment = one.segment
        if one.kind == "content" and segment.start - 0.05 <= place.start and place.end <= segment.end + 0.05:
            found = _right(segment, place, answer)
            if found is not None:
                out[n] = replace(one, segment=found)
                return out
    return None


def _right(segment: Segment, place: Evidence, answer: Number) -> Segment | None:
    words = segment.words
    for number in find_numbers([word.word for word in words]):
        own = words[number.first : number.last]
        inside = own[0].start >= place.start - 0.05 and own[-1].end <= place.end + 0.05
        if inside and any(word.alternative is not None for word in own):
            same = number.value == answer.value
            new = tuple(replace(w, alternative=None) for w in own) if same else _said_so(own, answer)
            changed = (*words[: number.first], *new, *words[number.last :])
            return replace(segment, words=changed, text=" ".join(word.word for word in changed))
    return None


def _said_so(own: Sequence[Word], answer: Number) -> tuple[Word, ...]:
    """The answer in the place of the words `own`, with the mark that follows them."""
    last = own[-1].word
    mark = last[len(last.rstrip(".,;:?!")) :]
    return spread(written(answer) + mark, own[0].start, own[-1].end)


def written(number: Number) -> str:
    """A number in digits, with as many decimals as were spoken."""
    text = f"{abs(number.value):.{number.decimals}f}"
    return f"minus {text}" if number.value < 0 else text


def completed(segment: Segment, sentence: str) -> Segment:
    """The segment read as `sentence`, {answer} standing for its words; `heard` stays as it was."""
    answer = segment.text.strip().rstrip(".?!")
    before, _, after = sentence.partition("{answer}")
    lead = tuple(Word(word=w, start=segment.start, end=segment.start) for w in before.split())
    tail = tuple(Word(word=w, start=segment.end, end=segment.end) for w in f"{after}.".split())
    own = (*segment.words[:-1], replace(segment.words[-1], word=segment.words[-1].word.rstrip(".?!,")))
    if lead:
        own = (replace(own[0], word=within(own[0].word)), *own[1:])
    words = (*lead, *own, *tail)
    if tail and tail[0].word == ".":
        words = (*lead, *own[:-1], replace(own[-1], word=own[-1].word + "."))
    return replace(segment, words=words, text=" ".join(word.word for word in words)) if answer else segment


def within(text: str) -> str:
    """Words that began a sentence, within one: without the capital that only the beginning gave them."""
    first = text.split(" ", 1)[0]
    named = any(c.isdigit() for c in first) or first.startswith(("I'", "I’"))
    plain = first == "A" or (first[1:].islower() and not named)
    return text[:1].lower() + text[1:] if plain else text
