"""Recognisers side by side: ours, and the plain engines on the weights that ours are adapted from.

Each is in a process of its own, which gives its highest memory; taking turns file by file gives all of them the same
load.
"""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

from voicereport.errors import AudioError, SettingsError

if TYPE_CHECKING:
    from voicereport.speech.catalogue import EngineName, Weights
    from voicereport.transcript import Transcript

EngineKind = Literal["ours", "batched", "sequential", "reference"]
TITLES: dict[EngineKind, str] = {
    "ours": "voicereport",
    "batched": "faster-whisper batched pipeline, beam 5",
    "sequential": "faster-whisper with speech detection, beam 5",
    "reference": "openai-whisper, beam 5",
}
_BEAM = 5
_BATCH = 8
_PARTS = {0.1: "finding speech", 0.75: "first reading", 0.8: "gaps", 1.0: "second reading"}


@dataclass(frozen=True, kw_only=True, slots=True)
class Run:
    """What an engine made of one file."""

    texts: tuple[str, ...]  #: in order of time; ours with the trade's words repaired
    duration_s: float  #: of the recording
    wall_s: float  #: decoding the file included, loading the model left out
    processor_s: float  #: of all threads
    memory_mb: float  #: the most that the process has held until then, its libraries and weights included
    parts: tuple[tuple[str, float], ...] = ()  #: seconds of each step, ours only
    transcript: Transcript | None = None  #: ours only, before the repair


def kinds_of(names: Sequence[str]) -> tuple[EngineKind, ...]:
    """The engines of these names. Raises SettingsError for another."""
    known = get_args(EngineKind)
    wrong = [name for name in names if name not in known]
    if wrong:
        raise SettingsError("--against", f"'{wrong[0]}' is no engine", f"known are: {', '.join(known)}")
    return tuple(kind for kind in known if kind in names)


@contextmanager
def side_by_side(
    kinds: Sequence[EngineKind], *, trade: str, threads: int = 0
) -> Iterator[Callable[[EngineKind, Path], Run]]:
    """A function that has one of the engines recognise a file. threads: of each engine; 0 = all cores. trade: whose
    words ours repairs."""
    context = multiprocessing.get_context("spawn")
    ends: dict[EngineKind, Connection] = {}
    workers = []
    for kind in kinds:
        here, there = context.Pipe()
        worker = context.Process(target=_serve, args=(kind, trade, threads, there), daemon=True)
        worker.start()
        there.close()
        ends[kind] = here
        workers.append(worker)

    def recognise(kind: EngineKind, path: Path) -> Run:
        try:
            ends[kind].send(path)
            answer = ends[kind].recv()
        except (EOFError, OSError) as error:
            raise AudioError(str(path), f"the process of {TITLES[kind]} ended", "see what it wrote") from error
        if isinstance(answer, str):
            raise AudioError(str(path), f"{TITLES[kind]}: {answer}", None)
        if not isinstance(answer, Run):
            raise TypeError(type(answer))
        return answer

    try:
        yield recognise
    finally:
        for end in ends.values():
            end.close()
        for worker in workers:
            worker.join(timeout=10)
            if worker.is_alive():
                worker.terminate()


def _serve(kind: EngineKind, trade: str, threads: int, end: Connection) -> None:
    """Recognise the files that come, until the other end is closed."""
    work = _ours(trade, threads) if kind == "ours" else _opened(kind, threads)
    while True:
        try:
            path = end.recv()
        except EOFError:
            return
        try:
            end.send(_measured(work, path))
        except Exception as error:  # told to the process that asked
            end.send(f"{type(error).__name__}: {error}")


Answer = tuple[tuple[str, ...], float, tuple[tuple[str, float], ...], "Transcript | None"]


def _measured(work: Callable[[Path], Answer], path: Path) -> Run:
    import resource

    wall, processor = time.perf_counter(), time.process_time()
    texts, duration_s, parts, transcript = work(path)
    return Run(
        texts=texts,
        duration_s=duration_s,
        wall_s=time.perf_counter() - wall,
        processor_s=time.process_time() - processor,
        memory_mb=resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        parts=parts,
        transcript=transcript,
    )


def _opened(kind: EngineKind, threads: int) -> Callable[[Path], Answer]:
    makers = {"batched": _batched, "sequential": _sequential, "reference": _reference}
    return makers[kind](threads)


def _ours(trade: str, threads: int) -> Callable[[Path], Answer]:
    from voicereport.audio import load
    from voicereport.speech.recognise import open_desk, take_clip
    from voicereport.trades import load_trade
    from voicereport.transcript import Transcript
    from voicereport.wording import repair

    words = load_trade(trade)
    desk = open_desk("auto", "auto", threads, "en", look_twice=True, resume=False, watched=())

    def work(path: Path) -> Answer:
        marks = [("", time.perf_counter())]

        def mark(share: float) -> None:
            if round(share, 3) in _PARTS:
                marks.append((_PARTS[round(share, 3)], time.perf_counter()))

        clip = load(path)
        taken = take_clip(clip, desk, name=path.name, number=1, progress=mark)
        spent: dict[str, float] = {}
        for (_, before), (what, after) in pairwise(marks):
            spent[what] = spent.get(what, 0.0) + after - before
        transcript = Transcript(recordings=(taken.recording,), segments=taken.segments, dropped=taken.dropped)
        texts = tuple(segment.text for segment in repair(transcript, words).segments)
        return texts, clip.duration_s, tuple(spent.items()), transcript

    return work


def _published(engine: EngineName) -> Weights:
    """The weights that ours are adapted from."""
    from voicereport.speech import catalogue

    shelf = catalogue()
    return shelf.named(shelf.named(shelf.first[engine], engine).published, engine)


def _whisper(threads: int) -> Any:
    import os

    from faster_whisper import WhisperModel

    from voicereport.speech.weights import laid_out

    with laid_out(_published("faster-whisper")) as place:
        return WhisperModel(str(place), device="cpu", compute_type="int8", cpu_threads=threads or os.cpu_count() or 1)


def _batched(threads: int) -> Callable[[Path], Answer]:
    from faster_whisper import BatchedInferencePipeline

    pipeline = BatchedInferencePipeline(_whisper(threads))

    def work(path: Path) -> Answer:
        found, about = pipeline.transcribe(str(path), language="en", beam_size=_BEAM, batch_size=_BATCH)
        return tuple(segment.text for segment in found), about.duration, (), None

    return work


def _sequential(threads: int) -> Callable[[Path], Answer]:
    whisper = _whisper(threads)

    def work(path: Path) -> Answer:
        found, about = whisper.transcribe(str(path), language="en", beam_size=_BEAM, vad_filter=True)
        return tuple(segment.text for segment in found), about.duration, (), None

    return work


def _reference(threads: int) -> Callable[[Path], Answer]:
    import torch
    import whisper

    from voicereport.audio import load
    from voicereport.speech.reference import load_model

    if threads:
        torch.set_num_threads(threads)
    model = load_model(_published("openai-whisper"), None)

    def work(path: Path) -> Answer:
        clip = load(path)
        found = whisper.transcribe(model, clip.read(0.0, clip.duration_s), language="en", beam_size=_BEAM, fp16=False)
        return tuple(segment["text"] for segment in found["segments"]), clip.duration_s, (), None

    return work
