"""The store as one value: its parts on one database and one folder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from voicereport.errors import SettingsError
from voicereport.store.database import Database
from voicereport.store.files import Files
from voicereport.store.heads import Heads
from voicereport.store.jobs import Jobs
from voicereport.store.migrate import migrate
from voicereport.store.overview import Overviews
from voicereport.store.people import People
from voicereport.store.queue import DatabaseQueue, Queue
from voicereport.store.recordings import Recordings
from voicereport.store.reports import Reports
from voicereport.store.retention import Retention
from voicereport.store.review import Reviews
from voicereport.store.search import Search
from voicereport.store.trail import Trail

HEAD_FILE = "trail.head"
DATABASE_FILE = "store.db"


@dataclass(frozen=True, kw_only=True, slots=True)
class Store:
    """Everything that is kept. Used from any thread; each call of a part is one transaction."""

    database: Database
    files: Files
    people: People
    jobs: Jobs
    recordings: Recordings
    reports: Reports
    review: Reviews
    queue: Queue
    search: Search
    overview: Overviews
    trail: Trail
    retention: Retention

    def close(self) -> None:
        """Gives the connections back. The store is not used afterwards."""
        self.database.close()


def open_store(url: str, folder: Path, *, head: Path | None = None) -> Store:
    """The store at a database's address; tables are made, or brought up to this version.

    url: "sqlite:////srv/voicereport/store.db" or "postgresql://...". folder: for recordings and documents.
    head: file that keeps the end of the trail, best on another disk; None keeps it in `folder`.
    Raises SettingsError for an unusable address, StoreError where the database is damaged or cannot be reached.
    """
    files = Files(folder)
    heads = Heads(head or folder / HEAD_FILE)
    database = Database(url, heads)
    try:
        migrate(database, folder)
    except BaseException:
        database.close()
        raise
    return store_on(database, files)


def store_on(database: Database, files: Files) -> Store:
    """The parts of the store on a database whose tables are there."""
    queue = DatabaseQueue(database)
    return Store(
        database=database,
        files=files,
        people=People(database),
        jobs=Jobs(database),
        recordings=Recordings(database, files),
        reports=Reports(database, queue),
        review=Reviews(database, files),
        queue=queue,
        search=Search(database),
        overview=Overviews(database),
        trail=Trail(database, files),
        retention=Retention(database, files),
    )


def address(folder: Path, database: str | None) -> str:
    """The database's address: as given, out of a file where it is given as "@FILE", else SQLite in the store's folder.

    An address with a password is best kept in a file that only the program may read. Raises SettingsError.
    """
    if database is None:
        return f"sqlite:///{folder.resolve() / DATABASE_FILE}"
    if not database.startswith("@"):
        return database
    try:
        return Path(database[1:]).read_text(encoding="utf-8").strip()
    except OSError as error:
        raise SettingsError(database[1:], f"cannot be read ({error.strerror})", "name a readable file") from error
