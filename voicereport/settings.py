"""The settings of a run, from voicereport.toml, the environment and the options of a command, weakest first."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Literal, get_args

from voicereport import paths
from voicereport.errors import SettingsError

FILE_NAME = "voicereport.toml"
PREFIX = "VOICEREPORT_"
RESERVED = ("HOME", "CACHE", "CONFIG", "DEBUG", "READER")  #: variables with the prefix that are no settings

Units = Literal["metric", "us"]
Profile = Literal["US", "UK"]
Engine = Literal["auto", "faster-whisper", "openai-whisper"]
Paper = Literal["a4", "us-letter"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Letterhead:
    """What stands at the top of the customer's report; an empty text leaves its line out."""

    company: str = ""
    address: str = ""
    phone: str = ""
    licence: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Settings:
    """All settings of a run, checked."""

    trade: str  #: id of a trade pack
    units: Units = "metric"  #: of values that were spoken without a unit
    profile: Profile = "US"  #: whose rules the checks rest on where they differ
    engine: Engine = "auto"
    weights: str = "auto"  #: name of the recogniser's weights
    threads: int = 0  #: processor threads; 0 = as many as there are cores
    paper: Paper = "a4"
    language: str = "en"  #: two letters
    out: Path = Path("reports")  #: folder that reports are written under
    letterhead: Letterhead = field(default_factory=Letterhead)


_CHOICES: dict[str, tuple[str, ...]] = {
    "units": get_args(Units),
    "profile": get_args(Profile),
    "engine": get_args(Engine),
    "paper": get_args(Paper),
}
_KEYS = tuple(f.name for f in fields(Settings) if f.name != "letterhead")
_LETTERHEAD_KEYS = tuple(f.name for f in fields(Letterhead))

_Layer = dict[str, Any]  #: flat: {"trade": ..., "letterhead.company": ...}
_MOST_THREADS = 256


def load_settings(
    config: Path | None = None,
    *,
    environment: Mapping[str, str] | None = None,
    options: Mapping[str, str | int | Path | None] | None = None,
) -> Settings:
    """The settings that hold: the shipped ones, then voicereport.toml, then the environment, then `options`.

    config: a settings file that must exist; None looks for one. environment: None takes the process's own.
    options: by key of Settings; None values say nothing. Raises SettingsError, which lists every fault.
    """
    environment = os.environ if environment is None else environment
    faults: list[str] = []
    merged = _read_file(paths.models_dir() / "settings.toml", faults)
    found = _find_file(config, environment)
    if found is not None:
        merged |= _read_file(found, faults)
    merged |= _read_environment(environment, faults)
    given = {key: value for key, value in (options or {}).items() if value is not None}
    merged |= _checked(given, faults, lambda key: f"--{key}")
    if faults:
        raise SettingsError("settings", "; ".join(faults))
    letterhead = {key: merged.pop(f"letterhead.{key}", "") for key in _LETTERHEAD_KEYS}
    return Settings(**merged, letterhead=Letterhead(**letterhead))


def settings_file(config: Path | None = None) -> Path | None:
    """The settings file that counts; None = there is none. Raises SettingsError where a named one is not there."""
    return _find_file(config, os.environ)


def _find_file(config: Path | None, environment: Mapping[str, str]) -> Path | None:
    """The settings file that counts, or None where there is none. A file that was named must exist."""
    named = config or (Path(environment[f"{PREFIX}CONFIG"]) if environment.get(f"{PREFIX}CONFIG") else None)
    if named is not None:
        if not named.is_file():
            raise SettingsError(str(named), "there is no such settings file", "name an existing file by --config")
        return named
    places = (Path(FILE_NAME), paths.user_config_dir() / FILE_NAME)
    return next((place for place in places if place.is_file()), None)


def _read_file(path: Path, faults: list[str]) -> _Layer:
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        faults.append(f"{path}: cannot be read ({error})")
        return {}
    letterhead = data.pop("letterhead", {})
    if not isinstance(letterhead, dict):
        faults.append(f"{path}: letterhead is no table; write [letterhead] above its keys")
        letterhead = {}
    flat = data | {f"letterhead.{key}": value for key, value in letterhead.items()}
    return _checked(flat, faults, lambda key: f"{path}: {key}")


def _read_environment(environment: Mapping[str, str], faults: list[str]) -> _Layer:
    """The settings among the environment variables; an unknown one with our prefix is a fault."""
    names = {f"{PREFIX}{key.upper()}": key for key in _KEYS}
    names |= {f"{PREFIX}LETTERHEAD_{key.upper()}": f"letterhead.{key}" for key in _LETTERHEAD_KEYS}
    flat: _Layer = {}
    for name, value in environment.items():
        if name in names:
            key = names[name]
            flat[key] = int(value) if key == "threads" and value.strip().isdigit() else value
        elif name.startswith(PREFIX) and name.removeprefix(PREFIX) not in RESERVED:
            faults.append(f"{name}: is no setting{_near(name, names)}")
    variable = {key: name for name, key in names.items()}
    return _checked(flat, faults, lambda key: variable[key])


def _checked(layer: Mapping[str, Any], faults: list[str], place: Any) -> _Layer:
    """The usable entries of a layer; what is wrong with the others goes to `faults`. place: key -> where it stands."""
    good: _Layer = {}
    known = (*_KEYS, *(f"letterhead.{key}" for key in _LETTERHEAD_KEYS))
    for key, value in layer.items():
        fault = f"is no setting{_near(key, known)}" if key not in known else _fault(key, value)
        if fault:
            faults.append(f"{place(key)}: {fault}")
        else:
            good[key] = Path(value) if key == "out" else value
    return good


def _fault(key: str, value: object) -> str | None:
    """What is wrong with the value of a known key, or None."""
    if key == "threads":
        right = isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= _MOST_THREADS
        return None if right else f"{value!r} is no number of threads; use a whole number from 0 to {_MOST_THREADS}"
    if key == "out" and isinstance(value, Path):
        return None
    if not isinstance(value, str):
        return f"{value!r} is no text; put it in quotes"
    if key in _CHOICES and value not in _CHOICES[key]:
        return f"{value!r} is not one of {', '.join(_CHOICES[key])}"
    if key == "language" and not (len(value) == 2 and value.isascii() and value.isalpha() and value.islower()):
        return f"{value!r} is no language; use two letters, such as 'en'"
    if not key.startswith("letterhead.") and not value.strip():
        return "is empty"
    return None


def _near(name: str, known: Mapping[str, str] | tuple[str, ...]) -> str:
    near = get_close_matches(name, list(known), n=1)
    return f"; did you mean {near[0]}?" if near else f"; there are {', '.join(known)}"
