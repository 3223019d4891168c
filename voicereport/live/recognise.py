"""Short stretches of sound to segments, by the same recognisers, loaded once, as whole recordings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from voicereport.transcript import Segment, Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from voicereport.audio import Clip
    from voicereport.settings import Settings
    from voicereport.speech.recognise import Desk


class Recogniser(Protocol):
    """What a session needs of a recogniser. Times are seconds of the recording."""

    @property
    def engine(self) -> str: ...
    @property
    def model(self) -> str: ...
    def words(self, samples: NDArray[np.float32], start: float, *, well: bool = False) -> tuple[Segment, ...]:
        """The segments of a stretch that begins at `start`; ids and recording are set by the session.

        well: what gave no words is heard by other weights too, and the second look is in it.
        """
        ...

    def second_look(
        self, samples: NDArray[np.float32], start: float, segments: Sequence[Segment]
    ) -> tuple[Segment, ...]:
        """The segments with what other weights heard instead, where it matters."""
        ...


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadedRecogniser:
    """The recognisers of the package. `quick` reads, `full` has the second look as well."""

    quick: Desk
    full: Desk

    @property
    def engine(self) -> str:
        return self.quick.first.name

    @property
    def model(self) -> str:
        return self.quick.first.model

    def words(self, samples: NDArray[np.float32], start: float, *, well: bool = False) -> tuple[Segment, ...]:
        from voicereport.speech.recognise import take_clip

        desk = self.full if well else self.quick
        taken = take_clip(_clip(samples), desk, name="", number=1, progress=lambda _share: None)
        return tuple(_moved(segment, start) for segment in taken.segments)

    def second_look(
        self, samples: NDArray[np.float32], start: float, segments: Sequence[Segment]
    ) -> tuple[Segment, ...]:
        from voicereport.speech.hear import Ear
        from voicereport.speech.recognise import with_second_look

        if self.full.second is None:
            return tuple(segments)
        ear = Ear(clip=_clip(samples), engine=self.full.first, memory=None, language=self.full.language)
        heard = [segment for segment in segments if segment.words]
        groups = [tuple(_word(word, -start) for word in segment.words) for segment in heard]
        looked = iter(with_second_look(groups, ear, self.full))
        return tuple(
            replace(segment, words=tuple(_word(word, start) for word in next(looked))) if segment.words else segment
            for segment in segments
        )


def open_recogniser(settings: Settings) -> LoadedRecogniser:
    """The recognisers of the settings, loaded. Raises WeightsError where weights are missing or wrong."""
    from voicereport.speech.recognise import open_desk

    full = open_desk(
        settings.engine, settings.weights, settings.threads, settings.language,
        look_twice=True, resume=False, watched=(),
    )  # fmt: skip
    return LoadedRecogniser(quick=replace(full, second=None), full=full)


def _clip(samples: NDArray[np.float32]) -> Clip:
    from voicereport.audio import RATE_HZ, Clip
    from voicereport.audio.clip import Store

    store = Store()
    store.add(samples)
    return Clip(
        path=Path("live"), sha256="", duration_s=len(samples) / RATE_HZ, recorded=None, rate_hz=RATE_HZ, notes=(),
        store=store,
    )  # fmt: skip


def _word(word: Word, by: float) -> Word:
    return replace(word, start=round(word.start + by, 3), end=round(word.end + by, 3))


def _moved(segment: Segment, by: float) -> Segment:
    return replace(
        segment,
        start=round(segment.start + by, 3),
        end=round(segment.end + by, 3),
        words=tuple(_word(word, by) for word in segment.words),
    )
