"""Spoken requests found among what was said: the call word, then one of a few phrases. Ordinary talk is none."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Literal

from voicereport.requests.phrases import Does, Phrases, Request, Tokens, tokens
from voicereport.transcript import Word

_PAUSE_S = 0.25  #: a pause from here on lets a call word stand in the middle of talk
_LONGEST_NOTE = 60  #: words
_SHORT = 7  #: words; a longer utterance that opens with the call word is talk where nothing in it is a request
_LONG_CALL = 6  #: letters of a call word from which on another spelling of it is known
_LIKE_CALL = 85  #: likeness by letters from which on it is one
_HOPELESS = 55  #: likeness by letters under which sound is not looked at
_GOES_ON = 25  #: likeness that a phrase loses where talk goes on after it
_ENDS = (".", "?", "!", ",", ";", ":", "…", "-")


@dataclass(frozen=True, kw_only=True, slots=True)
class Direction:
    """A request: words [first, last) are it, and of these [told, last) are what it is to note."""

    does: Does | Literal["called", "unknown"]
    first: int
    last: int
    told: int


@dataclass(frozen=True, kw_only=True, slots=True)
class _Token:
    text: str
    word: int  #: index of its word


def find_directions(words: Sequence[Word], phrases: Phrases, *, called: bool = False) -> tuple[Direction, ...]:
    """The requests in an utterance, in order and apart from each other.

    A call word with nothing after it that is a request is "called" where it is all that was said, and "unknown" where
    it opens a short utterance as it is written in the settings; else it is ordinary talk.
    called: the call word was said just before, and a request may open the utterance without it.
    """
    found: list[Direction] = []
    told = [_Token(text=t, word=n) for n, word in enumerate(words) for t in tokens(word.word)]
    at = 0
    if called and told and (opening := _request(told, 0, 0, words, phrases)) is not None:
        found.append(opening)
        at = next((n for n, t in enumerate(told) if t.word >= opening.last), len(told))
    while at < len(told):
        length, sure = _call(told, at, phrases)
        direction = (
            _request(told, at, at + length, words, phrases) if length and _free(told, at, words, phrases) else None
        )
        if direction is None and length and sure and at == 0 and len(words) <= _SHORT:
            does: Literal["called", "unknown"] = "called" if length == len(told) else "unknown"
            direction = Direction(does=does, first=0, last=len(words), told=len(words))
        if direction is None:
            at += 1
            continue
        found.append(direction)
        at = next((n for n, t in enumerate(told) if t.word >= direction.last), len(told))
    return tuple(found)


def bare_request(text: str, after: Does | None, phrases: Phrases) -> bool:
    """Whether the whole of `text` repeats the request `after`, just answered, without the call word."""
    said = tokens(text)
    return any(r.does == after and said in r.bare for r in phrases.requests)


def _call(told: Sequence[_Token], at: int, phrases: Phrases) -> tuple[int, bool]:
    """How many tokens from `at` on are a call word, 0 = none; and whether it is as written in the settings."""
    for group, sure in ((phrases.call, True), (phrases.heard_as, False)):
        begun = [call for call in group if call[0] == told[at].text]
        for call in sorted(begun, key=len, reverse=True):
            if tuple(t.text for t in told[at : at + len(call)]) == call:
                return len(call), sure
    return _like_call(told, at, phrases), False


def _like_call(told: Sequence[_Token], at: int, phrases: Phrases) -> int:
    """How many tokens from `at` on are a call word but for a letter or two, however they are parted; 0 = none."""
    from rapidfuzz.fuzz import ratio

    calls = _long_calls(phrases.call)
    for length in (1, 2):
        said = "".join([t.text for t in told[at : at + length]])
        if len(told) - at >= length and any(ratio(said, call, score_cutoff=_LIKE_CALL) for call in calls):
            return length
    return 0


@lru_cache(maxsize=8)
def _long_calls(calls: tuple[Tokens, ...]) -> tuple[str, ...]:
    """Call words that are long enough to be known where they are spelled otherwise, each as one word."""
    return tuple(joined for call in calls if len(joined := "".join(call)) >= _LONG_CALL)


def _free(told: Sequence[_Token], at: int, words: Sequence[Word], phrases: Phrases) -> bool:
    """A call word stands at the start, after a pause or a mark, or after an opener that does."""
    if at == 0:
        return True
    word, before = told[at].word, told[at - 1].word
    if words[before].word.endswith(_ENDS) or words[word].start - words[before].end >= _PAUSE_S:
        return True
    return told[at - 1].text in phrases.openers and _free(told, at - 1, words, phrases)


def _request(told: Sequence[_Token], at: int, after: int, words: Sequence[Word], phrases: Phrases) -> Direction | None:
    """The request after a call word at tokens [at, after), or None."""
    texts = tuple(t.text for t in told)
    scores: dict[Does, tuple[float, int]] = {}  #: likeness, and the token after the phrase
    starts = [after, *(after + len(f) for f in phrases.fillers if texts[after : after + len(f)] == f)]
    for start, request in product(starts, phrases.requests):
        for length, score in _likenesses(texts[start:], request):
            lost = _GOES_ON if request.does != "note" and _runs_on(told, start + length, words) else 0
            scores[request.does] = max(scores.get(request.does, (0.0, 0)), (score - lost, start + length))
    if not scores:
        return None
    ranked = sorted(scores.items(), key=lambda item: item[1], reverse=True)
    does, (score, last_token) = ranked[0]
    if score < phrases.least or (len(ranked) > 1 and score - ranked[1][1][0] < phrases.apart):
        return None
    first = told[_with_openers(told, at, phrases)].word
    end = told[last_token - 1].word + 1
    last = min(len(words), end + _LONGEST_NOTE) if does == "note" else end
    return Direction(does=does, first=first, last=last, told=end)


def _likenesses(rest: Tokens, request: Request) -> Iterator[tuple[int, float]]:
    """How many tokens of `rest` may be a phrase of the request, and how like it they are, 0..100."""
    from rapidfuzz.fuzz import ratio

    for phrase in request.phrases:
        for length in range(max(1, len(phrase) - 1), min(len(rest), len(phrase) + 1) + 1):
            letters = ratio(" ".join(rest[:length]), " ".join(phrase))
            if letters > _HOPELESS:
                yield length, max(letters, (letters + ratio(_sound(rest[:length]), _sound(phrase))) / 2)


@lru_cache(maxsize=4096)
def _sound(said: Tokens) -> str:
    import jellyfish

    return " ".join(jellyfish.metaphone(word) for word in said)


def _runs_on(told: Sequence[_Token], at: int, words: Sequence[Word]) -> bool:
    """Whether talk goes on at token `at` without a mark or a pause before it."""
    if at >= len(told):
        return False
    word, before = told[at].word, told[at - 1].word
    return word != before and not (
        words[before].word.endswith((".", "?", "!")) or words[word].start - words[before].end >= _PAUSE_S
    )


def _with_openers(told: Sequence[_Token], at: int, phrases: Phrases) -> int:
    while at and told[at - 1].text in phrases.openers:
        at -= 1
    return at


def is_one_of(text: str, known: frozenset[Tokens]) -> bool:
    """Whether the whole of `text` is one of the phrases."""
    return tokens(text) in known
