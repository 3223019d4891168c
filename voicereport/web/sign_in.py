"""Set-up of the first administrator, sign-in, sign-out; one's own password and tokens."""

from __future__ import annotations

import hmac
import secrets
from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from voicereport.store import StoreError
from voicereport.web import passwords
from voicereport.web.access import COOKIE, Me, NotGenuineError, Posted, allowed, me_of, posted
from voicereport.web.answers import go, page, safe_path
from voicereport.web.pages import say
from voicereport.web.site import site_of

router = APIRouter()
_BEFORE = "voicereport-form"  #: cookie that a form bears out before there is a session


@router.get("/setup")
def setup_page(request: Request) -> Response:
    """The one-time set-up; gone once somebody exists."""
    if site_of(request).store.people.any():
        return go("/signin")
    return _before(request, "setup.html", login="", name="")


@router.post("/setup")
async def setup(request: Request) -> Response:
    """The first administrator."""
    form = await _form_before(request)
    return await _threaded(_set_up, request, form)


def _set_up(request: Request, form: dict[str, str]) -> Response:
    site = site_of(request)
    if site.store.people.any():
        return go("/signin")
    login, name, password = form.get("login", "").lower(), form.get("name", ""), form.get("password", "")
    wrong = passwords.fault(password, form.get("again", ""), login) if login and name else "lacking"
    if wrong is None:
        try:
            site.store.people.set_up_first(login, name, passwords.hashed(password), now=site.now())
            return _signed_in(request, login, "/")
        except StoreError as error:
            return _before(request, "setup.html", status=422, fault=str(error), login=login, name=name)
    return _before(request, "setup.html", status=422, fault=say("password", wrong), login=login, name=name)


@router.get("/signin")
def sign_in_page(request: Request, next: str = "/") -> Response:
    """The sign-in."""
    if not site_of(request).store.people.any():
        return go("/setup")
    if me_of(request) is not None:
        return go(safe_path(next))
    return _before(request, "signin.html", login="", next=safe_path(next))


@router.post("/signin")
async def sign_in(request: Request) -> Response:
    """A session for whoever knows the password."""
    form = await _form_before(request)
    return await _threaded(_sign_in, request, form)


def _sign_in(request: Request, form: dict[str, str]) -> Response:
    site = site_of(request)
    login, onward = form.get("login", "").lower(), safe_path(form.get("next", "/"))
    if not site.sign_ins.allow(request.client.host if request.client else ""):
        return _before(request, "signin.html", status=429, fault=say("sign_in", "too_many"), login=login, next=onward)
    now = site.now()
    person = next((p for p in site.store.people.list(active_only=True) if p.login == login), None)
    locked = person is not None and person.locked_until is not None and person.locked_until > now
    known = None if person is None or locked else site.store.people.password_hash(login)
    if not passwords.right(form.get("password", ""), known):
        if person is not None and not locked:
            site.store.people.note_failure(login, now=now, limit=site.options.attempts, lock_s=site.options.lock_s)
        # one sentence for all of it: whether a name exists, is locked or had another password is nobody's business
        return _before(request, "signin.html", status=401, fault=say("sign_in", "wrong"), login=login, next=onward)
    site.store.people.note_success(login, now=now)
    return _signed_in(request, login, onward)


@router.post("/signout")
def sign_out(request: Request, sent: Annotated[Posted, Depends(posted("myself"))]) -> Response:
    """The end of this session."""
    site_of(request).store.people.end_session(sent.me.secret)
    answer = go("/signin")
    answer.delete_cookie(COOKIE)
    return answer


@router.get("/me")
def me_page(request: Request, me: Annotated[Me, Depends(allowed("myself"))]) -> Response:
    """One's own password and tokens."""
    return _me(request, me)


@router.post("/me/password")
def change_password(request: Request, sent: Annotated[Posted, Depends(posted("myself"))]) -> Response:
    """A new password; ends the other sessions."""
    site, me = site_of(request), sent.me
    if not site.sign_ins.allow(f"password {me.login}"):
        return _me(request, me, status=429, fault=say("sign_in", "too_many"))
    if not passwords.right(sent.raw("old"), site.store.people.password_hash(me.login)):
        return _me(request, me, status=422, fault=say("password", "old"))
    wrong = passwords.fault(sent.raw("password"), sent.raw("again"), me.login)
    if wrong is not None:
        return _me(request, me, status=422, fault=say("password", wrong))
    hashed = passwords.hashed(sent.raw("password"))
    site.store.people.set_password(me.login, hashed, by=me.login, now=site.now(), keep=me.secret)
    return go("/me", "password_changed")


@router.post("/me/tokens")
def make_token(request: Request, sent: Annotated[Posted, Depends(posted("myself"))]) -> Response:
    """An API token; its secret is shown this once."""
    site, me = site_of(request), sent.me
    days = sent.text("days")
    expires = site.now() + timedelta(days=int(days)) if days.isdigit() and 0 < int(days) <= 3650 else None
    name = sent.text("name", most=80) or say("token", "unnamed")
    secret, _ = site.store.people.make_token(me.login, name, by=me.login, now=site.now(), expires_at=expires)
    return _me(request, me, secret=secret)


@router.post("/me/tokens/{token_id}/revoke")
def revoke_token(request: Request, token_id: int, sent: Annotated[Posted, Depends(posted("myself"))]) -> Response:
    """The end of a token of one's own."""
    site, me = site_of(request), sent.me
    if token_id in {token.id for token in site.store.people.tokens(me.login)}:
        site.store.people.revoke_token(token_id, by=me.login, now=site.now())
    return go("/me", "token_revoked")


def _me(request: Request, me: Me, *, status: int = 200, fault: str = "", secret: str = "") -> Response:
    tokens = [t for t in site_of(request).store.people.tokens(me.login) if t.revoked_at is None]
    return page(request, me, "me.html", status=status, fault=fault, tokens=tokens, new_secret=secret,
                least=passwords.LEAST)  # fmt: skip


def _signed_in(request: Request, login: str, onward: str) -> Response:
    site = site_of(request)
    secret, _ = site.store.people.start_session(login, now=site.now(), lasts_s=site.options.session_s)
    answer = go(onward)
    secure = request.url.scheme == "https"
    answer.set_cookie(COOKIE, secret, httponly=True, samesite="lax", secure=secure, max_age=site.options.session_s)
    answer.delete_cookie(_BEFORE)
    return answer


def _before(request: Request, name: str, /, *, status: int = 200, **values: object) -> Response:
    """A page with a form before there is a session: its token stands in a cookie and in the form."""
    token = request.cookies.get(_BEFORE) or secrets.token_urlsafe(24)
    answer = page(request, None, name, status=status, form_token=token, least=passwords.LEAST, **values)
    answer.set_cookie(_BEFORE, token, httponly=True, samesite="strict", secure=request.url.scheme == "https")
    return answer


async def _form_before(request: Request) -> dict[str, str]:
    form = await request.form(max_files=0, max_fields=20)
    values = {key: value for key, value in form.items() if isinstance(value, str)}
    kept = request.cookies.get(_BEFORE, "")
    if not kept or not hmac.compare_digest(kept.encode(), values.get("token", "").encode()):
        raise NotGenuineError
    return {key: value if key in ("password", "again") else value.strip() for key, value in values.items()}


async def _threaded(work: object, request: Request, form: dict[str, str]) -> Response:
    """`work` in a thread: it hashes, which takes a tenth of a second of a processor."""
    from starlette.concurrency import run_in_threadpool

    answer: Response = await run_in_threadpool(work, request, form)  # type: ignore[arg-type]
    return answer
