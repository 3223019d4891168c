"""The forms of entries: which fields an entry has, what stands in them, and the edit that they make."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

from voicereport import units
from voicereport.errors import VoiceReportError
from voicereport.render.figures import unit_sign
from voicereport.render.wording import load_wording
from voicereport.report import Action, NoteKind, Qualifier, QuantityName, Reference, Report, Stage, StepStatus
from voicereport.store.values import Edit
from voicereport.web.pages import say

FieldKind = Literal["line", "area", "number", "whole", "choice"]


class FieldError(VoiceReportError):
    """A field that cannot be used as it was typed."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Field:
    """One field of a form."""

    name: str
    label: str
    kind: FieldKind
    value: str = ""
    options: tuple[tuple[str, str], ...] = ()  #: (value, label) of a choice


@dataclass(frozen=True, kw_only=True, slots=True)
class EntryForm:
    """The form of one entry, in its place."""

    path: str  #: JSON pointer of the entry, or of the end of its list
    section: str
    adding: bool
    fields: tuple[Field, ...]
    strikable: bool
    faults: tuple[str, ...] = ()
    why: str = ""


def _told(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def _choices(table: str, keys: Sequence[str]) -> tuple[tuple[str, str], ...]:
    wording = load_wording()
    return tuple((key, wording.tables[table].get(key, key)) for key in keys)


def _actions() -> tuple[tuple[str, str], ...]:
    labels = say_table("action")
    return tuple((key, labels[key]) for key in get_args(Action))


def say_table(name: str) -> Mapping[str, str]:
    """A table of web/words.toml."""
    from voicereport.web.pages import words

    table: Mapping[str, str] = words()[name]
    return table


def _units() -> tuple[tuple[str, str], ...]:
    return (("", ""), *((code, unit_sign(code) or code) for code in units.UNITS))


def _optional(choices: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    return (("", say("form", "not_said")), *choices)


def _layout(section: str) -> tuple[tuple[str, FieldKind, tuple[tuple[str, str], ...]], ...]:
    statuses = _choices("step_status", get_args(StepStatus))
    if section in ("complaint", "findings", "cause", "correction", "recommendations"):
        return (("text", "area", ()), ("status", "choice", statuses))
    if section == "steps":
        return (("action", "choice", _actions()), ("part", "line", ()), ("count", "number", ()), ("holds", "line", ()),
                ("location", "line", ()), ("status", "choice", statuses), ("visit", "whole", ()))  # fmt: skip
    if section == "readings":
        stages = _optional(_choices("stage", get_args(Stage)))
        return (("quantity", "choice", _choices("quantity", get_args(QuantityName))), ("subject", "line", ()),
                ("value", "number", ()), ("value_high", "number", ()), ("unit", "choice", _units()),
                ("qualifier", "choice", _qualifiers()), ("stage", "choice", stages),
                ("reference", "choice", _optional(_choices("reference", get_args(Reference)))))  # fmt: skip
    if section == "parts_used":
        return (("part", "line", ()), ("part_number", "line", ()), ("quantity", "number", ()))
    if section == "notes":
        return (("kind", "choice", _choices("note", get_args(NoteKind))), ("about", "line", ()), ("text", "area", ()))
    if section == "ledger":
        return (("count_out", "number", ()), ("count_in", "number", ()), ("orientation", "line", ()),
                ("explained", "line", ()))  # fmt: skip
    return ()


def _qualifiers() -> tuple[tuple[str, str], ...]:
    labels = say_table("qualifier")
    return tuple((key, labels[key]) for key in get_args(Qualifier))


JOB_FIELDS = ("work_order", "recorded_at", "technician", "customer", "site", "job_type", "appliance/kind",
              "appliance/maker", "appliance/model", "appliance/serial", "labour_min")  # fmt: skip
_DEFAULTS = {"status": "done", "visit": "1", "quantity": "1", "qualifier": "exact"}
_MUST = {"text", "part", "action", "count_out", "count_in"}
ADDABLE = ("complaint", "findings", "cause", "correction", "recommendations", "parts_used", "readings", "steps",
           "notes")  # fmt: skip


def form_for(report: Report, change: str, add: str) -> EntryForm | None:
    """The form that a page was asked for: of an entry by its pointer, or of a new one by its section."""
    if add in ADDABLE:
        fields = tuple(_field(name, kind, options, _DEFAULTS.get(name, "") if add != "readings" or name != "quantity"
                              else "resistance") for name, kind, options in _layout(add))  # fmt: skip
        return EntryForm(path=f"/{add}/-", section=add, adding=True, fields=fields, strikable=False)
    if change == "/job":
        return _job_form(report)
    found = entry_at(report, change)
    if found is None:
        return None
    section, entry = found
    fields = tuple(_field(name, kind, options, _told(entry.get(name))) for name, kind, options in _layout(section))
    if not fields:
        return None
    return EntryForm(path=change, section=section, adding=False, fields=fields, strikable=section != "ledger")


def _field(name: str, kind: FieldKind, options: tuple[tuple[str, str], ...], value: str) -> Field:
    if kind == "choice" and value not in {key for key, _ in options}:
        options = (*options, (value, value))
    return Field(name=name, label=say("field", name.replace("/", "_")), kind=kind, value=value, options=options)


def _job_form(report: Report) -> EntryForm:
    fields = []
    for name in JOB_FIELDS:
        said = _job_value(report, name)
        kind: FieldKind = "number" if name == "labour_min" else "line"
        fields.append(_field(name, kind, (), "" if said is None else _told(said.value)))
    return EntryForm(path="/job", section="job", adding=False, fields=tuple(fields), strikable=False)


def _job_value(report: Report, name: str) -> Any:
    first, _, second = name.partition("/")
    value = getattr(report.job, first)
    return getattr(value, second) if second else value


def entry_at(report: Report, path: str) -> tuple[str, dict[str, Any]] | None:
    """Section and fields of the entry at a pointer; None where there is none that may be changed."""
    parts = path.strip("/").split("/")
    number = parts[-1]
    if not (number.isascii() and number.isdigit()) or len(number) > 6:
        return None
    rows: Sequence[Any]
    if parts[:2] == ["ledger", "items"] and len(parts) == 3:
        rows, section = report.ledger.items, "ledger"
    elif len(parts) == 2 and parts[0] in ADDABLE:
        rows, section = getattr(report, parts[0]), parts[0]
    else:
        return None
    return (section, rows[int(number)].model_dump(mode="json")) if int(number) < len(rows) else None


def edits_of(report: Report, path: str, typed: Mapping[str, str], why: str, *, strike: bool) -> tuple[Edit, ...]:
    """The edits that a form makes. Raises FieldError for a field that cannot be used, or a place that is none."""
    if path == "/job":
        return _job_edits(report, typed, why)
    section = path.strip("/").split("/")[0]
    adding = path == f"/{section}/-" and section in ADDABLE
    found = None if adding else entry_at(report, path)
    if not adding and found is None:
        raise FieldError(path, say("form", "no_place"))
    if strike:
        return (_strike(path, found, why),)
    values = {name: _value(name, kind, options, typed.get(name, "")) for name, kind, options in _layout(section)}
    if section == "ledger" and found is not None:
        return _ledger_edits(report, path, found[1], values, why)
    if section == "readings":
        values = _reading(values, found[1] if found else None, typed)
    if found is None:
        return (Edit(kind="add", path=path, value=values, why=why),)
    return (Edit(kind="change", path=path, value={**found[1], **values}, why=why),)


def _strike(path: str, found: tuple[str, dict[str, Any]] | None, why: str) -> Edit:
    """Steps and remarks stay, as taken back; what has no such state is taken out. The review tells of both."""
    section, entry = found or ("", {})
    if "status" in entry and section != "ledger":
        return Edit(kind="change", path=path, value={**entry, "status": "retracted"}, why=why)
    return Edit(kind="strike", path=path, why=why)


def _value(name: str, kind: FieldKind, options: tuple[tuple[str, str], ...], typed: str) -> Any:
    label = say("field", name.replace("/", "_"))
    typed = typed.strip()
    if not typed:
        if name in _MUST:
            raise FieldError(label, say("form", "needed"))
        return None if name != "about" else ""
    if kind == "choice":
        if typed not in {key for key, _ in options}:
            raise FieldError(label, say("form", "no_choice"))
        return typed
    if kind in ("number", "whole"):
        return _number(label, typed, whole=kind == "whole")
    return typed


def _number(label: str, typed: str, *, whole: bool) -> float | int:
    plain = typed.replace("\N{MINUS SIGN}", "-").replace(" ", "")
    if "," in plain and "." not in plain:
        plain = plain.replace(",", ".")
    try:
        number = float(plain)
    except ValueError as error:
        raise FieldError(label, say("form", "no_number", typed=typed[:40])) from error
    if not math.isfinite(number) or abs(number) > 1e12:
        raise FieldError(label, say("form", "no_number", typed=typed[:40]))
    if whole:
        if number != int(number) or not 1 <= number <= 99:
            raise FieldError(label, say("form", "no_whole", typed=typed[:40]))
        return int(number)
    return number


def _reading(values: dict[str, Any], entry: Mapping[str, Any] | None, typed: Mapping[str, str]) -> dict[str, Any]:
    """A typed reading: its unit is no longer assumed, its doubt is settled, its decimals are as typed."""
    if values["qualifier"] in ("open_circuit", "short_circuit"):
        values |= {"value": None, "value_high": None, "unit": None}
    elif values["value"] is None:
        raise FieldError(say("field", "value"), say("form", "needed"))
    if values["qualifier"] == "range" and values["value_high"] is None:
        raise FieldError(say("field", "value_high"), say("form", "needed"))
    if values["qualifier"] != "range":
        values["value_high"] = None
    decimals = len(typed.get("value", "").strip().replace(",", ".").partition(".")[2])
    values |= {"unit_assumed": False, "doubt": None, "decimals": decimals}
    return values if entry else values | {"spoken": ""}


def _ledger_edits(
    report: Report, path: str, entry: Mapping[str, Any], values: dict[str, Any], why: str
) -> tuple[Edit, ...]:
    """An item of the ledger, and whether it is still open."""
    back = values["count_in"] >= values["count_out"]
    state = ("replaced" if entry["state"] == "replaced" else "restored") if back else "open"
    edits = [Edit(kind="change", path=path, value={**entry, **values, "state": state}, why=why)]
    places = [n for n, item in enumerate(report.ledger.open) if item.id == entry["id"]]
    if back and places:
        edits.append(Edit(kind="strike", path=f"/ledger/open/{places[0]}", why=why))
    if not back and not places:
        reason = say("form", "open_reason")
        edits.append(Edit(kind="add", path="/ledger/open/-", value={"id": entry["id"], "reason": reason}, why=why))
    return tuple(edits)


def _job_edits(report: Report, typed: Mapping[str, str], why: str) -> tuple[Edit, ...]:
    edits = []
    for name in JOB_FIELDS:
        said = _job_value(report, name)
        given = typed.get(name, "").strip()
        if given == ("" if said is None else _told(said.value)):
            continue
        value = _number(say("field", name), given, whole=False) if name == "labour_min" and given else given
        if given:
            edits.append(Edit(kind="change", path=f"/job/{name}", value=value, why=why))
        else:
            edits.append(Edit(kind="strike", path=f"/job/{name}", why=why))
    if not edits:
        raise FieldError(say("form", "job"), say("form", "same"))
    return tuple(edits)
