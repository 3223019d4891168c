"""Answers that take long and may be a minute old."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any, TypeVar, cast

T = TypeVar("T")


class Remembered:
    """What was asked for, kept for some seconds. Whoever asks while it is made anew waits for it."""

    def __init__(self, seconds: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._seconds, self._clock = seconds, clock
        self._kept: dict[str, tuple[float, Any]] = {}
        self._lock = threading.Lock()

    def get(self, key: str, make: Callable[[], T]) -> T:
        """The kept answer to `key`, or the one that `make` gives now."""
        with self._lock:
            known = self._kept.get(key)
            if known is None or self._clock() - known[0] > self._seconds:
                known = (self._clock(), make())
                self._kept[key] = known
        return cast(T, known[1])
