"""Lines of what the recogniser makes of marked lines: recordings of demo_audio/make_heard.py to lines/heard.txt.

    python models/reader/heard.py FOLDER... --out models/reader/lines/heard.txt

FOLDER holds NAME.wav in noise; NAME.json, with the lines that are spoken in it, lies in the folder `clean` beside it.
Each recording goes through the recogniser and the repair of the trade's words, as it does when a job is reported. The
words of each segment are then laid beside those that were said, and the marks move over. A segment is left out where it
might no longer mean what its marks say: a number, a denial, a hedge, or another word of commitment lost, changed or put
in; an act heard as another one; a marked word without a word in its place; a line with a check torn in two; and, where
a check is asserted, any word of weight that was not heard as it was said. A name that nobody said is left out, too.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
import recipe

TRADE = "domestic-refrigeration"
LEAST_ALIKE, LEAST_ALIKE_ACT = 0.6, 0.75  # of a marked word and what stands in its place, 0..1
GAP = 0.75  # what a word lost or put in costs, where one that is exchanged costs 0 to 2
MOST_WRONG = 0.4  # share of a segment's words
# ruff: noqa: SIM905
LIGHT = frozenset(  # may come and go: they carry no act and no commitment
    "a an the and of in on at to for with so then okay ok right uh um er yeah well just now i i've it it's that there"
    " this 's is are".split()
)
GUARDS = frozenset(  # may neither go nor come nor change, beside the cues of the trade
    "no not never none nothing nobody neither nor without nah nope cannot can't don't doesn't didn't won't wouldn't"
    " isn't aren't wasn't weren't haven't hasn't hadn't couldn't shouldn't ain't might may maybe perhaps probably"
    " possibly should would could will shall i'll we'll he'll she'll they'll you'll it'll gonna going need needs want"
    " if unless until till before after when while later tomorrow yesterday next did do does think thought reckon guess"
    " believe suppose supposed sure hope said says say told tell tells reported apparently forgot forget remember wait"
    " scratch strike sorry actually correction mean meant instead still yet almost nearly about half partly only except"
    " other another previous last usually always habit normally make please let let's who what why how bar but all both"
    " each every".split()
)
_TAIL = re.compile(r"[.,;:!?…\"”’']+$")
_UNSAFE = re.compile(r"^[~=>@#] |[{}|]")


@dataclass(frozen=True, kw_only=True, slots=True)
class Token:
    """A word, or the words of one number, in a text."""

    key: str  #: what it is compared by: lower case, no punctuation; "#" and the value of a number
    first: int
    last: int  #: characters [first, last) of the text, punctuation after it left out
    line: int  #: which of the texts


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """A line that was spoken."""

    line: Any  #: recipe.Line
    block: str


def tokens(texts: Sequence[str]) -> list[Token]:
    """The words of the texts in order; numbers in words and in digits are alike."""
    from voicereport.wording.numbers import find_numbers

    out: list[Token] = []
    for n, text in enumerate(texts):
        words = list(re.finditer(r"\S+", text))
        numbers = {x.first: x for x in find_numbers([w[0] for w in words])}
        k = 0
        while k < len(words):
            number = numbers.get(k)
            last = number.last if number else k + 1
            start, end = words[k].start(), words[last - 1].start() + len(_TAIL.sub("", words[last - 1][0]))
            key = f"#{number.digits or f'{number.value:g}'}" if number else text[start:end].lower().replace("’", "'")
            if end > start:
                out.append(Token(key=key, first=start, last=end, line=n))
            k = last
    return out


@lru_cache(maxsize=100_000)
def alike(one: str, other: str) -> float:
    """How alike two words are, 0..1: by letters and by sound. A number is like nothing but itself."""
    from jellyfish import metaphone
    from rapidfuzz import fuzz

    if one == other:
        return 1.0
    if "#" in (one[0], other[0]):
        return 0.0
    return float(0.5 * fuzz.ratio(one, other) + 0.5 * fuzz.ratio(metaphone(one), metaphone(other))) / 100


def beside(said: Sequence[Token], heard: Sequence[Token]) -> list[tuple[int | None, int | None]]:
    """Pairs of indices, one beside the other, at the least cost; None beside a word that was lost or put in."""
    rows, wide = len(said), len(heard)
    cost = [[GAP * k for k in range(wide + 1)]]
    for i in range(1, rows + 1):
        before, row = cost[-1], [GAP * i]
        for j in range(1, wide + 1):
            change = before[j - 1] + 2 * (1 - alike(said[i - 1].key, heard[j - 1].key))
            row.append(min(change, before[j] + GAP, row[-1] + GAP))
        cost.append(row)
    out: list[tuple[int | None, int | None]] = []
    i, j = rows, wide
    while i or j:
        if i and j and cost[i][j] == cost[i - 1][j - 1] + 2 * (1 - alike(said[i - 1].key, heard[j - 1].key)):
            i, j = i - 1, j - 1
            out.append((i, j))
        elif i and cost[i][j] == cost[i - 1][j] + GAP:
            i -= 1
            out.append((i, None))
        else:
            j -= 1
            out.append((None, j))
    return out[::-1]


@lru_cache(maxsize=1)
def guarded() -> frozenset[str]:
    """Words that decide what a speaker is committed to."""
    from voicereport.trades import load_trade

    cues = (p.pattern for c in load_trade(TRADE).words.cues for p in (c.pattern, c.unless) if p)
    found = {w for p in cues for w in re.findall(r"[a-z]{3,}", re.sub(r"\\[a-z]", " ", p))}
    return (GUARDS | found) - LIGHT


@lru_cache(maxsize=1)
def verbs() -> frozenset[str]:
    """Forms of the trade's verbs."""
    from voicereport.trades import load_trade

    return frozenset(load_trade(TRADE).words.verbs)


def is_guarded(key: str) -> bool:
    """True for a number and for a word that decides what the speaker is committed to, also in "isn't" and "he'll"."""
    return key[0] == "#" or key in guarded() or key.endswith(("n't", "'ll", "'d"))


Pair = tuple[int | None, int | None]


def changed(pairs: Sequence[Pair], said: Sequence[Token], heard: Sequence[Token]) -> list[tuple[str, str]]:
    """What was said and what was heard instead, by key; "" where nothing was."""
    keys = [(said[a].key if a is not None else "", heard[b].key if b is not None else "") for a, b in pairs]
    return [(a, b) for a, b in keys if a != b]


def keeps_its_meaning(differences: Sequence[tuple[str, str]], words: int, *, asserted: bool) -> bool:
    """Whether marks may move over a segment of that many words with these differences.

    asserted: one of its checks is confirmed by it; then only light words may differ.
    """
    if any(is_guarded(key) for pair in differences for key in pair if key):
        return False
    if asserted and any(key not in LIGHT for pair in differences for key in pair if key):
        return False
    put_in = [b for a, b in differences if not a and b not in LIGHT]
    return len(put_in) <= 1 and len(differences) <= MOST_WRONG * words


def moved(
    first: int,
    last: int,
    line: int,
    pairs: Sequence[Pair],
    said: Sequence[Token],
    heard: Sequence[Token],
    *,
    least: float = LEAST_ALIKE,
) -> tuple[int, int] | None:
    """Where the marked characters [first, last) of a line stand in what was heard; None where they do not.

    The words in their place must stand together, one for each, and be `least` alike.
    """
    places: list[tuple[Token, Token]] = []
    for a, b in pairs:
        if a is None or said[a].line != line or said[a].last <= first or said[a].first >= last:
            continue
        if b is None:
            if said[a].key in LIGHT and not places:
                continue
            return None
        places.append((said[a], heard[b]))
    if not places or any(alike(one.key, other.key) < least for one, other in places):
        return None
    indices = [heard.index(other) for _, other in places]
    if indices != list(range(indices[0], indices[0] + len(indices))):
        return None
    start, end = places[0][1].first, places[-1][1].last
    if first > places[0][0].first:  # the mark begins within a word: "it{a remove done|'s off}"
        return None
    cut = places[-1][0].last - last
    if cut > 0:  # it ends within a word: "{p|Panel}'s"
        if cut > 3 or end - start <= cut:
            return None
        same = places[-1][1].key[-cut:] == places[-1][0].key[-cut:]
        end -= cut if same else 0
    return start, end


def act_survives(said: str, heard: str) -> bool:
    """Whether an act's words are still no other act: "hooked" may be heard as "booked", but not as "hook" or "look"."""
    one, other = said.lower().split(), heard.lower().split()
    known = verbs() | {"off", "out", "in", "on", "back", "up", "down", "away", "open", "shut", "closed", "loose"}
    return len(one) == len(other) and all(
        a == b or not (b in known or a in known - verbs() or a[:3] == b[:3]) for a, b in zip(one, other, strict=True)
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Piece:
    """A segment that was heard, and the lines that it holds, by number."""

    text: str
    lines: tuple[int, ...]
    pairs: tuple[Pair, ...]


def pieces(texts: Sequence[str], pairs: Sequence[Pair], said: Sequence[Token], heard: Sequence[Token]) -> list[Piece]:
    """The segments with their pairs. A word that was lost counts to the segment of the word before it of its line."""
    owned: dict[int, list[Pair]] = {n: [] for n in range(len(texts))}
    at, lost = 0, []
    for a, b in pairs:
        if b is None:
            lost.append((a, b))
            continue
        own = heard[b].line
        for pair in lost:
            earlier = [said[x].line for x, _ in owned[at] if x is not None]
            owned[at if earlier and said[pair[0]].line == earlier[-1] else own].append(pair)
        lost, at = [], own
        owned[own].append((a, b))
    owned[at] += lost
    return [
        Piece(text=text, lines=tuple(sorted({said[a].line for a, _ in owned[n] if a is not None})),
              pairs=tuple(owned[n]))
        for n, text in enumerate(texts)
    ]  # fmt: skip


def marked(piece: Piece, told: Sequence[Told], said: Sequence[Token], heard: Sequence[Token]) -> str | None:
    """The segment with the marks of its lines, or None where it may not bear them."""
    lines = [told[n].line for n in piece.lines]
    kinds = {line.kind for line in lines}
    whole = all(_is_whole(n, piece, said) for n in piece.lines)
    if not lines or len(kinds) != 1 or kinds & {"context", "readings"} or _UNSAFE.search(piece.text):
        return None
    checks: dict[str, bool] = {}
    for line in lines:
        if any(checks.get(check, good) != good for check, good in line.checks.items()):
            return None
        checks |= line.checks
    if checks and not whole:
        return None
    differences = changed(piece.pairs, said, heard)
    if not keeps_its_meaning(differences, len(piece.pairs), asserted=any(checks.values())):
        return None
    if names(piece.text) - {w for line in lines for w in re.findall(r"\w+", line.text.lower())}:
        return None
    if sum(line.text.count("?") for line in lines) != piece.text.count("?"):
        return None
    marks = _marks(piece, told, said, heard, whole=whole)
    if marks is None:
        return None
    tail = "".join(f" {check}{'+' if good else '-'}" for check, good in checks.items())
    return ("~ " if kinds == {"checks"} else "") + written(piece.text, marks) + (f" ||{tail}" if tail else "")


def names(text: str) -> set[str]:
    """Words with a capital that begin no sentence, lower case: a misheard word may become somebody's name."""
    found = re.findall(r"(?<![.?!…] )(?<!^)\b(?!I\b)([A-Z][a-z]\w+)", text)
    return {word.lower() for word in found}


def _is_whole(line: int, piece: Piece, said: Sequence[Token]) -> bool:
    """Whether no word of the line belongs to another segment."""
    own = {a for a, _ in piece.pairs if a is not None}
    return all(n in own for n, token in enumerate(said) if token.line == line)


Mark = tuple[int, int, str]  #: characters [first, last) and the label


def _marks(
    piece: Piece, told: Sequence[Told], said: Sequence[Token], heard: Sequence[Token], *, whole: bool
) -> list[Mark] | None:
    marks: list[Mark] = []
    acts = 0
    own = {a for a, _ in piece.pairs if a is not None}
    for n in piece.lines:
        line = told[n].line
        inside = [_inside(a[0], a[1], n, said, own) for a in line.acts]
        renumbered: dict[int, int] = {}
        for k, (first, last, action, status) in enumerate(line.acts):
            if not inside[k]:
                continue
            place = moved(first, last, n, piece.pairs, said, heard, least=LEAST_ALIKE_ACT)
            if place is None or not act_survives(line.text[first:last], piece.text[place[0] : place[1]]):
                return None
            acts += 1
            renumbered[k] = acts
            marks.append((*place, f"a {action} {status}"))
        for first, last, role, ids in line.things:
            if not whole and not _inside(first, last, n, said, own):
                if any(k in renumbered for k in ids):
                    return None
                continue
            place = moved(first, last, n, piece.pairs, said, heard)
            if place is None or any(k not in renumbered for k in ids):
                return None
            marks.append((*place, role + "".join(str(renumbered[k]) for k in ids)))
    ordered = sorted(marks)
    if any(a[1] > b[0] for a, b in pairwise(ordered)) or acts > 9:
        return None
    given = [m for m in ordered if m[2].startswith("a ")]
    return ordered if given == [m for m in marks if m[2].startswith("a ")] else None


def _inside(first: int, last: int, line: int, said: Sequence[Token], own: Iterable[int]) -> bool:
    mine = set(own)
    return any(n in mine for n, t in enumerate(said) if t.line == line and t.last > first and t.first < last)


def written(text: str, marks: Sequence[Mark]) -> str:
    """The text with its marks in braces."""
    out, at = "", 0
    for first, last, label in marks:
        out += f"{text[at:first]}{{{label}|{text[first:last]}}}"
        at = last
    return out + text[at:]


def heard_texts(path: Path) -> list[str]:
    """The segments of a recording as the reader gets them."""
    from voicereport.speech import transcribe
    from voicereport.trades import load_trade
    from voicereport.wording import repair

    found = repair(transcribe([path]), load_trade(TRADE))
    return [text for s in found.segments if (text := " ".join(w.word for w in s.words))]


def told_in(path: Path) -> list[Told]:
    """The lines that are spoken in a recording. Raises ValueError for a line at fault."""
    clean = path.parent.parent / "clean" / f"{path.stem}.json"
    rows = json.loads(clean.read_text("utf-8"))["lines"]
    return [Told(line=recipe.parse(row["raw"]), block=row["block"]) for row in rows]


def lines_of(told: Sequence[Told], texts: Sequence[str]) -> Iterator[tuple[str, str]]:
    """(digest of the block, marked line) for each segment that may bear its marks and differs from what was said."""
    said, heard = tokens([t.line.text for t in told]), tokens(texts)
    pairs = beside(said, heard)
    as_said = {t.line.text for t in told}
    for piece in pieces(texts, pairs, said, heard):
        own = {told[n].block for n in piece.lines}
        found = marked(piece, told, said, heard) if len(own) == 1 and piece.text not in as_said else None
        if found is not None:
            yield own.pop(), found


def main(arguments: list[str] | None = None) -> int:
    """Write the lines."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    chosen = parser.parse_args(arguments)
    out = ["# marked lines as they are heard in noise; made by heard.py, not by hand", ""]
    known: set[str] = set()
    for path in sorted(p for folder in chosen.folders for p in folder.glob("*.wav")):
        found = [(b, x) for b, x in lines_of(told_in(path), heard_texts(path)) if x not in known]
        known |= {line for _, line in found}
        print(f"{path.parent.name}/{path.stem}: {len(found)} lines", file=sys.stderr, flush=True)
        for block, group in groupby(found, key=lambda pair: pair[0]):
            out += [f"@ {block}", *(line for _, line in group), ""]
    chosen.out.write_text("\n".join(out), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
