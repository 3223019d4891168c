"""The tables of models/evaluation.toml: the contract's checks, units with their factors, names that mean the same."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from typing import Any, get_args

from voicereport import paths
from voicereport.errors import PackError
from voicereport.report import CheckState, StepStatus

Aliases = dict[str, list[str]]  #: name -> names that mean it

STATES: tuple[str, ...] = get_args(CheckState)
STATUSES: tuple[str, ...] = get_args(StepStatus)
STYLES = ("plain", "telegraphic", "messy", "trap", "instructional")
PRESSURES = ("pressure", "vacuum")
CIRCUITS = ("open_circuit", "short_circuit")  #: qualifiers that stand in the place of a value


@dataclass(frozen=True, kw_only=True, slots=True)
class Unit:
    """A unit as a line through its dimension's base: base = value * factor + zero."""

    dimension: str
    factor: float
    zero: float


@dataclass(frozen=True, kw_only=True, slots=True)
class AliasTable:
    """Names that mean the same thing."""

    words: Aliases
    parts: Aliases
    by_action: dict[str, Aliases]
    groups: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Tables:
    """All of models/evaluation.toml."""

    checks: tuple[str, ...]
    stop: tuple[str, ...]
    lacking: tuple[str, ...]
    units: dict[str, Unit]
    dimensions: dict[str, str]
    articles: frozenset[str]
    counts: frozenset[str]
    as_is: frozenset[str]
    irregular: dict[str, str]
    weak_tails: frozenset[str]
    connector_nouns: tuple[str, ...]
    aliases: AliasTable


@cache
def load_tables() -> Tables:
    """The shipped tables, read once. Raises PackError where the file cannot be used."""
    path = paths.models_dir() / "evaluation.toml"
    try:
        data: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
        names = data["names"]
        return Tables(
            checks=tuple(data["checks"]),
            stop=tuple(data["stop"]),
            lacking=tuple(data["lacking"]),
            units={code: Unit(dimension=d, factor=f, zero=z) for code, (d, f, z) in data["units"].items()},
            dimensions=data["dimensions"],
            articles=frozenset(names["articles"]),
            counts=frozenset(names["counts"]),
            as_is=frozenset(names["as_is"]),
            irregular=names["irregular"],
            weak_tails=frozenset(names["weak_tails"]),
            connector_nouns=tuple(names["connector_nouns"]),
            aliases=alias_table(data),
        )
    except (OSError, KeyError, ValueError, TypeError) as error:
        raise PackError(
            str(path), f"cannot be used ({type(error).__name__}: {error})", "reinstall the package"
        ) from error


def alias_table(data: dict[str, Any]) -> AliasTable:
    """The alias tables among `data`; a table that is not there is empty."""
    return AliasTable(
        words=data.get("words", {}),
        parts=data.get("parts", {}),
        by_action=data.get("by_action", {}),
        groups=tuple(tuple(group) for group in data.get("groups", ())),
    )
