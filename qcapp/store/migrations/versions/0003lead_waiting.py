"""Of a stove that was held: who decided about it, and why; what waits is found by an index."""

import sqlalchemy as sa
from alembic import op

revision = "0003lead"
down_revision = "0002hard"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("stove", sa.Column("decided_by", sa.String(), nullable=True))
    op.add_column("stove", sa.Column("decision_reason", sa.String(), nullable=True))
    waiting = sa.text("disposition IN ('rework', 'hold')")
    op.create_index(
        "stove_waiting",
        "stove",
        ["disposition", "batch", "stage", "last_at"],
        sqlite_where=waiting,
        postgresql_where=waiting,
    )
