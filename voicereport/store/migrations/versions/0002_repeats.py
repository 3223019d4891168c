"""Parts that one appliance was fitted with again, counted as they come; indexes of the overview."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_COUNTED = """
INSERT INTO repeats (serial_key, part, times, first_at, last_at)
SELECT serial_key, part, COUNT(*), MIN(happened_at), MAX(happened_at) FROM fitted
WHERE serial_key <> '' GROUP BY serial_key, part HAVING COUNT(*) > 1
"""


def upgrade() -> None:
    op.create_table(
        "repeats",
        sa.Column("serial_key", sa.Text().with_variant(sa.Text(collation="C"), "postgresql"), nullable=False),
        sa.Column("part", sa.String(length=300), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("first_at", sa.String(length=27), nullable=False),
        sa.Column("last_at", sa.String(length=27), nullable=False),
        sa.PrimaryKeyConstraint("serial_key", "part"),
    )
    op.create_index("repeats_by_times", "repeats", ["times", "last_at"])
    op.create_index("jobs_by_need", "jobs", ["state", "attention", "happened_at", "id"])
    op.create_index("tallies_by_week", "tallies", ["dimension", "week", "key", "check_id", "applicable", "skipped"])
    op.execute(_COUNTED)


def downgrade() -> None:
    op.drop_index("tallies_by_week", "tallies")
    op.drop_index("jobs_by_need", "jobs")
    op.drop_table("repeats")
