"""The shipped recordings turned into reports."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from voicereport import paths
from voicereport.errors import AudioError
from voicereport.pipeline import Progress, report_files, write_report

if TYPE_CHECKING:
    from voicereport.report import Report
    from voicereport.settings import Settings


@dataclass(frozen=True, kw_only=True, slots=True)
class DemoJob:
    """One job of the demo."""

    name: str
    title: str
    recordings: tuple[Path, ...]  #: one a visit


@dataclass(frozen=True, kw_only=True, slots=True)
class DemoResult:
    """What came of one job."""

    name: str
    title: str
    report: Report
    files: tuple[Path, ...]


def demo_jobs() -> tuple[DemoJob, ...]:
    """The jobs of demo_audio/jobs.toml. Raises AudioError where the file or a recording is not there."""
    folder = paths.demo_dir()
    try:
        rows = tomllib.loads((folder / "jobs.toml").read_text(encoding="utf-8"))["job"]
    except (OSError, KeyError, tomllib.TOMLDecodeError) as error:
        raise AudioError(str(folder / "jobs.toml"), f"cannot be used ({error})", "reinstall the package") from error
    return tuple(
        DemoJob(name=row["name"], title=row["title"], recordings=tuple(folder / name for name in row["recordings"]))
        for row in rows
    )


def run_demo(out: Path, settings: Settings, progress: Progress | None = None) -> tuple[DemoResult, ...]:
    """The reports of all jobs, their files under `out`, one folder a job."""
    results = []
    for job in demo_jobs():
        visits = range(1, len(job.recordings) + 1)
        report = report_files(job.recordings, settings, progress, visits=visits)
        files = write_report(report, out / job.name, settings, sources=job.recordings)
        results.append(DemoResult(name=job.name, title=job.title, report=report, files=files))
    return tuple(results)
