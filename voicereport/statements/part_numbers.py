"""Part numbers: announced by their name, or spelled beside the new part that they belong to."""

from __future__ import annotations

from collections.abc import Sequence

from voicereport.statements.announced import (
    SIGNS_APART,
    Announced,
    Heard,
    PartNumber,
    announcements,
    bare,
    is_sound,
    text_of,
    value_after,
    value_announced,
    value_before,
    words_of,
)
from voicereport.statements.tables import tells, told_tables
from voicereport.statements.tokens import Sentence
from voicereport.wording.identifiers import Identifier, begins_identifier, is_gas, read_identifier, read_in_full

_SIGNS_USED = 4  #: the least signs of a number beside a part that was used


def part_numbers(sentence: Sentence, before: Heard | None = None) -> tuple[PartNumber, ...]:
    """The part numbers of a sentence, of parts fitted or at hand. before: the sentence before it."""
    if tells("part_number", "not_fitted", sentence.text):
        return ()
    named = _named(sentence)
    found = named or [f for f in (_unnamed(sentence, before),) if f is not None]
    return tuple((f.value, f.first, f.last) for f in found)


def part_number(sentence: Sentence, before: Heard | None = None) -> PartNumber | None:
    """The first part number of a sentence. before: the sentence before it."""
    return next(iter(part_numbers(sentence, before)), None)


def _named(sentence: Sentence) -> list[Identifier]:
    """The numbers of a sentence beside the words that announce them."""
    table, words = told_tables()["part_number"], sentence.words
    if told_tables()["announced"]["doubt"].search(sentence.text):
        match = table["number"].search(sentence.text)
        full = read_in_full(words, words_of(sentence, match)[1]) if match else None
        return [full[0]] if full is not None and full[1] else []
    number = tells("part_number", "number", sentence.text)
    every = [words_of(sentence, m) for m in table["number"].finditer(sentence.text)] if number else []
    if not every and tells("part_number", "any", sentence.text) and (match := table["any"].search(sentence.text)):
        every = [words_of(sentence, match)]
    out = []
    for n, (first, last) in enumerate(every):
        end = every[n + 1][0] if n + 1 < len(every) else len(words)
        found = value_after(words[:end], Announced("part_number", first, last))
        if found is not None:
            out.append(found)
    if not out and every and number:
        place = Announced("part_number", *every[0])
        out = [found for found in (value_before(sentence, place, 0),) if found is not None]
    return out


def _unnamed(sentence: Sentence, before: Heard | None) -> Identifier | None:
    """A number that the sentence before announced, or that stands beside a new part."""
    table, words = told_tables()["part_number"], sentence.words
    found = None
    if before is not None and before.announced == "part_number":
        named = any(m.end() == len(before.sentence.text) for m in table["number"].finditer(before.sentence.text))
        found = value_announced(sentence, "part_number", len(words), named=named)
    if any(not a.weak for a in announcements(sentence)):
        return found
    if found is None and tells("part_number", "new", sentence.text):
        found = _of_new(sentence)
    if found is None and tells("part_number", "used", sentence.text) and not table["tool"].search(sentence.text):
        found = _of_new(sentence, apart=True)
    if found is None and before is not None and not before.parts and before.sentence.segment is sentence.segment:
        found = _of_new(sentence, whole=True) if table["new"].search(before.sentence.text) else None
    return found


def announces_part(sentence: Sentence) -> bool:
    """ "Part number for the sheet.": the number follows in the next sentence."""
    return tells("part_number", "number", sentence.text) and not sentence.question


def _of_new(sentence: Sentence, *, whole: bool = False, apart: bool = False) -> Identifier | None:
    """ "New relay's in, P R double four": letters, then figures, with no word after them.

    whole: the sentence before speaks of the new part, and this one is nothing but its number ("T H dash two two.").
    apart: a comma or words such as "with a" must part the number from the part ("used a start relay, P R four four B").
    """
    words, table = sentence.words, told_tables()["part_number"]
    for at in range(len(words)):
        if at and not begins_identifier(words, at):
            continue
        found = read_identifier(words, at, reach=0)
        if table["connector"].search(text_of(sentence, 0, at)):
            continue
        if found is None or found.first > at or (apart and not _is_beside(sentence, at, found)):
            continue
        after = table["after"].search(text_of(sentence, found.last, len(words)))
        ends = found.last == len(words) or words[found.last - 1].endswith((",", ";")) or after
        if whole and (found.last < len(words) or not _code_only(words[:at])):
            return None
        if ends and is_sound(words, found, SIGNS_APART) and found.value[0].isalpha() and not is_gas(found):
            return found
    return None


def _is_beside(sentence: Sentence, at: int, found: Identifier) -> bool:
    """True where a number at word `at` is long enough to be one, and stands apart from the part that was used."""
    if not at or len(found.value) < _SIGNS_USED:
        return False
    if sentence.words[at - 1][-1:] == ",":
        return True
    pattern = told_tables()["part_number"]["beside"]
    return any(pattern.search(text_of(sentence, at - n, at)) for n in (1, 2) if n <= at)


def _code_only(words: Sequence[str]) -> bool:
    return all(told_tables()["part_number"]["lead"].search(bare(w)) for w in words)
