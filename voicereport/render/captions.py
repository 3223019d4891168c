"""The transcript as WebVTT."""

from __future__ import annotations

from voicereport.render.text import shown
from voicereport.report import Report, SegmentEntry


def transcript_vtt(report: Report) -> str:
    """The transcript as WebVTT (W3C Candidate Recommendation, 2019), one cue for each segment that has words.

    Several recordings follow each other: the times of the second start where the first ends, and a note names each.
    """
    blocks = ["WEBVTT"]
    offset = 0.0
    for recording in report.recordings:
        segments = [s for s in report.transcript.segments if s.recording == recording.name and s.text.strip()]
        blocks.append(f"NOTE {_text(recording.name)}, from {_time(offset)}")
        blocks += [_cue(segment, offset) for segment in sorted(segments, key=lambda s: (s.start, s.end))]
        offset += recording.duration_s
    return "\n\n".join(blocks) + "\n"


def _cue(segment: SegmentEntry, offset: float) -> str:
    start = round((segment.start + offset) * 1000)
    end = max(round((segment.end + offset) * 1000), start + 1)  # a cue must end after it starts
    return f"{_text(segment.id)}\n{_milliseconds(start)} --> {_milliseconds(end)}\n{_text(segment.text)}"


def _text(words: str) -> str:
    return shown(words).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").strip()


def _time(seconds: float) -> str:
    return _milliseconds(round(seconds * 1000))


def _milliseconds(whole: int) -> str:
    seconds, rest = divmod(whole, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}.{rest:03d}"
