"""Who asks, and whether they may: sessions for pages, tokens for the API, a token in every form."""

from __future__ import annotations

import hmac
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass

from fastapi import Depends, Request
from starlette.datastructures import FormData

from voicereport.store.values import Job, Person
from voicereport.web.roles import Right, may
from voicereport.web.site import site_of

COOKIE = "voicereport"


class NotSignedInError(Exception):
    """Nobody is signed in: pages lead to the sign-in, the API answers 401."""


class NotAllowedError(Exception):
    """Somebody is signed in who may not do this: 403."""


class NotGenuineError(Exception):
    """A form that does not come from a page of this session: 403."""


class NotThereError(Exception):
    """Nothing there, or nothing that this person may know of: 404."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Me:
    """Who asks."""

    person: Person
    csrf: str  #: token of this session's forms; "" with an API token
    secret: str  #: of the session; "" with an API token

    @property
    def login(self) -> str:
        return self.person.login

    @property
    def name(self) -> str:
        return self.person.name

    @property
    def role(self) -> str:
        return self.person.role

    def may(self, right: Right) -> bool:
        """Whether this person has a right."""
        return may(self.person.role, right)


@dataclass(frozen=True, kw_only=True, slots=True)
class Posted:
    """A form that was found genuine, and who sent it."""

    me: Me
    form: FormData

    def text(self, name: str, *, most: int = 4000) -> str:
        """A field as text without blanks around it; "" where it is lacking. Cut at `most` characters."""
        value = self.form.get(name)
        return value.strip()[:most] if isinstance(value, str) else ""

    def raw(self, name: str, *, most: int = 1000) -> str:
        """A field as it was typed, such as a password."""
        value = self.form.get(name)
        return value[:most] if isinstance(value, str) else ""


def me_of(request: Request) -> Me | None:
    """Who is signed in by the session's cookie."""
    secret = request.cookies.get(COOKIE, "")
    if not secret:
        return None
    site = site_of(request)
    session = site.store.people.session(secret, now=site.now(), idle_s=site.options.session_idle_s)
    return None if session is None else Me(person=session.person, csrf=session.csrf, secret=secret)


def token_holder(request: Request) -> Me | None:
    """Who holds the API token of the Authorization header."""
    kind, _, secret = request.headers.get("authorization", "").partition(" ")
    if kind.lower() != "bearer" or not secret.strip():
        return None
    site = site_of(request)
    person = site.store.people.token_person(secret.strip(), now=site.now())
    return None if person is None else Me(person=person, csrf="", secret="")


def _with_right(me: Me | None, rights: tuple[Right, ...]) -> Me:
    if me is None:
        raise NotSignedInError
    if not any(me.may(right) for right in rights):
        raise NotAllowedError
    return me


def allowed(*rights: Right) -> Callable[[Request], Me]:
    """A dependency: whoever is signed in and has one of `rights`."""

    def check(request: Request) -> Me:
        me = me_of(request)
        return _with_right(me, rights)

    check.rights = rights  # type: ignore[attr-defined]
    return check


def holder(*rights: Right) -> Callable[[Request], Me]:
    """A dependency of the API: a token's holder, or for reading whoever is signed in; with one of `rights`."""

    def check(request: Request) -> Me:
        me = token_holder(request)
        if me is None and request.method == "GET":
            me = me_of(request)
        return _with_right(me, rights)

    check.rights = rights  # type: ignore[attr-defined]
    return check


def posted(*rights: Right) -> Callable[..., AsyncIterator[Posted]]:
    """A dependency: a genuine form of somebody who has one of `rights`."""

    async def check(request: Request, me: Me = Depends(allowed(*rights))) -> AsyncIterator[Posted]:  # noqa: B008
        form = await request.form(max_files=200, max_fields=500)
        try:
            token = form.get("token")
            if not isinstance(token, str) or not hmac.compare_digest(token.encode(), me.csrf.encode()):
                raise NotGenuineError
            yield Posted(me=me, form=form)
        finally:
            await form.close()  # its files, where they lie on disk

    check.rights = rights  # type: ignore[attr-defined]
    return check


def job_for(request: Request, me: Me, job_id: int) -> Job:
    """A job that this person may see. Raises NotThereError for all others, whether they exist or not."""
    from voicereport.store import StoreError

    try:
        job = site_of(request).store.jobs.get(job_id)
    except StoreError as error:
        raise NotThereError from error
    if me.may("see_jobs") or (me.may("see_own_jobs") and job.technician == me.login):
        return job
    raise NotThereError
