"""What Alembic runs: the connection comes from the caller, in `config.attributes`."""

from __future__ import annotations

from typing import Any

from alembic import context

from voicereport.store.models import Base


def _ours(_object: Any, name: str | None, kind: str, _reflected: bool, _other: Any) -> bool:
    """Leaves out what SQLite's FTS5 makes for itself, and the GIN indexes, which no model names."""
    return not (kind in ("table", "index") and (name or "").startswith("search_fts"))


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
    include_object=_ours,
)
with context.begin_transaction():
    context.run_migrations()
