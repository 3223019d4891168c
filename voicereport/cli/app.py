"""The program: its commands, its exit status, and the one line that an error becomes."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from voicereport import __version__
from voicereport.cli import figures, jobs, listen, measure, packs, records, serve, store_commands
from voicereport.errors import SettingsError, VoiceReportError

DONE, OPEN, USAGE, FAILED = 0, 1, 2, 3  #: exit status
_INTERRUPTED = 130

app = typer.Typer(
    name="voicereport",
    help="Spoken service narrations to structured, checked service reports, offline.",
    epilog="Exit status: 0 done and nothing open, 1 done with open checks, 2 wrong usage, 3 could not be done.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for module in (jobs, listen, records, serve, store_commands, packs, figures, measure):
    module.register(app)


def _version(show: bool) -> None:
    if show:
        typer.echo(f"voicereport {__version__}")
        raise typer.Exit


@app.callback()
def program(
    context: typer.Context,
    config: Annotated[
        Path | None, typer.Option(help="Settings file; else ./voicereport.toml, else the one in your own folder.")
    ] = None,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    context.obj = config


def main() -> None:
    """Run the program and end the process with its exit status."""
    sys.exit(run())


def run(arguments: list[str] | None = None) -> int:
    """The exit status of a run. An error becomes one line on stderr; only VOICEREPORT_DEBUG=1 lets it through."""
    try:
        result = app(arguments, prog_name="voicereport", standalone_mode=False)
        status = result if isinstance(result, int) else DONE
        return _complain("stopped", status) if status == _INTERRUPTED else status
    except VoiceReportError as error:
        return _complain(str(error), USAGE if isinstance(error, SettingsError) else FAILED)
    except BrokenPipeError:
        sys.stderr.close()
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        return _complain(f"{place}{error.strerror or error}", FAILED)
    except KeyboardInterrupt:
        return _complain("stopped", _INTERRUPTED)
    except Exception as error:
        return _unexpected(error)


def _unexpected(error: Exception) -> int:
    """Wrong usage, told by the argument parser; anything else is a fault of the program."""
    shown = getattr(error, "format_message", None)
    if shown is not None:
        context = getattr(error, "ctx", None)
        where = f" (see {context.command_path} --help)" if context is not None else ""
        return _complain(f"{shown()}{where}", USAGE)
    if type(error).__name__ == "Abort":
        return _complain("stopped", _INTERRUPTED)
    if os.environ.get("VOICEREPORT_DEBUG"):
        raise error
    problem = " ".join(str(error).split())
    return _complain(
        f"a fault of the program: {type(error).__name__}: {problem}; VOICEREPORT_DEBUG=1 shows more", FAILED
    )


def _complain(sentence: str, status: int) -> int:
    print(f"voicereport: {' '.join(sentence.split())}", file=sys.stderr)
    return status
