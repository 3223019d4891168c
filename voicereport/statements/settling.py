"""What the acts of a sentence come to: recaps, exceptions, things put aside, counts said aloud, whose a plug is."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType

from voicereport.report import Action
from voicereport.statements.acts import Memory, still_off
from voicereport.statements.descriptions import is_described
from voicereport.statements.grammar import grammar
from voicereport.statements.holding import alike
from voicereport.statements.names import Name, names_in
from voicereport.statements.naming import THINGS_OF, completed, meant
from voicereport.statements.placing import Placed, unmarked
from voicereport.statements.tokens import Clause, Sentence, Token, whole_of
from voicereport.statements.values import MOVED, Act
from voicereport.trades.words import Words, singular
from voicereport.wording.numbers import find_numbers

OUTWARD = frozenset({"remove", "disconnect", "peel", "open", "cut"})
INWARD = frozenset({"refit", "replace", "reconnect", "reseal", "close"})

#: what is done to the plug of a part by words that would isolate the appliance
PLUGGED: dict[str, Action] = {"isolate": "disconnect", "restore_power": "reconnect"}

Found = list[tuple[Act, Placed]]

_LED = frozenset({"connector", "wiring", "tube"})  #: what is led from one place to another

_OWNS = 0.6  #: the share of the chance from which on a plug is the part's that is pointed at


def plugs_another(clause: Clause, words: Words) -> bool:
    """True where a clause tells of the plug of a thing that is not the appliance of the job.

    "There's the dishwasher plugged back in for her" gives nothing its supply; "plugged it in beside the dishwasher"
    and "the kettle's off, plugged the fridge in" do.
    """
    return _plugged_there(words.others).search(clause.text) is not None


@lru_cache(maxsize=8)
def _plugged_there(others: frozenset[str]) -> re.Pattern[str]:
    """The expressions of the grammar, with every thing that may be plugged in beside the appliance put into them."""
    told = grammar().words
    named = "|".join(re.escape(o) for o in sorted(others | told["household"]))
    return re.compile("|".join(p.replace("<other>", named) for p in sorted(told["plugged_there"])))


def settled(sentence: Sentence, found: Found, words: Words, memory: Memory) -> Found:
    """The acts of a sentence, `found`, set right by its other words and by what went before."""
    names = names_in(whole_of(sentence), words)
    found = [(_not_supply(a, m, sentence, words), m) for a, m in found]
    found = [_excepted(act, mark, sentence) for act, mark in found]
    found = [(_all_but_one(a, m, sentence, found), m) for a, m in found]
    found = [(_tested(a, sentence, words, memory), m) for a, m in found]
    found = [(a, m) for a, m in found if not _water_runs(a, m, sentence) and not _locked(a, m, sentence)]
    found = [(a, m) for a, m in found if not _put_aside(a, m, sentence) and not _described(a, m, sentence)
             and not _only_read(a, m, sentence, words) and not is_described(a, m, sentence)]  # fmt: skip
    found = [(a, m) for a, m in found if not _comes_away(a, m, found) and not _where_it_is(a, sentence, memory)]
    found = [(a, m) for a, m in found if not _outcome(a, m, sentence, found, memory)]
    found = _leaks_once([(_searched(a, m, sentence, found, memory), m) for a, m in found], memory)
    found = [(_as_its_part(a, m, sentence, found), m) for a, m in found]
    found = _once(found, [(a if _is_partly_left(a, found) else _counted_aloud(a, sentence), m) for a, m in found])
    found = [(_freed(a, m, sentence), m) for a, m in found]
    found += _with_its_part(sentence, found, words)
    found += _all_of_them(sentence, found, names, memory)
    found += _all_but(sentence, found)
    found += _so_is(sentence, found, names, memory, words)
    again = _same_again(sentence, names, memory)
    if again and (len(sentence.tokens) <= 4 or not any(m.things for _, m in found)):
        found = again
    return [(a, m) for a, m in found if not _told_again(a, m, sentence, memory)]


def _excepted(act: Act, mark: Placed, sentence: Sentence) -> tuple[Act, Placed]:
    """ "All back in, bar the top shelf": what stands after such a word is not back."""
    if act.action not in INWARD or act.status not in MOVED or not mark.things:
        return act, mark
    before = " ".join(t.text for t in sentence.tokens[: mark.things[-1][0]])
    if grammar().patterns["excepted"].search(before) is None or mark.first > mark.things[-1][0]:
        return act, mark
    return replace(act, status="not_done"), mark


def _all_but_one(act: Act, mark: Placed, sentence: Sentence, found: Found) -> Act:
    """ "All the plugs are on bar the little white one": which is not on was not understood, so none surely is."""
    if act.kind not in {"connector", "wiring", "tube", "seal"} or act.action not in INWARD or act.status not in MOVED:
        return act
    after = " ".join(t.text for t in sentence.tokens[mark.last :])
    if not act.plural or any(a.status == "not_done" for a, _ in found):
        return act
    return replace(act, status="unclear") if grammar().patterns["leaves_out"].search(after) else act


def names_supply(clause: Clause, words: Words) -> bool:
    """Whether a clause says that the supply or the appliance is meant: "unplugged it at the wall"."""
    supply = next((s for s in words.supplies if s.name == "power supply"), None)
    said = f" {' '.join(singular(t.text) for t in clause.tokens)} "
    own = (supply.words | supply.bare if supply else frozenset()) | words.appliances | grammar().words["at_the_wall"]
    return any(f" {w} " in said for w in own)


def _not_supply(act: Act, mark: Placed, sentence: Sentence, words: Words) -> Act:
    """ "I've unplugged the fan" frees a connector; it isolates nothing."""
    if act.action not in {"isolate", "restore_power"} or act.part != "power supply" or not mark.things:
        return act
    first, last = mark.things[-1]
    names = [n for n in names_in(whole_of(sentence), words) if n.first < last and first < n.last]
    if (
        not names
        or names[-1].part in words.appliances
        or any(names[-1].part in s.words | s.bare for s in words.supplies)
    ):
        return act
    name = names[-1]
    if not words.classes_of(name.part) & grammar().words["powered"] or name.kind != "part":
        return act
    action: Action = "disconnect" if act.action == "isolate" else "reconnect"
    return replace(act, action=action, part=f"{name.part.removesuffix(' motor')} connector", kind="connector")


def _tested(act: Act, sentence: Sentence, words: Words, memory: Memory) -> Act:
    """What ran: a harvest is the ice maker's; a compressor that starts is the appliance that runs."""
    if act.action != "run_test":
        return act
    for made in grammar().words["made_by"]:
        word, _, part = made.partition("=")
        if word in {singular(t.text) for t in sentence.tokens} and part in memory.named[-80:]:
            return replace(act, part=part, kind="part")
    return replace(act, part="appliance", kind="part") if act.part.split()[-1] in grammar().words["runs_all"] else act


def _all_but(sentence: Sentence, found: Found) -> Found:
    """Everything that is back where something is excepted, in words of which only the exception was marked."""
    denied = [(a, m) for a, m in found if a.status == "not_done" and a.action in INWARD]
    if not denied or len(denied) < len(found) or grammar().patterns["all_things"].search(sentence.text) is None:
        return []
    act, mark = denied[0]
    if grammar().patterns["leaves_out"].search(sentence.text) is None:
        return []
    return [(replace(act, action="refit", part="everything", kind="part", status="done", count=None, plural=True,
                     holds=None), mark)]  # fmt: skip


def without_named(act: Act, acts: Sequence[Act], told: Sequence[Sentence]) -> Act:
    """A total of connectors less those that it sums up: "brown's on, blue's on, so three wires are on".

    acts: of the line; told: its sentences.
    """
    if act.action not in {"disconnect", "reconnect"} or act.count is None or act.status not in MOVED:
        return act
    own = next((s for s in told if s.begins(act.span)), None)
    sums = own is not None and {"so", "makes", "making"} & {t.text for t in own.tokens}
    before = [a for a in acts[: acts.index(act)] if (a.action, a.status) == (act.action, act.status) and a.count is None
              and (a.span == act.span or sums)]  # fmt: skip
    return replace(act, count=act.count - len(before)) if 0 < len(before) < act.count else act


def is_named_apart(act: Act, acts: Sequence[Act]) -> bool:
    """Whether an act is of "two plugs", and the acts of its line, `acts`, name each of the two, too.

    A connector that is named by its noun alone gives way to as many of the same act that are named in full; so does one
    whose number is not said.
    """
    if act.kind not in {"connector", "wiring"} or len(act.part.split()) > 1 or act.status not in MOVED:
        return False
    named = sum(
        a.count or 1
        for a in acts
        if (a.kind, a.action, a.status) == (act.kind, act.action, act.status) and len(a.part.split()) > 1
    )
    return named > 1 and (act.plural if act.count is None else act.count == named)


def tallied(sentence: Sentence, memory: Memory) -> bool:
    """True of a sentence that only counts once more what was said before."""
    return grammar().patterns["tally"].search(sentence.text) is not None and any(
        a.kind == "fastener" and a.status in MOVED for a in memory.acts
    )


def _locked(act: Act, mark: Placed, sentence: Sentence) -> bool:
    """ "It's locked out": a lock on the supply takes nothing off."""
    said = {t.text for t in sentence.tokens[max(0, mark.first - 1) : mark.last]}
    return act.action in {"remove", "disconnect"} and bool(said & grammar().words["locks"])


def _water_runs(act: Act, mark: Placed, sentence: Sentence) -> bool:
    """ "The water ran down the drain": nothing was run to test it."""
    said = " ".join(t.text for t in sentence.tokens[max(0, mark.first - 2) : mark.last])
    return act.action == "run_test" and grammar().patterns["water_runs"].search(said) is not None


def _up_to_a_new_subject(sentence: Sentence, first: int) -> list[Token]:
    """The tokens from `first` to a pause after which something else is spoken of: "…, the broken one's in the bin"."""
    tokens = list(sentence.tokens[first:])
    for n, token in enumerate(tokens):
        follows = {t.text for t in tokens[n + 1 : n + 5]}
        if token.mark and follows & {"’s", "is", "are", "was", "were"} and follows & {"the", "that", "this", "one"}:
            return tokens[: n + 1]
    return tokens


def _put_aside(act: Act, mark: Placed, sentence: Sentence) -> bool:
    """Fasteners put into a tray or a pocket went nowhere that counts, nor did a part that is "in the post"."""
    if act.action in INWARD and grammar().patterns["in_transit"].search(
        " ".join(t.text for t in sentence.tokens[mark.first :])
    ):
        return True
    if act.kind != "fastener" or act.action not in {"refit", "close", "replace"} or act.status not in MOVED:
        return False
    if {"had", "found", "got"} & {t.text for t in sentence.tokens} and act.new:
        return False  # "two new clips, had some in the tin"
    after = " ".join(t.text for t in _up_to_a_new_subject(sentence, mark.first))
    place = grammar().patterns["put_aside"].search(after)
    return place is not None


def _only_read(act: Act, mark: Placed, sentence: Sentence, words: Words) -> bool:
    """ "Meter. Hot to neutral, nothing.": a value is read, and no act is named."""
    if act.action != "measure" or act.status not in MOVED:
        return False
    said = [t.text for t in sentence.tokens[mark.first : mark.last]]
    between = "to" in act.part.split() and words.kind_of(act.part) == "part"
    return between or (said == ["meter"] and len(sentence.tokens) == 1)


def _described(act: Act, mark: Placed, sentence: Sentence) -> bool:
    """ "There's five screws in the cover", "the third one, stripped out": what is where or how, and nothing done."""
    lead = sentence.tokens[max(0, mark.first - 2) : mark.first]
    told = sentence.tokens[mark.first].text in {"came", "come", "comes", "went", "was", "were", "is", "are"}
    if told and act.action in OUTWARD and len(lead) == 2 and lead[1].text in {"that", "which"} and not lead[0].mark:
        return lead[0].text not in grammar().words["splits"]  # "the two that came off the fan are in again"
    spoilt = mark.first > 0 and sentence.tokens[mark.first - 1].text in grammar().words["spoilt"]
    if act.kind == "fastener" and act.action == "remove" and spoilt:
        return True
    if act.kind != "fastener" or act.action != "refit" or mark.last - mark.first != 1:
        return False
    tokens = sentence.tokens
    follows = tokens[mark.last].text if mark.last < len(tokens) else ""
    if tokens[mark.first].text not in {"in", "on"} or follows not in {"the", "that", "this", "each", "its", "top"}:
        return False
    before = " ".join(t.text for t in tokens[: mark.first])
    return grammar().patterns["describes"].search(before) is not None


def _comes_away(act: Act, mark: Placed, found: Found) -> bool:
    """ "I've peeled the foam and it's come away in one piece": it came off once."""
    return act.action == "remove" and any(
        a.action == "peel" and (a.part, a.status) == (act.part, act.status) and m.first < mark.first for a, m in found
    )


def _where_it_is(act: Act, sentence: Sentence, memory: Memory) -> bool:
    """ "Brown's on terminal three", before anything came apart: where it is, and not that it went back."""
    led = act.action == "reconnect" or (act.action == "refit" and act.kind in _LED)
    same = [a for a in memory.acts if (a.kind == "tube") == (act.kind == "tube")]  # a plug that is out frees no tube
    return led and act.status in MOVED and tells_where(sentence, same)


def _searched(act: Act, mark: Placed, sentence: Sentence, found: Found, memory: Memory) -> Act:
    """A leak test of "it" beside a tool that is held to one place: of what was closed just before in the line.

    "Process tube pinched. Detector round it, clear."
    """
    default = act.action == "leak_test" and act.part == THINGS_OF["leak_test"]
    near = {t.text for t in sentence.tokens[max(0, mark.first - 3) :]}
    if act.action == "leak_test" and _is_whole_test(act, sentence):
        return replace(act, part=THINGS_OF["leak_test"], kind="part", count=None, plural=False)
    if not default or not near & grammar().words["sniffers"] or not near & {"it", "there"}:
        return act
    before = [a for a in memory.acts[-6:] if sentence.segment.id == a.span.segment]
    before += [a for a, m in found if m.first < mark.first and a is not act]
    last = before[-1] if before else None
    return replace(act, part=last.part) if last is not None and last.action == "close" else act


def _leaks_once(found: Found, memory: Memory) -> Found:
    """Without a second leak test of the whole system in one line: nitrogen in it, and then soap on its joints."""
    out: Found = []
    for act, mark in found:
        told = [a for a in memory.acts[-4:] if a.span.segment == act.span.segment] + [a for a, _ in out]
        whole = act.action == "leak_test" and act.part == THINGS_OF["leak_test"]
        if not whole or not any((a.action, a.part, a.status) == (act.action, act.part, act.status) for a in told):
            out.append((act, mark))
    return out


def _is_whole_test(act: Act, sentence: Sentence) -> bool:
    """ "Nitrogen in, soaped every ring, needle hasn't moved": every joint under pressure is the whole system."""
    joints = act.plural or {"every", "each", "all", "both"} & {t.text for t in sentence.tokens}
    pressed = grammar().patterns["nitrogen"].search(sentence.text) is not None
    return act.part.split()[-1] in grammar().words["joints"] and bool(joints) and pressed


def _outcome(act: Act, mark: Placed, sentence: Sentence, found: Found, memory: Memory) -> bool:
    """ "I ran her. Damper did its dance.": what a part did in the run of the appliance is no run of its own.

    Nor is the appliance run once more beside the part that one run is of: "switched it on and ran the damper".
    """
    if act.action != "run_test" or act.status not in MOVED:
        return False
    whole = THINGS_OF["run_test"]
    beside = [a for a, m in found if m is mark and a.action == "run_test" and (a.part == whole) != (act.part == whole)]
    if beside and _is_of_it(mark, sentence):
        after = {t.text for t in sentence.tokens[mark.last : max(f for f, _ in mark.things)]}
        return (act.part == whole) != bool(after & grammar().words["single_pronouns"])
    run = [a for a in memory.acts[-3:] if a.span.segment == act.span.segment]
    run += [a for a, m in found if m.first < mark.first]
    said = {t.text for t in sentence.tokens[mark.first : mark.last]}
    again = any(a.action == "run_test" and a.part == whole and a.status in MOVED for a in run)
    return act.part != whole and again and not said & grammar().words["runs"]


def _is_of_it(mark: Placed, sentence: Sentence) -> bool:
    """Whether one of the things of a mark is no more than a pronoun, which stands for the appliance."""
    single = grammar().words["single_pronouns"]
    return any({t.text for t in sentence.tokens[f:e]} <= single for f, e in mark.things)


def _so_is(sentence: Sentence, found: Found, names: Sequence[Name], memory: Memory, words: Words) -> Found:
    """ "Three out, and so's the motor": the part goes the way of what was told before it."""
    out: Found = []
    for name in names:
        before = " ".join(t.text for t in sentence.tokens[: name.first])
        if not name.known or name.kind == "fastener" or grammar().patterns["so_is"].search(before) is None:
            continue
        part = meant(name, "remove", memory, words).part
        moved = ((a, m) for a, m in found if a.action in OUTWARD | INWARD and a.status in MOVED)
        told = [(a, m) for a, m in moved if m.first < name.first]
        if not told or any(a.part == part or a.part.split()[-1] == part.split()[-1] for a, _ in found):
            continue
        act, mark = told[-1]
        led = name.kind == "connector"
        way: Action = "disconnect" if led else "remove"
        if act.action in INWARD:
            way = "reconnect" if led else "refit"
        gone = replace(act, action=way, part=part, kind=name.kind, count=name.count, plural=name.plural)
        out.append((replace(gone, holds=None, new=False), mark))
    return out


def tells_where(sentence: Sentence, acts: Sequence[Act]) -> bool:
    """True of a sentence that says where wires or tubes lead, of which none came apart in the acts before."""
    if any(a.kind in _LED and a.action in {"disconnect", "remove", "loosen", "cut"} for a in acts):
        return False
    return grammar().patterns["where_it_is"].search(sentence.text) is not None


def _as_its_part(act: Act, mark: Placed, sentence: Sentence, found: Found) -> Act:
    """A fastener that no word of its own takes out or puts in goes the way of the part in its sentence."""
    if act.kind != "fastener" or act.action not in {"remove", "refit"} or act.status not in MOVED:
        return act
    ways = {("out" if a.action in OUTWARD else "in") for a, _ in found
            if a.kind in {"part", "seal"} and a.status in MOVED and a.action in OUTWARD | INWARD}  # fmt: skip
    own = "out" if act.action == "remove" else "in"
    if len(ways) != 1 or own in ways:
        return act
    first = max(0, min([mark.first, *(f for f, _ in mark.things)]) - 1)
    last = max([mark.last, *(e for _, e in mark.things)]) + 2
    near = {t.text for t in sentence.tokens[first:last]}
    if near & grammar().words[f"ways_{own}"]:
        return act
    turned: Action = "refit" if act.action == "remove" else "remove"
    return replace(act, action=turned)


def _once(before: Found, counted: Found) -> Found:
    """Without what came to the same by being counted aloud: "one clip, two clips" are two."""
    out: Found = []
    for (old, _), (act, mark) in zip(before, counted, strict=True):
        if old.count != act.count or any(o.count != a.count for (o, _), (a, _) in zip(before, counted, strict=True)):
            told = (act.action, act.part, act.holds, act.count)
            if any((a.action, a.part, a.holds, a.count) == told for a, _ in out):
                continue
        out.append((act, mark))
    return out


def _is_partly_left(act: Act, found: Found) -> bool:
    """Whether the sentence puts off more of the same: "one screw is in, the second one I'll do later" counts no two."""
    return any((a.part, a.kind) == (act.part, act.kind) and a.status in {"planned", "not_done"} for a, _ in found)


def _counted_aloud(act: Act, sentence: Sentence) -> Act:
    """ "one, two, three, and a fourth": as many as the last of them."""
    if act.kind != "fastener" or act.action not in {"remove", "refit"}:
        return act
    numbers = [n.value for n in find_numbers([t.text + t.mark for t in sentence.tokens])]
    run = 1
    best = 0.0
    for before, value in pairwise(numbers):
        run = run + 1 if value == before + 1 else 1
        if run >= 3 or (run == 2 and before == 1):
            best = value
    ordinals = [n.value for t in sentence.tokens for n in find_numbers([t.text]) if n.style == "ordinal"]
    if best and best + 1 in ordinals:
        best += 1  # "one, two, three, and a fourth"
    if len(numbers) > 2 and numbers[-1] == sum(numbers[:-1]) and act.count in numbers[:-1]:
        return replace(act, count=numbers[-1], plural=True)  # "two up top and two down low, so four out"
    if best and (act.count is None or act.count in numbers) and (act.count or 0) < best:
        return replace(act, count=best, plural=True)
    return act


def _freed(act: Act, mark: Placed, sentence: Sentence) -> Act:
    """A wire taken out of a clip, a channel, a hook is loosened, not unplugged; put back there it is refitted."""
    if act.kind not in {"connector", "wiring"} or act.part.split()[-1] not in grammar().words["wires"]:
        return act
    action = act.action
    if action in {"remove", "disconnect", "peel", "cut", "reconnect", "reseal"}:
        after = " ".join(t.text for t in sentence.tokens[mark.first : mark.last + 8])
        said = {t.text for t in sentence.tokens[mark.first : mark.last]}
        ran = {singular(t.text) for a, b in mark.things for t in sentence.tokens[a:b]}
        freed = said & grammar().words["unclips"] and ran & grammar().words["run_wires"]
        if action in {"peel", "cut"} or freed or grammar().patterns["wire_places"].search(after):
            action = "refit" if action in {"reconnect", "reseal"} else "loosen"
    return replace(act, action=action, kind="wiring") if action in {"loosen", "refit"} else act


def _with_its_part(sentence: Sentence, found: Found, words: Words) -> Found:
    """ "Rear cover, seven screws, off": the cover, too."""
    tokens = sentence.tokens
    out = []
    for act, mark in found:
        if act.kind != "fastener" or act.action != "remove" or not act.holds or not mark.holds or not mark.things:
            continue
        holder, thing = mark.holds[0], mark.things[-1]
        bare = mark.last - mark.first == 1 and tokens[mark.first].text in {"off", "out", "away"}
        parted = mark.first and tokens[mark.first - 1].mark and holder[1] <= thing[0] and tokens[holder[1] - 1].mark
        if bare and parted and not any(a.part == act.holds for a, _ in found):
            out.append((replace(act, part=act.holds, kind=words.kind_of(act.holds), holds=None, count=None,
                                plural=False), mark))  # fmt: skip
    return out


def _same_again(sentence: Sentence, names: Sequence[Name], memory: Memory) -> Found:
    """ "Same again on the right": the last act once more, of what the sentence names or of the other side."""
    if not memory.acts or grammar().patterns["same_again"].search(sentence.text) is None:
        return []
    edge = not grammar().words["places"].isdisjoint(t.text for t in sentence.tokens)
    last = memory.acts[-1]
    if edge and last.kind != "fastener":  # "other long side, the same again"
        last = memory.acts[-2:][0]
    if last.kind != "fastener" or last.count is None or last.status not in MOVED:
        return []
    act = replace(last, span=whole_of(sentence).span(), visit=sentence.visit, holds=_other(sentence, names, last.holds))
    return [(act, unmarked(act, 0, 0))]


def _other(sentence: Sentence, names: Sequence[Name], held: str | None) -> str | None:
    """What "the same again" is of, after `held`: "on the left bracket", "on the right"."""
    named = next((n.part for n in names if n.known and n.kind == "part"), None)
    sides = grammar().words["sides"]
    side = next((t.text for t in sentence.tokens if t.text in sides), None)
    if named is not None or held is None or side is None:
        return named or held
    return " ".join([side, *(w for w in held.split() if w not in sides)])


def _all_of_them(sentence: Sentence, found: Found, names: Sequence[Name], memory: Memory) -> Found:
    """Fasteners that are only numbered beside their part: "cover's on, all six", "All six." """
    if any(a.kind == "fastener" for a, _ in found) or any(n.kind == "fastener" for n in names):
        return []
    match = grammar().patterns["all_of_them"].search(sentence.text)
    if match is None:
        return []
    numbers = find_numbers(match.group(1).split())
    count = numbers[0].value if numbers else 2.0 if match.group(1) == "both" else None
    here = [(a, m) for a, m in found if a.kind in {"part", "seal"} and a.action in {"remove", "refit", "open"}
            and a.status in MOVED]  # fmt: skip
    if here:
        act, mark = here[-1]
    elif len(sentence.tokens) <= 4 and not found and memory.acts:
        act = memory.acts[-1]
        if act.kind not in {"part", "seal"} or act.action not in {"remove", "refit"} or act.status not in MOVED:
            return []
        whole = whole_of(sentence)
        act = replace(act, span=whole.span(), visit=sentence.visit)
        mark = None
    else:
        return []
    if count is None or count < 2 or act.count == count:
        return []
    inward = act.action == "refit"
    held = [a for a in memory.acts if a.kind == "fastener" and a.holds and alike(a.holds, act.part)]
    if inward and not any(a.action == "remove" for a in held):
        return []
    kind = held[-1].part if held else "screw"
    screws = replace(act, action="refit" if inward else "remove", part=kind, kind="fastener", holds=act.part,
                     count=count, plural=True, new=False)  # fmt: skip
    return [(screws, mark or unmarked(screws, 0, 0))]


def _told_again(act: Act, mark: Placed, sentence: Sentence, memory: Memory) -> bool:
    """True of fasteners, connectors and parts that a tally only counts once more."""
    if act.status not in MOVED or act.action not in OUTWARD | INWARD:
        return False
    known = [a for a in memory.acts if a.kind == act.kind and a.status in MOVED]
    if tallied(sentence, memory):
        return act.kind in {"fastener", "connector"} or not mark.things or act.part == "everything"
    if act.kind != "fastener" or act.count is None:
        return False
    counted = find_numbers([t.text for t in sentence.tokens])
    first = min([mark.first, *(n.first for n in counted[:1])])
    before = " ".join(t.text for t in sentence.tokens[:first])
    if grammar().patterns["sums_up"].search(before) is None:
        return False
    moved = sum(a.count or 0 for a in known if a.action == act.action and a.part == act.part
                and (act.holds is None or a.holds is None or alike(a.holds, act.holds)))  # fmt: skip
    return moved == act.count


def mains_plug(memory: Memory) -> bool:
    """Whether a plug that goes back in can only be the appliance's own: the supply is off, no connector is apart."""
    apart: set[str] = set()
    supply = ""
    for act in memory.acts:
        if act.status not in MOVED:
            continue
        if act.part == "power supply":
            supply = act.action
        elif act.kind == "connector" and act.action in {"disconnect", "loosen", "remove"}:
            apart.add(act.part)
        elif act.kind == "connector" and act.action in {"reconnect", "refit"}:
            apart.discard(act.part)
    return supply == "isolate" and not apart


def capped(name: Name, sentence: Sentence, names: Sequence[Name], words: Words) -> Name:
    """A cap of a part that has no capacitor: "popped the cap off the top hinge"."""
    said = [t.text for t in sentence.tokens[max(0, name.first) : name.last]]
    if name.part != "capacitor" or said not in (["cap"], ["caps"]):
        return name
    after = [t.text for t in sentence.tokens[name.last : name.last + 2]]
    owner = next((n.part for n in names if name.last < n.first <= name.last + 3 and n.known), "")
    if not {"off", "of", "from", "over"} & set(after) or not owner:
        return name
    if words.classes_of(owner) & (grammar().words["powered"] | {"cover"}) or words.kind_of(owner) != "part":
        return name
    return replace(name, part=f"{owner.split()[-1]} cap", bare=False)


def of_holder(name: Name, mark: Placed, names: Sequence[Name], words: Words, memory: Memory) -> Name:
    """A connector that only its noun names is that of the part beside it: "three leads off the compressor"."""
    if name.kind != "connector" or name.last - name.first != 1:
        return name
    first, last = mark.holds[-1]
    part = next((completed(n, memory, words).part for n in names if n.first < last and first < n.last
                 and n.kind == "part"), "")  # fmt: skip
    if not words.classes_of(part) & grammar().words["powered"]:
        return name
    return replace(name, part=f"{part.removesuffix(' motor')} {singular(name.part.split()[-1])}", bare=False)


def _own(name: Name, sentence: Sentence, words: Words, memory: Memory) -> Name | None:
    """ "I lower the housing and disconnect its two plugs": of what was spoken of before, whether or not it is live."""
    lead = [t.text for t in sentence.tokens[max(0, name.first - 3) : max(0, name.last - 1)]]
    lists = grammar().words
    if name.first < 0 or lists["possessives"].isdisjoint(lead):
        return None
    here = [
        completed(n, memory, words) for n in names_in(whole_of(sentence), words) if n.last <= name.first and n.known
    ]
    part = next((n.part for n in reversed([*memory.things[-4:], *here]) if n.kind == "part"), "")
    if not part or part in words.appliances | words.not_parts or part.split()[-1] in lists["wire_holders"]:
        return None
    return replace(name, part=f"{part.removesuffix(' motor')} {name.part}", bare=False)


def owned(
    name: Name,
    sentence: Sentence,
    words: Words,
    memory: Memory,
    action: Action,
    pointed: Mapping[str, float] = MappingProxyType({}),
) -> Name:
    """A connector that is only called plug or lead is the one that is apart, or belongs to the part spoken of last.

    pointed: the parts whose it may be, with the share of the chance, 0..1.
    """
    spoken = name.part.split()
    if name.kind == "connector" and len(spoken) == 2 and spoken[0] in grammar().words["ownership"]:
        name = replace(name, part=spoken[1], bare=True)  # "its own plug"
    if name.kind != "connector" or not name.bare or len(name.part.split()) != 1 or name.part in {"cord", "flex"}:
        return name
    if action in INWARD and name.part == "plug" and not name.plural and mains_plug(memory):
        return name
    if (own := _own(name, sentence, words, memory)) is not None:
        return own
    if action in INWARD:
        plugs = [a for a in memory.acts if a.kind == "connector"]
        apart = still_off(plugs, name.part, {"disconnect", "loosen", "remove"}, {"reconnect", "refit"})
        if len(apart) == 1 or (apart and name.count is None):
            return replace(name, part=apart[-1], bare=False)
    likely = max(pointed, key=pointed.__getitem__, default="")
    if pointed.get(likely, 0.0) >= _OWNS and words.classes_of(likely) & grammar().words["powered"]:
        return replace(name, part=f"{likely.removesuffix(' motor')} {name.part}", bare=False)
    whole = whole_of(sentence)
    here = [n.part for n in names_in(whole, words) if n.last <= name.first and n.kind == "part"]
    places = grammar().words["wire_holders"]
    for part in [*reversed(here), *reversed(memory.named[-4:])]:
        if part.split()[-1] in places:
            continue
        if part in words.appliances or part in words.not_parts:
            continue
        if words.classes_of(part) & grammar().words["powered"] and singular(part.split()[-1]) != name.part:
            return replace(name, part=f"{part} {name.part}", bare=False)
    return name
