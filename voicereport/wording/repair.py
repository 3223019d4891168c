"""The repair of trade words that were misheard: listed mishearings, and doubtful words that sound like the trade's."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

from voicereport.trades import Trade
from voicereport.trades.mishearings import Mishearing, Sound
from voicereport.trades.words import Words, singular
from voicereport.transcript import Segment, Transcript, Word, spread
from voicereport.wording.lexemes import NUMBER_WORDS
from voicereport.wording.quantities import find_quantities

_LEADING = "\"'“”‘’([{"
_TRAILING = ".,;:!?…)]}\"”’'"
_NUMBERS = NUMBER_WORDS - {"a", "an", "and"}  # these alone make no number
_LONGEST_NAME = 4  #: words before a noun that may belong to it
_LEAST_UNIT = 3  #: letters of what may have been written for a unit
_LEAST_COUNTED = 4  #: digits in a row from which on they were counted aloud
_ALL = frozenset({"all", "both"})
_NEAR = 6  #: words on either side that count as near
_SOUND_SHARE, _LETTERS_SHARE = 0.6, 0.4


def repair(transcript: Transcript, trade: Trade) -> Transcript:
    """The transcript with misheard words of the trade put right in `text` and `words`; `heard` stays.

    A listed mishearing is repaired wherever it stands; a word by its sound only where the recogniser doubts it and its
    neighbours make it a name of the trade. Numbers, verbs, denials and units are never changed. A word written for a
    unit after a number becomes the unit, one written for a count before fasteners the count, and both stay in doubt;
    so do numbers counted aloud that were written as one. Fasteners in the plural begin no name: a comma parts them.
    """
    vocabulary = _vocabulary(trade)
    return replace(transcript, segments=tuple(_segment(s, trade, vocabulary) for s in transcript.segments))


@dataclass(frozen=True, kw_only=True, slots=True)
class _Vocabulary:
    listed: Mapping[str, Sequence[Mishearing]]  #: by the first word that is heard
    known: frozenset[str]  #: every word that the trade knows: never repaired
    targets: Mapping[str, str]  #: what may be put in, with its sound
    pairs: frozenset[tuple[str, str]]  #: words that stand side by side in a name of the trade


@lru_cache(maxsize=4)
def _vocabulary(trade: Trade) -> _Vocabulary:
    import jellyfish

    words, sound = trade.words, trade.repairs.sound
    listed: dict[str, list[Mishearing]] = {}
    for mishearing in trade.repairs.listed:
        listed.setdefault(mishearing.heard[0], []).append(mishearing)
    if sound is None:
        return _Vocabulary(listed=listed, known=frozenset(), targets={}, pairs=frozenset())
    names = [*words.parts, *words.heads]
    known = {w for name in names for w in name} | set(words.verbs) | set(words.states) | _others(words)
    targets = {w for name in names for w in name if len(w) >= sound.letters and w.isalpha()}
    fixed = {w for w in targets if _is_kept(w, trade)}
    return _Vocabulary(
        listed=listed,
        known=frozenset(known),
        targets={w: jellyfish.metaphone(w) for w in sorted(targets - fixed)},
        pairs=frozenset(pair for name in names for pair in pairwise(name)),
    )


def _others(words: Words) -> set[str]:
    """Words that the trade knows and that name no part."""
    phrases = [*words.appliances, *words.others, *words.lamps, *words.not_parts]
    phrases += [w for supply in words.supplies for w in (*supply.words, *supply.bare)]
    return {w for phrase in phrases for w in phrase.split()} | _cue_words(words)


def _cue_words(words: Words) -> set[str]:
    """Words that decide what the speaker is committed to: "the bloke" must not become "the block"."""
    patterns = [p for c in words.cues for p in (c.pattern, c.unless) if p]
    patterns += [p for f in words.phrases for p in (f.pattern, f.unless, f.imperative) if p]
    patterns += list(words.lists.values())
    return {w for p in patterns for w in re.findall(r"[a-z]{3,}", re.sub(r"\\[a-z]", " ", p.pattern))}


def _is_number(word: str) -> bool:
    return word in _NUMBERS or any(c.isdigit() for c in word)


def _is_kept(word: str, trade: Trade) -> bool:
    """A word that may be neither changed nor put in."""
    return _is_number(word) or word in trade.words.verbs or trade.repairs.protects(word)


def _core(word: str) -> str:
    return word.lstrip(_LEADING).rstrip(_TRAILING).lower()


def _segment(segment: Segment, trade: Trade, vocabulary: _Vocabulary) -> Segment:
    words: list[Word] = []
    cores = [_core(w.word) for w in segment.words]
    i = 0
    while i < len(cores):
        listed = vocabulary.listed.get(cores[i], ())
        found = next((m for m in listed if _is_at(m, segment.words, cores, i)), None)
        if found:
            end = i + len(found.heard)
            words += _exchanged(segment.words[i:end], found.meant)
            i = end
            continue
        doubtful = _unit(segment.words, cores, i, trade, vocabulary) or _count(segment.words, cores, i, trade)
        if doubtful:
            [put] = _exchanged(segment.words[i : i + 1], (doubtful,))
            words.append(replace(put, alternative=segment.words[i].word))
            i += 1
            continue
        short = _shortened(segment.words, cores, i, trade)
        if short:
            words += _exchanged(segment.words[i : i + 1], short)
            i += 1
            continue
        counted = _counted(segment.words, cores, i, trade)
        if counted:
            first, *rest = _exchanged(segment.words[i : i + 1], counted)
            words += [replace(first, alternative=segment.words[i].word), *rest]
            i += 1
            continue
        sounds = _by_sound(segment.words, cores, i, trade, vocabulary)
        words += _exchanged(segment.words[i : i + 1], (sounds,)) if sounds else [segment.words[i]]
        if _ends_list(segment.words, cores, i, trade):
            words[-1] = replace(words[-1], word=words[-1].word + ",")
        i += 1
    if tuple(words) == segment.words:
        return segment
    return replace(segment, text=" ".join(w.word for w in words), words=tuple(words))


def _is_at(listed: Mishearing, words: Sequence[Word], cores: Sequence[str], i: int) -> bool:
    """Whether the listed mishearing stands at word i, no punctuation and no number inside it, what it needs near."""
    end = i + len(listed.heard)
    if tuple(cores[i:end]) != listed.heard or any(_is_number(w) for w in listed.heard):
        return False
    if any(w.word[-1] in _TRAILING for w in words[i : end - 1]):
        return False
    around = {*cores[max(0, i - _NEAR) : i], *cores[end : end + _NEAR]}
    return not listed.near or bool(listed.near & around)


def _unit(words: Sequence[Word], cores: Sequence[str], i: int, trade: Trade, vocabulary: _Vocabulary) -> str | None:
    """The unit that word i, right after a number, was written for; or None."""
    core, rule, units = cores[i], trade.repairs.sound, trade.repairs.units
    if not i or not _is_number(cores[i - 1]) or words[i - 1].word[-1] in _TRAILING or _is_kept(core, trade):
        return None
    if core in units:
        return units[core]
    if "." in cores[i - 1] and core in trade.repairs.after_decimals:
        return trade.repairs.after_decimals[core]
    if rule is None or words[i].probability >= rule.probability or not core.isalpha() or len(core) < _LEAST_UNIT:
        return None
    if core in vocabulary.known or _is_unit(core):
        return None
    scores: dict[str, float] = {}
    for written, meant in units.items():
        scores[meant] = max(scores.get(meant, 0.0), _alike(core, written))
    ranked = sorted(((score, unit) for unit, score in scores.items()), reverse=True)
    if not ranked or ranked[0][0] < rule.unit or (len(ranked) > 1 and ranked[0][0] - ranked[1][0] < rule.lead):
        return None
    return ranked[0][1]


def _count(words: Sequence[Word], cores: Sequence[str], i: int, trade: Trade) -> str | None:
    """The count that word i, right before fasteners in the plural, was written for; or None.

    Only where the clause begins with it, or with what may stand before a count, and the fasteners end the clause or
    are said to be somewhere: "for screws" in "I looked for screws" and "for screws I use a tray" is none.
    """
    rule = trade.repairs.counts
    if rule is None or cores[i] not in rule.heard or i + 1 == len(cores) or words[i].word[-1] in _TRAILING:
        return None
    if not _many(cores[i + 1], trade, ("fastener",)):
        return None
    begins = i == 0 or words[i - 1].word[-1] in _TRAILING or cores[i - 1] in rule.after
    ends = i + 2 == len(cores) or words[i + 1].word[-1] in _TRAILING or cores[i + 2] in rule.then
    return rule.heard[cores[i]] if begins and ends else None


def _many(word: str, trade: Trade, kinds: Sequence[str]) -> bool:
    """Whether a word is the plural of things of these kinds: screws."""
    head = trade.words.heads.get((singular(word),))
    return singular(word) != word and head is not None and head.kind in kinds


def _counted(words: Sequence[Word], cores: Sequence[str], i: int, trade: Trade) -> tuple[str, ...] | None:
    """The numbers that were counted aloud where word i was written for all of them, or None: "connectors 12345"."""
    word = cores[i]
    if len(word) < _LEAST_COUNTED or not "123456789".startswith(word):
        return None
    beside = [cores[k] for k in (i - 1, i + 1) if 0 <= k < len(cores)]
    if not any(_many(w, trade, ("fastener", "connector")) for w in beside):
        return None
    return (*(f"{digit}," for digit in word[:-1]), word[-1])


def _ends_list(words: Sequence[Word], cores: Sequence[str], i: int, trade: Trade) -> bool:
    """Whether a comma was left out after word i: fasteners in the plural begin no name ("two screws motor out")."""
    if words[i].word[-1] in _TRAILING or not 0 < i < len(cores) - 1 or not _many(cores[i], trade, ("fastener",)):
        return False
    counted = _is_number(cores[i - 1]) or cores[i - 1] in _ALL
    return counted and (singular(cores[i + 1]),) in trade.words.heads and cores[i + 1] not in trade.words.verbs


@lru_cache(maxsize=4096)
def _is_unit(word: str) -> bool:
    """Whether a word after a number is read as a unit, or as a piece of one ("kilo ohms")."""
    return any(q.unit is not None for after in ((word,), (word, "ohms")) for q in find_quantities(["4", *after]))


def _alike(word: str, target: str) -> float:
    import jellyfish

    return _likeness(word, target, jellyfish.metaphone(target))


def _shortened(words: Sequence[Word], cores: Sequence[str], i: int, trade: Trade) -> tuple[str, ...] | None:
    """A thing and its short "is" where word i is a plural by its writing alone ("covers off"), or None.

    The clause must begin with the thing, and say of it where or how it is; a number, a verb or a word such as "both"
    before it means many. What feeds the appliance is left alone: whether it is off rests on what was written.
    """
    rule, core = trade.repairs.shortened, cores[i]
    base = singular(core)
    if rule is None or base == core or base not in rule.things or words[i].word[-1] in _TRAILING:
        return None
    if (
        i + 1 == len(cores)
        or cores[i + 1] not in rule.then
        or any(base in s.words | s.bare for s in trade.words.supplies)
    ):
        return None
    for n in range(i - 1, max(-1, i - 1 - _LONGEST_NAME), -1):
        if words[n].word[-1] in _TRAILING or cores[n] in rule.opens:
            break
        if cores[n] in rule.bars or _is_number(cores[n]) or cores[n] in trade.words.verbs:
            return None
    else:
        if i > _LONGEST_NAME:
            return None
    return (base, "is") if core == base + "es" else (base + "'s",)


def _by_sound(words: Sequence[Word], cores: Sequence[str], i: int, trade: Trade, vocabulary: _Vocabulary) -> str | None:
    """The word of the trade that word i is repaired to, or None."""
    rule, core = trade.repairs.sound, cores[i]
    if rule is None or words[i].probability >= rule.probability or not core.isalpha() or len(core) < rule.letters - 1:
        return None
    base = singular(core)
    if core in vocabulary.known or base in vocabulary.known or _is_kept(core, trade) or _is_kept(base, trade):
        return None
    return _best(base, _neighbours(words, cores, i), core != base, rule, vocabulary)


def _neighbours(words: Sequence[Word], cores: Sequence[str], i: int) -> tuple[str, str]:
    """The words before and after word i, "" where punctuation or a number parts them."""
    before = cores[i - 1] if i and words[i - 1].word[-1] not in _TRAILING else ""
    after = cores[i + 1] if i + 1 < len(cores) and words[i].word[-1] not in _TRAILING else ""
    return ("" if _is_number(before) else before, "" if _is_number(after) else singular(after))


def _best(base: str, near: tuple[str, str], plural: bool, rule: Sound, vocabulary: _Vocabulary) -> str | None:
    scores = sorted(((_likeness(base, w, s), w) for w, s in vocabulary.targets.items()), reverse=True)
    if not scores or (len(scores) > 1 and scores[0][0] - scores[1][0] < rule.lead):
        return None
    score, word = scores[0]
    before, after = near
    named = (before, word) in vocabulary.pairs or (word, after) in vocabulary.pairs
    if score < (rule.score if named else rule.alone) or not (named or before in rule.articles):
        return None
    return word + "s" if plural and not word.endswith("s") else word


@lru_cache(maxsize=65536)
def _likeness(word: str, target: str, sound: str) -> float:
    """How alike two words are, 0..1: by metaphone and by letters."""
    import jellyfish
    from rapidfuzz import fuzz

    heard = fuzz.ratio(jellyfish.metaphone(word), sound) / 100
    return float(_SOUND_SHARE * heard + _LETTERS_SHARE * fuzz.ratio(word, target) / 100)


def _exchanged(old: Sequence[Word], new: Sequence[str]) -> list[Word]:
    """The words `new` in the place of `old`: its times, its doubt, its capital and the punctuation around it."""
    first, last = old[0].word, old[-1].word
    head = first[: len(first) - len(first.lstrip(_LEADING))]
    tail = last[len(last.rstrip(_TRAILING)) :]
    texts = list(new)
    if first[len(head) :][:1].isupper():
        texts[0] = texts[0].capitalize()
    texts[0], texts[-1] = head + texts[0], texts[-1] + tail if len(texts) > 1 else head + texts[0] + tail
    if len(texts) == len(old):
        return [w if _core(w.word) == _core(t) else replace(w, word=t) for w, t in zip(old, texts, strict=True)]
    doubt = min(w.probability for w in old)
    return list(spread(" ".join(texts), old[0].start, old[-1].end, probability=doubt))
