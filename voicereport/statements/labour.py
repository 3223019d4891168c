"""The time worked, among all the times that are said on a job: a test's, a wait's, a vacuum's."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from voicereport.statements.announced import Heard, text_of
from voicereport.statements.clocked import MINUTES, clocked, stays
from voicereport.statements.commitment import Commitment
from voicereport.statements.tables import tells, told_tables
from voicereport.statements.tokens import Sentence, sentences
from voicereport.statements.values import Identity
from voicereport.transcript import span
from voicereport.wording.numbers import Number, find_numbers
from voicereport.wording.quantities import Quantity, find_quantities

_LEAST, _MOST = 5.0, 1440.0  #: minutes that may be a job's
_SHORT = 8  #: words of a sentence that announces the time worked
_HOURS = 8.0  #: a bare number up to here may be hours, where hours were said before
_OWN = re.compile(r"^(hours?|minutes?|quarters?|half)['’]s?(?=[.,;:?!]*$)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class _Time:
    """Minutes, with the words [first, last) of the sentence that they were said in and those of the clause around."""

    minutes: float
    first: int
    last: int
    begin: int
    end: int


def labour(sentence: Sentence, commitment: Commitment, before: Heard | None = None) -> tuple[Identity, ...]:
    """The time worked, in minutes. before: the last sentence, whose time this one may say anew."""
    if not _tells_time(sentence):
        return ()
    table, text = told_tables()["labour"], sentence.text
    if tells("labour", "never", text) or (sentence.question and "put" not in text):
        return ()
    told = _time_anew(sentence, before)
    if told is None:
        strong = tells("labour", "strong", text)
        asked_for = strong and tells("labour", "asked_for", text)
        if (commitment.status == "advised" and not asked_for) or (commitment.status == "planned" and not strong):
            return ()
        told = clocked(sentence, asked=_asked(before)) if stays(sentence) is not None else None
        if told is None and not _is_open(sentence):
            told = _strong(sentence) if strong else _middling(sentence) or _alone(sentence, before)
            told = told or _ridden(sentence) or _settled(sentence) or _answered(sentence, before)
    summed = _summed(sentence) if told is not None else None
    told = told if summed is None else summed
    if told is None or not _LEAST <= told <= _MOST:
        return ()
    where = span(sentence.segment, sentence.first, sentence.last)
    total = summed is not None or table["total"].search(text) is not None
    return (Identity(field="labour_min", value=told, span=where, visit=sentence.visit, total=total),)


def _tells_time(sentence: Sentence) -> bool:
    """True where a sentence says any number or time at all."""
    return bool(_times(sentence) or find_numbers(_plain(sentence)) or stays(sentence))


def _asked(before: Heard | None) -> bool:
    """True where the last sentence spoke of the time worked, and said none."""
    if before is None or any(i.field == "labour_min" for i in before.found) or _times(before.sentence):
        return False
    table, text = told_tables()["labour"], before.sentence.text
    asks = before.sentence.question and table["asks"].search(text)
    return bool(asks or tells("labour", "strong", text)) and len(before.sentence.words) <= _SHORT


def is_alone(sentence: Sentence) -> bool:
    """True where nothing but its standing alone makes a sentence's time the time worked ("Fifty minutes.")."""
    table = told_tables()["labour"]
    text = table["so_far"].sub("", sentence.text)
    return not any(table[name].search(text) for name in ("strong", "middling", "whole", "correction"))


@lru_cache(maxsize=8)
def _plain(sentence: Sentence) -> tuple[str, ...]:
    """The words for the number grammar: no owner's ending, and no number in "that one"."""
    out: list[str] = []
    for word in sentence.words:
        pronoun = word.lower() == "one" and out and out[-1].lower() in {"that", "this"}
        out.append("thing" if pronoun else _OWN.sub(r"\1", word))
    return tuple(out)


@lru_cache(maxsize=8)
def _times(sentence: Sentence) -> tuple[_Time, ...]:
    """The times of a sentence, a shorter one that is taken off already subtracted."""
    words = _plain(sentence)
    out: list[_Time] = []
    for found in find_quantities(words):
        if found.quantity != "time" or found.value is None or found.unit not in MINUTES:
            continue
        minutes = round((found.value_high or found.value) * MINUTES[found.unit], 3)
        if out and minutes < out[-1].minutes and _less(sentence, out[-1].last, found):
            last = _clause(words, found.first, found.last)[1]
            out[-1] = _Time(out[-1].minutes - minutes, out[-1].first, last, out[-1].begin, out[-1].end)
            continue
        out.append(_Time(minutes, found.first, found.last, *_clause(words, found.first, found.last)))
    if (at := _the_hour(sentence)) is not None and not any(t.first <= at < t.last for t in out):
        out.append(_Time(60.0, at, at + 1, *_clause(words, at, at + 1)))
    return tuple(out)


def _the_hour(sentence: Sentence) -> int | None:
    """Where "hour" stands in "make it the hour", "hour's labour"."""
    bare = [w.strip(".,;:?!").lower().replace("’", "'") for w in sentence.words]
    if bare[:1] == ["hour's"] or (bare[:1] == ["hour"] and bare[1:2] in (["labour"], ["labor"], ["work"])):
        return 0
    for at in range(1, len(bare)):
        if (bare[at - 1], bare[at]) == ("the", "hour") and (at + 1 == len(bare) or sentence.words[at] != bare[at]):
            return at
    return None


def _less(sentence: Sentence, first: int, taken: Quantity) -> bool:
    """True where a shorter time is taken off the one before it, which ends before word `first`."""
    table = told_tables()["labour"]
    after = text_of(sentence, taken.last, len(sentence.words))
    return bool(table["less"].search(text_of(sentence, first, taken.first)) or table["less_after"].search(after))


def _clause(words: Sequence[str], first: int, last: int) -> tuple[int, int]:
    """The words between the commas around words [first, last)."""
    begin, end = first, last
    while begin and words[begin - 1][-1:] not in ",;:":
        begin -= 1
    while end < len(words) and words[end - 1][-1:] not in ",;:":
        end += 1
    return begin, end


def _around(sentence: Sentence, time: _Time) -> str:
    return text_of(sentence, time.begin, time.end)


def _strong(sentence: Sentence) -> float | None:
    """The time of a sentence that speaks of the time worked."""
    table = told_tables()["labour"]
    times = [
        t
        for t in _times(sentence)
        if not table["unless"].search(_around(sentence, t)) or table["certain"].search(_introducing(sentence, t))
    ]
    if not times:
        return _bare(sentence)
    if (hours := _hours_anew(sentence, times[-1])) is not None:
        return hours
    for name in ("total", "strong"):
        near = [t for t in times if table[name].search(_around(sentence, t))]
        if near and not _said_anew(sentence, near[-1], times[-1]):
            return near[-1].minutes
    return (times[-1] if table["so"].search(sentence.text) else times[0]).minutes


def _introducing(sentence: Sentence, time: _Time) -> str:
    """The clause of a time, with a word or two that introduce it ("Labour: two hours")."""
    begin = _clause(sentence.words, time.begin - 1, time.begin)[0] if time.begin else time.begin
    return text_of(sentence, begin if time.begin - begin <= 2 else time.begin, time.end)


def _hours_anew(sentence: Sentence, last: _Time) -> float | None:
    """ "Two hours, less the lunch, so one and a half": hours without their name, as what it comes to, at the end."""
    table = told_tables()["labour"]
    number = next((n for n in reversed(find_numbers(_plain(sentence))) if n.first >= last.last), None)
    if number is None or not table["so"].search(text_of(sentence, last.last, number.first)):
        return None
    after = text_of(sentence, number.last, len(sentence.words))
    both = _hours_and_minutes(number)
    if both is not None and (not after or table["total"].search(after)):
        return both
    if after or last.minutes % 60 or number.value > _HOURS or not number.value % 1:
        return None
    return round(float(number.value) * 60, 3)


def _is_open(sentence: Sentence) -> bool:
    """True where a part of the time that nobody put a figure to comes off ("two hours, less my lunch")."""
    table, times = told_tables()["labour"], _times(sentence)
    if not times or _hours_anew(sentence, times[-1]) is not None:
        return False
    rest = text_of(sentence, times[-1].last, len(sentence.words))
    raw = [q for q in find_quantities(_plain(sentence)) if q.quantity == "time" and q.unit in MINUTES]
    no_work = len(raw) <= len(times) and table["part_of"].search(rest) is not None
    return no_work or table["open_less"].search(rest) is not None


def _summed(sentence: Sentence) -> float | None:
    """The last time of a sentence where it is what the others come to ("forty five, today an hour, that's ...")."""
    times = [t.minutes for t in _times(sentence)]
    if len(times) < 3 or told_tables()["labour"]["unless"].search(sentence.text):
        return None
    return times[-1] if sum(times[:-1]) == times[-1] else None


def _ridden(sentence: Sentence) -> float | None:
    """The time of "that's two hours with the waiting about", "... and that's an hour, not counting the dinner"."""
    table, words = told_tables()["labour"], sentence.words
    for time in _times(sentence):
        lead = text_of(sentence, time.begin, time.first).split()
        end = time.end if time.end > time.last else _clause(words, time.last, time.last + 1)[1]
        rider = table["rider"].search(text_of(sentence, time.last, end))
        if rider is not None and all(table["alone"].search(w) for w in lead):
            return time.minutes
    return None


def _settled(sentence: Sentence) -> float | None:
    """The time of "three hours, near enough, so put three", which is said again as what to write down."""
    table, times, numbers = told_tables()["labour"], _times(sentence), find_numbers(_plain(sentence))
    if len(times) != 1 or not numbers or numbers[-1].first < times[0].last or numbers[-1].last != len(sentence.words):
        return None
    settles = table["settles"].search(_lead(sentence, numbers[-1])) is not None
    same = float(numbers[-1].value) * 60 == times[0].minutes
    alone = all(table["alone"].search(w) for w in text_of(sentence, 0, times[0].first).split())
    return times[0].minutes if settles and same and alone else None


def _answered(sentence: Sentence, before: Heard | None) -> float | None:
    """The time of "Labour." "Put two and a half.": hours and a part, or more minutes than a job has hours."""
    numbers = find_numbers(_plain(sentence))
    if len(numbers) != 1 or not _asked(before) or find_quantities(_plain(sentence)):
        return None
    number, table = numbers[0], told_tables()["labour"]
    lead, after = text_of(sentence, 0, number.first), text_of(sentence, number.last, len(sentence.words))
    told = all(table["alone"].search(w) for w in [*table["correction"].sub("", lead).split(), *after.split()])
    settled = not after and table["settles"].search(table["correction"].sub("", lead).strip())
    return _unnamed(number) if told or settled else None


def _unnamed(number: Number) -> float | None:
    """Minutes of a number without its unit; None where it may be hours or minutes."""
    value = float(number.value)
    if value >= 100 and number.style != "cardinal":
        return None  # "labour, one forty": a hundred and forty minutes, or an hour and forty
    if value != int(value):
        return round(value * 60, 3) if value <= _HOURS else None
    return value if value > _HOURS else None


def _said_anew(sentence: Sentence, one: _Time, last: _Time) -> bool:
    """True where a later time takes the place of one ("..., no, make it an hour")."""
    between = text_of(sentence, one.last, last.first)
    return last.first > one.first and told_tables()["labour"]["so"].search(between) is not None


def _middling(sentence: Sentence) -> float | None:
    """The time of a sentence that may speak of the time worked, and of nothing that takes time besides."""
    table = told_tables()["labour"]
    every = _times(sentence)
    if not every or table["unless"].search(sentence.text):
        return None
    total = any(table[name].search(sentence.text) for name in ("total", "whole"))
    times = [t for t in every if total or table["middling"].search(_around(sentence, t))]
    if not times or _others(sentence):
        return None
    if (hours := _hours_anew(sentence, every[-1])) is not None:
        return hours
    if total or _said_anew(sentence, times[0], every[-1]):
        return every[-1].minutes
    return (times[-1] if table["so"].search(sentence.text) else times[0]).minutes


def _others(sentence: Sentence) -> bool:
    """True where something else than time is measured in the sentence."""
    return any(q.quantity != "time" and q.unit for q in find_quantities(_plain(sentence)))


def _alone(sentence: Sentence, before: Heard | None) -> float | None:
    """The time of a sentence that is hardly more than that; none where the same breath spoke of a wait or a test."""
    table, times = told_tables()["labour"], _times(sentence)
    if not times or _others(sentence):
        return None
    time = times[0]
    rest = [
        t.text
        for t in sentence.tokens
        if time.begin <= t.word - sentence.first < time.end and not time.first <= t.word - sentence.first < time.last
    ]
    if not all(table["alone"].search(t) for t in rest):
        return None
    words = sentence.words
    at = 0
    while at < len(words):
        begin, end = _clause(words, at, at + 1)
        text = text_of(sentence, begin, end)
        own = begin <= time.first < end or (time.first <= begin and end <= time.last)
        lead = end <= time.begin and all(table["alone"].search(t) for t in text.split())
        trailing = begin >= time.last and table["trailing"].search(text)
        comes_to = table["so"].search(text) and any(t.begin == begin and t is not time for t in times)
        if not own and not lead and not trailing and not comes_to and not table["beside"].search(text):
            return None
        at = end
    if _measures_on(sentence):
        return None
    if (hours := _hours_anew(sentence, times[-1])) is not None:
        return hours
    near = before.sentence if before is not None else None
    if near is not None and near.segment.id == sentence.segment.id and table["unless"].search(near.text):
        return None
    return times[-1].minutes if _said_anew(sentence, time, times[-1]) else time.minutes


def _measures_on(sentence: Sentence) -> bool:
    """True where a number follows in the same breath, no time said anew ("Half an hour. Minus nine and dropping.")."""
    following = [s for s in sentences(sentence.segment, sentence.visit) if s.first >= sentence.last]
    table = told_tables()["labour"]
    if not following or table["correction"].search(following[0].text):
        return False
    words, told_times = _plain(following[0]), not table["unless"].search(following[0].text)
    times = [q for q in find_quantities(words) if q.quantity == "time" and told_times]
    numbers = [n for n in find_numbers(words) if n.style != "ordinal"]
    return any(not any(t.first <= n.first < t.last for t in times) for n in numbers)


def _bare(sentence: Sentence) -> float | None:
    """ "Labour, thirty five": minutes without their name, after a word that speaks of the time worked."""
    numbers = find_numbers(_plain(sentence))
    if not numbers or _others(sentence) or find_quantities(_plain(sentence)):
        return None
    number, lead = numbers[-1], text_of(sentence, 0, numbers[0].first)
    if len(numbers) > 2 or (len(numbers) == 2 and not _anew(sentence, numbers[0].last, number.first)):
        return None
    ends = number.last == len(sentence.words) or sentence.words[number.last - 1][-1:] in ",;:"
    if told_tables()["labour"]["number"].search(lead) is None or not ends:
        return None
    return _unnamed(number)


def _anew(sentence: Sentence, first: int, last: int) -> bool:
    """True where the words [first, last) are a correction ("forty, no, forty five")."""
    return told_tables()["labour"]["correction"].search(text_of(sentence, first, last)) is not None


def _time_anew(sentence: Sentence, before: Heard | None) -> float | None:
    """The time that a sentence puts in the place of the one before ("No, make it thirty five")."""
    table = told_tables()["labour"]
    old = next((i for i in before.found if i.field == "labour_min"), None) if before is not None else None
    if before is None or not table["correction"].search(sentence.text):
        return None
    if old is None:
        return _hours_less(sentence, before)
    times = [t for t in _times(sentence) if not table["travel"].search(_around(sentence, t))]
    if times:
        return (times[-1] if _said_anew(sentence, times[0], times[-1]) else times[0]).minutes
    numbers = find_numbers(_plain(sentence))
    if not numbers or _others(sentence):
        return None
    value, hours = float(numbers[-1].value), "hour" in before.sentence.text
    if hours and (both := _hours_and_minutes(numbers[-1])) is not None:
        return both
    return round(value * 60, 3) if hours and value <= _HOURS else value


def _hours_less(sentence: Sentence, before: Heard) -> float | None:
    """What hours that something unsaid came off are put down as ("Two hours less lunch." "Call it one forty five.")."""
    times, numbers = _times(before.sentence), find_numbers(_plain(sentence))
    if len(times) != 1 or not _is_open(before.sentence) or len(numbers) != 1 or _times(sentence) or _others(sentence):
        return None
    number = numbers[0]
    if number.last != len(sentence.words) or not told_tables()["labour"]["settles"].search(_lead(sentence, number)):
        return None
    told = _hours_and_minutes(number) or float(number.value) * 60
    return told if times[0].minutes / 2 <= told < times[0].minutes else None


def _lead(sentence: Sentence, number: Number) -> str:
    """The words between the comma before a number and it."""
    return text_of(sentence, _clause(sentence.words, number.first, number.last)[0], number.first)


def _hours_and_minutes(number: Number) -> float | None:
    """ "One forty five" as hours and minutes: 105."""
    value = int(number.value)
    if number.style != "pair" or not 100 <= value < 100 * _HOURS or value % 100 >= 60:
        return None
    return value // 100 * 60.0 + value % 100
