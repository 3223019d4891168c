"""Work order, model, serial and part number: announced before the value, after it, or in the sentence before."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from voicereport.statements.tables import told_tables
from voicereport.statements.tokens import Sentence
from voicereport.statements.values import Identity
from voicereport.transcript import span
from voicereport.wording.identifiers import (
    Identifier,
    begins_identifier,
    corrects,
    counts,
    has_figure,
    is_gas,
    read_identifier,
)

Name = Literal["work_order", "model", "serial", "part_number"]
_FIELDS: tuple[Name, ...] = ("work_order", "model", "serial")
_SIGNS: dict[Name, int] = {"work_order": 2, "model": 2, "serial": 3, "part_number": 2}  #: the least a value has
_SIGNS_APART = 3  #: the least, where words stand between the value and what announces it
_LONGEST_LEAD = 6  #: words before a value that the sentence before announced


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """A sentence, and what it did for the fields of the job."""

    sentence: Sentence
    found: tuple[Identity, ...] = ()  #: the fields that it stated
    announced: Name | None = None  #: a field that it spoke of without a value
    part: tuple[str, int, int] | None = None  #: a part number that it said, and the words [first, last) of it
    alone: Identity | None = None  #: a time that only its standing alone, here or before, makes the time worked
    acts: int = 0  #: acts that were said before `alone`


@dataclass(frozen=True, slots=True)
class _Announced:
    """Words [first, last) of a sentence that announce a field. weak: words with other meanings, too."""

    field: Name
    first: int
    last: int
    weak: bool = False


def identity(sentence: Sentence, before: Heard | None = None, known: Collection[str] = ()) -> Heard:
    """What a sentence states of the job. before: the last sentence; known: the fields that were said already."""
    part = part_number(sentence, before)
    if (again := _anew(sentence, before)) is not None:
        return again
    places = [a for a in _announcements(sentence) if not (a.weak and a.field in known)]
    out = [*_lead(sentence, before, places)]
    trailing = _trail(sentence, places)
    for place, begin, end in _regions(sentence, places):
        found = _value(sentence, place, begin, end, trailing=trailing)
        if found is None:
            continue
        own = _identity(sentence, place.field, found)
        if not any(i.span.first < own.span.last and own.span.first < i.span.last for i in out):
            out.append(own)
    if not out and before is not None and (late := _late(sentence, before, places)) is not None:
        return Heard(sentence=sentence, found=(late,))
    open_fields = [a.field for a in places if not any(i.field == a.field for i in out)]
    announced = open_fields[-1] if len(open_fields) == 1 and _announces(sentence, open_fields[0], known) else None
    if part is None and announced is None and _announces_part(sentence):
        announced = "part_number"
    return Heard(sentence=sentence, found=tuple(out), announced=announced, part=part)


def _identity(sentence: Sentence, field: Name, found: Identifier) -> Identity:
    where = span(sentence.segment, sentence.first + found.first, sentence.first + found.last)
    return Identity(field=field, value=found.value, span=where, visit=sentence.visit)  # type: ignore[arg-type]


def _words_of(sentence: Sentence, match: re.Match[str]) -> tuple[int, int]:
    """The words [first, last) of the sentence that a match of its text stands in."""
    at, inside = 0, []
    for token in sentence.tokens:
        if at < match.end() and at + len(token.text) > match.start():
            inside.append(token.word - sentence.first)
        at += len(token.text) + 1
    return (inside[0], inside[-1] + 1) if inside else (0, 0)


def _found(sentence: Sentence, table: str, field: Name) -> Iterator[_Announced]:
    pattern = told_tables()[table].get(field)
    for match in pattern.finditer(sentence.text) if pattern is not None else ():
        first, last = _words_of(sentence, match)
        yield _Announced(field, first, last, weak=table == "weak")


def _announcements(sentence: Sentence) -> list[_Announced]:
    """What announces a field, in the order of speech; two fields announced together announce neither."""
    out: list[_Announced] = []
    for table in ("fields", "weak"):
        for field in _FIELDS:
            unless = told_tables()["look_alikes"][field]
            if unless.search(sentence.text):
                continue
            out += [
                a for a in _found(sentence, table, field) if not any(a.first < o.last and o.first < a.last for o in out)
            ]
    out.sort(key=lambda a: a.first)
    joint = {
        n
        for n, (one, two) in enumerate(pairwise(out))
        if one.field != two.field
        and all(_bare(w) in {"and", "the", "its"} for w in sentence.words[one.last : two.first])
    }
    return [a for n, a in enumerate(out) if n not in joint and n - 1 not in joint]


def _regions(sentence: Sentence, places: Sequence[_Announced]) -> Iterator[tuple[_Announced, int, int]]:
    """Each announcement with the words [begin, end) between the announcements beside it."""
    for n, place in enumerate(places):
        begin = places[n - 1].last if n else 0
        end = places[n + 1].first if n + 1 < len(places) else len(sentence.words)
        yield place, begin, end


def _text(sentence: Sentence, first: int, last: int) -> str:
    return " ".join(t.text for t in sentence.tokens if first <= t.word - sentence.first < last)


def _bare(word: str) -> str:
    return word.strip(".,;:?!").lower().replace("'", "’")


def _trail(sentence: Sentence, places: Sequence[_Announced]) -> bool:
    """True where every announcement follows its value ("Q X ninety is the model and four oh one is the serial")."""
    if len(places) < 2 or _after(sentence.words, places[-1]) is not None:
        return False
    return all(_before(sentence, place, begin) is not None for place, begin, _ in _regions(sentence, places))


def _value(sentence: Sentence, place: _Announced, begin: int, end: int, *, trailing: bool) -> Identifier | None:
    """The value that an announcement has after it, or else before it. trailing: before it in any case."""
    doubt = told_tables()["announced"]["doubt"]
    found = None if trailing else _after(sentence.words[:end], place)
    if found is not None:
        first, last = _clause_start(sentence, place, begin), _beside(sentence, found.last, end)
        return None if doubt.search(_text(sentence, first, last)) else found
    found = _before(sentence, place, begin)
    return None if found is None or doubt.search(_text(sentence, begin, end)) else found


def _clause_start(sentence: Sentence, place: _Announced, begin: int) -> int:
    """Where the clause of an announcement begins, at `begin` at the earliest."""
    at = place.first
    while at > begin and sentence.words[at - 1][-1:] not in ",;:":
        at -= 1
    return at


def _beside(sentence: Sentence, at: int, end: int) -> int:
    """Where the clause after a value ends, which ends at `at`: before the next announcement in any case."""
    words, commas = sentence.words, 0
    for n in range(at - 1, end):
        if words[n][-1:] in ",;:":
            commas, at = commas + 1, n + 1
            if commas == 2:
                return at
    return end if end == len(words) or commas == 0 else at


def _sound(words: Sequence[str], found: Identifier | None, least: int) -> bool:
    return found is not None and has_figure(found) and len(found.value) >= least and not counts(words, found)


def _after(words: Sequence[str], place: _Announced) -> Identifier | None:
    """The value in the words after an announcement, of which `words` are those up to the next one."""
    at, least = place.last, _SIGNS_APART if place.weak else _SIGNS[place.field]
    while at < len(words):
        found = read_identifier(words, at, reach=0 if place.weak else 8)
        if found is None:
            return None
        if _sound(words, found, least):
            return found
        if place.weak:
            return None
        at, least = max(found.last, at + 1), 4
    return None


def _before(sentence: Sentence, place: _Announced, begin: int) -> Identifier | None:
    """The value that ends just before an announcement, or with nothing but small words between ("... is the model")."""
    table, words, end = told_tables()["between"], sentence.words, place.first
    while end > begin and table["any"].search(_bare(words[end - 1])) and not _capital(words[end - 1]):
        end -= 1
    between = _text(sentence, end, place.first)
    says = bool(table["says"].search(between))
    after = _text(sentence, place.last, len(words))
    if not says and between and not _ends(sentence, place, after):
        return None
    if place.field == "work_order" and table["place"].search(between) and not says:
        return None
    if place.weak and not says:
        return None
    for at in range(begin, end):
        if at > begin and not begins_identifier(words, at):
            continue
        found = read_identifier(words[:end], at, reach=0)
        if found is not None and found.last == end:
            least = _SIGNS[place.field] if at == begin else _SIGNS_APART
            return found if _sound(words, found, least) else None
    return None


def _capital(word: str) -> bool:
    """A letter of an identifier rather than the article "a"."""
    return len(word.strip(".,;:")) == 1 and word[:1].isupper()


def _ends(sentence: Sentence, place: _Announced, after: str) -> bool:
    """Nothing follows an announcement that would make a clause of it ("the serial I cannot read")."""
    comma = sentence.words[place.last - 1][-1:] in ",;:."
    return not after or comma or told_tables()["announced"]["at_end"].search(after) is not None


def _lead(sentence: Sentence, before: Heard | None, places: Sequence[_Announced]) -> list[Identity]:
    """The value at the head of a sentence that the sentence before announced."""
    if before is None or before.announced is None or before.announced == "part_number" or sentence.question:
        return []
    own = _announcements(before.sentence)
    named = bool(own) and own[-1].last == len(before.sentence.words)
    end = places[0].first if places else len(sentence.words)
    found = _announced_value(sentence, before.announced, end, named=named)
    if found is None or told_tables()["announced"]["doubt"].search(_text(sentence, 0, found.last)):
        return []
    return [_identity(sentence, before.announced, found)]


def _announced_value(sentence: Sentence, field: Name, end: int, *, named: bool = False) -> Identifier | None:
    """The value that the words up to `end` are, after small words, or a few of any kind where it has letters, too.

    named: the sentence before ended with the field's name, so that a comma may end the value ("Job No. 5512, ...").
    """
    words = sentence.words
    while end and _bare(words[end - 1]) in {"and", "the", "its", "so"}:
        end -= 1
    for at in range(min(end, _LONGEST_LEAD + 1)):
        if at and not begins_identifier(words, at):
            continue
        found = read_identifier(words[:end], at, reach=0)
        whole = found is not None and (found.last == end or (named and words[found.last - 1].endswith(",")))
        if found is None or not whole or not _sound(words, found, _SIGNS_APART if named else _SIGNS[field]):
            continue
        soft = told_tables()["announced"]["soft"]
        lead = [t.text for t in sentence.tokens if t.word - sentence.first < found.first]
        if all(soft.search(t) for t in lead) or (len(found.value) >= _SIGNS_APART and not found.value.isdigit()):
            return found
    return None


def _late(sentence: Sentence, before: Heard, places: Sequence[_Announced]) -> Identity | None:
    """The value of a sentence that is nothing else, announced by a sentence that is nothing but that ("Serial.")."""
    only = told_tables()["announced"]["only"]
    if len(places) != 1 or before.found or sentence.question or before.sentence.question:
        return None
    place = places[0]
    rest = [t.text for t in sentence.tokens if not place.first <= t.word - sentence.first < place.last]
    if not all(only.search(t) for t in rest) or (place.weak and not rest):
        return None
    found = _announced_value(before.sentence, place.field, len(before.sentence.words))
    return None if found is None else _identity(before.sentence, place.field, found)


def _anew(sentence: Sentence, before: Heard | None) -> Heard | None:
    """ "No, four four two one": the value that the sentence before stated, said anew."""
    if before is None or sentence.question or not corrects(sentence.words):
        return None
    old = next((i for i in reversed(before.found) if i.field in _FIELDS), None)
    if old is None or old.span.segment != before.sentence.segment.id or _announcements(sentence):
        return None
    told = [w.word for w in before.sentence.segment.words[old.span.first : old.span.last]]
    joined = [*told[:-1], told[-1].rstrip(".!,") + ",", *sentence.words]
    found = read_identifier(joined, reach=0)
    if found is None or found.last <= len(told) or found.value == old.value or not _sound(joined, found, 2):
        return None
    shift = len(told)
    own = replace(found, first=0, last=found.last - shift)
    if own.last < len(sentence.words) and sentence.words[own.last - 1][-1:] not in ",;:":
        return None
    value = _identity(sentence, old.field, own)  # type: ignore[arg-type]
    return Heard(sentence=sentence, found=(value,))


def _announces(sentence: Sentence, field: Name, known: Collection[str]) -> bool:
    """True where a field without its value may have it in the next sentence."""
    table = told_tables()["announced"]
    return (
        field not in known
        and not sentence.question
        and not table["doubt"].search(sentence.text)
        and not table["casual"].search(sentence.text)
    )


def _announces_part(sentence: Sentence) -> bool:
    """ "Part number for the sheet.": the number follows in the next sentence."""
    return told_tables()["part_number"]["number"].search(sentence.text) is not None and not sentence.question


def part_number(sentence: Sentence, before: Heard | None = None) -> tuple[str, int, int] | None:
    """A part number and the words it stands in, counted in the sentence. before: the sentence before it."""
    table, words = told_tables()["part_number"], sentence.words
    match = table["any"].search(sentence.text)
    found = None
    if match is not None and told_tables()["announced"]["doubt"].search(sentence.text) is None:
        place = _Announced("part_number", *_words_of(sentence, match))
        found = _after(words, place)
        if found is None and table["number"].search(sentence.text):
            found = _before(sentence, place, 0)
    if found is None and before is not None and before.announced == "part_number":
        found = _announced_value(sentence, "part_number", len(words))
    if found is None and table["new"].search(sentence.text):
        found = _of_new(words)
    if found is None and before is not None and before.part is None and before.sentence.segment is sentence.segment:
        found = _of_new(words, whole=True) if table["new"].search(before.sentence.text) else None
    return (found.value, found.first, found.last) if found is not None else None


def _of_new(words: Sequence[str], *, whole: bool = False) -> Identifier | None:
    """ "New relay's in, P R double four": letters, then figures, with no word after them.

    whole: the sentence before speaks of the new part, and this one is nothing but its number ("T H dash two two.").
    """
    for at in range(len(words)):
        if at and not begins_identifier(words, at):
            continue
        found = read_identifier(words, at, reach=0)
        if found is None or found.first > at:
            continue
        ends = found.last == len(words) or words[found.last - 1].endswith((",", ";"))
        if whole and (found.last < len(words) or not _code_only(words[:at])):
            return None
        if ends and _sound(words, found, _SIGNS_APART) and found.value[0].isalpha() and not is_gas(found):
            return found
    return None


def _code_only(words: Sequence[str]) -> bool:
    return all(told_tables()["part_number"]["lead"].search(_bare(w)) for w in words)
