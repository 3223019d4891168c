"""Breakers that are called by their number alone: the reader, which reads a line by itself, is told what they are."""

from __future__ import annotations

from collections.abc import Sequence

from voicereport.statements.grammar import grammar

_SAID = "breaker "

Place = tuple[int, int]


def breakers(line: str, before: str) -> tuple[Place, ...]:
    """Where numbers stand in a line that are those of breakers, of which it or the line before it speaks.

    "Breakers are in the hall." "Sixteen's off." Numbers of fasteners, and those that come with a noun, are left.
    """
    patterns, lower = grammar().patterns, line.replace("’", "'").lower()
    if patterns["breakers"].search(f"{before} {line}".lower()) is None or patterns["no_breaker"].search(lower):
        return ()
    return tuple(m.span("number" if m["number"] else "switched") for m in patterns["by_number"].finditer(lower))


def with_breakers(line: str, places: Sequence[Place]) -> tuple[str, list[Place]]:
    """The line with "breaker" before each number of these places, and what each character stands for.

    The second: for each character, the [first, last) of `line`.
    """
    owner = [(k, k + 1) for k in range(len(line))]
    for at, end in reversed(places):
        line = line[:at] + _SAID + line[at:]
        owner[at:at] = [(at, end)] * len(_SAID)
    return line, owner
