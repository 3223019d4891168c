"""A report with a person's changes: marked as typed, told in its review, and still of the contract."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pydantic import ValidationError

from voicereport.report import Report
from voicereport.store.faults import refused
from voicereport.store.pointer import END, add_at, parts_of, remove_at, replace_at, value_at
from voicereport.store.values import Edit

_LISTS = ("complaint", "findings", "cause", "correction", "recommendations", "steps", "readings", "parts_used", "notes",
          "ledger", "transcript", "job")  # fmt: skip
_NEVER = ("heard", "evidence", "out_evidence", "in_evidence", "entered_by", "entered_at")
_MARKED = ("complaint", "findings", "cause", "correction", "recommendations", "steps", "readings", "parts_used")
_NUMBERED = {"steps": "step", "readings": "reading"}  #: lists whose items have an id, and how a typed one's begins


def edited(report: Report, edits: Sequence[Edit], *, by: str, at: str) -> Report:
    """The report with `edits` made one after the other; a sign-off does not outlive them.

    at: RFC 3339. Raises StoreError where a place is none, may not be edited, or the outcome is not of the contract.
    """
    if not edits:
        raise refused("edits", "are empty")
    data = report.model_dump(mode="json")
    changes = [_make(data, edit, by=by, at=at) for edit in edits]
    data["review"]["changes"] += changes
    data["review"] |= {"signed_by": None, "signed_at": None}
    return _validated(data)


def _make(data: dict[str, Any], edit: Edit, *, by: str, at: str) -> dict[str, Any]:
    """Makes one edit in `data`; gives the line that tells of it."""
    parts = parts_of(edit.path)
    if not parts or parts[0] not in _LISTS or any(part in _NEVER for part in parts):
        raise refused(f"path {edit.path!r}", "may not be edited", "edit what was said to be done, not the proof of it")
    if not edit.why.strip():
        raise refused(f"path {edit.path!r}", "is edited without a reason", "say why")
    mark = {"entered_by": by, "entered_at": at}
    if edit.kind == "strike":
        path, before, after = edit.path, _strike(data, parts, edit.path, mark), None
    elif edit.kind == "add":
        path, before, after = _add(data, parts, edit, mark)
    else:
        path, before, after = edit.path, *_change(data, parts, edit, mark)
    return {"who": by, "when": at, "path": path, "before": before, "after": after, "why": edit.why}


def _strike(data: dict[str, Any], parts: tuple[str, ...], path: str, mark: dict[str, str]) -> Any:
    if parts[0] in ("job", "transcript") or _inside_entry(parts):
        before = replace_at(data, path, None)
        _mark_entry(data, parts, mark)
        return before
    return remove_at(data, path)


def _add(data: dict[str, Any], parts: tuple[str, ...], edit: Edit, mark: dict[str, str]) -> tuple[str, Any, Any]:
    if parts[0] == "job":
        before, after = _change(data, parts, edit, mark)
        return edit.path, before, after
    value = _without_proof(edit.value, edit.path)
    if parts[0] in _MARKED and len(parts) == 2:
        value = {**_as_entry(value, edit.path), **mark}
        if parts[0] in _NUMBERED:
            value = {"id": _fresh_id(data[parts[0]], _NUMBERED[parts[0]]), **value}
        if parts[0] == "readings":
            value = {"spoken": "", **value}
    path = add_at(data, edit.path, value)
    return path, None, value_at(data, path)


def _change(data: dict[str, Any], parts: tuple[str, ...], edit: Edit, mark: dict[str, str]) -> tuple[Any, Any]:
    value = edit.value
    before = value_at(data, edit.path)
    if parts[0] == "job" and parts[-1] != "appliance":
        value = {"value": value["value"] if isinstance(value, dict) and "value" in value else value, **mark}
    elif isinstance(value, dict) and isinstance(before, dict):
        proof = {name: kept for name, kept in before.items() if name in ("evidence", "out_evidence", "in_evidence")}
        value = {**_without_proof(value, edit.path, same=proof), **proof}
        if parts[0] in _MARKED and len(parts) == 2:
            value |= mark | ({"id": before["id"]} if "id" in before else {})
    else:
        value = _without_proof(value, edit.path)
    replace_at(data, edit.path, value)
    _mark_entry(data, parts, mark)
    return before, value


def _inside_entry(parts: tuple[str, ...]) -> bool:
    """Whether a path leads to a field of an entry rather than to the entry."""
    return len(parts) > 2 and not (parts[0] == "ledger" and len(parts) == 3)


def _mark_entry(data: dict[str, Any], parts: tuple[str, ...], mark: dict[str, str]) -> None:
    """Marks the entry that a changed field belongs to as typed. The words it rested on stay beside it."""
    if parts[0] in _MARKED and len(parts) > 2 and parts[1] != END:
        data[parts[0]][int(parts[1])] |= mark


def _as_entry(value: Any, path: str) -> dict[str, Any]:
    if isinstance(value, str):
        return {"text": value}
    if isinstance(value, dict):
        return value
    raise refused(f"path {path!r}", "needs an entry", "give its fields by name")


def _without_proof(value: Any, path: str, *, same: dict[str, Any] | None = None) -> Any:
    """A typed value; words in a recording cannot be typed. same: proof that may be given, as it stood."""
    if not isinstance(value, dict):
        return value
    for name in ("evidence", "out_evidence", "in_evidence"):
        if value.get(name) and value[name] != (same or {}).get(name):
            raise refused(f"path {path!r}", f"brings {name} of its own", "leave it out: what is typed was not heard")
    return {name: field for name, field in value.items() if name not in ("evidence", "out_evidence", "in_evidence")}


def _fresh_id(items: Sequence[dict[str, Any]], stem: str) -> str:
    taken = {item["id"] for item in items}
    number = 1
    while f"typed-{stem}{number}" in taken:
        number += 1
    return f"typed-{stem}{number}"


def _validated(data: dict[str, Any]) -> Report:
    try:
        return Report.model_validate(data)
    except ValidationError as error:
        faults = [f"{'.'.join(map(str, fault['loc']))}: {fault['msg']}" for fault in error.errors()[:5]]
        raise refused("edits", f"do not give a report of the contract ({'; '.join(faults)})") from error
