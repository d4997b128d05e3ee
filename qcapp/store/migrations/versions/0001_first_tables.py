"""The first tables: records, what the yard keeps up to date, projections."""

from collections.abc import Iterator

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None
# What a phone says of its numbers and clock has up to 53 bits; SQLite's integers always have 64.
WIDE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
# Few records are out of the figures: the index holds these alone.
QUARANTINED = sa.text("state != 'counted'")


def upgrade() -> None:
    _create_records()
    _create_yard()
    _create_devices()
    _create_accounts()
    _create_summary_links()
    _create_stoves()
    _create_tally()
    _create_summary()


def downgrade() -> None:
    raise NotImplementedError("nothing came before; restore a backup")


def _create_records() -> None:
    op.create_table("meta", _key("key"), *_texts("value"))
    op.create_table(
        "log",
        sa.Column("seq", WIDE, primary_key=True, autoincrement=False),
        *_texts("id", "hash", "chain", "state"),
        *_optional_texts("reason"),
        *_texts("kind", "device_id"),
        sa.Column("dev_seq", WIDE, nullable=False),
        *_optional_texts("stove_key", "batch"),
        *_texts("received_at"),
        *_optional_texts("relayed_by"),
        sa.Column("clock_offset_ms", WIDE),
        sa.Column("raw", sa.Text(), nullable=False),
        sa.UniqueConstraint("id", "hash"),
    )
    op.create_index("log_stove_key", "log", ["stove_key", "seq"])
    op.create_index("log_device", "log", ["device_id", "dev_seq"])
    op.create_index("log_kind", "log", ["kind", "seq"])
    op.create_index(
        "log_quarantined",
        "log",
        ["batch"],
        sqlite_where=QUARANTINED,
        postgresql_where=QUARANTINED,
    )
    op.create_table(
        "photo",
        _key("sha256"),
        *_counts("size"),
        *_flags("is_whole"),
        sa.Column("content", sa.LargeBinary(), nullable=False),
    )
    op.create_table("photo_name", _key("sha256"))


def _create_yard() -> None:
    op.create_table(
        "person",
        _key("code"),
        *_texts("name", "trades"),
        *_optional_texts("started_on"),
        *_flags("is_inspector", "has_left"),
    )
    op.create_table(
        "batch",
        _key("code"),
        *_texts("title", "size"),
        *_counts("planned"),
        *_texts("attributes", "crew", "checklist_ids", "serial_prefix"),
        *_optional_texts("opened_on", "closed_at"),
    )
    op.create_table(
        "revision",
        _key("hash"),
        *_texts("checklist_id"),
        *_counts("revision"),
        *_texts("stage", "origin", "published_at"),
        sa.Column("compiled", sa.Text(), nullable=False),
    )
    _index("revision", "checklist_id")


def _create_devices() -> None:
    op.create_table(
        "device",
        _key("id"),
        *_texts("name", "token_hash"),
        *_optional_texts("next_token_hash"),
        *_texts("joined_at"),
        *_optional_texts("last_seen_at"),
        *(sa.Column(name, WIDE, nullable=False) for name in ("created", "acked", "unsent")),
        *_optional_texts("app_build"),
        sa.Column("clock_offset_ms", WIDE),
        *_optional_texts("revoked_at"),
    )
    _index("device", "token_hash")
    _index("device", "next_token_hash")
    op.create_table(
        "join_code",
        _key("code_hash"),
        *_texts("name", "expires_at"),
        *_optional_texts("used_at"),
    )


def _create_accounts() -> None:
    op.create_table(
        "account",
        _key("code"),
        *_texts("name", "role", "password_hash", "made_at"),
        *_optional_texts("disabled_at"),
    )
    op.create_table(
        "session",
        _number(),
        *_texts("token_hash", "account", "made_at", "last_used_at", "expires_at"),
        *_optional_texts("revoked_at"),
        sa.UniqueConstraint("token_hash"),
    )
    _index("session", "account")
    op.create_table(
        "invite",
        _key("token_hash"),
        *_optional_texts("code"),
        *_texts("name", "role", "made_by", "expires_at"),
        *_optional_texts("used_at"),
    )
    op.create_table("attempt", _key("key"), *_counts("count"), *_texts("since"))


def _create_summary_links() -> None:
    op.create_table(
        "summary_link",
        _number(),
        *_texts("token_hash", "batch", "label", "made_by", "made_at", "expires_at"),
        *_optional_texts("revoked_at"),
        sa.UniqueConstraint("token_hash"),
    )
    _index("summary_link", "batch")
    op.create_table(
        "link_opening",
        _number(),
        sa.Column("link_no", sa.Integer(), sa.ForeignKey("summary_link.no"), nullable=False),
        *_texts("opened_at", "what"),
    )
    _index("link_opening", "link_no")


def _create_stoves() -> None:
    op.create_table(
        "check_key",
        _number(),
        *_texts("checklist", "checklist_hash", "check_id", "part", "step", "severity"),
        sa.UniqueConstraint("checklist_hash", "check_id"),
    )
    op.create_table(
        "stove",
        _number(),
        *_texts("stove_key", "stage", "checklist", "serial", "batch", "size", "disposition"),
        *_counts("inspections"),
        *_flags("has_first_pass_fail", "has_first_pass_gap", "is_corrected_twice"),
        *_texts("last_at"),
        sa.UniqueConstraint("stove_key"),
    )
    op.create_index("stove_batch", "stove", ["batch", "stage"])
    op.create_table(
        "made_from",
        *(_key(name) for name in ("stove_key", "stage")),
        *_texts("from_key", "from_serial"),
        sqlite_with_rowid=False,
    )
    _index("made_from", "from_key")
    op.create_table(
        "inspection",
        _number(),
        sa.Column("stove_no", sa.Integer(), sa.ForeignKey("stove.no"), nullable=False),
        *_texts("event_id"),
        *_flags("is_first_pass"),
        *_texts("inspector", "device_id", "captured_at", "disposition"),
        *_optional_texts("reason"),
        *_texts("differences"),
        sa.UniqueConstraint("event_id"),
    )
    _index("inspection", "stove_no")
    op.create_index("inspection_captured", "inspection", ["captured_at"])
    op.create_table(
        "result",
        sa.Column("inspection_no", sa.Integer(), sa.ForeignKey("inspection.no"), primary_key=True),
        sa.Column("check_no", sa.Integer(), sa.ForeignKey("check_key.no"), primary_key=True),
        *_optional_texts("artisan"),
        *_texts("verdict"),
        *_flags("is_fail"),
        *_optional_texts("fault"),
        sa.Column("value", sa.Float()),
        sqlite_with_rowid=False,
    )


def _create_tally() -> None:
    op.create_table(
        "tally",
        *(_key(name) for name in ("batch", "kind", "name", "day", "size", "stage", "checklist")),
        sa.Column("is_first_pass", sa.Boolean(), primary_key=True),
        *(_key(name) for name in ("part", "step", "severity", "fault", "artisan")),
        *_counts("inspected", "failed", "doubtful", "critical", "major", "minor"),
        sqlite_with_rowid=False,
    )
    op.create_index("tally_day", "tally", ["kind", "day"])
    op.create_index("tally_artisan", "tally", ["artisan", "kind", "day"])


def _create_summary() -> None:
    op.create_table(
        "summary",
        _key("batch"),
        sa.Column("number", sa.Integer(), primary_key=True),
        *_texts("sha256", "issued_at"),
        *_counts("seq"),
        *_texts("design"),
        *_optional_texts("result"),
        *_flags("may_reduce", "is_restart"),
        sa.Column("proof", sa.Text(), nullable=False),
    )
    _index("summary", "sha256")
    op.create_index("summary_design", "summary", ["design", "seq"])


def _key(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String(), primary_key=True)


def _number() -> sa.Column[int]:
    """A row number that the database gives."""
    return sa.Column("no", sa.Integer(), primary_key=True)


def _texts(*names: str) -> Iterator[sa.Column[str]]:
    return (sa.Column(name, sa.String(), nullable=False) for name in names)


def _optional_texts(*names: str) -> Iterator[sa.Column[str]]:
    return (sa.Column(name, sa.String()) for name in names)


def _counts(*names: str) -> Iterator[sa.Column[int]]:
    return (sa.Column(name, sa.Integer(), nullable=False) for name in names)


def _flags(*names: str) -> Iterator[sa.Column[bool]]:
    return (sa.Column(name, sa.Boolean(), nullable=False) for name in names)


def _index(table: str, column: str) -> None:
    op.create_index(f"ix_{table}_{column}", table, [column])
