"""First shape of the database."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None
# What a phone says of its numbers and clock has up to 53 bits; SQLite's own integers have 64 always.
WIDE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    _create_batch()
    _create_check_key()
    _create_device()
    _create_join_code()
    _create_log()
    _create_meta()
    _create_person()
    _create_photo()
    _create_revision()
    _create_stove()
    _create_inspection()
    _create_result()


def downgrade() -> None:
    for table in (
        "result",
        "inspection",
        "stove",
        "revision",
        "photo",
        "person",
        "meta",
        "log",
        "join_code",
        "device",
        "check_key",
        "batch",
    ):
        op.drop_table(table)


def _create_batch() -> None:
    op.create_table(
        "batch",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("size", sa.String(), nullable=False),
        sa.Column("planned", sa.Integer(), nullable=False),
        sa.Column("attributes", sa.String(), nullable=False),
        sa.Column("crew", sa.String(), nullable=False),
        sa.Column("checklist_ids", sa.String(), nullable=False),
        sa.Column("serial_prefix", sa.String(), nullable=False),
        sa.Column("opened_on", sa.String(), nullable=True),
        sa.Column("closed_at", sa.String(), nullable=True),
        sa.PrimaryKeyConstraint("code"),
    )


def _create_check_key() -> None:
    op.create_table(
        "check_key",
        sa.Column("no", sa.Integer(), nullable=False),
        sa.Column("checklist_hash", sa.String(), nullable=False),
        sa.Column("check_id", sa.String(), nullable=False),
        sa.Column("part", sa.String(), nullable=False),
        sa.Column("step", sa.String(), nullable=False),
        sa.Column("severity", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("no"),
        sa.UniqueConstraint("checklist_hash", "check_id"),
    )


def _create_device() -> None:
    op.create_table(
        "device",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("joined_at", sa.String(), nullable=False),
        sa.Column("last_seen_at", sa.String(), nullable=True),
        sa.Column("created", WIDE, nullable=False),
        sa.Column("acked", WIDE, nullable=False),
        sa.Column("app_build", sa.String(), nullable=True),
        sa.Column("clock_offset_ms", WIDE, nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("ix_device_token_hash", "device", ["token_hash"], unique=False)


def _create_join_code() -> None:
    op.create_table(
        "join_code",
        sa.Column("code_hash", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("expires_at", sa.String(), nullable=False),
        sa.Column("used_at", sa.String(), nullable=True),
        sa.PrimaryKeyConstraint("code_hash"),
    )


def _create_log() -> None:
    op.create_table(
        "log",
        sa.Column("seq", WIDE, autoincrement=False, nullable=False),
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("hash", sa.String(), nullable=False),
        sa.Column("chain", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=True),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("device_id", sa.String(), nullable=False),
        sa.Column("dev_seq", WIDE, nullable=False),
        sa.Column("stove_key", sa.String(), nullable=True),
        sa.Column("batch", sa.String(), nullable=True),
        sa.Column("received_at", sa.String(), nullable=False),
        sa.Column("relayed_by", sa.String(), nullable=True),
        sa.Column("clock_offset_ms", WIDE, nullable=True),
        sa.Column("raw", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("seq"),
        sa.UniqueConstraint("id", "hash"),
    )
    op.create_index("log_device", "log", ["device_id", "dev_seq"], unique=False)
    op.create_index("log_stove_key", "log", ["stove_key", "seq"], unique=False)


def _create_meta() -> None:
    op.create_table(
        "meta",
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("value", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("key"),
    )


def _create_person() -> None:
    op.create_table(
        "person",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("trades", sa.String(), nullable=False),
        sa.Column("started_on", sa.String(), nullable=True),
        sa.Column("is_inspector", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("code"),
    )


def _create_photo() -> None:
    op.create_table(
        "photo",
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("is_whole", sa.Boolean(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("sha256"),
    )


def _create_revision() -> None:
    op.create_table(
        "revision",
        sa.Column("hash", sa.String(), nullable=False),
        sa.Column("checklist_id", sa.String(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("stage", sa.String(), nullable=False),
        sa.Column("origin", sa.String(), nullable=False),
        sa.Column("published_at", sa.String(), nullable=False),
        sa.Column("compiled", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("hash"),
    )
    op.create_index("ix_revision_checklist_id", "revision", ["checklist_id"], unique=False)


def _create_stove() -> None:
    op.create_table(
        "stove",
        sa.Column("no", sa.Integer(), nullable=False),
        sa.Column("stove_key", sa.String(), nullable=False),
        sa.Column("stage", sa.String(), nullable=False),
        sa.Column("serial", sa.String(), nullable=False),
        sa.Column("batch", sa.String(), nullable=False),
        sa.Column("size", sa.String(), nullable=False),
        sa.Column("disposition", sa.String(), nullable=False),
        sa.Column("inspections", sa.Integer(), nullable=False),
        sa.Column("has_first_pass_fail", sa.Boolean(), nullable=False),
        sa.Column("is_corrected_twice", sa.Boolean(), nullable=False),
        sa.Column("last_at", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("no"),
        sa.UniqueConstraint("stove_key"),
    )
    op.create_index("stove_batch", "stove", ["batch", "stage"], unique=False)


def _create_inspection() -> None:
    op.create_table(
        "inspection",
        sa.Column("no", sa.Integer(), nullable=False),
        sa.Column("stove_no", sa.Integer(), nullable=False),
        sa.Column("event_id", sa.String(), nullable=False),
        sa.Column("is_first_pass", sa.Boolean(), nullable=False),
        sa.Column("inspector", sa.String(), nullable=False),
        sa.Column("device_id", sa.String(), nullable=False),
        sa.Column("captured_at", sa.String(), nullable=False),
        sa.Column("disposition", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=True),
        sa.Column("differences", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["stove_no"],
            ["stove.no"],
        ),
        sa.PrimaryKeyConstraint("no"),
        sa.UniqueConstraint("event_id"),
    )
    op.create_index("ix_inspection_stove_no", "inspection", ["stove_no"], unique=False)


def _create_result() -> None:
    op.create_table(
        "result",
        sa.Column("inspection_no", sa.Integer(), nullable=False),
        sa.Column("check_no", sa.Integer(), nullable=False),
        sa.Column("artisan", sa.String(), nullable=True),
        sa.Column("verdict", sa.String(), nullable=False),
        sa.Column("is_fail", sa.Boolean(), nullable=False),
        sa.Column("fault", sa.String(), nullable=True),
        sa.Column("value", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(
            ["check_no"],
            ["check_key.no"],
        ),
        sa.ForeignKeyConstraint(
            ["inspection_no"],
            ["inspection.no"],
        ),
        sa.PrimaryKeyConstraint("inspection_no", "check_no"),
        sqlite_with_rowid=False,
    )
