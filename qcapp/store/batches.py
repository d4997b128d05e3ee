"""Batches: stoves presented together."""

import json
from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, Integer, func, insert, select, update

from qcapp.store.tables import Batch, Stove

BATCH = Batch.__table__
STOVE = Stove.__table__
JSON_COLUMNS = ("attributes", "crew", "checklist_ids")


def save_batches(connection: Connection, batches: Sequence[Mapping]) -> None:
    """Adds batches, or changes those whose code is already here."""
    known = set(connection.execute(select(BATCH.c.code)).scalars())
    for batch in batches:
        values = {key: json.dumps(value) if key in JSON_COLUMNS else value for key, value in batch.items()}
        if batch["code"] in known:
            connection.execute(update(BATCH).where(BATCH.c.code == batch["code"]).values(**values))
        else:
            connection.execute(insert(BATCH), [values])


def list_batches(connection: Connection) -> list[dict]:
    """Every batch, newest first; closed_at None while it is open."""
    rows = connection.execute(select(BATCH).order_by(BATCH.c.opened_on.desc(), BATCH.c.code.desc()))
    return [_as_dict(row) for row in rows]


def find_batch(connection: Connection, code: str) -> dict | None:
    row = connection.execute(select(BATCH).where(BATCH.c.code == code)).first()
    return _as_dict(row) if row else None


def list_stove_states(connection: Connection, batch: str | None = None) -> list:
    """Rows (batch, stage, disposition, stoves, failed): one for each kind that occurs."""
    failed = func.sum(STOVE.c.has_first_pass_fail.cast(Integer))
    query = select(STOVE.c.batch, STOVE.c.stage, STOVE.c.disposition, func.count().label("stoves"), failed.label("failed"))
    if batch is not None:
        query = query.where(STOVE.c.batch == batch)
    return list(connection.execute(query.group_by(STOVE.c.batch, STOVE.c.stage, STOVE.c.disposition)))


def _as_dict(row) -> dict:
    return {**row._mapping, **{key: json.loads(row._mapping[key]) for key in JSON_COLUMNS}}
