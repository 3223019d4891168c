"""Readings: values with their subjects, stages and spoken limits."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal

from voicereport.report import QuantityName
from voicereport.statements.commitment import Commitment
from voicereport.statements.grammar import grammar
from voicereport.statements.names import Name, names_in
from voicereport.statements.placing import word_starts
from voicereport.statements.reader import Marked, Value
from voicereport.statements.tokens import Clause, Sentence, whole_of
from voicereport.statements.values import Measured
from voicereport.trades.spoken_units import shipped_units
from voicereport.trades.words import Words
from voicereport.transcript import span
from voicereport.wording.apart import is_denied, said_again
from voicereport.wording.lexemes import lex
from voicereport.wording.numbers import Number, find_numbers
from voicereport.wording.quantities import Quantity, find_circuit_words, find_quantities

_TIMELESS = frozenset({"time", "vacuum", "mass"})


def _clause_at(parts: Sequence[Clause], word: int) -> int:
    for n, clause in enumerate(parts):
        if clause.tokens[0].word <= word <= clause.tokens[-1].word:
            return n
    return 0


def _subject(names: Sequence[Name], at: int, sentence: Sentence, last: str | None) -> str | None:
    """The thing a value belongs to: the nearest named before it, else after it, else the last one spoken of."""
    index = {t.word: i for i, t in reversed(list(enumerate(sentence.tokens)))}
    token = index.get(at, 0)
    before = [n for n in names if n.first <= token and n.kind != "fastener"]
    after = [n for n in names if n.first > token and n.kind != "fastener"]
    if before:
        return before[-1].part
    if after:
        return after[0].part
    return last


def _stage(text: str) -> Literal["as_found", "as_left"] | None:
    patterns = grammar().patterns
    if patterns["left"].search(text):
        return "as_left"
    return "as_found" if patterns["found"].search(text) else None


def _on_arrival(sentence: Sentence, parts: Sequence[Clause], first: int, end: int) -> Literal["as_found"] | None:
    """as_found where words beside the number [first, end) date it to the speaker's coming: "minus six when I came".

    So does what it is since, in the clause after it: "freezer was forty eight, now nineteen".
    """
    patterns, numbers = grammar().patterns, find_numbers(sentence.words)
    after = min((n.first for n in numbers if n.first >= end), default=len(sentence.words))
    heads = not any(n.first < first for n in numbers)
    if patterns["on_arrival"].search(_between(sentence, end, after)):
        return "as_found"
    if heads and patterns["came_to"].search(_between(sentence, 0, first)):
        return "as_found"
    here = _clause_at(parts, sentence.first + first)
    was = _stage(parts[here].text) == "as_found" and here + 1 < len(parts) and after < len(sentence.words)
    return "as_found" if was and patterns["then_now"].search(parts[here + 1].text) else None


def _between(sentence: Sentence, first: int, end: int) -> str:
    """The words [first, end) of a sentence as the expressions have them."""
    return " ".join(t.text for t in sentence.tokens if first <= t.word - sentence.first < end)


def _is_reading(quantity: Quantity, clause: Clause, word: int, commitment: Commitment) -> bool:
    if quantity.role == "size" or commitment.status in {"planned", "advised"}:
        return False
    return not _is_none(clause, word)


def _bare(
    sentence: Sentence, quantities: Sequence[Quantity], setting: str
) -> list[tuple[QuantityName, float, int, int, str | None, int]]:
    """Numbers without a unit that the sentence makes a temperature: "cabinet's at minus nineteen"."""
    text = sentence.text
    if not grammar().patterns["temperature"].search(text):
        return []
    taken = {i for q in quantities for i in range(q.first, q.last)}
    scale = next((q.unit for q in reversed(quantities) if q.quantity == "temperature" and not q.unit_assumed), None)
    out: list[tuple[QuantityName, float, int, int, str | None, int]] = []
    signed = re.search(r"\b(minus|below|above|degrees)\b", text)
    at = re.search(
        r"(\bat|’s|\bis|\bnow|\bwas|\bdown to)\s+(minus |about |around )?\w+(\s\w+)?(\s(above|below|now))?", text
    )
    for number in find_numbers(sentence.words):
        if taken & set(range(number.first, number.last)) or number.style in {"ordinal", "clock", "digits"}:
            continue
        if not (signed or at) or not -60 <= number.value <= 130:
            continue
        if (
            number.value > 0
            and number.value == int(number.value)
            and re.search(
                r"\b(screws?|bolts?|clips?|plugs?|drawers?|shelves|visits?|job|ticket|model|serial|order)\b", text
            )
        ):
            continue
        if re.search(r"\b(model|serial|number|order|ticket|job|part|breaker)\b", text):
            continue
        out.append(("temperature", number.value, number.first, number.last, scale or setting, number.decimals))
    return out


def _is_none(clause: Clause, word: int) -> bool:
    """The word at `word` of the segment stands in what is no reading: a specification, a setting, a price.

    A setting or a rating said beside a value ("forty one with the dial at forty") is cut out, and only what lies in it
    is none.
    """
    text, at = clause.text, sum(len(t.text) + 1 for t in clause.tokens if t.word < word)
    for aside in grammar().patterns["aside"].finditer(text):
        if aside.start() <= at < aside.end():
            return True
        text = text[: aside.start()] + " " * (aside.end() - aside.start()) + text[aside.end() :]
    return grammar().patterns["no_reading"].search(" ".join(text.split())) is not None


def _none_at(parts: Sequence[Clause], n: int, word: int) -> bool:
    """The same of a word of clause n, which a clause of nothing but a number has from the one before it.

    "Earth is usually about nought point one, nought point one five."
    """
    if _is_none(parts[n], word):
        return True
    numbers = find_numbers([t.text for t in parts[n].tokens])
    bare = len(numbers) == 1 and numbers[0].last - numbers[0].first == len(parts[n].tokens)
    return n > 0 and bare and _is_none(parts[n - 1], parts[n - 1].tokens[-1].word)


def _asserted(commitment: Commitment) -> bool:
    """True where a value is stated: what is hedged, denied, planned, told by others or instructed is no reading."""
    return commitment.status == "done"


def _timeless(quantity: QuantityName, text: str) -> bool:
    """True for values of the process itself, whose stage stays open."""
    return quantity in _TIMELESS or bool(quantity == "pressure" and grammar().patterns["nitrogen"].search(text))


def _as_said(q: Quantity) -> dict[str, Any]:
    """What the words of a quantity say, as fields of a reading."""
    return {
        "value": q.value,
        "value_high": q.value_high,
        "unit": q.unit,
        "unit_assumed": q.unit_assumed,
        "decimals": q.decimals,
        "qualifier": q.qualifier,
        "reference": q.reference,
        "spoken": q.spoken,
    }


def _limits(text: str, quantities: Sequence[Quantity]) -> tuple[float | None, float | None]:
    """A spoken specification in the same or the next sentence: (low, high)."""
    if grammar().patterns["limit"].search(text) is None or not quantities:
        return None, None
    last = quantities[-1]
    if last.value is None:
        return None, None
    return (last.value, last.value_high) if last.value_high is not None else (None, None)


def readings(
    sentence: Sentence,
    parts: Sequence[Clause],
    found: Sequence[Commitment],
    words: Words,
    *,
    last: str | None,
    setting: Literal["Cel", "[degF]"],
) -> tuple[Measured, ...]:
    """The readings of a sentence. `last`: the thing spoken of before it. `setting`: the unit of bare temperatures."""
    tokens = sentence.words
    quantities = [*find_quantities(tokens, temperature_unit=setting), *find_circuit_words(tokens)]
    names = [n for c in parts for n in names_in(c, words)]
    out: list[Measured] = []
    if sentence.question or grammar().patterns["quoted"].search(sentence.text):
        return ()
    for q in sorted(quantities, key=lambda x: x.first):
        word = sentence.first + q.first
        n = _clause_at(parts, word)
        if not _is_reading(q, parts[n], word, found[n]) or (found[n].status not in {"done", "narrated"}):
            continue
        if q.qualifier in {"open_circuit", "short_circuit"} and not _meter(sentence, names, last, words):
            continue
        quantity = q.quantity or "other"
        subject = _subject(names, word, sentence, last)
        if quantity == "resistance":
            quantity = (
                "insulation_resistance"
                if grammar().patterns["insulation"].search(sentence.text) or q.unit == "MOhm"
                else "earth_continuity"
                if grammar().patterns["earth"].search(sentence.text) and q.value is not None
                else quantity
            )
        if quantity in _PROVING and not _asserted(found[n]):
            continue
        timeless = _timeless(quantity, sentence.text)
        if quantity == "time":
            subject = None
            if grammar().patterns["labour"].search(sentence.text) or len(tokens) <= 4:
                continue
        if quantity == "mass":
            subject = "refrigerant"
        out.append(
            Measured(
                quantity=quantity,
                subject=subject,
                **_as_said(q),
                stage=None if timeless else _stage(parts[n].text),
                timeless=timeless,
                span=span(sentence.segment, word, sentence.first + q.last),
                visit=sentence.visit,
            )
        )
    for quantity, value, first, end, unit, decimals in _bare(sentence, quantities, setting):
        word = sentence.first + first
        n = _clause_at(parts, word)
        if found[n].status != "done" or _is_none(parts[n], word):
            continue
        out.append(
            Measured(
                quantity=quantity,
                subject=_subject(names, word, sentence, None),
                value=value,
                value_high=None,
                unit=unit,
                unit_assumed=True,
                decimals=decimals,
                qualifier="exact",
                reference=None,
                stage=_stage(parts[n].text),
                timeless=False,
                spoken=" ".join(tokens[first:end]).strip(".,;"),
                span=span(sentence.segment, word, sentence.first + end),
                visit=sentence.visit,
            )
        )
    return _with_limits(tuple(out), sentence, quantities)


#: quantities whose value alone can confirm a check of the highest kind: only plain statements of them are readings
_PROVING: frozenset[QuantityName] = frozenset({"earth_continuity", "vacuum", "voltage"})
_ELECTRICAL: frozenset[QuantityName] = frozenset({"voltage", "current", "power", "resistance"})
_SURE = 0.9  #: from here on the reader is believed that digits said one by one are a value and no number of a thing
#: quantities that are of one thing only, whatever is named beside them
_SUBJECTS: dict[QuantityName, str | None] = {"time": None, "mass": "refrigerant", "vacuum": "sealed system"}
#: quantities that share a unit: the reader says which of them is meant
_FAMILIES: tuple[frozenset[QuantityName], ...] = (
    frozenset({"resistance", "earth_continuity", "insulation_resistance"}),
    frozenset({"pressure", "vacuum"}),
    frozenset({"temperature", "temperature_difference"}),
)
#: units of values spoken without one; temperatures follow the job's setting
_UNITS: dict[QuantityName, str] = {
    "resistance": "Ohm",
    "earth_continuity": "Ohm",
    "voltage": "V",
    "current": "A",
    "power": "W",
    "vacuum": "um[Hg]",
    "mass": "g",
    "insulation_resistance": "MOhm",
    "capacitance": "uF",
}


def learned_readings(
    sentence: Sentence,
    marked: Marked,
    parts: Sequence[Clause],
    found: Sequence[Commitment],
    words: Words,
    *,
    last: str | None,
    setting: Literal["Cel", "[degF]"],
    before: Sequence[Measured],
    scales: Mapping[QuantityName, str],
) -> tuple[Measured, ...]:
    """The readings of a sentence where the reader says which of its numbers were measured.

    before: the readings so far; a value without a unit takes that of the last one of its quantity.
    scales: units that a meter was said to be set to, by quantity ("meter's on millivolts").
    """
    if sentence.question or grammar().patterns["quoted"].search(sentence.text):
        return ()
    tokens = sentence.words
    starts = word_starts(sentence.segment)[sentence.first : sentence.last]
    names = names_in(whole_of(sentence), words)

    def place(first: int, end: int) -> tuple[int, int]:
        return starts[first], starts[end - 1] + len(tokens[end - 1])

    def value_at(first: int, end: int) -> Value | None:
        a, b = place(first, end)
        return next((v for v in marked.values if v.first < b and a < v.last), None)

    def counted(a: int, b: int) -> bool:
        return any(f < b and a < e for m in marked.marks for f, e in m.counts)

    def made(quantity: QuantityName, seen: Value | None, first: int, end: int, **known: Any) -> Measured:
        timeless = _timeless(quantity, sentence.text)
        subject = _spoken_subject(seen, names, starts, sentence) or _subject(
            names, sentence.first + first, sentence, last
        )
        clause = parts[_clause_at(parts, sentence.first + first)].text
        arrival = _on_arrival(sentence, parts, first, end)
        stage = None if timeless or seen is None else arrival or seen.stage
        return Measured(
            quantity=quantity,
            subject="sealed system"
            if quantity == "pressure" and grammar().patterns["sealed"].search(sentence.text)
            else _SUBJECTS.get(quantity, subject),
            stage=stage,
            timeless=timeless,
            dated=arrival is not None or _stage(clause) == "as_found",
            visit=sentence.visit,
            span=span(sentence.segment, sentence.first + first, sentence.first + end),
            **known,
        )

    out: list[Measured] = []
    taken: set[int] = set()
    quantities = [*find_quantities(tokens, temperature_unit=setting), *find_circuit_words(tokens)]
    for q in sorted(quantities, key=lambda x: x.first):
        a, b = place(q.first, q.last)
        chance = max((p for f, e, p in marked.number_chances if f < b and a < e), default=0.0)
        taken |= set(range(q.first, q.last))
        if q.role == "size" or (q.quantity == "time" and _worked(q, sentence)):
            continue
        if chance < 0.5 and not _is_told(q, found[_clause_at(parts, sentence.first + q.first)], counted(a, b)):
            continue
        if q.qualifier in {"open_circuit", "short_circuit"} and not _meter(sentence, names, last, words, q.qualifier):
            continue
        n = _clause_at(parts, sentence.first + q.first)
        if found[n].status in {"planned", "advised"} or _none_at(parts, n, sentence.first + q.first):
            continue
        value = value_at(q.first, q.last)
        if q.unit_from == "elsewhere" and (
            _is_another(q, value, parts[n], words) or (value is None and _said_already(q, out))
        ):
            continue
        quantity: QuantityName = q.quantity or (value.quantity if value else "other")
        family = next((f for f in _FAMILIES if quantity in f), frozenset())
        if (
            value is not None
            and value.quantity in family
            and (value.quantity != "temperature_difference" or value.sure > 0.9)
            and not grammar().patterns["relative"].search(" ".join(tokens[q.last : q.last + 3]).lower())
            and not (value.quantity == "temperature_difference" and _is_reached(tokens, q))
        ):
            quantity = value.quantity
        if quantity == "insulation_resistance" and _is_across(sentence.text):
            quantity = "resistance"
        if quantity == "insulation_resistance" and q.unit == "Ohm":
            quantity = "earth_continuity" if grammar().patterns["earth"].search(sentence.text) else "resistance"
        if quantity in _PROVING and not _asserted(found[n]):
            continue
        if q.qualifier in {"open_circuit", "short_circuit"} and any(
            r.qualifier == q.qualifier and (not names or r.subject in {n.part for n in names})
            for r in [*before[-1:], *out]
            if r.span.segment == sentence.segment.id
        ):
            continue  # "it's open, O L on the display"
        reading = made(quantity, value, q.first, q.last, **_as_said(q))
        if value is None and q.unit_from != "beside" and not reading.timeless:
            reading = replace(reading, stage=_stage(parts[n].text))
        out.append(reading)
    again = said_again(tokens)
    for number in find_numbers(tokens):
        value = value_at(number.first, number.last)
        if (
            number.first in again
            or _only_repeats(number, sentence, before)
            or taken & set(range(number.first, number.last))
            or value is None
            or value.quantity in {"time", "length"}
            or (value.quantity == "mass" and value.sure < 0.7)
        ):
            continue
        value = _of_the_right_kind(value, sentence)
        if value.quantity in _ELECTRICAL:
            value = replace(value, quantity=next((q for q in scales if q in _ELECTRICAL), value.quantity))
        if _is_condition(number, quantities, tokens):
            value = replace(value, quantity="temperature")
        n = _clause_at(parts, sentence.first + number.first)
        if found[n].status in {"planned", "advised"} or _none_at(parts, n, sentence.first + number.first):
            continue
        if value.quantity in _PROVING and not _asserted(found[n]):
            continue
        a, b = place(number.first, number.last)
        whole = number.value == int(number.value)
        if (
            counted(a, b)
            or number.style in {"ordinal", "clock"}
            or _named_or_taken_back(tokens, number)
            or (number.style == "digits" and (value.sure < _SURE or number.value >= 1000))
            or (whole and grammar().patterns["identifies"].search(sentence.text))
        ):
            continue
        if value.quantity == "temperature" and not -60 <= number.value <= 130:
            continue  # in neither scale anything that an appliance reaches
        beside = next((q.unit for q in quantities if q.quantity == value.quantity and q.role == "value"), None)
        unit = _unit_of(value.quantity, tokens, before, out, scales, setting)
        unit = beside if beside is not None and value.quantity != "temperature" else unit
        paused = number.last == len(tokens) or tokens[number.last - 1][-1] in ",.;"
        listed = out if paused or ("goes_on", tokens[number.last].strip(".,;").lower()) in grammar() else ()
        if unit is None or (whole and abs(number.value) < 12 and _is_rather_a_count(value, listed)):
            continue
        said = {"about": "about", "roughly": "about", "around": "about", "under": "at_most", "below": "exact"}
        first = tokens[number.first - 1].lower().strip(".,;") if number.first else ""
        out.append(
            made(
                value.quantity,
                value,
                number.first,
                number.last,
                value=number.value,
                value_high=None,
                unit=unit,
                unit_assumed=True,
                decimals=number.decimals,
                qualifier=said.get(first, "exact"),
                reference=None,
                spoken=" ".join(tokens[number.first : number.last]).strip(".,;"),
            )
        )
    return _with_limits(tuple(sorted(out, key=lambda r: r.span.start)), sentence, quantities)


def _only_repeats(number: Number, sentence: Sentence, before: Sequence[Measured]) -> bool:
    """A sentence of nothing but the number that its line measured last: "0.09 ohms. Zero point zero nine."."""
    last = before[-1] if before else None
    alone = number.first == 0 and number.last == len(sentence.words)
    return alone and last is not None and last.span.segment == sentence.segment.id and last.value == number.value


def _unit_of(
    quantity: QuantityName,
    tokens: Sequence[str],
    before: Sequence[Measured],
    out: Sequence[Measured],
    scales: Mapping[QuantityName, str],
    setting: Literal["Cel", "[degF]"],
) -> str | None:
    """The unit of a value that was said without one; None where nothing gives it."""
    if quantity == "temperature":
        scale = next((r.unit for r in reversed(out) if r.quantity == "temperature" and not r.unit_assumed), None)
        return scale or _scale_named(tokens) or setting
    earlier = next((r.unit for r in reversed([*before, *out]) if r.quantity == quantity and r.unit), None)
    return scales.get(quantity) or earlier or _UNITS.get(quantity)


def _is_rather_a_count(value: Value, out: Sequence[Measured]) -> bool:
    """A small whole number without a unit: no such reading is said so, unless beside one of its quantity in `out`."""
    if value.quantity not in {"voltage", "current", "pressure", "power"}:
        return False
    return value.sure < _SURE or not any(r.quantity == value.quantity for r in out)


def _spoken_subject(
    value: Value | None, names: Sequence[Name], starts: Sequence[int], sentence: Sentence
) -> str | None:
    """The subject that the reader marks, by its name in the trade."""
    if value is None or value.subject is None:
        return None
    first, end = value.subject
    found = [n for n, at in enumerate(starts) if at < end and at + len(sentence.words[n]) > first]
    if not found:
        return None
    low, high = sentence.first + found[0], sentence.first + found[-1]
    for name in names:
        inside = [t.word for t in sentence.tokens[name.first : name.last]]
        if inside and inside[0] <= high and low <= inside[-1]:
            return name.part
    lead = grammar().words["lead"]
    texts = [
        t.text for t in sentence.tokens if low <= t.word <= high and t.text not in lead and not t.text.startswith("’")
    ]
    return " ".join(texts) or None


def _with_limits(out: tuple[Measured, ...], sentence: Sentence, quantities: Sequence[Quantity]) -> tuple[Measured, ...]:
    low, high = _limits(sentence.text, quantities)
    if not out or (low is None and high is None):
        return out
    return (*out[:-1], replace(out[-1], limit_low=low, limit_high=high))


def _is_told(q: Quantity, commitment: Commitment, counted: bool) -> bool:
    """The words make a number a value, whatever the reader thinks of it: its unit stands after a pause or is lent."""
    return q.unit_from != "beside" and commitment.status == "done" and not counted


def _is_another(q: Quantity, value: Value | None, clause: Clause, words: Words) -> bool:
    """A number with a lent unit may be of another quantity: its clause has a thing of its own, and no reader agrees."""
    if value is not None and value.quantity == q.quantity:
        return False
    first = q.first + clause.sentence.first
    own = {t.text.replace("'", "’") for t in clause.tokens if t.word < first}
    if own <= grammar().words["lent_words"]:
        return False
    names = [n.part for n in names_in(clause, words)]
    return q.quantity == "temperature" or not any("electrical" in words.classes_of(n) for n in names)


def _said_already(q: Quantity, out: Sequence[Measured]) -> bool:
    return any((r.quantity, r.value, r.unit) == (q.quantity, q.value, q.unit) for r in out)


def _is_reached(tokens: Sequence[str], q: Quantity) -> bool:
    """A temperature that something went to, so no difference: "warmed up to four degrees"."""
    return "to" in {t.lower() for t in tokens[max(0, q.first - 1) : q.first + 2]}


def _is_condition(number: Number, quantities: Sequence[Quantity], tokens: Sequence[str]) -> bool:
    """The temperature at which a resistance was measured: "ten k at twenty five"."""
    at = number.first - 1
    return (
        at > 0 and tokens[at].lower() == "at" and any(q.last == at and q.quantity == "resistance" for q in quantities)
    )


def _is_across(text: str) -> bool:
    """Measured from one end of a thing to the other, so no insulation, whatever the size of the value."""
    patterns = grammar().patterns
    return patterns["to_mass"].search(text) is None and patterns["across"].search(text) is not None


def _worked(q: Quantity, sentence: Sentence) -> bool:
    """A time that is the time worked: by the words beside it, or said alone, but for a wait or a test of its line.

    "Nitrogen, ten bar. Twenty minutes. Needle never moved."
    """
    alone = q.first == 0 and q.last == len(sentence.words) <= 4
    if alone and grammar().patterns["waits"].search(_line_before(sentence)):
        return False
    return alone or grammar().patterns["labour"].search(sentence.text) is not None


def _line_before(sentence: Sentence) -> str:
    """What its line said before a sentence, in lower case and without punctuation."""
    return re.sub(r"[^\w\s’']", " ", " ".join(w.word for w in sentence.segment.words[: sentence.first])).lower()


def _of_the_right_kind(value: Value, sentence: Sentence) -> Value:
    """A bare value that the reader takes for another quantity than the words beside it say: "water at fifty eight"."""
    patterns, whole = grammar().patterns, " ".join(sentence.segment.text.lower().split())
    if value.quantity not in _ELECTRICAL:
        return value
    if value.quantity != "resistance" and patterns["pins"].search(whole):
        return replace(value, quantity="resistance")
    if patterns["of_warmth"].search(sentence.text) and not patterns["electrical"].search(sentence.text):
        return replace(value, quantity="temperature")
    return value


def scales_after(
    scales: Mapping[QuantityName, str], sentence: Sentence, new: Sequence[Measured]
) -> dict[QuantityName, str]:
    """The units, by quantity, that meters are set to after a sentence: "meter's on millivolts", "scales in ounces".

    An electrical meter shows one quantity at a time: a value of another, said with its unit, ends what it was set to.
    """
    spoken = {m.quantity for m in new if not m.unit_assumed and m.quantity in _ELECTRICAL}
    turned = bool(spoken) and not spoken & set(scales)
    out = {q: u for q, u in scales.items() if not (turned and q in _ELECTRICAL)}
    set_now = _set_to(sentence)
    if set(set_now) & _ELECTRICAL:
        out = {q: u for q, u in out.items() if q not in _ELECTRICAL}
    return {**out, **set_now}


def scales_for(scales: Mapping[QuantityName, str], sentence: Sentence) -> Mapping[QuantityName, str]:
    """The units, by quantity, of a sentence's bare numbers: those of the instrument that it names ("the ammeter")."""
    named = dict(pair.split("=") for pair in grammar().words["instruments"])
    codes = {named[t.text] for t in sentence.tokens if t.text in named}
    if not codes:
        return scales
    own = {u.quantity: u.code for u in shipped_units().units if not u.assumed and u.code in codes}
    return {**{q: u for q, u in scales.items() if q not in _ELECTRICAL}, **own}


def _set_to(sentence: Sentence) -> dict[QuantityName, str]:
    match = grammar().patterns["set_to"].search(sentence.text)
    if match is None or find_numbers(sentence.words):
        return {}
    said, known = tuple(match.group("unit").split()), shipped_units().words
    unit = known.get(said) or known.get(said[:1])
    return {unit.quantity: unit.code} if unit is not None and not unit.assumed else {}


def _scale_named(tokens: Sequence[str]) -> str | None:
    """The one scale of temperature that the sentence names apart from its number: "around four above, Fahrenheit"."""
    bare = {t.strip(".,;").lower() for t in tokens}
    found = {u.code for u in shipped_units().units if u.code in ("Cel", "[degF]") and not u.assumed
             and any(len(w) == 1 and len(w[0]) > 1 and w[0] in bare for w in u.spoken)}  # fmt: skip
    return found.pop() if len(found) == 1 else None


def _named_or_taken_back(tokens: Sequence[str], number: Number) -> bool:
    """A bare number that is a name ("T P nineteen", "the ten"), or that is taken back ("170, no, 17 ohms")."""
    before = tokens[number.first - 1].strip(".,;") if number.first else ""
    lexemes = lex(tokens)
    if is_denied(lexemes, next((n for n, x in enumerate(lexemes) if x.token >= number.first), 0)):
        return True
    if before.lower() in {"the", "those", "these"} or (len(before) == 1 and before.isalpha() and before not in "aAI"):
        return True
    after = [t.lower() for t in tokens[number.last : number.last + 2]]
    openers = shipped_units().lists["corrections.openers"]
    broken = number.last and tokens[number.last - 1][-1] in ",.;"
    plain = [t.strip(".,;") for t in after]
    for n in (1, 2):
        if len(after) >= n and tuple(plain[:n]) in openers and broken and after[n - 1][-1] in ",.;":
            return any(x.first >= number.last for x in find_numbers(tokens))
    return False


def _meter(
    sentence: Sentence, names: Sequence[Name], last: str | None, words: Words, qualifier: str = "open_circuit"
) -> bool:
    """Open and short are results only of something electrical or where a meter speaks."""
    if grammar().patterns["metered"].search(sentence.text):
        return True
    subjects = [n.part for n in names] or ([last] if last else [])
    electrical = any("electrical" in words.classes_of(s) for s in subjects)
    if qualifier == "short_circuit":
        return electrical  # nothing else is shorted, as doors and taps are open
    wide = "" if names else "wide|"  # "fan motor, wide open"; of what is not named it may be a door
    return electrical and not re.search(
        rf"\b(door|window|lid|{wide}tap|stopcock|valve(?! coil| solenoid| winding)|up|box)\b", sentence.text
    )
