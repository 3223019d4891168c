"""Makes a long session from voiced narrations: several voices, long pauses, workshop noise with clanks.

    python demo_audio/make_session.py VOICED --out FOLDER [--minutes 30] [--share 0.25] [--snr 15] [--seed 5]

VOICED holds NAME.wav (16 kHz, mono, 16 bit, without noise) and NAME.json beside it, {"voice", "lines": [{"start",
"end", "say"}]} in seconds. The voices take turns: a few lines of one, a pause, a few lines of the next. FOLDER gets
session.wav and session.json of the same form, for `voicereport evaluate CORPUS --audio FOLDER`. numpy only; the same
narrations, options and version of numpy give the same bytes.
"""

from __future__ import annotations

import argparse
import itertools
import json
import sys
import wave
from dataclasses import dataclass
from pathlib import Path

import make_demo
import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]  # mono, 16 kHz, within [-1, 1]

RATE_HZ = 16_000
BURST = (2, 6)  # lines in a row
BREATH_S = (0.3, 1.2)  # between the lines of a burst
CLANK_HZ = (1180, 1930, 3110)
CLANK_S = 0.4
CLANKS_A_MINUTE = 4.0
CLANK_PEAK = 0.25  # against full scale
PEAK_DB = -3.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One spoken line, cut out of its narration."""

    voice: str
    say: str
    sound: Samples


def read_lines(folder: Path) -> list[list[Line]]:
    """The lines of each narration in `folder`, by name. Raises ValueError where there is none."""
    found = []
    for path in sorted(folder.glob("*.json")):
        told, sound = json.loads(path.read_text("utf-8")), _read_wav(path.with_suffix(".wav"))
        found.append([
            Line(voice=told["voice"], say=row["say"],
                 sound=sound[round(row["start"] * RATE_HZ) : round(row["end"] * RATE_HZ)])
            for row in told["lines"]
        ])  # fmt: skip
    if not found:
        raise ValueError(f"{folder}: holds no NAME.json with a NAME.wav beside it")
    return found


def bursts(narrations: list[list[Line]], *, speech_s: float, generator: np.random.Generator) -> list[list[Line]]:
    """A few lines of each narration in turn, from somewhere in its first half, until there are `speech_s` seconds."""
    found: list[list[Line]] = []
    at = [int(generator.integers(0, max(1, len(lines) // 2))) for lines in narrations]
    left = speech_s
    for n in itertools.cycle(range(len(narrations))):
        if left <= 0 or all(first >= len(lines) for first, lines in zip(at, narrations, strict=True)):
            return found
        taken = narrations[n][at[n] : at[n] + int(generator.integers(*BURST))]
        at[n] += len(taken)
        if taken:
            found.append(taken)
            left -= sum(len(line.sound) for line in taken) / RATE_HZ
    return found


def lay_out(
    groups: list[list[Line]], *, length_s: float, generator: np.random.Generator
) -> tuple[Samples, list[dict[str, object]]]:
    """The bursts over `length_s` seconds with pauses of all lengths, and each line's place. Raises ValueError where
    they do not fit."""
    breaths = [generator.uniform(*BREATH_S, size=len(group) - 1) for group in groups]
    spoken_s = sum(len(line.sound) for group in groups for line in group) / RATE_HZ + sum(b.sum() for b in breaths)
    if spoken_s >= length_s:
        raise ValueError(f"{spoken_s:.0f} s of speech do not fit in {length_s:.0f} s")
    shares = generator.dirichlet(np.full(len(groups) + 1, 1.5))
    sound = np.zeros(round(length_s * RATE_HZ), np.float32)
    rows: list[dict[str, object]] = []
    now = 0.0
    for group, own, share in zip(groups, breaths, shares, strict=False):
        now += float(share) * (length_s - spoken_s)
        for line, breath in zip(group, [*own, 0.0], strict=True):
            first = round(now * RATE_HZ)
            sound[first : first + len(line.sound)] += line.sound[: len(sound) - first]
            end = now + len(line.sound) / RATE_HZ
            rows.append({"start": round(now, 3), "end": round(end, 3), "voice": line.voice, "say": line.say})
            now = end + float(breath)
    return sound, rows


def clanks(samples: int, *, generator: np.random.Generator) -> Samples:
    """Tools that are put down, now and then."""
    t = np.arange(round(CLANK_S * RATE_HZ)) / RATE_HZ
    found = np.zeros(samples, np.float32)
    for _ in range(round(samples / RATE_HZ / 60 * CLANKS_A_MINUTE)):
        tones = sum(np.sin(2 * np.pi * hz * t + generator.uniform(0, 6.28)) for hz in CLANK_HZ)
        ring = (tones / len(CLANK_HZ) + generator.standard_normal(len(t)) * 0.3) * np.exp(-t / 0.06)
        first = int(generator.integers(0, max(1, samples - len(t))))
        loud = CLANK_PEAK * generator.uniform(0.3, 1.0)
        found[first : first + len(t)] += (loud * ring).astype(np.float32)[: samples - first]
    return found


def make_session(
    folder: Path, *, minutes: float, share: float, snr_db: float, seed: int
) -> tuple[Samples, list[dict[str, object]]]:
    """The session's sound and its lines. Raises ValueError where the narrations hold too little speech."""
    generator = np.random.default_rng(seed)
    length_s = 60.0 * minutes
    groups = bursts(read_lines(folder), speech_s=share * length_s, generator=generator)
    there_s = sum(len(line.sound) for group in groups for line in group) / RATE_HZ
    if there_s < 0.98 * share * length_s:
        raise ValueError(f"{folder}: holds {there_s:.0f} s of speech, {share * length_s:.0f} s are wanted")
    speech, rows = lay_out(groups, length_s=length_s, generator=generator)
    make_demo.SAMPLE_RATE_HZ = RATE_HZ  # the noise maker and the level meter go by it
    noise = make_demo.make_noise("workshop", samples=len(speech), seed=seed)
    both = make_demo.mix(speech, noise, snr_db=snr_db) + clanks(len(speech), generator=generator)
    loudest = float(np.max(np.abs(both)))
    return (both * np.float32(10 ** (PEAK_DB / 20) / loudest)).astype(np.float32), rows


def _read_wav(path: Path) -> Samples:
    with wave.open(str(path), "rb") as source:
        if (source.getframerate(), source.getnchannels(), source.getsampwidth()) != (RATE_HZ, 1, 2):
            raise ValueError(f"{path}: is not 16 kHz, mono, 16 bit")
        return np.frombuffer(source.readframes(source.getnframes()), "<i2").astype(np.float32) / 32768


def write_wav(path: Path, sound: Samples) -> None:
    """16 kHz, mono, 16 bit."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes(np.clip(np.round(sound * 32767), -32768, 32767).astype("<i2").tobytes())


def main(arguments: list[str] | None = None) -> int:
    """Make a session."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    parser.add_argument("voiced", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument("--share", type=float, default=0.25, help="of the time that somebody speaks")
    parser.add_argument("--snr", type=float, default=15.0, help="dB; the clanks come on top")
    parser.add_argument("--seed", type=int, default=5)
    chosen = parser.parse_args(arguments)
    try:
        sound, rows = make_session(chosen.voiced, minutes=chosen.minutes, share=chosen.share, snr_db=chosen.snr,
                                   seed=chosen.seed)  # fmt: skip
    except (OSError, ValueError) as problem:
        parser.error(str(problem))
    write_wav(chosen.out / "session.wav", sound)
    told = {"snr_db": chosen.snr, "noise": "workshop", "lines": rows}
    (chosen.out / "session.json").write_text(json.dumps(told, indent=1), "utf-8")
    voices = {row["voice"] for row in rows}
    spoken = sum(len(str(row["say"]).split()) for row in rows)
    print(f"{chosen.out / 'session.wav'}: {len(sound) / RATE_HZ:.0f} s, {len(voices)} voices, {spoken} words")
    return 0


if __name__ == "__main__":
    sys.exit(main())
