"""The terminal's picture of a live job: what was heard last, what is off, what is lacking, the level."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from voicereport.live.changes import LACKING
from voicereport.live.events import (
    Answered,
    Asked,
    CheckChanged,
    DoubtRaised,
    Event,
    Finished,
    Heard,
    Prompt,
    ReadingTaken,
)
from voicereport.live.replies import open_items, spoken_item

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderableType
    from rich.text import Text

    from voicereport.live.session import Session
    from voicereport.report import Report
    from voicereport.requests.phrases import Phrases

_LINES = 12  #: of what was heard
_SAID = 3  #: most lines of what the tool said
_BAR = 24  #: characters of the level
_FLOOR_DB = -60.0


@dataclass(slots=True)
class Board:
    """What the screen shows beside the report: the last lines heard, the last thing that the tool said."""

    heard: deque[str] = field(default_factory=lambda: deque(maxlen=_LINES))
    now: str = ""  #: the open utterance
    said: str = ""  #: by the tool
    urgent: bool = False  #: what it said is a warning
    about: str = ""  #: id of the check that it spoke up about

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
                self.about = prompts[0].about
            elif isinstance(event, Asked) and event.reply:
                self.said, self.urgent, self.about = event.reply, False, ""
            elif isinstance(event, Answered) or self._settles(event):
                self.said, self.urgent, self.about = "", False, ""

    def _settles(self, event: Event) -> bool:
        """Whether what the tool spoke up about is done."""
        return isinstance(event, CheckChanged) and event.check == self.about and event.after == "confirmed"


def screen(session: Session, board: Board, *, behind_s: float = 0.0, width: int = 80) -> RenderableType:
    """The whole screen. width: of the terminal, in characters."""
    from rich.layout import Layout
    from rich.panel import Panel
    from rich.text import Text

    phrases, words = session.phrases, session.phrases.view
    layout = Layout()
    layout.split_column(
        Layout(_head(session, behind_s), name="head", size=3),
        Layout(name="said", size=2 + min(_SAID, -(-max(1, len(board.said)) // max(1, width - 6)))),
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


@dataclass(frozen=True, kw_only=True, slots=True)
class _Fitting:
    """Lines in a place of unknown height; what does not fit is counted in the last one."""

    lines: tuple[Text, ...]
    more: str  #: with {count}

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Text]:
        from rich.text import Text

        left = options.height or len(self.lines) * 4
        for n, line in enumerate(self.lines):
            height = len(line.wrap(console, options.max_width))
            last = n == len(self.lines) - 1
            if height + (not last) > left:
                yield Text(self.more.format(count=len(self.lines) - n), style="dim")
                return
            left -= height
            yield line


def _items(report: Report | None, phrases: Phrases) -> RenderableType:
    from rich.text import Text

    items = open_items(report) if report else ()
    if not items:
        return Text(phrases.view["nothing_open"], style="dim")
    return _Fitting(lines=tuple(Text(spoken_item(item, phrases)) for item in items), more=phrases.view["more"])


def _checks(report: Report | None, phrases: Phrases) -> RenderableType:
    from rich.text import Text

    found = [c for c in report.checks if c.state in LACKING] if report else []
    if not found:
        return Text(phrases.view["no_checks"], style="dim")
    lines = []
    for check in sorted(found, key=lambda c: c.severity != "stop"):
        stop = check.severity == "stop"
        state = "" if check.state == "missing" else f": {check.state.replace('_', ' ')}"
        lines.append(Text.assemble(("■ " if stop else "□ ", "red" if stop else "yellow"), check.title, state))
    return _Fitting(lines=tuple(lines), more=phrases.view["more"])


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
    if isinstance(event, Finished):
        return f"{_clock(event.at)} > {event.reply}"
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
