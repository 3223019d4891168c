"""Trade packs: what a trade calls things, which claims and entries it knows. Knowledge comes from data, never code."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args

from voicereport.errors import PackError
from voicereport.paths import models_dir, user_config_dir
from voicereport.trades.claims import ClaimHit, ClaimRule, find_claims, read_claims, screen_of
from voicereport.trades.entries import EntryBook, read_entries
from voicereport.trades.limits import Limits, load_limits
from voicereport.trades.mishearings import Repairs, read_repairs
from voicereport.trades.screens import Screen
from voicereport.trades.words import Words, load_words

__all__ = ["ClaimHit", "ClaimRule", "Trade", "find_claims", "list_trades", "load_trade"]
Units = Literal["metric", "us"]
T = TypeVar("T")
_TRADE_KEYS = ["id", "title", "units", "kinds", "job_types"]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Trade:
    """One trade pack, loaded and found faultless. Equal to itself alone."""

    id: str
    title: str
    units: Units | None  #: units of a value spoken without one; None = the job's setting
    kinds: tuple[str, ...]  #: appliances of the trade
    job_types: tuple[str, ...]
    words: Words
    claims: tuple[ClaimRule, ...]
    entries: EntryBook
    limits: Limits | None  #: None where the pack has no limits.toml
    folder: Path
    repairs: Repairs = field(default_factory=Repairs)  #: how its words are repaired where they were misheard
    _claim_screen: Screen = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_claim_screen", screen_of(self.claims))

    def claims_in(self, text: str) -> tuple[ClaimHit, ...]:
        """The claims that `text`, one clause or sentence, speaks to, as `find_claims` finds them."""
        return find_claims(text, self.claims, self._claim_screen)


def trade_dirs(extra_dirs: Iterable[Path] = ()) -> tuple[Path, ...]:
    """The folders that hold packs, strongest first: `extra_dirs`, the user's own, the shipped ones."""
    return (*map(Path, extra_dirs), user_config_dir() / "trades", models_dir() / "trades")


def list_trades(*, extra_dirs: Iterable[Path] = ()) -> tuple[str, ...]:
    """The ids of the trade packs that are there, in order of name. A pack is a folder with a trade.toml."""
    found = {p.parent.name for folder in trade_dirs(extra_dirs) for p in folder.glob("*/trade.toml")}
    return tuple(sorted(found))


def load_trade(name: str, *, extra_dirs: Iterable[Path] = ()) -> Trade:
    """The trade pack `name`. The user's own packs come before the shipped ones.

    Raises PackError: no such pack (the known ones are named), or every fault of every file of it at once.
    """
    dirs = trade_dirs(extra_dirs)
    folder = next((d / name for d in dirs if (d / name / "trade.toml").is_file()), None)
    if folder is None:
        known = ", ".join(list_trades(extra_dirs=dirs[:-2])) or "none"
        raise PackError(name, "there is no such trade pack", f"known are: {known}")
    faults: list[str] = []
    trade = _read(folder / "trade.toml", faults)
    _check_trade(trade, folder, faults)
    claims = _claims(folder, dirs, faults)
    book = _entries(folder, dirs, frozenset(c.name for c in claims), faults)
    words = _part(lambda: load_words(folder), faults)
    limits = _part(lambda: _limits(folder), faults)
    repairs = _repairs(folder, dirs, words, faults)
    if faults or words is None:
        raise PackError(str(folder), "; ".join(faults), "correct the entries named")
    return Trade(
        id=trade["id"], title=trade["title"], units=trade.get("units"), kinds=tuple(trade.get("kinds", ())),
        job_types=tuple(trade.get("job_types", ())), words=words, claims=claims, entries=book, limits=limits,
        folder=folder, repairs=repairs,
    )  # fmt: skip


def _part(load: Callable[[], T], faults: list[str]) -> T | None:
    """What `load` gives, or None with its faults added."""
    try:
        return load()
    except PackError as error:
        faults.append(f"{error.place}: {error.problem}")
        return None


def _limits(folder: Path) -> Limits | None:
    return load_limits(folder) if (folder / "limits.toml").is_file() else None


def _repairs(folder: Path, dirs: tuple[Path, ...], words: Words | None, faults: list[str]) -> Repairs:
    name = "mishearings.toml"
    shared = folder.parent / "common" / name
    common = _read(shared, faults) if shared.is_file() else {}
    layers = _layers(folder, name, dirs, faults) if (folder / name).is_file() else []
    nouns = {w for key in (*words.heads, *words.parts) for w in key} if words else set()
    verbs = set(words.verbs) - nouns if words else ()
    return read_repairs(common, layers, verbs, f"{folder.name}/{name}", faults)


def _read(path: Path, faults: list[str]) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        faults.append(f"{path.parent.name}/{path.name}: {error}")
        return {}


def _check_trade(trade: Mapping[str, Any], folder: Path, faults: list[str]) -> None:
    where = f"{folder.name}/trade.toml"
    unknown = sorted(set(trade) - set(_TRADE_KEYS))
    if unknown:
        faults.append(f"{where}: unknown {', '.join(unknown)}; allowed: {', '.join(_TRADE_KEYS)}")
    faults.extend(f"{where}: needs {key}" for key in ("id", "title") if not trade.get(key))
    if trade.get("id") != folder.name:
        faults.append(f"{where}: id {trade.get('id')!r} must be the folder's name, {folder.name!r}")
    if trade.get("units") not in (None, *get_args(Units)):
        faults.append(f"{where}: units {trade['units']!r} not known; allowed: {', '.join(get_args(Units))}")


def _layers(folder: Path, file: str, dirs: tuple[Path, ...], faults: list[str]) -> list[dict[str, Any]]:
    """The tables of `file` of the pack and of those that it includes, included ones first."""
    data = _read(folder / file, faults)
    layers: list[dict[str, Any]] = []
    for name in data.get("include", ()):
        other = next((d / name for d in dirs if (d / name / file).is_file()), None)
        if other is None or other == folder:
            faults.append(f"{folder.name}/{file}: include {name!r}: there is no other pack of that name with a {file}")
        else:
            layers += _layers(other, file, dirs, faults)
    return [*layers, data]


def _claims(folder: Path, dirs: tuple[Path, ...], faults: list[str]) -> tuple[ClaimRule, ...]:
    rows: dict[Any, Mapping[str, Any]] = {}
    words: dict[str, str] = {}
    for data in _layers(folder, "claims.toml", dirs, faults):
        words |= data.get("words", {})
        rows |= {row.get("name"): row for row in data.get("claims", ())}
        unknown = {k: v for k, v in data.items() if k not in ("include", "words", "claims")}
        read_claims(unknown, f"{folder.name}/claims.toml", faults)
    return read_claims({"words": words, "claims": list(rows.values())}, f"{folder.name}/claims.toml", faults)


def _entries(folder: Path, dirs: tuple[Path, ...], claims: frozenset[str], faults: list[str]) -> EntryBook:
    """The entries of a pack over those that it includes: one of the same id takes the place of the included one."""
    merged: dict[str, Any] = {"how": {}, "settings": {}}
    rows: dict[Any, Mapping[str, Any]] = {}
    for data in _layers(folder, "entries.toml", dirs, faults):
        merged |= {k: v for k, v in data.items() if k not in ("how", "settings", "entries", "include", "leave_out")}
        merged["how"] |= data.get("how", {})
        merged["settings"] |= data.get("settings", {})
        rows = {k: v for k, v in rows.items() if k not in data.get("leave_out", ())}
        rows |= {row.get("id"): row for row in data.get("entries", ())}
    return read_entries(merged | {"entries": list(rows.values())}, f"{folder.name}/entries.toml", claims, faults)
