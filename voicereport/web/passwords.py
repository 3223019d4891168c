"""Passwords: argon2, and what is asked of a new one."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pwdlib import PasswordHash

LEAST = 12  #: characters; NIST SP 800-63B asks for 8 at least, 15 where a password stands alone
MOST = 200


@lru_cache(maxsize=1)
def _hasher() -> PasswordHash:
    from pwdlib import PasswordHash

    return PasswordHash.recommended()


@lru_cache(maxsize=1)
def _nobody() -> str:
    return _hasher().hash("nobody has this password")


def hashed(password: str) -> str:
    """The argon2 hash of a password."""
    return _hasher().hash(password)


def right(password: str, hashed_as: str | None) -> bool:
    """Whether a password is the one; as slow for nobody's as for somebody's."""
    found = _hasher().verify(password[:MOST], hashed_as or _nobody())
    return found and hashed_as is not None


def fault(password: str, again: str, login: str) -> str | None:
    """Name of what is wrong with a new password, or None."""
    if len(password) < LEAST:
        return "short"
    if len(password) > MOST:
        return "long"
    if password != again:
        return "differ"
    if login and login.lower() in password.lower():
        return "login"
    return "plain" if len(set(password)) < 5 else None
