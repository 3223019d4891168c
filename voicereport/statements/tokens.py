"""Words to tokens, sentences and clauses. Tokens are lower case; clitics stand apart ("plug", "’s")."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from voicereport.statements.grammar import grammar
from voicereport.transcript import Segment, Span, span

_PINNED = re.compile(r"^(two|three|four|five|six|seven|eight|nine|ten|twelve|\d{1,2})-(pin|way|pole)$")
_STOPS = frozenset({".", "?", "!", "…"})  #: marks that end a sentence
_WHERE = frozenset({"on", "for", "at"})  #: after "same" or "same again": what was told is told of another place
_CLITIC = re.compile(r"^(.+?)(n['’]t|['’](?:s|ve|ll|re|d|m))$", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True, slots=True)
class Token:
    """One token of a sentence."""

    text: str  #: lower case, without punctuation
    word: int  #: index of its word in the segment
    raw: str  #: the word as written
    mark: str  #: punctuation after it: "", ",", ".", "?", ...


@dataclass(frozen=True, kw_only=True, eq=False)
class Sentence:
    """The tokens of one sentence, with the segment they stand in. Equal to itself alone."""

    segment: Segment
    tokens: tuple[Token, ...]
    visit: int
    question: bool

    @cached_property
    def text(self) -> str:
        """The sentence for expressions: lower case, without punctuation, clitics apart."""
        return " ".join(t.text for t in self.tokens)

    @cached_property
    def words(self) -> list[str]:
        """The words as written, for the number grammar. Not to be changed."""
        return [w.word for w in self.segment.words[self.first : self.last]]

    @cached_property
    def first(self) -> int:
        return self.tokens[0].word

    @cached_property
    def last(self) -> int:
        return self.tokens[-1].word + 1

    def begins(self, said: Span) -> bool:
        """True where the words of `said`, of the same segment, begin in this sentence."""
        return said.segment == self.segment.id and self.first <= said.first < self.last


def _tokens(segment: Segment) -> Iterator[Token]:
    for n, word in enumerate(segment.words):
        core = word.word.strip('"“”()[]')
        stripped = core.rstrip(".,;:?!…")
        mark = core[len(stripped) :][:1]
        text = stripped.lower().replace("'", "’")
        if not text:
            continue
        joined = _PINNED.match(text)
        match = _CLITIC.match(text)
        if joined:  # "three-way plug": one plug of three ways, not three
            yield Token(text=joined[1], word=n, raw=word.word, mark="")
            yield Token(text=joined[2], word=n, raw=word.word, mark=mark)
        elif match:
            first, clitic = match.groups()
            first = {"ca": "ca", "wo": "wo"}.get(first, first)
            yield Token(text=first, word=n, raw=word.word, mark="")
            yield Token(text=clitic, word=n, raw=word.word, mark=mark)
        else:
            yield Token(text=text, word=n, raw=word.word, mark=mark)


def sentences(segment: Segment, visit: int) -> tuple[Sentence, ...]:
    """The sentences of a segment, split at full stops, question and exclamation marks, and before "same on ..."."""
    out: list[Sentence] = []
    held: list[Token] = []
    tokens = list(_tokens(segment))
    for n, token in enumerate(tokens):
        held.append(token)
        if token.mark in _STOPS or (token.mark == "," and _repeats(tokens[n + 1 :])):
            out.append(Sentence(segment=segment, tokens=tuple(held), visit=visit, question=_asks(held)))
            held = []
    if held:
        out.append(Sentence(segment=segment, tokens=tuple(held), visit=visit, question=_asks(held)))
    return tuple(out)


def _repeats(tokens: Sequence[Token]) -> bool:
    """True of what tells an act once more of another place and ends there: "same again on the right", "same on top".

    With any other word in it, it is no sentence of its own: a condition or a speaker before it may hold there, too.
    """
    if not tokens or tokens[0].text != "same":
        return False
    end = next((n for n, token in enumerate(tokens, 1) if token.mark), len(tokens))
    texts = [token.text for token in tokens[1:end]]
    words = grammar().words
    where = _WHERE | {"again", "other"} | words["sides"] | words["places"] | words["articles"]
    stops = tokens[end - 1].mark in _STOPS or end == len(tokens)
    return stops and where.issuperset(texts) and not _WHERE.isdisjoint(texts[:2])


def _asks(tokens: Sequence[Token]) -> bool:
    """Whether a sentence asks: by its mark, or by its order of words where the mark was not heard.

    One in which the answer follows, or something else is told, does not: "is the plug out, it is".
    """
    if tokens[-1].mark == "?":
        return True
    pieces: list[list[str]] = [[]]
    for token in tokens:
        pieces[-1].append(token.text)
        if token.mark:
            pieces.append([])
    inverted, answers = grammar().patterns["inverted"], grammar().words["answers"]
    asking = [inverted.search(" ".join(piece[:9])) is not None for piece in pieces if len(piece) > 1]
    return bool(asking) and all(asking) and all(len(piece) > 1 or answers.isdisjoint(piece) for piece in pieces)


def line_text(sentence: Sentence, *, so_far: bool = False) -> str:
    """The line of a sentence for expressions, as the text of one is; so_far: no further than the sentence."""
    told = sentences(sentence.segment, sentence.visit)
    return " ".join(s.text for s in told if s.first <= sentence.first or not so_far)


def following(sentence: Sentence) -> Sentence | None:
    """The next sentence of the line, None at its end."""
    return next((s for s in sentences(sentence.segment, sentence.visit) if s.first >= sentence.last), None)


@dataclass(frozen=True, kw_only=True)
class Clause:
    """Tokens [first, last) of a sentence; `joint` is the word or mark that began it."""

    sentence: Sentence
    first: int
    last: int
    joint: str

    @cached_property
    def tokens(self) -> tuple[Token, ...]:
        return self.sentence.tokens[self.first : self.last]

    @cached_property
    def text(self) -> str:
        return " ".join(t.text for t in self.tokens)

    def span(self) -> Span:
        tokens = self.tokens
        return span(self.sentence.segment, tokens[0].word, tokens[-1].word + 1)


def whole_of(sentence: Sentence) -> Clause:
    """A sentence as one clause."""
    return Clause(sentence=sentence, first=0, last=len(sentence.tokens), joint="")


def clause_with(parts: Sequence[Clause], token: int) -> int:
    """The place in `parts` of the clause that holds a token of the sentence; 0 where none does."""
    return next((n for n, clause in enumerate(parts) if clause.first <= token < clause.last), 0)


def clauses(sentence: Sentence) -> tuple[Clause, ...]:
    """The clauses of a sentence: split at commas and at the words of `splits`."""
    splits = grammar().words["splits"]
    out: list[Clause] = []
    start, joint = 0, ""
    tokens = sentence.tokens

    def cut(end: int, next_start: int, next_joint: str) -> None:
        nonlocal start, joint
        if end > start:
            out.append(Clause(sentence=sentence, first=start, last=end, joint=joint))
            joint = next_joint
        elif next_joint != ",":
            joint = next_joint
        start = next_start

    for i, token in enumerate(tokens):
        if token.text in splits and i >= start and not (token.text in {"so", "then"} and i == 0):
            following = tokens[i + 1].text if i + 1 < len(tokens) else ""
            if token.text == "and" and following in {"a", "half", "quarter"} and i and _number_like(tokens[i - 1].text):
                continue
            if token.text == "and" and i and _number_like(tokens[i - 1].text) and _number_like(following):
                continue
            if token.text == "with" and following not in {
                "two",
                "three",
                "four",
                "five",
                "six",
                "seven",
                "eight",
                "its",
            }:
                continue
            cut(i, i + 1, token.text)
        if token.mark in {",", ";", ":"}:
            cut(i + 1, i + 1, ",")
    cut(len(tokens), len(tokens), "")
    return tuple(out)


_NUMBERS = frozenset(
    [
        "zero",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
        "thirteen",
        "fourteen",
        "fifteen",
        "sixteen",
        "seventeen",
        "eighteen",
        "nineteen",
        "twenty",
        "thirty",
        "forty",
        "fifty",
        "sixty",
        "seventy",
        "eighty",
        "ninety",
        "hundred",
        "thousand",
    ]
)


def _number_like(text: str) -> bool:
    return text in _NUMBERS or text[:1].isdigit()
