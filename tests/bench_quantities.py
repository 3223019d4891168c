"""Generated spoken quantities through the number grammar: what was wrong, what was left unread, how fast.

    python tests/bench_quantities.py [COUNT] [SEED]

COUNT (10,000) quantities by num2words and as many by the spell-out rules of CLDR, where PyICU is installed. The exit
status is 1 where one is wrong, 2 % or more are left unread, or fewer than 1,000 a second are read.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from importlib.util import find_spec

from spoken_quantities import Spell, Spoken, by_cldr, by_num2words, many

from voicereport.wording.quantities import Quantity, find_quantities


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """What came of one generator's quantities."""

    of: int
    wrong: tuple[str, ...]
    unread: tuple[str, ...]
    seconds: float

    @property
    def good(self) -> bool:
        return not self.wrong and len(self.unread) < 0.02 * self.of and self.of >= 1000 * self.seconds


def right(found: tuple[Quantity, ...], spoken: Spoken) -> bool:
    """Whether one quantity was found, with the value, unit, qualifier and decimals that were spoken."""
    if len(found) != 1:
        return False
    q = found[0]
    near = q.value is not None and abs(q.value - spoken.value) <= 1e-9 * max(1.0, abs(spoken.value))
    return near and (q.value_high, q.unit, q.qualifier, q.decimals) == (
        spoken.high, spoken.unit, spoken.qualifier, spoken.decimals)  # fmt: skip


def run(spell: Spell, count: int, seed: int) -> Outcome:
    """`count` quantities by one generator."""
    generated = [(spoken, spoken.words.split()) for spoken in many(count, spell, seed=seed)]
    start = time.perf_counter()
    found = [find_quantities(words) for _, words in generated]
    seconds = time.perf_counter() - start
    pairs = [(spoken, answer) for (spoken, _), answer in zip(generated, found, strict=True)]
    return Outcome(
        of=count, seconds=seconds,
        wrong=tuple(spoken.words for spoken, answer in pairs if answer and not right(answer, spoken)),
        unread=tuple(spoken.words for spoken, answer in pairs if not answer),
    )  # fmt: skip


def main() -> int:
    """Both generators, one line each, then what was wrong or left unread."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    generators = {"num2words": by_num2words} | ({"CLDR": by_cldr} if find_spec("icu") else {})
    outcomes = {name: run(spell, count, seed) for name, spell in generators.items()}
    for name, outcome in outcomes.items():
        share, speed = 100 * len(outcome.unread) / outcome.of, outcome.of / outcome.seconds
        print(f"{name}: {outcome.of} spoken, {len(outcome.wrong)} wrong, {len(outcome.unread)} left unread", end=" ")
        print(f"({share:.2f} %), {speed:.0f} a second")
        for kind, rows in (("wrong", outcome.wrong), ("unread", outcome.unread)):
            for words in rows:
                print(f"  {kind}: {words}")
    return 0 if all(outcome.good for outcome in outcomes.values()) else 1


if __name__ == "__main__":
    sys.exit(main())
