"""Parts that were fitted new."""

from __future__ import annotations

from collections.abc import Iterable

from voicereport.assembly.evidence import Places, evidence
from voicereport.assembly.names import Names
from voicereport.report import PartUsed
from voicereport.statements.holding import alike
from voicereport.statements.values import Act, Fitted, Statements
from voicereport.trades.words import Words
from voicereport.transcript import Transcript


def make_parts(statements: Statements, transcript: Transcript, words: Words, names: Names) -> tuple[PartUsed, ...]:
    """What was fitted new, in the order of speech: by acts that are done, and by numbers that were read out.

    Who narrates in the imperative and reads out the number of the part has it in hand.

    A number read out for a part belongs to the act that fitted it, or to the next that fits it. The same part without
    another number and without a count of its own is one part, said twice. A quantity that was not said is 1, or None
    where the words are plural.
    """
    places = Places(transcript)
    told = [a for a in statements.acts if a.action == "replace"]
    acts = [a for a in told if a.status == "done" or (a.status == "narrated" and a.part_number is not None)]
    used: list[PartUsed] = []
    both: list[Act | Fitted] = [*acts, *statements.fitted]
    at_hand = list(statements.at_hand)
    for said in sorted(both, key=lambda s: (places.of(s.span), isinstance(s, Fitted))):
        row = _of_act(said) if isinstance(said, Act) else _of_number(said)
        before = [f for f in at_hand if places.of(f.span) < places.of(said.span)]
        ready = next((f for f in reversed(before) if _is_of(f.part, row, words, names)), None)
        if ready is not None:
            at_hand.remove(ready)
            row = _merged(row, _of_number(ready), ready)
        at = _same(used, row, words, names, merge=isinstance(said, Fitted) or said.kind != "fastener")
        if at is None:
            used.append(row)
        else:
            used[at] = _merged(used[at], row, said)
    return tuple(used)


def _of_act(act: Act) -> PartUsed:
    quantity = act.count if act.count is not None else None if act.plural else 1
    return PartUsed(part=act.part, part_number=act.part_number, quantity=quantity, evidence=(evidence(act.span),))


def _of_number(said: Fitted) -> PartUsed:
    quantity = 1 if said.quantity is None else said.quantity
    return PartUsed(part=said.part, part_number=said.part_number, quantity=quantity, evidence=(evidence(said.span),))


def _is_of(part: str, row: PartUsed, words: Words, names: Names) -> bool:
    """Whether the number of the new `part` is that of `row`, which has none."""
    named = alike(part, row.part) or names.likeness(part, row.part, words.kind_of(row.part)) >= 2
    return named and row.part_number is None


def _same(used: Iterable[PartUsed], row: PartUsed, words: Words, names: Names, *, merge: bool) -> int | None:
    """The index of the row that says the same part, or None. Two different numbers are two parts."""
    found = None
    for n, other in enumerate(used):
        alike = names.likeness(other.part, row.part, words.kind_of(row.part)) >= 2
        clash = None not in (other.part_number, row.part_number) and other.part_number != row.part_number
        if merge and alike and not clash:
            found = n
    return found


def _merged(old: PartUsed, new: PartUsed, said: Act | Fitted) -> PartUsed:
    counted = said.count if isinstance(said, Act) else said.quantity
    return PartUsed(
        part=max(old.part, new.part, key=len),
        part_number=old.part_number or new.part_number,
        quantity=old.quantity if counted is None else counted,
        evidence=tuple(dict.fromkeys((*old.evidence, *new.evidence))),
    )
