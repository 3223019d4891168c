"""Headings and notes: what is told about the job, filed by the words that announce it."""

from __future__ import annotations

from typing import get_args

from voicereport.statements.acts import located
from voicereport.statements.commitment import ASSERTED, Commitment
from voicereport.statements.names import names_in
from voicereport.statements.tables import tells, told_tables
from voicereport.statements.tokens import Clause, Sentence, following
from voicereport.statements.values import Lost, Noted, Told, Topic
from voicereport.trades.words import Words
from voicereport.transcript import span


def weighed(parts: tuple[Clause, ...], found: tuple[Commitment, ...]) -> Commitment:
    """What the clauses of a sentence commit its speaker to, for headings: the first that is no plain statement.

    Where a clause points back to a cause that was named ("the drain's blocked, that's your cause, it looks like a
    label"; "it ought to be closed, so there's your trouble"), what a part should have been and what a find looks like
    are no doubt.
    """
    table = told_tables()["pointed"]
    at = next((n for n, p in enumerate(parts) if found[n].status == "done" and table["back"].search(p.text)), None)
    if at is not None and any(table["named"].search(p.text) for p in parts[:at]):
        beside = [table["before"] if n < at else table["after"] for n in range(len(parts))]
        found = tuple(c for c, p, e in zip(found, parts, beside, strict=True) if not e.search(p.text))
    return next((c for c in found if c.status != "done"), ASSERTED)


def topics(sentence: Sentence, commitment: Commitment) -> tuple[Told, ...]:
    """The headings that a sentence belongs under: at most one."""
    if sentence.question and not _agreed(sentence):
        return ()
    here = span(sentence.segment, sentence.first, sentence.last)
    if sentence.question or complains(sentence.text):
        hedge = commitment.why.startswith("hedge")
        return (Told(topic="complaint", text=here.quote, status="unclear" if hedge else "done", span=here),)
    for topic in told_tables()["topics"]:
        if topic in told_tables()["no_topics"] and tells("no_topics", topic, sentence.text):
            continue
        if tells("topics", topic, sentence.text) and topic in get_args(Topic):
            hedge = commitment.why.startswith("hedge") or (
                topic == "cause" and commitment.status in {"unclear"} and not commitment.why.startswith("hearsay")
            )
            return (Told(topic=topic, text=here.quote, status="unclear" if hedge else "done", span=here),)  # type: ignore[arg-type]
    return ()


def _agreed(sentence: Sentence) -> bool:
    """True of a complaint put to the customer as a question, and agreed to ("So you're getting no ice?" "Yeah.")."""
    if not (tells("complaint", "you", sentence.text) and complains(sentence.text)):
        return False
    answer = following(sentence)
    return answer is not None and tells("complaint", "agreed", answer.text)


def complains(text: str) -> bool:
    """True where a sentence, in lower case and with contractions apart, says what the customer complains of.

    What a customer says of the supply, of what is to be done or of another appliance is no complaint.
    """
    if tells("complaint", "elsewhere", text):
        return False
    if tells("complaint", "always", text):
        return True
    if tells("complaint", "unless", text):
        return False
    said = tells("complaint", "person", text) or tells("complaint", "source", text)
    if tells("complaint", "you", text):
        return True
    history = tells("complaint", "history", text) and tells("complaint", "plain", text)
    return history or (said and tells("complaint", "symptom", text))


def notes(
    parts: tuple[Clause, ...], found: tuple[Commitment, ...], words: Words, last: str | None
) -> tuple[Noted, ...]:
    """Orientation, routing and caution notes of a sentence."""
    out: list[Noted] = []
    table = told_tables()["notes"]
    for clause, commitment in zip(parts, found, strict=True):
        for kind in ("orientation", "routing", "caution"):
            if not table[kind].search(clause.text):
                continue
            if kind == "caution" and not (commitment.status == "advised" or table["warns"].search(clause.text)):
                continue
            names = [
                n for n in names_in(clause, words) if not table["of_part"].search(n.part) and not located(clause, n)
            ]
            about = names[0].part if names else last
            if about:
                where = clause.span()
                out.append(Noted(kind=kind, about=about, text=where.quote, span=where))
                break
    return tuple(out)


def losses(parts: tuple[Clause, ...], words: Words, holder: str | None, spoken: str | None) -> tuple[Lost, ...]:
    """Fasteners said to be stripped, broken or lost."""
    out: list[Lost] = []
    for clause in parts:
        if told_tables()["notes"]["lost"].search(clause.text) is None:
            continue
        names = [n for n in names_in(clause, words) if n.kind == "fastener"]
        others = [n for n in names_in(clause, words) if n.kind != "fastener"]
        if names or (spoken and not others):
            where = clause.span()
            out.append(
                Lost(part=names[0].part if names else spoken or "screw", holds=holder, text=where.quote, span=where)
            )
    return tuple(out)
