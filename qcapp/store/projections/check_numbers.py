"""The small numbers that stand for checks in the rows of results."""

from collections.abc import Iterable, Mapping

from sqlalchemy import Connection, bindparam, insert, select

from qcapp.checklist.model import Checklist
from qcapp.store.tables import CHECK_KEY

# {checklist hash: {check id: number}}
CheckNumbers = dict[str, dict[str, int]]
# Made once: every push asks it.
_NUMBERS = select(CHECK_KEY.c.checklist_hash, CHECK_KEY.c.check_id, CHECK_KEY.c.no).where(
    CHECK_KEY.c.checklist_hash.in_(bindparam("hashes", expanding=True))
)


def ensure_check_nos(connection: Connection, checklists: Mapping[str, Checklist]) -> CheckNumbers:
    """Of every check of these checklists (by hash), made where there are none yet."""
    known = _list_check_nos(connection, checklists)
    missing = [
        {
            "checklist": checklist.id,
            "checklist_hash": key,
            "check_id": check.id,
            "part": check.part,
            "step": check.step,
            "severity": check.severity,
        }
        for key, checklist in sorted(checklists.items())
        if key not in known
        for check in checklist.checks
    ]
    if missing:
        connection.execute(insert(CHECK_KEY), missing)
        known = _list_check_nos(connection, checklists)
    return known


def _list_check_nos(connection: Connection, hashes: Iterable[str]) -> CheckNumbers:
    numbers: CheckNumbers = {}
    for key, check_id, no in connection.execute(_NUMBERS, {"hashes": list(hashes)}):
        numbers.setdefault(key, {})[check_id] = no
    return numbers
