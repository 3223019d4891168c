"""What a clause says of the things in it: the sense of its verb or of the word that says where they are."""

from __future__ import annotations

from dataclasses import dataclass

from voicereport.statements.grammar import grammar
from voicereport.statements.names import OBJECT_WORDS, names_in
from voicereport.statements.tokens import Clause
from voicereport.trades.words import VerbForm, Words, singular


@dataclass(frozen=True, kw_only=True, slots=True)
class Predicate:
    """The sense of a clause and where it stands."""

    sense: str
    at: int  #: token of the verb or state word
    particle: str | None
    active: bool  #: things after the verb undergo it; else those before it
    verb: bool


def _particle(clause: Clause, at: int) -> list[str]:
    """Particles of the clause after token `at`."""
    tokens = clause.sentence.tokens
    wanted = grammar().words["particles"]
    return [t.text for t in tokens[at + 1 : clause.last] if t.text in wanted]


#: verbs whose subject is what moves ("two screws came out")
_MOVES = frozenset({"came", "come", "comes", "coming", "went", "go", "goes", "going", "gone", "fell"})
_PASSIVE = frozenset({"’s", "is", "are", "was", "were", "been", "be", "’re", "being", "got"})


def _modifies(clause: Clause, at: int, words: Words) -> bool:
    """True where a verb form is the first word of a name ("drain trough", "discharge line")."""
    tokens = clause.sentence.tokens
    if tokens[at].mark or at + 1 >= clause.last:
        return False
    pair = (tokens[at].text, singular(tokens[at + 1].text))
    return (
        pair in words.heads
        or pair in words.parts
        or (tokens[at].text in grammar().words["modifiers_ok"] and (pair[1],) in words.heads)
    )


def _sense(form: VerbForm, particles: list[str]) -> str | None:
    if "*" in form.particles:
        return form.sense
    for particle in particles:
        if particle in form.particles:
            return form.sense
    return form.sense if not form.particles else None


def predicates(clause: Clause, words: Words) -> tuple[Predicate, ...]:
    """The predicates of a clause, in order: verbs first; a state word only where there is no verb."""
    tokens = clause.sentence.tokens
    found: list[Predicate] = []
    named = {i for n in names_in(clause, words) for i in range(n.first, n.last)}
    for i in range(clause.first, clause.last):
        forms = words.verbs.get(tokens[i].text) if i not in named else None
        if not forms or (i and tokens[i - 1].text in {"the", "a", "an", "new", "old", "to-be"}):
            continue
        if forms[0].tense == "base" and _modifies(clause, i, words):
            continue
        if (
            tokens[i].text in {"open", "shut", "closed"}
            and i
            and tokens[i - 1].text in _PASSIVE | {"read", "reads", "circuit", "wide", "now"}
        ):
            continue
        nouny = (tokens[i].text,) in words.heads or (tokens[i].text,) in words.parts
        following = tokens[i + 1].text if i + 1 < clause.last else ""
        if nouny and i == clause.first and following not in OBJECT_WORDS | {"two", "three", "four"}:
            continue
        if tokens[i].text in {"ohm", "ohms"} and i and tokens[i - 1].text not in {"i", "we", "and"}:
            continue
        if nouny and (
            following in grammar().words["particles"] | {"’s", "is", "are", ""}
            or (following and (following,) in words.heads)
        ):
            continue
        particles = _particle(clause, i)
        options = sorted(forms, key=lambda f: ("*" in f.particles, not f.particles))
        for form in options:
            sense = _sense(form, particles)
            if sense is None:
                continue
            before = [t.text for t in tokens[clause.first : i]]
            if form.tense == "s" and not any(w in grammar().words["subjects"] for w in before):
                continue
            passive = any(f.tense == "part" and f.sense == form.sense for f in forms) and (
                any(w in _PASSIVE for w in before)
                or (
                    (not before or not any(w in {"i", "we", "’ve", "have", "he", "they"} for w in before))
                    and _no_object(clause, i)
                )
            )
            passive = passive or tokens[i].text in _MOVES
            found.append(
                Predicate(
                    sense=sense,
                    at=i,
                    particle=next((p for p in particles if p in form.particles), particles[0] if particles else None),
                    active=not passive,
                    verb=True,
                )
            )
            break
    if found:
        return tuple(found)
    return _state(clause, words)


def _no_object(clause: Clause, at: int) -> bool:
    """Nothing but particles, adverbs and prepositions follows."""
    tokens = clause.sentence.tokens
    following = [t.text for t in tokens[at + 1 : clause.last]]
    return not following or following[0] in grammar().words["particles"] | {
        "from",
        "of",
        "at",
        "along",
        "and",
        "now",
        "as",
        "by",
        "with",
        "to",
        "through",
    }


#: what may follow "in" and "on" where they say where something is by now
_AFTER = frozenset(
    {
        "again",
        "now",
        "too",
        "tight",
        "and",
        "with",
        "all",
        "as",
        "home",
        "okay",
        "fully",
        "firm",
        "the",
        "well",
        "square",
        "its",
    }
)


def _state(clause: Clause, words: Words) -> tuple[Predicate, ...]:
    tokens = clause.sentence.tokens
    for i in range(clause.first, clause.last):
        two = " ".join(t.text for t in tokens[i : i + 2])
        for text, width in ((two, 2), (tokens[i].text, 1)):
            sense = words.states.get(text)
            if sense is None or i + width > clause.last:
                continue
            following = tokens[i + width].text if i + width < clause.last else ""
            if text in {"in", "on", "up", "home", "back"} and following and not tokens[i + width - 1].mark:
                if following in {"it", "order", "these", "those", "this", "that", "here", "there"} or (
                    following in {"the", "a", "an", "its", "my", "there", "here", "his", "her", "this", "that"}
                    and text != "on"
                ):
                    continue
                if (
                    (following,) in words.heads
                    or following in {"panel", "cover"}
                    or (text == "back" and following in {"panel", "cover", "grille", "plate", "wall", "door"})
                ):
                    continue
            if text in {"in", "on"} and following and not tokens[i + width - 1].mark and following not in _AFTER:
                continue
            return (Predicate(sense=sense, at=i, particle=text, active=False, verb=False),)
    return ()
