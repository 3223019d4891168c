"""Voices lines of the reader for models/recogniser/recipe.py: scenes of some lines, each by one voice or by two mixed.

    python demo_audio/make_lines.py --voices package/voices --out OUT [--count 957] [--workers 2]

Scenes are up to nine lines (eleven with orders) that follow one another in a file of models/reader/lines; those of
`shared`, `development` and `heard` are left out, so that narrations that figures are told of are not learnt, and most
of the files of single lines about safety and status. OUT gets NNNNN.npz, {"sound": int16, 16 kHz, mono; "ends": samples
at which each line ends}, and lines.jsonl, {"name", "text", "voices", "speed"}. What is there already is not made again.
No scene is in a voice of UNHEARD, so that figures can be told of voices that were not learnt.

In the environment that make_demo.py names. The same versions give the same bytes.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import sys
from collections.abc import Iterator
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import make_demo
import make_voiced
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "models" / "reader"))
import recipe

UNHEARD = frozenset({"am_eric", "bf_lily", "bm_lewis", "em_alex", "af_sarah", "hm_omega", "im_nicola"})
ENGLISH = ("af", "am", "bf", "bm", "hf", "hm")  # voices by language and sex; others speak English with an accent
ACCENTS = ("ef", "em", "ff", "if", "im", "pf", "pm")
LEFT_OUT = ("shared", "development", "heard")
SHARES = {"safety": 0.45, "status": 0.35}  # of the scenes of such files
LONGEST, PARTED = 9, 7  # lines of a scene; of those that a longer block is parted into
BRITISH, ACCENTED, MIXED = 0.45, 0.2, 0.35
LONGEST_SYMBOLS = 480
DONE = {  # how an order begins, by how what was done does: often only a faint ending parts them
    "plugged": "plug", "unplugged": "unplug", "pulled": "pull", "switched": "switch", "turned": "turn", "took": "take",
    "disconnected": "disconnect", "reconnected": "reconnect", "connected": "connect", "removed": "remove",
    "refitted": "refit", "fitted": "fit", "discharged": "discharge", "checked": "check", "tested": "test",
    "measured": "measure", "opened": "open", "closed": "close", "isolated": "isolate", "locked": "lock",
    "taped": "tape",
    "clipped": "clip", "unclipped": "unclip", "screwed": "screw", "unscrewed": "unscrew", "tightened": "tighten",
    "loosened": "loosen", "drained": "drain", "cleaned": "clean", "cleared": "clear", "recovered": "recover",
    "charged": "charge", "evacuated": "evacuate", "weighed": "weigh", "sealed": "seal", "replaced": "replace",
    "swapped": "swap", "lifted": "lift", "popped": "pop", "dropped": "drop", "pushed": "push", "pressed": "press",
    "melted": "melt", "thawed": "thaw", "metered": "meter", "forced": "force", "ran": "run", "undid": "undo",
}  # fmt: skip
OBJECTS = frozenset({"the", "it", "them", "both", "all", "that", "my", "a", "her"})  # after it, in such lines
PEAK = 0.7
SEED = 5

_SPEAKER: dict[str, Any] = {}


def scenes() -> Iterator[tuple[str, list[str]]]:
    """(file, lines): what is spoken by one voice."""
    for path in sorted((Path(recipe.__file__).parent / "lines").glob("*.txt")):
        if path.stem.startswith(LEFT_OUT):
            continue
        run: list[str] = []
        for block in recipe.blocks_of(path):
            lines: list[str] = []
            for line in block:
                told = [line.before] if line.before and not lines else []
                lines += [text for text in (*told, line.text) if text and lines[-1:] != [text]]
            if run and len(run) + len(lines) > LONGEST:
                yield path.stem, run
                run = []
            if len(lines) > LONGEST:
                parts = -(-len(lines) // PARTED)
                for n in range(parts):
                    yield path.stem, lines[n * len(lines) // parts : (n + 1) * len(lines) // parts]
            else:
                run = run + lines
        if run:
            yield path.stem, run


def twin(line: str) -> str | None:
    """The line's first words as an order: "I unplugged the fan, it's off." gives "Unplug the fan."; None of others."""
    words = re.split(r"[.,!?;:]", line)[0].split()
    if words[:1] == ["I"]:
        words = words[1:]
    if len(words) < 3 or words[0].lower() not in DONE or words[1].lower() not in OBJECTS or "'" in " ".join(words):
        return None
    return " ".join([DONE[words[0].lower()].capitalize(), *words[1:]]) + "."


def with_twins(lines: list[str]) -> list[str]:
    """The lines, each with its order after it where it has one, no more than a scene holds."""
    pairs = [[line, order] if (order := twin(line)) else [line] for line in lines]
    return [line for pair in pairs for line in pair][: LONGEST + 2]


def chosen(voices: Path) -> list[dict[str, Any]]:
    """All scenes in an order by chance, each with its voices, their shares and its speed."""
    chance = random.Random(SEED)
    names = sorted(path.stem for path in voices.glob("*.bin") if path.stem not in UNHEARD)
    every = list(scenes())
    chance.shuffle(every)
    rows = []
    for stem, lines in every:
        if chance.random() >= next((share for start, share in SHARES.items() if stem.startswith(start)), 1.0):
            continue
        british, kind = chance.random() < BRITISH, chance.random()
        pool = [name for name in names if name[:2] in ENGLISH and (name[0] == "b") == british]
        if kind < ACCENTED:
            own = [chance.choice([name for name in names if name[:2] in ACCENTS])]
        else:
            own = chance.sample(pool, 2 if kind < ACCENTED + MIXED else 1)
        speed = chance.choice([chance.uniform(0.88, 1.1), chance.uniform(1.1, 1.35)])
        share = round(chance.uniform(0.3, 0.7), 3) if len(own) == 2 else 1.0
        rows.append({"text": with_twins(lines), "voices": own, "share": share, "speed": round(speed, 3)})
    return rows


def start(voices: Path) -> None:
    """Load what a worker speaks with."""
    _SPEAKER["folder"] = voices


def say(job: tuple[Path, dict[str, Any]]) -> float:
    """Speak a scene into its file; gives its seconds, 0.0 where it is there already or too long for the voice."""
    path, row = job
    if path.is_file():
        return 0.0
    if "voice" not in _SPEAKER:
        _SPEAKER["voice"] = make_demo.Voice(row["voices"][0], voices=_SPEAKER["folder"])
    mixed = _SPEAKER["voice"]  # one for all styles: it holds the weights
    files = [(_SPEAKER["folder"] / f"{name}.bin").read_bytes() for name in row["voices"]]
    first, last = (np.frombuffer(files[n], np.float32).reshape(-1, 256) for n in (0, -1))
    mixed._language = "en-gb" if row["voices"][0].startswith("b") else "en-us"
    mixed._styles = row["share"] * first + (1 - row["share"]) * last
    if any(len(mixed.phonemes(line)) > LONGEST_SYMBOLS for line in row["text"]):
        return 0.0
    sounds = [make_voiced.to_rate(mixed.say(line, speed=row["speed"])) for line in row["text"]]
    whole = np.concatenate(sounds)
    whole *= PEAK / np.abs(whole).max()
    unfinished = path.with_suffix(".part.npz")
    np.savez(unfinished, sound=np.round(whole * 32767).astype(np.int16), ends=np.cumsum([len(s) for s in sounds]))
    unfinished.rename(path)
    return float(len(whole)) / make_voiced.RATE_HZ


def main(arguments: list[str] | None = None) -> int:
    """Voice the lines."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    parser.add_argument("--voices", type=Path, required=True, help="the folder `voices` of the unpacked npm package")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=957, help="scenes")
    parser.add_argument("--workers", type=int, default=2)
    told = parser.parse_args(arguments)
    try:
        rows = chosen(told.voices)[: told.count]
        told.out.mkdir(parents=True, exist_ok=True)
        listed = "".join(json.dumps({"name": f"{n:05}", **row}) + "\n" for n, row in enumerate(rows))
        index = told.out / "lines.jsonl"
        there = index.read_text("utf-8") if index.is_file() else listed
        if not (there.startswith(listed) or listed.startswith(there)):
            raise ValueError(f"{index}: is of other scenes; give another folder")
        index.write_text(listed, "utf-8")
        seconds = 0.0
        with Pool(told.workers, start, [told.voices]) as pool:
            jobs = [(told.out / f"{n:05}.npz", row) for n, row in enumerate(rows)]
            for n, spoken in enumerate(pool.imap_unordered(say, jobs), 1):
                seconds += spoken
                if n % 50 == 0 or n == len(jobs):
                    print(f"{n} scenes, {seconds:.0f} s spoken", flush=True)
    except (OSError, ValueError) as problem:
        parser.error(str(problem))
    return 0


if __name__ == "__main__":
    sys.exit(main())
