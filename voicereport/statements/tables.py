"""The expressions of told.toml, by group and name."""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache

from voicereport.paths import models_dir


@lru_cache(maxsize=1)
def told_tables() -> dict[str, dict[str, re.Pattern[str]]]:
    """The words that announce what is told: by group and name, one expression that any of its rows matches."""
    data = tomllib.loads((models_dir() / "trades" / "common" / "told.toml").read_text(encoding="utf-8"))
    return {g: {k: re.compile("|".join(f"(?:{p})" for p in v)) for k, v in rows.items()} for g, rows in data.items()}
