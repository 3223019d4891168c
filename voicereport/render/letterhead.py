"""What stands at the top of a customer's report, and how the page is cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from voicereport.errors import TemplateError

Paper = Literal["a4", "us-letter"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Letterhead:
    """The sender of a report. An empty text leaves its line out; there is no logo.

    Raises TemplateError for a paper that is not known.
    """

    company: str = ""
    address: tuple[str, ...] = ()  #: one line each
    phone: str = ""
    licence: str = ""  #: number of a trade licence
    paper: Paper = "a4"
    language: str = "en"  #: of the page, a BCP 47 tag

    def __post_init__(self) -> None:
        if self.paper not in get_args(Paper):
            known = " or ".join(get_args(Paper))
            raise TemplateError("letterhead", f"paper {self.paper!r} is not known", f"use {known}")
