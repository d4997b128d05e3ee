"""Drafts of checklists, the yard's own drawings, links by which a draft is practised."""

import sqlalchemy as sa
from alembic import op

revision = "0005draft"
down_revision = "0004offer"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "draft",
        sa.Column("checklist_id", sa.String(), primary_key=True),
        sa.Column("version", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("begun_from", sa.String(), nullable=False),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
    )
    op.create_table(
        "yard_drawing",
        sa.Column("name", sa.String(), primary_key=True),
        sa.Column("svg", sa.Text(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.Column("is_published", sa.Boolean(), nullable=False),
    )
    op.create_table(
        "practice_link",
        sa.Column("token_hash", sa.String(), primary_key=True),
        sa.Column("checklist_id", sa.String(), nullable=False),
        sa.Column("expires_at", sa.String(), nullable=False),
    )
