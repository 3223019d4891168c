"""What announces a field of the job, and the value before or after it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Literal

from voicereport.statements.tables import told_tables
from voicereport.statements.tokens import Sentence
from voicereport.statements.values import Identity
from voicereport.wording.identifiers import (
    Identifier,
    begins_identifier,
    counts,
    has_figure,
    is_time,
    read_identifier,
)

Name = Literal["work_order", "model", "serial", "part_number"]
PartNumber = tuple[str, int, int]  #: a part number, and the words [first, last) of the sentence that it stands in
FIELDS: tuple[Name, ...] = ("work_order", "model", "serial")
SIGNS: dict[Name, int] = {"work_order": 2, "model": 2, "serial": 3, "part_number": 2}  #: the least a value has
SIGNS_APART = 3  #: the least, where words stand between the value and what announces it
_CLITIC = re.compile(r"['’]s$")
_REACH = 12  #: words that may stand between an announcement and its value
_LONGEST_LEAD = 6  #: words before a value that the sentence before announced


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """A sentence, and what it did for the fields of the job."""

    sentence: Sentence
    found: tuple[Identity, ...] = ()  #: the fields that it stated
    announced: Name | None = None  #: a field that it spoke of without a value
    parts: tuple[PartNumber, ...] = ()  #: the part numbers that it said
    mends: str = ""  #: the part number of the sentence before that its own takes the place of
    alone: Identity | None = None  #: a time that only its standing alone, here or before, makes the time worked
    acts: int = 0  #: acts that were said before `alone`
    amends: Heard | None = None  #: the sentence before, which this one only takes back ("No.")
    silent: int = 0  #: sentences of small talk since `announced`


@dataclass(frozen=True, slots=True)
class Announced:
    """Words [first, last) of a sentence that announce a field. weak: words with other meanings, too."""

    field: Name
    first: int
    last: int
    weak: bool = False


@lru_cache(maxsize=8)
def announcements(sentence: Sentence) -> tuple[Announced, ...]:
    """What announces a field, in the order of speech; two fields announced together announce neither.

    "Model and serial" does so, "..., that's the model, and the serial's ..." does not.
    """
    out: list[Announced] = []
    for table in ("fields", "weak"):
        for field in FIELDS:
            found = list(_found(sentence, table, field))
            if found and not _is_alike(sentence, field):
                out += [a for a in found if not any(a.first < o.last and o.first < a.last for o in out)]
    out.sort(key=lambda a: a.first)
    joint = {
        n
        for n, (one, two) in enumerate(pairwise(out))
        if one.field != two.field
        and sentence.words[one.last - 1][-1:] != ","
        and all(bare(w) in {"and", "the", "its"} for w in sentence.words[one.last : two.first])
    }
    return tuple(a for n, a in enumerate(out) if n not in joint and n - 1 not in joint)


def _is_alike(sentence: Sentence, field: Name) -> bool:
    """True where words that announce a field speak of something else ("the last job", "which model")."""
    tables, text = told_tables(), sentence.text
    unasked = tables["unasked"].get(field)
    asks = not sentence.question and unasked is not None and unasked.search(text) is not None
    return asks or tables["look_alikes"][field].search(text) is not None


def _found(sentence: Sentence, table: str, field: Name) -> Iterator[Announced]:
    pattern = told_tables()[table].get(field)
    for match in pattern.finditer(sentence.text) if pattern is not None else ():
        first, last = words_of(sentence, match)
        yield Announced(field, first, last, weak=table == "weak")


def words_of(sentence: Sentence, match: re.Match[str]) -> tuple[int, int]:
    """The words [first, last) of the sentence that a match of its text stands in."""
    at, inside = 0, []
    for token in sentence.tokens:
        if at < match.end() and at + len(token.text) > match.start():
            inside.append(token.word - sentence.first)
        at += len(token.text) + 1
    return (inside[0], inside[-1] + 1) if inside else (0, 0)


def text_of(sentence: Sentence, first: int, last: int) -> str:
    return " ".join(t.text for t in sentence.tokens if first <= t.word - sentence.first < last)


def bare(word: str) -> str:
    return word.strip(".,;:?!").lower().replace("'", "’")


def is_sound(words: Sequence[str], found: Identifier | None, least: int) -> bool:
    if found is None or not has_figure(found) or len(found.value) < least:
        return False
    return not counts(words, found) and not is_time(words, found)


def value_after(words: Sequence[str], place: Announced) -> Identifier | None:
    """The value in the words after an announcement, of which `words` are those up to the next one."""
    at, least = place.last, SIGNS_APART if place.weak else SIGNS[place.field]
    while at < len(words):
        found = read_identifier(words, at, reach=0 if place.weak else _REACH)
        if found is None:
            return None
        if is_sound(words, found, least):
            return found
        if place.weak:
            return None
        at, least = max(found.last, at + 1), 4
    return None


def value_before(sentence: Sentence, place: Announced, begin: int) -> Identifier | None:
    """The value that ends just before an announcement, or with nothing but small words between ("... is the model")."""
    table, words, end = told_tables()["between"], list(sentence.words), place.first
    while end > begin and table["any"].search(bare(words[end - 1])) and not _capital(words[end - 1]):
        end -= 1
    words[end - 1 : end] = [_CLITIC.sub("", w) for w in words[end - 1 : end]]
    between = text_of(sentence, end, place.first)
    says = bool(table["says"].search(between))
    after = text_of(sentence, place.last, len(words))
    apart = words[end - 1][-1:] in ",;:" if end else False
    if not says and (between or apart) and not _ends(sentence, place, after):
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
            least = SIGNS[place.field] if at == begin else SIGNS_APART
            return found if is_sound(words, found, least) else None
    return None


def _capital(word: str) -> bool:
    """A letter of an identifier rather than the article "a"."""
    return len(word.strip(".,;:")) == 1 and word[:1].isupper()


def _ends(sentence: Sentence, place: Announced, after: str) -> bool:
    """Nothing follows an announcement that would make a clause of it ("the serial I cannot read")."""
    comma = sentence.words[place.last - 1][-1:] in ",;:."
    return not after or comma or told_tables()["announced"]["at_end"].search(after) is not None


def value_announced(sentence: Sentence, field: Name, end: int, *, named: bool = False) -> Identifier | None:
    """The value that the words up to `end` are, after small words, or a few of any kind where it has letters, too.

    named: the sentence before ended with the field's name, so that a comma may end the value ("Job No. 5512, ...").
    """
    words = sentence.words
    while end and bare(words[end - 1]) in {"and", "the", "its", "so"}:
        end -= 1
    for at in range(min(end, _LONGEST_LEAD + 1)):
        if at and not begins_identifier(words, at):
            continue
        found = read_identifier(words[:end], at, reach=0)
        whole = found is not None and (found.last == end or (named and words[found.last - 1].endswith(",")))
        if found is None or not whole or not is_sound(words, found, SIGNS_APART if named else SIGNS[field]):
            continue
        soft = told_tables()["announced"]["soft"]
        lead = [t.text for t in sentence.tokens if t.word - sentence.first < found.first]
        if all(soft.search(t) for t in lead) or (len(found.value) >= SIGNS_APART and not found.value.isdigit()):
            return found
    return None
