"""When two part names, amounts or identifiers are the same."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence

from voicereport.evaluation.tables import Aliases, AliasTable, Tables, load_tables

#: kelvin; a temperature rounded to a tenth in either scale stays within it
_TEMPERATURE_TOLERANCE = 0.06


def number(value: object) -> float | None:
    """`value` as a float, or None where it is no finite number."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    return float(value) if math.isfinite(value) else None


def identity(value: object) -> str:
    """A model, serial or part number as compared: letters and digits only, upper case."""
    return re.sub(r"[\W_]+", "", unicodedata.normalize("NFKC", str(value))).upper()


def same_value(a: object, unit_a: object, b: object, unit_b: object, *, difference: bool = False) -> bool:
    """Whether two amounts are equal: exactly in the same unit, to within rounding after a conversion.

    difference: temperatures are differences, so the zeros of their scales do not count.
    """
    left, right = number(a), number(b)
    if left is None or right is None:
        return False
    if unit_a == unit_b:
        return math.isclose(left, right, rel_tol=1e-6, abs_tol=1e-9)
    units = load_tables().units
    from_, to = (units.get(unit) if isinstance(unit, str) else None for unit in (unit_a, unit_b))
    if from_ is None or to is None or from_.dimension != to.dimension:
        return False
    left = left * from_.factor + (0 if difference else from_.zero)
    right = right * to.factor + (0 if difference else to.zero)
    if from_.dimension == "temperature":
        return abs(left - right) <= _TEMPERATURE_TOLERANCE
    return math.isclose(left, right, rel_tol=0.005, abs_tol=1e-12)


class Names:
    """Part names: put in one form, looked up in the alias tables, compared.

    Groups may overlap and are not merged through a shared name.
    """

    def __init__(self, *own: AliasTable, tables: Tables | None = None) -> None:
        """own: alias tables of a corpus, on top of the shipped ones."""
        self._tables = tables or load_tables()
        layers = (self._tables.aliases, *own)
        self._words = {alias: word for t in layers for word, aliases in t.words.items() for alias in aliases}
        self._parts: dict[str, str] = {}
        self._by_action: dict[str, dict[str, str]] = {}
        for layer in layers:
            self._parts |= self._flat(layer.parts)
            for action, table in layer.by_action.items():
                self._by_action[action] = self._by_action.get(action, {}) | self._flat(table)
        self._groups = [frozenset(map(self.norm, group)) for layer in layers for group in layer.groups]

    def norm(self, name: object, action: str | None = None) -> str:
        """The one form of a name; `action` brings in the names that count beside it only."""
        plain = self._plain(name or "")
        special = self._by_action.get(action or "", {})
        if plain in special:
            return special[plain]
        if action in ("disconnect", "reconnect"):
            plain = plain.removesuffix(" connector")  # unplugging a fan is unplugging its connector
        return self._parts.get(plain, plain)

    def same(self, a: object, b: object, action: str | None = None) -> bool:
        """Whether two names are of the same thing: equal in their one form, or near enough.

        Near enough is a token set ratio of 90 with the same head noun and no contrary words. The ratio alone
        gives 100 to any name that contains the other ("defrost heater", "defrost heater cover") and over 90 to
        long names that differ in one word ("upper" and "lower evaporator fan harness").
        """
        left, right = self.norm(a, action), self.norm(b, action)
        if not left or not right:
            return False
        if left == right or any(left in group and right in group for group in self._groups):
            return True
        return _near(self._core(left), self._core(right))

    def _flat(self, table: Aliases) -> dict[str, str]:
        return {self._plain(alias): self._plain(name) for name, aliases in table.items() for alias in (name, *aliases)}

    def _plain(self, name: object) -> str:
        text = unicodedata.normalize("NFKC", str(name)).casefold().replace("'s", "")
        words = [w for w in re.sub(r"[^\w%]+|_", " ", text).split() if w not in self._tables.articles]
        while len(words) > 1 and (words[0] in self._tables.counts or words[0].isdigit()):
            words.pop(0)
        return " ".join(self._words.get(w, w) for w in map(self._singular, words))

    def _singular(self, word: str) -> str:
        if word in self._tables.as_is or len(word) < 4:
            return word
        if word in self._tables.irregular:
            return self._tables.irregular[word]
        return word[:-1] if word.endswith("s") and not word.endswith(("ss", "us", "is")) else word

    def _core(self, name: str) -> list[str]:
        words = name.split()
        while len(words) > 1 and words[-1] in self._tables.weak_tails:
            words.pop()
        return words


def _near(a: Sequence[str], b: Sequence[str]) -> bool:
    from rapidfuzz import fuzz

    only_a, only_b = [w for w in a if w not in b], [w for w in b if w not in a]
    contrary = only_a and only_b and fuzz.ratio(" ".join(only_a), " ".join(only_b)) < 80
    return not contrary and fuzz.ratio(a[-1], b[-1]) >= 80 and fuzz.token_set_ratio(" ".join(a), " ".join(b)) >= 90
