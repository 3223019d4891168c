"""What a recogniser writes for the words of a trade, and when a word may be repaired; read from mishearings.toml."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

_SOUND = ("probability", "letters", "score", "alone", "unit", "lead")
_KEYS = ("include", "sound", "protected", "shortened", "units", "counts", "mishearings")
_SHORTENED = ("things", "then", "opens", "bars")


@dataclass(frozen=True, kw_only=True, slots=True)
class Mishearing:
    """A listed mishearing. Words are lower case."""

    heard: tuple[str, ...]
    meant: tuple[str, ...]
    near: frozenset[str]  #: one of these must stand near it; empty = nothing needed


@dataclass(frozen=True, kw_only=True, slots=True)
class Sound:
    """When a doubtful word may be repaired by its sound; likeness and probability are 0..1."""

    probability: float  #: only words below this
    letters: int  #: only words of the trade with at least so many
    score: float  #: least likeness where a neighbour makes it a name of the trade
    alone: float  #: least likeness after an article
    unit: float  #: least likeness of what stands for a unit after a number
    lead: float  #: how far the best must be ahead of the next
    articles: frozenset[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Counts:
    """When a word stands for a small count: "vore screws out", "all for screws"."""

    heard: Mapping[str, str]  #: what is written, and the count
    after: frozenset[str]  #: what may stand before it, beside the beginning of a clause
    then: frozenset[str]  #: what may follow the fasteners, beside the end of a clause


@dataclass(frozen=True, kw_only=True, slots=True)
class Shortened:
    """When a plural stands for a thing and a short "is", which sound the same: "covers off", "cover's off"."""

    things: frozenset[str]  #: nouns, singular, that name something an appliance has once
    then: frozenset[str]  #: what must follow
    opens: frozenset[str]  #: after these a clause begins, as after punctuation
    bars: frozenset[str]  #: where one of these stands between the beginning and the noun, a plural is meant


@dataclass(frozen=True, kw_only=True, slots=True)
class Repairs:
    """All that a trade says about the repair of its words."""

    listed: tuple[Mishearing, ...] = ()
    sound: Sound | None = None  #: None = nothing is repaired by sound
    shortened: Shortened | None = None  #: None = no plural is taken for a short "is"
    counts: Counts | None = None  #: None = no word is taken for a count
    units: Mapping[str, str] = field(default_factory=dict)  #: what is written for a unit after a number, and the unit
    after_decimals: Mapping[str, str] = field(default_factory=dict)  #: the same, only after a number with decimals
    protected: frozenset[str] = frozenset()
    endings: tuple[str, ...] = ()

    def protects(self, word: str) -> bool:
        """Whether a word, lower case and without punctuation, is a denial, an answer or a unit."""
        return word in self.protected or word.endswith(self.endings)


def read_repairs(
    common: Mapping[str, Any], layers: Iterable[Mapping[str, Any]], verbs: Iterable[str], where: str, faults: list[str]
) -> Repairs:
    """The repairs of a trade: `common` for all trades, `layers` its own and those of the packs that it includes.

    `verbs` are the forms that name an act. What is wrong is added to `faults`, each with `where`.
    """
    listing = [common, *layers]
    for data in listing:
        unknown = sorted(set(data) - set(_KEYS))
        if unknown:
            faults.append(f"{where}: unknown {', '.join(unknown)}; allowed: {', '.join(_KEYS)}")
    protected = common.get("protected", {})
    repairs = Repairs(
        sound=_sound(common.get("sound"), where, faults),
        shortened=_shortened(listing, where, faults),
        counts=_counts(listing, where, faults),
        units=_units(listing, frozenset(protected.get("words", ())), where, faults),
        after_decimals={
            w: str(row["meant"])
            for d in listing
            for row in d.get("units", ())
            if "meant" in row
            for w in row.get("after_decimals", ())
        },
        protected=frozenset(protected.get("words", ())),
        endings=tuple(protected.get("endings", ())),
    )
    acts = frozenset(verbs)
    rows = [row for data in listing for row in data.get("mishearings", ())]
    listed = [found for row in rows for found in _rows(row, lambda w: w in acts or repairs.protects(w), where, faults)]
    listed.sort(key=lambda m: -len(m.heard))
    return replace(repairs, listed=tuple(listed))


def _shortened(listing: Iterable[Mapping[str, Any]], where: str, faults: list[str]) -> Shortened | None:
    rows = [data["shortened"] for data in listing if "shortened" in data]
    unknown = sorted({key for row in rows for key in row} - set(_SHORTENED))
    if unknown:
        faults.append(f"{where}: shortened: unknown {', '.join(unknown)}; allowed: {', '.join(_SHORTENED)}")
        return None
    words = {key: frozenset(w for row in rows for w in row.get(key, ())) for key in _SHORTENED}
    return Shortened(**words) if rows else None


def _counts(listing: Iterable[Mapping[str, Any]], where: str, faults: list[str]) -> Counts | None:
    rows = [row for data in listing if "counts" in data for row in [data["counts"]]]
    strange = sorted({key for row in rows for key in row} - {"heard", "after", "then"})
    if strange:
        faults.append(f"{where}: counts: unknown {', '.join(strange)}; allowed: heard, after, then")
        return None
    heard = {str(w): str(count) for row in rows for count, ws in row.get("heard", {}).items() for w in ws}
    if not rows:
        return None
    return Counts(
        heard=heard,
        after=frozenset(w for row in rows for w in row.get("after", ())),
        then=frozenset(w for row in rows for w in row.get("then", ())),
    )


def _units(
    listing: Iterable[Mapping[str, Any]], protected: frozenset[str], where: str, faults: list[str]
) -> dict[str, str]:
    """What is written for units, and the units. A unit that is not protected, or written for another, is a fault."""
    found: dict[str, str] = {}
    for row in (row for data in listing for row in data.get("units", ())):
        meant = str(row.get("meant", ""))
        wrong = sorted({meant} - protected) + sorted(set(row.get("heard", ())) & protected)
        if wrong:
            faults.append(
                f"{where}: units: {', '.join(map(repr, wrong))} must be a protected word as `meant`, none as `heard`"
            )
        found |= dict.fromkeys((*row.get("heard", ()), meant), meant)
    return found


def _sound(row: Mapping[str, Any] | None, where: str, faults: list[str]) -> Sound | None:
    if row is None:
        return None
    wrong = [key for key in _SOUND if not isinstance(row.get(key), int | float)]
    if wrong:
        faults.append(f"{where}: sound needs a number for {', '.join(wrong)}")
        return None
    return Sound(
        probability=row["probability"],
        letters=row["letters"],
        score=row["score"],
        alone=row["alone"],
        unit=row["unit"],
        lead=row["lead"],
        articles=frozenset(row.get("articles", ())),
    )


def _rows(row: Mapping[str, Any], kept: Callable[[str], bool], where: str, faults: list[str]) -> list[Mishearing]:
    """The mishearings of one row. A row that would take away or put in a verb, a denial or a unit is a fault."""
    meant = tuple(str(row.get("meant", "")).split())
    found = []
    for spelling in row.get("heard", ()):
        heard = tuple(str(spelling).split())
        changed = sorted(w for w in set(heard) ^ set(meant) if kept(w))
        if changed:
            faults.append(f"{where}: {spelling!r} → {row.get('meant')!r}: may not change {', '.join(changed)}")
        elif heard and meant:
            found.append(Mishearing(heard=heard, meant=meant, near=frozenset(row.get("near", ()))))
    if not found and not faults:
        faults.append(f"{where}: a mishearing needs `heard` and `meant`: {dict(row)!r}")
    return found
