"""The words of a trade: things and their kinds, verbs and their senses, cues; read from TOML, looked up fast."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, get_args

from voicereport.errors import PackError
from voicereport.report import Action, ItemKind, StepStatus
from voicereport.trades.screens import Screen

KINDS = frozenset(get_args(ItemKind))
ACTIONS = frozenset(get_args(Action))
STATUSES = frozenset(get_args(StepStatus))
SENSES = ACTIONS | {"out", "in", "unplug", "plug", "fit", "check", "unclip"}
#: words that end in s and are singular, and plurals that no rule makes
_AS_IS = frozenset(
    {"lens", "gas", "mains", "chassis", "harness", "bypass", "glass", "torch", "bus", "press", "brass", "grass"}
)
_IRREGULAR = {"shelves": "shelf", "halves": "half", "feet": "foot", "boxes": "box", "switches": "switch",
              "latches": "latch", "brushes": "brush", "assemblies": "assembly", "batteries": "battery",
              "bushes": "bush", "hatches": "hatch", "harnesses": "harness", "fuses": "fuse", "hoses": "hose",
              "cases": "case", "lenses": "lens", "ties": "tie"}  # fmt: skip


@lru_cache(maxsize=20_000)
def singular(word: str) -> str:
    """The singular of an English noun, lower case; a word that is none comes back as it is."""
    if word in _AS_IS or len(word) < 4:
        return word
    if word in _IRREGULAR:
        return _IRREGULAR[word]
    if word.endswith("ies"):
        return word[:-3] + "y"
    return word[:-1] if word.endswith("s") and not word.endswith(("ss", "us", "is")) else word


@dataclass(frozen=True, kw_only=True, slots=True)
class Thing:
    """What a noun or a whole name stands for."""

    name: str | None  #: the name that is reported; None = as spoken
    kind: ItemKind
    classes: frozenset[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Supply:
    """Something that feeds the appliance and can be shut off."""

    name: str
    words: frozenset[str]
    bare: frozenset[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Cue:
    """A cue for what the words commit the speaker to."""

    status: StepStatus
    why: str
    pattern: re.Pattern[str]
    unless: re.Pattern[str] | None
    sentence: bool  #: True: it reaches over the whole sentence


@dataclass(frozen=True, kw_only=True, slots=True)
class Phrase:
    """A whole phrase that names an act."""

    act: Action
    part: str
    pattern: re.Pattern[str]
    unless: re.Pattern[str] | None
    imperative: re.Pattern[str] | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Words:
    """All words that a trade knows."""

    heads: Mapping[tuple[str, ...], Thing]
    parts: Mapping[tuple[str, ...], Thing]
    supplies: tuple[Supply, ...]
    not_parts: frozenset[str]
    appliances: frozenset[str]
    others: frozenset[str]
    lamps: frozenset[str]
    verbs: Mapping[str, tuple[VerbForm, ...]]
    states: Mapping[str, str]
    cues: tuple[Cue, ...]
    phrases: tuple[Phrase, ...]
    lists: Mapping[str, re.Pattern[str]] = field(default_factory=dict)
    longest: int = 4
    _cue_screen: Screen = field(init=False, repr=False, compare=False)
    _phrase_screen: Screen = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_cue_screen", Screen(cue.pattern.pattern for cue in self.cues))
        object.__setattr__(self, "_phrase_screen", Screen(phrase.pattern.pattern for phrase in self.phrases))

    def cues_for(self, text: str) -> list[Cue]:
        """The cues that may stand in `text`, in their order."""
        return [self.cues[n] for n in self._cue_screen.may_match(text)]

    def phrases_for(self, text: str) -> list[Phrase]:
        """The phrases that may stand in `text`, in their order."""
        return [self.phrases[n] for n in self._phrase_screen.may_match(text)]

    def thing(self, words: Iterable[str]) -> Thing | None:
        """The thing that a name (a sequence of words, singular) stands for: by whole name, then by its head."""
        name = tuple(words)
        if name in self.parts:
            return self.parts[name]
        for start in range(len(name)):
            tail = name[start:]
            if tail in self.heads:
                return self.heads[tail]
            if start and tail in self.parts:
                found = self.parts[tail]
                return Thing(name=None, kind=found.kind, classes=found.classes)
        return None

    def _lookup(self, part: str) -> Thing | None:
        return self.thing(singular(w) for w in re.findall(r"[\w%-]+", part.lower()))

    def kind_of(self, part: str) -> ItemKind:
        """The kind of a named thing; an unknown one is a part."""
        found = self._lookup(part)
        return found.kind if found else "part"

    def closes(self, part: str) -> bool:
        """Whether a part closes something off: a cover, or a trim over nothing live."""
        return not self.classes_of(part).isdisjoint(("cover", "trim"))

    def classes_of(self, part: str) -> frozenset[str]:
        """The classes of a named thing, such as cover, electrical, harness; empty for an unknown one."""
        name = part.lower().strip()
        if any(name == s.name for s in self.supplies):
            return frozenset({"supply"})
        found = self._lookup(part)
        return found.classes if found else frozenset()


@dataclass(frozen=True, kw_only=True, slots=True)
class VerbForm:
    """One form of a verb with what it says."""

    tense: str  #: base | s | past | part | ing
    particles: frozenset[str]  #: empty = stands alone; {"*"} = any or none
    sense: str


def _forms(base: str, past: str | None, part: str | None) -> dict[str, list[str]]:
    """The forms of a verb, {form: [tenses]}."""
    vowels = "aeiou"
    double = (len(base) > 2 and base[-1] not in vowels + "wxy" and base[-2] in vowels and base[-3] not in vowels
              and (len(base) <= 4 or base in {"unclip", "refit", "replug", "unplug", "reclip"}))  # fmt: skip
    stem = base + base[-1] if double else base[:-1] if base.endswith("e") and not base.endswith("ee") else base
    ed = stem[:-1] + "ied" if base.endswith("y") and base[-2] not in vowels else stem + "ed"
    s = base[:-1] + "ies" if ed.endswith("ied") else base + "s"
    if base.endswith(("s", "sh", "ch", "x", "o")):
        s = base + "es"
    out: dict[str, list[str]] = {}
    for tense, form in (("base", base), ("s", s), ("past", past or ed), ("part", part or past or ed),
                        ("ing", (base + "ing") if base.endswith("ee") else stem + "ing")):  # fmt: skip
        out.setdefault(form, []).append(tense)
    return out


def _verbs(rows: Iterable[Mapping[str, Any]]) -> dict[str, tuple[VerbForm, ...]]:
    table: dict[str, list[VerbForm]] = {}
    for row in rows:
        for entry in row["v"].split(","):
            words = entry.split()
            base, past, part = [*words, None, None][:3] if words else (None, None, None)
            if base is None:
                continue
            for form, tenses in _forms(base, past, part).items():
                for tense in tenses:
                    table.setdefault(form, []).append(
                        VerbForm(tense=tense, particles=frozenset(row["p"].split()), sense=row["s"])
                    )
    return {form: tuple(found) for form, found in table.items()}


def _one_of(patterns: Iterable[str]) -> re.Pattern[str] | None:
    joined = "|".join(f"(?:{p})" for p in patterns if p)
    return re.compile(joined) if joined else None


def _key(name: str) -> tuple[str, ...]:
    return tuple(singular(w) for w in re.findall(r"[\w%-]+", name.lower()))


class _Reader:
    """Reads the files of one trade's words, keeping every fault."""

    def __init__(self) -> None:
        self.faults: list[str] = []

    def toml(self, path: Path) -> dict[str, Any]:
        try:
            return tomllib.loads(path.read_text(encoding="utf-8"))
        except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            self.faults.append(f"{path.name}: {error}")
            return {}

    def keys(self, where: str, row: Mapping[str, Any], allowed: str) -> None:
        unknown = sorted(set(row) - set(allowed.split()))
        if unknown:
            self.faults.append(f"{where}: unknown {', '.join(unknown)}; allowed: {allowed}")

    def pattern(self, where: str, row: Mapping[str, Any], key: str) -> re.Pattern[str] | None:
        try:
            return _one_of(row.get(key, ()))
        except re.error as error:
            self.faults.append(f"{where}: {key}: {error}")
            return None


def _things(reader: _Reader, path: Path, data: Mapping[str, Any]) -> tuple[dict[tuple[str, ...], Thing], ...]:
    heads: dict[tuple[str, ...], Thing] = {}
    parts: dict[tuple[str, ...], Thing] = {}
    for n, row in enumerate(data.get("heads", ())):
        where = f"{path.name}: heads {n + 1}"
        reader.keys(where, row, "words kind classes")
        if row.get("kind") not in KINDS:
            reader.faults.append(f"{where}: kind {row.get('kind')!r} is not one of {', '.join(sorted(KINDS))}")
            continue
        thing = Thing(name=None, kind=row["kind"], classes=frozenset(row.get("classes", ())))
        heads |= {_key(w): thing for w in row.get("words", ())}
    for row in data.get("parts", ()):
        where = f"{path.name}: part {row.get('name')!r}"
        reader.keys(where, row, "name spoken kind classes")
        key = _key(row.get("name", ""))
        head = next((heads[key[i:]] for i in range(len(key)) if key[i:] in heads), None)
        kind = row.get("kind") or (head.kind if head else "part")
        if kind not in KINDS:
            reader.faults.append(f"{where}: kind {kind!r} is not one of {', '.join(sorted(KINDS))}")
            continue
        classes = row.get("classes", head.classes if head else ())
        thing = Thing(name=row.get("name"), kind=kind, classes=frozenset(classes))
        parts |= {_key(w): thing for w in (row.get("name", ""), *row.get("spoken", ()))}
    return heads, parts


def _cues(reader: _Reader, path: Path, data: Mapping[str, Any]) -> tuple[Cue, ...]:
    cues = []
    for n, row in enumerate(data.get("cues", ())):
        where = f"{path.name}: cues {n + 1} ({row.get('why')})"
        reader.keys(where, row, "status why any unless reach")
        pattern = reader.pattern(where, row, "any")
        if row.get("status") not in STATUSES or pattern is None:
            reader.faults.append(f"{where}: needs a status of the contract and expressions in `any`")
            continue
        unless, sentence = reader.pattern(where, row, "unless"), row.get("reach") == "sentence"
        cues.append(
            Cue(status=row["status"], why=row.get("why", ""), pattern=pattern, unless=unless, sentence=sentence)
        )
    return tuple(cues)


def _phrases(reader: _Reader, path: Path, data: Mapping[str, Any]) -> tuple[Phrase, ...]:
    phrases = []
    for n, row in enumerate(data.get("phrases", ())):
        where = f"{path.name}: phrases {n + 1} ({row.get('act')} {row.get('part')})"
        reader.keys(where, row, "act part any unless imperative")
        pattern = reader.pattern(where, row, "any")
        if row.get("act") not in ACTIONS or pattern is None:
            reader.faults.append(f"{where}: needs an act of the contract and expressions in `any`")
            continue
        phrases.append(Phrase(act=row["act"], part=row.get("part", ""), pattern=pattern,
                              unless=reader.pattern(where, row, "unless"),
                              imperative=reader.pattern(where, row, "imperative")))  # fmt: skip
    return tuple(phrases)


def _merged(reader: _Reader, folder: Path, root: Path) -> dict[str, Any]:
    """words.toml of a trade, with those it includes before it."""
    data = reader.toml(folder / "words.toml")
    lists = ("heads", "parts", "not_parts", "appliances", "others", "lamps")
    merged: dict[str, Any] = {"supply": {}} | {key: [] for key in lists}
    sources = [_merged(reader, root / name, root) for name in data.get("include", ())] + [data]
    for source in sources:
        for key in ("heads", "parts", "not_parts", "appliances", "lamps"):
            merged[key] = merged[key] + list(source.get(key, ()))
        merged["others"] = list(source.get("others", merged["others"]))
        merged["supply"] = merged["supply"] | source.get("supply", {})
        merged["phrases_of"] = [*merged.get("phrases_of", []), *source.get("phrases_of", [])]
    merged["phrases_of"].append(folder)
    reader.keys(f"{folder.name}/words.toml", data, "include heads parts supply not_parts appliances others lamps")
    return merged


def load_words(folder: Path) -> Words:
    """The words of the trade in `folder`, with those of `common` beside it.

    Raises PackError that lists every fault of every file.
    """
    reader = _Reader()
    common = folder.parent / "common"
    data = _merged(reader, folder, folder.parent)
    heads, parts = _things(reader, folder / "words.toml", data)
    actions = reader.toml(common / "actions.toml")
    cues_data = reader.toml(common / "cues.toml")
    phrases: tuple[Phrase, ...] = ()
    for file in [f / "phrases.toml" for f in data["phrases_of"]] + [common / "phrases.toml"]:
        if file.is_file():
            phrases += _phrases(reader, file, reader.toml(file))
    for n, row in enumerate(actions.get("verbs", ())):
        reader.keys(f"actions.toml: verbs {n + 1}", row, "v p s")
        if row.get("s") not in SENSES:
            reader.faults.append(f"actions.toml: verbs {n + 1}: sense {row.get('s')!r} is not known")
    cues = _cues(reader, common / "cues.toml", cues_data)
    lists = {}
    for group in ("corrections", "answers", "chatter", "other_time"):
        for key in cues_data.get(group, {}):
            pattern = reader.pattern(f"cues.toml: {group}", cues_data[group], key)
            if pattern is not None:
                lists[f"{group}.{key}"] = pattern
    supplies = tuple(
        Supply(name=row["name"], words=frozenset(row.get("words", ())), bare=frozenset(row.get("bare", ())))
        for row in data["supply"].values()
    )
    if reader.faults:
        raise PackError(str(folder), "; ".join(reader.faults), "correct the entries named")
    return Words(
        heads=heads, parts=parts, supplies=supplies, not_parts=frozenset(data["not_parts"]),
        appliances=frozenset(data["appliances"]), others=frozenset(data["others"]), lamps=frozenset(data["lamps"]),
        verbs=_verbs(actions.get("verbs", ())), states=dict(actions.get("states", {})), cues=cues, phrases=phrases,
        lists=lists, longest=max((len(k) for k in (*heads, *parts)), default=1),
    )  # fmt: skip
