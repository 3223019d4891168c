"""The terminal's picture of a live job: what was heard last, what is off, what is lacking, the level."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from voicereport.live.changes import LACKING
from voicereport.live.events import Answered, Asked, CheckChanged, DoubtRaised, Event, Heard, Prompt, ReadingTaken
from voicereport.live.replies import open_items, spoken_item

if TYPE_CHECKING:
    from rich.console import RenderableType

    from voicereport.live.session import Session
    from voicereport.report import Report
    from voicereport.requests.phrases import Phrases

_LINES = 6  #: of what was heard
_BAR = 24  #: characters of the level
_FLOOR_DB = -60.0


@dataclass(slots=True)
class Board:
    """What the screen shows beside the report: the last lines heard, the last thing that the tool said."""

    heard: deque[str] = field(default_factory=lambda: deque(maxlen=_LINES))
    now: str = ""  #: the open utterance
    said: str = ""  #: by the tool
    urgent: bool = False  #: what it said is a warning

    def take(self, events: tuple[Event, ...]) -> None:
        """What events change. Prompts that come at once are shown together, a warning first."""
        prompts = sorted((e for e in events if isinstance(e, Prompt)), key=lambda e: e.kind != "warning")
        for event in events:
            if isinstance(event, Heard):
                if event.settled and event.text:
                    self.heard.append(event.text)
                self.now = "" if event.settled else event.text
            elif isinstance(event, Prompt):
                self.said, self.urgent = " ".join(e.text for e in prompts), prompts[0].kind == "warning"
            elif isinstance(event, Asked) and event.reply:
                self.said, self.urgent = event.reply, False
            elif isinstance(event, Answered):
                self.said, self.urgent = "", False


def screen(session: Session, board: Board, *, behind_s: float = 0.0) -> RenderableType:
    """The whole screen."""
    from rich.layout import Layout
    from rich.panel import Panel
    from rich.text import Text

    phrases, words = session.phrases, session.phrases.view
    layout = Layout()
    layout.split_column(
        Layout(_head(session, behind_s), name="head", size=3),
        Layout(name="said", size=3),
        Layout(name="body"),
        Layout(Text(words["help"].format(call=phrases.call_word), style="dim", justify="center"), name="help", size=1),
    )
    style = "bold red" if board.urgent else "bold"
    layout["said"].update(Panel(Text(board.said, style=style), border_style="red" if board.urgent else "dim"))
    layout["body"].split_row(
        Layout(Panel(_heard(board, phrases), title=words["heard"], title_align="left"), ratio=3),
        Layout(name="state", ratio=2),
    )
    layout["body"]["state"].split_column(
        Layout(Panel(_items(session.report, phrases), title=words["open"], title_align="left")),
        Layout(Panel(_checks(session.report, phrases), title=words["checks"], title_align="left")),
        Layout(Panel(_readings(session.report, phrases), title=words["readings"], title_align="left"), size=5),
    )
    return layout


def _head(session: Session, behind_s: float) -> RenderableType:
    from rich.panel import Panel
    from rich.text import Text

    words = session.phrases.view
    text = Text()
    text.append(words["listening"] if session.listening else words["not_listening"],
                style="bold green" if session.listening else "bold yellow")  # fmt: skip
    text.append("  " + words["seconds"].format(minutes=int(session.at) // 60, seconds=int(session.at) % 60))
    text.append(f"   {words['level']} ")
    text.append(level_bar(session.detector.level))
    if behind_s >= 1.0:
        text.append("   " + words["behind"].format(seconds=behind_s), style="yellow")
    if session.quiet:
        text.append("   " + words["quiet"], style="dim")
    return Panel(text, title=words["title"], title_align="left")


def level_bar(level: float) -> str:
    """A root mean square as a bar of fixed width, from -60 dB to full scale."""
    decibels = 20 * math.log10(level) if level > 1e-6 else -120.0
    filled = round(_BAR * min(1.0, max(0.0, 1 - decibels / _FLOOR_DB)))
    return "█" * filled + "·" * (_BAR - filled)


def _heard(board: Board, phrases: Phrases) -> RenderableType:
    from rich.text import Text

    if not board.heard and not board.now:
        return Text(phrases.view["nothing_heard"], style="dim")
    text = Text()  # the newest on top, so that a small window shows it
    if board.now:
        text.append(board.now + "\n", style="italic")
    for n, line in enumerate(reversed(board.heard)):
        text.append(line + "\n", style="dim" if n or board.now else "bold")
    return text


def _items(report: Report | None, phrases: Phrases) -> RenderableType:
    from rich.text import Text

    items = open_items(report) if report else ()
    if not items:
        return Text(phrases.view["nothing_open"], style="dim")
    return Text("\n".join(spoken_item(item, phrases) for item in items))


def _checks(report: Report | None, phrases: Phrases) -> RenderableType:
    from rich.text import Text

    found = [c for c in report.checks if c.state in LACKING] if report else []
    lacking = sorted(found, key=lambda c: c.severity != "stop")
    if not lacking:
        return Text(phrases.view["no_checks"], style="dim")
    text = Text()
    for check in lacking:
        stop = check.severity == "stop"
        text.append("■ " if stop else "□ ", style="red" if stop else "yellow")
        text.append(f"{check.title}: {check.state.replace('_', ' ')}\n")
    return text


def _readings(report: Report | None, phrases: Phrases) -> RenderableType:
    from rich.text import Text

    if not report or not report.readings:
        return Text(phrases.view["no_readings"], style="dim")
    lines = [f"{r.subject or r.quantity.replace('_', ' ')}: {r.spoken.rstrip('.,;')}" for r in report.readings[-3:]]
    return Text("\n".join(lines))


def line_of(event: Event) -> str | None:
    """An event as one plain line, None for what plain output leaves out."""
    if isinstance(event, Heard):
        return f"{_clock(event.at)} {event.text}" if event.settled and event.text else None
    if isinstance(event, Prompt):
        return f"{_clock(event.at)} ! {event.text}"
    if isinstance(event, Asked):
        return f"{_clock(event.at)} > {event.reply}" if event.reply else None
    if isinstance(event, Answered):
        return f"{_clock(event.at)}   {event.about}: {event.outcome}"
    if isinstance(event, CheckChanged) and event.after != "not_applicable":
        return f"{_clock(event.at)}   {event.title}: {event.after.replace('_', ' ')}"
    if isinstance(event, ReadingTaken) and not event.withdrawn:
        return f"{_clock(event.at)}   {event.subject or event.quantity.replace('_', ' ')}: {event.spoken}"
    if isinstance(event, DoubtRaised) and event.about:
        return f"{_clock(event.at)}   {event.about} / {event.instead} ?"
    return None


def _clock(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02}"
