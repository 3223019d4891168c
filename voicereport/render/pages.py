"""Views to HTML: Jinja2 with escaping always on, every name defined, nothing fetched."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import fields
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from voicereport.errors import TemplateError
from voicereport.render.audit import AuditView
from voicereport.render.customer import CustomerView
from voicereport.render.reassembly import ReassemblyView
from voicereport.render.wording import template_folders

if TYPE_CHECKING:
    from jinja2 import Environment

View = CustomerView | AuditView | ReassemblyView

# Names that a page gets besides the fields of its view
PAGE_NAMES = ("style", "style_hash", "script", "script_hash")


def page(name: str, view: View, *, script: str | None = None) -> str:
    """The page `name` of a view; `script`: name of the script to embed. Raises TemplateError."""
    from markupsafe import Markup

    environment = _environment(tuple(str(folder) for folder in template_folders()))
    values = view_values(view)
    style = _render(environment, "partials/record.css", {"paper": view.letterhead.paper})
    code = _render(environment, script, {}) if script else ""
    # Both come from files of the templates' folder and hold nothing of the report
    values |= {"style": Markup(style), "style_hash": _hash(style), "script": Markup(code), "script_hash": _hash(code)}
    return _render(environment, name, values)


def view_values(view: View) -> dict[str, Any]:
    """The fields of a view by name."""
    return {entry.name: getattr(view, entry.name) for entry in fields(view)}


def strip_svg(strip: object) -> str:
    """One strip as a stand-alone SVG drawing."""
    environment = _environment(tuple(str(folder) for folder in template_folders()))
    return _render(environment, "partials/strip.svg", {"strip": strip})


@lru_cache(maxsize=4)
def _environment(folders: tuple[str, ...]) -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(folders),
        autoescape=True,  # whatever the suffix
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def _render(environment: Environment, name: str, values: dict[str, Any]) -> str:
    from jinja2 import TemplateError as JinjaError

    try:
        return environment.get_template(name).render(values)
    except JinjaError as error:
        raise TemplateError(name, str(error), "correct it, or remove your own copy") from error


def _hash(content: str) -> str:
    """The source of a Content-Security-Policy that allows exactly this content."""
    return "sha256-" + base64.b64encode(hashlib.sha256(content.encode()).digest()).decode("ascii")
