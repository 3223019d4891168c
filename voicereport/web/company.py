"""What a company sets for itself: its letterhead, its wording, its limits, how long sound is kept."""

from __future__ import annotations

import json
import logging
import os
import re
import threading
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from voicereport import units
from voicereport.errors import SettingsError
from voicereport.render.letterhead import Letterhead
from voicereport.render.wording import Wording, load_wording
from voicereport.report import QuantityName, Stage
from voicereport.settings import Settings
from voicereport.trades import Trade
from voicereport.trades.limit_values import Limit, Limits, singular

_log = logging.getLogger("voicereport.web")

#: texts of a customer's report that a company may put in its own words: (table, key) of wording.toml
OWN_WORDS: tuple[tuple[str, str], ...] = (
    ("label", "report"), ("label", "reported"), ("label", "found"), ("label", "did"), ("label", "parts"),
    ("label", "readings"), ("label", "safety"), ("label", "open"), ("label", "advice"), ("label", "cautions"),
    ("sentence", "deference"), ("sentence", "nature"), ("sentence", "instructions"),
)  # fmt: skip


class OwnLimit(BaseModel):
    """A limit of the company's own, which comes before those of the trade."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    title: str = Field(min_length=1, max_length=120)
    quantity: QuantityName
    subject: str = Field(default="", max_length=120)
    unit: str
    low: float | None = None
    high: float | None = None
    stage: Stage | None = None
    source: str = Field(min_length=1, max_length=200)

    @field_validator("unit")
    @classmethod
    def _known_unit(cls, value: str) -> str:
        try:
            units.dimension(value)
        except units.UnitError as error:
            raise ValueError("unit") from error
        return value

    @model_validator(mode="after")
    def _some_bound(self) -> OwnLimit:
        if self.low is None and self.high is None:
            raise ValueError("bound")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError("order")
        return self


class Company(BaseModel):
    """All that a company sets."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    company: str = Field(default="", max_length=200)
    address: str = Field(default="", max_length=500)
    phone: str = Field(default="", max_length=60)
    licence: str = Field(default="", max_length=120)
    paper: Literal["a4", "us-letter"] = "a4"
    profile: Literal["US", "UK"] = "US"
    keep_days: int | None = Field(default=None, ge=1, le=36_500)  #: sound is deleted after so long; None = never
    wording: Mapping[str, str] = Field(default_factory=dict)  #: "label.reported" -> text
    limits: tuple[OwnLimit, ...] = ()

    @field_validator("wording")
    @classmethod
    def _known_words(cls, value: Mapping[str, str]) -> Mapping[str, str]:
        known = {f"{table}.{key}" for table, key in OWN_WORDS}
        return {key: text.strip()[:1000] for key, text in value.items() if key in known and text.strip()}

    def letterhead(self, language: str = "en") -> Letterhead:
        """What stands at the top of a customer's report."""
        lines = tuple(line.strip() for line in self.address.splitlines() if line.strip())
        return Letterhead(company=self.company, address=lines, phone=self.phone, licence=self.licence,
                          paper=self.paper, language=language)  # fmt: skip

    def own_wording(self) -> Wording:
        """The wording of the renderings with the company's own texts in it."""
        shipped = load_wording()
        tables = {name: dict(table) for name, table in shipped.tables.items()}
        for place, text in self.wording.items():
            table, _, key = place.partition(".")
            tables[table][key] = text  # none of these has fields to fill
        return replace(shipped, tables=tables)

    def own_trade(self, trade: Trade) -> Trade:
        """The trade with the company's limits before its own."""
        if not self.limits:
            return trade
        shipped = trade.limits or Limits()
        own = tuple(_limit(limit, f"own-{n}") for n, limit in enumerate(self.limits))
        groups = {f"own-{n}": (_phrase(limit.subject),) for n, limit in enumerate(self.limits) if limit.subject}
        limits = replace(shipped, limits=(*own, *shipped.limits), subjects={**shipped.subjects, **groups})
        return replace(trade, limits=limits)


def _phrase(subject: str) -> tuple[str, ...]:
    """A subject as the words that a reading's subject must hold one after the other."""
    return tuple(singular(word) for word in re.findall(r"[\w-]+", subject.lower()))


def _limit(own: OwnLimit, group: str) -> Limit:
    """The limit as the checks read it; `group`: the name of its subjects."""
    return Limit(
        id=group, title=own.title, quantity=own.quantity, unit=own.unit, source=own.source, status="V",
        why=own.source, subjects=(group,) if own.subject else (), low=own.low, high=own.high,
        stage=own.stage,
    )  # fmt: skip


def company_of(settings: Settings) -> Company:
    """What the settings of a run say, before anybody set anything."""
    own = settings.letterhead
    return Company(company=own.company, address=own.address, phone=own.phone, licence=own.licence,
                   paper=settings.paper, profile=settings.profile)  # fmt: skip


class CompanyFile:
    """Where a company's own is kept: a file that is written whole, or memory where there is no folder.

    Several processes may serve one store: each sees at once what another has put.
    """

    def __init__(self, folder: Path | None, settings: Settings) -> None:
        self._path = folder / "company.json" if folder is not None else None
        self._lock = threading.Lock()
        self._settings = settings
        self._mark = self._look()
        self._now = self._read(settings)

    def get(self) -> Company:
        """What holds. A file that somebody spoilt meanwhile is told of in the log; what held before it holds."""
        mark = self._look()
        if mark != self._mark:
            with self._lock:
                self._mark = mark
                try:
                    self._now = self._read(self._settings)
                except SettingsError as error:
                    _log.error("%s", error)
        return self._now

    def put(self, company: Company) -> None:
        """Keep it. Raises OSError where it cannot be written; then what held before holds."""
        with self._lock:
            if self._path is not None:
                unfinished = self._path.with_suffix(".unfinished")
                with unfinished.open("w", encoding="utf-8") as file:
                    file.write(json.dumps(company.model_dump(mode="json"), indent=1, ensure_ascii=False) + "\n")
                    file.flush()
                    os.fsync(file.fileno())
                unfinished.replace(self._path)
            self._mark, self._now = self._look(), company

    def _look(self) -> tuple[int, int, int] | None:
        """What tells one state of the file from another; None = there is no file."""
        try:
            found = self._path.stat() if self._path is not None else None
        except OSError:
            return None
        return (found.st_mtime_ns, found.st_size, found.st_ino) if found is not None else None

    def _read(self, settings: Settings) -> Company:
        if self._path is None or not self._path.exists():
            return company_of(settings)
        try:
            return Company.model_validate_json(self._path.read_bytes())
        except (OSError, ValidationError) as error:
            fault = str(error).splitlines()[0]
            raise SettingsError(str(self._path), f"cannot be used ({fault})", "correct it, or remove it") from error


QUANTITIES: tuple[str, ...] = get_args(QuantityName)
