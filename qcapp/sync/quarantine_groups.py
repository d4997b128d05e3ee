"""Records held back that came from one phone for one reason: the lead rejects them all at once, as
when a phone was lost or sent junk. Each gets a decision of its own; nothing is deleted.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from qcapp.store.engine import Store
from qcapp.sync.quarantine import QuarantinedRecord, list_records
from qcapp.sync.quarantine_decisions import append_rejection

# Fewer are decided one by one, each being looked at.
MIN_GROUP = 10


@dataclass(frozen=True)
class HeldGroup:
    """sender: the phone that handed them in, or IMPORTED; code: of the reason; last: the newest
    one's number.
    """

    sender: str
    code: str
    example: QuarantinedRecord
    count: int

    @property
    def last(self) -> int:
        return self.example.seq


def list_groups(waiting: Iterable[QuarantinedRecord]) -> list[HeldGroup]:
    """The largest first. waiting: newest first."""
    found: dict[tuple[str, str], list[QuarantinedRecord]] = defaultdict(list)
    for record in waiting:
        found[record.relayed_by or "", record.reason.code].append(record)
    groups = [
        HeldGroup(sender, code, records[0], len(records))
        for (sender, code), records in found.items()
        if len(records) >= MIN_GROUP
    ]
    return sorted(groups, key=lambda group: -group.count)


def reject_group(
    store: Store, sender: str, code: str, *, last: int, reason: str, by: str, now: datetime
) -> int:
    """Rejects those that the person saw (up to number `last`), and gives how many."""
    with store.writing() as connection:
        group = [
            record
            for record in list_records(connection)
            if record.decision is None
            and record.seq <= last
            and (record.relayed_by or "", record.reason.code) == (sender, code)
        ]
        for record in group:
            append_rejection(connection, record, reason, by, now)
    return len(group)
