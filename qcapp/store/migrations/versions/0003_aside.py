"""Photos that records name; what a phone had left to send; exchanged and withdrawn tokens."""

import re

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None
WIDE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

PHOTO_NAME = re.compile(r'"photos":\[([^\]]*)\]')


def upgrade() -> None:
    op.create_table(
        "photo_name",
        sa.Column("sha256", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("sha256"),
    )
    _fill_photo_names()
    with op.batch_alter_table("device") as device:
        device.add_column(sa.Column("next_token_hash", sa.String(), nullable=True))
        device.add_column(sa.Column("revoked_at", sa.String(), nullable=True))
        device.add_column(sa.Column("unsent", WIDE, nullable=False, server_default="0"))
        device.create_index("ix_device_next_token_hash", ["next_token_hash"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("device") as device:
        device.drop_index("ix_device_next_token_hash")
        for column in ("next_token_hash", "revoked_at", "unsent"):
            device.drop_column(column)
    op.drop_table("photo_name")


def _fill_photo_names() -> None:
    connection = op.get_bind()
    rows = connection.execute(
        sa.text('SELECT raw FROM log WHERE raw LIKE \'%"photos":["%\'')
    ).scalars()
    names = {
        name
        for raw in rows
        for found in PHOTO_NAME.findall(raw)
        for name in re.findall(r'"([0-9a-f]{64})"', found)
    }
    if names:
        table = sa.table("photo_name", sa.column("sha256"))
        connection.execute(sa.insert(table), [{"sha256": name} for name in sorted(names)])
