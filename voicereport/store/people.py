"""People, their sessions and their tokens. Passwords come hashed; of secrets only the digest is kept."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session as DatabaseSession

from voicereport.store.canonical import digest, maybe_time, moment, required, storable, time_of
from voicereport.store.database import Database
from voicereport.store.faults import conflict, not_found, refused
from voicereport.store.models import PersonRow, SessionRow, TokenRow
from voicereport.store.values import Person, Role, Session, Token
from voicereport.store.writing import Writing

ROLES: tuple[Role, ...] = ("technician", "office", "supervisor", "administrator")
_SEEN_EVERY_S = 60  #: a session's last use is noted no more often
_LONGEST_LOGIN = 100


class People:
    """Everybody who may sign in."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def any(self) -> bool:
        """Whether there is anybody at all; if not, the first administrator is still to be set up."""
        with self._database.read() as session:
            return session.scalar(select(PersonRow.id).limit(1)) is not None

    def set_up_first(self, login: str, name: str, password_hash: str, *, now: datetime) -> Person:
        """The first administrator. Raises StoreError (conflict) once there is anybody."""
        with self._database.write() as writing:
            if writing.session.scalar(select(PersonRow.id).limit(1)) is not None:
                raise conflict("set-up", "is done already", "sign in")
            return _add(writing, login, name, "administrator", by=login, now=now, password_hash=password_hash)

    def add(
        self, login: str, name: str, role: Role, *, by: str, now: datetime, password_hash: str | None = None
    ) -> Person:
        """A new person. Raises StoreError where the login is taken or unusable."""
        with self._database.write() as writing:
            return _add(writing, login, name, role, by=by, now=now, password_hash=password_hash)

    def get(self, login: str) -> Person:
        """The person of a login. Raises StoreError (not_found)."""
        with self._database.read() as session:
            return person_of(person_row(session, login))

    def list(self, *, active_only: bool = False) -> tuple[Person, ...]:
        """Everybody, by login."""
        query = select(PersonRow).order_by(PersonRow.login)
        if active_only:
            query = query.where(PersonRow.active)
        with self._database.read() as session:
            return tuple(map(person_of, session.scalars(query)))

    def password_hash(self, login: str) -> str | None:
        """The hash to hold a password against; None for somebody unknown, inactive or without a password."""
        query = select(PersonRow.password_hash).where(PersonRow.login == login_key(login), PersonRow.active)
        with self._database.read() as session:
            return session.scalar(query)

    def set_password(
        self, login: str, password_hash: str, *, by: str, now: datetime, keep: str | None = None
    ) -> Person:
        """Another password. Ends the person's sessions, but the one of the secret `keep`."""
        with self._database.write() as writing:
            row = person_row(writing.session, login)
            row.password_hash, row.failures, row.locked_until = required("password hash", password_hash), 0, None
            others = delete(SessionRow).where(SessionRow.person_id == row.id)
            writing.session.execute(others if keep is None else others.where(SessionRow.digest != digest(keep)))
            writing.note("person.password_set", row.login, by=by, now=now, rows=[row])
            return person_of(row)

    def change(
        self,
        login: str,
        *,
        by: str,
        now: datetime,
        name: str | None = None,
        role: Role | None = None,
        active: bool | None = None,
    ) -> Person:
        """Another name, role or standing. Raises StoreError (conflict) where no active administrator would be left."""
        with self._database.write() as writing:
            row = person_row(writing.session, login)
            before = _shown(row)
            if row.role == "administrator" and row.active and (active is False or role not in (None, row.role)):
                _refuse_last_administrator(writing.session, row)
            row.name = row.name if name is None else required("name", name)
            row.role = row.role if role is None else _role(role)
            row.active = row.active if active is None else active
            if not row.active:
                writing.session.execute(delete(SessionRow).where(SessionRow.person_id == row.id))
            if before != _shown(row):
                after = _shown(row)
                writing.note("person.changed", row.login, by=by, now=now, before=before, after=after, rows=[row])
            return person_of(row)

    def note_failure(self, login: str, *, now: datetime, limit: int = 5, lock_s: float = 900) -> Person | None:
        """Counts a wrong password; at `limit` in a row the person is locked out for `lock_s` seconds.

        None for somebody unknown, of whom nothing is kept.
        """
        with self._database.write() as writing:
            row = writing.session.scalar(select(PersonRow).where(PersonRow.login == login_key(login)))
            if row is None:
                return None
            row.failures += 1
            if row.failures >= limit:
                row.failures, row.locked_until = 0, moment(now + timedelta(seconds=lock_s))
                writing.note("person.locked_out", row.login, by=row.login, now=now, after=row.locked_until)
            return person_of(row)

    def note_success(self, login: str, *, now: datetime) -> None:
        """Forgets the wrong passwords."""
        with self._database.write() as writing:
            row = person_row(writing.session, login)
            row.failures, row.locked_until = 0, None

    def start_session(self, login: str, *, now: datetime, lasts_s: float = 43_200) -> tuple[str, Session]:
        """A secret for the browser, and the session it opens. Sessions that are over go."""
        with self._database.write() as writing:
            row = person_row(writing.session, login)
            if not row.active:
                raise refused(row.login, "is not active", "ask an administrator")
            writing.session.execute(delete(SessionRow).where(SessionRow.expires_at <= moment(now)))
            secret = secrets.token_urlsafe(32)
            opened = SessionRow(
                digest=digest(secret),
                person_id=row.id,
                csrf=secrets.token_urlsafe(32),
                created_at=moment(now),
                seen_at=moment(now),
                expires_at=moment(now + timedelta(seconds=lasts_s)),
            )
            writing.session.add(opened)
            return secret, _session_of(opened, row)

    def session(self, secret: str, *, now: datetime, idle_s: float | None = None) -> Session | None:
        """The session that a secret opens; None where there is none, it is over, or the person is not active.

        idle_s: also over when it was not used for so long.
        """
        query = select(SessionRow, PersonRow).join(PersonRow, PersonRow.id == SessionRow.person_id)
        with self._database.read() as session:
            found = session.execute(query.where(SessionRow.digest == digest(secret))).first()
        if found is None:
            return None
        opened, person = found
        idle = (now - time_of(opened.seen_at)).total_seconds()
        if not person.active or opened.expires_at <= moment(now) or (idle_s is not None and idle > idle_s):
            return None
        if idle > _SEEN_EVERY_S:
            with self._database.write() as writing:
                row = writing.session.get(SessionRow, opened.digest)
                if row is not None:
                    row.seen_at = moment(now)
        return _session_of(opened, person)

    def end_session(self, secret: str) -> None:
        """Ends one session; ending it again does nothing."""
        with self._database.write() as writing:
            writing.session.execute(delete(SessionRow).where(SessionRow.digest == digest(secret)))

    def end_sessions(self, login: str) -> None:
        """Ends all sessions of a person."""
        with self._database.write() as writing:
            row = person_row(writing.session, login)
            writing.session.execute(delete(SessionRow).where(SessionRow.person_id == row.id))

    def make_token(
        self, login: str, name: str, *, by: str, now: datetime, expires_at: datetime | None = None
    ) -> tuple[str, Token]:
        """A secret for the API, shown once, and what is kept of it."""
        with self._database.write() as writing:
            row = person_row(writing.session, login)
            secret = secrets.token_urlsafe(32)
            token = TokenRow(
                person_id=row.id,
                name=required("name of the token", name),
                digest=digest(secret),
                created_at=moment(now),
                expires_at=None if expires_at is None else moment(expires_at),
            )
            writing.session.add(token)
            writing.note("token.made", row.login, by=by, now=now, after={"name": token.name}, rows=[token])
            return secret, _token_of(token, row.login)

    def token_person(self, secret: str, *, now: datetime) -> Person | None:
        """Whose token it is; None where there is none, it is revoked or over, or the person is not active."""
        query = select(TokenRow, PersonRow).join(PersonRow, PersonRow.id == TokenRow.person_id)
        with self._database.read() as session:
            found = session.execute(query.where(TokenRow.digest == digest(secret))).first()
        if found is None:
            return None
        token, person = found
        over = token.expires_at is not None and token.expires_at <= moment(now)
        if not person.active or token.revoked_at is not None or over:
            return None
        if token.used_at is None or (now - time_of(token.used_at)).total_seconds() > _SEEN_EVERY_S:
            with self._database.write() as writing:
                row = writing.session.get(TokenRow, token.id)
                if row is not None:
                    row.used_at = moment(now)
        return person_of(person)

    def tokens(self, login: str) -> tuple[Token, ...]:
        """A person's tokens, newest first."""
        with self._database.read() as session:
            row = person_row(session, login)
            found = session.scalars(select(TokenRow).where(TokenRow.person_id == row.id).order_by(TokenRow.id.desc()))
            return tuple(_token_of(token, row.login) for token in found)

    def revoke_token(self, token_id: int, *, by: str, now: datetime) -> Token:
        """Ends a token; ending it again does nothing."""
        with self._database.write() as writing:
            token = writing.session.get(TokenRow, token_id)
            if token is None:
                raise not_found(f"token {token_id}")
            person = writing.session.get_one(PersonRow, token.person_id)
            if token.revoked_at is None:
                token.revoked_at = moment(now)
                writing.note("token.revoked", person.login, by=by, now=now, before={"name": token.name}, rows=[token])
            return _token_of(token, person.login)


def login_key(login: str) -> str:
    """A login as it is kept: without blanks around it, lower case."""
    return storable(login).strip().casefold()


def person_row(session: DatabaseSession, login: str) -> PersonRow:
    """The row of a login. Raises StoreError (not_found)."""
    row = session.scalar(select(PersonRow).where(PersonRow.login == login_key(login)))
    if row is None:
        raise not_found(f"person {login!r}")
    return row


def person_of(row: PersonRow) -> Person:
    """A row as a value."""
    return Person(
        id=row.id,
        login=row.login,
        name=row.name,
        role=_role(row.role),
        active=row.active,
        has_password=row.password_hash is not None,
        created_at=time_of(row.created_at),
        failures=row.failures,
        locked_until=maybe_time(row.locked_until),
    )


def _add(
    writing: Writing, login: str, name: str, role: Role, *, by: str, now: datetime, password_hash: str | None
) -> Person:
    key = login_key(login)
    if not key or len(key) > _LONGEST_LOGIN or any(sign.isspace() or not sign.isprintable() for sign in key):
        raise refused("login", "is no single word of at most 100 signs", "choose another")
    if writing.session.scalar(select(PersonRow.id).where(PersonRow.login == key)) is not None:
        raise conflict(f"login {key!r}", "is taken", "choose another")
    row = PersonRow(login=key, name=required("name", name), role=_role(role), active=True, failures=0,
                    password_hash=password_hash, created_at=moment(now))  # fmt: skip
    writing.session.add(row)
    writing.note("person.added", key, by=login_key(by), now=now, after=_shown(row), rows=[row])
    return person_of(row)


def _role(text: str) -> Role:
    for role in ROLES:
        if role == text:
            return role
    raise refused("role", f"{text!r} is none of {', '.join(ROLES)}")


def _shown(row: PersonRow) -> dict[str, object]:
    return {"name": row.name, "role": row.role, "active": row.active}


def _refuse_last_administrator(session: DatabaseSession, row: PersonRow) -> None:
    query = select(func.count()).where(PersonRow.role == "administrator", PersonRow.active, PersonRow.id != row.id)
    if not session.scalar(query):
        raise conflict(row.login, "is the last administrator", "make somebody else an administrator first")


def _session_of(row: SessionRow, person: PersonRow) -> Session:
    return Session(person=person_of(person), csrf=row.csrf, created_at=time_of(row.created_at),
                   seen_at=time_of(row.seen_at), expires_at=time_of(row.expires_at))  # fmt: skip


def _token_of(row: TokenRow, login: str) -> Token:
    return Token(id=row.id, login=login, name=row.name, created_at=time_of(row.created_at),
                 expires_at=maybe_time(row.expires_at), used_at=maybe_time(row.used_at),
                 revoked_at=maybe_time(row.revoked_at))  # fmt: skip
