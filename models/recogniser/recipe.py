"""The recipe of the recognisers' adapters: what low-rank changes make published weights hear a technician at work.

    python models/recogniser/recipe.py train OUT --weights base --spoken FOLDER [--steps N] [--device cpu|cuda]
    python models/recogniser/recipe.py export OUT.npz CHECKPOINT... [--share S]   in eight bits, as it is added
    python models/recogniser/recipe.py loss --weights base --spoken FOLDER [--adapter CHECKPOINT]

Low-rank adaptation (arXiv 2106.09685): every matrix of the weights, W of shape (out, in), is used as W + B A, with A of
shape (rank, in) and B of (out, rank); W stays as it was published. FOLDER has NAME.npz, {"sound": int16 at 16 kHz,
"ends": samples at which each line ends} and lines.jsonl, {"name", "text": the lines}, by demo_audio/make_lines.py. The
windows that are learnt from are made up anew each time: some lines that follow one another, with pauses, in no noise or
in some, near or far, and now and then noise alone, which holds no words.

Needs openai-whisper and torch, and the weights of the extra `weights`.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import re
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo_audio"))
import make_demo

RATE_HZ, HOP = 16_000, 160
RANK, DROPOUT, SEED, SHARE = 32, 0.05, 7, 0.6
FRAMES = (2000, 2500, 3000)  # of the spectrogram, that windows are padded to, as voicereport.speech.fast does
CLEAN, EMPTY, FAR, NARROW = 0.3, 0.04, 0.3, 0.08  # shares of windows
LOUDEST_DB, QUIETEST_DB = -3.0, 22.0  # of the speech above the noise
JOINED = {  # matrices of the reference implementation, and the rows of those that CTranslate2 keeps together
    "attn": ("self_attention", (("linear_0", ("query", "key", "value")), ("linear_1", ("out",)))),
    "cross_attn": ("attention", (("linear_0", ("query",)), ("linear_1", ("key", "value")), ("linear_2", ("out",)))),
}


def model_of(name: str) -> Any:
    """The reference implementation with the weights `name` as they were published."""
    import whisper

    from voicereport.speech.catalogue import catalogue
    from voicereport.speech.convert import checkpoint
    from voicereport.speech.weights import read

    told, _ = checkpoint(read(catalogue().named(name, "faster-whisper")))
    model = whisper.model.Whisper(whisper.model.ModelDimensions(**told["dims"]))
    model.load_state_dict(told["model_state_dict"])
    return model


def adapt(model: Any, *, rank: int = RANK) -> Any:
    """Let the matrices of a model be used with what is learnt beside them; gives that, by the names
    that CTranslate2 has for the matrices."""
    import torch
    from torch import nn

    generator = torch.Generator().manual_seed(SEED)
    learnt: dict[str, Any] = {}

    def add(name: str, layers: Sequence[Any]) -> None:
        width = layers[0].weight.shape[1]
        shape = sum(layer.weight.shape[0] for layer in layers), rank
        a = nn.Parameter(torch.randn((rank, width), generator=generator) / math.sqrt(width))
        learnt[f"{name}/A"], learnt[f"{name}/B"] = a, nn.Parameter(torch.zeros(shape))
        first = 0
        for layer in layers:
            _use(layer, a, learnt[f"{name}/B"], first)
            first += layer.weight.shape[0]

    for side, blocks in (("encoder", model.encoder.blocks), ("decoder", model.decoder.blocks)):
        for n, block in enumerate(blocks):
            for attribute, (place, groups) in JOINED.items():
                attention = getattr(block, attribute)
                for linear, parts in groups if attention is not None else ():
                    add(f"{side}/layer_{n}/{place}/{linear}", [getattr(attention, part) for part in parts])
            for linear, layer in (("linear_0", block.mlp[0]), ("linear_1", block.mlp[2])):
                add(f"{side}/layer_{n}/ffn/{linear}", [layer])
    for parameter in model.parameters():
        parameter.requires_grad_(False)
    return learnt


def _use(layer: Any, a: Any, b: Any, first: int) -> None:
    from torch.nn import functional

    plain, rows = layer.forward, slice(first, first + layer.weight.shape[0])

    def forward(x: Any) -> Any:
        kept = functional.dropout(x, DROPOUT, layer.training)
        return plain(x) + (kept @ a.to(x.dtype).T) @ b[rows].to(x.dtype).T

    layer.forward = forward


class Scenes:
    """The spoken lines of a folder."""

    def __init__(self, folder: Path) -> None:
        rows = [json.loads(row) for row in (folder / "lines.jsonl").read_text("utf-8").splitlines()]
        self._rows, self._folder = {row["name"]: row["text"] for row in rows}, folder
        self._kept: dict[str, tuple[Any, Any]] = {}
        self.names: list[str] = []
        self.look()

    def look(self) -> None:
        """Find what has been spoken since."""
        for path in sorted(self._folder.glob("*.npz")):
            if path.stem in self._rows and path.stem not in self._kept:
                told = np.load(path)
                self._kept[path.stem] = told["sound"], told["ends"]
                self.names.append(path.stem)

    def lines(self, name: str) -> list[tuple[Any, str]]:
        """Sound and words of each line of a scene."""
        sound, ends = self._kept[name]
        starts = [0, *ends[:-1]]
        return [(sound[a:b].astype(np.float32) / 32768, text)
                for a, b, text in zip(starts, ends, self._rows[name], strict=True)]  # fmt: skip


def noises(count: int, generator: np.random.Generator) -> list[Any]:
    """Noise of half a minute, root mean square 1: hum of mains at 50 and 60 Hz, fans, hiss, knocks, and mixtures."""
    n = 30 * RATE_HZ
    t = np.arange(n) / RATE_HZ
    make_demo.SAMPLE_RATE_HZ = RATE_HZ  # what makes noise there goes by it
    unit, swell = make_demo._unit, make_demo._tremolo

    def shaped(tilt: float, low: float, centre: float | None = None, octaves: float = 1.0) -> Any:
        return unit(make_demo._shaped(n, generator, tilt=tilt, low_hz=low, centre_hz=centre, octaves=octaves))

    def hum() -> Any:
        mains = generator.choice([50.0, 60.0])
        tones = sum(generator.uniform(0.3, 1) * np.sin(2 * np.pi * mains * k * t + generator.uniform(0, 6))
                    for k in (1, 2, 3, 4, 6))  # fmt: skip
        return unit((unit(tones) + generator.uniform(0.5, 2) * shaped(-1, 20))
                    * swell(t, rate_hz=generator.uniform(0.2, 1), depth=generator.uniform(0.05, 0.3)))  # fmt: skip

    def fan() -> Any:
        return unit(shaped(-0.5, 1, generator.uniform(250, 1200), generator.uniform(0.8, 2.5))
                    * swell(t, rate_hz=generator.uniform(6, 20), depth=generator.uniform(0.05, 0.25)))  # fmt: skip

    def hiss() -> Any:
        return shaped(generator.uniform(-0.8, 0.2), 30)

    def knocks() -> Any:
        sound = np.zeros(n)
        for _ in range(generator.integers(3, 18)):
            length = int(generator.uniform(0.05, 0.5) * RATE_HZ)
            first, u = generator.integers(0, n - length), np.arange(length) / RATE_HZ
            ring = sum(np.sin(2 * np.pi * f * u) for f in generator.uniform(300, 4500, 3)) + generator.standard_normal(
                length
            )
            sound[first : first + length] += ring * np.exp(-u * generator.uniform(6, 40)) * generator.uniform(0.3, 1)
        return unit(sound)

    makers = (hum, fan, hiss, knocks)
    found = []
    for k in range(count):
        sound = makers[k % 4]()
        if k % 3 == 0:
            sound = unit(sound + generator.uniform(0.3, 1) * makers[generator.integers(0, 4)]())
        found.append(sound.astype(np.float32))
    return found


class Windows:
    """Windows to learn from, without end."""

    def __init__(self, scenes: Scenes, seed: int) -> None:
        self._scenes, self._random = scenes, random.Random(seed)
        self._generator = np.random.default_rng(seed)
        self._noises = noises(48, self._generator)

    def window(self, frames: int) -> tuple[Any, str]:
        """The sound of a window that is padded to these frames, and its words."""
        longest = min(29.0, frames / 100 - 0.8)
        shortest = 1.0 if frames == FRAMES[0] else frames / 100 - 5.8
        target = self._random.uniform(shortest, longest)
        if self._random.random() < EMPTY:
            noise = self._noise(int(target * RATE_HZ))
            return noise * np.float32(10 ** self._random.uniform(-3, -0.8)), ""
        pieces, texts, length = [self._pause()], [], 0.0
        for sound, text in self._lines():
            pause = self._pause()
            more = (len(sound) + len(pause)) / RATE_HZ
            if (texts and length + more > target) or length + more > longest:
                break
            pieces += [sound, pause]
            texts.append(text)
            length += more
        if not texts:
            return self.window(frames)
        return self._spoilt(np.concatenate(pieces)), " ".join(texts)

    def _pause(self) -> Any:
        return np.zeros(int(self._random.uniform(0.02, 0.45) * RATE_HZ), np.float32)

    def _lines(self) -> Iterator[tuple[Any, str]]:
        lines = self._scenes.lines(self._random.choice(self._scenes.names))
        yield from lines[self._random.randrange(len(lines)) :]
        while True:
            yield from self._scenes.lines(self._random.choice(self._scenes.names))

    def _noise(self, length: int) -> Any:
        noise = self._random.choice(self._noises)
        first = self._random.randrange(len(noise))
        return np.resize(np.roll(noise, -first), length)

    def _spoilt(self, speech: Any) -> Any:
        chance = self._random.random
        if chance() < FAR:
            length = int(self._random.uniform(0.05, 0.35) * RATE_HZ)
            room = self._generator.standard_normal(length) * np.exp(-6.9 * np.arange(length) / length)
            room *= self._random.uniform(0.05, 0.4) / (np.abs(room).sum() ** 0.5 + 1e-9)
            room[0] = 1.0
            size = len(speech) + length
            speech = np.fft.irfft(np.fft.rfft(speech, size) * np.fft.rfft(room, size), size)[: len(speech)]
        if chance() < NARROW:
            spectrum = np.fft.rfft(speech)
            spectrum[int(len(spectrum) * self._random.uniform(0.4, 0.6)) :] = 0
            speech = np.fft.irfft(spectrum, len(speech))
        if chance() > CLEAN:
            loud = speech[np.abs(speech) > 0.01]
            spoken = np.sqrt(np.mean(np.square(loud))) if len(loud) else 1.0
            level = self._random.uniform(LOUDEST_DB, QUIETEST_DB)
            speech = speech + self._noise(len(speech)) * spoken / 10 ** (level / 20)
        speech = speech / (np.abs(speech).max() + 1e-6) * 10 ** self._random.uniform(-1.0, -0.05)
        if chance() < 0.03:
            speech = np.clip(speech * self._random.uniform(1.5, 4), -1, 1)
        return speech.astype(np.float32)


def spectrogram(window: Any, frames: int, device: str) -> Any:
    """The log-Mel spectrogram of a window, shape (80, frames), zeros after its end; as the recogniser makes it."""
    import torch
    import whisper

    told = whisper.log_mel_spectrogram(window, 80, padding=HOP, device=device)
    return torch.nn.functional.pad(told[:, :frames], (0, max(0, frames - told.shape[1])))


def encoded(model: Any, mel: Any) -> Any:
    """The encoder's output for a batch of spectrograms of one length, which may be under half a minute."""
    from torch.nn import functional

    encoder = model.encoder
    x = functional.gelu(encoder.conv1(mel))
    x = functional.gelu(encoder.conv2(x)).permute(0, 2, 1)
    x = (x + encoder.positional_embedding[: x.shape[1]]).to(x.dtype)
    for block in encoder.blocks:
        x = block(x)
    return encoder.ln_post(x)


def loss_of(model: Any, mel: Any, texts: Sequence[str], tokenizer: Any) -> Any:
    """The mean of what the tokens of the texts cost."""
    import torch
    from torch.nn import functional

    start = list(tokenizer.sot_sequence_including_notimestamps)
    rows = [[*start, *(tokenizer.encode(" " + text) if text else []), tokenizer.eot] for text in texts]
    longest = max(map(len, rows))
    told = torch.tensor([row + [tokenizer.eot] * (longest - len(row)) for row in rows], device=mel.device)
    wanted = torch.tensor([[-100] * (len(start) - 1) + row[len(start) :] + [-100] * (longest - len(row))
                           for row in rows], device=mel.device)  # fmt: skip
    logits = model.decoder(told[:, :-1], encoded(model, mel))
    return functional.cross_entropy(logits.float().flatten(0, 1), wanted.flatten(), ignore_index=-100)


def tokenizer_of(model: Any) -> Any:
    """The tokenizer of a model, for English."""
    import whisper

    return whisper.tokenizer.get_tokenizer(model.is_multilingual, num_languages=model.num_languages, language="en",
                                           task="transcribe")  # fmt: skip


def train(told: argparse.Namespace) -> int:
    """Learn; OUT.pt after every 500 steps and at the end."""
    import torch
    from torch.utils.data import DataLoader, IterableDataset

    torch.manual_seed(told.seed)
    model, device = model_of(told.weights), told.device
    learnt = adapt(model, rank=told.rank)
    model.to(device)
    for value in learnt.values():
        value.data = value.data.to(device)
    tokenizer = tokenizer_of(model)

    class Batches(IterableDataset[Any]):
        def __iter__(self) -> Iterator[Any]:
            info = torch.utils.data.get_worker_info()
            seed = told.seed * 1000 + (info.id if info else 0)
            scenes = Scenes(told.spoken)
            windows, choose, count = Windows(scenes, seed), random.Random(seed), 0
            while True:
                frames = choose.choice(FRAMES)
                batch = [windows.window(frames) for _ in range(told.batch)]
                yield frames, [sound for sound, _ in batch], [text for _, text in batch]
                count += 1
                if count % 20 == 0:
                    scenes.look()

    loader = iter(DataLoader(Batches(), batch_size=None, num_workers=told.workers))
    free = [value for name, value in learnt.items() if re.search(told.only, name)]
    optimiser = torch.optim.AdamW(free, lr=told.rate, weight_decay=0.01, betas=(0.9, 0.98))
    started, mean = time.monotonic(), 0.0
    model.train()
    for step in range(1, told.steps + 1):
        frames, sounds, texts = next(loader)
        share = step / told.steps
        for group in optimiser.param_groups:
            group["lr"] = told.rate * min(1.0, step / 50) * max(0.02, 0.5 + 0.5 * math.cos(math.pi * share))
        mel = torch.stack([spectrogram(sound, frames, device) for sound in sounds])
        with torch.autocast(device.split(":")[0], torch.bfloat16):
            loss = loss_of(model, mel, texts, tokenizer)
        optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(free, 1.0)
        optimiser.step()
        mean = 0.98 * mean + 0.02 * float(loss.detach()) if step > 1 else float(loss.detach())
        if step % 50 == 0 or step == told.steps:
            print(f"step {step}: {mean:.4f}, {time.monotonic() - started:.0f} s", flush=True)
        if step % told.every == 0 or step == told.steps:
            torch.save({name: value.detach().cpu() for name, value in learnt.items()}, told.out)
            if told.check:
                print(f"  {told.check.name}: {checked(model, told.check, tokenizer, device):.4f}", flush=True)
                model.train()
    return 0


def checked(model: Any, folder: Path, tokenizer: Any, device: str) -> float:
    """What the words of a folder cost, clean and in noise; the same windows each time."""
    import torch

    model.eval()
    windows, costs = Windows(Scenes(folder), 1), []
    with torch.no_grad(), torch.autocast(device.split(":")[0], torch.bfloat16):
        for n in range(24):
            frames = FRAMES[n % 3]
            batch = [windows.window(frames) for _ in range(8)]
            mel = torch.stack([spectrogram(sound, frames, device) for sound, _ in batch])
            costs.append(float(loss_of(model, mel, [text for _, text in batch], tokenizer)))
    return sum(costs) / len(costs)


def loss(told: argparse.Namespace) -> int:
    """Print what the words of a folder cost."""
    import torch

    model = model_of(told.weights)
    learnt = adapt(model, rank=told.rank)
    if told.adapter:
        for name, value in torch.load(told.adapter).items():
            learnt[name].data = value
    model.to(told.device)
    for value in learnt.values():
        value.data = value.data.to(told.device)
    print(f"{checked(model, told.spoken, tokenizer_of(model), told.device):.4f}")
    return 0


def export(told: argparse.Namespace) -> int:
    """Write the adapter as the recogniser reads it: A and B in eight bits, with a scale for each row.

    A share of what was learnt is added, which forgets less of what the weights knew (arXiv 2109.01903). The changes of
    several trainings are added up, as far as matrices of the rank can hold the sum.
    """
    if told.out.suffix != ".npz":
        raise SystemExit(f"{told.out}: is no .npz; name the file to write first")
    pairs = [(path, 1.0 if path.suffix == ".npz" else told.share) for path in told.checkpoints]
    if told.shares:
        pairs = list(zip(told.checkpoints, told.shares, strict=True))
    learnt = [(_learnt(path), share) for path, share in pairs]
    kept: dict[str, Any] = {}
    for name in learnt[0][0]:
        if not name.endswith("/A"):
            continue
        a = np.concatenate([one[name] for one, _ in learnt])
        b = np.concatenate([share * one[f"{name[:-2]}/B"] for one, share in learnt], axis=1)
        a, b = (a, b) if len(learnt) == 1 else _of_rank(a, b, told.rank)
        for key, whole in ((name, a), (f"{name[:-2]}/B", b)):
            scale = np.maximum(np.abs(whole).max(1, keepdims=True), 1e-12) / 127
            kept[key] = np.round(whole / scale).astype(np.int8)
            kept[f"{key}/scale"] = scale.astype(np.float32)
    np.savez(told.out, **kept)
    print(f"{told.out}: {told.out.stat().st_size} bytes")
    return 0


def _learnt(path: Path) -> dict[str, Any]:
    """A and B of every matrix: of a checkpoint, or of a file that was exported before, whose share is in it."""
    if path.suffix == ".npz":
        told = np.load(path)
        return {n: told[n].astype(np.float32) * told[f"{n}/scale"] for n in told.files if not n.endswith("/scale")}
    import torch

    return {name: value.float().numpy() for name, value in torch.load(path).items()}


def _of_rank(a: Any, b: Any, rank: int) -> tuple[Any, Any]:
    """A (rank, in) and B (out, rank) whose product is the nearest to B A that they can make (Eckart and Young)."""
    q, r = np.linalg.qr(b)
    p, s = np.linalg.qr(a.T)
    left, values, right = np.linalg.svd(r @ s.T)
    root = np.sqrt(values[:rank])
    return (root[:, None] * right[:rank]) @ p.T, (q @ left[:, :rank]) * root


def main(arguments: list[str] | None = None) -> int:
    """Train, export or measure."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    tasks = parser.add_subparsers(dest="task", required=True)
    for name in ("train", "loss"):
        task = tasks.add_parser(name)
        task.add_argument("--weights", default="base")
        task.add_argument("--spoken", type=Path, required=True)
        task.add_argument("--device", default="cpu")
        task.add_argument("--rank", type=int, default=RANK)
        task.add_argument("--seed", type=int, default=SEED)
    tasks.choices["loss"].add_argument("--adapter", type=Path)
    task = tasks.choices["train"]
    task.add_argument("out", type=Path)
    task.add_argument("--check", type=Path, help="another such folder, to see what its words cost")
    task.add_argument("--steps", type=int, default=1500)
    task.add_argument("--every", type=int, default=500, help="steps between two checkpoints")
    task.add_argument("--batch", type=int, default=32)
    task.add_argument("--rate", type=float, default=1e-3)
    task.add_argument("--workers", type=int, default=2)
    task.add_argument("--only", default="", help="expression for the names of the matrices that change")
    task = tasks.add_parser("export")
    task.add_argument("out", type=Path)
    task.add_argument("checkpoints", type=Path, nargs="+", help="several are added up")
    task.add_argument("--share", type=float, default=SHARE, help="of what was learnt that is added")
    task.add_argument("--shares", type=float, nargs="+", help="one for each checkpoint, in place of --share")
    task.add_argument("--rank", type=int, default=RANK)
    told = parser.parse_args(arguments)
    return {"train": train, "loss": loss, "export": export}[told.task](told)


if __name__ == "__main__":
    sys.exit(main())
