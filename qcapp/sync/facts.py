"""What an event is checked against before it counts."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.inspection.judged import JudgedInspections


@dataclass(frozen=True)
class Facts:
    """What the yard knows: codes of people, batches by code, checklists by hash, ids of studies,
    gauges by the ids of the records that describe them.

    inspectors: those of the people who inspect;
    unpublished: hashes of those checklists that a phone brought along and nobody here accepted;
    is_from_server: the server itself makes the event, no phone sent it. buyer_batch: it comes from
    a phone of the buyer's inspector, who checks this batch again and may do nothing else. judged:
    what was judged while records were held against these facts.
    """

    people: frozenset[str]
    batches: Mapping[str, Mapping[str, Any]]
    checklists: Mapping[str, Checklist]
    is_from_server: bool = False
    studies: frozenset[str] = frozenset()
    gauges: Mapping[str, str] = field(default_factory=dict)
    unpublished: frozenset[str] = frozenset()
    inspectors: frozenset[str] = frozenset()
    buyer_batch: str | None = None
    judged: JudgedInspections = field(default_factory=JudgedInspections)
