"""Words as sentences, and as segments that hold what was said in one breath."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from voicereport.transcript import Flag, Segment, Word

PAUSE_S = 1.5  #: a longer pause ends a sentence; speakers pause up to this before a number or a unit
BREATH_S = 0.7  #: a sentence that begins within this is of the same segment: "Two screws. Motor out."
LONGEST_S = 20.0
LOW = 0.5  #: word probability under which a segment is doubtful
_ENDS = (".", "?", "!")
_AFTER_ABBREVIATION_S = 0.4  #: a shorter pause after a possible abbreviation ends no sentence
STOP_S = 0.4  #: a pause after a comma that may be the end of a sentence
_AGAIN = 4  #: a group of words as often in a row is a loop


@dataclass(frozen=True, kw_only=True, slots=True)
class StopWords:
    """By which words a comma is known to be a full stop, or to be none; all in lower case."""

    firsts: frozenset[str]  #: that a statement before it begins with
    seconds: frozenset[str]  #: that a statement after it begins with
    holding: frozenset[str]  #: with which one part of a sentence may govern the other ("if", "said", "maybe")
    grave: frozenset[str]  #: of what a check at stop level may rest on


def cut(words: Sequence[Word]) -> list[tuple[Word, ...]]:
    """The words in segments: sentences that follow each other without a pause are one, up to LONGEST_S.

    What is read of a segment is read of the whole of it, as people say it: "Compressor fan. Unplugged it."
    """
    found: list[tuple[int, int]] = []
    for first, last in bounds(words):
        at_once = bool(found) and words[first].start - words[found[-1][1] - 1].end < BREATH_S
        if at_once and words[last - 1].end - words[found[-1][0]].start <= LONGEST_S:
            found[-1] = (found[-1][0], last)
        else:
            found.append((first, last))
    return [tuple(words[first:last]) for first, last in found]


def with_stops(words: Sequence[Word], told: StopWords) -> tuple[Word, ...]:
    """The words, with a full stop for a comma that stands, before a pause, between two whole statements.

    The comma stays where either part may govern the other, and before words that a check at stop level may rest on:
    "They do it by the rule, the plug is out" asserts nothing, and its second part alone would.
    """
    found = list(words)
    for first, last in bounds(words):
        start = first
        for n in range(first, last - 1):
            word, following = words[n], words[n + 1]
            if not word.word.endswith(",") or following.start - word.end < STOP_S:
                continue
            before, after = _bare(words[start : n + 1]), _bare(words[n + 1 : last])
            whole = before[0] in told.firsts and after[0] in told.seconds and min(len(before), len(after)) > 2
            if whole and told.holding.isdisjoint((*before, *after)) and told.grave.isdisjoint(after):
                found[n] = replace(word, word=f"{word.word[:-1]}.")
                start = n + 1
    return tuple(found)


def _bare(words: Sequence[Word]) -> list[str]:
    return [word.word.lower().strip(".,?!;:") for word in words]


def bounds(words: Sequence[Word]) -> list[tuple[int, int]]:
    """[first, last) of the sentences; none of no words, as where all words of a window were over no speech."""
    if not words:
        return []
    starts = [0]
    for n in range(1, len(words)):
        if _ends(words[starts[-1] : n], words[n]):
            starts.append(n)
    return list(zip(starts, [*starts[1:], len(words)], strict=True))


def _ends(piece: Sequence[Word], following: Word) -> bool:
    last = piece[-1]
    pause = following.start - last.end
    if pause > PAUSE_S:
        return True
    if last.word.endswith(_ENDS) and not (_abbreviation(last.word) and pause < _AFTER_ABBREVIATION_S):
        return True
    return following.end - piece[0].start > LONGEST_S


def _abbreviation(word: str) -> bool:
    """True for what may be "p.m.", "Mr." and the like, whose full stop ends no sentence."""
    letters = word.replace(".", "")
    return letters.isalpha() and (word.count(".") > 1 or (word[0].isupper() and 2 <= len(letters) <= 3))


def flags_of(words: Sequence[Word], *, loop: bool = False) -> tuple[Flag, ...]:
    """The doubts about a segment."""
    found: list[Flag] = []
    if any(word.probability < LOW for word in words):
        found.append("low_confidence")
    if loop or repeats(words):
        found.append("repetition")
    return tuple(found)


def repeats(words: Sequence[Word]) -> bool:
    """True where a group of one to six words comes four times in a row or more."""
    said = [word.word.lower().strip(".,!?") for word in words]
    for size in range(1, 7):
        run = 0
        for n in range(size, len(said)):
            run = run + 1 if said[n] == said[n - size] else 0
            if run >= size * (_AGAIN - 1):
                return True
    return False


def segment(name: str, number: str, words: Sequence[Word], flags: Sequence[Flag]) -> Segment:
    """A segment of words; nothing is repaired yet."""
    text = " ".join(word.word for word in words)
    return Segment(
        id=number,
        recording=name,
        start=words[0].start,
        end=max(word.end for word in words),
        heard=text,
        text=text,
        words=tuple(words),
        flags=tuple(flags),
    )


def unheard(name: str, number: str, span: tuple[float, float]) -> Segment:
    """A segment where somebody speaks and nothing was understood."""
    return Segment(id=number, recording=name, start=round(span[0], 3), end=round(span[1], 3), heard="", text="",
                   words=(), flags=("unheard",))  # fmt: skip
