"""Sums over stoves by day and batch, filled from the rows that are there."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

KEYS = (
    "batch",
    "kind",
    "name",
    "day",
    "size",
    "stage",
    "is_first_pass",
    "part",
    "step",
    "severity",
    "fault",
    "artisan",
)
COUNTS = ("inspected", "failed", "doubtful", "critical", "major", "minor")
# One row for each look that counts, with the keys that all kinds share.
LOOKED = """
    SELECT r.inspection_no AS visit, substr(i.captured_at, 1, 10) AS day, s.batch, s.size, s.stage, i.is_first_pass,
        c.check_id, c.part, c.step, c.severity, coalesce(r.artisan, '') AS artisan, coalesce(r.fault, '') AS fault,
        CASE WHEN r.is_fail THEN 1 ELSE 0 END AS failed, CASE WHEN r.verdict = 'doubtful' THEN 1 ELSE 0 END AS doubtful,
        CASE WHEN NOT r.is_fail THEN 0 WHEN c.severity = 'critical' THEN 3 WHEN c.severity = 'major' THEN 2 ELSE 1 END AS rank
    FROM result r JOIN inspection i ON i.no = r.inspection_no JOIN stove s ON s.no = i.stove_no JOIN check_key c ON c.no = r.check_no
    WHERE r.verdict IN ('pass', 'fail', 'doubtful')"""
SHARED = "day, size, stage, is_first_pass"
# By kind: (name, part, step, severity, fault, artisan); those counted once a visit are grouped by it first.
LOOKS = {
    "check": ("check_id", "part", "step", "severity", "''", "artisan"),
    "fault": ("check_id", "part", "step", "severity", "fault", "artisan"),
}
INSPECTIONS = {"step": ("step", "artisan"), "part": ("part", "''"), "severity": ("severity", "''")}


def upgrade() -> None:
    op.create_table(
        "tally",
        *(
            sa.Column(
                name, sa.Boolean() if name == "is_first_pass" else sa.String(), primary_key=True
            )
            for name in KEYS
        ),
        *(sa.Column(name, sa.Integer(), nullable=False) for name in COUNTS),
        sqlite_with_rowid=False,
    )
    op.create_index("tally_day", "tally", ["kind", "day"])
    op.create_index("tally_artisan", "tally", ["artisan", "kind", "day"])
    # Beginning with the day alone: a first pass or not divides nothing, and drew batch queries to this index.
    op.drop_index("inspection_captured", "inspection")
    op.create_index("inspection_captured", "inspection", ["captured_at"])
    stoves = "'stove', disposition, '', size, stage, true, '', '', '', '', ''"
    _fill(
        f"SELECT batch, {stoves}, count(*), sum(CASE WHEN has_first_pass_fail THEN 1 ELSE 0 END), 0, 0, 0, 0 FROM stove GROUP BY batch, disposition, size, stage"
    )
    for kind, (name, *others) in LOOKS.items():
        keys = f"batch, '{kind}', {name}, {SHARED}, {', '.join(others)}"
        only = "WHERE failed = 1" if kind == "fault" else ""
        _fill(
            f"SELECT {keys}, count(*), sum(failed), sum(doubtful), 0, 0, 0 FROM ({LOOKED}) looked {only} GROUP BY {_columns(keys)}"
        )
    for kind, (name, artisan) in INSPECTIONS.items():
        only = "WHERE failed = 1" if kind == "severity" else ""
        inspections = f"SELECT {name} AS name, {artisan} AS artisan, batch, {SHARED}, max(failed) AS failed, max(rank) AS rank FROM ({LOOKED}) looked {only} GROUP BY visit, {_columns(f'{name}, {artisan}, batch, {SHARED}')}"
        ranks = ", ".join(
            f"sum(CASE WHEN rank = {rank} THEN 1 ELSE 0 END)" if kind == "step" else "0"
            for rank in (3, 2, 1)
        )
        keys = f"batch, '{kind}', name, {SHARED}, '', '', '', '', artisan"
        _fill(
            f"SELECT {keys}, count(*), sum(failed), 0, {ranks} FROM ({inspections}) visited GROUP BY batch, name, artisan, {SHARED}"
        )


def _columns(keys: str) -> str:
    """Without the written-out texts, which nothing is grouped by."""
    return ", ".join(key for key in keys.split(", ") if not key.startswith("'"))


def _fill(rows: str) -> None:
    op.execute(sa.text(f"INSERT INTO tally ({', '.join((*KEYS, *COUNTS))}) {rows}"))


def downgrade() -> None:
    op.drop_table("tally")
    op.drop_index("inspection_captured", "inspection")
    op.create_index("inspection_captured", "inspection", ["is_first_pass", "captured_at"])
