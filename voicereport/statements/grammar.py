"""The closed classes of English in models/trades/common/grammar.toml, loaded once."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache

from voicereport.paths import models_dir


@dataclass(frozen=True, kw_only=True, slots=True)
class Grammar:
    """Word lists and expressions; what each is for stands in the file."""

    words: dict[str, frozenset[str]]
    patterns: dict[str, re.Pattern[str]]

    def __contains__(self, key: tuple[str, str]) -> bool:
        return key[1] in self.words[key[0]]


_PATTERNS = (
    "so_is",
    "beyond",
    "broken_off",
    "experience",
    "earth_pins",
    "found",
    "on_arrival",
    "came_to",
    "then_now",
    "left",
    "no_reading",
    "steady",
    "tells_it",
    "to_others",
    "aside",
    "to_mass",
    "across",
    "relative",
    "set_to",
    "same_reading",
    "revalues",
    "revalued",
    "quoted",
    "pins",
    "of_warmth",
    "electrical",
    "limit",
    "waits",
    "earth",
    "recount",
    "total",
    "in_all",
    "water_runs",
    "left_over",
    "habit",
    "insulation",
    "nitrogen",
    "temperature",
    "labour",
    "identifies",
    "metered",
    "sealed",
    "counsel",
    "count_anew",
    "excepted",
    "put_aside",
    "wire_places",
    "all_of_them",
    "tally",
    "sums_up",
    "all_things",
    "leaves_out",
    "short_context",
    "lies_there",
    "one_more",
    "breakers",
    "by_number",
    "no_breaker",
    "where_it_is",
    "same_again",
    "describes",
    "only_counted",
    "visit_begins",
    "spoiled",
    "of_a_sort",
    "takes_back",
    "announces",
    "sources",
    "recap",
    "qualifies",
    "excepts",
    "saying",
    "in_transit",
    "denies_it",
    "inverted",
    "swapped",
    "eased",
    "corrects",
    "put_right",
    "brazed_in",
    "undeceives",
    "says_so",
    "apiece",
    "all_but",
    "and_ones",
    "ones",
    "sides_each",
    "things_each",
    "how_many_things",
    "nth_moved",
    "nth_absent",
    "the_other",
    "the_lot",
    "the_rest",
)


@lru_cache(maxsize=1)
def grammar() -> Grammar:
    """The grammar, read once."""
    data = tomllib.loads((models_dir() / "trades" / "common" / "grammar.toml").read_text(encoding="utf-8"))
    data["aside"] = [p.replace("<value>", data["value"]) for p in data["aside"]]
    return Grammar(
        words={k: frozenset(v) for k, v in data.items() if k not in _PATTERNS and k != "value"},
        patterns={k: re.compile("|".join(f"(?:{p})" for p in data[k])) for k in _PATTERNS},
    )
