"""The sound of a recording: whole by byte ranges, or exactly some seconds of it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import FileResponse, Response

from voicereport.audio import snippet
from voicereport.store import StoreError
from voicereport.store.values import Recording
from voicereport.web.access import Me, NotThereError, allowed, job_for
from voicereport.web.site import site_of

router = APIRouter()
_MOST_S = 120.0  #: longest stretch that is cut out
Reader = Annotated[Me, Depends(allowed("see_jobs", "see_own_jobs"))]


@router.get("/jobs/{job_id}/recordings/{recording_id}/sound")
def sound(request: Request, job_id: int, recording_id: int, me: Reader) -> Response:
    """The recording as it was received; answers byte ranges."""
    recording = _recording(request, me, job_id, recording_id)
    return FileResponse(_path(recording), media_type=recording.media_type, headers={
        "cache-control": "private, max-age=3600", "content-security-policy": "default-src 'none'; media-src 'self'",
    })  # fmt: skip


@router.get("/jobs/{job_id}/recordings/{recording_id}/cut")
def cut(
    request: Request,
    job_id: int,
    recording_id: int,
    me: Reader,
    start: Annotated[float, Query(ge=0, le=360_000)],
    end: Annotated[float, Query(ge=0, le=360_000)],
) -> Response:
    """Exactly [start, end) seconds as Ogg Opus."""
    recording = _recording(request, me, job_id, recording_id)
    if not 0 < end - start <= _MOST_S:
        raise NotThereError
    data = snippet(_path(recording), start, end)
    return Response(data, media_type="audio/ogg", headers={"cache-control": "private, max-age=3600"})


def _recording(request: Request, me: Me, job_id: int, recording_id: int) -> Recording:
    job = job_for(request, me, job_id)
    try:
        recording = site_of(request).store.recordings.get(recording_id)
    except StoreError as error:
        raise NotThereError from error
    if recording.job_id != job.id or not recording.media_type.startswith(("audio/", "video/")):
        raise NotThereError
    return recording


def _path(recording: Recording) -> str:
    if recording.path is None or not recording.path.is_file():
        raise NotThereError
    return str(recording.path)
