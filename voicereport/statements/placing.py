"""The reader's marks as places of a sentence: characters of a line to tokens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from voicereport.statements.reader import Mark
from voicereport.statements.tokens import Sentence
from voicereport.statements.values import Act
from voicereport.transcript import Segment

_MOVED = frozenset({"remove", "refit", "replace", "loosen", "tighten"})


def line_of(segment: Segment) -> str:
    """The words of a segment as the line that the reader reads."""
    return " ".join(w.word for w in segment.words)


def word_starts(segment: Segment) -> list[int]:
    """Where each word of a segment begins in its line, in characters."""
    return [0, *accumulate(len(word.word) + 1 for word in segment.words)][: len(segment.words)]


def places(sentence: Sentence) -> list[tuple[int, int]]:
    """Where each token of the sentence stands in its segment's line, in characters."""
    starts = word_starts(sentence.segment)
    out: list[tuple[int, int]] = []
    before = -1
    for token in sentence.tokens:
        start = out[-1][1] if token.word == before else starts[token.word] + _lead(token.raw)
        out.append((start, start + len(token.text)))
        before = token.word
    return out


def _lead(raw: str) -> int:
    return len(raw) - len(raw.lstrip('"“”([])'))


@dataclass(frozen=True, kw_only=True, slots=True)
class Placed:
    """A mark with its places as tokens [first, last) of the sentence."""

    mark: Mark
    first: int
    last: int
    things: tuple[tuple[int, int], ...]
    holds: tuple[tuple[int, int], ...]
    counts: tuple[tuple[int, int], ...]
    things_before: tuple[str, ...] = ()  #: words of things in sentences before this one, in the same line
    holds_before: tuple[str, ...] = ()  #: of holders
    counts_before: tuple[str, ...] = ()  #: of counts
    counts_after: tuple[tuple[str, str], ...] = ()  #: of counts in sentences after it: the words up to one, and it
    numbers_before: tuple[str, ...] = ()  #: the three words before each of `things_before`, where its number may stand


def unmarked(act: Act, first: int, last: int) -> Placed:
    """The place of an act that no mark names: tokens [first, last)."""
    mark = Mark(action=act.action, status=act.status, sure=0.5, status_sure=0.5, first=0, last=0)
    return Placed(mark=mark, first=first, last=last, things=(), holds=(), counts=())


def placed(sentence: Sentence, marks: Sequence[Mark]) -> tuple[Placed, ...]:
    """The marks that begin in this sentence, and those of a sentence before it in the line that have things here."""
    where = places(sentence)

    line = line_of(sentence.segment)

    def tokens(span: tuple[int, int]) -> tuple[int, int] | None:
        if not any(c.isalnum() for c in line[span[0] : span[1]]):
            return None
        found = [k for k, (a, b) in enumerate(where) if a < span[1] and b > span[0]]
        return (found[0], found[-1] + 1) if found else None

    out = []
    for mark in marks:
        own = tokens((mark.first, mark.last))
        spans = [
            _whole(sentence, [t for s in group if (t := tokens(s))]) for group in (mark.things, mark.holds, mark.counts)
        ]
        borrowed = own is None
        if (
            own is None and spans[0] and _ends_before(where, mark) and _verbless(sentence, spans[0][0])
        ):  # "New relay on, P R four four. New overload, ..."
            own = spans[0][0]
        if own is None:
            continue
        groups = (mark.things, mark.holds, mark.counts)
        taken = _taken(marks, mark, where[0][0]) if spans[0] else frozenset()
        before = [
            tuple(line[a:b].lower() for a, b in group if b <= where[0][0] and (a, b) not in taken) for group in groups
        ]
        after: list[tuple[str, str]] = []
        beyond = min((m.first for m in marks if m is not mark and m.first >= where[-1][1]), default=len(line))
        for a, b in sorted(mark.counts) if not borrowed else ():
            if where[-1][1] <= a and (a < beyond or mark.action not in _MOVED):
                ends = max([y for _, y in mark.counts if y <= a], default=where[-1][1])
                after.append((line[ends:a].lower(), line[a:b].lower()))
        out.append(Placed(mark=mark, first=own[0], last=own[1], things=spans[0], holds=spans[1], counts=spans[2],
                          things_before=before[0], holds_before=before[1], counts_before=() if borrowed else before[2],
                          counts_after=tuple(after),
                          numbers_before=tuple(" ".join(line[:a].lower().split()[-3:]) for a, b in mark.things
                                               if b <= where[0][0] and (a, b) not in taken)))  # fmt: skip
    return tuple(out)


def _taken(marks: Sequence[Mark], mark: Mark, start: int) -> frozenset[tuple[int, int]]:
    """The things before character `start` that an act of their own sentence moves the same way."""
    others = (m for m in marks if m is not mark and m.action == mark.action and m.last <= start)
    return frozenset(span for m in others for span in m.things)


def taken_elsewhere(sentence: Sentence, marks: Sequence[Mark]) -> tuple[tuple[int, int], ...]:
    """The tokens of this sentence that another sentence of its line takes off, puts on, loosens or tightens."""
    where = places(sentence)
    if not where:
        return ()
    begin, end = where[0][0], where[-1][1]
    out = []
    for mark in marks:
        if (mark.first < end and begin < mark.last) or mark.action not in _MOVED:
            continue
        for a, b in mark.things:
            found = [k for k, (x, y) in enumerate(where) if x < b and a < y]
            if found:
                out.append((found[0], found[-1] + 1))
    return tuple(out)


def _verbless(sentence: Sentence, thing: tuple[int, int]) -> bool:
    """True where the sentence only names the thing: it stands first, and a pause or the end follows it."""
    first, last = thing
    return first <= 1 and (last == len(sentence.tokens) or bool(sentence.tokens[last - 1].mark))


def _ends_before(where: list[tuple[int, int]], mark: Mark) -> bool:
    return bool(where) and mark.last <= where[0][0]


def _whole(sentence: Sentence, spans: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """An article marked apart from its name, with its name."""
    articles = {"the", "a", "an", "that", "this", "my", "its"}
    out: list[tuple[int, int]] = []
    for first, last in sorted(spans):
        if out and first <= out[-1][1] and {t.text for t in sentence.tokens[out[-1][0] : out[-1][1]]} <= articles:
            out[-1] = (out[-1][0], max(last, out[-1][1]))
        else:
            out.append((first, last))
    return tuple(out)
