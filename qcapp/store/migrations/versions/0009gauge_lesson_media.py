"""Pictures and voice notes of lessons."""

import sqlalchemy as sa
from alembic import op

revision = "0009gauge"
down_revision = "0008card"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "lesson_media",
        sa.Column("sha256", sa.String(), primary_key=True),
        sa.Column("type", sa.String(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
    )
