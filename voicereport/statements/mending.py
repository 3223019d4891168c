"""A value of the sentence before, said anew or gone on with: "no, four four two one", "then bravo seven seven"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from voicereport.statements.announced import FIELDS, Heard, Name, announcements, is_sound
from voicereport.statements.tables import told_tables
from voicereport.statements.tokens import Sentence
from voicereport.statements.values import Identity
from voicereport.transcript import span
from voicereport.wording.identifiers import Identifier, corrects, read_identifier
from voicereport.wording.retraction import correction_at

_LEAST_OVER = 3  #: signs of a value that is said over from its start


@dataclass(frozen=True, slots=True)
class _Said:
    """What the sentence before stated: its value, and the words that it was dictated by."""

    field: Name
    value: str
    words: Sequence[str]
    ends: bool  #: nothing follows it in its sentence


def stated(sentence: Sentence, field: Name, found: Identifier) -> Identity:
    """A value of a field of the job with the words of the sentence that it rests on."""
    where = span(sentence.segment, sentence.first + found.first, sentence.first + found.last)
    return Identity(field=field, value=found.value, span=where, visit=sentence.visit)  # type: ignore[arg-type]


def mended(sentence: Sentence, before: Heard | None) -> Heard | None:
    """The sentence where it says the value of the one before anew, in part or in whole, or goes on with it."""
    if before is None or sentence.question or announcements(sentence):
        return None
    if (before.found or before.parts) and _takes_back(sentence):
        return Heard(sentence=sentence, amends=before)
    lead = ["no,"] if before.amends is not None else []
    before, words = before.amends or before, [*lead, *sentence.words]
    old = _said(before)
    if old is None:
        return None
    if old.ends and (over := _said_over(sentence, old)) is not None:
        return _instead(sentence, old, over)
    anew = corrects(words)
    goes_on = told_tables()["announced"]["goes_on"].search(sentence.text) is not None
    if not (anew or (goes_on and old.ends)):
        return None
    told = len(old.words) + len(lead)
    joined = [*old.words[:-1], old.words[-1].rstrip(".!,") + ",", *words]
    found = read_identifier(joined, reach=0)
    if found is None or found.last <= told or found.value == old.value or not is_sound(joined, found, 2):
        return None
    if not anew and not (found.value.startswith(old.value) and found.value[len(old.value) :]):
        return None
    own = replace(found, first=0, last=found.last - told)
    if own.last < len(sentence.words) and sentence.words[own.last - 1][-1:] not in ",;:":
        return None
    return _instead(sentence, old, own)


def _said_over(sentence: Sentence, old: _Said) -> Identifier | None:
    """The value that begins with the one before, which was broken off ("Job six one oh." "Um, six one oh four.")."""
    words = sentence.words
    found = read_identifier(words, reach=0)
    if found is None or not is_sound(words, found, _LEAST_OVER):
        return None
    closed = found.last == len(words) or words[found.last - 1][-1:] in ",;:"
    longer = len(found.value) > len(old.value) >= _LEAST_OVER - 1
    return found if closed and longer and found.value.startswith(old.value) else None


def _instead(sentence: Sentence, old: _Said, own: Identifier) -> Heard:
    """A sentence whose value takes the place of the one before."""
    if old.field == "part_number":
        return Heard(sentence=sentence, parts=((own.value, own.first, own.last),), mends=old.value)
    return Heard(sentence=sentence, found=(stated(sentence, old.field, own),))


def _takes_back(sentence: Sentence) -> bool:
    """A sentence of nothing but a correction ("No.", "Hang on, no.")."""
    found = correction_at(sentence.words, 0)
    return found is not None and found.end == len(sentence.words)


def _said(before: Heard) -> _Said | None:
    """What the sentence before stated last."""
    words = before.sentence.segment.words
    old = next((i for i in reversed(before.found) if i.field in FIELDS), None)
    if old is not None and old.span.segment == before.sentence.segment.id:
        told = [w.word for w in words[old.span.first : old.span.last]]
        return _Said(old.field, str(old.value), told, old.span.last == before.sentence.last)  # type: ignore[arg-type]
    if old is None and before.parts:
        value, first, last = before.parts[-1]
        own = before.sentence.words
        return _Said("part_number", value, own[first:last], last == len(own))
    return None
