"""What each phone handed in on a day, photos begun before a record named them, browsers in which
an account signed in before.
"""

import sqlalchemy as sa
from alembic import op

revision = "0002hard"
down_revision = "0001"
branch_labels = None
depends_on = None
WIDE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "photo_upload",
        sa.Column("sha256", sa.String(), primary_key=True),
        sa.Column("device_id", sa.String(), nullable=False),
        sa.Column("day", sa.String(), nullable=False),
    )
    op.create_index("ix_photo_upload_device_id", "photo_upload", ["device_id"])
    op.create_table(
        "intake",
        sa.Column("device_id", sa.String(), primary_key=True),
        sa.Column("day", sa.String(), primary_key=True),
        sa.Column("records", sa.Integer(), nullable=False),
        sa.Column("photos", sa.Integer(), nullable=False),
        sa.Column("bytes", WIDE, nullable=False),
    )
    op.create_table(
        "trusted_browser",
        sa.Column("token_hash", sa.String(), primary_key=True),
        sa.Column("account", sa.String(), primary_key=True),
        sa.Column("made_at", sa.String(), nullable=False),
    )
    op.create_index("ix_trusted_browser_account", "trusted_browser", ["account"])
