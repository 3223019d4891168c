"""Jobs, recordings, reports, people, the queue of work and the audit trail, in SQLite or PostgreSQL."""

from voicereport.store.faults import StoreError
from voicereport.store.store import Store, address, open_store

__all__ = ["Store", "StoreError", "address", "open_store"]
