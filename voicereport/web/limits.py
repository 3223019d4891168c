"""Limits on what one address may ask: a bucket for each that refills with time, in memory, bounded."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable

_MOST_BUCKETS = 10_000  #: the least recently used goes first


class RateLimit:
    """At most `per_minute` acts a minute for each key, in bursts of as many."""

    def __init__(self, per_minute: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._per_minute = per_minute
        self._clock = clock
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    def allow(self, key: str) -> bool:
        """Whether `key` may act now; if so, it is counted."""
        now = self._clock()
        with self._lock:
            left, before = self._buckets.pop(key, (float(self._per_minute), now))
            left = min(float(self._per_minute), left + (now - before) * self._per_minute / 60)
            allowed = left >= 1
            self._buckets[key] = (left - 1 if allowed else left, now)
            if len(self._buckets) > _MOST_BUCKETS:
                self._buckets.popitem(last=False)
        return allowed
