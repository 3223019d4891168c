"""What a session tells: frozen values, one for each thing that settled."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

from voicereport.requests.phrases import Does

PromptKind = Literal["warning", "doubt", "question"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """An utterance was recognised. An open one may be told again, longer, until it is settled."""

    at: float  #: seconds of the recording
    end: float
    text: str  #: after the repair of trade words
    settled: bool
    silent_from: float = 0.0  #: seconds at which the speaker fell silent, by the detector of speech


@dataclass(frozen=True, kw_only=True, slots=True)
class Understood:
    """A step was understood, or one that was told before is no longer so."""

    at: float
    action: str
    part: str
    holds: str | None
    count: float | None
    status: str
    withdrawn: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class CheckChanged:
    """A check is in another state than before."""

    at: float
    check: str
    title: str
    severity: str
    before: str
    after: str
    reason: str


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadingTaken:
    """A value was read, or one that was told before is no longer so."""

    at: float
    quantity: str
    subject: str | None
    value: float | None
    unit: str | None
    spoken: str
    verdict: str
    withdrawn: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class DoubtRaised:
    """Something was poorly heard: a number that a second look heard otherwise, or speech without words."""

    at: float
    about: str  #: the words in doubt; empty where nothing was understood
    instead: str  #: what else was heard; empty where nothing was


@dataclass(frozen=True, kw_only=True, slots=True)
class Prompt:
    """The tool speaks up of its own accord, or asks."""

    at: float
    kind: PromptKind
    about: str  #: id of a check, or words in doubt
    text: str
    aloud: bool  #: False in quiet mode: shown only


@dataclass(frozen=True, kw_only=True, slots=True)
class Answered:
    """What was said to a prompt."""

    at: float
    about: str  #: as in the prompt
    text: str
    outcome: Literal["kept", "changed", "taken", "skipped"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """A spoken request and the tool's reply. does: "called" = the call word alone, "unknown" = no request."""

    at: float
    does: Does | Literal["called", "unknown"]
    text: str  #: as it was heard
    reply: str
    aloud: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Listening:
    """Listening stopped or started."""

    at: float
    on: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Finished:
    """The job was finished by request; nothing is listened to any more."""

    at: float
    status: str  #: of the report
    open_checks: int
    reply: str  #: how it ended, in a sentence


Event = (
    Heard | Understood | CheckChanged | ReadingTaken | DoubtRaised | Prompt | Answered | Asked | Listening | Finished
)
_NAMES = {
    Heard: "heard", Understood: "understood", CheckChanged: "check", ReadingTaken: "reading", DoubtRaised: "doubt",
    Prompt: "prompt", Answered: "answer", Asked: "request", Listening: "listening", Finished: "finished",
}  # fmt: skip


def as_json(event: Event) -> dict[str, Any]:
    """The event as a JSON object with its name under "event"."""
    return {"event": _NAMES[type(event)], **asdict(event)}


def to_speak(event: Event) -> str | None:
    """What is to be said aloud of an event, None for what is only shown."""
    if isinstance(event, Prompt) and event.aloud:
        return event.text
    if isinstance(event, Asked) and event.aloud:
        return event.reply
    return event.reply if isinstance(event, Finished) else None
