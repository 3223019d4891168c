"""One thing of the ledger while the statements are walked through."""

from __future__ import annotations

from dataclasses import dataclass, field

from voicereport.assembly.evidence import Place
from voicereport.report import ItemKind
from voicereport.transcript import Span


@dataclass(kw_only=True, slots=True)
class Entry:
    """What came off under one name, and what went back. Changes only while the ledger is made."""

    part: str
    kind: ItemKind
    holds: str | None = None
    out: float = 0
    back: float = 0
    unknown: bool = False  #: it came off in a number that nobody said
    lost: float = 0  #: how many are said never to go back
    explained: str | None = None
    denied: bool = False
    renewed: bool = False
    turn: float = 0  #: when it last came off; greater is later
    place: Place = (0, 0)
    sites: list[str] = field(default_factory=list)  #: what it came off, as far as that was said
    out_spans: list[Span] = field(default_factory=list)
    in_spans: list[Span] = field(default_factory=list)
    ones: dict[tuple[str, ...], str] = field(default_factory=dict)  #: names of single ones that went back: the line

    @property
    def off(self) -> bool:
        """Whether something of it is out."""
        return self.unknown or self.back < self.out

    @property
    def left(self) -> float:
        """How many a statement without a number puts back; lost ones never are."""
        return max(0.0, self.out - self.back - self.lost)

    def take(self, count: float | None, plural: bool, span: Span) -> None:
        """It came off: `count` of them; without a number one, or an unknown number where the words are plural."""
        self.out_spans.append(span)
        self.denied = False
        if count is not None:
            self.out += count
        elif plural:
            self.unknown = True
        else:
            self.out += 1

    def put(self, count: float | None, span: Span, *, renewed: bool = False) -> None:
        """It went back: `count` of them; without a number all that are out."""
        self.in_spans.append(span)
        self.denied = False
        if self.unknown:
            self.back += count if count is not None else max(1.0, self.left)
            self.out = max(self.out, self.back)
            self.unknown = False
        else:
            self.back += self.left if count is None else count
        self.renewed = renewed

    def put_one(self, key: tuple[str, ...], count: float | None, span: Span) -> None:
        """One of several, or `count`, went back under a name of its own, whose words are `key`."""
        self.ones[key] = span.segment
        self.put(count or 1, span)

    def again(self, key: tuple[str, ...], span: Span) -> bool:
        """Whether the one of that name went back in another line: it is said again, and no second one went."""
        return key in self.ones and self.ones[key] != span.segment

    def deny(self, count: float | None, span: Span) -> None:
        """It was said not to be back: what was out stays out, what was said to be back no longer is."""
        self.denied = True
        self.out_spans.append(span)
        if not self.off:
            self.back = max(0.0, self.back - (count or self.back))
        if not self.off:
            self.out = self.back + (count or 1)

    def settle(self) -> None:
        """At the end an unknown number that never went back counts as one."""
        if self.unknown:
            self.out, self.unknown = max(self.out, self.back + 1), False
