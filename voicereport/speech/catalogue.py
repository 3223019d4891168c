"""models/speech.toml as values."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

from voicereport import paths
from voicereport.errors import WeightsError
from voicereport.speech.doubt import DoubtModel
from voicereport.speech.segments import StopWords

EngineName = Literal["faster-whisper", "openai-whisper"]


@dataclass(frozen=True, kw_only=True, slots=True)
class WeightsFile:
    """A file of a set of weights."""

    name: str
    bytes: int  #: 0 = not known
    sha256: str
    packages: tuple[str, ...]  #: "module/path" in installed packages; several are parts, joined in order


@dataclass(frozen=True, kw_only=True, slots=True)
class Adapter:
    """Changes to published weights that were trained here."""

    path: str  #: below models/
    sha256: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Weights:
    """A set of weights for one engine."""

    name: str
    engine: EngineName
    languages: tuple[str, ...]  #: ("*",) = many
    licence: str
    source: str
    download: str
    files: tuple[WeightsFile, ...]
    published: str  #: name of the weights without what is added to them, and of the folder that their files lie in
    made_from: str | None = None  #: name of the other engine's weights that these can be made from
    adapter: Adapter | None = None  #: what is added to the published file; None also where made_from has it

    @property
    def as_published(self) -> bool:
        """Whether nothing is added to them, here or in those that they are made from."""
        return self.name == self.published

    @property
    def version(self) -> str:
        """Another one where what is added to the published file is another."""
        return self.adapter.sha256 if self.adapter else ""

    def knows(self, language: str) -> bool:
        """Whether the weights know a language."""
        return "*" in self.languages or language in self.languages


@dataclass(frozen=True, kw_only=True, slots=True)
class Catalogue:
    """All of models/speech.toml."""

    weights: tuple[Weights, ...]
    first: dict[str, str]  #: weights that read everything, by engine
    second: dict[str, str]  #: weights that look again, by engine
    number_words: dict[str, int]
    watched_words: frozenset[str]
    units: frozenset[str]  #: in the second look
    same: dict[str, str]  #: words that count as another in the second look
    doubt: DoubtModel  #: how likely a number was heard wrongly
    stops: StopWords  #: where a comma may be a full stop
    invented: frozenset[str]  #: phrases, lower case, without punctuation

    def named(self, name: str, engine: EngineName) -> Weights:
        """The weights of that name. Raises WeightsError, which lists the known ones."""
        for weights in self.weights:
            if weights.name == name and weights.engine == engine:
                return weights
        known = ", ".join(w.name for w in self.weights if w.engine == engine)
        raise WeightsError(f"weights '{name}'", f"are not known for {engine}", f"known are: {known}")

    def usual(self, engine: EngineName, language: str, *, second: bool = False) -> str:
        """The name of the weights that read everything, or look again, where none are asked for: as they were published
        where those that were adapted do not know the language."""
        weights = self.named((self.second if second else self.first)[engine], engine)
        return weights.name if weights.knows(language) else weights.published


@lru_cache(maxsize=1)
def catalogue() -> Catalogue:
    """The shipped catalogue. Raises WeightsError where it cannot be read."""
    path = paths.models_dir() / "speech.toml"
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
        return Catalogue(
            weights=tuple(made for row in data["weights"] for made in _weights(row)),
            first={engine: row["first"] for engine, row in data["defaults"].items()},
            second={engine: row["second"] for engine, row in data["defaults"].items()},
            number_words={word: int(value) for word, value in data["second_look"]["numbers"]},
            watched_words=frozenset(data["second_look"]["words"]),
            units=frozenset(data["second_look"]["units"]),
            same=dict(data["second_look"]["same"]),
            doubt=DoubtModel(
                bias=float(data["doubt"]["bias"]),
                doubtful=float(data["doubt"]["doubtful"]),
                weights={name: float(weight) for name, weight in data["doubt"]["weights"].items()},
            ),
            stops=StopWords(**{name: frozenset(words) for name, words in data["sentences"].items()}),
            invented=frozenset(data["invented"]["phrases"]),
        )
    except (OSError, tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise WeightsError(str(path), f"cannot be used ({error!r})", "install voicereport again") from error


def _weights(row: dict[str, Any]) -> Iterator[Weights]:
    """The weights of a table as they were published, then those that are adapted from them."""
    published = Weights(
        name=row["name"],
        engine=row["engine"],
        languages=tuple(row["languages"]),
        licence=row["licence"],
        source=row["source"],
        download=row["download"],
        made_from=row.get("made_from"),
        files=tuple(WeightsFile(**(f | {"packages": tuple(f["packages"])})) for f in row["files"]),
        published=row["name"],
    )
    yield published
    for own in row.get("adapted", ()):
        origin = own.get("made_from")
        yield replace(
            published,
            name=own["name"],
            languages=tuple(own["languages"]),
            licence=f"{published.licence}; of what is added, {own['licence']}",
            adapter=None if origin else Adapter(path=own["path"], sha256=own["sha256"]),
            files=() if origin else published.files,
            made_from=origin,
        )
