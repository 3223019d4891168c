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
_LISTS = ("connector_nouns", "tails", "supplies", "colours", "push_ons", "plugs", "any_fastener", "seal_nouns",
          "tube_nouns", "one_place", "containers", "loose")  # fmt: skip
_PATTERNS = ("owner_told", "sort_told", "broke_off")
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
    seal_nouns: frozenset[str]
    tube_nouns: frozenset[str]
    one_place: frozenset[str]
    containers: frozenset[str]  #: "crisper drawer" is the crisper
    loose: frozenset[str]  #: what comes out of a drain or a coil and is no part
    patterns: Mapping[str, tuple[str, ...]]

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

    def one_seal(self, one: str, other: str) -> bool:
        """Whether two seals share a word and differ in what a seal is called alone: "foam strip", "foam seal".

        A colour told of one of them makes no difference, nor does the place that only one of them is told with.
        """
        a, b = set(self.key(one, "seal")), set(self.key(other, "seal"))
        if not a & b:
            return False
        more, less = a - b - self.seal_nouns, b - a - self.seal_nouns
        return not more or not less

    def in_one_place(self, one: str, other: str) -> bool:
        """Whether two covers of one noun are told by words for one place: "lower panel", "back panel"."""
        a, b = self.key(one, "part"), self.key(other, "part")
        return len(a) > 1 and len(b) > 1 and a[-1] == b[-1] and {*a[:-1], *b[:-1]} <= self.one_place

    def sides(self, tube: str) -> frozenset[str]:
        """What tells a tube from others: "blue" of "blue tube"; nothing of "tube"."""
        return frozenset(self.key(tube, "tube")) - self.tube_nouns

    def is_owner(self, part: str, text: str) -> bool:
        """Whether `text`, said right after a plug, tells that it is the part's: ", that's the fan's"."""
        words = [w for w in re.findall(r"[\w%-]+", part.lower()) if singular(w) not in self.connector_nouns]
        owner = re.escape(words[-1]) if words else ""
        return bool(owner) and any(
            re.match(r"[\s,.]*(?:so |and )?" + p.replace("{owner}", owner), text.lower())
            for p in self.patterns["owner_told"]
        )

    def is_sort_told(self, part: str, text: str) -> bool:
        """Whether `text` tells the colour or the pins that a plug is called by: "the red plug", ", red one,"."""
        sort = "[ -]".join(re.escape(w) for w in self.key(part, "connector"))
        return bool(sort) and any(
            re.search(p.replace("{sort}", sort), text.lower()) for p in self.patterns["sort_told"]
        )

    def broke_off(self, text: str) -> bool:
        """Whether a part is said to have come away by itself: "the flap's broken off its hinge"."""
        return any(re.search(p, text.lower()) for p in self.patterns["broke_off"])

    def is_loose(self, part: str) -> bool:
        """Whether it is dirt or the like, which nobody puts back: "a lump of label came out"."""
        return _noun(part) in self.loose

    def _contained(self, one: Key, other: Key) -> bool:
        """Whether two names differ in a last word that says what holds: "crisper", "crisper drawer"."""
        short, long = sorted((one, other), key=len)
        return len(long) == len(short) + 1 and long[:-1] == short and long[-1] in self.containers

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
        if kind == "part" and self._contained(a, b):
            return 2
        return 2 if a[-1] == b[-1] and (set(a) <= set(b) or set(b) <= set(a)) else 0


def _noun(part: str) -> str:
    """The last word of a name, lower case and singular; empty where it has none."""
    return singular(part.lower().split()[-1]) if part.split() else ""


def load_names(common: Path) -> Names:
    """names.toml of the folder `common`. Raises PackError where it is missing or has faults."""
    path = common / "names.toml"
    data = _toml(path)
    unknown = sorted(set(data) - {*_LISTS, "same_words", "patterns"})
    if unknown:
        raise PackError(str(path), f"unknown {', '.join(unknown)}", "correct the entries named")
    lists = {key: frozenset(data.get(key, ())) for key in _LISTS}
    patterns = {key: tuple(data.get("patterns", {}).get(key, ())) for key in _PATTERNS}
    return Names(same_words=dict(data.get("same_words", {})), patterns=patterns, **lists)


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
