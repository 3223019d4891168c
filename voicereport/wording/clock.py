"""Clock times as they are spoken, and the minutes between two of them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from voicereport.trades.spoken_units import shipped_units
from voicereport.wording.dictated import comma_after, core_of, stops
from voicereport.wording.lexemes import DIGITS, OHS, TEENS, TENS, ZEROS

_HALF_DAY, _DAY = 720, 1440  #: minutes
_MOST = 720  #: minutes that lie between two times of one job
_WRITTEN = re.compile(r"(\d{1,2})[:.]?(\d{2})\Z")
_NUMBERS = DIGITS | TEENS | TENS | {"quarter": 15, "half": 30}


@dataclass(frozen=True, kw_only=True, slots=True)
class ClockTime:
    """A time of day over tokens [first, last)."""

    minute: int  #: of the day, 0 to 1439; of the half day where `open`
    first: int
    last: int
    open: bool  #: before or after noon was not said


def clock_time(tokens: Sequence[str], i: int, *, split: bool = False) -> ClockTime | None:
    """The time of day at i; None where none stands there.

    split: "ten to eleven" is two times, as after "from".
    """
    words = [core_of(t).lower().replace("’", "'") for t in tokens[i : i + 6]]
    for n, token in enumerate(tokens[i : i + 6]):
        if comma_after(token) or stops(token):
            words = words[: n + 1]
            break
    found = _named(words) or _past(words, split=split) or _hundred(words) or _plain(words)
    if found is None:
        return None
    minute, taken, is_open = found
    half, more = _half_of_day(words[taken:])
    if half is not None and minute <= _HALF_DAY + 59:
        minute, is_open = minute % _HALF_DAY + half, False
    return ClockTime(minute=minute % _DAY, first=i, last=i + taken + more, open=is_open)


def begins_time(token: str) -> bool:
    """False of a word that no time of the clock begins with."""
    word = core_of(token).lower()
    if not word.isalpha() or word in _NUMBERS or word in OHS or word in ZEROS or word == "a":
        return True
    return any(word == phrase[0] for phrase in shipped_units().lists["clock.noon"])


def minutes_between(start: ClockTime, end: ClockTime) -> int | None:
    """Minutes from one time to a later one, less than half a day, by the half day where it was not said which."""
    if start.open or end.open:
        between = (end.minute - start.minute) % _HALF_DAY
        if start.open != end.open and end.minute > start.minute:
            between = end.minute - start.minute
    else:
        between = end.minute - start.minute
    return between if 0 < between < _MOST else None


def _named(words: Sequence[str]) -> tuple[int, int, bool] | None:
    """ "noon", "midday"."""
    return (_HALF_DAY, 1, False) if words[:1] and shipped_units().has("clock.noon", words[:1]) else None


def _hour(words: Sequence[str], n: int) -> int | None:
    """An hour of the clock, 1 to 12, at words[n]."""
    word = words[n] if n < len(words) else ""
    value = int(word) if word.isdigit() else (DIGITS | TEENS).get(word, 0)
    if word and shipped_units().has("clock.noon", (word,)):
        return 12
    return value if 1 <= value <= 12 else None


def _past(words: Sequence[str], *, split: bool) -> tuple[int, int, bool] | None:
    """ "ten past nine", "quarter to two", "half ten", "twenty five minutes to three"."""
    at = 1 if words[:1] == ["a"] else 0
    minutes, n = _minutes(words, at)
    if minutes is None:
        return None
    n += n < len(words) and words[n] in ("minutes", "minute")
    link = words[n] if n < len(words) else ""
    if words[at] == "half" and (hour := _hour(words, at + 1)) is not None and not _counted(words, at + 2):
        return hour % 12 * 60 + 30, at + 2, True
    hour = _hour(words, n + 1)
    if hour is None or (words[at] not in ("quarter", "half") and minutes % 5 and words[n - 1] != "minutes"):
        return None
    if shipped_units().has("clock.past", (link,)):
        return hour % 12 * 60 + minutes, n + 2, True
    apart = split and words[at] not in ("quarter", "a")
    if shipped_units().has("clock.to", (link,)) and not apart and not _is_number(words, n + 2):
        return (hour % 12 * 60 - minutes) % _HALF_DAY, n + 2, True
    return None


def _minutes(words: Sequence[str], n: int) -> tuple[int | None, int]:
    """Minutes at words[n] ("ten", "twenty five", "quarter"), and where they end."""
    word = words[n] if n < len(words) else ""
    value = int(word) if word.isdigit() else _NUMBERS.get(word)
    if value is not None and word in TENS and n + 1 < len(words) and words[n + 1] in DIGITS:
        return value + DIGITS[words[n + 1]], n + 2
    if "-" in word and (two := word.split("-"))[0] in TENS and two[-1] in DIGITS:
        return TENS[two[0]] + DIGITS[two[-1]], n + 1
    return (value, n + 1) if value is not None and value < 60 else (None, n)


def _is_number(words: Sequence[str], n: int) -> bool:
    return n < len(words) and (words[n] in _NUMBERS or words[n].isdigit() or words[n] in OHS)


def _counted(words: Sequence[str], n: int) -> bool:
    """What counts or measures goes on ("half ten minutes")."""
    return n < len(words) and (words[n],) in shipped_units().words


def _hundred(words: Sequence[str]) -> tuple[int, int, bool] | None:
    """ "thirteen hundred", "oh nine hundred hours"."""
    at = 1 if words[:1] and words[0] in OHS | ZEROS else 0
    hour, n = _minutes(words, at)
    if hour is None or hour > 23 or n >= len(words) or words[n] != "hundred":
        return None
    n += 1
    return hour * 60, n + (n < len(words) and words[n] == "hours"), False


def _plain(words: Sequence[str]) -> tuple[int, int, bool] | None:
    """ "nine", "nine fifteen", "nine oh five", "fourteen forty", "nine o'clock", "9:15", "0915"."""
    if not words:
        return None
    written = _WRITTEN.match(words[0])
    if written and int(written[1]) < 24 and int(written[2]) < 60:
        hour = int(written[1])
        return hour * 60 + int(written[2]), 1, 1 <= hour <= 12 and not words[0].startswith("0")
    early = words[0] in OHS | ZEROS
    hour_at, n = _minutes(words, 1 if early else 0)
    if hour_at is None or words[n - 1] in ("quarter", "half"):
        return None
    if hour_at > 23 or (words[0] in TENS and n == 2 and hour_at > 23):
        return None
    is_open = 1 <= hour_at <= 12 and not early
    if n < len(words) and words[n] in ("o'clock", "oclock", "sharp"):
        return hour_at * 60, n + 1, is_open
    if n + 1 < len(words) and words[n] in OHS | ZEROS and words[n + 1] in DIGITS:
        return hour_at * 60 + DIGITS[words[n + 1]], n + 2, is_open
    minutes, end = _minutes(words, n)
    if minutes is not None and minutes >= 10 and words[n] not in ("quarter", "half") and not _counted(words, end):
        return hour_at * 60 + minutes, end, is_open
    return (hour_at * 60, n, True) if is_open and not _counted(words, n) and not _is_number(words, n) else None


def _half_of_day(words: Sequence[str]) -> tuple[int | None, int]:
    """Minutes that "p m", "in the afternoon" add to a time of the half day, and how many words they are."""
    for name, minutes in (("morning", 0), ("afternoon", _HALF_DAY)):
        for phrase in shipped_units().lists[f"clock.{name}"]:
            if tuple(words[: len(phrase)]) == phrase:
                return minutes, len(phrase)
    return None, 0
