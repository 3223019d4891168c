"""What live listening shows and says on a terminal."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import Console

from voicereport.errors import AudioError
from voicereport.live import Session, load_phrases
from voicereport.live.events import CheckChanged, Prompt
from voicereport.live.sources import Microphone
from voicereport.live.view import Board, level_bar, line_of, screen
from voicereport.live.voice import Voice
from voicereport.settings import load_settings
from voicereport.trades import load_trade


@pytest.fixture
def session() -> Session:
    return Session(trade=load_trade("domestic-refrigeration"), settings=load_settings(environment={}),
                   phrases=load_phrases(folder=Path("/nowhere")))  # fmt: skip


def shown(session: Session, board: Board, *, width: int = 80, height: int = 24) -> str:
    console = Console(width=width, height=height, file=io.StringIO(), force_terminal=True, color_system=None)
    console.print(screen(session, board))
    return str(console.file.getvalue())  # type: ignore[attr-defined]


def test_the_screen_shows_what_is_off_what_is_lacking_and_the_warning(session: Session) -> None:
    board = Board()
    for text in ("Upright freezer.", "Four screws out of the rear panel, and the rear panel is off."):
        board.take(session.say(text, session.at + 2))
    page = shown(session, board)
    assert "Is the plug out?" in page
    assert "4 screws of the rear panel" in page
    assert "■ Power isolated" in page


@pytest.mark.parametrize(("width", "height"), [(80, 24), (60, 20), (120, 40)])
def test_the_newest_line_is_seen_in_a_window_of_any_size(session: Session, width: int, height: int) -> None:
    board = Board()
    for n in range(30):
        board.take(session.say(f"This is the talk about nothing that counts number {n} in the row.", session.at + 2))
    page = shown(session, board, width=width, height=height)
    assert "number 29" in " ".join(page.replace("│", " ").split())
    assert len(page.splitlines()) <= height + 1


def test_what_does_not_fit_is_counted(session: Session) -> None:
    shelves = ("upper shelf", "lower shelf", "wire basket", "crisper drawer", "drain trough", "kick plate")
    for part in shelves:
        session.say(f"The {part} is off.", session.at + 2)
    page = shown(session, Board())
    listed = sum(part in page for part in shelves)
    assert 0 < listed < len(shelves)
    assert f"and {len(shelves) - listed} more" in page
    assert all(part in shown(session, Board(), width=120, height=60) for part in shelves)


def test_a_warning_goes_when_what_it_asks_for_was_said(session: Session) -> None:
    board = Board()
    board.take(session.say("The rear panel is off.", session.at + 2))
    assert board.urgent
    board.take((CheckChanged(at=9.0, check="heater-cool", title="", severity="warning", before="missing",
                             after="confirmed", reason=""),))  # fmt: skip
    assert board.said
    board.take((CheckChanged(at=9.0, check="power-isolated", title="", severity="stop", before="missing",
                             after="confirmed", reason=""),))  # fmt: skip
    assert (board.said, board.urgent) == ("", False)


def test_a_long_sentence_of_the_tool_is_shown_whole(session: Session) -> None:
    board = Board(said="Still off: " + ", ".join(f"part number {n}" for n in range(9)) + ".")
    page = " ".join(shown(session, board).replace("│", " ").split())
    assert board.said in page


def test_the_help_line_fits_in_80_columns(session: Session) -> None:
    assert "Ctrl-C ends." in shown(session, Board())


def test_an_empty_job_says_that_nothing_was_heard(session: Session) -> None:
    assert "Nothing heard yet" in shown(session, Board())


@pytest.mark.parametrize(("level", "filled"), [(0.0, 0), (1e-9, 0), (0.001, 0), (0.0316, 12), (1.0, 24), (5.0, 24)])
def test_the_level_is_a_bar_from_60_db_below_full_scale(level: float, filled: int) -> None:
    bar = level_bar(level)  # 20 log10 of 0.0316 is -30 dB, half way
    assert (len(bar), bar.count("█")) == (24, filled)


def test_plain_output_is_a_line_for_each_thing_that_settled(session: Session) -> None:
    events = session.say("The rear panel is off.", 61.0, 63.0)
    lines = [line for event in events if (line := line_of(event))]
    assert "1:01 The rear panel is off." in lines
    assert any(line.endswith("! Hold on. Is the plug out? Say so before you go on.") for line in lines)


def test_prompts_that_come_at_once_are_shown_together_the_warning_first() -> None:
    board = Board()
    doubt = Prompt(at=1.0, kind="doubt", about="15", text="15 or 50? Say it again.", aloud=True)
    board.take((doubt, Prompt(at=1.0, kind="warning", about="power-isolated", text="Hold on.", aloud=True)))
    assert (board.said, board.urgent) == ("Hold on. 15 or 50? Say it again.", True)


def test_without_a_program_that_speaks_a_bell_rings() -> None:
    rung: list[int] = []
    assert Voice(ring=lambda: rung.append(1), program=None).say("Hold on.") == 0.0
    assert rung == [1]


def test_a_program_that_cannot_be_started_is_as_none(tmp_path: Path) -> None:
    rung: list[int] = []
    assert Voice(ring=lambda: rung.append(1), program=str(tmp_path / "none")).say("Hold on.") == 0.0
    assert rung == [1]


def test_a_sentence_is_an_argument_and_never_an_option(tmp_path: Path) -> None:
    program = tmp_path / "speak"
    program.write_text(f'#!/bin/sh\nfor a in "$@"; do echo "$a"; done > {tmp_path}/said\n', encoding="utf-8")
    program.chmod(0o755)
    voice = Voice(program=str(program))
    assert voice.say("--version") > 0
    voice.wait()
    assert (tmp_path / "said").read_text(encoding="utf-8").split("\n")[-3:] == ["--", "--version", ""]


def test_an_unknown_microphone_is_refused_with_the_known_ones() -> None:
    with pytest.raises(AudioError, match="there are"):
        Microphone(device="no such microphone")
