"""Voices sentences with numbers, in noise, for `models/doubt/recipe.py`, which learns from them which numbers to doubt.

    python demo_audio/make_numbers.py CORPUS... --voices package/voices --out OUT [--skip d01,d02] [--only fit]

CORPUS: folders of annotated narrations and sentences; --skip names narrations that are kept for measuring. OUT gets
two folders, `fit` and `held`, that share no voice and no sentence. Each has sessions of about twenty sentences,
clean/NAME.wav (16 kHz, mono, 16 bit) with NAME.json beside it, {"voice", "lines": [{"start", "end", "say"}]} in
seconds, and NAME.wav in `noise-20`, `noise-10`, `noise-5` and `noise-0`, the number being dB of the speech above the
noise: a compressor's hum, a fan, a fan with tools put down, and people talking, in turn from session to session and
level to level. Half of the sentences are spoken as written, half with other numbers in the same places, so that
each number word is heard in many places. What is there already is not made again.

In the environment that make_voiced.py names. The same versions give the same bytes.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Literal

import make_demo
import make_session
import make_voiced
import numpy as np
import yaml
from numpy.typing import NDArray

Samples = NDArray[np.float32]  # mono, 16 kHz, within [-1, 1]
Part = Literal["fit", "held"]

VOICES: dict[Part, tuple[str, ...]] = {  # none that the recognisers learnt from: those are heard too well
    "fit": ("bm_lewis", "em_alex", "am_eric", "jf_alpha", "bf_lily", "zm_yunjian", "hm_omega"),
    "held": ("af_sarah", "jm_kumo", "im_nicola", "zf_xiaoni", "jf_nezumi", "zm_yunxi"),
}  # fmt: skip
LINES: dict[Part, int] = {"fit": 63, "held": 63}  # a voice
A_SESSION = 21  # lines
LEVELS_DB = (20, 10, 5, 0)
NOISES = ("hum", "fan", "clanks", "babble")
PAUSE_S = (0.6, 2.0)
TALKERS = 5
SPEEDS = (0.95, 1.0, 1.0, 1.15)
SEED = 23
HELD = 3  # of ten sentences
LONGEST = 30  # words of a sentence
PLAIN = 5  # one sentence in so many has a number without a unit
DIGITS = ("two", "three", "four", "five", "six", "seven", "eight", "nine")
TEENS = ("twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen")
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
UNITS = re.compile(
    r"\b(?:volts?|amps?|milliamps?|(?:kil|meg)?ohms?|watts?|k?grams?|ounces?|bar|(?:kilo)?pascals?|microns?|degrees?|"
    r"celsius|fahrenheit|percent|seconds?|minutes?|hours?|psi|p s i|microfarads?|mils|litres?|below|minus)\b"
)
COUNTED = re.compile(rf"\b(?:{'|'.join((*DIGITS, *TEENS, *TENS))}|zero|hundred|point|half|quarter)\b")


def sentences(corpora: list[Path], skip: list[str]) -> dict[Part, list[str]]:
    """What is said with a number in it, parted by the digest of its words; four in five with a unit."""
    said: dict[str, bool] = {}
    for path in sorted((p for corpus in corpora for p in corpus.glob("*.yaml")), key=lambda p: p.stem):
        if path.stem in skip:
            continue
        told = yaml.safe_load(path.read_text("utf-8"))
        rows = told["lines"] if isinstance(told, dict) and "lines" in told else told if isinstance(told, list) else []
        for row in rows:
            say = str(row["say"])
            if COUNTED.search(say.lower()) and len(say.split()) <= LONGEST:
                said[say] = bool(UNITS.search(say.lower()))
    found: dict[Part, list[str]] = {}
    for part in VOICES:
        own = sorted((say for say in said if part_of(say) == part), key=_digest)
        measured, plain = ([say for say in own if said[say] is unit] for unit in (True, False))
        found[part] = sorted(measured + plain[: len(measured) // (PLAIN - 1)], key=_digest)
    if not all(found.values()):
        raise ValueError(f"{', '.join(map(str, corpora))}: too few sentences with numbers")
    return found


def part_of(say: str) -> Part:
    """Whether a sentence is learnt from or held back."""
    return "held" if int(_digest(say), 16) % 10 < HELD else "fit"


def _digest(say: str) -> str:
    return hashlib.sha256(say.encode()).hexdigest()


def changed(say: str, chance: random.Random) -> str:
    """The sentence with other numbers in the same places: digits for digits, teens and tens for teens and tens."""
    kinds: dict[str, tuple[str, ...]] = {word: kind for kind in (DIGITS, TEENS, TENS) for word in kind}

    def other(found: re.Match[str]) -> str:
        word = found[0].lower()
        goes_on = re.match(rf"[ -](?:one|{'|'.join(DIGITS)})\b", say[found.end() :])
        alone = word in TEENS or (word in TENS and goes_on is None)
        word = chance.choice((*TENS, *TEENS) if alone else kinds[word])
        return word.capitalize() if found[0][0].isupper() else word

    return re.sub(rf"\b(?:{'|'.join(kinds)})\b", other, say, flags=re.IGNORECASE)


def shared_out(part: Part, said: list[str]) -> Iterator[tuple[str, str, list[str]]]:
    """(session, voice, lines): the sentences in turn, every second one with other numbers."""
    chance = random.Random(f"{SEED} {part}")
    at = 0
    for voice in VOICES[part]:
        lines = []
        for _ in range(LINES[part]):
            say = said[at % len(said)]
            lines.append(changed(say, chance) if (at + at // len(said)) % 2 else say)
            at += 1
        for n, first in enumerate(range(0, len(lines), A_SESSION), 1):
            yield f"{voice}-{n}", voice, lines[first : first + A_SESSION]


def speak(voice: make_demo.Voice, lines: list[str], chance: random.Random) -> tuple[Samples, list[dict[str, object]]]:
    """The lines with pauses, and each line's place in seconds."""
    rate = make_voiced.RATE_HZ
    speed = chance.choice(SPEEDS)
    pieces: list[Samples] = [np.zeros(rate // 2, np.float32)]
    rows: list[dict[str, object]] = []
    now = rate // 2
    for say in lines:
        sound = make_voiced.to_rate(voice.say(say, speed=speed))
        rows.append({"start": round(now / rate, 3), "end": round((now + len(sound)) / rate, 3), "say": say})
        pause = np.zeros(round(chance.uniform(*PAUSE_S) * rate), np.float32)
        pieces += [sound, pause]
        now += len(sound) + len(pause)
    return np.concatenate(pieces), rows


def voiced(part: Part, said: list[str], *, voices: Path, out: Path) -> None:
    """The sessions without noise."""
    loaded: tuple[str, make_demo.Voice] | None = None
    for name, voice, lines in shared_out(part, said):
        path = out / part / "clean" / f"{name}.wav"
        if path.with_suffix(".json").is_file():
            continue
        if loaded is None or loaded[0] != voice:
            loaded = voice, make_demo.Voice(voice, voices=voices)
        sound, rows = speak(loaded[1], lines, random.Random(f"{SEED} {name}"))
        sound *= np.float32(10 ** (make_demo.PEAK_DB / 20) / np.max(np.abs(sound)))
        make_session.write_wav(path, sound)
        path.with_suffix(".json").write_text(json.dumps({"voice": voice, "lines": rows}, indent=1), "utf-8")
        print(f"{part}/{name}: {len(sound) / make_voiced.RATE_HZ:.0f} s", flush=True)


def babble(own: str, clean: Path, *, samples: int, seed: int) -> Samples:
    """Five people talking at once, none in the voice of the session `own`; root mean square 1."""
    chance = np.random.default_rng(seed)
    others = [path for path in sorted(clean.glob("*.wav")) if path.stem.split("-")[0] != own.split("-")[0]]
    total = np.zeros(samples, np.float64)
    for path in chance.permutation(np.array(others, dtype=object))[:TALKERS]:
        sound = make_session._read_wav(path)
        level = make_demo.speech_level(sound)
        total += np.resize(np.roll(sound, int(chance.integers(len(sound)))), samples) / level
    return np.asarray(total / np.sqrt(np.mean(total**2)), np.float32)


def noisy(folder: Path) -> None:
    """Each session in noise, at each level."""
    make_demo.SAMPLE_RATE_HZ = make_voiced.RATE_HZ  # the noise maker and the level meter go by it
    clean = folder / "clean"
    for turn, path in enumerate(sorted(clean.glob("*.wav"))):
        speech = make_session._read_wav(path)
        for n, level in enumerate(LEVELS_DB):
            target = folder / f"noise-{level}" / path.name
            if target.is_file():
                continue
            kind, seed = NOISES[(turn + n) % len(NOISES)], SEED + 4 * turn + n
            if kind == "babble":
                noise = babble(path.stem, clean, samples=len(speech), seed=seed)
            else:
                noise = make_voiced.noise_of(kind, samples=len(speech), seed=seed)
            make_session.write_wav(target, make_demo.mix(speech, noise, snr_db=level))


def main(arguments: list[str] | None = None) -> int:
    """Voice the sentences."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    parser.add_argument("corpora", nargs="+", type=Path)
    parser.add_argument("--voices", type=Path, required=True, help="the folder `voices` of the unpacked npm package")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--skip", default="", help="narrations that are left out, with commas between")
    parser.add_argument("--only", choices=list(VOICES), help="one of the two parts")
    chosen = parser.parse_args(arguments)
    try:
        said = sentences(chosen.corpora, chosen.skip.split(","))
        for part in [chosen.only] if chosen.only else VOICES:
            voiced(part, said[part], voices=chosen.voices, out=chosen.out)
            noisy(chosen.out / part)
    except (OSError, ValueError) as problem:
        parser.error(str(problem))
    return 0


if __name__ == "__main__":
    sys.exit(main())
