"""Batches of one checklist and size in the order opened, each in a few counts."""

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, func, select, tuple_

from qcapp.checklist.model import Checklist
from qcapp.inspection.batch_facts import BatchCount
from qcapp.store import log
from qcapp.store.queries.batch_figures import list_stove_states
from qcapp.store.registry.batches import list_batches
from qcapp.store.tables import BATCH, TALLY

# More than this is history: the making has changed.
MAX_BATCHES = 40
NEEDED = ("code", "size", "opened_on", "closed_at", "checklist_ids")


def list_newest_counts(connection: Connection) -> list[BatchCount]:
    """Of the newest batches by each checklist, oldest first; those inspected by sample left out."""
    return _count(connection, list_batches(connection, newest=MAX_BATCHES)[::-1])


def list_earlier_counts(
    connection: Connection, batch: Mapping[str, Any], checklist: Checklist
) -> list[BatchCount]:
    """As BatchFacts.earlier, at most MAX_BATCHES of them."""
    if batch["opened_on"] is None:
        return []
    place = (batch["opened_on"], batch["code"])
    query = (
        select(*(BATCH.c[name] for name in NEEDED))
        .where(BATCH.c.size == batch["size"])
        .where(tuple_(BATCH.c.opened_on, BATCH.c.code) < place)
        .order_by(BATCH.c.opened_on.desc(), BATCH.c.code.desc())
        .limit(MAX_BATCHES)
    )
    found = [
        row._asdict()
        for row in connection.execute(query)
        if checklist.id in json.loads(row.checklist_ids)
    ]
    counts = _count(connection, found[::-1])
    return [one for one in counts if one.checklist == checklist.id]


def _count(connection: Connection, found: Sequence[Mapping[str, Any]]) -> list[BatchCount]:
    codes = [batch["code"] for batch in found]
    sampled, faults = list_sampled(connection, codes), _count_faults(connection, codes)
    stoves: dict[tuple[str, str], tuple[int, int]] = {}
    for row in list_stove_states(connection, *codes):
        if (row.batch, row.stage) not in sampled:
            inspected, bad = stoves.get((row.batch, row.checklist), (0, 0))
            stoves[row.batch, row.checklist] = (inspected + row.stoves, bad + row.failed)
    counts = []
    for batch in found:
        for (code, checklist), (inspected, bad) in sorted(stoves.items()):
            if code == batch["code"]:
                counts.append(
                    BatchCount(
                        code,
                        batch["opened_on"],
                        batch["closed_at"] is not None,
                        checklist,
                        batch["size"],
                        inspected,
                        inspected - bad,
                        faults.get((code, checklist), 0),
                    )
                )
    return counts


def list_sampled(connection: Connection, codes: Iterable[str]) -> set[tuple[str, str]]:
    """(batch, stage) whose newest plan is a sample: most of their stoves had a short check."""
    newest: dict[tuple[str, str], str] = {}
    for event in log.list_plans(connection, list(codes)):
        body = event["body"]
        newest[event["batch"], body["checklist_stage"]] = body["inspect"]
    return {place for place, inspect in newest.items() if inspect == "sample"}


def _count_faults(connection: Connection, codes: Sequence[str]) -> dict[tuple[str, str], int]:
    """Of kind fault, which has rows of failed checks alone: those of all checks are many more."""
    query = (
        select(TALLY.c.batch, TALLY.c.checklist, func.sum(TALLY.c.failed))
        .where(TALLY.c.kind == "fault", TALLY.c.batch.in_(codes), TALLY.c.is_first_pass)
        .group_by(TALLY.c.batch, TALLY.c.checklist)
    )
    return {(batch, checklist): failed for batch, checklist, failed in connection.execute(query)}
