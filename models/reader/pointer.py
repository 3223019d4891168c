"""The recipe of the pointer: which words of the lines before a pronoun, a bare count or a fastener points back to.

    python models/reader/pointer.py train OUT.pt [--without FILE...] [--epochs N] [--seed N] [--device cpu|cuda]
    python models/reader/pointer.py export OUT.pt FILE.onnx
    python models/reader/pointer.py measure OUT.pt FILE...

FILE is the name of a file in `lines/` that has answers in `references/`: "narr-e". Needs the extra `train`, and the
reader's file beside this one, whose states it reads and does not change. The grammar of the answers: `lines.md`.
"""

from __future__ import annotations

import argparse
import random
import re
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import onnxruntime
import recipe
import torch

HERE = Path(__file__).resolve().parent
LINES, PIECES = 14, 220  # as in voicereport/statements/pointing.py
FIELDS = {"thing": 0, "holds": 1}
WIDE, LAYERS, HEADS, DROP = 128, 2, 4, 0.15
SAID = 0.25  # share of the places that their own line fills which are learnt from, and
SAID_WEIGHT = 0.3  # how much one of them counts
BATCH, RATE = 32, 1.2e-3


@dataclass(frozen=True)
class Place:
    """An open place of an act, or one that its line fills, and where it points."""

    block: Block
    line: int
    acted: tuple[int, ...]  #: pieces of the act's words
    field: int
    target: dict[int, tuple[int, ...]] | None  #: pieces by line; None where nothing is pointed at
    sink: int  #: then 0: nothing is meant, 1: it is never named
    weight: float


@dataclass
class Block:
    """A narration: of each line the reader's states of its pieces, and their places."""

    states: list[np.ndarray]
    places: list[list[tuple[int, int]]]
    texts: list[str]


def answers(name: str) -> dict[tuple[int, str], str]:
    """Block and place ("7.1.thing") to answer. Raises ValueError with the line of a fault."""
    out = {}
    file = HERE / "references" / f"{name}.tsv"
    for n, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
        told = line.split("\t")
        if len(told) != 3 or not re.fullmatch(r"\d+\.\d+\.(thing|holds)", told[1]):
            raise ValueError(f"{file.name}:{n}: block, place and answer stand in a line, with tabs between")
        out[int(told[0]), told[1]] = told[2]
    return out


def load(names: Sequence[str]) -> list[Place]:
    """The places of the narrations of some files. Raises ValueError where an answer's words are not in its line."""
    tokenizer = recipe.pieces_of(HERE)
    session = onnxruntime.InferenceSession(str(HERE / "reader.onnx"), providers=["CPUExecutionProvider"])
    out: list[Place] = []
    for name in names:
        told = answers(name)
        for number, lines in enumerate(recipe.blocks_of(HERE / "lines" / f"{name}.txt"), 1):
            mine = {place: answer for (block, place), answer in told.items() if block == number}
            if mine:
                block = Block([], [], [line.text for line in lines])
                for line in lines:
                    states, places = _states(session, tokenizer, line.text)
                    block.states.append(states)
                    block.places.append(places)
                out += _places(block, lines, mine, f"{name}:{number}")
    return out


def _states(session: Any, tokenizer: Any, text: str) -> tuple[np.ndarray, list[tuple[int, int]]]:
    said = tokenizer.encode(recipe.plain(text), add_special_tokens=False)
    ids = said.ids[: recipe.LONGEST]
    row = np.array([[101, 102, *ids, 102]])
    types = np.array([[0, 0, *([1] * (len(ids) + 1))]])
    states = session.run(["states"], {"ids": row, "mask": np.ones_like(row), "types": types})[0][0]
    return states[2 : 2 + len(ids)].astype(np.float16), said.offsets[: recipe.LONGEST]


def _places(block: Block, lines: Sequence[recipe.Line], told: dict[str, str], where: str) -> list[Place]:
    def covered(line: int, first: int, last: int) -> tuple[int, ...]:
        return tuple(k for k, (a, b) in enumerate(block.places[line]) if a < last and b > first)

    out: list[Place] = []
    for place, answer in told.items():
        number, act, slot = place.split(".")
        line = int(number) - 1
        acted = covered(line, *lines[line].acts[int(act) - 1][:2])
        if answer == "?" or not acted:
            continue
        if answer == "-" or answer.startswith("="):
            out.append(Place(block, line, acted, FIELDS[slot], None, int(answer != "-"), 1.0))
            continue
        target: dict[int, set[int]] = {}
        for part in answer.split(" + "):
            at, _, words = part.partition(":")
            if not at.isdigit() or words.lower() not in block.texts[int(at) - 1].lower():
                raise ValueError(f"{where} {place}: no words {part!r}")
            said = re.compile(r"(?<!\w)" + re.escape(words) + r"(?!\w)", re.I)
            for n in range(max(int(at) - 1, line) + 1):  # the same words earlier name the same thing
                for found in said.finditer(block.texts[n]):
                    target.setdefault(n, set()).update(covered(n, *found.span()))
        if target:
            kept = {n: tuple(sorted(pieces)) for n, pieces in target.items()}
            out.append(Place(block, line, acted, FIELDS[slot], kept, 0, 1.0))
    return out + _said(block, lines, told, covered)


def _said(block: Block, lines: Sequence[recipe.Line], told: dict[str, str], covered: Any) -> list[Place]:
    """The places that their own lines fill."""
    out = []
    for n, line in enumerate(lines):
        for k, (first, last, _, _) in enumerate(line.acts if line.kind == "full" else ()):
            for role, slot in (("p", "thing"), ("h", "holds")):
                spans = [(a, b) for a, b, r, acts in line.things if r == role and k in acts]
                pieces = tuple(sorted({t for a, b in spans for t in covered(n, a, b)}))
                acted = covered(n, first, last)
                if pieces and acted and f"{n + 1}.{k + 1}.{slot}" not in told:
                    out.append(Place(block, n, acted, FIELDS[slot], {n: pieces}, 0, SAID_WEIGHT))
    return out


class Layer(torch.nn.Module):
    """A layer of an encoder, normed before each of its halves."""

    def __init__(self) -> None:
        super().__init__()
        self.first, self.second = torch.nn.LayerNorm(WIDE), torch.nn.LayerNorm(WIDE)
        self.asked, self.given = torch.nn.Linear(WIDE, 3 * WIDE), torch.nn.Linear(WIDE, WIDE)
        self.up, self.down = torch.nn.Linear(WIDE, 2 * WIDE), torch.nn.Linear(2 * WIDE, WIDE)
        self.drop = torch.nn.Dropout(DROP)

    def forward(self, x: Any, empty: Any) -> Any:
        size = WIDE // HEADS
        query, key, value = (
            y.unflatten(-1, (HEADS, size)).transpose(1, 2) for y in self.asked(self.first(x)).chunk(3, -1)
        )
        heed = query @ key.transpose(-1, -2) / size**0.5
        if empty is not None:
            heed = heed.masked_fill(empty[:, None, None], -1e9)
        x = x + self.drop(self.given((self.drop(heed.softmax(-1)) @ value).transpose(1, 2).flatten(2)))
        return x + self.drop(self.down(torch.nn.functional.gelu(self.up(self.second(x)))))


class Pointer(torch.nn.Module):
    """States of pieces to a score for "nothing is meant", for "it is never named", and for each piece."""

    def __init__(self, states: int = 384) -> None:
        super().__init__()
        self.put, self.norm = torch.nn.Linear(states, WIDE), torch.nn.LayerNorm(WIDE)
        self.far, self.at = torch.nn.Embedding(LINES + 1, WIDE), torch.nn.Embedding(64, WIDE)
        self.role, self.slot = torch.nn.Embedding(3, WIDE), torch.nn.Embedding(2, WIDE)
        self.sinks = torch.nn.Parameter(torch.randn(2, WIDE) * 0.1)
        self.layers = torch.nn.ModuleList(Layer() for _ in range(LAYERS))
        self.last, self.out, self.drop = torch.nn.LayerNorm(WIDE), torch.nn.Linear(WIDE, 1), torch.nn.Dropout(DROP)

    def forward(self, states: Any, far: Any, act: Any, at: Any, slot: Any, empty: Any = None) -> Any:
        x = self.norm(self.put(states)) + self.far(far.clamp(max=LINES)) + self.role(act) + self.at(at)
        sinks = (self.sinks + self.role.weight[2]).expand(x.shape[0], 2, -1)
        x = self.drop(torch.cat([sinks, x], 1) + self.slot(slot)[:, None])
        if empty is not None:
            empty = torch.cat([torch.zeros_like(empty[:, :2]), empty], 1)
        for layer in self.layers:
            x = layer(x, empty)
        score = self.out(self.last(x))[..., 0]
        return score if empty is None else score.masked_fill(empty, -1e4)


def row_of(place: Place) -> tuple[np.ndarray, ...]:
    """States, distances in lines, whether of the act, places in the line, and the target with its two sinks."""
    block, kept = place.block, [place.line]
    for n in range(place.line - 1, max(-1, place.line - LINES), -1):
        if sum(len(block.states[k]) for k in kept) + len(block.states[n]) > PIECES:
            break
        kept.insert(0, n)
    lengths = [len(block.states[n]) for n in kept]
    start = dict(zip(kept, np.cumsum([0, *lengths[:-1]]).tolist(), strict=True))
    act, target = np.zeros(sum(lengths), int), np.zeros(sum(lengths) + 2, np.float32)
    act[[start[place.line] + k for k in place.acted]] = 1
    if place.target is None:
        target[place.sink] = 1
    for n, pieces in (place.target or {}).items():
        if n in start:
            target[[2 + start[n] + k for k in pieces]] = 1
    return (
        np.concatenate([block.states[n] for n in kept]).astype(np.float32),
        np.repeat([place.line - n for n in kept], lengths),
        act,
        np.concatenate([np.minimum(np.arange(length), 63) for length in lengths]),
        target,
    )


def batch_of(rows: Sequence[tuple[tuple[np.ndarray, ...], Place]], device: str) -> tuple[list[Any], Any, Any]:
    """What the network takes, the targets, and the weights."""
    longest = max(len(row[0]) for row, _ in rows)

    def padded(k: int, extra: int = 0) -> Any:
        out = np.zeros((len(rows), longest + extra, *rows[0][0][k].shape[1:]), rows[0][0][k].dtype)
        for n, (row, _) in enumerate(rows):
            out[n, : len(row[k])] = row[k]
        return torch.tensor(out, device=device)

    empty = torch.tensor([[k >= len(row[0]) for k in range(longest)] for row, _ in rows], device=device)
    slot = torch.tensor([place.field for _, place in rows], device=device)
    weight = torch.tensor([place.weight for _, place in rows], dtype=torch.float32, device=device)
    return [padded(0), padded(1), padded(2), padded(3), slot, empty], padded(4, 2), weight


def train(places: list[Place], *, epochs: int, seed: int, device: str) -> Pointer:
    """A pointer that has learnt from `places`: the chance of all right pieces together is made likely."""
    torch.manual_seed(seed)
    rng = random.Random(seed)
    places = [p for p in places if p.weight == 1 or rng.random() < SAID]
    net = Pointer().to(device)
    optimiser = torch.optim.AdamW(net.parameters(), RATE, weight_decay=0.02)
    steps = epochs * (len(places) // BATCH + epochs + 1)
    cycle = torch.optim.lr_scheduler.OneCycleLR(optimiser, RATE, total_steps=steps, pct_start=0.1)
    begun = time.time()
    for epoch in range(epochs):
        rng.shuffle(places)
        losses = []
        for n in range(0, len(places), BATCH * 8):
            rows = [(row_of(p), p) for p in places[n : n + BATCH * 8]]
            rows = sorted((r for r in rows if r[0][4].any()), key=lambda r: len(r[0][0]))
            for k in range(0, len(rows), BATCH):
                given, target, weight = batch_of(rows[k : k + BATCH], device)
                told = net(*given).log_softmax(-1).masked_fill(target == 0, -1e9)
                loss = -(torch.logsumexp(told, -1) * weight).sum() / weight.sum()
                optimiser.zero_grad()
                loss.backward()
                torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
                optimiser.step()
                cycle.step()
                losses.append(loss.item())
        print(f"epoch {epoch + 1}: loss {np.mean(losses):.3f}, {time.time() - begun:.0f} s", flush=True)
    return net


def measure(net: Pointer, places: Sequence[Place]) -> None:
    """Prints how often the likeliest piece, or sink, is right, for open places by field."""
    net.eval()
    right: dict[str, list[bool]] = {}
    with torch.no_grad():
        for place in (p for p in places if p.weight == 1):
            row = row_of(place)
            if row[4].any():
                given, target, _ = batch_of([(row, place)], "cpu")
                kind = f"{list(FIELDS)[place.field]}, {'no words' if place.target is None else 'words'}"
                right.setdefault(kind, []).append(bool(target[0, int(net(*given)[0].argmax())] > 0))
    for kind, told in sorted(right.items()):
        print(f"{kind}: {sum(told)} of {len(told)}, {100 * np.mean(told):.1f} %")


def export(net: Pointer, out: Path) -> None:
    """The ONNX file of a pointer."""
    net.eval()
    none = torch.zeros(1, 50, dtype=torch.long)
    torch.onnx.export(
        net, (torch.zeros(1, 50, 384), none, none, none, none[0, :1]), str(out), dynamo=False, opset_version=17,
        input_names=["states", "far", "act", "at", "slot"], output_names=["scores"],
        dynamic_axes={name: {1: "pieces"} for name in ("states", "far", "act", "at", "scores")},
    )  # fmt: skip


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("train", "export", "measure"))
    parser.add_argument("file", type=Path)
    parser.add_argument("names", nargs="*")
    parser.add_argument("--without", nargs="*", default=[])
    parser.add_argument("--epochs", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--device", default="cpu")
    told = parser.parse_args(arguments)
    if told.what == "train":
        names = [f.stem for f in sorted((HERE / "references").glob("*.tsv")) if f.stem not in told.without]
        net = train(load(names), epochs=told.epochs, seed=told.seed, device=told.device)
        torch.save(net.cpu().state_dict(), told.file)
        return 0
    net = Pointer()
    net.load_state_dict(torch.load(told.file, weights_only=True))
    if told.what == "export":
        export(net, Path(told.names[0]))
    else:
        measure(net, load(told.names))
    return 0


if __name__ == "__main__":
    sys.exit(main())
