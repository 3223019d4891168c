"""Readings: before or after the repair, and what a second look heard instead."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from voicereport.assembly.evidence import Place, Places, evidence
from voicereport.assembly.names import Names
from voicereport.report import Reading, Stage
from voicereport.statements.values import Act, Measured, Statements
from voicereport.transcript import Transcript, Word
from voicereport.wording.numbers import find_numbers

_MOVES = ("done", "narrated")
_AFTER = frozenset({"earth_continuity", "insulation_resistance"})  #: measured on what is put together
_OFF = frozenset({"remove", "disconnect", "peel", "loosen", "cut"})
_LOOKS = frozenset({"inspect", "measure", "run_test", "leak_test", "other"})  #: acts that leave all as it was
_BACK = frozenset({"refit", "reconnect", "reseal"})
_POOR = 0.5  #: a number word that the recogniser believes less than this is in doubt
#: a sign is written with 0.2 to 0.5 even where it is right (measured on the demo); the second look guards it
_POOR_SIGN = 0.18


def make_readings(
    statements: Statements, transcript: Transcript, names: Names, sentences: Mapping[str, str]
) -> tuple[Reading, ...]:
    """Every measured value with its stage and its doubt, ids m1, m2, ... in the order of speech; no verdicts yet."""
    places = Places(transcript)
    repair = _repair(statements.acts, places)
    begun, over = _begun(statements.acts, places), _over(statements.acts, places, repair)
    replaced = [a for a in statements.acts if a.action == "replace" and a.status in _MOVES]
    ordered = sorted(statements.readings, key=lambda m: places.of(m.span))
    return tuple(
        _reading(
            f"m{n}",
            m,
            _placed(m, begun, over, places) or _stage(m, repair, replaced, places, names),
            _doubt(m, places, sentences),
        )
        for n, m in enumerate(ordered, 1)
    )


def _reading(id_: str, said: Measured, stage: Stage | None, doubt: str | None) -> Reading:
    return Reading(
        id=id_, visit=said.visit, quantity=said.quantity, subject=said.subject, value=said.value,
        value_high=said.value_high, unit=said.unit, unit_assumed=said.unit_assumed, decimals=said.decimals,
        reference=said.reference, qualifier=said.qualifier, stage=stage, spoken=said.spoken, doubt=doubt,
        limit_low=said.limit_low, limit_high=said.limit_high, evidence=(evidence(said.span),),
    )  # fmt: skip


def _repair(acts: tuple[Act, ...], places: Places) -> Place | None:
    """Where the repair stands: the first new part, else the first repair, else the first put back, else power on."""
    moved = sorted(((places.of(a.span), n) for n, a in enumerate(acts) if a.status in _MOVES))
    ordered = [(place, acts[n]) for place, n in moved]

    def first(wanted: Callable[[Act], bool]) -> Place | None:
        return next((place for place, act in ordered if wanted(act)), None)

    mended = first(lambda a: a.action == "replace" and a.kind not in ("fastener", "seal"))
    mended = mended or first(lambda a: a.action in ("replace", "repair") and a.kind != "fastener")
    off = first(lambda a: a.action in _OFF)
    back = next((p for p, a in ordered if off is not None and p >= off and a.action in _BACK), None)
    return mended or back or first(lambda a: a.action == "restore_power")


def _begun(acts: tuple[Act, ...], places: Places) -> Place | None:
    """Where the work begins: the first act that changes anything. None where nothing was done."""
    return min((places.of(a.span) for a in acts if a.status in _MOVES and a.action not in _LOOKS), default=None)


def _over(acts: tuple[Act, ...], places: Places, repair: Place | None) -> Place | None:
    """Where the repaired appliance has its supply again; None where nobody says so after a repair."""
    again = [places.of(a.span) for a in acts if a.status in _MOVES and a.action == "restore_power"]
    return min((p for p in again if repair is not None and p >= repair), default=None)


def _placed(said: Measured, begun: Place | None, over: Place | None, places: Places) -> Stage | None:
    """The stage of a value where its place says it, whatever the reader thinks: None elsewhere.

    What is read before anything was done was found so ("freezer's minus eighteen" at the start of a job), what is read
    once the repaired appliance runs again is left so, unless its words date it ("it was minus six when I came").
    """
    place = places.of(said.span)
    if said.stage == "as_left" and begun is not None and place < begun:
        return "as_found"
    if said.stage == "as_found" and not said.dated and over is not None and place > over:
        return "as_left"
    return None


def _stage(said: Measured, repair: Place | None, replaced: list[Act], places: Places, names: Names) -> Stage | None:
    if said.stage is not None or said.timeless:
        return said.stage
    if said.quantity in _AFTER:
        return "as_left"
    place = places.of(said.span)
    if said.subject is not None and any(
        places.of(a.span) <= place and names.likeness(a.part, said.subject, a.kind) >= 2 for a in replaced
    ):
        return "as_left"
    return "as_left" if repair is not None and place >= repair else "as_found"


def _doubt(said: Measured, places: Places, sentences: Mapping[str, str]) -> str | None:
    """The words that a second look heard where they change the value, or that a number word was poorly heard."""
    segment = places.segment(said.span)
    words = segment.words[said.span.first : said.span.last] if segment else ()
    other = [w.alternative if w.alternative is not None else w.word for w in words]
    heard = [w.word for w in words]
    if other != heard and _changed(words, heard, other, said.spoken):
        return " ".join(t for t in other if t)
    signs = sentences["doubt.signs"].split()
    poor = next(
        (heard[i] for i in sorted(_number_words(heard))
         if words[i].probability < (_POOR_SIGN if _bare(heard[i]).lower() in signs else _POOR)), None)  # fmt: skip
    return None if poor is None else sentences["doubt.poor"].format(word=_bare(poor))


def _changed(words: tuple[Word, ...], heard: list[str], other: list[str], spoken: str) -> bool:
    """Whether the other words give other numbers, or another word of the value, such as its unit."""
    tokens = [t for text in other for t in text.split()]
    if [n.value for n in find_numbers(heard)] != [n.value for n in find_numbers(tokens)]:
        return True
    value = {_bare(t) for t in spoken.split()}
    numbers = _number_words(heard)
    return any(w.alternative is not None and i not in numbers and _bare(w.word) in value
               and _bare(w.alternative) != _bare(w.word) for i, w in enumerate(words))  # fmt: skip


def _number_words(tokens: list[str]) -> set[int]:
    return {i for n in find_numbers(tokens) for i in range(n.first, n.last)}


def _bare(word: str) -> str:
    return re.sub(r"^\W+|\W+$", "", word).lower()
