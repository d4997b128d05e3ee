"""Drawings and pictures by their hash, with the revision that they show; the Merkle tree over the
log, built for what it holds; checkpoints that a programme keeps of its yards.

The drawings themselves are put in at the start, from the checklists' folder.
"""

import sqlalchemy as sa
from alembic import op

from qcapp.store.log.tree import build_tree

revision = "0006drawings"
down_revision = "0005draft"
branch_labels = None
depends_on = None
WIDE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "drawing",
        sa.Column("sha256", sa.String(), primary_key=True),
        sa.Column("svg", sa.Text(), nullable=False),
    )
    op.create_table(
        "revision_drawing",
        sa.Column("revision_hash", sa.String(), primary_key=True),
        sa.Column("name", sa.String(), primary_key=True),
        sa.Column("sha256", sa.String(), sa.ForeignKey("drawing.sha256")),
        sa.Column("refused", sa.Text()),
    )
    op.create_index("ix_revision_drawing_name", "revision_drawing", ["name"])
    op.create_table(
        "tree_node",
        sa.Column("level", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("place", WIDE, primary_key=True, autoincrement=False),
        sa.Column("hash", sa.String(), nullable=False),
    )
    op.create_table(
        "seen_checkpoint",
        sa.Column("address", sa.String(), primary_key=True),
        sa.Column("size", WIDE, primary_key=True, autoincrement=False),
        sa.Column("root", sa.String(), primary_key=True),
        sa.Column("seen_at", sa.String(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
    )
    build_tree(op.get_bind())
