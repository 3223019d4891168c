"""Made reports and answers from gold: the perfect one, the empty one, and the one that confirms everything."""

from __future__ import annotations

from typing import Any

from voicereport.evaluation.matching import Row
from voicereport.evaluation.narrations import overall_status
from voicereport.evaluation.tables import load_tables


def perfect_report(gold: Row) -> Row:
    """The report that says just what the gold says. Evidence is left out; the evaluation does not read it."""
    job, items = gold["job"], []
    for f in gold["fasteners"]:
        state = "open" if f"{f['holds']} {f['kind']}" in gold["open"] else "restored"
        items.append({"part": f["kind"], "kind": "fastener", "holds": f["holds"], "count_out": f["out"],
                      "count_in": f["in"], "state": state})  # fmt: skip
    held = {f"{item['holds']} {item['part']}" for item in items}
    items += [{"part": name, "kind": "part", "state": "open"} for name in gold["open"] if name not in held]
    items = [item | {"id": f"i{n}"} for n, item in enumerate(items)]
    appliance = {"model": job.get("model"), "serial": job.get("serial")}
    return {
        "schema_version": "1.0",
        "job": {"work_order": job.get("work_order"), "labour_min": job.get("labour_min"), "appliance": appliance},
        "steps": [_said(s) for s in gold["steps"]],
        "readings": [_said(r) for r in gold["readings"]],
        "parts_used": [_said(p) for p in gold["parts_used"]],
        "ledger": {"items": items, "open": [{"id": i["id"], "reason": "x"} for i in items if i["state"] == "open"]},
        "notes": [_said(n) for n in gold["notes"]],
        "checks": [{"id": c, "state": gold["checks"][c]} for c in load_tables().checks],
        "status": overall_status(gold["checks"]),
    }


def confirming_report(gold: Row) -> Row:
    """The perfect report, but for its checks, every one of which it confirms."""
    checks = [{"id": c, "state": "confirmed"} for c in load_tables().checks]
    return perfect_report(gold) | {"checks": checks, "status": "complete"}


def perfect_answer(sentence: Row) -> Row:
    """The fragment that says just what a sentence's gold says."""
    kind = sentence["kind"]
    if kind == "safety":
        return {"checks": [{"id": sentence["check"], "state": "confirmed" if sentence["confirms"] else "unclear"}]}
    if kind == "status":
        return {"steps": [{k: sentence[k] for k in ("action", "part", "status")}]}
    if kind == "reading":
        return {"readings": [_said(r) for r in sentence["readings"]]}
    if kind == "count":
        return {"ledger": {"items": [_counted(item) for item in sentence["items"]]}}
    field, value = sentence["field"], sentence["value"]
    if field == "part_number":
        return {"parts_used": [{"part_number": value}]}
    return {"job": {"appliance": {field: value}} if field in ("model", "serial") else {field: value}}


def _counted(item: Row) -> Row:
    direction, count = item["direction"], item["count"]
    counts = {"count_out": count if direction == "out" else 0, "count_in": count if direction == "in" else 0}
    return {"part": item["part"], "holds": item["holds"]} | counts


def _said(item: dict[str, Any]) -> Row:
    own = ("line", "optional", "covers", "explained")
    return {k: v for k, v in item.items() if not k.endswith("_ok") and k not in own}
