"""The words and measures of the renderings, from `templates/wording.toml` and `templates/pdf.toml`."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from voicereport import paths
from voicereport.errors import TemplateError

Table = Mapping[str, str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Wording:
    """All words shown to people. Tables go from a word of the contract to the word that is shown."""

    place: str  #: the file, for messages
    tables: Mapping[str, Table]  #: by name of the table: label, sentence, state, ...
    customer_work: tuple[str, ...]  #: actions a customer is told of
    customer_otherwise: tuple[str, ...]  #: actions told where none of customer_work was done
    customer_left_out: tuple[str, ...]  #: quantities that a customer is not told
    trims: Mapping[str, re.Pattern[str]]  #: by heading: words that a remark may start with and that are left away
    strip_down: tuple[str, ...]  #: actions of the strip-down list
    plurals: tuple[tuple[str, str], ...]  #: (ending, what replaces it), first match counts
    limits: Mapping[str, float]  #: numbers that decide a layout

    def word(self, table: str, key: str, **values: str) -> str:
        """The text for `key`, its braces filled. Raises TemplateError where the file has no such text."""
        try:
            text = self.tables[table][key]
            return text.format(**values) if values else text
        except (KeyError, IndexError, ValueError) as error:
            problem = f"[{table}] has no usable text {key!r} ({error})"
            raise TemplateError(self.place, problem, "add it, with the fields that the shipped file has") from error

    def label(self, key: str) -> str:
        """A heading or label."""
        return self.word("label", key)

    def sentence(self, key: str, **values: str) -> str:
        """A sentence, filled."""
        return self.word("sentence", key, **values)

    def plural(self, noun: str) -> str:
        """The plural of a noun, by the endings in the file."""
        for ending, becomes in self.plurals:
            if noun.endswith(ending):
                return noun[: len(noun) - len(ending)] + becomes
        return noun


def _leading(expressions: Iterable[str]) -> re.Pattern[str]:
    """Any of the expressions at the start of a text, as whole words, with what may be left out."""
    try:
        return re.compile(f"(?:{'|'.join(f'(?:{e})' for e in expressions)})(?=\\s)\\s*", re.IGNORECASE)
    except re.error as error:
        raise TypeError(f"a usable expression in [customer] trim ({error})") from error


def template_folders() -> tuple[Path, ...]:
    """Folders that are searched for templates, the user's own first."""
    return (paths.user_config_dir() / "templates", paths.templates_dir())


def find_template(name: str) -> Path:
    """The file of that name in the first folder that has it. Raises TemplateError."""
    for folder in template_folders():
        if (folder / name).is_file():
            return folder / name
    places = " and ".join(str(folder) for folder in template_folders())
    raise TemplateError(name, f"there is no such template in {places}", "install the package again")


def read_toml(name: str) -> tuple[str, dict[str, Any]]:
    """Path and content of a TOML file among the templates. Raises TemplateError."""
    path = find_template(name)
    try:
        return str(path), tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise TemplateError(str(path), f"cannot be read ({error})", "correct it, or remove your own copy") from error


def load_wording() -> Wording:
    """The wording, read from its file. Raises TemplateError for a file that lacks a table."""
    place, data = read_toml("wording.toml")
    try:
        return Wording(
            place=place,
            customer_work=tuple(data["customer"]["work"]),
            customer_otherwise=tuple(data["customer"]["work_otherwise"]),
            customer_left_out=tuple(data["customer"]["left_out"]),
            trims={key: _leading(value) for key, value in data["customer"]["trim"].items()},
            strip_down=tuple(data["reassembly"]["strip_down"]),
            plurals=tuple((rule["ending"], rule["becomes"]) for rule in data["plural"]),
            limits=data["limits"],
            tables={key: value for key, value in data.items() if isinstance(value, dict)},
        )
    except (KeyError, TypeError, AttributeError) as error:
        raise TemplateError(place, f"lacks {error}", "take it from the shipped file") from error
