"""What the card of one artisan is made from: this artisan's own stoves and faults."""

from typing import NamedTuple

from sqlalchemy import Connection, func, select

from qcapp.checklist.history import StepRef
from qcapp.inspection.report_counts import StepTally
from qcapp.store.tables import TALLY


class OwnFault(NamedTuple):
    check_id: str
    fault: str | None
    failed: int


def list_own_tallies(connection: Connection, artisan: str, since: str) -> list[StepTally]:
    """First passes by step and day, from that day on."""
    keys = (TALLY.c.checklist, TALLY.c.name, TALLY.c.day)
    names = ("inspected", "failed", "critical", "major", "minor")
    sums = (func.sum(TALLY.c[name]).label(name) for name in names)
    query = (
        select(*keys, *sums)
        .where(
            TALLY.c.kind == "step",
            TALLY.c.artisan == artisan,
            TALLY.c.is_first_pass,
            TALLY.c.day >= since,
        )
        .group_by(*keys)
        .order_by(TALLY.c.day, TALLY.c.checklist, TALLY.c.name)
    )
    return [
        StepTally(StepRef(checklist, step), artisan, "", day, *counts)
        for checklist, step, day, *counts in connection.execute(query)
    ]


def list_own_faults(
    connection: Connection, artisan: str, step: StepRef, since: str
) -> list[OwnFault]:
    """Failed checks of the step at first pass by fault, the most frequent first."""
    failed = func.sum(TALLY.c.failed)
    keys = (TALLY.c.name, TALLY.c.fault)
    query = (
        select(*keys, failed)
        .where(
            TALLY.c.kind == "fault",
            TALLY.c.checklist == step.checklist,
            TALLY.c.step == step.step,
            TALLY.c.artisan == artisan,
            TALLY.c.is_first_pass,
            TALLY.c.day >= since,
        )
        .group_by(*keys)
        .order_by(failed.desc(), *keys)
    )
    return [
        OwnFault(check, fault or None, count) for check, fault, count in connection.execute(query)
    ]
