"""Personal links to an artisan's card."""

import sqlalchemy as sa
from alembic import op

revision = "0008card"
down_revision = "0007key"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "card_link",
        sa.Column("no", sa.Integer(), primary_key=True),
        sa.Column("token_hash", sa.String(), nullable=False, unique=True),
        sa.Column("artisan", sa.String(), nullable=False, index=True),
        sa.Column("language", sa.String(), nullable=True),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.Column("expires_at", sa.String(), nullable=False),
        sa.Column("revoked_at", sa.String(), nullable=True),
    )
