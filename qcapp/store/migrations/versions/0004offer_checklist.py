"""Checklists that the lead of several yards asks a yard to use."""

import sqlalchemy as sa
from alembic import op

revision = "0004offer"
down_revision = "0003order"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "checklist_offer",
        sa.Column("hash", sa.String(), primary_key=True),
        sa.Column("checklist_id", sa.String(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("offered_by", sa.String(), nullable=False),
        sa.Column("offered_at", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("decided_by", sa.String()),
        sa.Column("decided_at", sa.String()),
        sa.Column("reason", sa.String()),
        sa.Column("compiled", sa.Text(), nullable=False),
    )
