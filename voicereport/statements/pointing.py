"""What a line leaves unsaid, in the lines before: what a fastener holds, and which part a plug or a wire belongs to.

A small network reads the reader's states of the last lines, with one act marked, and shares out one chance over the
pieces of those lines and over "nothing" and "never named". Its file, `models/reader/pointer.onnx`, was made by
`models/reader/pointer.py`. Where there is none, rules alone choose.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from voicereport.errors import PackError
from voicereport.paths import models_dir
from voicereport.statements.reader import network, softmax

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from voicereport.statements.names import Name
    from voicereport.statements.reader import Mark

LINES = 14  #: lines that are looked back on, the act's own among them
PIECES = 220  #: of those lines, the latest
_THING, _HOLDS = 0, 1  #: slots of the network: what a number or a pronoun stands for, and what fasteners belong to
_FARTHEST = 63  #: place of a piece in its line, all later ones alike


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """A line as the reader left it."""

    number: int  #: counts the lines of a job
    states: NDArray[np.float16]  #: (pieces, states)
    places: tuple[tuple[int, int], ...]  #: of the pieces, in characters of the line


@dataclass(frozen=True, kw_only=True, slots=True)
class Mention:
    """A name where it was spoken: characters [first, last) of line `number`."""

    number: int
    first: int
    last: int
    name: Name


@dataclass(frozen=True, kw_only=True, slots=True)
class Pointed:
    """Where an act points as to what its fasteners or plug belong to: shares of one chance."""

    shares: dict[int, list[tuple[int, int, float]]]  #: by line: first and last character of a piece, its share
    unnamed: float = 0.0  #: the share of "never named"

    def at(self, mention: Mention) -> float:
        """The share of the words of a mention, 0..1."""
        return sum(s for a, b, s in self.shares.get(mention.number, ()) if a < mention.last and b > mention.first)

    def named(self, mentions: Iterable[Mention]) -> Iterator[tuple[Name, float]]:
        """The names that are pointed at, one a mention, with their shares."""
        return ((m.name, share) for m in mentions if (share := self.at(m)) > 0)


class Pointer:
    """The network, loaded."""

    def __init__(self, session: Any) -> None:
        self._session = session

    def point(self, lines: Sequence[Line], mark: Mark, slot: int = _HOLDS) -> Pointed | None:
        """Where a mark of the last of `lines` points; None where the mark has no piece there."""
        import numpy as np

        own = lines[-1]
        kept = [own]
        for line in reversed(lines[:-1]):
            if own.number - line.number >= LINES or sum(len(k.places) for k in kept) + len(line.places) > PIECES:
                break
            kept.insert(0, line)
        acted = [a < mark.last and b > mark.first for a, b in own.places]
        if not any(acted):
            return None
        states = np.concatenate([k.states for k in kept]).astype(np.float32)
        far = np.concatenate([np.full(len(k.places), own.number - k.number) for k in kept])
        at = np.concatenate([np.minimum(np.arange(len(k.places)), _FARTHEST) for k in kept])
        act = np.zeros(len(states), dtype=np.int64)
        act[len(states) - len(acted) :] = acted
        told = self._session.run(None, {"states": states[None], "far": far[None], "act": act[None], "at": at[None],
                                        "slot": np.array([slot])})[0][0]  # fmt: skip
        chance = softmax(told)
        shares: dict[int, list[tuple[int, int, float]]] = {}
        n = 2  # after the shares of "nothing" and of "never named"
        for k in kept:
            shares[k.number] = [(a, b, float(s)) for (a, b), s in zip(k.places, chance[n:], strict=False)]
            n += len(k.places)
        return Pointed(shares=shares, unnamed=float(chance[1]))


@dataclass(slots=True)
class Pointing:
    """The pointer at work on one line."""

    pointer: Pointer
    lines: Sequence[Line]
    _seen: dict[tuple[Mark, int], Pointed | None] = field(default_factory=dict)

    @property
    def number(self) -> int:
        """The number of the line."""
        return self.lines[-1].number

    def toward(self, mark: Mark) -> Pointed | None:
        """What the fasteners or the plug of a mark belong to."""
        return self._point(mark, _HOLDS)

    def meant(self, mark: Mark) -> Pointed | None:
        """What a number or a pronoun of a mark stands for."""
        return self._point(mark, _THING)

    def _point(self, mark: Mark, slot: int) -> Pointed | None:
        if (mark, slot) not in self._seen:
            self._seen[mark, slot] = self.pointer.point(self.lines, mark, slot)
        return self._seen[mark, slot]


@lru_cache(maxsize=1)
def load_pointer() -> Pointer | None:
    """The pointer that is installed, None where there is none. Raises PackError where its file cannot be used."""
    file = models_dir() / "reader" / "pointer.onnx"
    if not file.is_file():
        return None
    try:
        return Pointer(network(file))
    except Exception as error:
        raise PackError(str(file), f"cannot be loaded: {error}", "install its files anew") from error
