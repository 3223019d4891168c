"""Identity, headings, notes: what is told about the job, filed by the words that announce it."""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from typing import get_args

from voicereport.paths import models_dir
from voicereport.statements.acts import located
from voicereport.statements.commitment import Commitment
from voicereport.statements.names import names_in
from voicereport.statements.tokens import Clause, Sentence
from voicereport.statements.values import Identity, Lost, Noted, Told, Topic
from voicereport.trades.words import Words
from voicereport.transcript import span
from voicereport.wording.identifiers import read_identifier
from voicereport.wording.quantities import find_quantities

_MINUTES = {"s": 1 / 60, "min": 1.0, "h": 60.0}


@lru_cache(maxsize=1)
def _tables() -> dict[str, dict[str, re.Pattern[str]]]:
    data = tomllib.loads((models_dir() / "trades" / "common" / "told.toml").read_text(encoding="utf-8"))
    return {g: {k: re.compile("|".join(f"(?:{p})" for p in v)) for k, v in rows.items()} for g, rows in data.items()}


def topics(sentence: Sentence, commitment: Commitment) -> tuple[Told, ...]:
    """The headings that a sentence belongs under: at most one."""
    if sentence.question:
        return ()
    for topic, pattern in _tables()["topics"].items():
        if pattern.search(sentence.text) and topic in get_args(Topic):
            here = span(sentence.segment, sentence.first, sentence.last)
            hedge = commitment.why.startswith("hedge") or (
                topic == "cause" and commitment.status in {"unclear"} and not commitment.why.startswith("hearsay")
            )
            return (Told(topic=topic, text=here.quote, status="unclear" if hedge else "done", span=here),)  # type: ignore[arg-type]
    return ()


def _word_at(sentence: Sentence, offset: int) -> int:
    """The index, in the sentence's words, of the word after the character `offset` of its text."""
    at = 0
    for token in sentence.tokens:
        at += len(token.text) + 1
        if at > offset:
            return token.word - sentence.first + (0 if at - len(token.text) - 1 >= offset else 1)
    return sentence.last - sentence.first


def identity(sentence: Sentence) -> tuple[Identity, ...]:
    """The fields of the job that a sentence states."""
    out: list[Identity] = []
    words = sentence.words
    for field in ("work_order", "model", "serial"):
        match = _tables()["fields"][field].search(sentence.text)
        if match is None:
            continue
        start = _word_at(sentence, match.end())
        found = read_identifier(words, start) if start < len(words) else None
        if found is None or not re.search(r"\d", found.value):
            found = read_identifier(words, 0, reach=0) if match.start() > 3 else found
        if found is None or not re.search(r"\d", found.value):
            continue
        where = span(sentence.segment, sentence.first + found.first, sentence.first + found.last)
        out.append(Identity(field=field, value=found.value, span=where, visit=sentence.visit))
    return tuple(out)


def labour(sentence: Sentence, commitment: Commitment) -> tuple[Identity, ...]:
    """The time worked, in minutes."""
    table = _tables()["labour"]
    text = sentence.text
    if (
        table["unless"].search(text)
        or commitment.status in {"planned", "advised"}
        or (sentence.question and "put" not in text)
    ):
        return ()
    if not (table["any"].search(text) or table["alone"].search(text)):
        return ()
    times = [
        q
        for q in find_quantities(sentence.words)
        if q.quantity == "time" and q.value is not None and q.unit in _MINUTES
    ]
    if not times:
        return ()
    minutes = round((times[-1].value_high or times[-1].value or 0.0) * _MINUTES[times[-1].unit or "min"], 3)
    return (
        Identity(
            field="labour_min",
            value=minutes,
            span=span(sentence.segment, sentence.first, sentence.last),
            visit=sentence.visit,
            total=bool(table["total"].search(text)),
        ),
    )


def part_number(sentence: Sentence) -> tuple[str, int, int] | None:
    """A part number and the words it stands in, counted in the sentence."""
    match = _tables()["fields"]["part_number"].search(sentence.text)
    words = sentence.words
    if match is not None:
        found = read_identifier(words, min(_word_at(sentence, match.end()), len(words) - 1))
        if found is not None and re.search(r"\d", found.value):
            return found.value, found.first, found.last
    if re.search(r"\bnew\b", sentence.text):
        for start in range(1, len(words)):
            if words[start - 1].endswith((",", ":")):
                found = read_identifier(words, start, reach=0)
                if found is not None and re.search(r"\d", found.value) and re.search(r"[A-Z]", found.value):
                    return found.value, found.first, found.last
    return None


def notes(
    parts: tuple[Clause, ...], found: tuple[Commitment, ...], words: Words, last: str | None
) -> tuple[Noted, ...]:
    """Orientation, routing and caution notes of a sentence."""
    out: list[Noted] = []
    table = _tables()["notes"]
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
        if _tables()["notes"]["lost"].search(clause.text) is None:
            continue
        names = [n for n in names_in(clause, words) if n.kind == "fastener"]
        others = [n for n in names_in(clause, words) if n.kind != "fastener"]
        if names or (spoken and not others):
            where = clause.span()
            out.append(
                Lost(part=names[0].part if names else spoken or "screw", holds=holder, text=where.quote, span=where)
            )
    return tuple(out)
