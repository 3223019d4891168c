"""The time worked by the clock: "in at ten past nine, out at ten to eleven", "from nine till half twelve"."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from voicereport.statements.announced import text_of
from voicereport.statements.tables import told_tables
from voicereport.statements.tokens import Sentence
from voicereport.wording.clock import ClockTime, begins_time, clock_time, minutes_between
from voicereport.wording.quantities import find_quantities

_APART = 6  #: words between two times at most
MINUTES = {"min": 1.0, "h": 60.0}  #: in a unit of time (UCUM)


@dataclass(frozen=True, kw_only=True, slots=True)
class Stay:
    """Two times of the clock, the second after the first. told: they are said to be when the speaker came and left."""

    start: ClockTime
    end: ClockTime
    told: bool


def clocked(sentence: Sentence, *, asked: bool) -> float | None:
    """Minutes between two clock times that a sentence says were worked, breaks taken off; None where it says none.

    asked: the sentence before it spoke of the time worked, and left it open.
    """
    table, text = told_tables()["clocked"], sentence.text
    stay = stays(sentence)
    if stay is None or table["never"].search(text):
        return None
    lead = text_of(sentence, 0, stay.start.first)
    minutes = minutes_between(stay.start, stay.end)
    works = (
        stay.told
        or asked
        or _comes_to(sentence, stay, minutes)
        or told_tables()["labour"]["strong"].search(text)
        or table["work"].search(text)
    )
    if not works or table["other"].search(lead):
        return None
    breaks = 0.0 if _comes_to(sentence, stay, minutes) else _breaks(sentence, stay)
    if minutes is None or breaks is None or breaks >= minutes:
        return None
    return minutes - breaks


def _comes_to(sentence: Sentence, stay: Stay, minutes: int | None) -> bool:
    """True where nothing but the two times is said, and what they come to ("from nine till ten, so an hour")."""
    words, so = sentence.words, told_tables()["labour"]["so"]
    found = [q for q in find_quantities(words) if q.first >= stay.end.last]
    if len(found) != 1 or minutes is None or found[0].value is None or found[0].last != len(words):
        return False
    said = found[0].value * MINUTES.get(found[0].unit or "", 0.0)
    near = text_of(sentence, stay.end.last, found[0].first)
    lead = text_of(sentence, 0, stay.start.first)
    return (
        said == minutes
        and (not near or so.search(near) is not None)
        and not told_tables()["clocked"]["other"].search(lead)
    )


@lru_cache(maxsize=8)
def stays(sentence: Sentence) -> Stay | None:
    """The first two clock times of a sentence that one came and left at, or that are said as from one to the other."""
    return next(_stays(sentence), None)


def _stays(sentence: Sentence) -> Iterator[Stay]:
    table, words = told_tables()["clocked"], sentence.words
    for at in range(len(words)):
        if not begins_time(words[at]):
            continue
        lead = text_of(sentence, 0, at)
        start = clock_time(words, at, split=table["from"].search(lead) is not None)
        if start is None:
            continue
        for next_at in range(start.last, min(len(words), start.last + _APART)):
            end = clock_time(words, next_at)
            if end is None:
                continue
            between = text_of(sentence, start.last, next_at)
            came = table["came"].search(lead)
            own = came is not None and all(table["lead"].search(w) for w in lead[: came.start()].split())
            told = own and table["left"].search(between) is not None
            spanned = table["to"].search(between) or (table["between"].search(lead) and between == "and")
            spanned = spanned or (own and table["now"].search(between))
            if told or spanned:
                yield Stay(start=start, end=end, told=told)
            break


def _breaks(sentence: Sentence, stay: Stay) -> float | None:
    """Minutes that are taken off; None where a time is said that is no break: it is the time worked itself."""
    table, so = told_tables()["clocked"], told_tables()["labour"]["so"]
    taken, last = 0.0, stay.end.last
    for found in find_quantities(sentence.words):
        if found.quantity != "time" or found.value is None or found.unit not in MINUTES or found.first < last:
            continue
        before, after = (
            text_of(sentence, last, found.first),
            text_of(sentence, found.last, _clause_end(sentence, found.last)),
        )
        if so.search(before) or not (table["breaks"].search(before) or table["breaks"].search(after)):
            return None
        taken, last = taken + abs(found.value) * MINUTES[found.unit], found.last
    return taken


def _clause_end(sentence: Sentence, at: int) -> int:
    words = sentence.words
    while at < len(words) and words[at - 1][-1:] not in ",;:":
        at += 1
    return at
