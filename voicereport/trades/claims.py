"""The claims of a trade: facts that are no steps ("gloves are on"), found in the words of one clause."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from voicereport.trades.screens import Screen

Polarity = Literal["yes", "no", "unsure"]
_NEVER = r"(?!)"  #: an expression that matches nothing
_KEYS = ("name", "means", "patterns", "denials", "unsure", "look_alikes", "examples", "counter_examples")


@dataclass(frozen=True, kw_only=True, slots=True)
class ClaimRule:
    """How one claim sounds. Expressions run over the lower-cased clause."""

    name: str
    means: str
    patterns: tuple[re.Pattern[str], ...]
    denials: tuple[re.Pattern[str], ...]  #: they say the opposite; tried before `patterns`
    unsure: tuple[re.Pattern[str], ...]  #: they speak to the claim and never assert it; tried first
    look_alikes: tuple[re.Pattern[str], ...]  #: a hit that overlaps one of these is none
    examples: tuple[str, ...]
    counter_examples: tuple[str, ...]
    any: re.Pattern[str] | None = None  #: one expression for all: where it finds nothing, none of them does


@dataclass(frozen=True, kw_only=True, slots=True)
class ClaimHit:
    """A claim that a clause speaks to: characters [start, end) of the text.

    polarity: yes, no (the opposite is said) or unsure (spoken of, never more than unclear).
    """

    claim: str
    start: int
    end: int
    polarity: Polarity
    words: str  #: the words that were matched


def screen_of(claims: Iterable[ClaimRule]) -> Screen:
    """What tells which of the claims a text may speak to at all."""
    return Screen(_NEVER if rule.any is None else rule.any.pattern for rule in claims)


def find_claims(text: str, claims: Sequence[ClaimRule], screen: Screen | None = None) -> tuple[ClaimHit, ...]:
    """The claims that `text`, one clause or sentence, speaks to: one hit for each claim, in text order.

    A hit says what is spoken of. Whether the speaker asserts, plans or asks it is decided elsewhere.
    screen: that of `claims`, so that those the text cannot speak to are not tried; without it all are.
    Example: "gloves are in the van" gives gloves_worn with polarity "no".
    """
    lowered = text.lower().replace("\u2019", "'")
    possible = claims if screen is None else [claims[n] for n in screen.may_match(lowered)]
    hits = [hit for rule in possible if (hit := _hit(lowered, rule)) is not None]
    return tuple(sorted(hits, key=lambda hit: (hit.start, hit.claim)))


def _hit(text: str, rule: ClaimRule) -> ClaimHit | None:
    if rule.any is not None and rule.any.search(text) is None:
        return None
    shadows = [m.span() for pattern in rule.look_alikes for m in pattern.finditer(text)]
    kinds: tuple[tuple[Polarity, tuple[re.Pattern[str], ...]], ...] = (
        ("unsure", rule.unsure), ("no", rule.denials), ("yes", rule.patterns),
    )  # fmt: skip
    for polarity, patterns in kinds:
        for pattern in patterns:
            for match in pattern.finditer(text):
                start, end = match.span()
                if not any(start < b and a < end for a, b in shadows):
                    return ClaimHit(claim=rule.name, start=start, end=end, polarity=polarity, words=match.group())
    return None


def read_claims(data: Mapping[str, Any], file: str, faults: list[str]) -> tuple[ClaimRule, ...]:
    """The claims of one claims.toml. Every fault is added to `faults` with file, claim and what is allowed.

    `[words]` names alternatives: `{glove}` in an expression stands for `(?:...)` of that name.
    """
    unknown = sorted(set(data) - {"include", "words", "claims"})
    if unknown:
        faults.append(f"{file}: unknown {', '.join(unknown)}; allowed: include, words, claims")
    words = {name: f"(?:{value})" for name, value in data.get("words", {}).items()}
    return tuple(_rule(row, words, file, faults) for row in data.get("claims", ()))


def _rule(row: Mapping[str, Any], words: Mapping[str, str], file: str, faults: list[str]) -> ClaimRule:
    where = f"{file}: claim {row.get('name')!r}"
    unknown = sorted(set(row) - set(_KEYS))
    if unknown:
        faults.append(f"{where}: unknown {', '.join(unknown)}; allowed: {', '.join(_KEYS)}")
    for key in ("name", "means", "patterns"):
        if not row.get(key):
            faults.append(f"{where}: needs {key}")
    for key in ("examples", "counter_examples"):
        if len(row.get(key, ())) < 3:
            faults.append(f"{where}: needs at least 3 {key}")

    def compiled(key: str) -> tuple[re.Pattern[str], ...]:
        found = []
        for source in row.get(key, ()):
            try:
                found.append(re.compile(_filled(source, words)))
            except (re.error, KeyError) as error:
                faults.append(f"{where}: {key}: {source!r}: {error}")
        return tuple(found)

    spoken = [p.pattern for key in ("patterns", "denials", "unsure") for p in compiled(key)]
    return ClaimRule(
        any=re.compile("|".join(f"(?:{p})" for p in spoken)) if spoken else None,
        name=str(row.get("name")), means=str(row.get("means", "")), patterns=compiled("patterns"),
        denials=compiled("denials"), unsure=compiled("unsure"), look_alikes=compiled("look_alikes"),
        examples=tuple(row.get("examples", ())), counter_examples=tuple(row.get("counter_examples", ())),
    )  # fmt: skip


def _filled(source: str, words: Mapping[str, str]) -> str:
    """`source` with every {name} of `words` put in; counts such as {2,5} stay."""
    return re.sub(r"\{([a-z_]+)\}", lambda m: _filled(words[m.group(1)], words), source)
