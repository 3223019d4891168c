"""Photos that a technician pinned to moments of a recording: kept, placed beside the words, given out as pictures only.

The contract has no place for a photo, so none goes into a report or its renderings; they are shown on a job's page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from fastapi.responses import FileResponse, Response

from voicereport.render import text
from voicereport.render.context import context_of
from voicereport.render.wording import Wording
from voicereport.report import Report
from voicereport.store import StoreError
from voicereport.store.values import Job, Recording, Upload
from voicereport.web.access import NotThereError
from voicereport.web.pages import say
from voicereport.web.record import Sounds, Time
from voicereport.web.site import Site

_HEAD = 16  #: bytes by which a picture is known
_PLAYED_S = 5.0  #: of the recording, from a photo's moment on
_LONGEST_S = 360_000
_CLOSED = {"content-security-policy": "default-src 'none'; sandbox", "cache-control": "private, max-age=3600"}
PINNED = "photo.pinned"  #: act of the trail: {photo, recording, at_s, upload}


@dataclass(frozen=True, kw_only=True, slots=True)
class Photo:
    """A photo and where it is pinned."""

    anchor: str
    address: str  #: "" = deleted after its time
    told: str
    gone: str  #: that and when it was deleted; "" = it is here
    time: Time | None  #: None = its recording is not understood yet
    segment: str  #: id of the segment during or before which it was taken; "" = none


def picture_kind(head: bytes) -> tuple[str, str] | None:
    """Media type and suffix of a picture by its first bytes, as the formats' specifications give them."""
    if head[:3] == b"\xff\xd8\xff":
        return "image/jpeg", ".jpg"
    if head[:8] == b"\x89PNG\r\n\x1a\n":
        return "image/png", ".png"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "image/webp", ".webp"
    return None


def keep_photo(site: Site, upload: Upload, at_s: float, file: BinaryIO, *, name: str, by: str,
               digest: str | None) -> Recording | None:  # fmt: skip
    """A photo into the store, pinned once; None for what is no picture or no moment.

    at_s: seconds from the start of the recording. name: without suffix. digest: of the bytes as they were sent.
    """
    kind = picture_kind(file.read(_HEAD))
    file.seek(0)
    if kind is None or not 0 <= at_s < _LONGEST_S:
        return None
    kept = site.store.recordings.add(upload.job_id, name + kind[1], file, media_type=kind[0], by=by, now=site.now(),
                                     sha256=digest)  # fmt: skip
    if kept.id not in {pin.get("photo") for pin in pins(site, upload.job_id)}:
        pinned = {"photo": kept.id, "recording": upload.name, "at_s": at_s, "upload": upload.id}
        site.store.trail.note(PINNED, f"job {upload.job_id}, {kept.name}", by=by, now=site.now(),
                              job_id=upload.job_id, after=pinned)  # fmt: skip
    return kept


def pins(site: Site, job_id: int) -> list[Mapping[str, Any]]:
    """Where a job's photos are pinned, oldest first."""
    return [e.after for e in site.store.jobs.history(job_id) if e.act == PINNED and isinstance(e.after, dict)]


def photos_of(
    site: Site, job: Job, recordings: Sequence[Recording], report: Report | None, wording: Wording
) -> tuple[Photo, ...]:
    """The photos of a job, in the order in which they were taken."""
    pictures = {r.id: r for r in recordings if r.media_type.startswith("image/")}
    if not pictures:
        return ()
    pinned = [pin for pin in pins(site, job.id) if pin.get("photo") in pictures]
    places = [_place(site, job, pin, recordings, report, wording) for pin in pinned]
    shown = [_photo(job, pictures[pin["photo"]], pin, *place) for pin, place in zip(pinned, places, strict=True)]
    order = {} if report is None else {s.id: place for place, s in enumerate(report.transcript.segments)}
    return tuple(sorted(shown, key=lambda photo: order.get(photo.segment, len(order))))


def by_segment(photos: Iterable[Photo]) -> dict[str, list[Photo]]:
    """Photos by the segment that they stand beside."""
    placed: dict[str, list[Photo]] = {}
    for photo in photos:
        if photo.segment:
            placed.setdefault(photo.segment, []).append(photo)
    return placed


def photo_answer(recordings: Sequence[Recording], photo_id: int) -> Response:
    """One photo, as the kind of picture that its bytes are and as nothing else. Raises NotThereError."""
    found = next((r for r in recordings if r.id == photo_id and r.media_type.startswith("image/")), None)
    kind = None if found is None or found.path is None else _kind_of_file(found.path)
    if found is None or found.path is None or kind is None:
        raise NotThereError
    name = f"photo-{photo_id}{kind[1]}"
    return FileResponse(found.path, media_type=kind[0], headers=_CLOSED, filename=name,
                        content_disposition_type="inline")  # fmt: skip


def _kind_of_file(path: Path) -> tuple[str, str] | None:
    try:
        with path.open("rb") as file:
            return picture_kind(file.read(_HEAD))
    except OSError:
        return None


def _place(
    site: Site, job: Job, pin: Mapping[str, Any], recordings: Sequence[Recording], report: Report | None,
    wording: Wording,
) -> tuple[str, Time | None]:  # fmt: skip
    """The segment that a photo stands beside, and its moment; "" and None where its recording is in no report."""
    entry = _entry_name(site, pin, recordings, report)
    if report is None or not entry:
        return "", None
    at = float(pin["at_s"])
    said = [s for s in report.transcript.segments if s.recording == entry]
    segment = next((s.id for s in reversed(said) if s.start <= at), said[0].id if said else "")
    sounds = Sounds(job.id, report, recordings)
    return segment, sounds.time(context_of(report, wording), entry, at, at + _PLAYED_S)


def _photo(job: Job, picture: Recording, pin: Mapping[str, Any], segment: str, time: Time | None) -> Photo:
    at = float(pin["at_s"])
    gone = "" if picture.deleted_at is None else say("job", "photo_gone", day=picture.deleted_at.date().isoformat())
    return Photo(
        anchor=f"photo-{picture.id}",
        address="" if gone else f"/onsite/jobs/{job.id}/photos/{picture.id}",
        told=say("job", "photo", clock=text.clock(at), recording=text.shown(pin["recording"])),
        gone=gone, time=time, segment=segment,
    )  # fmt: skip


def _entry_name(
    site: Site, pin: Mapping[str, Any], recordings: Sequence[Recording], report: Report | None
) -> str:  # fmt: skip
    """The name that the report gives the recording of a pin; "" where it has none."""
    if report is None:
        return ""
    digest = ""
    if pin.get("upload"):
        try:
            sealed = site.store.recordings.upload(str(pin["upload"])).recording
        except StoreError:  # a restored store has no uploads
            sealed = None
        digest = sealed.sha256 if sealed else ""
    if not digest:
        digest = next((r.sha256 for r in recordings if r.name == pin["recording"]), "")
    return next((entry.name for entry in report.recordings if entry.sha256 == digest), "")
