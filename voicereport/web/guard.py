"""Around every request: its size, its host, its rate; and the headers that every answer bears."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from voicereport.web.limits import RateLimit
from voicereport.web.options import WebOptions

_log = logging.getLogger("voicereport.web")
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[MutableMapping[str, Any], Receive, Send], Awaitable[None]]

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; media-src 'self' blob:; "
    "connect-src 'self'; worker-src 'self'; manifest-src 'self'; frame-src 'self'; form-action 'self'; "
    "frame-ancestors 'none'; base-uri 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "microphone=(self), camera=(self), geolocation=(), payment=(), usb=()",
    "cache-control": "no-store",
}


class Guard:
    """An ASGI application around another one. It refuses before any of the body is kept."""

    def __init__(self, app: App, options: WebOptions) -> None:
        self._app = app
        self._options = options
        self._rate = RateLimit(options.requests_a_minute)
        self._hosts = frozenset(options.hosts)

    async def __call__(self, scope: MutableMapping[str, Any], receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            await _refuse(scope, send, *refusal)
            return
        if scope["type"] == "websocket":
            await self._app(scope, receive, send)
            return
        limited = _Limited(receive, self._most(scope["path"]))
        headed = _Headed(send, secure=scope.get("scheme") == "https")
        try:
            await self._app(scope, limited.receive, headed.send)
        except _TooLargeError:
            if not headed.started:
                await _refuse(scope, headed.send, 413, "too_large")
        except Exception as error:
            # its message may hold what was spoken or typed: the log gets its kind and place only
            place = traceback.extract_tb(error.__traceback__)[-1]
            _log.error("a fault of the program: %s at %s:%s", type(error).__name__, place.filename, place.lineno)
            if not headed.started:
                await _refuse(scope, headed.send, 500, "fault")

    def _refusal(self, scope: MutableMapping[str, Any]) -> tuple[int, str] | None:
        headers = {key.decode("latin-1").lower(): value.decode("latin-1") for key, value in scope["headers"]}
        if _host(headers.get("host", "")) not in self._hosts:
            return 421, "wrong_host"
        client = scope.get("client")
        if not self._rate.allow(client[0] if client else ""):
            return 429, "too_many"
        if scope["type"] == "websocket" or scope["method"] not in ("GET", "HEAD", "OPTIONS"):
            origin = headers.get("origin")
            if origin not in (None, "null") and _host(origin.partition("://")[2]) not in self._hosts:
                return 403, "wrong_origin"
            if headers.get("sec-fetch-site") == "cross-site":
                return 403, "wrong_origin"
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > self._most(scope["path"]):
            return 413, "too_large"
        return None

    def _most(self, path: str) -> int:
        takes = path == "/jobs/new" or path.startswith("/onsite/") or path.endswith("/recordings")  # what takes files
        return self._options.upload_bytes if takes else self._options.form_bytes


def _host(value: str) -> str:
    """The name of a host without its port: "[::1]:80" is "::1"."""
    if value.startswith("["):
        return value[1:].partition("]")[0].lower()
    return value.partition(":")[0].lower()


class _TooLargeError(Exception):
    """A body that goes on beyond what it may be."""


class _Limited:
    """Counts what is received."""

    def __init__(self, receive: Receive, most: int) -> None:
        self._receive, self._left = receive, most

    async def receive(self) -> Message:
        message = await self._receive()
        if message["type"] == "http.request":
            self._left -= len(message.get("body", b""))
            if self._left < 0:
                raise _TooLargeError
        return message


class _Headed:
    """Adds the headers that an answer lacks."""

    def __init__(self, send: Send, *, secure: bool) -> None:
        self._send, self._secure = send, secure
        self.started = False

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.started = True
            own = {key.lower() for key, _ in message["headers"]}
            wanted = HEADERS | ({"strict-transport-security": "max-age=31536000"} if self._secure else {})
            lacking = [(k.encode(), v.encode()) for k, v in wanted.items() if k.encode() not in own]
            message = {**message, "headers": [*message["headers"], *lacking]}
        await self._send(message)


async def _refuse(scope: MutableMapping[str, Any], send: Send, status: int, key: str) -> None:
    """An answer without a page: a plain sentence."""
    from voicereport.web.pages import say

    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008})
        return
    body = say("refused", key).encode() + b"\n"
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    headers += [(key.encode(), value.encode()) for key, value in HEADERS.items()]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
