"""Things named in a clause: noun phrases that end in a noun of the trade, with their counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from voicereport.report import ItemKind
from voicereport.statements.grammar import grammar
from voicereport.statements.tokens import Clause, Sentence, Token
from voicereport.trades.words import Thing, Words, singular
from voicereport.wording.numbers import find_numbers


@dataclass(frozen=True, kw_only=True, slots=True)
class Name:
    """A thing that was named."""

    part: str
    kind: ItemKind
    first: int  #: tokens [first, last) of the sentence
    last: int
    count: float | None = None
    plural: bool = False
    new: bool = False
    same: bool = False  #: "the same two screws"
    remaining: bool = False  #: "the other two"
    bare: bool = False  #: nothing stands before its noun
    known: bool = True


def pins_of(part: str) -> str | None:
    """The sort of a connector that is called by its pins: "four pin"; None of another name."""
    words = part.split()
    pinned = words[1:2] and words[1] in grammar().words["pinned"] and find_numbers(words[:1])  # "hinge pin" is a part
    return " ".join(words[:2]) if pinned else None


#: words that begin the object of a verb
OBJECT_WORDS = frozenset({"the", "a", "an", "it", "them", "both", "all", "your", "that", "its", "those", "this"})
_COUNT_WORDS = {"both": 2.0, "pair": 2.0, "couple": 2.0}


def _verbal(tokens: tuple[Token, ...], i: int, words: Words) -> bool:
    """True where token i is a verb here and no part of a name."""
    text = tokens[i].text
    forms = words.verbs.get(text)
    if not forms or text in grammar().words["modifiers_ok"]:
        return False
    if i and not tokens[i - 1].mark and {(tokens[i - 1].text, text)} & (words.heads.keys() | words.parts.keys()):
        return False  # "door lock"
    if singular(text) != text and (singular(text),) in words.heads:
        return False
    if (text,) in words.heads or (text,) in words.parts:
        following = tokens[i + 1].text if i + 1 < len(tokens) else ""
        before = tokens[i - 1].text if i else ""
        return following in OBJECT_WORDS and before not in {"the", "a", "an", "that", "my", "new"}
    return True


def _run(tokens: tuple[Token, ...], i: int, words: Words) -> int:
    """The end of the run of tokens from i that may stand inside a name."""
    stop, ok = grammar().words["stop"], grammar().words["modifiers_ok"]
    j = i
    while j < len(tokens):
        text = tokens[j].text
        if (text in stop and not (text in ok and j + 1 < len(tokens) and not tokens[j].mark)) or text[:1].isdigit():
            break
        if _verbal(tokens, j, words):
            break
        j += 1
        if tokens[j - 1].mark:
            break
    return j


class _Latest:
    """The names of the sentence read last: every step of the reading asks for them again."""

    sentence: Sentence | None = None
    words: Words | None = None
    found: ClassVar[dict[tuple[int, int], tuple[Name, ...]]] = {}


def names_in(clause: Clause, words: Words) -> tuple[Name, ...]:
    """The things named in a clause, in order, with counts; names joined by `of` are turned round."""
    if _Latest.sentence is not clause.sentence or _Latest.words is not words:
        _Latest.sentence, _Latest.words, _Latest.found = clause.sentence, words, {}
    place = (clause.first, clause.last)
    if place not in _Latest.found:
        _Latest.found[place] = _names_in(clause, words)
    return _Latest.found[place]


def _names_in(clause: Clause, words: Words) -> tuple[Name, ...]:
    tokens = clause.sentence.tokens
    found: list[Name] = []
    i = clause.first
    while i < clause.last:
        end = min(_run(tokens, i, words), clause.last)
        name = _of_a_sort(tokens, i, clause.last, words) or (_longest(tokens, i, end, words) if end > i else None)
        if name is None:
            i = max(end, i + 1)
            continue
        if found and (whole := _with_owner(found[-1], name, tokens)) is not None:
            found.pop()  # "compressor three pin"
            name = whole
        found.append(_counted(tokens, clause.first, _as_spoken(name, clause.sentence)))
        i = name.last
    return tuple(_joined_by_of(tokens, found, words))


def _of_a_sort(tokens: tuple[Token, ...], i: int, last: int, words: Words) -> Name | None:
    """A connector by the number of its pins: "the six pin plug", "the two way"; None where none begins at token i.

    A plug of three pins is a mains plug, too, and stays a plug, and so does one told by its wires, which leaves open
    whose it is: "two wire plug on the damper".
    """
    if i + 1 >= last or tokens[i].mark:
        return None
    if is_wired(tokens, i, last) and find_numbers([tokens[i].text]):
        return Name(part=tokens[i + 2].text, kind="connector", first=i, last=i + 3, bare=True)
    if tokens[i + 1].text not in grammar().words["pinned"]:
        return None
    numbers = find_numbers([tokens[i].text])
    if not numbers or numbers[0].style != "cardinal" or numbers[0].value < 2:
        return None
    sort, end = f"{tokens[i].text} {tokens[i + 1].text}", i + 2
    if end < last and not tokens[i + 1].mark:
        name = _longest(tokens, end, min(_run(tokens, end, words), last), words)
        if name is not None and name.first == end and name.kind != "fastener":
            if sort == "three pin" and name.part == "plug":
                return None
            return replace(name, part=f"{sort} {name.part}", first=i, bare=False)
    if i and tokens[i - 1].text in {"a", "an"}:
        return None  # "it's a four pin" only says of what sort it is
    return Name(part=f"{sort} connector", kind="connector", first=i, last=end)


def is_wired(tokens: tuple[Token, ...], i: int, last: int) -> bool:
    """Whether token i says how many wires go into one plug: "the four wire plug"."""
    sets = grammar().words
    return i + 2 < last and tokens[i + 1].text in sets["cored"] and tokens[i + 2].text in sets["cored_nouns"] \
        and not tokens[i + 1].mark  # fmt: skip


def _with_owner(before: Name, name: Name, tokens: tuple[Token, ...]) -> Name | None:
    """A part and its connector by the pins, side by side, as one; None of other names."""
    if before.kind != "part" or (before.last and tokens[before.last - 1].mark):
        return None
    if before.last == name.first and pins_of(name.part) is not None and name.part.endswith(" connector"):
        return replace(name, part=f"{before.part} connector", first=before.first)
    return None


def _as_spoken(name: Name, sentence: Sentence) -> Name:
    """A short name that is another word, too ("plastic caps"), where nothing speaks for the long one."""
    texts = [t.text for t in sentence.tokens]
    last = singular(texts[name.last - 1])
    if f"{last}={name.part}" not in grammar().words["short_names"]:
        return replace(name, part=_in_full(name.part))
    lead = next((t for t in reversed(texts[max(0, name.first - 1) : name.last - 1])
                 if t in grammar().words["short_lead"]), None)  # fmt: skip
    if lead is None and (last == texts[name.last - 1] or grammar().patterns["short_context"].search(sentence.text)):
        return name
    return replace(name, part=f"{lead} {last}" if lead else last, bare=False)


def _in_full(part: str) -> str:
    """A name with its words in full: "stat box" is the thermostat box."""
    full = dict(pair.split("=") for pair in grammar().words["short_words"])
    return " ".join(full.get(word, word) for word in part.split())


def _is_tool(thing: Thing, key: tuple[str, ...], after: Sequence[Token]) -> bool:
    """Whether what a screw is called by its head is that of a tool: "the phillips driver"."""
    if thing.kind != "fastener" or thing.name is None or key[-1] in thing.name.split():
        return False
    return bool(after) and singular(after[0].text) in grammar().words["tools"]


def _longest(tokens: tuple[Token, ...], start: int, end: int, words: Words) -> Name | None:
    """The name that ends last in tokens [start, end)."""
    lead = grammar().words["lead"]
    for last in range(end, start, -1):
        forms = [singular(t.text) for t in tokens[start:last]]
        for first in range(start, last):
            key = tuple(forms[first - start :])
            if key in words.heads or key in words.parts:
                begin = start
                while begin < first and tokens[begin].text in lead:
                    begin += 1
                modifiers = [t.text for t in tokens[max(begin, first - 4) : first] if t.text not in lead]
                if key[-1] in grammar().words["wired"]:
                    modifiers = ["capacitor" if m == "cap" else m for m in modifiers]  # "cap leads"
                full = tuple(modifiers) + key
                thing = words.thing(full)
                if thing is None or " ".join(full) in words.not_parts or _is_tool(thing, key, tokens[last:]):
                    continue
                spoken = " ".join(full)
                name = thing.name if thing.name and full in words.parts else spoken
                supply = any(spoken in s.words for s in words.supplies)
                return Name(
                    part=name,
                    kind=thing.kind,
                    first=start,
                    last=last,
                    known=not supply,
                    new=any(t.text in {"new", "replacement", "fresh", "brand"} for t in tokens[start:first]),
                    plural=singular(tokens[last - 1].text) != tokens[last - 1].text,
                    bare=not modifiers and len(key) == 1,
                )
    return None


def _counted(tokens: tuple[Token, ...], begin: int, name: Name) -> Name:
    """The name with what stands before it: a number, both, all, the same, the other."""
    lo = max(begin, name.first - 7)
    before = [t.text for t in tokens[lo : name.first]]
    count: float | None = None
    raw = [t.text + t.mark for t in tokens[lo : name.last]]  # "F N five, two screws" are not fifty two
    for number in find_numbers(raw):
        if (
            number.last + lo <= name.last
            and lo + number.last >= name.first - 1
            and number.value == int(number.value)
            and number.style not in {"ordinal", "clock"}
            and not (number.last + lo < name.first and tokens[lo + number.last - 1].mark)  # "J P four, its bolt"
        ):
            if is_wired(tokens, lo + number.last - 1, name.last):
                continue
            between = [t.text for t in tokens[lo + number.last : max(name.last - 1, lo + number.last + 1)]]
            if 0 < number.value <= 60 and not any(
                w in {"inch", "millimetre", "mil", "volt", "amp"} | grammar().words["sorts"] for w in between[:1]
            ):
                count = number.value
    near = before[-4:]
    partial = _part_of(before)
    if partial is not None:
        count = partial
    if count is None and near:
        count = next((_COUNT_WORDS[w] for w in reversed(near[-3:]) if w in _COUNT_WORDS), None)
        if count is None and near[-1] in {"a", "an"} and not name.plural and name.kind == "fastener":
            count = 1.0
    inside = [t.text for t in tokens[name.first : name.last]]
    return replace(
        name,
        count=count,
        new=name.new or "new" in near[-3:] or "new" in inside,
        same="same" in near or "same" in inside,
        remaining=any(w in {"other", "rest", "remaining", "last"} for w in (*near[-3:], *inside)),
    )


def _part_of(before: list[str]) -> float | None:
    """The first number of "two of the three"; None where that is not what stands before the name."""
    for i in range(len(before) - 1):
        if before[i] == "of" and before[i + 1] in {"the", "its", "those", "my", "these"} and i:
            numbers = find_numbers(before[:i])
            if numbers and numbers[-1].last == i:
                return numbers[-1].value
    return None


def _is_winding(head: Name, name: Name, tokens: tuple[Token, ...], words: Words) -> bool:
    """Whether a coil is that of an electrical part, which is meant then: "both coils of the damper motor"."""
    said = singular(tokens[head.last - 1].text)
    return said in grammar().words["windings"] and "electrical" in words.classes_of(name.part)


def _joined_by_of(tokens: tuple[Token, ...], found: list[Name], words: Words) -> list[Name]:
    """ "plug of the fan" is the fan plug; a fastener keeps what it holds apart."""
    out: list[Name] = []
    for name in found:
        if out and name.kind != "fastener" and out[-1].kind != "fastener" and out[-1].bare:
            between = [t.text for t in tokens[out[-1].last : name.first]]
            if between[:1] == ["of"] and set(between[1:]) <= {"the", "a", "its", "that"}:
                head = out.pop()
                if _is_winding(head, name, tokens, words):
                    out.append(replace(name, first=head.first))
                    continue
                full = f"{name.part} {head.part}"
                thing = words.thing(full.split())
                part = thing.name if thing and thing.name else full
                out.append(replace(head, part=part, last=name.last, bare=False))
                continue
        out.append(name)
    return out
