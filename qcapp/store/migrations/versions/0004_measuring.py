"""Indexes for records of one kind and for the newest first passes."""

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index("log_kind", "log", ["kind", "seq"])
    op.create_index("inspection_captured", "inspection", ["is_first_pass", "captured_at"])


def downgrade() -> None:
    op.drop_index("inspection_captured", "inspection")
    op.drop_index("log_kind", "log")
