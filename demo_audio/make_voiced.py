"""Voices narrations of a corpus, clean and in noise, for `voicereport evaluate CORPUS --audio OUT` and make_session.py.

    python demo_audio/make_voiced.py CORPUS... --voices package/voices --out OUT [--only d01,d02] [--levels 20,10,5,0]

Each narration is spoken in the voice that its file names, line by line as `say` has it, and nothing else of the file.
OUT gets clean/NAME.wav (16 kHz, mono, 16 bit) with NAME.json beside it, {"voice", "lines": [{"start", "end", "say"}]}
in seconds, and NAME.wav in a folder `noise-LEVEL` for each level in dB: a compressor's hum, a fan, both, or a fan with
tools put down, in turn from narration to narration. What is there already is not made again.

In the environment that make_demo.py names, with pyyaml==6.0.3 besides. The same versions give the same bytes.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from dataclasses import dataclass
from pathlib import Path

import make_demo
import make_session
import numpy as np
import yaml
from numpy.typing import NDArray

Samples = NDArray[np.float32]  # mono, within [-1, 1]

RATE_HZ = 16_000
VOICE_RATE_HZ = 24_000
SPEEDS = {"messy": 1.15, "telegraphic": 0.95}  # others are spoken at 1.0
SENTENCE_PAUSE_S = 0.4  # telegraphic speech only
LEAD_OUT_S = 1.0
NOISES = ("fan", "workshop", "hum", "clanks")
SEED = 11


@dataclass(frozen=True, kw_only=True, slots=True)
class Narration:
    """What is spoken, and how."""

    name: str
    voice: str
    style: str
    lines: tuple[make_demo.Line, ...]


def read_narrations(corpora: list[Path], only: list[str]) -> list[Narration]:
    """The narrations of the corpora, by name. Raises ValueError where there is none of these names."""
    found = []
    for path in sorted((p for corpus in corpora for p in corpus.glob("*.yaml")), key=lambda p: p.stem):
        told = yaml.safe_load(path.read_text("utf-8"))
        if isinstance(told, dict) and "voice" in told and (not only or path.stem in only):
            lines = tuple(make_demo.Line(t=float(row["t"]), say=row["say"]) for row in told["lines"])
            found.append(Narration(name=path.stem, voice=told["voice"], style=told["style"], lines=lines))
    if not found:
        raise ValueError(f"{', '.join(map(str, corpora))}: no narration of these names")
    return found


def to_rate(sound: Samples) -> Samples:
    """Sound of the voice's rate at ours, by its spectrum; silence on both sides keeps the ends apart."""
    pad = VOICE_RATE_HZ // 10
    length = len(sound) + 2 * pad
    length += -length % 3
    spectrum = np.fft.rfft(np.pad(sound.astype(np.float64), (pad, length - pad - len(sound))))
    shorter = length * 2 // 3
    resampled = np.fft.irfft(spectrum[: shorter // 2 + 1], shorter) * 2 / 3
    first = pad * 2 // 3
    return resampled[first : first + len(sound) * 2 // 3].astype(np.float32)


def speak(narration: Narration, voice: make_demo.Voice) -> tuple[Samples, list[dict[str, object]]]:
    """The narration without noise at our rate, and each line's place."""
    speed = SPEEDS.get(narration.style, 1.0)
    pause = np.zeros(round(SENTENCE_PAUSE_S * RATE_HZ), np.float32)
    pieces: list[Samples] = []
    rows: list[dict[str, object]] = []
    now = 0
    for line in narration.lines:
        parts = re.split(r"(?<=[.?!])\s+", line.say) if narration.style == "telegraphic" else [line.say]
        sounds = [to_rate(voice.say(part, speed=speed)) for part in parts]
        sound = np.concatenate([piece for each in sounds for piece in (each, pause)][:-1])
        start = max(now, round(line.t * RATE_HZ))
        pieces += [np.zeros(start - now, np.float32), sound]
        now = start + len(sound)
        rows.append({"start": round(start / RATE_HZ, 3), "end": round(now / RATE_HZ, 3), "say": line.say})
    pieces.append(np.zeros(round(LEAD_OUT_S * RATE_HZ), np.float32))
    return np.concatenate(pieces), rows


def noise_of(kind: str, *, samples: int, seed: int) -> Samples:
    """Noise of root mean square 1; tools that are put down come on top of a fan, loudest as loud as make_session's."""
    if kind != "clanks":
        return make_demo.make_noise(kind, samples=samples, seed=seed)
    fan = make_demo.make_noise("fan", samples=samples, seed=seed)
    struck = make_session.clanks(samples, generator=np.random.default_rng(seed))
    return (fan + struck * np.float32(3.0 / make_session.CLANK_PEAK)).astype(np.float32)


def make(narration: Narration, *, voices: Path, out: Path, levels: list[float], turn: int) -> str:
    """Make the recordings of a narration; gives a sentence about the result."""
    clean = out / "clean" / f"{narration.name}.wav"
    if not clean.with_suffix(".json").is_file():
        speech, rows = speak(narration, make_demo.Voice(narration.voice, voices=voices))
        speech *= np.float32(10 ** (make_demo.PEAK_DB / 20) / np.max(np.abs(speech)))
        make_session.write_wav(clean, speech)
        told = {"voice": narration.voice, "lines": rows}
        clean.with_suffix(".json").write_text(json.dumps(told, indent=1), "utf-8")
    make_demo.SAMPLE_RATE_HZ = RATE_HZ  # the noise maker and the level meter go by it
    speech = make_session._read_wav(clean)
    kind = NOISES[turn % len(NOISES)]
    noise = noise_of(kind, samples=len(speech), seed=SEED + turn)
    for level in levels:
        path = out / f"noise-{level:g}" / clean.name
        if not path.is_file():
            make_session.write_wav(path, make_demo.mix(speech, noise, snr_db=level))
    return f"{narration.name}: {len(speech) / RATE_HZ:.0f} s, {narration.voice}, {kind}"


def main(arguments: list[str] | None = None) -> int:
    """Voice the narrations."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    parser.add_argument("corpora", nargs="+", type=Path)
    parser.add_argument("--voices", type=Path, required=True, help="the folder `voices` of the unpacked npm package")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--only", default="", help="names of narrations, with commas between")
    parser.add_argument("--levels", default="20,10,5,0", help="dB of the speech above the noise")
    chosen = parser.parse_args(arguments)
    try:
        narrations = read_narrations(chosen.corpora, [name for name in chosen.only.split(",") if name])
        for turn, narration in enumerate(narrations):
            levels = [float(level) for level in chosen.levels.split(",")]
            print(make(narration, voices=chosen.voices, out=chosen.out, levels=levels, turn=turn), flush=True)
    except (OSError, ValueError) as problem:
        parser.error(str(problem))
    return 0


if __name__ == "__main__":
    sys.exit(main())
