"""Batches: stoves presented together."""

import json
from collections.abc import Iterable, Mapping, Sequence

from sqlalchemy import Connection, func, insert, select, update

from qcapp.store.projections.tallies import Tally
from qcapp.store.tables import Batch

BATCH = Batch.__table__
TALLY = Tally.__table__
MAX_CLOSED = 100
JSON_COLUMNS = ("attributes", "crew", "checklist_ids")


def save_batches(connection: Connection, batches: Sequence[Mapping]) -> None:
    """Adds batches, or changes those whose code is already here."""
    known = set(connection.execute(select(BATCH.c.code)).scalars())
    for batch in batches:
        values = {
            key: json.dumps(value) if key in JSON_COLUMNS else value for key, value in batch.items()
        }
        if batch["code"] in known:
            connection.execute(update(BATCH).where(BATCH.c.code == batch["code"]).values(**values))
        else:
            connection.execute(insert(BATCH), [values])


def list_batches(connection: Connection, *, newest: int | None = None, skip: int = 0) -> list[dict]:
    """Every batch, or so many, newest first; closed_at None while it is open."""
    rows = connection.execute(
        select(BATCH)
        .order_by(BATCH.c.opened_on.desc().nulls_last(), BATCH.c.code.desc())
        .limit(newest)
        .offset(skip)
    )
    return [_as_dict(row) for row in rows]


def list_current_batches(connection: Connection) -> list[dict]:
    """The open ones, and of the closed ones the newest that anybody still asks for; newest first."""
    near = (
        select(BATCH.c.code)
        .order_by(BATCH.c.opened_on.desc(), BATCH.c.code.desc())
        .limit(MAX_CLOSED)
    )
    query = select(BATCH).where(BATCH.c.closed_at.is_(None) | BATCH.c.code.in_(near))
    return [
        _as_dict(row)
        for row in connection.execute(query.order_by(BATCH.c.opened_on.desc(), BATCH.c.code.desc()))
    ]


def list_named_batches(connection: Connection, codes: Iterable[str]) -> list[dict]:
    """Those of the codes that are known."""
    return [
        _as_dict(row)
        for row in connection.execute(select(BATCH).where(BATCH.c.code.in_(sorted(set(codes)))))
    ]


def find_batch(connection: Connection, code: str) -> dict | None:
    row = connection.execute(select(BATCH).where(BATCH.c.code == code)).first()
    return _as_dict(row) if row else None


def list_stove_states(connection: Connection, *codes: str) -> list:
    """Rows (batch, stage, disposition, stoves, failed) of these batches: one for each kind that occurs."""
    keys = (TALLY.c.batch, TALLY.c.stage, TALLY.c.name.label("disposition"))
    query = select(
        *keys, func.sum(TALLY.c.inspected).label("stoves"), func.sum(TALLY.c.failed).label("failed")
    )
    query = query.where(TALLY.c.kind == "stove", TALLY.c.batch.in_(codes))
    return list(connection.execute(query.group_by(TALLY.c.batch, TALLY.c.stage, TALLY.c.name)))


def _as_dict(row) -> dict:
    return {**row._mapping, **{key: json.loads(row._mapping[key]) for key in JSON_COLUMNS}}
