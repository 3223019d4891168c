"""The head of the trail, kept outside the database: without it, nobody could tell that the last rows were taken out.

The file has one line per step; a line that was cut off does not count.
  P number hash    about to be written: row `number` may be in the table from now on
  C number hash    written: the row must be in the table from now on
  B number hash    the table did not end where this file says: somebody changed it by hand
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

_LONGEST = 8_192  #: bytes of the file before it is written anew with its last lines

_HASH_SIGNS = 64

Head = tuple[int, str]  #: number and hash of a trail entry; (0, "") = before the first


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """What the file says."""

    confirmed: Head = (0, "")
    pending: tuple[Head, ...] = ()  #: after `confirmed`: may be in the table
    breaks: tuple[Head, ...] = field(default=())

    def allows(self, last: Head) -> bool:
        """Whether the table may end in `last`."""
        return last == self.confirmed or last in self.pending


class Heads:
    """The file. `about_to_write` is only called by the one who holds the writers' lock."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def known(self) -> Known:
        """What the file says; where there is none, that nothing was ever written."""
        try:
            lines = self.path.read_bytes().decode(errors="replace").split("\n")[:-1]
        except FileNotFoundError:
            return Known()
        confirmed: Head = (0, "")
        pending: list[Head] = []
        breaks: list[Head] = []
        for kind, head in filter(None, map(_parsed, lines)):
            if kind == "P":
                pending = [other for other in pending if other[0] < head[0]] + [head]
            elif kind == "B":
                breaks.append(head)
            if kind == "B" or (kind == "C" and head[0] >= confirmed[0]):
                confirmed = head
                pending = [other for other in pending if other[0] > head[0]]
        return Known(confirmed=confirmed, pending=tuple(pending), breaks=tuple(breaks))

    def about_to_write(self, last: Head, new: Head) -> None:
        """Notes that the table ends in `last` and that its end is about to become `new`."""
        known = self.known()
        if not known.allows(last):
            self._append("B", last)
        elif last != known.confirmed:
            self._append("C", last)
        if self.path.exists() and self.path.stat().st_size > _LONGEST:
            self._shorten()
        self._append("P", new)

    def written(self, new: Head) -> None:
        """Notes that `new` is in the table."""
        self._append("C", new)

    def begin_at(self, head: Head) -> None:
        """Starts the file anew for a store that was read back from a back-up."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        self._replace(f"C {head[0]} {head[1]}\n" if head[0] else "")

    def _shorten(self) -> None:
        known = self.known()
        lines = [f"B {number} {name}\n" for number, name in known.breaks]
        lines += [f"C {known.confirmed[0]} {known.confirmed[1]}\n"]
        lines += [f"P {number} {name}\n" for number, name in known.pending]
        self._replace("".join(lines))

    def _replace(self, text: str) -> None:
        unfinished = self.path.with_name(f".{self.path.name}.{os.getpid()}")
        unfinished.write_text(text, encoding="ascii")
        unfinished.replace(self.path)

    def _append(self, kind: str, head: Head) -> None:
        handle = os.open(self.path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        try:
            os.write(handle, f"\n{kind} {head[0]} {head[1]}\n".encode("ascii"))  # first ends a line that was cut off
        finally:
            os.close(handle)


def _parsed(line: str) -> tuple[str, Head] | None:
    kind, _, rest = line.partition(" ")
    number, _, name = rest.partition(" ")
    whole = number.isdigit() and (len(name) == _HASH_SIGNS or (number, name) == ("0", ""))
    return (kind, (int(number), name)) if whole and kind in ("P", "C", "B") else None
