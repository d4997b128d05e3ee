"""Keeps the tallies: a stove's counts are taken off before its rows change and added after."""

from collections.abc import Collection, Mapping

from sqlalchemy import Connection, FromClause, Integer, delete, func, select, text

from qcapp.inspection.tallies import CountedCheck, Counts, TallyKey, tally
from qcapp.store.tables import CHECK_KEY, INSPECTION, RESULT, STOVE, TALLY

_KEYS = ", ".join(TallyKey._fields)
_COUNTS = ", ".join(Counts._fields)
_VALUES = ", ".join(f":{name}" for name in (*TallyKey._fields, *Counts._fields))
_SUMS = ", ".join(f"{name} = tally.{name} + excluded.{name}" for name in Counts._fields)
# Of the program's field names alone.
_ADD = text(
    f"INSERT INTO tally ({_KEYS}, {_COUNTS}) VALUES ({_VALUES}) "  # noqa: S608
    f"ON CONFLICT ({_KEYS}) DO UPDATE SET {_SUMS}"
)


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
    return tally(CountedCheck._make(row) for row in connection.execute(query)) | _count_states(
        connection, stove_keys
    )


def _count_states(connection: Connection, stove_keys: Collection[str]) -> dict[TallyKey, Counts]:
    keys = (STOVE.c.batch, STOVE.c.size, STOVE.c.stage, STOVE.c.checklist, STOVE.c.disposition)
    sums = (func.count(), func.sum(STOVE.c.has_first_pass_fail.cast(Integer)))
    query = select(*keys, *sums).where(STOVE.c.stove_key.in_(stove_keys)).group_by(*keys)
    return {
        TallyKey(
            "stove", "", batch, size, stage, checklist, True, disposition, "", "", "", "", ""
        ): Counts(stoves, failed)
        for batch, size, stage, checklist, disposition, stoves, failed in connection.execute(query)
    }


def add_tallies(connection: Connection, changed: Mapping[TallyKey, Counts]) -> None:
    """changed: sums to add, negative ones too; what comes to nothing is no row any more."""
    if not changed:
        return
    connection.execute(
        _ADD, [{**key._asdict(), **counts._asdict()} for key, counts in sorted(changed.items())]
    )
    batches = {key.batch for key, counts in changed.items() if counts.inspected < 0}
    if batches:
        connection.execute(delete(TALLY).where(TALLY.c.batch.in_(batches), TALLY.c.inspected == 0))


def drop_tallies(connection: Connection) -> None:
    connection.execute(delete(TALLY))
