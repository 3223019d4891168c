"""Work order, model, serial and part number: announced before the value, after it, or in the sentence before."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from voicereport.statements.announced import (
    Announced,
    Heard,
    Name,
    announcements,
    bare,
    is_sound,
    text_of,
    value_after,
    value_announced,
    value_before,
)
from voicereport.statements.mending import mended, stated
from voicereport.statements.part_numbers import announces_part, part_numbers
from voicereport.statements.tables import told_tables
from voicereport.statements.tokens import Sentence, following
from voicereport.statements.values import Identity
from voicereport.wording.identifiers import Identifier, in_full, is_gas, read_identifier, read_in_full

_SILENT = 2  #: sentences of small talk that may stand between an announcement and its value
_LONGEST_LEAD = 7  #: words before a model that no word announces
_SIGNS_INTRODUCED = 4  #: the least signs of such a model
_SHORT = 6  #: words of such a sentence
_FIGURES = 4  #: the least figures of a work order that nothing announces


def identity(sentence: Sentence, before: Heard | None = None, known: Collection[str] = ()) -> Heard:
    """What a sentence states of the job. before: the last sentence; known: the fields that were said already."""
    if (again := mended(sentence, before)) is not None:
        return again
    parts = part_numbers(sentence, before)
    places = [a for a in announcements(sentence) if not (a.weak and a.field in known)]
    out = [*_lead(sentence, before, places)]
    trailing = _trail(sentence, places)
    for place, begin, end in _regions(sentence, places):
        found = _value(sentence, place, begin, end, trailing=trailing)
        found = _asked_for(sentence, found) if found is not None and sentence.question else found
        if found is None:
            continue
        own = stated(sentence, place.field, found)
        if not any(i.span.first < own.span.last and own.span.first < i.span.last for i in out):
            out.append(own)
    model = None if parts or "model" in known else _introduced(sentence, places)
    if model is not None and not any(i.field == "model" for i in out):
        out.append(model)
    if before is None and not places and not out and (opening := _opening(sentence)) is not None:
        out.append(opening)
    if not out and before is not None and (late := _late(sentence, before, places)) is not None:
        return Heard(sentence=sentence, found=(late,))
    if not (out or parts or places) and before is not None and _idles(sentence, before):
        return Heard(sentence=sentence, announced=before.announced, silent=before.silent + 1)
    open_fields = [a.field for a in places if not any(i.field == a.field for i in out)]
    announced = open_fields[-1] if len(open_fields) == 1 and _announces(sentence, open_fields[0], known) else None
    if not parts and announced is None and announces_part(sentence):
        announced = "part_number"
    return Heard(sentence=sentence, found=tuple(out), announced=announced, parts=parts)


def _introduced(sentence: Sentence, places: Sequence[Announced]) -> Identity | None:
    """The model of "it's a W D eighty four, and the serial is ...", "W D eighty four, serial ...", "a ... freezer"."""
    if sentence.question or told_tables()["introduced"]["other"].search(sentence.text):
        return None
    serial = bool(places) and places[0].field == "serial" and not places[0].weak
    if any(not p.weak for p in places) and not serial:
        return None
    words = sentence.words[: places[0].first] if serial else sentence.words
    for at in range(0 if serial else 1, min(len(words), _LONGEST_LEAD)):
        found = read_identifier(words, at, reach=0)
        if found is None or found.first != at or not is_sound(words, found, _SIGNS_INTRODUCED) or is_gas(found):
            continue
        if found.value[:2].isalpha() and _introduces(sentence, at, found, serial=serial):
            return stated(sentence, "model", found)
    return None


def _opening(sentence: Sentence) -> Identity | None:
    """The work order of "Right, two two oh nine, tall freezer": what a job opens with, before the kind of appliance.

    Four figures at least, each said by itself, so that no time, year or house number is taken for one.
    """
    words, lead = sentence.words, told_tables()["opening"]["lead"]
    at = next((n for n, w in enumerate(words) if not lead.search(bare(w))), len(words))
    found = read_identifier(words, at, reach=0)
    if found is None or found.first != at or sentence.question or not found.value.isdigit():
        return None
    said = words[found.first : found.last]
    signs = [read_identifier([w], reach=0) for w in said]
    single = all(s is not None and len(s.value) == 1 for s in signs) and not any(w[-1:] == "," for w in said[:-1])
    spelled = single and len(said) >= _FIGURES
    kinds = told_tables()["introduced"]["kinds"].search(text_of(sentence, found.last, len(words)))
    return stated(sentence, "work_order", found) if spelled and said[-1][-1:] == "," and kinds is not None else None


def _asked_for(sentence: Sentence, found: Identifier) -> Identifier | None:
    """A value of which a sign is asked for after it ("..., and is that a three?"), where the next words say yes.

    "And" asks for a sign more, else the last is meant. None where nobody answers, or with something else.
    """
    table, words = told_tables()["announced"], sentence.words
    asks = table["asks_sign"].search(text_of(sentence, found.last, len(words)))
    if asks is None:
        return found
    answer = following(sentence)
    longer = read_identifier([*words[: found.last - 1], bare(words[found.last - 1]) + ",", asks["sign"]], found.first)
    if longer is None or longer.last == found.last:
        return found  # "is that right?"
    if answer is None or asks["other"] or not table["agrees"].search(answer.text):
        return None
    if asks["more"]:
        return replace(longer, last=found.last)
    return found if longer.value == found.value + found.value[-1:] else None


def _introduces(sentence: Sentence, at: int, found: Identifier, *, serial: bool) -> bool:
    """True where the words before a value, which begins at `at`, and those after it make it the appliance's model."""
    table, lead = told_tables()["introduced"], text_of(sentence, 0, at)
    closed = sentence.words[found.last - 1][-1:] in ",;"
    if serial and closed and (at == 0 or table["model"].search(lead)):
        return True
    after = text_of(sentence, found.last, len(sentence.words))
    if not closed and table["kinds"].search(after):
        return table["appliance"].search(lead) is not None
    return (closed or not after) and table["here"].search(lead) is not None


def _idles(sentence: Sentence, before: Heard) -> bool:
    """Small talk between an announcement and its value ("Hang on." "Right.")."""
    if before.announced is None or before.silent >= _SILENT or len(sentence.words) > _SHORT or sentence.question:
        return False
    return told_tables()["announced"]["idle"].search(sentence.text) is not None


def _regions(sentence: Sentence, places: Sequence[Announced]) -> Iterator[tuple[Announced, int, int]]:
    """Each announcement with the words [begin, end) between the announcements beside it."""
    for n, place in enumerate(places):
        begin = places[n - 1].last if n else 0
        end = places[n + 1].first if n + 1 < len(places) else len(sentence.words)
        yield place, begin, end


def _trail(sentence: Sentence, places: Sequence[Announced]) -> bool:
    """True where every announcement follows its value ("Q X ninety is the model and four oh one is the serial")."""
    if len(places) < 2 or value_after(sentence.words, places[-1]) is not None:
        return False
    return all(value_before(sentence, place, begin) is not None for place, begin, _ in _regions(sentence, places))


def _value(sentence: Sentence, place: Announced, begin: int, end: int, *, trailing: bool) -> Identifier | None:
    """The value that an announcement has after it, or else before it. trailing: before it in any case."""
    doubt = told_tables()["announced"]["doubt"]
    found = None if trailing else value_after(sentence.words[:end], place)
    full = None if trailing else _in_full(sentence, place, end, found)
    if full is not None:
        return full
    if found is not None:
        first, last = _clause_start(sentence, place, begin), _beside(sentence, found.last, end)
        lead = told_tables()["announced"]["reads"].sub("", text_of(sentence, first, found.first))
        lead = lead.rpartition(" but ")[2]
        after = text_of(sentence, found.last, last)
        revised = told_tables()["announced"]["revised"].search(after)
        return None if doubt.search(lead) or doubt.search(after) or revised else found
    found = value_before(sentence, place, begin)
    return None if found is None or doubt.search(text_of(sentence, begin, end)) else found


def _in_full(sentence: Sentence, place: Announced, end: int, found: Identifier | None) -> Identifier | None:
    """The value that is said in full after a part of it or a doubt. found: what follows the announcement at once."""
    words, doubt = sentence.words[:end], told_tables()["announced"]["doubt"]
    told = read_in_full(words, place.last)
    if told is None or (found is not None and told[0].first < found.last and not told[1]):
        return found if found is not None and in_full(words, found.last) else None
    full, whole = told
    if doubt.search(text_of(sentence, full.first, end)):
        return None
    if whole:
        return full
    same = found is not None and found.value[:1] == full.value[:1] and len(full.value) >= len(found.value)
    return full if same and not doubt.search(text_of(sentence, place.first, end)) else None


def _clause_start(sentence: Sentence, place: Announced, begin: int) -> int:
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


def _lead(sentence: Sentence, before: Heard | None, places: Sequence[Announced]) -> list[Identity]:
    """The value at the head of a sentence that the sentence before announced."""
    if before is None or before.announced is None or before.announced == "part_number" or sentence.question:
        return []
    own = announcements(before.sentence)
    named = bool(own) and own[-1].last == len(before.sentence.words)
    end = places[0].first if places else len(sentence.words)
    found = value_announced(sentence, before.announced, end, named=named)
    if found is None or told_tables()["announced"]["doubt"].search(text_of(sentence, 0, found.last)):
        return []
    return [stated(sentence, before.announced, found)]


def _late(sentence: Sentence, before: Heard, places: Sequence[Announced]) -> Identity | None:
    """The value of a sentence that is nothing else, announced by a sentence that is nothing but that ("Serial.")."""
    only = told_tables()["announced"]["only"]
    if len(places) != 1 or before.found or sentence.question or before.sentence.question:
        return None
    place = places[0]
    rest = [t.text for t in sentence.tokens if not place.first <= t.word - sentence.first < place.last]
    if not all(only.search(t) for t in rest) or (place.weak and not rest):
        return None
    found = value_announced(before.sentence, place.field, len(before.sentence.words))
    return None if found is None else stated(before.sentence, place.field, found)


def _announces(sentence: Sentence, field: Name, known: Collection[str]) -> bool:
    """True where a field without its value may have it in the next sentence."""
    table = told_tables()["announced"]
    return (
        field not in known
        and not table["doubt"].search(sentence.text)
        and (sentence.question or not table["casual"].search(sentence.text))
    )
