"""The contract's JSON Schema, held against an independent validator: jsonschema (draft 2020-12).

Each rule has a bad instance that breaks it and nothing else; the same instance without the fault is valid.
"""

from __future__ import annotations

import copy
import json
from typing import Any

import jsonschema
import pytest
from pydantic import ValidationError

from voicereport.report import Report, dump_json, json_schema

VALIDATOR = jsonschema.Draft202012Validator(json_schema())

EVIDENCE = {
    "recording": "visit.ogg",
    "segment": "r1s001",
    "start": 1.0,
    "end": 2.5,
    "quote": "four screws out",
    "confidence": 0.93,
}


def said(value: object) -> dict[str, Any]:
    return {"value": value, "evidence": [EVIDENCE]}


GOOD: dict[str, Any] = {
    "schema_version": "1.0",
    "job": {
        "work_order": said("4410"),
        "recorded_at": None,
        "technician": None,
        "customer": {"value": "A. N. Other", "entered_by": "office", "entered_at": "2026-03-02T08:15:00Z"},
        "site": None,
        "trade": None,
        "job_type": None,
        "appliance": {"kind": None, "maker": None, "model": said("QZ418-N"), "serial": said("22061183")},
        "labour_min": said(100),
    },
    "recordings": [
        {
            "name": "visit.ogg",
            "sha256": "0" * 64,
            "duration_s": 61.5,
            "speech_s": 40.0,
            "visit": 1,
            "engine": "faster-whisper",
            "model": "base",
            "language": "en",
        }
    ],
    "transcript": {
        "segments": [
            {
                "id": "r1s001",
                "recording": "visit.ogg",
                "start": 1.0,
                "end": 2.5,
                "heard": "for screws out",
                "text": "four screws out",
                "words": [{"word": "four", "start": 1.0, "end": 1.3, "probability": 0.93}],
                "flags": ["low_confidence"],
            }
        ]
    },
    "complaint": [{"text": "it is warm", "evidence": [EVIDENCE]}],
    "findings": [{"text": "the fan is seized", "evidence": [EVIDENCE]}],
    "cause": [{"text": "a seized fan", "evidence": [EVIDENCE]}],
    "correction": [{"text": "a new fan", "evidence": [EVIDENCE]}],
    "recommendations": [{"text": "clean the coil", "evidence": [EVIDENCE]}],
    "steps": [
        {
            "id": "step1",
            "visit": 1,
            "action": "remove",
            "part": "screw",
            "count": 4,
            "holds": "rear panel",
            "location": None,
            "status": "done",
            "evidence": [EVIDENCE],
        }
    ],
    "readings": [
        {
            "id": "reading1",
            "quantity": "temperature",
            "subject": "freezer compartment",
            "value": -19.0,
            "unit": "Cel",
            "unit_assumed": True,
            "reference": None,
            "qualifier": "exact",
            "stage": "as_left",
            "spoken": "minus nineteen",
            "verdict": {
                "result": "within",
                "low": None,
                "high": -15.0,
                "unit": "Cel",
                "source": "a book",
                "reason": "x",
            },
            "evidence": [EVIDENCE],
        }
    ],
    "parts_used": [{"part": "fan", "part_number": "F-1", "quantity": 1, "evidence": [EVIDENCE]}],
    "ledger": {
        "items": [
            {
                "id": "item1",
                "part": "screw",
                "kind": "fastener",
                "holds": "rear panel",
                "count_out": 4,
                "count_in": 3,
                "state": "open",
                "orientation": None,
                "out_evidence": [EVIDENCE],
                "in_evidence": [EVIDENCE],
            }
        ],
        "reassembly_order": ["item1"],
        "open": [{"id": "item1", "reason": "three of four went back"}],
    },
    "notes": [{"kind": "orientation", "about": "fan", "text": "arrow up", "evidence": [EVIDENCE]}],
    "checks": [
        {
            "id": "power-isolated",
            "title": "Supply off",
            "severity": "stop",
            "state": "confirmed",
            "reason": "said at 0:01",
            "evidence": [EVIDENCE],
            "reference": None,
        }
    ],
    "status": "incomplete",
    "review": {
        "changes": [{"who": "office", "when": "2026-03-02T08:15:00Z", "path": "job.customer", "after": "A. N. Other"}],
        "signed_by": None,
        "signed_at": None,
    },
}

Path = tuple[str | int, ...]
REMOVED = object()

#: what the contract rules, where it is broken, by which value
BAD: dict[str, tuple[Path, object]] = {
    "schema_version is 1.0": (("schema_version",), "1.1"),
    "a known value is an object with a value": (("job", "work_order"), "4410"),
    "a known value has its value": (("job", "work_order", "value"), REMOVED),
    "labour is a number": (("job", "labour_min", "value"), "an hour"),
    "a job has no other keys": (("job", "colour"), "blue"),
    "evidence names its recording": (("steps", 0, "evidence", 0, "recording"), REMOVED),
    "evidence names its segment": (("steps", 0, "evidence", 0, "segment"), REMOVED),
    "evidence has its quote": (("steps", 0, "evidence", 0, "quote"), REMOVED),
    "evidence has its end": (("steps", 0, "evidence", 0, "end"), REMOVED),
    "evidence does not start before the recording": (("steps", 0, "evidence", 0, "start"), -0.1),
    "confidence is at most 1": (("steps", 0, "evidence", 0, "confidence"), 1.01),
    "confidence is at least 0": (("steps", 0, "evidence", 0, "confidence"), -0.01),
    "a recording has its digest": (("recordings", 0, "sha256"), REMOVED),
    "a recording has its duration": (("recordings", 0, "duration_s"), REMOVED),
    "visits count from 1": (("recordings", 0, "visit"), 0),
    "a segment keeps what was heard": (("transcript", "segments", 0, "heard"), REMOVED),
    "a segment has its text": (("transcript", "segments", 0, "text"), REMOVED),
    "a segment has its words": (("transcript", "segments", 0, "words"), REMOVED),
    "a word has a time": (("transcript", "segments", 0, "words", 0, "start"), REMOVED),
    "a word's probability is at most 1": (("transcript", "segments", 0, "words", 0, "probability"), 2),
    "flags are of the list": (("transcript", "segments", 0, "flags", 0), "noisy"),
    "a complaint is no bare text": (("complaint", 0), "it is warm"),
    "a finding has its text": (("findings", 0, "text"), REMOVED),
    "an action is of the list": (("steps", 0, "action"), "unscrew"),
    "a step has a part": (("steps", 0, "part"), REMOVED),
    "a step has an id": (("steps", 0, "id"), REMOVED),
    "a step's status is of the list": (("steps", 0, "status"), "finished"),
    "a count is a number": (("steps", 0, "count"), "four"),
    "a quantity is of the list": (("readings", 0, "quantity"), "heat"),
    "a qualifier is of the list": (("readings", 0, "qualifier"), "roughly"),
    "a stage is of the list": (("readings", 0, "stage"), "during"),
    "a pressure's reference is of the list": (("readings", 0, "reference"), "sealed"),
    "a reading keeps the words it was read from": (("readings", 0, "spoken"), REMOVED),
    "a value is a number": (("readings", 0, "value"), "-19"),
    "a verdict is of the list": (("readings", 0, "verdict", "result"), "passed"),
    "a part used is named": (("parts_used", 0, "part"), REMOVED),
    "a ledger item's kind is of the list": (("ledger", "items", 0, "kind"), "panel"),
    "a ledger item's state is of the list": (("ledger", "items", 0, "state"), "closed"),
    "the reassembly order lists ids": (("ledger", "reassembly_order", 0), 1),
    "what is open has a reason": (("ledger", "open", 0, "reason"), REMOVED),
    "what is open has an id": (("ledger", "open", 0, "id"), REMOVED),
    "a note's kind is of the list": (("notes", 0, "kind"), "hint"),
    "a note is about something": (("notes", 0, "about"), REMOVED),
    "a check has a title": (("checks", 0, "title"), REMOVED),
    "a check's severity is of the list": (("checks", 0, "severity"), "error"),
    "a check's state is of the list": (("checks", 0, "state"), "passed"),
    "a check has a reason": (("checks", 0, "reason"), REMOVED),
    "a report's status is of the list": (("status",), "ok"),
    "a change says who": (("review", "changes", 0, "who"), REMOVED),
    "a change says when": (("review", "changes", 0, "when"), REMOVED),
    "a report has no other keys": (("score",), 97),
}


def broken(path: Path, value: object) -> dict[str, Any]:
    report: Any = copy.deepcopy(GOOD)
    at = report
    for key in path[:-1]:
        at = at[key]
    if value is REMOVED:
        del at[path[-1]]
    else:
        at[path[-1]] = value
    return report  # type: ignore[no-any-return]


def test_the_schema_is_a_schema_of_draft_2020_12() -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema())
    assert json_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_a_full_report_is_valid() -> None:
    VALIDATOR.validate(GOOD)


def test_an_empty_report_is_valid() -> None:
    VALIDATOR.validate(json.loads(dump_json(Report())))


@pytest.mark.parametrize("rule", BAD)
def test_the_schema_refuses_a_report_that_breaks(rule: str) -> None:
    path, value = BAD[rule]
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(broken(path, value))


@pytest.mark.parametrize("rule", BAD)
def test_the_models_refuse_a_report_that_breaks(rule: str) -> None:
    path, value = BAD[rule]
    with pytest.raises(ValidationError):
        Report.model_validate_json(json.dumps(broken(path, value)), strict=True)


def test_what_is_read_is_written_the_same() -> None:
    once = dump_json(Report.model_validate(GOOD))
    VALIDATOR.validate(json.loads(once))
    assert dump_json(Report.model_validate_json(once)) == once


def test_text_is_written_as_plain_unicode_with_one_newline_at_the_end() -> None:
    report = Report.model_validate(broken(("complaint", 0, "text"), "−18 °C, “warm”"))
    text = dump_json(report)
    assert "−18 °C, “warm”" in text
    assert text.endswith("}\n")
    assert not text.endswith("\n\n")
