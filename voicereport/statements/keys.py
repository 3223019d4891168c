"""Which acts and claims need the reader's agreement: models/trades/common/keys.toml, read once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from voicereport.paths import models_dir
from voicereport.statements.grammar import grammar
from voicereport.wording.numbers import Number, find_numbers

_PRESSURES = frozenset({"bar", "bars", "psi", "pounds", "kpa", "millibar"})
#: words before what is left of a pressure
_LEFT = frozenset({"held", "holding", "holds", "to", "at", "down", "now", "is", "’s", "still", "reads", "reading"})
#: after a number that is no pressure
_OF_TIME = frozenset({"minute", "hour", "second", "min", "day", "joint", "time", "past"})
_ENDS = frozenset({"now", "already", "so", "and", "but"})  #: after a number that no noun follows
_OF_CHARGE = frozenset({"charge", "label", "plate", "meant"})  #: beside which a mass needs no unit


@dataclass(frozen=True, kw_only=True, slots=True)
class Key:
    """One check with what confirms it."""

    check: str
    acts: frozenset[str]
    claims: frozenset[str]
    gives: tuple[str, ...]
    values: tuple[str, ...]  #: quantities whose reading confirms the check by itself
    of: frozenset[str]  #: of `values`: classes of things, only whose reading is this check's; none given: of all
    not_of: frozenset[str]  #: of `values`: classes of things whose reading is none of this check's
    highest: float | None  #: of `values`: only what reads no more than this, in its own unit
    most: Mapping[str, float]  #: of `values`: by unit, what reads more is doubted
    about: tuple[re.Pattern[str], ...]
    unless: re.Pattern[str] | None
    stays: re.Pattern[str] | None  #: it stays as it is
    negated: bool  #: asserted by a denial ("not a bubble")
    least: float  #: chance below which the reader disagrees
    sure: float  #: chance from which it counts as sure
    near: re.Pattern[str] | None = None  #: of `values`: the sentence or the line before must speak of it so
    certain: float = 2.0  #: chance from which its words may be any that nothing takes back
    of_others: bool = False  #: asserted of other appliances, too
    several: bool = False  #: asserted of several things: the next line can make an exception
    plain: re.Pattern[str] | None = None  #: a whole sentence that says it and nothing else
    plain_least: float = 0.5  #: the chance that is enough for such a sentence
    named: re.Pattern[str] | None = None  #: words by which a sentence names what the check is about
    named_least: float = 1.0  #: the chance that is enough for such a sentence
    falls: bool = False  #: a pressure said after a higher one is a pressure that fell
    whole: float | None = None  #: of two masses, the share of the greater that the smaller must be
    belied: re.Pattern[str] | None = None  #: words of the next line that show that it was not so
    tells: frozenset[str] = frozenset()  #: claims of how it was done: nothing where the line does not assert it

    def agrees(self, chance: float, text: str) -> bool:
        """True where the reader's chance that the sentence asserts the check is high enough for its words.

        "Two leads back on the relay" names connectors and needs less than "the compressor has joined in".
        """
        plain = self.plain is not None and self.plain.fullmatch(text) is not None
        named = self.named is not None and self.named.search(text) is not None
        enough = [self.plain_least] * plain + [self.named_least] * named
        return chance >= min([self.least, *enough])

    def forbids(self, text: str) -> bool:
        """True where a sentence is of something or somebody else: another appliance, a control, what a text says."""
        forbidden = grammar().patterns["sources"].search(text) is not None
        forbidden = forbidden or (self.unless is not None and self.unless.search(text) is not None)
        return forbidden or (self.falls and fell(text)) or (self.whole is not None and is_part(text, self.whole))

    def is_near(self, *texts: str) -> bool:
        """True where one of the texts speaks of what a value must be of."""
        return self.near is None or any(self.near.search(text.lower()) for text in texts)

    def doubts(self, value: float | None, unit: str | None) -> bool:
        """True where a reading is too high for the thing asserted to have been reached."""
        most = self.most.get(unit) if unit is not None else None
        return value is not None and most is not None and value > most


@dataclass(frozen=True, kw_only=True, slots=True)
class Keys:
    """All keys."""

    keys: tuple[Key, ...]

    def of_act(self, action: str, part: str) -> Key | None:
        """The key of the check that such a step can confirm, None where it needs no second key."""
        return next((k for k in self.keys if action in k.acts or f"{action} {part}" in k.acts), None)

    def of_value(self, quantity: str, value: float | None, classes: frozenset[str] = frozenset()) -> Key | None:
        """The key of the check that such a reading can confirm, None where it needs no second key.

        classes: those of the thing that was measured.
        """
        for key in self.keys:
            low = key.highest is None or value is None or value <= key.highest
            of_it = not key.not_of & classes and (not key.of or bool(key.of & classes))
            if quantity in key.values and low and of_it:
                return key
        return None

    def is_untold(self, claim: str, asserts: Mapping[str, float]) -> bool:
        """True where a claim only says how a check was met that the line does not assert: "unplugged the fan"."""
        return any(claim in k.tells and asserts.get(k.check, 0.0) < 0.5 for k in self.keys)

    def of_claim(self, claim: str) -> Key | None:
        """The key of the check that such a claim can confirm, None where it needs no second key."""
        return next((k for k in self.keys if claim in k.claims), None)


def fell(text: str) -> bool:
    """True where a sentence says a pressure and then a lower one that was left: "put ten bar on, it held seven"."""
    tokens = text.split()
    first = _pressure(tokens)
    if first is None:
        return False
    for n in find_numbers(tokens):
        unit = tokens[n.last : n.last + 1]
        timed = n.style == "clock" or (bool(unit) and unit[0].rstrip("s") in _OF_TIME)
        again = bool(unit) and unit == tokens[first.last : first.last + 1]  # "twelve bar at nine, ten bar at ten"
        if n.first > first.first and _is_less(n, first) and (_is_left(n, tokens) or again) and not timed:
            return True
    return False


def fell_since(before: str, after: str) -> bool:
    """True where a line says a pressure and a later one that less of it was left: "Held ten bar." "It's at seven." """
    first, tokens = _pressure(_plain(before)), _plain(after)
    if first is None:
        return False
    for n in find_numbers(tokens):
        unit = tokens[n.last : n.last + 1]
        ends = not unit or unit[0] in _PRESSURES or unit[0] in _ENDS
        if _is_less(n, first) and _is_left(n, tokens) and ends:
            return True
    return False


def _pressure(tokens: Sequence[str]) -> Number | None:
    """The first pressure that is said."""
    numbers = (n for n in find_numbers(tokens) if n.style != "ordinal")
    return next((n for n in numbers if _PRESSURES & set(tokens[n.last : n.last + 1])), None)


def _is_less(number: Number, first: Number) -> bool:
    return number.style != "ordinal" and number.value < 0.98 * first.value


def _is_left(number: Number, tokens: Sequence[str]) -> bool:
    """Whether words before a number say that it is what was left: "holding at nine"."""
    return bool(_LEFT & set(tokens[max(0, number.first - 2) : number.first]))


def _plain(line: str) -> list[str]:
    """The words of a line as they are spoken: lower case, without marks, contractions apart."""
    return re.sub(r"[.,;:!?]", " ", line.lower().replace("'", "’")).replace("’s", " ’s").split()


def is_part(text: str, whole: float) -> bool:
    """True where a sentence says two masses of which the smaller is less than the share `whole` of the greater."""
    tokens = text.split()
    numbers = [n for n in find_numbers(tokens) if n.style != "ordinal" and n.value >= 1]
    grams = [n for n in numbers if tokens[n.last : n.last + 1] and tokens[n.last] in {"grams", "gram", "g"}]
    values = [n.value for n in (numbers if grams and _OF_CHARGE & set(tokens) else grams)]
    return len(values) > 1 and min(values) < whole * max(values)


def _any(rows: list[str] | None) -> re.Pattern[str] | None:
    return re.compile("|".join(f"(?:{r})" for r in rows)) if rows else None


@lru_cache(maxsize=1)
def load_keys() -> Keys:
    """The keys of the installed packs."""
    data = tomllib.loads((models_dir() / "trades" / "common" / "keys.toml").read_text(encoding="utf-8"))

    every = data["every"]["unless"]
    keys = tuple(
        Key(
            check=row["check"],
            acts=frozenset(row.get("acts", ())),
            claims=frozenset(row.get("claims", ())),
            gives=tuple(row.get("gives", ())),
            values=tuple(row.get("values", ())),
            of=frozenset(row.get("of", ())),
            not_of=frozenset(row.get("not_of", ())),
            highest=row.get("highest"),
            most=row.get("most", {}),
            about=tuple(re.compile(p) for p in row.get("about", ())),
            unless=_any([*every, *row.get("unless", ())]),
            stays=_any(row.get("stays")),
            negated=row.get("negated", False),
            near=_any(row.get("near")),
            certain=data["every"]["certain"],
            of_others=row.get("of_others", False),
            several=row.get("several", False),
            least=row["least"],
            sure=row["sure"],
            falls=row.get("falls", False),
            whole=row.get("whole"),
            plain=_any(row.get("plain")),
            plain_least=row.get("plain_least", 0.5),
            named=_any(row.get("named")),
            named_least=row.get("named_least", 1.0),
            belied=_any(row.get("belied")),
            tells=frozenset(row.get("tells", ())),
        )
        for row in data["keys"]
    )
    return Keys(keys=keys)
