"""Windows that were decoded already, kept on disk, so that a run that was cut off goes on where it stopped."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import astuple
from pathlib import Path

from voicereport import paths
from voicereport.speech.engine import Decoded, Engine, Manner
from voicereport.speech.windows import Window
from voicereport.transcript import Word

FORM = 3  #: of the files; another number makes all older ones unread


class Memory:
    """Decoded windows of one recording. Only whole results are ever kept."""

    def __init__(self, sha256: str, *, folder: Path | None = None) -> None:
        self._folder = (folder or paths.cache_dir() / "windows") / sha256[:32]

    def get(self, engine: Engine, window: Window, *, language: str, manner: Manner) -> Decoded | None:
        """What was made of the window before, or None. A file that is not whole counts as none."""
        try:
            data = json.loads(self._path(engine, window, language, manner).read_text(encoding="utf-8"))
            words = tuple(Word(word=w, start=a, end=b, probability=p) for w, a, b, p in data["words"])
            return Decoded(
                words=words,
                log_probability=data["log_probability"],
                no_speech=data["no_speech"],
                compression=data["compression"],
            )
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def put(self, engine: Engine, window: Window, decoded: Decoded, *, language: str, manner: Manner) -> None:
        """Keep what was made of a window. A disk without room loses nothing but the time saved."""
        data = {
            "words": [[w.word, w.start, w.end, w.probability] for w in decoded.words],
            "log_probability": decoded.log_probability,
            "no_speech": decoded.no_speech,
            "compression": decoded.compression,
        }
        path = self._path(engine, window, language, manner)
        unfinished = path.with_name(f".{path.name}.{os.getpid()}")
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            unfinished.write_text(json.dumps(data), encoding="utf-8")
            unfinished.replace(path)
        except OSError:
            return

    def _path(self, engine: Engine, window: Window, language: str, manner: Manner) -> Path:
        pieces = [[p.start, p.end, p.at] for p in window.pieces]
        kind = [engine.name, engine.model, engine.version, language, *astuple(manner)]
        key = json.dumps([FORM, kind, pieces])
        return self._folder / f"{hashlib.sha256(key.encode()).hexdigest()[:32]}.json"
