"""Counts of one batch for its page, and its rows for the tables."""

from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, func, select

from qcapp.inspection.batch_facts import StovePass
from qcapp.inspection.report_counts import CheckTally, FaultTally
from qcapp.store.projections.tallies import join_results
from qcapp.store.queries import batch_stoves
from qcapp.store.tables import CHECK_KEY, INSPECTION, MADE_FROM, RESULT, REVISION, STOVE, TALLY


class StoveState(NamedTuple):
    """How many stoves of a batch have come to this; failed: of these, at first pass."""

    batch: str
    stage: str
    checklist: str
    disposition: str
    stoves: int
    failed: int


class StoveRow(NamedTuple):
    """A stove as it stands; inspector: of its last inspection; reason: of that, or of the lead's
    decision since. made_from: the pieces it is made from (stage/serial as typed), with blanks
    between.
    """

    stove_key: str
    batch: str
    stage: str
    serial: str
    size: str
    disposition: str
    inspections: int
    has_first_pass_fail: bool
    is_corrected_twice: bool
    last_at: str
    inspector: str
    reason: str | None
    made_from: str


class UnreleasedStove(NamedTuple):
    """A stove that was not simply released; reason: as in StoveRow."""

    stove_key: str
    stage: str
    serial: str
    disposition: str
    inspections: int
    reason: str | None


class StoveMark(NamedTuple):
    """As little of a stove as a picture of the batch needs; decided_by: who decided about it while
    it was held, or None.
    """

    serial: str
    disposition: str
    inspections: int
    decided_by: str | None


class ReadingRow(NamedTuple):
    """A judged check of this revision of the checklist; value is in the check's unit. is_fail:
    whether it counts as failed, which a doubtful one does under a guarded rule.
    """

    batch: str
    stage: str
    serial: str
    captured_at: str
    is_first_pass: bool
    checklist: str
    revision: int
    check_id: str
    part: str
    severity: str
    artisan: str | None
    verdict: str
    is_fail: bool
    fault: str | None
    value: float | None


def list_stove_states(connection: Connection, *codes: str) -> list[StoveState]:
    """Of these batches: one for each stage, checklist and disposition that occurs."""
    keys = (TALLY.c.batch, TALLY.c.stage, TALLY.c.checklist, TALLY.c.name)
    query = (
        select(*keys, func.sum(TALLY.c.inspected), func.sum(TALLY.c.failed))
        .where(TALLY.c.kind == "stove", TALLY.c.batch.in_(codes))
        .group_by(*keys)
    )
    return [StoveState(*row) for row in connection.execute(query)]


def _first_passes(kind: str, batch: str, checklist: str) -> ColumnElement[bool]:
    return (
        (TALLY.c.kind == kind)
        & (TALLY.c.batch == batch)
        & (TALLY.c.checklist == checklist)
        & TALLY.c.is_first_pass
    )


def list_check_tallies(connection: Connection, batch: str, checklist: str) -> list[CheckTally]:
    keys = (TALLY.c.name, TALLY.c.part, TALLY.c.step, TALLY.c.severity)
    query = select(
        *keys, func.sum(TALLY.c.inspected), func.sum(TALLY.c.failed), func.sum(TALLY.c.doubtful)
    )
    query = query.where(_first_passes("check", batch, checklist)).group_by(*keys).order_by(*keys)
    return [CheckTally(*row) for row in connection.execute(query)]


def list_fault_tallies(connection: Connection, batch: str, checklist: str) -> list[FaultTally]:
    keys = (TALLY.c.name, TALLY.c.part, TALLY.c.step, TALLY.c.severity)
    query = (
        select(*keys, func.nullif(TALLY.c.fault, ""), func.sum(TALLY.c.failed))
        .where(_first_passes("fault", batch, checklist))
        .group_by(*keys, TALLY.c.fault)
        .order_by(*keys, TALLY.c.fault)
    )
    return [FaultTally(*row) for row in connection.execute(query)]


def count_released_later(connection: Connection, batch: str, checklist: str) -> int:
    """Stoves released, but not at the first inspection."""
    here = (STOVE.c.batch == batch) & (STOVE.c.checklist == checklist)
    return batch_stoves.count_released_later(connection, here)


def list_first_passes(connection: Connection, batch: str, checklist: str) -> tuple[StovePass, ...]:
    here = (STOVE.c.batch == batch) & (STOVE.c.checklist == checklist)
    return batch_stoves.list_first_passes(connection, here)


def list_stage_passes(connection: Connection, batch: str, stage: str) -> tuple[StovePass, ...]:
    """By whatever checklist of the stage."""
    return batch_stoves.list_first_passes(
        connection, (STOVE.c.batch == batch) & (STOVE.c.stage == stage)
    )


def list_stoves(connection: Connection, batch: str) -> list[StoveRow]:
    """Of a batch, by stage and serial."""
    columns = (STOVE.c[name] for name in StoveRow._fields[:-3])
    pieces = _list_pieces(connection, batch)
    query = (
        select(*columns, INSPECTION.c.inspector, batch_stoves.REASON)
        .join(INSPECTION, INSPECTION.c.stove_no == STOVE.c.no)
        .where(STOVE.c.batch == batch, INSPECTION.c.captured_at == STOVE.c.last_at)
        .order_by(STOVE.c.stage, STOVE.c.serial, INSPECTION.c.no)
    )
    newest = {
        row.stove_key: StoveRow._make((*row, " ".join(pieces.get(row.stove_key, ()))))
        for row in connection.execute(query)
    }
    return list(newest.values())


def list_unreleased(connection: Connection, batch: str, stage: str) -> list[UnreleasedStove]:
    """By serial."""
    columns = (STOVE.c[name] for name in UnreleasedStove._fields[:-1])
    query = (
        select(*columns, batch_stoves.REASON)
        .join(INSPECTION, INSPECTION.c.stove_no == STOVE.c.no)
        .where(STOVE.c.batch == batch, STOVE.c.stage == stage, STOVE.c.disposition != "release")
        .where(INSPECTION.c.captured_at == STOVE.c.last_at)
        .order_by(STOVE.c.serial, INSPECTION.c.no)
    )
    newest = {row.stove_key: UnreleasedStove._make(row) for row in connection.execute(query)}
    return list(newest.values())


def list_stove_marks(connection: Connection, batch: str, stage: str) -> list[StoveMark]:
    """Every stove of a batch at a stage."""
    columns = (STOVE.c[name] for name in StoveMark._fields)
    query = select(*columns).where(STOVE.c.batch == batch, STOVE.c.stage == stage)
    return [StoveMark._make(row) for row in connection.execute(query)]


def _list_pieces(connection: Connection, batch: str) -> dict[str, list[str]]:
    """By stove, without its own earlier stages, which have its serial."""
    query = (
        select(
            MADE_FROM.c.stove_key,
            MADE_FROM.c.from_key,
            MADE_FROM.c.stage + "/" + MADE_FROM.c.from_serial,
        )
        .join(STOVE, STOVE.c.stove_key == MADE_FROM.c.stove_key)
        .where(STOVE.c.batch == batch)
        .order_by(MADE_FROM.c.stove_key, MADE_FROM.c.stage)
    )
    found: dict[str, list[str]] = {}
    for key, piece, name in connection.execute(query):
        if key.partition("/")[2] != piece.partition("/")[2]:
            found.setdefault(key, []).append(name)
    return found


def list_readings(connection: Connection, batch: str) -> list[ReadingRow]:
    """Every judged check of a batch, by stage, serial and inspection."""
    query = (
        select(
            STOVE.c.batch,
            STOVE.c.stage,
            STOVE.c.serial,
            INSPECTION.c.captured_at,
            INSPECTION.c.is_first_pass,
            CHECK_KEY.c.checklist,
            REVISION.c.revision,
            CHECK_KEY.c.check_id,
            CHECK_KEY.c.part,
            CHECK_KEY.c.severity,
            RESULT.c.artisan,
            RESULT.c.verdict,
            RESULT.c.is_fail,
            RESULT.c.fault,
            RESULT.c.value,
        )
        .select_from(join_results().join(REVISION, REVISION.c.hash == CHECK_KEY.c.checklist_hash))
        .where(STOVE.c.batch == batch)
        .order_by(STOVE.c.stage, STOVE.c.serial, INSPECTION.c.no, CHECK_KEY.c.no)
    )
    return [ReadingRow._make(row) for row in connection.execute(query)]
