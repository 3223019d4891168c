"""The stages joined: recordings or transcripts in, a checked report out. The one place that knows their order."""

from __future__ import annotations

import glob
import hashlib
import os
import shutil
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import groupby, pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from voicereport.errors import AudioError, SettingsError, TemplateError, TranscriptError
from voicereport.transcript import Recording, Segment, Transcript

if TYPE_CHECKING:
    from voicereport.render.letterhead import Letterhead
    from voicereport.report import Report
    from voicereport.requests import Phrases
    from voicereport.requests.apart import Rested
    from voicereport.settings import Settings
    from voicereport.statements import Statements
    from voicereport.trades import Trade

Progress = Callable[[str, float], None]  #: what is being done, and how much of it is done, 0..1

_RESTS_WITHIN_S = 8.0  #: a tool that listens stops within these after it was asked to
_RESTS_S = 2.0  #: silence without any noise, from which on a tool put it there
TRANSCRIPT_SUFFIXES = (".vtt", ".srt", ".json")


def report_files(
    files: Sequence[Path],
    settings: Settings,
    progress: Progress | None = None,
    *,
    visits: Sequence[int] | None = None,
) -> Report:
    """The report of one job from its recordings and transcripts, mixed as they come, in the order of the visits.

    visits: the visit that each file is of, counted from 1; None takes a recording's own date, and each transcript as a
    visit of its own.
    Raises AudioError or TranscriptError for the first file that cannot be used, PackError for a faulty trade.
    """
    from voicereport.trades import load_trade

    trade = load_trade(settings.trade)
    transcript = with_visits(transcribe_files(files, settings, progress), visits)
    return understand(transcript, trade, settings, rested=rests_of(files, transcript))


def transcribe_files(files: Sequence[Path], settings: Settings, progress: Progress | None = None) -> Transcript:
    """What was said in `files`, as one transcript. Recordings are recognised, transcripts are read."""
    _refuse_missing(files)
    parts: list[Transcript] = []
    for is_transcript, group in groupby(files, key=lambda path: path.suffix.lower() in TRANSCRIPT_SUFFIXES):
        if is_transcript:
            parts += _read_transcripts(list(group))
        else:
            parts.append(_recognise(list(group), settings, progress))
    return parts[0] if len(parts) == 1 else join_transcripts(parts)


def understand(
    transcript: Transcript,
    trade: Trade,
    settings: Settings,
    *,
    phrases: Phrases | None = None,
    rested: Rested | None = None,
) -> Report:
    """The checked report of what was said: repaired, understood, assembled, its readings judged, its checks stated.

    Words to the tool are set apart first, here as where a job is listened to. phrases: the call word and the requests;
    None = as they are set. rested: where a recording holds silence that a tool put there. Raises SettingsError where
    the phrases are at fault.
    """
    from voicereport.requests import content_of, load_phrases, set_apart
    from voicereport.statements import read_statements
    from voicereport.wording import repair

    told = set_apart(repair(transcript, trade), phrases or load_phrases(), rested=rested)
    statements = read_statements(content_of(told), trade, units=settings.units)
    return checked(statements, told, trade, settings, recorded_at=recorded_at(transcript))


def checked(
    statements: Statements, transcript: Transcript, trade: Trade, settings: Settings, *, recorded_at: str | None = None
) -> Report:
    """The checked report of statements: assembled with the notes that were asked for, judged, its checks stated."""
    from voicereport.assembly import assemble, with_notes
    from voicereport.checks import check_report
    from voicereport.checks.limits import judge_report
    from voicereport.requests import notes_of

    report = assemble(statements, transcript, trade, recorded_at=recorded_at)
    judged = judge_report(with_notes(report, notes_of(transcript)), trade, profile=settings.profile)
    return check_report(judged, trade, profile=settings.profile)


def rests_of(files: Sequence[Path], transcript: Transcript) -> Rested:
    """Where the recordings among `files` hold silence that no microphone gives: a tool was asked to stop listening."""

    def rested(recording: str, at: float) -> bool:
        from voicereport.audio import load, longest_silence

        digests = {entry.sha256 for entry in transcript.recordings if entry.name == recording}
        sounds = (path for path in files if path.suffix.lower() not in TRANSCRIPT_SUFFIXES)
        path = next((path for path in sounds if _digest(path) in digests), None)
        return path is not None and longest_silence(load(path).read(at, at + _RESTS_WITHIN_S)) >= _RESTS_S

    return rested


def recorded_at(transcript: Transcript) -> str | None:
    """When the job was recorded, RFC 3339, by the earliest of its files that says so; None where none does.

    A time without its distance from UTC, or a day alone, is no point in time and counts for nothing.
    """
    moments = []
    for recording in transcript.recordings:
        try:
            moment = datetime.fromisoformat(recording.recorded or "")
        except ValueError:
            continue
        if moment.tzinfo is not None:
            moments.append(moment)
    return min(moments).isoformat().replace("+00:00", "Z") if moments else None


def with_visits(transcript: Transcript, visits: Sequence[int] | None) -> Transcript:
    """The transcript with the visits of its recordings as given; None leaves them. Raises SettingsError."""
    if visits is None:
        return transcript
    if len(visits) != len(transcript.recordings):
        problem = f"{len(visits)} numbers for {len(transcript.recordings)} recordings"
        raise SettingsError("--visits", problem, "give one for each, such as 1,1,2")
    steps = [later - earlier for earlier, later in pairwise([0, *visits])]
    if visits[0] != 1 or any(step not in (0, 1) for step in steps):
        raise SettingsError("--visits", f"{','.join(map(str, visits))} does not count from 1", "count as in 1,1,2")
    numbered = zip(transcript.recordings, visits, strict=True)
    return replace(transcript, recordings=tuple(replace(r, visit=visit) for r, visit in numbered))


def join_transcripts(parts: Sequence[Transcript]) -> Transcript:
    """Transcripts of one job as one: visits go on counting, segment ids and recording names stay unique.

    A name that an earlier part bears gets a number, "visit.vtt (2)".
    """
    recordings: list[Recording] = []
    segments: list[Segment] = []
    dropped: list[str] = []
    for part in parts:
        visit = max((r.visit for r in recordings), default=0)
        names = _fresh_names([r.name for r in part.recordings], {r.name for r in recordings})
        ids = {r.name: len(recordings) + n for n, r in enumerate(part.recordings, 1)}
        recordings += [replace(r, name=names[r.name], visit=visit + r.visit) for r in part.recordings]
        counted: dict[str, int] = {}
        for segment in part.segments:
            counted[segment.recording] = counted.get(segment.recording, 0) + 1
            own = f"r{ids[segment.recording]}s{counted[segment.recording]:03}"
            segments.append(replace(segment, id=own, recording=names[segment.recording]))
        dropped += part.dropped
    return Transcript(recordings=tuple(recordings), segments=tuple(segments), dropped=tuple(dropped))


def _fresh_names(names: Sequence[str], taken: set[str]) -> dict[str, str]:
    fresh: dict[str, str] = {}
    for name in names:
        new, n = name, 1
        while new in taken:
            n += 1
            new = f"{name} ({n})"
        taken.add(new)
        fresh[name] = new
    return fresh


def _refuse_missing(files: Sequence[Path]) -> None:
    """Raise for the first file that is not there, before any work is done on the others."""
    for path in files:
        kind = TranscriptError if path.suffix.lower() in TRANSCRIPT_SUFFIXES else AudioError
        if not path.exists():
            raise kind(str(path), "there is no such file", "check its name")
        if not path.is_file():
            raise kind(str(path), "is no file", "name the recordings themselves")


def _read_transcripts(files: Sequence[Path]) -> list[Transcript]:
    from voicereport.captions import read_transcript

    return [read_transcript(path) for path in files]


def _recognise(files: Sequence[Path], settings: Settings, progress: Progress | None) -> Transcript:
    from voicereport.speech import transcribe

    return transcribe(
        files,
        engine=settings.engine,
        weights=settings.weights,
        threads=settings.threads,
        language=settings.language,
        progress=progress,
    )


def write_report(report: Report, out: Path, settings: Settings, *, sources: Sequence[Path] = ()) -> tuple[Path, ...]:
    """The files of a report, written under `out`: each is whole, or is not there.

    They are made in a folder beside `out` and moved in when all are done; what a run that was cut off left beside
    it goes first. sources: the recordings, for the sounds of audit.html; those that are not there are left out.
    Raises TemplateError or OSError; then `out` is as it was.
    """
    from voicereport.render import render_all

    if out.exists() and not out.is_dir():
        raise TemplateError(str(out), "is a file", "name a folder by --out")
    out.parent.mkdir(parents=True, exist_ok=True)
    _clear_unfinished(out)
    unfinished = out.parent / f"{_unfinished_prefix(out)}{os.getpid()}"
    unfinished.mkdir()
    try:
        render_all(report, unfinished, letterhead=letterhead_of(settings), snippets=_snippets(report, sources))
        out.mkdir(exist_ok=True)
        made = sorted(path for path in unfinished.iterdir() if path.is_file())
        return tuple(path.replace(out / path.name) for path in made)
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)


def letterhead_of(settings: Settings) -> Letterhead:
    """The renderer's letterhead from the settings; an address has one line for each of its lines."""
    from voicereport.render.letterhead import Letterhead

    own = settings.letterhead
    lines = tuple(line.strip() for line in own.address.splitlines() if line.strip())
    return Letterhead(company=own.company, address=lines, phone=own.phone, licence=own.licence, paper=settings.paper,
                      language=settings.language)  # fmt: skip


def _unfinished_prefix(out: Path) -> str:
    return f".{out.name}.unfinished-"


def _clear_unfinished(out: Path) -> None:
    """Remove what runs that are no longer alive left beside `out`."""
    for path in out.parent.glob(f"{glob.escape(_unfinished_prefix(out))}*"):
        owner = path.name.rpartition("-")[2]
        if not (owner.isdigit() and _alive(int(owner))):
            shutil.rmtree(path, ignore_errors=True)


def _alive(process: int) -> bool:
    if process == os.getpid():
        return False
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def recheck(report: Report, settings: Settings, *, trade: str | None = None) -> Report:
    """A report with its readings judged and its checks stated anew.

    trade: the pack to take; None takes the one that the report names, else the one of the settings.
    """
    from voicereport.checks import check_report
    from voicereport.checks.limits import judge_report
    from voicereport.trades import load_trade

    named = report.job.trade.value if report.job.trade else None
    pack = load_trade(trade or named or settings.trade)
    judged = judge_report(report, pack, profile=settings.profile)
    return check_report(judged, pack, profile=settings.profile)


def transcript_text(transcript: Transcript, *, kind: Literal["vtt", "json"]) -> str:
    """A transcript as the text of a file."""
    from voicereport.captions import write_transcript_json, write_vtt

    return write_vtt(transcript) if kind == "vtt" else write_transcript_json(transcript)


def _snippets(report: Report, sources: Sequence[Path]) -> Callable[[str, float, float], bytes | None] | None:
    """Sounds of the report's recordings, as (recording, start, end in seconds) -> Ogg Opus bytes.

    A source stands for the recording of the same digest, whatever its name. None where no source is a recording.
    """
    files = [path for path in sources if path.suffix.lower() not in TRANSCRIPT_SUFFIXES]
    digests = {_digest(path): path for path in files}
    by_name = {entry.name: digests[entry.sha256] for entry in report.recordings if entry.sha256 in digests}
    if not by_name:
        return None
    from voicereport.audio import snippet

    def cut(recording: str, start: float, end: float) -> bytes | None:
        return snippet(by_name[recording], start, end) if recording in by_name else None

    return cut


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
