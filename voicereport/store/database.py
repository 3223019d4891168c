"""The connection to SQLite or PostgreSQL, and the two kinds of transaction: reading and writing.

Writers go one after the other, in SQLite by BEGIN IMMEDIATE and in PostgreSQL by an advisory lock: each appends to one
chain. Readers never wait.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, OperationalError
from sqlalchemy.orm import Session

from voicereport.errors import SettingsError
from voicereport.store.faults import damaged
from voicereport.store.heads import Heads
from voicereport.store.writing import Writing

_WAIT_S = 30  #: longest that a writer waits for another
_CACHE_KIB = 32_768  #: SQLite's page cache per connection
_LOCK = 7_316_245  #: number of the advisory lock of all writers

# WAL lets readers read while one writes. NORMAL: with FULL, four processes writing at once met "database is locked"
# within a 5 s timeout; an acknowledged write outlives the process either way, FULL adds the loss of power.
_PRAGMAS = ("journal_mode=WAL", "synchronous=NORMAL", "foreign_keys=ON", f"busy_timeout={_WAIT_S * 1000}",
            f"cache_size=-{_CACHE_KIB}", "temp_store=MEMORY")  # fmt: skip


class Database:
    """One database, used from any thread."""

    def __init__(self, url: str, heads: Heads) -> None:
        """Raises SettingsError for an address that names neither SQLite nor PostgreSQL."""
        self.engine = _engine(url)
        self.sqlite = self.engine.dialect.name == "sqlite"
        self._writer = self.engine.execution_options(writing=True)
        self._turn: AbstractContextManager[object] = threading.Lock() if self.sqlite else nullcontext()
        self.heads = heads

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A transaction that sees one state of all tables, and changes nothing."""
        with Session(self.engine, expire_on_commit=False, autoflush=False) as session:
            if not self.sqlite:
                session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
            yield session  # closing gives the transaction up; what was read stays readable

    @contextmanager
    def write(self) -> Iterator[Writing]:
        """A transaction that is on disk when the block ends without an error, and undone where it does not."""
        # SQLite's own waiting is by polling and unfair: the writers of one process take turns before it.
        with self._turn, Session(self._writer, expire_on_commit=False) as session:
            if not self.sqlite:
                session.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
            writing = Writing(session, self.heads)
            yield writing
            writing.commit()

    def close(self) -> None:
        """Gives the connections back."""
        self.engine.dispose()


def _engine(url: str) -> Engine:
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise SettingsError(url, "is no address of a database", "write sqlite:////folder/store.db") from error
    if parsed.drivername in ("postgresql", "postgres"):
        parsed = parsed.set(drivername="postgresql+psycopg")
    if parsed.get_backend_name() == "postgresql":
        return create_engine(parsed, pool_size=10, max_overflow=20, pool_pre_ping=True)
    if parsed.get_backend_name() != "sqlite" or not parsed.database or parsed.database == ":memory:":
        raise SettingsError(url, "names neither an SQLite file nor PostgreSQL", "write sqlite:////folder/store.db")
    engine = create_engine(parsed, pool_size=10, max_overflow=30, connect_args={"timeout": _WAIT_S})
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


def _prepare(connection: sqlite3.Connection, _record: Any) -> None:
    connection.isolation_level = None  # SQLAlchemy says BEGIN itself, below
    try:
        for pragma in _PRAGMAS:
            connection.execute(f"PRAGMA {pragma}")
    except sqlite3.DatabaseError as error:
        raise damaged("database", f"cannot be opened ({error})", "restore a back-up") from error


def _begin(connection: Connection) -> None:
    writing = connection.get_execution_options().get("writing", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def explain_operational(error: OperationalError) -> str:
    """What a database said of itself, in one line without the statement."""
    return str(error.orig).strip().splitlines()[0]
