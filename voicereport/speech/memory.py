"""Memory that was freed, given back to the system.

The C library of Linux keeps what a thread has freed for that thread. Recognisers take and free hundreds of megabytes in
threads of their own, so that what is kept grows past what is used.
"""

from __future__ import annotations

import ctypes
import sys
from functools import lru_cache
from typing import Any

_ARENA_MAX = -8  #: M_ARENA_MAX of mallopt(3)
_ARENAS = 2


def share_heaps() -> None:
    """Have threads that start from now on share heaps, where the C library can (glibc)."""
    library = _library()
    if library is not None:
        library.mallopt(_ARENA_MAX, _ARENAS)


def give_back() -> None:
    """Give freed memory back to the system, where the C library can (glibc)."""
    library = _library()
    if library is not None:
        library.malloc_trim(0)


@lru_cache(maxsize=1)
def _library() -> Any:
    """The C library of this process, or None where it is not glibc."""
    if sys.platform != "linux":
        return None
    library = ctypes.CDLL(None)
    return library if hasattr(library, "malloc_trim") and hasattr(library, "mallopt") else None
