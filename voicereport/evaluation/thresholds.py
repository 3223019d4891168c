"""Thresholds that figures must not fall below."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path

from voicereport.errors import SettingsError
from voicereport.evaluation.figures import Figure

#: shares are stored with four places; a threshold is a measured figure cut there
_SLACK = 1e-9


def read_thresholds(path: Path, corpus: str) -> dict[str, float]:
    """The thresholds in the table [corpus] of a TOML file. Raises SettingsError where there is none."""
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsError(str(path), f"cannot be read ({error})") from error
    table = tables.get(corpus)
    if not isinstance(table, dict):
        raise SettingsError(str(path), f"has no table [{corpus}]", f"add one; there are {', '.join(tables) or 'none'}")
    wrong = [key for key, value in table.items() if isinstance(value, bool) or not isinstance(value, (int, float))]
    if wrong:
        raise SettingsError(str(path), f"{', '.join(wrong)}: no number")
    return {key: float(value) for key, value in table.items()}


def shortfalls(figures: Sequence[Figure], thresholds: Mapping[str, float]) -> tuple[str, ...]:
    """One sentence for each threshold that is not met; a figure that was not measured does not meet its own."""
    by_name, found = {figure.name: figure for figure in figures}, []
    for name, threshold in thresholds.items():
        figure = by_name.get(name)
        if figure is None or figure.value is None:
            found.append(f"{name} was not measured; its threshold is {threshold:g}")
        elif figure.counts and figure.value > threshold:
            found.append(f"{name} is {figure.value:g}; no more than {threshold:g} are allowed")
        elif not figure.counts and figure.value < threshold - _SLACK:
            found.append(f"{name} is {figure.value:.4f}, below {threshold:.4f}")
    return tuple(found)


def lowered(before: Mapping[str, Mapping[str, float]], after: Mapping[str, Mapping[str, float]]) -> tuple[str, ...]:
    """One sentence for each threshold of `before` that `after` drops or loosens. Counts end in "false_confirms"."""
    found = []
    for corpus, table in before.items():
        for name, old in table.items():
            new = after.get(corpus, {}).get(name)
            looser = new is None or (new > old if name.endswith("false_confirms") else new < old)
            if looser:
                found.append(f"[{corpus}] {name}: {old:g} became {'nothing' if new is None else f'{new:g}'}")
    return tuple(found)
