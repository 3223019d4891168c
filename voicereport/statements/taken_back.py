"""What a later line takes back of an assertion: "Water's off." "That's the garden tap I turned." """

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, replace

from voicereport.statements.grammar import grammar
from voicereport.statements.keys import Key, Keys, fell_since
from voicereport.statements.reader import Marked, Reader
from voicereport.statements.values import Act, ClaimSaid
from voicereport.transcript import Segment, span

_SURE = 0.9  #: a line asserts a check from this chance on
_JOINED = 0.5  #: read as one with the next line, it must keep this chance
_DENIED = 0.95  #: a next line that speaks of the check with this chance and asserts nothing ...
_PLAINLY = 0.98  #: from this chance on it doubts a check that is met by claims, whatever the two come to
_DOUBTED = 0.9  #: ... leaves the two, read as one, with less than this
_SPOKEN = 0.2  #: from this chance on a line that shows it was otherwise speaks of the check
_UNSPOKEN = 0.05  #: under this chance a line speaks of no check at all
_SOON = 3  #: so many lines on, "no, the lamp" still answers it
_BELIED = 2  #: within so many lines, what is told can show that it was not so
_LINES = 8  #: so many lines on, an assertion can be taken back in words that speak of its check


@dataclass(frozen=True, kw_only=True, slots=True)
class Asserted:
    """An assertion of one check in a line, and the steps that it was heard as."""

    key: Key
    line: str
    visit: int
    acts: tuple[Act, ...]
    lines: int = 0  #: how many lines were said since


def asserted(line: str, marked: Marked, acts: Sequence[Act], visit: int, keys: Keys) -> list[Asserted]:
    """What the line asserts of the checks that need the second key; acts: of the line."""
    out = []
    for key in keys.keys:
        if (key.acts or key.claims) and marked.asserts.get(key.check, 0.0) >= min(_SURE, max(key.least, 0.5)):
            own = tuple(a for a in acts if a.status == "done" and keys.of_act(a.action, a.part) is key)
            out.append(Asserted(key=key, line=line, visit=visit, acts=own))
    return out


def taken_back(
    before: Sequence[Asserted],
    line: str,
    marked: Marked,
    acts: Sequence[Act],
    reader: Reader,
    denied: Container[str] = (),
) -> tuple[list[Asserted], list[Asserted]]:
    """What of `before` the line takes back, and what stands.

    acts: of the line. denied: checks of which it denies a claim.

    A line in which something else is done, asserted or measured takes nothing back: what undoes a check is a step of
    its own. The next line does where the two, read as one, assert the check no more; a later one only where it speaks
    of the check besides.
    """
    gone: list[Asserted] = []
    stands: list[Asserted] = []
    busy = any(a.status in {"done", "narrated"} for a in acts) or max(marked.asserts.values(), default=0.0) >= _SURE
    text = line.lower().replace("'", "’")
    shown = _undeceived(before, text, marked)
    if _is_to_others(text, marked):
        return [], [replace(one, lines=one.lines + 1) for one in before if one.lines + 1 < _LINES]
    for one in before:
        if one.key.check in denied or any(_denies(act, one) for act in acts):
            continue  # the denial is a step or claim of its own
        chance = marked.asserts.get(one.key.check, 0.0)
        qualified = not busy and not one.lines and grammar().patterns["qualifies"].search(text) is not None
        belied = one in shown or (one.lines < _BELIED and _is_belied(one, text, acts))
        if (qualified and chance < _SURE) or belied:
            gone.append(one)
        elif chance >= 0.5:
            stands += [replace(one, lines=1)] if chance < _SURE else []  # said again, so the line asserts it itself
        elif _outright(one, text, marked) or (not busy and _takes(one, line, text, marked, reader)):
            gone.append(one)
        elif one.lines + 1 < _LINES:
            stands.append(replace(one, lines=one.lines + 1))
    return gone, stands


def _undeceived(before: Sequence[Asserted], text: str, marked: Marked) -> list[Asserted]:
    """What a line shows to have been otherwise, whatever else is done in it: "that isolator's for next door's unit".

    Of the assertions that speak of the same, or else the last one.
    """
    patterns = grammar().patterns
    if before and not before[-1].lines and patterns["says_so"].search(text):
        return [one for one in before if not one.lines]
    if patterns["undeceives"].search(text) is None:
        return []
    same = [
        one
        for one in before
        if marked.denies.get(one.key.check, 0.0) >= _SPOKEN or any(p.search(text) for p in one.key.about)
    ]
    return same or list(before[-1:])


def _is_to_others(text: str, marked: Marked) -> bool:
    """Whether a line answers somebody and speaks of no check: "Sorry? No, take the ladder, it's fine."."""
    spoken = max([*marked.asserts.values(), *marked.denies.values()], default=0.0)
    return spoken < _UNSPOKEN and grammar().patterns["to_others"].search(text) is not None


def _denies(act: Act, one: Asserted) -> bool:
    return act.status == "not_done" and any((a.action, a.part) == (act.action, act.part) for a in one.acts)


def _is_belied(one: Asserted, text: str, acts: Sequence[Act]) -> bool:
    """Whether the words of the next line show that it was not so, and no step of it has changed that."""
    given_back = [a for a in acts if a.action in {"restore_power", "open"} and a.status == "done"]
    restored = any(f"isolate {a.part}" in one.key.acts for a in given_back)
    if restored:
        return False
    fallen = one.key.falls and fell_since(one.line, text)
    return fallen or (one.key.belied is not None and one.key.belied.search(text) is not None)


def _outright(one: Asserted, text: str, marked: Marked) -> bool:
    """Whether one of the next lines begins with a denial and speaks of the check, whatever else is done in it."""
    spoken = marked.denies.get(one.key.check, 0.0)
    return one.lines < _SOON and spoken >= _DENIED and grammar().patterns["denies_it"].search(text) is not None


def _takes(one: Asserted, line: str, text: str, marked: Marked, reader: Reader) -> bool:
    """Whether a line takes an assertion back; text: the line as expressions read it."""
    patterns = grammar().patterns
    if not one.lines and one.key.several and patterns["excepts"].search(text):
        return True
    spoken = marked.denies.get(one.key.check, 0.0)
    denied = spoken >= _DENIED
    later = one.lines and not denied and not (one.key.claims and spoken >= _DOUBTED)
    if line.rstrip().endswith("?") or later or (marked.values and spoken < _JOINED):
        return False
    if denied and one.lines <= 1 and patterns["takes_back"].search(text):
        return True
    if one.key.claims and spoken >= _PLAINLY and not marked.values:
        return True
    joined = reader.read(f"{one.line} {line}").asserts.get(one.key.check, 0.0)
    doubting = one.key.claims and spoken >= _DOUBTED and not marked.values
    return joined < (_DOUBTED if doubting or (denied and not one.lines) else _JOINED)


def doubts(gone: Sequence[Asserted], segment: Segment) -> tuple[list[Act], list[ClaimSaid]]:
    """The same said once more, in the words of the segment that takes it back, and unclear."""
    whole = span(segment, 0, len(segment.words))
    acts = [replace(a, status="unclear", span=whole, count=None) for one in gone for a in one.acts]
    claims = [
        ClaimSaid(claim=claim, about=None, status="unclear", span=whole, visit=one.visit)
        for one in gone
        for claim in sorted(one.key.claims)
    ]
    return acts, claims
