"""What a clause commits the speaker to: done, narrated, planned, advised, not_done, unclear, retracted."""

from __future__ import annotations

from dataclasses import dataclass

from voicereport.report import StepStatus
from voicereport.statements.grammar import grammar
from voicereport.statements.tokens import Clause, Sentence
from voicereport.trades.words import Words, singular
from voicereport.wording.numbers import find_numbers


@dataclass(frozen=True, kw_only=True, slots=True)
class Commitment:
    """A status and why."""

    status: StepStatus
    why: str  #: the cue's name and the words that matched; "assertion" where no cue did
    sentence: bool = False


_OBJECT = frozenset({"the", "a", "an", "it", "your", "both"})
ASSERTED = Commitment(status="done", why="assertion")


def cue_of(text: str, words: Words, *, sentence_only: bool = False) -> Commitment | None:
    """The first cue that a clause, or with sentence_only a sentence, matches."""
    for cue in words.cues_for(text):
        if sentence_only and not cue.sentence:
            continue
        match = cue.pattern.search(text)
        if match and not (cue.unless and cue.unless.search(text)):
            return Commitment(status=cue.status, why=f"{cue.why}: {match.group(0)!r}", sentence=cue.sentence)
    return None


def imperative(clause: Clause, words: Words) -> bool:
    """True where the clause begins with a verb in its base form and names nobody who acts."""
    skip = grammar().words["fillers"]
    tokens = [t.text for t in clause.tokens]
    while tokens and tokens[0] in skip:
        tokens.pop(0)
    if not tokens:
        return False
    forms = words.verbs.get(tokens[0], ())
    if not any(f.tense == "base" for f in forms) and tokens[0] not in grammar().words["instructions"]:
        return False
    if len(tokens) > 1 and tokens[1] in {"’s", "is", "are", "was", "were", "’ve", "off", "out", "on"}:
        return False
    noun = (tokens[0],) in words.heads or ("supply_nouns", tokens[0]) in grammar()
    if len(tokens) > 1 and noun and (tokens[1].endswith("ed") or _is_past(tokens[1], words)):
        return False  # "plug pulled", "tap closed"
    if 1 < len(tokens) <= 3 and tokens[1].endswith("ed") and ("left_so", tokens[0]) not in grammar():
        return False  # "lock plugged"
    if len(tokens) > 1 and all(("measured_nouns", t) in grammar() for t in tokens[:2]):
        return False  # "vacuum gauge settled"
    if len(tokens) > 2 and ("measured_nouns", tokens[0]) in grammar() and ("went", tokens[1]) in grammar():
        return False  # "vacuum bottomed out at", "charge went in"
    timed = len(tokens) > 2 and any(("lasting", t) in grammar() for t in tokens[2:5])
    if timed and ("measured_nouns", tokens[0]) in grammar() and find_numbers(tokens[1:2]):
        return False  # "vacuum thirty minutes", but "charge forty grams" may be an order
    if len(tokens) > 1 and tokens[1] not in _OBJECT and (singular(tokens[1]),) in words.heads:
        return False
    if (
        tokens[1:2]
        and tokens[1] not in _OBJECT
        and any(w in {"’s", "is", "are", "was", "were", "’ve", "i", "we"} for w in tokens[1:6])
    ):
        return False
    if _is_past(tokens[0], words):  # cut, put, shut: an imperative where "your" shows that the listener is told
        return "your" in tokens[:4]
    # a noun that looks like a verb ("drain tube", "seal") is not followed by its object's article
    return len(tokens) > 1


def _is_past(word: str, words: Words) -> bool:
    return any(f.tense in {"past", "part"} for f in words.verbs.get(word, ()))


def commitments(sentence: Sentence, parts: tuple[Clause, ...], words: Words) -> tuple[Commitment, ...]:
    """The commitment of each clause of a sentence."""
    whole = cue_of(sentence.text, words, sentence_only=True)
    out: list[Commitment] = []
    carried: Commitment | None = None
    telling = False
    for clause in parts:
        own = cue_of(clause.text, words)
        if whole is not None and (own is None or own.status in {"done", "planned", "not_done"}):
            own = whole
        if own is None and sentence.question:
            own = Commitment(status="unclear", why="question")
        if own is None and carried is not None and clause.joint in {"and", ",", "then"} and _leans(clause, words):
            own = carried
        short = clause.joint == "and" and len(clause.tokens) <= 4 and clause.tokens[0].text in {"it", "that", "they"}
        if own is None and carried is not None and carried.status in {"not_done", "unclear"} and short:
            own = carried  # "have n't tested it and it passed"
        if own is None:
            told = telling and _goes_on(clause)
            own = (
                Commitment(status="narrated", why="imperative") if imperative(clause, words) and not told else ASSERTED
            )
            telling = own is ASSERTED and (_tells(clause) or (told and imperative(clause, words)))
        else:
            telling = False
        if own is ASSERTED and clause.joint == "when" and not {"i", "we"} & {t.text for t in clause.tokens}:
            own = Commitment(status="unclear", why="condition")
        out.append(own)
        carried = own if own.status in {"planned", "advised", "not_done", "unclear"} else None
    return _hedged(parts, tuple(out), words)


def _tells(clause: Clause) -> bool:
    """True where a clause tells in the present what its speaker does, or names it as what he did.

    "I reach round the back" and "first thing I did was reach round" are told of one time; "I always reach round",
    "before I reach round", "I go to pull it" and "I get him to reach round" are not.
    """
    text = clause.text
    if clause.joint and clause.joint not in grammar().words["tells_on"]:  # "before I grab a screwdriver I reach back"
        text = text.partition(" i ")[2] and f"i {text.rpartition(' i ')[2]}"
    return grammar().patterns["tells_it"].search(text) is not None


def _goes_on(clause: Clause) -> bool:
    """True where a clause without a subject goes on with what the one before it tells: "... and unplug it"."""
    words = {t.text for t in clause.tokens}
    return clause.joint in grammar().words["tells_on"] and not words & grammar().words["bids"]


def _leans(clause: Clause, words: Words) -> bool:
    """A clause that begins with a bare verb shares the modal of the one before."""
    skip = grammar().words["fillers"]
    tokens = [t.text for t in clause.tokens if t.text not in skip]
    return bool(tokens) and any(f.tense == "base" for f in words.verbs.get(tokens[0], ()))


def _hedged(parts: tuple[Clause, ...], found: tuple[Commitment, ...], words: Words) -> tuple[Commitment, ...]:
    """A clause that is only a hedge ("I think", "probably", "I reckon") hedges the one beside it."""
    out = list(found)
    for i, clause in enumerate(parts):
        if (
            found[i].status == "unclear"
            and len(clause.tokens) <= 5
            and not found[i].why.startswith(("question", "condition"))
        ):
            j = i - 1 if i else i + 1
            if 0 <= j < len(out) and out[j].status in {"done", "narrated"}:
                out[j] = Commitment(status="unclear", why=found[i].why)
    return tuple(out)
