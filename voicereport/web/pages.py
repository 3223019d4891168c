"""Templates to pages: escaping always on, every name defined, static files named by their digest."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from voicereport.errors import TemplateError
from voicereport.render import text
from voicereport.render.wording import find_template, template_folders

if TYPE_CHECKING:
    from jinja2 import Environment

STATIC = {
    "style.css": ("text/css; charset=utf-8", ("partials/record.css", "web/static/style.css")),
    "play.js": ("text/javascript; charset=utf-8", ("web/static/play.js",)),
    "keys.js": ("text/javascript; charset=utf-8", ("web/static/keys.js",)),
    "mark.svg": ("image/svg+xml", ("web/static/mark.svg",)),
    "progress.js": ("text/javascript; charset=utf-8", ("web/static/progress.js",)),
    "technician.css": ("text/css; charset=utf-8", ("web/technician/technician.css",)),
    "tap.js": ("text/javascript; charset=utf-8", ("web/technician/tap.js",)),
    "shelf.js": ("text/javascript; charset=utf-8", ("web/technician/shelf.js",)),
    "recorder.js": ("text/javascript; charset=utf-8", ("web/technician/recorder.js",)),
    "line.js": ("text/javascript; charset=utf-8", ("web/technician/line.js",)),
    "technician.js": ("text/javascript; charset=utf-8", ("web/technician/technician.js",)),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class StaticFile:
    """A file that every page may load."""

    name: str
    digest: str  #: first 16 hexadecimal digits of SHA-256
    kind: str  #: media type
    content: bytes
    address: str = field(default="")


@lru_cache(maxsize=1)
def static_files() -> Mapping[str, StaticFile]:
    """The static files by name. Raises TemplateError where one is lacking."""
    files = {}
    for name, (kind, sources) in STATIC.items():
        parts = [_source(source) for source in sources]
        content = "\n".join(parts).encode()
        digest = hashlib.sha256(content).hexdigest()[:16]
        files[name] = StaticFile(
            name=name, digest=digest, kind=kind, content=content, address=f"/static/{digest}/{name}"
        )
    return files


def _source(name: str) -> str:
    if name.startswith("partials/"):
        return environment().get_template(name).render(paper="a4")
    return find_template(name).read_text(encoding="utf-8")


@lru_cache(maxsize=1)
def environment() -> Environment:
    """The templates of the pages."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader([str(folder) for folder in template_folders()]),
        autoescape=True,  # whatever the suffix
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"shown": _shown, "moment": _moment, "clock": text.clock, "number": text.number,
                     "capital": text.capital, "day": _day, "initials": text.initials, "size": _size}  # fmt: skip
    made.globals |= {"words": words(), "static": _static_address}
    return made


def _static_address(name: str) -> str:
    return static_files()[name].address


def _shown(value: object) -> str:
    """Anything as text in which every character can be seen."""
    return "" if value is None else text.shown(str(value))


def local(at: datetime) -> datetime:
    """A time by the clock of the place where the server stands."""
    return at.astimezone()


def _moment(value: object) -> str:
    return "" if value is None else text.moment(str(local(value) if isinstance(value, datetime) else value))


def _day(value: object) -> str:
    return _moment(value)[:10]


def _size(value: int) -> str:
    """Bytes in decimal units, one decimal from a megabyte on where it says something."""
    for unit, of in (("GB", 1e9), ("MB", 1e6)):
        if value >= of:
            told = f"{value / of:.1f}".removesuffix(".0")
            return f"{told}{text.NO_BREAK}{unit}"
    return f"{value / 1000:.0f}{text.NO_BREAK}kB" if value >= 1000 else f"{value}{text.NO_BREAK}B"


@lru_cache(maxsize=1)
def words() -> Mapping[str, Any]:
    """The sentences and labels of the pages, from web/words.toml. Raises TemplateError."""
    path = find_template("web/words.toml")
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise TemplateError(str(path), f"cannot be read ({error})", "correct it, or remove your own copy") from error


def say(table: str, key: str, **values: object) -> str:
    """The sentence `key` of a table of web/words.toml, its braces filled. Raises TemplateError."""
    try:
        return str(words()[table][key]).format(**values) if values else str(words()[table][key])
    except (KeyError, IndexError, ValueError) as error:
        problem = f"[{table}] has no usable text {key!r} ({error})"
        raise TemplateError("web/words.toml", problem, "take it from the shipped file") from error


def render(name: str, values: Mapping[str, Any]) -> str:
    """The page `web/NAME` of its values. Raises TemplateError."""
    from jinja2 import TemplateError as JinjaError

    try:
        return environment().get_template(f"web/{name}").render(dict(values))
    except JinjaError as error:
        raise TemplateError(f"web/{name}", str(error), "correct it, or remove your own copy") from error
