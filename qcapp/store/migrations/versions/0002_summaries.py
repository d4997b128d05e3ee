"""Issued summaries, the buyers' links and their openings; an index over what was set aside."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    _create_summary()
    _create_links()
    quarantined = sa.text("state != 'counted'")
    op.create_index(
        "log_quarantined", "log", ["batch"], sqlite_where=quarantined, postgresql_where=quarantined
    )


def downgrade() -> None:
    op.drop_index("log_quarantined", "log")
    for table in ("link_opening", "summary_link", "summary"):
        op.drop_table(table)


def _create_summary() -> None:
    op.create_table(
        "summary",
        sa.Column("batch", sa.String(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("issued_at", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("design", sa.String(), nullable=False),
        sa.Column("result", sa.String(), nullable=True),
        sa.Column("may_reduce", sa.Boolean(), nullable=False),
        sa.Column("is_restart", sa.Boolean(), nullable=False),
        sa.Column("proof", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("batch", "number"),
    )
    op.create_index("ix_summary_sha256", "summary", ["sha256"])
    op.create_index("summary_design", "summary", ["design", "seq"])


def _create_links() -> None:
    op.create_table(
        "summary_link",
        sa.Column("no", sa.Integer(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("batch", sa.String(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.Column("expires_at", sa.String(), nullable=False),
        sa.Column("revoked_at", sa.String(), nullable=True),
        sa.PrimaryKeyConstraint("no"),
        sa.UniqueConstraint("token_hash"),
    )
    op.create_index("ix_summary_link_batch", "summary_link", ["batch"])
    op.create_table(
        "link_opening",
        sa.Column("no", sa.Integer(), nullable=False),
        sa.Column("link_no", sa.Integer(), nullable=False),
        sa.Column("opened_at", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["link_no"], ["summary_link.no"]),
        sa.PrimaryKeyConstraint("no"),
    )
    op.create_index("ix_link_opening_link_no", "link_opening", ["link_no"])
