"""Scripts beside the package as modules: the recipes, which no package holds."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any


def script(path: Path, name: str | None = None) -> Any:
    """The module in `path`, under `name` or its own, where its dataclasses and other scripts look for it."""
    spec = importlib.util.spec_from_file_location(name or path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
