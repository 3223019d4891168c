"""Where the data lies: `models/`, `templates/` and `demo_audio/`, in a checkout or in an installed wheel."""

from __future__ import annotations

import os
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def data_dir() -> Path:
    """The folder that holds `models`, `templates` and `demo_audio`.

    In a checkout (pyproject.toml beside the package) that is the checkout, so that an edit is seen at once;
    elsewhere it is the copy inside the wheel.
    """
    checkout = _PACKAGE.parent
    if (checkout / "pyproject.toml").is_file() and (checkout / "models").is_dir():
        return checkout
    return _PACKAGE / "_data"


def models_dir() -> Path:
    """The folder of trade packs, speech.toml and the like."""
    return data_dir() / "models"


def templates_dir() -> Path:
    """The folder of the shipped templates."""
    return data_dir() / "templates"


def demo_dir() -> Path:
    """The folder of the demo's recordings."""
    return data_dir() / "demo_audio"


def user_config_dir() -> Path:
    """The folder of the user's own packs, templates and weights.

    VOICEREPORT_HOME names it; else it is `voicereport` under XDG_CONFIG_HOME or ~/.config.
    """
    own = os.environ.get("VOICEREPORT_HOME")
    if own:
        return Path(own)
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "voicereport"


def cache_dir() -> Path:
    """The folder for joined weights and unfinished work: VOICEREPORT_CACHE, else under XDG_CACHE_HOME or ~/.cache."""
    own = os.environ.get("VOICEREPORT_CACHE")
    if own:
        return Path(own)
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "voicereport"
