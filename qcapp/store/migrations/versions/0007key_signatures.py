"""Keys of phones, signatures of records, which phone began anew, which one was copied."""

import sqlalchemy as sa
from alembic import op

revision = "0007key"
down_revision = "0006drawings"
branch_labels = None
depends_on = None
WIDE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.add_column("log", sa.Column("signature", sa.String(), nullable=True))
    for name, kind in (
        ("restart_of", sa.String()),
        ("restart_hash", sa.String()),
        ("key_changed_at", sa.String()),
        ("copied_number", WIDE),
        ("copied_at", sa.String()),
    ):
        op.add_column("device", sa.Column(name, kind, nullable=True))
    op.create_index("ix_device_restart_of", "device", ["restart_of"])
    op.create_index("ix_device_restart_hash", "device", ["restart_hash"])
    op.create_table(
        "device_key",
        sa.Column("device_id", sa.String(), primary_key=True),
        sa.Column("public_key", sa.String(), primary_key=True),
        sa.Column("from_seq", WIDE, nullable=False),
        sa.Column("registered_at", sa.String(), nullable=False),
        sa.Column("retired_at", sa.String(), nullable=True),
    )
