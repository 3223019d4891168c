"""The spoken units and the words around a spoken quantity, read from units.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, get_args

from voicereport.errors import PackError
from voicereport.paths import models_dir
from voicereport.report import QuantityName, Reference

_QUANTITIES = get_args(QuantityName)
_REFERENCES = get_args(Reference)
Phrase = tuple[str, ...]
_LISTS = {
    "qualifiers": "about at_most at_least after_about between_about after_at_most after_at_least",
    "ranges": "open between join join_between either change",
    "corrections": "words dictated fillers restart anew last_sign before_last_sign openers places",
    "sizes": "nouns rated tested stops",
    "names": "letters_before refrigerants number_before money prices ages",
    "numbers": "not_before_point pronoun_after pronoun_if_alone_after pronoun_before few after_below after_minutes "
    "after_seconds",
    "signs": "minus plus",
    "apart": "lead all after again goes_on",
    "denied": "words between",
    "lent": "before between after stays",
    "identifiers": "alphabet spelled_names spelled_nouns spelled_plain in_rows starts before_persons links fillers "
    "hesitations cases asides pauses joins joins_any orders pieces lots concludes concludes_whole until in_full "
    "ends_it after_sign read_back examples no_examples not_counted",
    "clock": "noon past to morning afternoon",
    "circuit": "open_circuit short_circuit",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class SpokenUnit:
    """A unit as it is spoken."""

    code: str  #: UCUM
    quantity: QuantityName
    spoken: tuple[Phrase, ...]
    symbols: tuple[str, ...]
    one: bool = False  #: "a", "an" before it means one
    reference: Reference | None = None
    assumed: bool = False  #: the words leave the unit open


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitCue:
    """Words that change what a unit measures."""

    units: frozenset[str]
    words: tuple[Phrase, ...]
    quantity: QuantityName | None = None
    code: str | None = None
    reference: Reference | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class SpokenUnits:
    """All of units.toml. `words` and `symbols` hold every unit that a phrase or a symbol may mean, in file order."""

    units: tuple[SpokenUnit, ...]
    words: Mapping[Phrase, SpokenUnit]
    symbols: Mapping[str, SpokenUnit]
    longest: int  #: words of the longest spoken unit
    single: frozenset[str]  #: every word that occurs in a spoken unit, and every symbol in lower case
    cues: tuple[UnitCue, ...]
    after: tuple[UnitCue, ...]
    lists: Mapping[str, frozenset[Phrase]]  #: "qualifiers.about": the phrases

    def has(self, name: str, phrase: Iterable[str]) -> bool:
        """True where `phrase` stands in the list `name` ("ranges.join")."""
        return tuple(phrase) in self.lists[name]


def _phrases(words: Iterable[str]) -> tuple[Phrase, ...]:
    return tuple(tuple(w.split()) for w in words)


def _unit(row: Mapping[str, Any], where: str, faults: list[str]) -> SpokenUnit | None:
    unknown = set(row) - {"code", "quantity", "spoken", "symbols", "one", "reference", "assumed"}
    if unknown:
        faults.append(f"{where}: unknown {', '.join(sorted(unknown))}")
    if row.get("quantity") not in _QUANTITIES or not row.get("code"):
        faults.append(f"{where}: needs a code and a quantity of {', '.join(_QUANTITIES)}")
        return None
    if row.get("reference") not in (None, *_REFERENCES):
        faults.append(f"{where}: reference {row['reference']!r} is not one of {', '.join(_REFERENCES)}")
    return SpokenUnit(
        code=row["code"], quantity=row["quantity"], spoken=_phrases(row.get("spoken", ())),
        symbols=tuple(row.get("symbols", ())), one=row.get("one", False), reference=row.get("reference"),
        assumed=row.get("assumed", False),
    )  # fmt: skip


def _cue(row: Mapping[str, Any], where: str, faults: list[str]) -> UnitCue:
    unknown = set(row) - {"units", "words", "quantity", "code", "reference"}
    if unknown or not row.get("units") or not row.get("words"):
        faults.append(f"{where}: needs units and words; unknown: {', '.join(sorted(unknown)) or 'none'}")
    return UnitCue(
        units=frozenset(row.get("units", ())), words=_phrases(row.get("words", ())), quantity=row.get("quantity"),
        code=row.get("code"), reference=row.get("reference"),
    )  # fmt: skip


def read_spoken_units(path: Path) -> SpokenUnits:
    """The spoken units of one units.toml. Raises PackError that lists every fault of the file."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise PackError(str(path), str(error), "correct the file") from error
    faults: list[str] = []
    unknown = set(data) - {"units", "cues", "after", *_LISTS}
    if unknown:
        faults.append(f"unknown tables {', '.join(sorted(unknown))}")
    rows = [_unit(row, f"units {row.get('code')}", faults) for row in data.get("units", ())]
    units = tuple(unit for unit in rows if unit is not None)
    lists: dict[str, frozenset[Phrase]] = {}
    for table, names in _LISTS.items():
        given = data.get(table, {})
        if set(given) != set(names.split()):
            faults.append(f"[{table}] needs exactly {names}")
        for name in names.split():
            lists[f"{table}.{name}"] = frozenset(_phrases(given.get(name, ())))
    cues = tuple(_cue(row, f"cues {n + 1}", faults) for n, row in enumerate(data.get("cues", ())))
    after = tuple(_cue(row, f"after {n + 1}", faults) for n, row in enumerate(data.get("after", ())))
    if faults:
        raise PackError(str(path), "; ".join(faults), "correct the entries named")
    words: dict[Phrase, SpokenUnit] = {}
    symbols: dict[str, SpokenUnit] = {}
    for unit in units:
        for phrase in unit.spoken:
            words.setdefault(phrase, unit)
        for symbol in unit.symbols:
            symbols.setdefault(symbol, unit)
    single = frozenset(w for p in words for w in p) | frozenset(s.lower() for s in symbols)
    return SpokenUnits(units=units, words=words, symbols=symbols, longest=max(map(len, words), default=1),
                       single=single, cues=cues, after=after, lists=lists)  # fmt: skip


@cache
def shipped_units() -> SpokenUnits:
    """The spoken units that come with the package, read once."""
    return read_spoken_units(models_dir() / "trades" / "common" / "units.toml")
