"""Fasteners that are only counted beside the part they hold: "Cover's on, all six.", "Plinth off. Two screws."."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from voicereport.report import Action
from voicereport.statements.acts import Memory, split_fastener
from voicereport.statements.grammar import grammar
from voicereport.statements.holding import alike, still_out
from voicereport.statements.names import Name, names_in
from voicereport.statements.tokens import Clause, Sentence
from voicereport.statements.values import MOVED, Act
from voicereport.trades.words import Words
from voicereport.wording.numbers import find_numbers

OUT = frozenset({"remove", "open", "peel"})
IN = frozenset({"refit", "replace", "close"})
HELD = frozenset({"part", "seal"})
MOST = 40  #: nobody counts more screws in one place


@dataclass(frozen=True, kw_only=True, slots=True)
class _Piece:
    """Words between pauses that are no more than a number of fasteners."""

    clause: Clause
    count: float | None  #: None = all of them
    kind: str | None  #: "screw"; None where only the number is said
    placed: bool  #: it says where: "along the top"
    before: Clause | None  #: the piece before it


def implied(
    sentences: Sequence[Sentence],
    acts: Sequence[Act],
    start: int,
    words: Words,
    memory: Memory,
    numbered: Collection[str] = (),
) -> list[Act]:
    """What the line counts beside its parts and no act of it says.

    sentences: of the line. acts: of the recording so far, those of the line from `start` on. numbered: parts whose
    fasteners the line is known to number; they are left alone. The fasteners go the way of the part named before them;
    going back, no more than came out of it but where they are called its own.
    """
    here = list(acts[start:])
    out: list[Act] = []
    for piece in _pieces(sentences, words):
        more = _more(piece, here, acts[:start])
        part = (
            _beside(piece, here, words, memory) if more is None else replace(more, part=more.holds or "", kind="part")
        )
        part = part or _from_before(piece, here, acts[:start])
        if part is not None and more is None and _are_the_parts(piece, part, here):
            continue
        if more is not None and piece.kind is None:
            piece = replace(piece, kind=more.part.split()[-1])
        others = [a for a in here if a not in out] if more is not None else here  # "top edge two, bottom edge, two"
        if part is None or part.part in numbered or _is_said(piece, part, others):
            continue
        told = _going_in(piece, part, memory) if part.action in IN else _going_out(piece, part, words, memory)
        if told is not None:
            out.append(told)
            memory.acts.append(told)
            here.append(told)
    shares = _shares(out, acts[start:])
    memory.acts[:] = [a for a in memory.acts if not any(a is s for s in shares)]
    here = [a for a in here if not any(a is s for s in shares)]
    out = [a for a in out if not any(a is s for s in shares)]
    for act in _fixed(sentences, here, memory):
        out.append(act)
        memory.acts.append(act)
    return out


def _shares(new: Sequence[Act], told: Sequence[Act]) -> list[Act]:
    """The new acts that another of the line sums up: "its two screws up top and two down low, so four out"."""
    for act in told:
        if act.kind != "fastener" or act.count is None or act.status not in MOVED:
            continue
        own = [
            a for a in new if (a.action, a.part.split()[-1], a.holds) == (act.action, act.part.split()[-1], act.holds)
        ]
        if len(own) > 1 and sum(a.count or 0 for a in own) == act.count:
            return own
    return []


def _fixed(sentences: Sequence[Sentence], here: Sequence[Act], memory: Memory) -> list[Act]:
    """The fasteners that a part was put on with, where its verb says so: "relay cover, clipped on"."""
    if any(a.kind == "fastener" and a.action in IN for a in here):
        return []
    kinds = dict(pair.split("=") for pair in grammar().words["fixing_verbs"])
    out = []
    for act in here:
        own = next((s for s in sentences if s.begins(act.span)), None)
        if act.kind not in HELD or act.action not in IN or act.status not in MOVED or own is None:
            continue
        said = {kinds[t.text] for t in own.tokens if t.text in kinds}
        for kind in said:
            left = [(h, n) for h, n in still_out(memory, kind).items() if h == act.part]
            out += [replace(act, action="refit", part=kind, kind="fastener", holds=h, count=n, plural=n > 1, new=False,
                            part_number=None) for h, n in left]  # fmt: skip
    return out


def _pieces(sentences: Sequence[Sentence], words: Words) -> list[_Piece]:
    """The pieces of the line; none of bare numbers that follow each other, which are counted aloud."""
    parts = [c for s in sentences if not s.question for c in _parts(s)]
    befores = [None, *parts][: len(parts)]
    found = [p for b, c in zip(befores, parts, strict=True) if (p := _piece(c, b, words)) is not None]
    bare = [p for p in found if p.kind is None and not p.placed]
    return found if len(bare) < 2 else [p for p in found if p not in bare]


def _parts(sentence: Sentence) -> list[Clause]:
    """The words between pauses; "and", "with" and the "on" of "on its three" are the beginning of what they join."""
    out: list[Clause] = []
    first = 0
    for n, token in enumerate(sentence.tokens):
        if n > first and (token.text in {"and", "with"} or _is_seat(sentence, n)):
            out.append(Clause(sentence=sentence, first=first, last=n, joint=""))
            first = n
        if token.mark:
            out.append(Clause(sentence=sentence, first=first, last=n + 1, joint=""))
            first = n + 1
    if first < len(sentence.tokens):
        out.append(Clause(sentence=sentence, first=first, last=len(sentence.tokens), joint=""))
    return out


def _is_seat(sentence: Sentence, n: int) -> bool:
    """ "Up on its four", "held by their two": what a part goes on by."""
    after = [t.text for t in sentence.tokens[n + 1 : n + 2]]
    words = grammar().words
    return sentence.tokens[n].text in words["seats_in"] and not words["possessives"].isdisjoint(after)


def _piece(clause: Clause, before: Clause | None, words: Words) -> _Piece | None:
    names = names_in(clause, words)
    fasteners = [n for n in names if n.kind == "fastener"]
    if len(fasteners) > 1 or any(n.known and n.kind != "fastener" for n in names):
        return None
    own = fasteners[0] if fasteners else None
    kind = _plain_kind(own, words) if own is not None else None
    if own is not None and kind is None:
        return None  # a hinge screw says itself what it holds
    rest = [t.text for n, t in enumerate(clause.tokens, clause.first) if own is None or n != own.last - 1]
    small, where = grammar().words["implied_words"], grammar().words["implied_where"] | grammar().words["placed_at"]
    numbers = [n for n in find_numbers(rest) if n.style in {"cardinal", "digits"}]
    if any(rest[n.last : n.last + 1] == ["left"] for n in numbers):
        return None  # "two left" may be what remains
    rest = [w for w, after in pairwise([*rest, ""]) if w != "other" or after not in grammar().words["places"]]
    left = [w for w in rest if w not in small and w not in where and not find_numbers([w])]
    if left or len(numbers) > 1:
        return None
    count = numbers[0].value if numbers else 2.0 if "both" in rest else None
    if count is None and not (own is not None and {"all", "its", "their"} & set(rest)):
        return None
    if count is not None and (count != int(count) or not 0 < count <= MOST):
        return None
    if kind is None and count == 1:
        return None  # "the short one at the front"
    led = before is not None and all(t.text in where or t.text in small for t in before.tokens)
    placed = bool(where & set(rest)) or (led and before is not None and any(t.text in where for t in before.tokens))
    return _Piece(clause=clause, count=count, kind=kind, placed=placed, before=before)


def _plain_kind(name: Name, words: Words) -> str | None:
    kind, held = split_fastener(name, words)
    return kind if held is None else None


def _head(piece: _Piece, words: Words) -> str | None:
    """The part that the sentence of a piece names before it: "Drawer front, that's four screws"."""
    before = replace(piece.clause, first=0, last=piece.clause.first)
    return next((n.part for n in names_in(before, words) if n.known and n.kind in HELD), None)


def _is_moved_here(piece: _Piece, moved: Sequence[Act]) -> bool:
    """Whether one of these parts moved in the sentence of a piece, before it."""
    at = piece.clause.span().first
    return any(piece.clause.sentence.begins(a.span) and a.span.first <= at for a in moved)


def _is_all_of_it(piece: _Piece, part: Act, memory: Memory) -> bool:
    """Whether as many fasteners as the piece says are out of the part that goes back."""
    kinds = {a.part for a in memory.acts if a.kind == "fastener"} if part.action in IN else set()
    return any(alike(held, part.part) and n == piece.count
               for kind in kinds for held, n in still_out(memory, kind).items())  # fmt: skip


def _beside(piece: _Piece, here: Sequence[Act], words: Words, memory: Memory) -> Act | None:
    """The part of the line that moved before the piece; that after it, where it names its fasteners."""
    moved = [a for a in here if a.kind in HELD and a.action in OUT | IN and a.status in MOVED]
    head = _head(piece, words)
    if head is not None and moved and not _is_moved_here(piece, moved):
        moved = [a for a in moved if alike(a.part, head)]  # "Basket's out. Drawer front, that's four screws"
        return moved[-1] if moved and piece.kind is not None else None
    at = piece.clause.span().first
    before = [a for a in moved if a.span.first <= at]
    same = "same" in piece.clause.text.split()
    if before and piece.kind is None and not same and not _touches(piece.before, before[-1]):
        if "all" in piece.clause.text.split() and _is_all_of_it(piece, before[-1], memory):
            return before[-1]  # "Panel's up, fan's plugged in, and all seven are home"
        return None  # "part number D T, slash, four"
    if before and before[-1].plural and piece.kind is None:
        return None  # "baskets inside, five"
    if before:
        return before[-1]
    last = piece.clause.sentence.last
    return next((a for a in moved if a.span.first < last and piece.kind is not None), None)


def _more(piece: _Piece, here: Sequence[Act], before: Sequence[Act]) -> Act | None:
    """The act of fasteners that the piece goes on with, in another place: "Right side, three", "below two"."""
    told = {t.text for t in piece.clause.sentence.tokens[: piece.clause.last]}
    if not piece.placed or piece.count is None or told & grammar().words["describing"]:
        return None
    at = piece.clause.span().first
    mine = [a for a in here if a.span.first < at]
    if not mine and any(a.kind != "fastener" for a in here):
        return None
    last = mine[-1] if mine else before[-1] if before else None
    if last is None or last.kind != "fastener" or last.status not in MOVED or not last.holds:
        return None
    return last if last.action in {"remove", "refit"} else None


def _are_the_parts(piece: _Piece, part: Act, here: Sequence[Act]) -> bool:
    """Whether "both" is of the two parts that moved before it: "relay off, and the overload after it. Both in hand"."""
    if piece.kind is not None or "both" not in piece.clause.text.split():
        return False
    at = piece.clause.span().first
    same = {a.part for a in here if a.kind in HELD and a.status in MOVED and a.action == part.action
            and not a.plural and a.span.first < at}  # fmt: skip
    return len(same) == 2


def _touches(clause: Clause | None, act: Act) -> bool:
    return clause is not None and act.span.first < clause.span().last and clause.span().first < act.span.last


def _from_before(piece: _Piece, here: Sequence[Act], before: Sequence[Act]) -> Act | None:
    """What the line before moved, where this line is about nothing else: "Four screws along the top"."""
    if any(a.kind != "fastener" for a in here) or not before or _describes(piece):
        return None
    last = before[-1]
    if piece.kind is None and not (piece.placed and last.action in IN):
        return None
    if last.action not in OUT | IN or last.status not in MOVED or last.span.segment == piece.clause.span().segment:
        return None
    if any(a.count and a.holds and not alike(a.holds, last.holds or last.part) for a in here):
        return None  # "Back cover. Two up top, two at the bottom, so four out": the line says of what
    if last.kind == "fastener":
        return replace(last, part=last.holds, kind="part") if last.holds else None
    return last if last.kind in HELD else None


def _describes(piece: _Piece) -> bool:
    """Whether the sentence says what there is, and not what is done: "it's on a plate, three nuts"."""
    return not grammar().words["describing"].isdisjoint(t.text for t in piece.clause.sentence.tokens)


def _is_said(piece: _Piece, part: Act, here: Sequence[Act]) -> bool:
    """Whether an act of the line says it already: in its own words, or the same way as the part."""
    span = piece.clause.span()
    told = 0.0
    for act in here:
        if act.kind != "fastener":
            continue
        if act.span.first < span.last and span.first < act.span.last and act.span.segment == span.segment:
            return True
        if act.action in OUT | IN and (act.action in IN) != (part.action in IN):
            continue
        told += (act.count or 0) if act.action in OUT | IN else 0
        if act.count == piece.count and (piece.kind is None or act.part.split()[-1] == piece.kind):
            return True
    return piece.count is not None and told == piece.count  # "eight screws. Seven came out, the last one I drilled out"


def _going_in(piece: _Piece, part: Act, memory: Memory) -> Act | None:
    """Back into the part, or into the only thing of which just as many are out."""
    kinds = [piece.kind] if piece.kind else list(dict.fromkeys(a.part for a in memory.acts if a.kind == "fastener"))
    out = [(kind, held, left) for kind in kinds for held, left in still_out(memory, kind).items()]
    own = [(k, h, n) for k, h, n in out if alike(h, part.part) and (piece.count is None or piece.count <= n)]
    own = own or [(k, h, n) for k, h, n in out if n == piece.count]
    if not own and {"its", "their", "all"} & set(piece.clause.text.split()):  # "down again with its three"
        own = [(k, h, n) for k, h, n in out if alike(h, part.part)]
    if len({held for _, held, _ in own}) != 1:
        return None
    kind, held, left = own[0]
    return _act(piece, replace(part, part=held), "refit", kind, piece.count or left)


def _going_out(piece: _Piece, part: Act, words: Words, memory: Memory) -> Act | None:
    """Out of the part; a number alone only where the part is a cover, since two drawers are no two screws."""
    kind = piece.kind or "screw"
    before = [a for a in memory.acts if a.kind == "fastener" and a.holds and alike(a.holds, part.part)]
    before = [a for a in before if a.part.split()[-1] == kind and a.status in MOVED]
    covers = words.closes(part.part) and not part.plural
    if piece.count is None or (before and not piece.placed) or (piece.kind is None and (piece.count < 2 or not covers)):
        return None
    return _act(piece, part, "remove", kind, piece.count)


def _act(piece: _Piece, part: Act, action: Action, kind: str, count: float) -> Act:
    return replace(part, action=action, part=kind, kind="fastener", holds=part.part, count=count, plural=count > 1,
                   span=piece.clause.span(), visit=piece.clause.sentence.visit, new=False,
                   part_number=None)  # fmt: skip
