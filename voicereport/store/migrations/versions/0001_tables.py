"""The tables of the first version."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "check_titles",
        sa.Column("check_id", sa.String(length=200), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("severity", sa.String(length=10), nullable=False),
        sa.PrimaryKeyConstraint("check_id"),
    )
    op.create_table(
        "people",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("login", sa.String(length=200), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=True),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("locked_until", sa.String(length=27), nullable=True),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("login"),
    )
    op.create_table(
        "tallies",
        sa.Column("dimension", sa.String(length=20), nullable=False),
        sa.Column("key", sa.String(length=300), nullable=False),
        sa.Column("week", sa.String(length=8), nullable=False),
        sa.Column("check_id", sa.String(length=200), nullable=False),
        sa.Column("applicable", sa.Integer(), nullable=False),
        sa.Column("skipped", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("dimension", "key", "week", "check_id"),
    )
    op.create_table(
        "trail",
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at", sa.String(length=27), nullable=False),
        sa.Column("by", sa.String(length=200), nullable=False),
        sa.Column("act", sa.String(length=60), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("before", sa.Text(), nullable=False),
        sa.Column("after", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=True),
        sa.Column("seals", sa.Text(), nullable=False),
        sa.Column("previous", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("number"),
    )
    with op.batch_alter_table("trail", schema=None) as batch_op:
        batch_op.create_index("trail_of_job", ["job_id", "number"], unique=False)

    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=200), nullable=True),
        sa.Column("technician_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("typed", sa.Text(), nullable=False),
        sa.Column("held", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("issued", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.Column("updated_at", sa.String(length=27), nullable=False),
        sa.Column("problem", sa.Text(), nullable=True),
        sa.Column("said", sa.Text(), nullable=False),
        sa.Column("happened_at", sa.String(length=27), nullable=False),
        sa.Column("week", sa.String(length=8), nullable=False),
        sa.Column("status", sa.String(length=20), nullable=True),
        sa.Column("open_stops", sa.Integer(), nullable=False),
        sa.Column("open_warnings", sa.Integer(), nullable=False),
        sa.Column("questions", sa.Integer(), nullable=False),
        sa.Column("recordings", sa.Integer(), nullable=False),
        sa.Column("attention", sa.Integer(), nullable=False),
        sa.Column("work_order", sa.Text(), nullable=True),
        sa.Column("customer", sa.Text(), nullable=True),
        sa.Column("site", sa.Text(), nullable=True),
        sa.Column("trade", sa.Text(), nullable=True),
        sa.Column("job_type", sa.Text(), nullable=True),
        sa.Column("appliance_kind", sa.Text(), nullable=True),
        sa.Column("maker", sa.Text(), nullable=True),
        sa.Column("model", sa.Text(), nullable=True),
        sa.Column("serial", sa.Text(), nullable=True),
        sa.Column("model_key", sa.Text().with_variant(sa.Text(collation="C"), "postgresql"), nullable=False),
        sa.Column("serial_key", sa.Text().with_variant(sa.Text(collation="C"), "postgresql"), nullable=False),
        sa.ForeignKeyConstraint(
            ["technician_id"],
            ["people.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("key"),
    )
    with op.batch_alter_table("jobs", schema=None) as batch_op:
        batch_op.create_index("jobs_by_attention", ["attention", "happened_at", "id"], unique=False)
        batch_op.create_index("jobs_by_date", ["happened_at", "id"], unique=False)
        batch_op.create_index("jobs_by_kind", ["appliance_kind", "happened_at"], unique=False)
        batch_op.create_index("jobs_by_model", ["model_key", "happened_at"], unique=False)
        batch_op.create_index("jobs_by_serial", ["serial_key", "happened_at"], unique=False)
        batch_op.create_index("jobs_by_state", ["state", "happened_at", "id"], unique=False)
        batch_op.create_index("jobs_by_status", ["status", "happened_at", "id"], unique=False)
        batch_op.create_index("jobs_by_technician", ["technician_id", "happened_at", "id"], unique=False)
        batch_op.create_index("jobs_by_type", ["job_type", "happened_at", "id"], unique=False)

    op.create_table(
        "sessions",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("csrf", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.Column("seen_at", sa.String(length=27), nullable=False),
        sa.Column("expires_at", sa.String(length=27), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"],
            ["people.id"],
        ),
        sa.PrimaryKeyConstraint("digest"),
    )
    with op.batch_alter_table("sessions", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sessions_expires_at"), ["expires_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_sessions_person_id"), ["person_id"], unique=False)

    op.create_table(
        "tokens",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.Column("expires_at", sa.String(length=27), nullable=True),
        sa.Column("used_at", sa.String(length=27), nullable=True),
        sa.Column("revoked_at", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(
            ["person_id"],
            ["people.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("digest"),
    )
    with op.batch_alter_table("tokens", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_tokens_person_id"), ["person_id"], unique=False)

    op.create_table(
        "appliances",
        sa.Column("serial_key", sa.Text().with_variant(sa.Text(collation="C"), "postgresql"), nullable=False),
        sa.Column("model_key", sa.Text().with_variant(sa.Text(collation="C"), "postgresql"), nullable=False),
        sa.Column("jobs", sa.Integer(), nullable=False),
        sa.Column("last_job_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["last_job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("serial_key"),
    )
    with op.batch_alter_table("appliances", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_appliances_last_job_id"), ["last_job_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_appliances_model_key"), ["model_key"], unique=False)

    op.create_table(
        "bodies",
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("job_id", "version"),
    )
    op.create_table(
        "fitted",
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("part", sa.String(length=300), nullable=False),
        sa.Column("model_key", sa.Text().with_variant(sa.Text(collation="C"), "postgresql"), nullable=False),
        sa.Column("serial_key", sa.Text().with_variant(sa.Text(collation="C"), "postgresql"), nullable=False),
        sa.Column("happened_at", sa.String(length=27), nullable=False),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("job_id", "part"),
    )
    with op.batch_alter_table("fitted", schema=None) as batch_op:
        batch_op.create_index("fitted_by_model", ["model_key", "part", "serial_key"], unique=False)
        batch_op.create_index("fitted_by_serial", ["serial_key", "part", "happened_at", "job_id"], unique=False)

    op.create_table(
        "issues",
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("report_version", sa.Integer(), nullable=False),
        sa.Column("report_sha256", sa.String(length=64), nullable=False),
        sa.Column("issued_at", sa.String(length=27), nullable=False),
        sa.Column("issued_by", sa.String(length=200), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("documents", sa.Text(), nullable=False),
        sa.Column("withdrawn_at", sa.String(length=27), nullable=True),
        sa.Column("withdrawn_by", sa.String(length=200), nullable=True),
        sa.Column("withdrawn_why", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("job_id", "number"),
    )
    op.create_table(
        "job_checks",
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("check_id", sa.String(length=200), nullable=False),
        sa.Column("severity", sa.String(length=10), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("open", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("job_id", "check_id"),
    )
    with op.batch_alter_table("job_checks", schema=None) as batch_op:
        batch_op.create_index("open_checks", ["check_id", "open", "job_id"], unique=False)

    op.create_table(
        "job_readings",
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("quantity", sa.String(length=40), nullable=False),
        sa.Column("subject", sa.Text(), nullable=True),
        sa.Column("stage", sa.String(length=20), nullable=True),
        sa.Column("value", sa.Double(), nullable=False),
        sa.Column("value_high", sa.Double(), nullable=True),
        sa.Column("unit", sa.String(length=40), nullable=True),
        sa.Column("verdict", sa.String(length=20), nullable=False),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("job_id", "position"),
    )
    with op.batch_alter_table("job_readings", schema=None) as batch_op:
        batch_op.create_index("readings_by_high_value", ["quantity", "value_high", "job_id"], unique=False)
        batch_op.create_index("readings_by_value", ["quantity", "value", "unit", "job_id"], unique=False)

    op.create_table(
        "overrides",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("check_id", sa.String(length=200), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("by", sa.String(length=200), nullable=False),
        sa.Column("at", sa.String(length=27), nullable=False),
        sa.Column("lifted_at", sa.String(length=27), nullable=True),
        sa.Column("lifted_by", sa.String(length=200), nullable=True),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("overrides", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_overrides_job_id"), ["job_id"], unique=False)

    op.create_table(
        "questions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("check_id", sa.String(length=200), nullable=True),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("asked_by", sa.String(length=200), nullable=False),
        sa.Column("asked_at", sa.String(length=27), nullable=False),
        sa.Column("answer", sa.Text(), nullable=True),
        sa.Column("answered_by", sa.String(length=200), nullable=True),
        sa.Column("answered_at", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("questions", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_questions_job_id"), ["job_id"], unique=False)

    op.create_table(
        "recordings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("visit", sa.Integer(), nullable=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("bytes", sa.BigInteger(), nullable=False),
        sa.Column("media_type", sa.String(length=200), nullable=False),
        sa.Column("received_at", sa.String(length=27), nullable=False),
        sa.Column("received_from", sa.String(length=200), nullable=False),
        sa.Column("deleted_at", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("recordings", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_recordings_sha256"), ["sha256"], unique=False)
        batch_op.create_index("recordings_by_age", ["deleted_at", "received_at"], unique=False)
        batch_op.create_index("recordings_of_job", ["job_id", "sha256"], unique=True)

    op.create_table(
        "reports",
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("saved_at", sa.String(length=27), nullable=False),
        sa.Column("saved_by", sa.String(length=200), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("status", sa.String(length=20), nullable=False),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("job_id", "version"),
    )
    op.create_table(
        "search_texts",
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("parts", sa.Text(), nullable=False),
        sa.Column("appliance", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("job_id"),
    )
    op.create_table(
        "tasks",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=60), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("priority", sa.Integer(), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("worker", sa.String(length=200), nullable=True),
        sa.Column("lease", sa.String(length=64), nullable=False),
        sa.Column("lease_until", sa.String(length=27), nullable=True),
        sa.Column("progress", sa.Double(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("problem", sa.Text(), nullable=True),
        sa.Column("put_at", sa.String(length=27), nullable=False),
        sa.Column("due_at", sa.String(length=27), nullable=False),
        sa.Column("beat_at", sa.String(length=27), nullable=True),
        sa.Column("done_at", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("tasks", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_tasks_job_id"), ["job_id"], unique=False)
        batch_op.create_index("tasks_to_do", ["state", "priority", "due_at"], unique=False)

    op.create_table(
        "uploads",
        sa.Column("id", sa.String(length=200), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("media_type", sa.String(length=200), nullable=False),
        sa.Column("visit", sa.Integer(), nullable=True),
        sa.Column("started_at", sa.String(length=27), nullable=False),
        sa.Column("started_by", sa.String(length=200), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["job_id"],
            ["jobs.id"],
        ),
        sa.ForeignKeyConstraint(
            ["recording_id"],
            ["recordings.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("uploads", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_uploads_job_id"), ["job_id"], unique=False)

    op.create_table(
        "pieces",
        sa.Column("upload_id", sa.String(length=200), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.String(length=27), nullable=False),
        sa.ForeignKeyConstraint(
            ["upload_id"],
            ["uploads.id"],
        ),
        sa.PrimaryKeyConstraint("upload_id", "number"),
    )
    _create_search_index()


def downgrade() -> None:
    _drop_search_index()
    op.drop_table("pieces")
    with op.batch_alter_table("uploads", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_uploads_job_id"))

    op.drop_table("uploads")
    with op.batch_alter_table("tasks", schema=None) as batch_op:
        batch_op.drop_index("tasks_to_do")
        batch_op.drop_index(batch_op.f("ix_tasks_job_id"))

    op.drop_table("tasks")
    op.drop_table("search_texts")
    op.drop_table("reports")
    with op.batch_alter_table("recordings", schema=None) as batch_op:
        batch_op.drop_index("recordings_of_job")
        batch_op.drop_index("recordings_by_age")
        batch_op.drop_index(batch_op.f("ix_recordings_sha256"))

    op.drop_table("recordings")
    with op.batch_alter_table("questions", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_questions_job_id"))

    op.drop_table("questions")
    with op.batch_alter_table("overrides", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_overrides_job_id"))

    op.drop_table("overrides")
    with op.batch_alter_table("job_readings", schema=None) as batch_op:
        batch_op.drop_index("readings_by_value")
        batch_op.drop_index("readings_by_high_value")

    op.drop_table("job_readings")
    with op.batch_alter_table("job_checks", schema=None) as batch_op:
        batch_op.drop_index("open_checks")

    op.drop_table("job_checks")
    op.drop_table("issues")
    with op.batch_alter_table("fitted", schema=None) as batch_op:
        batch_op.drop_index("fitted_by_serial")
        batch_op.drop_index("fitted_by_model")

    op.drop_table("fitted")
    op.drop_table("bodies")
    with op.batch_alter_table("appliances", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_appliances_model_key"))
        batch_op.drop_index(batch_op.f("ix_appliances_last_job_id"))

    op.drop_table("appliances")
    with op.batch_alter_table("tokens", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_tokens_person_id"))

    op.drop_table("tokens")
    with op.batch_alter_table("sessions", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sessions_person_id"))
        batch_op.drop_index(batch_op.f("ix_sessions_expires_at"))

    op.drop_table("sessions")
    with op.batch_alter_table("jobs", schema=None) as batch_op:
        batch_op.drop_index("jobs_by_type")
        batch_op.drop_index("jobs_by_technician")
        batch_op.drop_index("jobs_by_status")
        batch_op.drop_index("jobs_by_state")
        batch_op.drop_index("jobs_by_serial")
        batch_op.drop_index("jobs_by_model")
        batch_op.drop_index("jobs_by_kind")
        batch_op.drop_index("jobs_by_date")
        batch_op.drop_index("jobs_by_attention")

    op.drop_table("jobs")
    with op.batch_alter_table("trail", schema=None) as batch_op:
        batch_op.drop_index("trail_of_job")

    op.drop_table("trail")
    op.drop_table("tallies")
    op.drop_table("people")
    op.drop_table("check_titles")


# SQLite: an index over search_texts, which holds no text of its own; the triggers are those that the manual of FTS5
# gives for external content (section 4.4.3). PostgreSQL: the words are split as FTS5 splits them, at all that is
# neither letter nor digit.
_FTS = """
CREATE VIRTUAL TABLE search_fts USING fts5(
  words, parts, appliance, content='search_texts', content_rowid='job_id', tokenize='unicode61 remove_diacritics 2',
  prefix='2 3')
"""
_COLUMNS = "search_fts(rowid, words, parts, appliance)"
_PUT = f"INSERT INTO {_COLUMNS} VALUES (new.job_id, new.words, new.parts, new.appliance);"
_TAKE = (
    "INSERT INTO search_fts(search_fts, rowid, words, parts, appliance) "
    "VALUES ('delete', old.job_id, old.words, old.parts, old.appliance);"
)
_TRIGGERS = {
    "search_fts_insert": f"AFTER INSERT ON search_texts BEGIN {_PUT} END",
    "search_fts_delete": f"AFTER DELETE ON search_texts BEGIN {_TAKE} END",
    "search_fts_update": f"AFTER UPDATE ON search_texts BEGIN {_TAKE} {_PUT} END",
}
_SPLIT = "'[^[:alnum:]]+', ' ', 'g'"
_VECTORS = {
    "search_fts_all": f"to_tsvector('simple', regexp_replace(words || ' ' || parts || ' ' || appliance, {_SPLIT}))",
    "search_fts_parts": f"to_tsvector('simple', regexp_replace(parts, {_SPLIT}))",
}


def _create_search_index() -> None:
    if op.get_bind().dialect.name == "sqlite":
        op.execute(_FTS)
        for name, body in _TRIGGERS.items():
            op.execute(f"CREATE TRIGGER {name} {body}")
        return
    for name, vector in _VECTORS.items():
        op.execute(f"CREATE INDEX {name} ON search_texts USING gin ({vector})")


def _drop_search_index() -> None:
    if op.get_bind().dialect.name == "sqlite":
        for name in _TRIGGERS:
            op.execute(f"DROP TRIGGER {name}")
        op.execute("DROP TABLE search_fts")
        return
    for name in _VECTORS:
        op.execute(f"DROP INDEX {name}")
