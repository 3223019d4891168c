"""Part names compared loosely, and the sentences of a report; both read from the common trade data."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from voicereport.errors import PackError
from voicereport.report import ItemKind
from voicereport.statements.names import pins_of
from voicereport.trades.words import singular

_SENTENCES = {
    "open": ("part", "seal", "tube", "connector", "wiring", "some", "denied", "fastener", "fastener_bare",
             "explained", "explained_bare"),
    "doubt": ("poor", "signs"),
}  # fmt: skip
_WIRED = ("connector", "wiring")
_LISTS = ("connector_nouns", "tails", "supplies", "colours", "push_ons", "plugs", "any_fastener")
Key = tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Names:
    """What names.toml says."""

    connector_nouns: frozenset[str]
    tails: frozenset[str]
    supplies: frozenset[str]
    same_words: Mapping[str, str]
    colours: frozenset[str]
    push_ons: frozenset[str]
    plugs: frozenset[str]
    any_fastener: frozenset[str]  #: what fasteners of every kind are called

    def is_colour(self, part: str) -> bool:
        """Whether a connector is called by nothing but its colour: "blue", "the white plug"."""
        key = self.key(part, "connector")
        return bool(key) and set(key) <= self.colours

    def is_sort(self, part: str) -> bool:
        """Whether a connector is called by nothing but the number of its pins: "the four pin"."""
        return pins_of(part) == " ".join(self.key(part, "connector"))

    def key(self, part: str, kind: ItemKind) -> Key:
        """The words of a name that count; empty for a connector that is named by its noun alone ("the plug")."""
        words = [self.same_words.get(w, w) for w in map(singular, re.findall(r"[\w%-]+", part.lower()))]
        if kind in _WIRED:
            words = [w for w in words if w not in self.connector_nouns]
        while len(words) > 1 and words[-1] in self.tails:
            words.pop()
        return tuple(words)

    def _is_coloured(self, one: Key, other: Key) -> bool:
        """Whether one is no more than a colour that the other has, too."""
        return set(one) <= self.colours and set(one) <= set(other)

    def _differ(self, one: str, other: str) -> bool:
        """Whether one is a push-on terminal and the other a plug: "fan spade", "fan plug"."""
        a, b = _noun(one), _noun(other)
        return (a in self.push_ons and b in self.plugs) or (b in self.push_ons and a in self.plugs)

    def likeness(self, one: str, other: str, kind: ItemKind) -> int:
        """How alike two names are: 3 the same, 2 the shorter is part of the longer, 1 one says nothing, 0 different.

        kind: what both are. Example: "fan plug" and "evaporator fan harness" as connectors give 2.
        """
        a, b = self.key(one, kind), self.key(other, kind)
        if kind in _WIRED and self._differ(one, other):
            return 0
        if a == b:
            return 3
        if not a or not b:
            return 1
        coloured = kind in _WIRED and (self._is_coloured(a, b) or self._is_coloured(b, a))
        if coloured and {_noun(one), _noun(other)} <= self.connector_nouns | self.colours:
            return 2  # "grey plug", "grey sensor connector"
        return 2 if a[-1] == b[-1] and (set(a) <= set(b) or set(b) <= set(a)) else 0


def _noun(part: str) -> str:
    """The last word of a name, lower case and singular; empty where it has none."""
    return singular(part.lower().split()[-1]) if part.split() else ""


def load_names(common: Path) -> Names:
    """names.toml of the folder `common`. Raises PackError where it is missing or has faults."""
    path = common / "names.toml"
    data = _toml(path)
    unknown = sorted(set(data) - {*_LISTS, "same_words"})
    if unknown:
        raise PackError(str(path), f"unknown {', '.join(unknown)}", "correct the entries named")
    lists = {key: frozenset(data.get(key, ())) for key in _LISTS}
    return Names(same_words=dict(data.get("same_words", {})), **lists)


def load_sentences(common: Path) -> dict[str, str]:
    """The templates of sentences.toml as {"open.part": ...}. Raises PackError where one is missing or unknown."""
    path = common / "sentences.toml"
    data = _toml(path)
    found = {f"{group}.{key}": value for group, rows in data.items() for key, value in rows.items()}
    wanted = {f"{group}.{key}" for group, keys in _SENTENCES.items() for key in keys}
    wrong = sorted(wanted ^ set(found))
    if wrong:
        raise PackError(str(path), f"missing or unknown: {', '.join(wrong)}", "the grammar is on top of the file")
    return found


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise PackError(str(path), str(error), "restore the file") from error
