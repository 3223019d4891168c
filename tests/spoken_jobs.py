"""Jobs from sentences: what the whole way from words to report makes of them, without sound."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from voicereport import pipeline
from voicereport.report import Report
from voicereport.settings import load_settings
from voicereport.trades import Trade
from voicereport.transcript import Recording, Segment, Transcript, spread


def narrated(*lines: str) -> Transcript:
    """A transcript of sentences that were spoken one after the other, eight seconds apart."""
    segments = tuple(
        Segment(id=f"s{n}", recording="visit", start=8.0 * n, end=8.0 * n + 4, heard=line, text=line,
                words=spread(line, 8.0 * n, 8.0 * n + 4))
        for n, line in enumerate(lines)
    )  # fmt: skip
    recording = Recording(name="visit", sha256="", duration_s=8.0 * len(lines), speech_s=4.0 * len(lines))
    return Transcript(recordings=(recording,), segments=segments)


def told(trade: Trade, *lines: str, profile: Literal["US", "UK"] = "US") -> Report:
    """The report of sentences that were spoken one after the other, eight seconds apart."""
    settings = replace(load_settings(environment={}), profile=profile)
    return pipeline.understand(narrated(*lines), trade, settings)
