"""The limits of a trade pack: what readings are judged by, under which conditions, and by whose authority."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from voicereport.errors import PackError
from voicereport.paths import models_dir
from voicereport.trades.limit_rows import (
    KEYS,
    Reader,
    read_band,
    read_curve,
    read_heard,
    read_implied,
    read_limit,
    read_refrigerant,
)
from voicereport.trades.limit_values import (
    Band,
    Condition,
    Curve,
    Example,
    Heard,
    Implied,
    Limit,
    Limits,
    Refrigerant,
    Step,
    singular,
)

__all__ = [
    "Band",
    "Condition",
    "Curve",
    "Example",
    "Heard",
    "Implied",
    "Limit",
    "Limits",
    "Refrigerant",
    "Step",
    "load_limits",
    "plate_facts",
]
FILE = "limits.toml"
_TABLES = ("include", "sentences", "subjects", "facts", "circuits", "physics")


def _files(folder: Path, reader: Reader, seen: set[Path]) -> list[tuple[str, dict[str, Any]]]:
    """The limits files of a pack, included ones first, each with its name."""
    path = folder / FILE
    if path in seen:
        return []
    seen.add(path)
    name = f"{folder.name}/{FILE}"
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        reader.faults.append(f"{name}: {error}")
        return []
    out: list[tuple[str, dict[str, Any]]] = []
    for other in data.get("include", ()):
        out += _files(_beside(folder, other), reader, seen)
    return [*out, (name, data)]


def _beside(folder: Path, name: str) -> Path:
    """Another pack: beside this one, else among the shipped ones."""
    beside = folder.parent / name
    return beside if (beside / FILE).is_file() else models_dir() / "trades" / name


def load_limits(folder: Path) -> Limits:
    """The limits of the pack in `folder`, over those that every trade shares.

    A row with the id or name of an earlier one takes its place. Raises PackError that lists every fault at once.
    """
    reader = Reader()
    seen: set[Path] = set()
    files = _files(_beside(folder, "common"), reader, seen) + _files(folder, reader, seen)
    tables: dict[str, dict[str, Any]] = {name: {} for name in _TABLES[1:]}
    rows: dict[str, list[tuple[str, Mapping[str, Any]]]] = {}
    for name, data in files:
        unknown = sorted(set(data) - {*_TABLES, *KEYS} | (set(data) & {"when", "step", "examples"}))
        if unknown:
            reader.faults.append(f"{name}: unknown tables {', '.join(unknown)}")
        for table in tables:
            tables[table] |= data.get(table, {})
        for table in ("limits", "bands", "sensors", "refrigerants", "implied", "heard"):
            rows.setdefault(table, []).extend((name, row) for row in data.get(table, ()))
    out = _built(reader, tables, rows)
    if reader.faults:
        raise PackError(str(folder / FILE), "; ".join(reader.faults), "correct the entries named")
    return out


def _built(
    reader: Reader, tables: Mapping[str, Mapping[str, Any]], rows: Mapping[str, list[tuple[str, Mapping[str, Any]]]]
) -> Limits:
    """The limits from all tables, faults kept in `reader`."""
    subjects = {
        name: tuple(tuple(singular(w) for w in p.split()) for p in words) for name, words in tables["subjects"].items()
    }
    questions = tables["facts"]
    made: dict[str, dict[Any, Any]] = {}
    makers: dict[str, Callable[[Mapping[str, Any]], object]] = {
        "limits": lambda row: read_limit(reader, row, subjects, questions),
        "bands": lambda row: read_band(reader, row, subjects),
        "sensors": lambda row: read_curve(reader, row),
        "refrigerants": lambda row: read_refrigerant(reader, row),
        "implied": lambda row: read_implied(reader, row, questions),
        "heard": lambda row: read_heard(reader, row, questions),
    }
    for table, make in makers.items():
        made[table] = {}
        for n, (name, row) in enumerate(rows.get(table, ())):
            reader.where = name
            value = make(row)
            if value is not None:
                made[table][row.get("id") or row.get("name") or n] = value
    return Limits(
        limits=tuple(made["limits"].values()),
        bands=tuple(made["bands"].values()),
        sensors=tuple(made["sensors"].values()),
        refrigerants=made["refrigerants"],
        subjects=subjects,
        questions=questions,
        implied=tuple(reversed(made["implied"].values())),
        heard=tuple(made["heard"].values()),
        sentences=tables["sentences"],
        circuits={k: tuple(v) for k, v in tables["circuits"].items()},
        physics=tables["physics"],
    )


def plate_facts(path: Path, model: str, limits: Limits) -> dict[str, str]:
    """What the office's data-plate file knows of `model`; empty for a model it lacks.

    The file holds [[plates]] with `model` and facts by the names of [facts] in limits.toml. Models are compared by
    their letters and figures. Raises PackError that lists every fault.
    """
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise PackError(str(path), str(error), "correct the file") from error
    faults = [f"unknown table {name}" for name in sorted(set(data) - {"plates"})]
    found: dict[str, str] = {}
    for n, row in enumerate(data.get("plates", ())):
        unknown = sorted(set(row) - {"model", *limits.questions})
        if unknown:
            faults.append(f"plate {n + 1}: unknown {', '.join(unknown)}; allowed: model, {', '.join(limits.questions)}")
        if not row.get("model"):
            faults.append(f"plate {n + 1}: needs model")
        elif _plain(str(row["model"])) == _plain(model):
            found |= {key: str(value) for key, value in row.items() if key != "model"}
    if faults:
        raise PackError(str(path), "; ".join(faults), "correct the entries named")
    return found


def _plain(model: str) -> str:
    return "".join(c for c in model.upper() if c.isalnum())
