"""Refuse thresholds that were loosened or dropped since the commit before."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path

from voicereport.evaluation.thresholds import lowered

FILE = "tests/corpus/thresholds.toml"


def main() -> int:
    """0 where nothing was loosened, or there was no such file before; else 1."""
    before = subprocess.run(["git", "show", f"HEAD~1:{FILE}"], capture_output=True, text=True, check=False)
    if before.returncode != 0:
        return 0
    found = lowered(tomllib.loads(before.stdout), tomllib.loads(Path(FILE).read_text(encoding="utf-8")))
    for sentence in found:
        print(sentence, file=sys.stderr)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
