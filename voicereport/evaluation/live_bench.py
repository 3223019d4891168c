"""What live listening is measured by: text and sound fed as they would come, against whole files and against the clock.

    python -m voicereport.evaluation.live_bench text tests/corpus/shared
    python -m voicereport.evaluation.live_bench sound RECORDING [--as-fast] [--minutes N] [--silence S]
    python -m voicereport.evaluation.live_bench requests FOLDER

FOLDER holds NAME.wav with NAME.json, {"lines": [{"start", "end", "say"}]}, as demo_audio/make_requests.py makes them.
Results are JSON on stdout.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicereport.evaluation.corpus import Narration, read_corpus, to_transcript, units_of
from voicereport.live import Session, load_phrases, open_recogniser
from voicereport.live.changes import LACKING
from voicereport.live.compare import agreement
from voicereport.live.events import Asked, Event, Heard, Prompt
from voicereport.live.job import begin
from voicereport.live.sources import PIECE, FileSource
from voicereport.pipeline import understand
from voicereport.requests.directions import find_directions
from voicereport.requests.phrases import Phrases
from voicereport.settings import Settings, load_settings
from voicereport.trades import load_trade
from voicereport.transcript import spread

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


_MEMORY_EVERY_S = 90.0
_ANSWERED_S = 4.0  #: a request is answered within these, of the recording


@dataclass(frozen=True, kw_only=True, slots=True)
class TextFeed:
    """One narration, fed line by line."""

    name: str
    style: str
    checks: float  #: share of check states equal to the whole file's
    steps: float  #: F1 against the whole file's steps
    requests: int  #: requests heard: there is none in it
    warned: dict[str, int]  #: check -> line at whose end the warning was out
    violated: dict[str, int]  #: check that must come first -> line after which the report finds it lacking
    wanted: tuple[str, ...]  #: checks that must come first and that the gold finds lacking
    prompts: int  #: of any kind
    slowest_ms: float  #: of its utterances


@dataclass(frozen=True, kw_only=True, slots=True)
class SoundFeed:
    """One recording, fed as it would come."""

    seconds: float
    utterances: int
    median_s: float  #: from the silence after an utterance to the event that tells all of its words
    p95_s: float
    worst_s: float
    understood_median_s: float  #: to the events that tell what it means: steps, readings, checks
    understood_p95_s: float
    load: tuple[float, float]  #: processes that wanted the processor, last minute, at the start and at the end
    cpu_share: float  #: processor seconds a second of the recording, all cores together
    behind_s: float  #: most that understanding was behind
    memory_mb: tuple[float, ...]  #: resident, at the start, every 90 s of the recording, and at the end


def feed_text(narration: Narration, settings: Settings, phrases: Phrases) -> TextFeed:
    """One narration line by line, against all of it at once."""
    own = replace(settings, trade=narration.trade, units=units_of(narration.voice, settings.units))
    trade, transcript = load_trade(narration.trade), to_transcript(narration)
    first = {e.id for e in trade.entries.entries if e.rule == "before" and e.severity == "stop"}
    session = Session(trade=trade, settings=own, phrases=phrases, name=transcript.recordings[0].name)
    warned: dict[str, int] = {}
    violated: dict[str, int] = {}
    events: list[Event] = []
    slowest = 0.0
    for n, segment in enumerate(transcript.segments, 1):
        began = time.perf_counter()
        new = session.say(segment.text, segment.start, segment.end)
        slowest = max(slowest, time.perf_counter() - began)
        events += new
        for prompt in (e for e in new if isinstance(e, Prompt)):
            warned.setdefault(prompt.about, n)
        for check in session.report.checks if session.report else ():
            if check.id in first and check.state in LACKING:
                violated.setdefault(check.id, n)
    session.finish()
    if session.report is None:
        raise ValueError(narration.name)
    found = agreement(session.report, understand(transcript, trade, own, phrases=phrases))
    gold = narration.gold["checks"]
    return TextFeed(
        name=narration.name, style=narration.style, checks=found.checks, steps=found.steps,
        requests=sum(isinstance(e, Asked) for e in events), warned=warned, violated=violated,
        wanted=tuple(c for c in sorted(first) if gold.get(c) in LACKING),
        prompts=sum(isinstance(e, Prompt) for e in events), slowest_ms=round(1000 * slowest, 1),
    )  # fmt: skip


def feed_sound(recording: Path, settings: Settings, phrases: Phrases, *, as_fast: bool = False) -> SoundFeed:
    """A recording as it would come; in real time, unless as_fast (then latencies mean nothing)."""
    session = Session(trade=load_trade(settings.trade), settings=settings, phrases=phrases,
                      recogniser=open_recogniser(settings))  # fmt: skip
    session.warm_up()
    told: list[tuple[float, Heard]] = []
    meant: list[tuple[float, Heard]] = []  #: the group of events after each of those is what it means
    memory, load = [_resident_mb()], [os.getloadavg()[0]]
    behind = 0.0
    with tempfile.TemporaryDirectory() as folder:
        job = begin(Path(folder), session, settings={})
        source = FileSource(path=recording, as_fast=as_fast)
        processor, began = time.process_time(), time.monotonic()
        for events in job.events(source):
            now = time.monotonic() - began
            if len(meant) < len(told):
                meant.append((now, told[-1][1]))
            told += [(now, e) for e in events if isinstance(e, Heard) and not e.settled][-1:]
            behind = max(behind, job.writer.seconds - session.at)
            if session.at > len(memory) * _MEMORY_EVERY_S:
                memory.append(_resident_mb())
        job.finish()
        used = time.process_time() - processor
    memory.append(_resident_mb())
    load.append(os.getloadavg()[0])
    late, later = sorted(_latencies(told)), sorted(_latencies(meant))
    return SoundFeed(
        seconds=round(session.at, 1), utterances=len(late), median_s=round(statistics.median(late), 2),
        p95_s=round(late[int(0.95 * (len(late) - 1))], 2), worst_s=round(late[-1], 2),
        understood_median_s=round(statistics.median(later), 2),
        understood_p95_s=round(later[int(0.95 * (len(later) - 1))], 2),
        load=(round(load[0], 2), round(load[-1], 2)),
        cpu_share=round(used / session.at, 3), behind_s=round(behind, 2), memory_mb=tuple(memory),
    )  # fmt: skip


def _latencies(told: Sequence[tuple[float, Heard]]) -> list[float]:
    """Seconds from the silence after each utterance to the event that tells all of it."""
    last = {round(event.at, 1): (now, event) for now, event in told}
    return [now - event.silent_from for now, event in last.values()]


@dataclass(frozen=True, kw_only=True, slots=True)
class RequestFeed:
    """One recording of spoken requests with talk between them."""

    name: str
    asked: int  #: requests that were spoken
    found: int  #: of those, taken for what they are
    missed: tuple[str, ...]  #: what was spoken, and what was heard about then
    false: tuple[str, ...]  #: requests heard that nobody spoke


def feed_requests(recording: Path, settings: Settings, phrases: Phrases) -> RequestFeed:
    """A recording of requests, as fast as it goes, against what was spoken in it."""
    from voicereport.audio import load

    lines = json.loads(recording.with_suffix(".json").read_text(encoding="utf-8"))["lines"]
    wanted = [(line, d.does) for line in lines
              for d in find_directions(spread(line["say"], line["start"], line["end"]), phrases)]  # fmt: skip
    session = Session(trade=load_trade(settings.trade), settings=settings, phrases=phrases,
                      recogniser=open_recogniser(settings), ask=False)  # fmt: skip
    clip = load(recording)
    events: list[Event] = []
    for samples in _pieces(clip.read(0, clip.duration_s)):
        for first in range(0, len(samples), PIECE):
            events += session.hear(samples[first : first + PIECE])
    events += session.flush()
    left = [event for event in events if isinstance(event, Asked)]
    missed = []
    for line, does in wanted:
        near = next((e for e in left if e.does == does and line["start"] < e.at < line["end"] + _ANSWERED_S), None)
        if near is None:
            heard = " ".join(one.segment.text for one in session.said
                             if one.segment.start < line["end"] and line["start"] < one.segment.end)  # fmt: skip
            missed.append(f"{line['say']} / {heard}")
        else:
            left.remove(near)
    return RequestFeed(name=recording.stem, asked=len(wanted), found=len(wanted) - len(missed), missed=tuple(missed),
                       false=tuple(f"{e.does}: {e.text}" for e in left))  # fmt: skip


def repeated(recording: Path, seconds: float, out: Path, *, silence_s: float = 0.0) -> None:
    """The recording over and over as one of at least `seconds`, written to `out`. silence_s: after each time."""
    import numpy as np

    from voicereport.audio import RATE_HZ, load
    from voicereport.live.record import WavWriter

    clip = load(recording)
    writer = WavWriter(out)
    while writer.seconds < seconds:
        for piece in _pieces(clip.read(0, clip.duration_s)):
            writer.add(piece)
        for _ in range(round(silence_s)):
            writer.add(np.zeros(RATE_HZ, np.float32))
    writer.close()


def _pieces(samples: NDArray[np.float32]) -> Iterator[NDArray[np.float32]]:
    for first in range(0, len(samples), PIECE * 100):
        yield samples[first : first + PIECE * 100]


def _resident_mb() -> float:
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
        return round(pages * os.sysconf("SC_PAGE_SIZE") / 2**20, 1)
    except OSError:
        return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1)


def summary(feeds: Sequence[TextFeed]) -> dict[str, Any]:
    """The figures of a corpus fed as text."""
    first_told = [(f.warned.get(c), line) for f in feeds for c, line in f.violated.items()]
    in_time = sum(warned is not None and warned <= line for warned, line in first_told)
    wanted = [(c in f.warned) for f in feeds for c in f.wanted]
    return {
        "narrations": len(feeds),
        "checks_equal": sum(f.checks for f in feeds) / len(feeds),
        "steps_f1": sum(f.steps for f in feeds) / len(feeds),
        "false_requests": sum(f.requests for f in feeds),
        "warned_in_time": f"{in_time}/{len(first_told)}",
        "gold_violations_warned": f"{sum(wanted)}/{len(wanted)}",
        "warnings_where_gold_has_none": sum(c not in f.wanted for f in feeds for c in f.warned),
        "prompts_a_narration": sum(f.prompts for f in feeds) / len(feeds),
        "slowest_utterance_ms": max(f.slowest_ms for f in feeds),
        "each": [asdict(f) for f in feeds],
    }


def main() -> None:
    """Measure, and print JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("text", "sound", "requests"))
    parser.add_argument("path", type=Path)
    parser.add_argument("--as-fast", action="store_true")
    parser.add_argument("--minutes", type=float)
    parser.add_argument("--silence", type=float, default=0.0)
    given = parser.parse_args()
    settings, phrases = load_settings(), load_phrases()
    if given.what == "text":
        result = summary([feed_text(n, settings, phrases) for n in read_corpus(given.path).narrations])
    elif given.what == "requests":
        feeds = [feed_requests(path, settings, phrases) for path in sorted(given.path.glob("*.wav"))]
        result = {
            "found": f"{sum(f.found for f in feeds)}/{sum(f.asked for f in feeds)}",
            "false": sum(len(f.false) for f in feeds),
            "each": [asdict(f) for f in feeds],
        }
    else:
        with tempfile.TemporaryDirectory() as folder:
            path = given.path
            if given.minutes:
                path = Path(folder) / "repeated.wav"
                repeated(given.path, 60 * given.minutes, path, silence_s=given.silence)
            result = asdict(feed_sound(path, settings, phrases, as_fast=given.as_fast))
    json.dump(result, sys.stdout, indent=1)
    sys.stdout.write("\n")


if __name__ == "__main__":
    main()
