"""The tables made, or brought up to this version, by the migrations inside the package."""

from __future__ import annotations

import fcntl
from pathlib import Path

from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import DatabaseError, OperationalError

from voicereport.store.database import Database, explain_operational
from voicereport.store.faults import damaged

REVISION = "0002"  #: of the newest file in migrations/versions
_SCRIPTS = Path(__file__).parent / "migrations"


def migrate(database: Database, folder: Path) -> None:
    """Brings the tables up to REVISION; one process at a time. Raises StoreError where that cannot be done."""
    try:
        with database.engine.connect() as connection:
            found = _revision(connection)
    except OperationalError as error:
        raise damaged("database", f"cannot be opened ({explain_operational(error)})", "check its address") from error
    except DatabaseError as error:
        raise damaged("database", f"cannot be read ({error.orig})", "restore a back-up") from error
    if found == REVISION:
        return
    if found is not None and found > REVISION:
        raise damaged("database", f"was made by a newer version ({found})", "install that version")
    with (folder / ".migrating").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        with database.engine.connect() as connection:
            upgrade(connection)
            connection.commit()


def upgrade(connection: Connection, revision: str = REVISION) -> None:
    """Runs the migrations up to `revision` on an open connection."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, revision)


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    row = connection.execute(text("SELECT version_num FROM alembic_version")).first()
    return None if row is None else str(row[0])
