"""Corrections within a dictated identifier: where they end, and what they take back."""

from __future__ import annotations

from collections.abc import Sequence

from voicereport.trades.spoken_units import shipped_units
from voicereport.wording.dictated import core_of, listed
from voicereport.wording.signs import Item


def correction_at(tokens: Sequence[str], i: int) -> tuple[int, bool] | None:
    """Where words of correction at i end ("no,", "scratch that,"), and True where they take back all; None if none."""
    units = shipped_units()
    at, best = i, None
    while at < len(tokens) and at < i + 5:
        at += 1
        said = tuple(core_of(t).lower() for t in tokens[i:at])
        for phrase in (said, tuple(w for w in said if not listed("fillers", w))):
            if phrase and units.has("corrections.words", phrase):
                best = at, units.has("corrections.restart", phrase) or (best is not None and best[1])
    while best is not None and best[0] < len(tokens) and _softens(tokens[best[0]]):
        best = best[0] + 1, best[1]
    return best


def _softens(token: str) -> bool:
    """ "that's", "it's" between a correction and what is right."""
    return shipped_units().has("corrections.fillers", (core_of(token).lower().replace("’", "'"),))


def groups_of(items: Sequence[Item]) -> list[int]:
    """Indices of items that start a group: the first, those after a comma, and where letters and digits change."""
    starts = []
    for n, item in enumerate(items):
        before = items[n - 1] if n else None
        if before is None or before.comma or before.text[-1:].isdigit() != item.text[:1].isdigit():
            starts.append(n)
    return starts


def retracted(items: list[Item], new: Sequence[Item], restart: bool) -> list[Item]:
    """`items` less what the words after a correction, `new`, replace."""
    if not items or not new:
        return items
    starts = groups_of(items)
    same = [n for n in starts if items[n].text[:1] == new[0].text[:1]]
    if same and len("".join(i.text for i in new)) > 1:
        return items[: same[0] if restart else same[-1]]
    if restart:
        return items[: starts[-1]]
    last = next((n + 1 for n in range(len(items) - 2, -1, -1) if items[n].comma), 0)
    size = next((n + 1 for n, item in enumerate(new) if item.comma), len(new))
    if len(items) - last == size > 1:
        return items[:last]  # "four one, I mean one four": as many signs
    return items[:-1]
