"""People who no longer work at the yard."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("person") as person:
        person.add_column(
            sa.Column("has_left", sa.Boolean(), nullable=False, server_default=sa.false())
        )


def downgrade() -> None:
    with op.batch_alter_table("person") as person:
        person.drop_column("has_left")
