"""The report of what was said so far; what is settled is read once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from voicereport.requests.said import Said, marked
from voicereport.transcript import Recording, Segment, Transcript

if TYPE_CHECKING:
    from voicereport.report import Report
    from voicereport.settings import Settings
    from voicereport.statements import Reading
    from voicereport.trades import Trade


@dataclass(slots=True)
class Understanding:
    """What was read of the settled words. Where one of them changes, all is read anew."""

    trade: Trade
    settings: Settings
    _read: list[Said] = field(default_factory=list)
    _reading: Reading | None = None

    def report(
        self, settled: Sequence[Said], still_open: Sequence[Said], recording: Recording, dropped: Sequence[str]
    ) -> Report:
        """The checked report. Its transcript has all that was heard; its entries rest on the content alone.

        The segments are repaired already. Notes for the record are added as they were spoken. The same words give the
        same report, however they came.
        """
        from voicereport.pipeline import checked

        said = (*settled, *still_open)
        segments = tuple(
            replace(marked(one), id=f"r1s{n:03}", recording=recording.name) for n, one in enumerate(said, 1)
        )
        everything = Transcript(recordings=(recording,), segments=segments, dropped=tuple(dropped))
        reading = self._settled(settled, segments).fork()
        for one, segment in zip(still_open, segments[len(settled) :], strict=True):
            _take(reading, one, segment)
        return checked(reading.statements(), everything, self.trade, self.settings)

    def _settled(self, settled: Sequence[Said], segments: Sequence[Segment]) -> Reading:
        from voicereport.statements import begin_reading

        known = len(self._read) <= len(settled) and all(a is b for a, b in zip(self._read, settled, strict=False))
        if self._reading is None or not known:
            self._reading, self._read = begin_reading(self.trade, units=self.settings.units), []
        for one, segment in zip(settled[len(self._read) :], segments[len(self._read) :], strict=False):
            _take(self._reading, one, segment)
        self._read = list(settled)
        return self._reading


def _take(reading: Reading, one: Said, segment: Segment) -> None:
    if one.kind == "content":
        reading.take_segment(segment, 1)
