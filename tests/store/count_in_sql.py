"""The tallies counted by SQL from the rows that are there, without the program's own code."""

from sqlalchemy import Connection, text

KEYS = (
    "batch",
    "kind",
    "name",
    "day",
    "size",
    "stage",
    "checklist",
    "is_first_pass",
    "part",
    "step",
    "severity",
    "fault",
    "artisan",
)
COUNTS = ("inspected", "failed", "doubtful", "critical", "major", "minor")
# One row for each judged check that counts, with the keys that all kinds share.
COUNTED = """
    SELECT r.inspection_no, substr(i.captured_at, 1, 10) AS day, s.batch, s.size, s.stage,
        c.checklist, i.is_first_pass, c.check_id, c.part, c.step, c.severity,
        coalesce(r.artisan, '') AS artisan, coalesce(r.fault, '') AS fault,
        CASE WHEN r.is_fail THEN 1 ELSE 0 END AS failed,
        CASE WHEN r.verdict = 'doubtful' THEN 1 ELSE 0 END AS doubtful,
        CASE WHEN NOT r.is_fail THEN 0 WHEN c.severity = 'critical' THEN 3
            WHEN c.severity = 'major' THEN 2 ELSE 1 END AS rank
    FROM result r JOIN inspection i ON i.no = r.inspection_no
    JOIN stove s ON s.no = i.stove_no JOIN check_key c ON c.no = r.check_no
    WHERE r.verdict IN ('pass', 'fail', 'doubtful')"""
SHARED = "day, size, stage, checklist, is_first_pass"
# By kind: (name, part, step, severity, fault, artisan).
CHECKS = {
    "check": ("check_id", "part", "step", "severity", "''", "artisan"),
    "fault": ("check_id", "part", "step", "severity", "fault", "artisan"),
}
# These are counted once an inspection, however many of its checks belong to them.
INSPECTIONS = {"step": ("step", "artisan"), "part": ("part", "''"), "severity": ("severity", "''")}


def count_tallies_anew(connection: Connection) -> None:
    """Empties the table and fills it again."""
    connection.execute(text("DELETE FROM tally"))
    _fill(
        "SELECT batch, 'stove', disposition, '', size, stage, checklist, true, '', '',"
        " '', '', '', count(*),"
        " sum(CASE WHEN has_first_pass_fail THEN 1 ELSE 0 END), 0, 0, 0, 0"
        " FROM stove GROUP BY batch, disposition, size, stage, checklist",
        connection,
    )
    for kind, (name, *others) in CHECKS.items():
        keys = f"batch, '{kind}', {name}, {SHARED}, {', '.join(others)}"
        only = "WHERE failed = 1" if kind == "fault" else ""
        _fill(
            f"SELECT {keys}, count(*), sum(failed), sum(doubtful), 0, 0, 0"
            f" FROM ({COUNTED}) counted {only} GROUP BY {_columns(keys)}",
            connection,
        )
    for kind, (name, artisan) in INSPECTIONS.items():
        only = "WHERE failed = 1" if kind == "severity" else ""
        group = _columns(f"inspection_no, {name}, {artisan}, batch, {SHARED}")
        inspections = (
            f"SELECT {name} AS name, {artisan} AS artisan, batch, {SHARED},"
            " max(failed) AS failed, max(rank) AS rank"
            f" FROM ({COUNTED}) counted {only} GROUP BY {group}"
        )
        ranks = ", ".join(
            f"sum(CASE WHEN rank = {rank} THEN 1 ELSE 0 END)" if kind == "step" else "0"
            for rank in (3, 2, 1)
        )
        _fill(
            f"SELECT batch, '{kind}', name, {SHARED}, '', '', '', '', artisan,"
            f" count(*), sum(failed), 0, {ranks}"
            f" FROM ({inspections}) inspected GROUP BY batch, name, artisan, {SHARED}",
            connection,
        )


def _columns(keys: str) -> str:
    """Without the written-out texts, which nothing is grouped by."""
    return ", ".join(key for key in keys.split(", ") if not key.startswith("'"))


def _fill(rows: str, connection: Connection) -> None:
    connection.execute(text(f"INSERT INTO tally ({', '.join((*KEYS, *COUNTS))}) {rows}"))
