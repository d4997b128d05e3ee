"""Keeps the tallies: a stove's counts are taken off before its rows change and added after."""

import itertools
from collections.abc import Collection, Mapping

from sqlalchemy import Connection, FromClause, Integer, delete, func, select

from qcapp.inspection.tallies import CountedCheck, CountedInspection, Counts, TallyKey, tally
from qcapp.store.insert_rows import insert_tuples
from qcapp.store.projections.build_rows import StoveRows
from qcapp.store.tables import CHECK_KEY, INSPECTION, RESULT, STOVE, TALLY

_SUMS = ", ".join(f"{name} = tally.{name} + excluded.{name}" for name in Counts._fields)
# Of the program's field names alone.
_ADD = f"ON CONFLICT ({', '.join(TallyKey._fields)}) DO UPDATE SET {_SUMS}"


def join_results() -> FromClause:
    """Results with their inspection, stove and check: what every count is made from."""
    return (
        RESULT.join(INSPECTION, RESULT.c.inspection_no == INSPECTION.c.no)
        .join(STOVE, INSPECTION.c.stove_no == STOVE.c.no)
        .join(CHECK_KEY, RESULT.c.check_no == CHECK_KEY.c.no)
    )


def count_stoves(connection: Connection, stove_keys: Collection[str]) -> dict[TallyKey, Counts]:
    """What these stoves' rows add to the tallies as they stand."""
    query = (
        select(
            INSPECTION.c.no,
            func.substr(INSPECTION.c.captured_at, 1, 10),
            STOVE.c.batch,
            STOVE.c.size,
            STOVE.c.stage,
            CHECK_KEY.c.checklist,
            INSPECTION.c.is_first_pass,
            CHECK_KEY.c.check_id,
            CHECK_KEY.c.part,
            CHECK_KEY.c.step,
            CHECK_KEY.c.severity,
            RESULT.c.artisan,
            RESULT.c.verdict,
            RESULT.c.is_fail,
            RESULT.c.fault,
        )
        .select_from(join_results())
        .where(STOVE.c.stove_key.in_(stove_keys))
    )
    rows = connection.execute(query.order_by(INSPECTION.c.no)).all()
    inspections = (
        CountedInspection._make(
            (*inspection[1:], tuple(CountedCheck._make(row[7:]) for row in own))
        )
        for inspection, own in itertools.groupby(rows, key=lambda row: tuple(row[:7]))
    )
    return tally(inspections) | _count_states(connection, stove_keys)


def _count_states(connection: Connection, stove_keys: Collection[str]) -> dict[TallyKey, Counts]:
    keys = (STOVE.c.batch, STOVE.c.size, STOVE.c.stage, STOVE.c.checklist, STOVE.c.disposition)
    sums = (func.count(), func.sum(STOVE.c.has_first_pass_fail.cast(Integer)))
    query = select(*keys, *sums).where(STOVE.c.stove_key.in_(stove_keys)).group_by(*keys)
    return {_key_states(*row[:5]): Counts(*row[5:]) for row in connection.execute(query)}


def count_rows(rows: StoveRows) -> dict[TallyKey, Counts]:
    """As count_stoves gives it once these rows are written."""
    states: dict[TallyKey, Counts] = {}
    for stove in rows.stoves:
        key = _key_states(
            *(stove[name] for name in ("batch", "size", "stage", "checklist", "disposition"))
        )
        failed = int(stove["has_first_pass_fail"])
        states[key] = states.get(key, Counts()).add(Counts(1, failed))
    return tally(rows.counted) | states


def _key_states(batch: str, size: str, stage: str, checklist: str, disposition: str) -> TallyKey:
    return TallyKey(
        "stove", "", batch, size, stage, checklist, True, disposition, "", "", "", "", ""
    )


def add_tallies(connection: Connection, changed: Mapping[TallyKey, Counts]) -> None:
    """changed: sums to add, negative ones too; what comes to nothing is no row any more."""
    if not changed:
        return
    columns = (*TallyKey._fields, *Counts._fields)
    rows = [(*key, *counts) for key, counts in sorted(changed.items())]
    insert_tuples(connection, TALLY, columns, rows, or_else=_ADD)
    batches = {key.batch for key, counts in changed.items() if counts.inspected < 0}
    if batches:
        connection.execute(delete(TALLY).where(TALLY.c.batch.in_(batches), TALLY.c.inspected == 0))


def drop_tallies(connection: Connection) -> None:
    connection.execute(delete(TALLY))
