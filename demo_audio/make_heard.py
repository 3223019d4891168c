"""Voices marked lines of the reader in noise, for models/reader/heard.py, which makes lines of what is heard in them.

    python demo_audio/make_heard.py FILE... --voices FOLDER --out OUT [--levels 10,5,15] [--first 1] [--count 25]

FILE is one of models/reader/lines. A block of twenty lines or more is spoken as one narration, shorter ones together,
thirty lines at a time; the files take turns. OUT gets clean/NAME.wav with NAME.json beside it, {"voice", "lines":
[{"start", "end", "say", "raw", "block"}]}: the words, the line with its marks, and the digest of its block. NAME.wav in
a folder `noise-LEVEL` has the noise of make_voiced.py, the levels in turn from narration to narration. What is there
already is not made again; `--first` shares the work among processes.

In the environment that make_voiced.py names. The same versions give the same bytes.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

import make_demo
import make_session
import make_voiced

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "models" / "reader"))
import recipe

VOICES = (
    "am_adam", "bf_alice", "am_onyx", "bm_daniel", "af_bella", "bm_fable", "am_puck", "bf_lily", "af_sarah", "bm_lewis",
    "am_liam", "bf_isabella", "af_nova", "am_fenrir", "hm_omega", "bm_george", "af_jessica", "am_echo", "ef_dora",
    "am_eric",
)  # fmt: skip
STYLES = ("plain", "messy", "plain", "plain")
LONG_LINES, TOGETHER_LINES = 20, 30
WORD_S, PAUSES_S = 0.36, (0.2, 2.6)  # a line begins where the one before should have ended, and a pause after it
SEED = 23


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """A line to be spoken."""

    say: str
    raw: str  #: with its marks
    block: str  #: digest


def narrations(path: Path) -> Iterator[list[Row]]:
    """The narrations of a file of lines: its long blocks, and its short ones together."""
    short: list[Row] = []
    for block in recipe.blocks_of(path):
        rows = [Row(say=line.text, raw=line.raw, block=line.block) for line in block]
        if len(rows) >= LONG_LINES:
            yield rows
            continue
        short += rows
        if len(short) >= TOGETHER_LINES:
            yield short
            short = []


def chosen(files: list[Path], count: int) -> list[tuple[str, list[Row]]]:
    """The first `count` narrations with their names; the files take turns."""
    named = [[(f"{path.stem}-{n:02}", rows) for n, rows in enumerate(narrations(path), 1)] for path in files]
    return [pair for turn in zip_longest(*named) for pair in turn if pair is not None][:count]


def voice(name: str, rows: list[Row], *, turn: int, voices: Path, out: Path) -> None:
    """Speak a narration, if it is not there yet."""
    clean = out / "clean" / f"{name}.wav"
    if clean.with_suffix(".json").is_file():
        return
    generator, at, lines = random.Random(SEED + turn), 0.5, []
    for row in rows:
        lines.append(make_demo.Line(t=at, say=row.say))
        at += WORD_S * len(row.say.split()) + generator.uniform(*PAUSES_S)
    spoken = make_voiced.Narration(name=name, voice=VOICES[turn % len(VOICES)], style=STYLES[turn % len(STYLES)],
                                   lines=tuple(lines))  # fmt: skip
    make_demo.SAMPLE_RATE_HZ = make_voiced.VOICE_RATE_HZ
    speech, places = make_voiced.speak(spoken, make_demo.Voice(spoken.voice, voices=voices))
    speech *= make_voiced.np.float32(10 ** (make_demo.PEAK_DB / 20) / make_voiced.np.max(abs(speech)))
    make_session.write_wav(clean, speech)
    told = [{**place, "raw": row.raw, "block": row.block} for place, row in zip(places, rows, strict=True)]
    clean.with_suffix(".json").write_text(json.dumps({"voice": spoken.voice, "lines": told}, indent=1), "utf-8")


def drown(name: str, *, turn: int, level: float, out: Path) -> None:
    """Lay noise under a narration, if that is not there yet. level: dB of the speech above the noise."""
    path = out / f"noise-{level:g}" / f"{name}.wav"
    if path.is_file():
        return
    make_demo.SAMPLE_RATE_HZ = make_voiced.RATE_HZ  # the noise maker and the level meter go by it
    speech = make_session._read_wav(out / "clean" / f"{name}.wav")
    kind = make_voiced.NOISES[turn % len(make_voiced.NOISES)]
    noise = make_voiced.noise_of(kind, samples=len(speech), seed=SEED + turn)
    make_session.write_wav(path, make_demo.mix(speech, noise, snr_db=level))


def main(arguments: list[str] | None = None) -> int:
    """Voice the lines."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    parser.add_argument("files", nargs="+", type=Path)
    parser.add_argument("--voices", type=Path, required=True, help="the folder `voices` of the unpacked npm package")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--levels", default="10,5,15", help="dB of the speech above the noise, in turn")
    parser.add_argument("--first", type=int, default=1, help="narration to begin with, from 1")
    parser.add_argument("--count", type=int, default=25, help="narrations in all")
    told = parser.parse_args(arguments)
    levels = [float(level) for level in told.levels.split(",")]
    try:
        for turn, (name, rows) in list(enumerate(chosen(told.files, told.count)))[told.first - 1 :]:
            voice(name, rows, turn=turn, voices=told.voices, out=told.out)
            drown(name, turn=turn, level=levels[turn % len(levels)], out=told.out)
            print(f"{name}: {len(rows)} lines", flush=True)
    except (OSError, ValueError) as problem:
        parser.error(str(problem))
    return 0


if __name__ == "__main__":
    sys.exit(main())
