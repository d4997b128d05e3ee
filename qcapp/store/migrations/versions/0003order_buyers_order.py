"""The buyer's order that a batch is made for: its numbers, and how many stoves were ordered; the
batch that a phone of the buyer's inspector checks again.
"""

import sqlalchemy as sa
from alembic import op

revision = "0003order"
down_revision = "0003lead"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for name in ("order_no", "contract_no"):
        op.add_column("batch", sa.Column(name, sa.String(), nullable=False, server_default=""))
    op.add_column("batch", sa.Column("ordered", sa.Integer(), nullable=True))
    for table in ("device", "join_code"):
        op.add_column(table, sa.Column("buyer_batch", sa.String(), nullable=True))
