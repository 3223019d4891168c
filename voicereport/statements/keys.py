"""Which acts and claims need the reader's agreement: models/trades/common/keys.toml, read once."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache

from voicereport.paths import models_dir


@dataclass(frozen=True, kw_only=True, slots=True)
class Key:
    """One check with what confirms it."""

    check: str
    acts: frozenset[str]
    claims: frozenset[str]
    gives: str | None
    about: re.Pattern[str] | None
    unless: re.Pattern[str] | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Keys:
    """All keys, with the chances from which the reader agrees and is sure."""

    keys: tuple[Key, ...]
    least: float
    sure: float

    def of_act(self, action: str, part: str) -> str | None:
        """The check that such a step can confirm, None where it needs no second key."""
        return next((k.check for k in self.keys if action in k.acts or f"{action} {part}" in k.acts), None)

    def of_claim(self, claim: str) -> str | None:
        """The check that such a claim can confirm, None where it needs no second key."""
        return next((k.check for k in self.keys if claim in k.claims), None)


@lru_cache(maxsize=1)
def load_keys() -> Keys:
    """The keys of the installed packs."""
    data = tomllib.loads((models_dir() / "trades" / "common" / "keys.toml").read_text(encoding="utf-8"))

    def pattern(rows: list[str]) -> re.Pattern[str] | None:
        return re.compile("|".join(f"(?:{r})" for r in rows)) if rows else None

    keys = tuple(
        Key(check=row["check"], acts=frozenset(row.get("acts", ())), claims=frozenset(row.get("claims", ())),
            gives=row.get("gives"), about=pattern(row.get("about", [])), unless=pattern(row.get("unless", [])))
        for row in data["keys"]
    )  # fmt: skip
    return Keys(keys=keys, least=data["least"], sure=data["sure"])
