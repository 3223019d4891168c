"""Breakers that are called by their number alone: the reader, which reads a line by itself, is told what they are."""

from __future__ import annotations

from voicereport.statements.grammar import grammar

_SAID = "breaker "

Place = tuple[int, int]


def with_breakers(line: str, before: str) -> tuple[str, list[Place]]:
    """The line with "breaker" before the number of one, where it or the line before it speaks of breakers.

    "Breakers are in the hall." "Sixteen's off." Numbers of fasteners, and those that come with a noun, are left. With
    it, for each character, the [first, last) of `line` that it stands for.
    """
    patterns, lower = grammar().patterns, line.replace("’", "'").lower()
    owner = [(k, k + 1) for k in range(len(line))]
    if patterns["breakers"].search(f"{before} {line}".lower()) is None or patterns["no_breaker"].search(lower):
        return line, owner
    for match in reversed(list(patterns["by_number"].finditer(lower))):
        at, end = match.span("number" if match["number"] else "switched")
        line = line[:at] + _SAID + line[at:]
        owner[at:at] = [(at, end)] * len(_SAID)
    return line, owner
