"""The technician's page: its files, the line over which recordings arrive in pieces, photos.

The line is a websocket. The phone says "open" for each recording that it has and hears which pieces are here; pieces
come as binary frames (4 bytes length of a JSON head, the head, the piece, and what is only heard and not kept), each is
answered once it is on disk; "close" joins them and puts the job into the queue, as for a recording that was uploaded.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from hashlib import sha256
from tempfile import SpooledTemporaryFile
from typing import Annotated, Any, BinaryIO, cast

from fastapi import APIRouter, Depends, FastAPI, Request, WebSocket
from fastapi.responses import HTMLResponse, JSONResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.websockets import WebSocketDisconnect

from voicereport.render.wording import find_template
from voicereport.store import StoreError
from voicereport.store.values import JobFilter, JobState, Upload
from voicereport.trades import list_trades
from voicereport.web.access import Me, NotThereError, allowed, job_for, me_of
from voicereport.web.hearing import Desk
from voicereport.web.jobs import job_line
from voicereport.web.pages import render, static_files
from voicereport.web.phone_line import Talk, job_row, told, work_words
from voicereport.web.photos import keep_photo, photo_answer, pins
from voicereport.web.site import site_of


@asynccontextmanager
async def _while_it_serves(app: FastAPI) -> AsyncIterator[None]:
    """Nothing is left listening when the server ends."""
    yield
    desk: Desk | None = getattr(app.state, "hearing", None)
    if desk is not None:
        await run_in_threadpool(desk.stop)


router = APIRouter(lifespan=_while_it_serves)
_SIGNED_OUT, _NOT_ALLOWED, _ELSEWHERE = 4401, 4403, 4404  #: codes with which the line is closed
_SCRIPTS = ("shelf.js", "recorder.js", "line.js", "technician.js", "tap.js", "technician.css", "mark.svg")
_OPEN_STATES: tuple[JobState, ...] = ("new", "queued", "working", "failed", "ready", "sent_back")
_PHOTO_BYTES = 15_000_000
_CHECKED_EVERY = 200  #: messages, after which the session is looked at again
Own = Annotated[Me, Depends(allowed("own_work"))]


# ---- the page and its files


@router.get("/onsite")
def work_page(request: Request, me: Own) -> Response:
    """The page. It holds nothing of anybody's, so that it can be kept on the phone."""
    spoken = {name: table for name, table in work_words().items() if name != "server"}
    return HTMLResponse(render("technician/work.html", {"spoken": json.dumps(spoken, ensure_ascii=False)}))


@router.get("/onsite/state")
def work_state(request: Request, me: Own) -> Response:
    """Who is signed in, the open jobs that are theirs, the trades."""
    site = site_of(request)
    found = site.store.jobs.page(JobFilter(technician=me.login, states=_OPEN_STATES), page=1, size=50)
    lines = [job_line(job) for job in found.items]
    jobs = [job_row(line.job) | {"about": line.about, "state": line.state_word} for line in lines]
    return JSONResponse({"login": me.login, "jobs": jobs, "trades": list(list_trades())})


@router.get("/onsite/worker.js")
def worker(request: Request) -> Response:
    """The script that keeps the page on the phone; it has another name for other files."""
    files = ["/onsite", "/onsite/app.webmanifest", *(static_files()[name].address for name in _SCRIPTS)]
    page = (
        find_template("web/technician/work.html").read_bytes() + find_template("web/technician/words.toml").read_bytes()
    )
    name = sha256("\n".join(files).encode() + page).hexdigest()[:16]
    return Response(render("technician/worker.js", {"name": name, "files": files}),
                    media_type="text/javascript; charset=utf-8",
                    headers={"service-worker-allowed": "/onsite", "cache-control": "no-cache"})  # fmt: skip


@router.get("/onsite/app.webmanifest")
def manifest(request: Request) -> Response:
    """What a phone needs to install the page."""
    icon = {"src": static_files()["mark.svg"].address, "sizes": "any", "type": "image/svg+xml", "purpose": "any"}
    return JSONResponse(
        {"id": "/onsite", "name": "voicereport", "short_name": "voicereport", "start_url": "/onsite",
         "scope": "/onsite", "display": "standalone", "lang": "en",
         "background_color": "#14110e", "theme_color": "#14110e",
         "icons": [icon]},
        media_type="application/manifest+json",
    )  # fmt: skip


# ---- photos


@router.put("/onsite/photos/{upload_id}/{at_ms}")
async def put_photo(request: Request, upload_id: str, at_ms: int, me: Own) -> Response:
    """A photo, pinned to a moment of a recording. at_ms: milliseconds of the recording."""
    with SpooledTemporaryFile(max_size=1_000_000) as file:
        size = 0
        async for block in request.stream():
            size += len(block)
            if size > _PHOTO_BYTES:
                return JSONResponse({"problem": told("photo_kind")}, status_code=413)
            file.write(block)
        file.seek(0)
        digest = request.headers.get("x-sha256") or None
        answer = await run_in_threadpool(_keep_photo, request, me, upload_id, at_ms, cast(BinaryIO, file), digest)
    return JSONResponse(answer)


def _keep_photo(
    request: Request, me: Me, upload_id: str, at_ms: int, file: BinaryIO, digest: str | None
) -> dict[str, Any]:
    upload = _upload_of(request, me, upload_id)
    at = at_ms / 1000
    name = told("photo", clock=f"{int(at) // 60}.{int(at) % 60:02}", name=upload.name.rsplit(".", 1)[0])
    kept = keep_photo(site_of(request), upload, at, file, name=name, by=me.login, digest=digest)
    if kept is None:
        raise StoreError(told("place"), told("photo_kind"), told("photo_kind_remedy"), kind="refused")
    return {"photo": kept.id, "sha256": kept.sha256}


@router.get("/onsite/jobs/{job_id}/photos")
def photos(request: Request, job_id: int, me: Annotated[Me, Depends(allowed("see_jobs", "see_own_jobs"))]) -> Response:
    """The photos of a job and where each is pinned: [{photo, recording, at_s, address}]."""
    job = job_for(request, me, job_id)
    return JSONResponse([
        {name: pin[name] for name in ("photo", "recording", "at_s")}
        | {"address": f"/onsite/jobs/{job.id}/photos/{pin['photo']}"}
        for pin in pins(site_of(request), job.id)
    ])  # fmt: skip


@router.get("/onsite/jobs/{job_id}/photos/{photo_id}")
def photo(
    request: Request, job_id: int, photo_id: int, me: Annotated[Me, Depends(allowed("see_jobs", "see_own_jobs"))]
) -> Response:
    """One photo."""
    job = job_for(request, me, job_id)
    return photo_answer(site_of(request).store.recordings.of(job.id), photo_id)


# ---- the line


@router.websocket("/onsite/line")
async def line(socket: WebSocket) -> None:
    """The line of one phone."""
    await socket.accept()
    request = cast(Request, socket)  # both are connections; what is asked of them is the same
    me = await run_in_threadpool(me_of, request)
    refusal = _SIGNED_OUT if me is None else _NOT_ALLOWED if not me.may("own_work") else None
    if not _same_origin(socket):
        refusal = _ELSEWHERE
    if refusal is not None or me is None:
        await socket.close(refusal or _SIGNED_OUT)
        return
    talk = Talk(request, me, desk_of(request))
    sender = asyncio.create_task(_send(socket, talk.out))
    try:
        await _receive(socket, talk)
    except WebSocketDisconnect:
        pass
    finally:
        sender.cancel()
        talk.end()


def _same_origin(socket: WebSocket) -> bool:
    origin = socket.headers.get("origin", "")
    return origin.partition("://")[2] == socket.headers.get("host", "")


async def _send(socket: WebSocket, out: asyncio.Queue[dict[str, Any]]) -> None:
    while True:
        await socket.send_text(json.dumps(await out.get(), ensure_ascii=False))


async def _receive(socket: WebSocket, talk: Talk) -> None:
    count = 0
    while True:
        message = await socket.receive()
        if message["type"] == "websocket.disconnect":
            return
        count += 1
        if count % _CHECKED_EVERY == 0 and await run_in_threadpool(me_of, talk.request) is None:
            await socket.close(_SIGNED_OUT)
            return
        data = message.get("bytes")
        answer = await run_in_threadpool(talk.take, data if data is not None else message.get("text") or "")
        if answer is not None:
            talk.out.put_nowait(answer)


def desk_of(request: Request) -> Desk | None:
    """Where recordings are listened to; None where this server does not."""
    state = request.app.state
    if not hasattr(state, "hearing"):
        state.hearing = Desk(site_of(request))
    found: Desk | None = state.hearing
    return found


def _upload_of(request: Request, me: Me, upload_id: str) -> Upload:
    """A recording on its way that is this person's. Raises NotThereError."""
    try:
        upload = site_of(request).store.recordings.upload(upload_id)
    except StoreError as error:
        raise NotThereError from error
    job_for(request, me, upload.job_id)
    return upload
