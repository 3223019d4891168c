"""Clock times as they are spoken; the ways are common practice, no source."""

from __future__ import annotations

import pytest

from voicereport.wording.clock import clock_time, minutes_between

TIMES = [
    ("nine", 9, 0),
    ("nine o'clock", 9, 0),
    ("ten past nine", 9, 10),
    ("quarter to two", 1, 45),
    ("a quarter past one", 1, 15),
    ("half past eight", 8, 30),
    ("half nine", 9, 30),
    ("twenty five to three", 2, 35),
    ("nine fifteen", 9, 15),
    ("nine oh five", 9, 5),
    ("thirteen hundred", 13, 0),
    ("oh nine hundred hours", 9, 0),
    ("fourteen forty", 14, 40),
    ("oh eight thirty", 8, 30),
    ("two in the afternoon", 14, 0),
    ("ten thirty a m", 10, 30),
    ("noon", 12, 0),
    ("9:15", 9, 15),
    ("1440", 14, 40),
]


@pytest.mark.parametrize(("words", "hour", "minute"), TIMES)
def test_times(words: str, hour: int, minute: int) -> None:
    found = clock_time(words.split(), 0)
    assert found is not None
    assert (found.minute, found.last) == (hour * 60 + minute, len(words.split()))


@pytest.mark.parametrize("words", ["half an hour", "ten minutes", "thirty five", "the plug", "quarter of an inch", ""])
def test_what_is_no_time(words: str) -> None:
    assert clock_time(words.split(), 0) is None


@pytest.mark.parametrize(
    ("start", "end", "minutes"),
    [
        ("ten past nine", "ten to eleven", 100),
        ("quarter to twelve", "ten past one", 85),
        ("thirteen hundred", "fourteen forty", 100),
        ("thirteen hundred", "ten past two", 70),
        ("nine", "fourteen ten", 310),
        ("noon", "one", 60),
    ],
)
def test_minutes_between(start: str, end: str, minutes: int) -> None:
    first, second = clock_time(start.split(), 0), clock_time(end.split(), 0)
    assert first is not None
    assert second is not None
    assert minutes_between(first, second) == minutes


def test_from_parts_two_hours_that_could_be_one_time() -> None:
    joined, apart = clock_time(["ten", "to", "eleven"], 0), clock_time(["ten", "to", "eleven"], 0, split=True)
    assert joined is not None
    assert apart is not None
    assert (joined.minute, joined.last, apart.minute, apart.last) == (650, 3, 600, 1)
