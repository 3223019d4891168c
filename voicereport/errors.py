"""The few exceptions of the package: each says where, what is wrong, and the way out."""

from __future__ import annotations


class VoiceReportError(Exception):
    """Something that the user can be told in one line.

    place: the file, option or entry at fault. problem: what is wrong with it. remedy: what to do, or None.
    """

    def __init__(self, place: str, problem: str, remedy: str | None = None) -> None:
        super().__init__(place, problem, remedy)
        self.place = place
        self.problem = problem
        self.remedy = remedy

    def __str__(self) -> str:
        sentence = f"{self.place}: {self.problem}"
        return f"{sentence}; {self.remedy}" if self.remedy else sentence


class AudioError(VoiceReportError):
    """A recording that cannot be read, or holds less than it promises."""


class TranscriptError(VoiceReportError):
    """A transcript file that cannot be read."""


class WeightsError(VoiceReportError):
    """Weights of a recogniser that are missing, or are not the published ones."""


class PackError(VoiceReportError):
    """A trade pack with faults; `problem` lists every one of them."""


class TemplateError(VoiceReportError):
    """A template or letterhead that cannot be used."""


class SettingsError(VoiceReportError):
    """A settings file, environment variable or option with an unusable value."""


class ReportError(VoiceReportError):
    """A report file that is not of the contract."""
