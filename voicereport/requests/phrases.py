"""models/live.toml as values: the call word, the requests, and every sentence that the tool says."""

from __future__ import annotations

import re
import string
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal, get_args

from voicereport import paths
from voicereport.errors import SettingsError

Does = Literal[
    "still_off", "next", "missing", "read_back", "take_back", "note", "stop", "start", "finish", "quiet", "aloud"
]
Tokens = tuple[str, ...]
FILE_NAME = "live.toml"
_TABLES = ("call", "requests", "answers", "warn", "later", "wrap_up", "says", "record", "view")
_SPELLED_OUT = (("what's", "what is"), ("that's", "that is"), ("i've", "i have"), ("i'm", "i am"), ("it's", "it is"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Request:
    """One request with the ways to ask for it."""

    does: Does
    phrases: tuple[Tokens, ...]
    bare: tuple[Tokens, ...] = ()  #: understood without the call word, directly after an answer to the same request


@dataclass(frozen=True, kw_only=True, slots=True)
class Warn:
    """What is said of a stop-level check."""

    say: str  #: it is violated
    before: str  #: a plan would violate it


@dataclass(frozen=True, kw_only=True, slots=True)
class Ask:
    """How the wrap-up asks for a check."""

    ask: str  #: with {items} where it has kinds
    completes: tuple[str, ...]  #: sentences that a bare answer is read as part of
    kinds: tuple[str, ...] = ()  #: kinds of items of the ledger; those that are not back are named


@dataclass(frozen=True, kw_only=True, slots=True)
class Phrases:
    """All of live.toml."""

    call: tuple[Tokens, ...]
    heard_as: tuple[Tokens, ...]
    openers: frozenset[str]
    fillers: tuple[Tokens, ...]
    least: float
    apart: float
    requests: tuple[Request, ...]
    skip: frozenset[Tokens]
    stop: frozenset[Tokens]
    warn: Mapping[str, Warn]  #: by check id
    later: tuple[Tokens, ...]  #: words that put a plan off to another day
    asks: Mapping[str, Ask]  #: by check id
    says: Mapping[str, str]
    record: Mapping[str, str]
    view: Mapping[str, str]

    @property
    def call_word(self) -> str:
        """The call word, as it is shown."""
        return " ".join(self.call[0]).capitalize()


def tokens(text: str) -> Tokens:
    """The words of a text, lower case, without punctuation, short forms written out."""
    plain = text.lower().replace("’", "'")
    for short, full in _SPELLED_OUT if "'" in plain else ():
        plain = re.sub(rf"\b{short}\b", full, plain)
    return tuple(bare for word in plain.split() if (bare := word.strip(string.punctuation)))


def load_phrases(*, call_word: str | None = None, folder: Path | None = None) -> Phrases:
    """The phrases that hold: the shipped ones, table by table replaced by those in the user's own folder.

    call_word: takes the place of the call words. Raises SettingsError, which names every fault.
    """
    own = (folder or paths.user_config_dir()) / FILE_NAME
    return _loaded(call_word, own, _stamp(paths.models_dir() / FILE_NAME), _stamp(own))


def _stamp(path: Path) -> tuple[int, int] | None:
    """When the file was last written and how long it is; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


@lru_cache(maxsize=4)
def _loaded(
    call_word: str | None, own: Path, _shipped: tuple[int, int] | None, owned: tuple[int, int] | None
) -> Phrases:
    """As `load_phrases`, once for each state of the two files."""
    shipped = data = _read(paths.models_dir() / FILE_NAME)
    if owned is not None and own.is_file():
        data = data | _read(own)
    faults: list[str] = [f"there is no table {name}" for name in _TABLES if name not in data]
    if not faults:
        faults += [*_faults(data), *_lacking_sentences(data, shipped)]
    if call_word is not None and not tokens(call_word):
        faults.append("the call word has no letters")
    if faults:
        raise SettingsError(FILE_NAME, "; ".join(faults), "compare it with the shipped models/live.toml")
    return _made(data, call_word)


def _made(data: Mapping[str, Any], call_word: str | None) -> Phrases:
    call = data["call"]
    return Phrases(
        call=(tokens(call_word),) if call_word else _all(call["words"]),
        heard_as=() if call_word else _all(call["heard_as"]),
        openers=frozenset(call["openers"]),
        fillers=_all(call["fillers"]),
        least=float(call["least"]),
        apart=float(call["apart"]),
        requests=tuple(
            Request(does=row["does"], phrases=_all(row["phrases"]), bare=_all(row.get("bare", ())))
            for row in data["requests"]
        ),
        skip=frozenset(_all(data["answers"]["skip"])),
        stop=frozenset(_all(data["answers"]["stop"])),
        warn={row["check"]: Warn(say=row["say"], before=row["before"]) for row in data["warn"]},
        later=_all(data["later"]["words"]),
        asks={
            row["check"]: Ask(ask=row["ask"], completes=tuple(row["completes"]), kinds=tuple(row.get("kinds", ())))
            for row in data["wrap_up"]
        },
        says=dict(data["says"]),
        record=dict(data["record"]),
        view=dict(data["view"]),
    )


def _all(texts: Sequence[str]) -> tuple[Tokens, ...]:
    return tuple(tokens(text) for text in texts)


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsError(str(path), f"cannot be read ({error})", "correct it, or take it away") from error


def _lacking_sentences(data: Mapping[str, Any], shipped: Mapping[str, Any]) -> list[str]:
    """Sentences that the shipped tables have, and that a table in their place lacks."""
    return [f"{t}: {k} is lacking" for t in ("says", "record", "view") for k in shipped[t] if k not in data[t]]


def _faults(data: Mapping[str, Any]) -> list[str]:
    """Every fault of tables that are all there."""
    wanted = {
        "call": ("words", "heard_as", "openers", "fillers", "least", "apart"),
        "answers": ("skip", "stop"),
        "later": ("words",),
    }
    found = [f"{t}: {k} is lacking" for t, keys in wanted.items() for k in keys if k not in data[t]]
    rows = {"requests": ("does", "phrases"), "warn": ("check", "say", "before"),
            "wrap_up": ("check", "ask", "completes")}  # fmt: skip
    for table, keys in rows.items():
        for n, row in enumerate(data[table], 1):
            found += [f"{table} {n}: {key} is lacking" for key in keys if key not in row]
    known = get_args(Does)
    does = [row.get("does") for row in data["requests"]]
    found += [f"requests: {name!r} is none of {', '.join(known)}" for name in does if name not in known]
    found += [f"requests: {name} is lacking" for name in known if name not in does]
    found += [f"unknown table {name}" for name in data if name not in _TABLES]
    return found


def clock(seconds: float) -> str:
    """Seconds as minutes and seconds, 3:07, as the record has them."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02}"
