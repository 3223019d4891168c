"""Numbers that go on with the count of a mark: "five down the edge, one underneath, all out"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from voicereport.statements.grammar import grammar
from voicereport.statements.reader import Mark, Marked
from voicereport.wording.numbers import find_numbers

_WORD = re.compile(r"[\w'’\-]+")
_COUNTED = frozenset({"remove", "refit", "replace", "loosen", "tighten", "open", "close", "peel"})
_BEGINS = re.compile(r"[,;.:…]\s*(?:and |then |plus |another )*$|\b(?:and|plus) $")
_FEW = 6  #: words between two numbers of one count
_MOST = 20  #: a number beyond it is no count of screws that goes on


def continued(line: str, marked: Marked) -> tuple[Mark, ...]:
    """The marks of a line, each with the numbers that go on with its count and that no mark has."""
    out: list[Mark] = []
    words = [(m.group().lower(), m.start(), m.end()) for m in _WORD.finditer(line)]
    for mark in marked.marks:
        if mark.action in _COUNTED and mark.counts and mark.status in {"done", "narrated"}:
            more = _more(line, words, mark, marked)
            mark = replace(mark, counts=tuple(sorted({*mark.counts, *more})))
            out += _parted(mark)
        else:
            out.append(mark)
    return tuple(out)


def _parted(mark: Mark) -> list[Mark]:
    """A mark for each number where each has a holder of its own: "four for the panel, two for the bracket, all in"."""
    counts, holds = sorted(mark.counts), sorted(mark.holds)
    pairs = list(zip(counts, holds, strict=False))
    ordered = [place for pair in pairs for place in pair]
    if len(counts) < 2 or len(counts) != len(holds) or len(mark.things) > 1 or ordered != sorted(ordered):
        return [mark]
    return [replace(mark, counts=(count,), holds=(held,)) for count, held in pairs]


def _more(line: str, words: Sequence[tuple[str, int, int]], mark: Mark, marked: Marked) -> list[tuple[int, int]]:
    """The places of the numbers that follow the mark's last one and that no mark has; none where they divide it."""
    taken = [s for m in marked.marks for s in ((m.first, m.last), *m.things, *m.holds, *m.counts)]
    own = {(mark.first, mark.last), *mark.counts}
    out: list[tuple[int, int]] = []
    end = max(b for _, b in mark.counts)
    at = next((k for k, w in enumerate(words) if w[1] >= end), len(words))
    since = 0
    while at < len(words):
        text, first, last = words[at]
        covered = [s for s in taken if s[0] < last and first < s[1]]
        if any(s not in own for s in covered):
            break
        before = line[end:first]
        number = _small(text)
        starts = _BEGINS.search(before)
        if number is not None:
            after = words[at + 1][0] if at + 1 < len(words) else ""
            if after in grammar().words["continued_stops"]:
                return []
            if not starts or _is_value(first, last, marked) or covered:
                break
            out.append((first, last))
            end, since = last, 0
        else:
            since += 1
            if since > _FEW or text in grammar().words["continued_breaks"]:
                break
        at += 1
    told = [n for a, b in mark.counts if (n := _small(line[a:b].lower())) is not None]
    sums = [n for a, b in out if (n := _small(line[a:b].lower())) is not None]
    return [] if sum(sums) in told else out  # "nine are out, six long and three short"


def _small(text: str) -> int | None:
    found = [n for n in find_numbers([text]) if n.style in {"cardinal", "digits"} and n.value == int(n.value)]
    return int(found[0].value) if found and 0 < found[0].value <= _MOST else None


def _is_value(first: int, last: int, marked: Marked) -> bool:
    return any(a < last and first < b and chance >= 0.5 for a, b, chance in marked.number_chances)
