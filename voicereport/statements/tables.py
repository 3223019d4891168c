"""The expressions of told.toml, by group and name."""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache

from voicereport.paths import models_dir
from voicereport.trades.screens import Screen

#: groups, or expressions of them, that are tried on whole sentences: of most of them a sentence holds no word
_OF_SENTENCES = (
    "complaint",
    "topics",
    "no_topics",
    "labour never",
    "labour strong",
    "labour asked_for",
    "part_number not_fitted",
    "part_number number",
    "part_number any",
    "part_number new",
    "part_number used",
)


@lru_cache(maxsize=1)
def told_tables() -> dict[str, dict[str, re.Pattern[str]]]:
    """The words that announce what is told: by group and name, one expression that any of its rows matches."""
    data = tomllib.loads((models_dir() / "trades" / "common" / "told.toml").read_text(encoding="utf-8"))
    return {g: {k: re.compile("|".join(f"(?:{p})" for p in v)) for k, v in rows.items()} for g, rows in data.items()}


def tells(group: str, name: str, sentence: str) -> bool:
    """True where the expression `name` of `group`, one that is tried on whole sentences, stands in the sentence."""
    return (group, name) in _may_tell(sentence) and told_tables()[group][name].search(sentence) is not None


@lru_cache(maxsize=64)
def _may_tell(sentence: str) -> frozenset[tuple[str, str]]:
    """The expressions for sentences, by group and name, that may stand in one."""
    screen, names = _screen()
    return frozenset(names[n] for n in screen.may_match(sentence))


@lru_cache(maxsize=1)
def _screen() -> tuple[Screen, tuple[tuple[str, str], ...]]:
    tables = told_tables()
    names = tuple((g, k) for g in tables for k in tables[g] if g in _OF_SENTENCES or f"{g} {k}" in _OF_SENTENCES)
    return Screen(tables[g][k].pattern for g, k in names), names
