"""The administrator's page: people, their roles, their passwords."""

from __future__ import annotations

import secrets
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from voicereport.store import StoreError
from voicereport.web import passwords
from voicereport.web.access import Me, NotThereError, Posted, allowed, posted
from voicereport.web.answers import go, page
from voicereport.web.pages import say
from voicereport.web.roles import ROLES
from voicereport.web.site import site_of

router = APIRouter()
Admin = Annotated[Posted, Depends(posted("people"))]


@router.get("/people")
def people_page(request: Request, me: Annotated[Me, Depends(allowed("people"))]) -> Response:
    """Everybody."""
    return _page(request, me)


def _page(request: Request, me: Me, *, status: int = 200, fault: str = "", shown: tuple[str, str] | None = None,
          typed: dict[str, str] | None = None) -> Response:  # fmt: skip
    site = site_of(request)
    return page(request, me, "people.html", status=status, fault=fault, people=site.store.people.list(), shown=shown,
                roles=ROLES, now=site.now(),
                typed=typed or {"login": "", "name": "", "role": "technician"})  # fmt: skip


@router.post("/people")
def add_person(request: Request, sent: Admin) -> Response:
    """Somebody new, with a password that is shown this once."""
    site = site_of(request)
    login, name, role = sent.text("login", most=60).lower(), sent.text("name", most=120), sent.text("role")
    typed = {"login": login, "name": name, "role": role}
    if not login or not name or role not in ROLES:
        return _page(request, sent.me, status=422, fault=say("people", "lacking"), typed=typed)
    password = secrets.token_urlsafe(12)
    try:
        site.store.people.add(login, name, role, by=sent.me.login, now=site.now(),
                              password_hash=passwords.hashed(password))  # fmt: skip
    except StoreError as error:
        return _page(request, sent.me, status=422, fault=str(error), typed=typed)
    return _page(request, sent.me, shown=(login, password))


@router.post("/people/{login}")
def change_person(request: Request, login: str, sent: Admin) -> Response:
    """Name, role, whether active."""
    site = site_of(request)
    _known(request, login)
    role, name = sent.text("role"), sent.text("name", most=120)
    if role not in ROLES or not name:
        return _page(request, sent.me, status=422, fault=say("people", "lacking"))
    active = sent.text("active") == "yes"
    try:
        site.store.people.change(login, by=sent.me.login, now=site.now(), name=name, role=role,
                                 active=active)  # fmt: skip
    except StoreError as error:
        return _page(request, sent.me, status=409, fault=str(error))
    return go("/people", "person_changed")


@router.post("/people/{login}/password")
def reset_password(request: Request, login: str, sent: Admin) -> Response:
    """A new password that is shown this once; ends the person's sessions and the lock."""
    site = site_of(request)
    _known(request, login)
    password = secrets.token_urlsafe(12)
    site.store.people.set_password(login, passwords.hashed(password), by=sent.me.login, now=site.now())
    site.store.people.note_success(login, now=site.now())
    return _page(request, sent.me, shown=(login, password))


def _known(request: Request, login: str) -> None:
    try:
        site_of(request).store.people.get(login)
    except StoreError as error:
        raise NotThereError from error
