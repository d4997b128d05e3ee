"""Checklists that came along with records and that this yard never published: the lead looks at one
and lets the records made by it count, or rejects them.

A checklist says what a fault is. Whoever holds a phone can make one that asks nothing that fails.
"""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection

from qcapp.checklist.compare import YARDS_OWN, Notice, list_warnings
from qcapp.checklist.model import Checklist
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import checklists
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.load_facts import load_facts
from qcapp.sync.quarantine import QuarantinedRecord, list_records
from qcapp.sync.quarantine_decisions import append_acceptance, append_rejection
from qcapp.sync.quarantine_reasons import UNPUBLISHED_CHECKLIST
from qcapp.sync.validation import find_reason


@dataclass(frozen=True)
class BroughtChecklist:
    """waiting: records by it about which nobody has decided; by_phone: those by device id; current:
    what this yard uses under the same id, None where it uses none.
    """

    checklist: Checklist
    current: Checklist | None
    waiting: int
    by_phone: dict[str, int]

    @property
    def warnings(self) -> list[Notice]:
        """Where it asks less than the yard's own."""
        if self.current is None:
            return []
        return list_warnings(self.current, self.checklist, YARDS_OWN)

    @property
    def critical(self) -> int:
        return sum(check.severity == "critical" for check in self.checklist.checks)


def list_brought(connection: Connection) -> list[BroughtChecklist]:
    """Those that records are waiting for, most records first."""
    waiting: dict[str, list[QuarantinedRecord]] = {}
    for record in _list_waiting(connection):
        waiting.setdefault(record.content["checklist_hash"], []).append(record)
    found = checklists.load_checklists(connection, waiting)
    current = {one.id: one for one in checklists.list_current_checklists(connection)}
    return [
        BroughtChecklist(
            found[key],
            current.get(found[key].id),
            len(records),
            dict(Counter(record.device_id for record in records)),
        )
        for key, records in sorted(waiting.items(), key=lambda item: (-len(item[1]), item[0]))
        if key in found
    ]


def get_brought(connection: Connection, checklist_hash: str) -> BroughtChecklist:
    """Raises NotFound when no record is waiting for it."""
    for one in list_brought(connection):
        if one.checklist.hash == checklist_hash:
            return one
    raise NotFound(
        phrase("no record is held back for this checklist"),
        checklist_hash[:12],
        phrase("see the list of records held back"),
    )


def accept_checklist(
    store: Store, checklist_hash: str, *, reason: str, by: str, now: datetime
) -> tuple[int, int]:
    """Lets the records that wait for it count, each by a decision of its own: (how many do now, how
    many are still held back for something else). Raises NotFound.
    """
    done, left = 0, 0
    with store.writing() as connection:
        brought = get_brought(connection, checklist_hash)
        checklists.publish_checklist(
            connection,
            brought.checklist,
            origin=checklists.ACCEPTED,
            now=format_timestamp(now),
        )
        waiting = _list_waiting(connection, checklist_hash)
        batch_codes = (record.content["batch"] for record in waiting)
        facts = load_facts(connection, [checklist_hash], batch_codes)
        for record in waiting:
            if find_reason(record.content, record.hash, facts):
                left += 1
                continue
            append_acceptance(
                connection, record, record.content, mapping={}, reason=reason, by=by, now=now
            )
            done += 1
    return done, left


def reject_checklist(
    store: Store, checklist_hash: str, *, reason: str, by: str, now: datetime
) -> int:
    """Rejects the records that wait for it, and gives how many. Raises NotFound."""
    with store.writing() as connection:
        get_brought(connection, checklist_hash)
        waiting = _list_waiting(connection, checklist_hash)
        for record in waiting:
            append_rejection(connection, record, reason, by, now)
    return len(waiting)


def _list_waiting(
    connection: Connection, checklist_hash: str | None = None
) -> list[QuarantinedRecord]:
    """Oldest first, so that a correction follows what it corrects."""
    return [
        record
        for record in reversed(list_records(connection))
        if record.decision is None
        and record.reason.code == UNPUBLISHED_CHECKLIST.code
        and checklist_hash in (None, record.content["checklist_hash"])
    ]
