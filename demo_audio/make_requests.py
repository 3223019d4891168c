"""Makes recordings of spoken requests, with ordinary talk between them, in several voices and in noise.

    python demo_audio/make_requests.py NARRATIONS --voices package/voices --out FOLDER [--snr 10] [--say am_michael ...]

In the environment of make_demo.py, with pyyaml. NARRATIONS is a folder of annotated narrations: the talk. FOLDER gets
VOICE.wav (16 kHz, mono, 16 bit) and VOICE.json, {"voice", "lines": [{"start", "end", "say"}]}, for
`python -m voicereport.evaluation.live_bench requests FOLDER`. Each voice says two wordings of every request of
models/live.toml, a line of talk after each. Same machine, same versions: same bytes.
"""

from __future__ import annotations

import argparse
import itertools
import json
import tomllib
import wave
from pathlib import Path
from typing import Any

import make_demo
import numpy as np
from numpy.typing import NDArray

RATE_HZ = 16_000
VOICES = ("am_michael", "af_heart", "am_fenrir", "bm_george", "bf_emma", "af_bella")
PAUSE_S = 1.8  # between lines: a request is answered after less
NOTED = "the hinge of the door is bent"
LAST = ("stop", "start", "finish")  # listening ends there


def requests_of(path: Path) -> list[str]:
    """Two wordings of every request, those that end listening last, and "finish" once."""
    data: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    call = data["call"]["words"][0].capitalize()
    rows = sorted(data["requests"], key=lambda row: LAST.index(row["does"]) if row["does"] in LAST else -1)
    told = []
    for row in rows:
        tail = f", {NOTED}" if row["does"] == "note" else ""
        count = 1 if row["does"] in LAST else 2
        told += [f"{call}, {phrase}{tail}." for phrase in row["phrases"][:count]]
    return told


def talk_of(folder: Path) -> list[str]:
    """The lines of the narrations in `folder`, by name."""
    import yaml

    found = [line["say"] for path in sorted(folder.glob("[a-z][0-9]*.yaml"))
             for line in yaml.safe_load(path.read_text(encoding="utf-8"))["lines"]]  # fmt: skip
    return [" ".join(text.split()) for text in found]


def resampled(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """24 kHz to 16 kHz by a windowed sinc."""
    taps = np.arange(-48, 49)
    kernel = np.sinc(taps / 3) * np.hanning(len(taps)) * (2 / 3)
    wide = np.zeros(2 * len(sound))
    wide[::2] = sound
    return np.convolve(wide, kernel, mode="same")[::3].astype(np.float32)


def main() -> None:
    """Make the recordings of every voice."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("narrations", type=Path)
    parser.add_argument("--voices", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--snr", type=float, default=10.0)
    parser.add_argument("--say", nargs="*", default=VOICES)
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    asked = requests_of(make_demo.HERE.parent / "models" / "live.toml")
    talk = itertools.cycle(talk_of(given.narrations))
    for n, name in enumerate(given.say):
        lines = [line for request in asked for line in (request, next(talk))][:-1]
        narration = make_demo.Narration(
            name=name, voice=name, speed=1.0, noise="workshop", snr_db=given.snr, seed=100 + n, pause_s=PAUSE_S,
            lines=tuple(make_demo.Line(t=0.0, say=line) for line in lines),
        )  # fmt: skip
        speech, times = make_demo.speak(narration, make_demo.Voice(name, voices=given.voices))
        noise = make_demo.make_noise(narration.noise, samples=len(speech), seed=narration.seed)
        write(given.out / f"{name}.wav", resampled(make_demo.mix(speech, noise, snr_db=given.snr)))
        rows = [{"start": round(a, 3), "end": round(b, 3), "say": line}
                for line, (a, b) in zip(lines, times, strict=True)]  # fmt: skip
        (given.out / f"{name}.json").write_text(json.dumps({"voice": name, "lines": rows}, indent=1), "utf-8")


def write(path: Path, sound: NDArray[np.float32]) -> None:
    """Samples as a WAV file, 16 bit."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes((np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes())


if __name__ == "__main__":
    main()
