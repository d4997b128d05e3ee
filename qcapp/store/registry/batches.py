"""Batches: stoves presented together."""

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypedDict, cast

from sqlalchemy import Connection, Row, bindparam, insert, select, update

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.storable import is_storable
from qcapp.store.tables import BATCH

MAX_CLOSED = 100
JSON_COLUMNS = ("attributes", "crew", "checklist_ids")


class Batch(TypedDict):
    """opened_on: ISO date; closed_at: None while it is open. ordered: stoves of the buyer's order,
    None where nobody said.
    """

    code: str
    title: str
    size: str
    planned: int
    attributes: dict[str, Any]
    crew: dict[str, str]
    checklist_ids: list[str]
    serial_prefix: str
    opened_on: str | None
    closed_at: str | None
    order_no: str
    contract_no: str
    ordered: int | None


def save_batches(connection: Connection, batches: Sequence[Mapping[str, Any]]) -> None:
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


def find_batch(connection: Connection, code: str) -> Batch | None:
    row = connection.execute(select(BATCH).where(BATCH.c.code == code)).first()
    return _read_batch(row) if row else None


def get_batch(connection: Connection, code: str) -> Batch:
    """Raises NotFound."""
    batch = find_batch(connection, code)
    if batch is None:
        raise NotFound(phrase("there is no such batch"), code, phrase("see the list of batches"))
    return batch


def list_batches(
    connection: Connection, *, newest: int | None = None, skip: int = 0
) -> list[Batch]:
    """Every batch, or so many, newest first. Every one of a yard of years is thousands: a page
    asks for those it shows.
    """
    query = (
        select(BATCH)
        .order_by(BATCH.c.opened_on.desc().nulls_last(), BATCH.c.code.desc())
        .limit(newest)
        .offset(skip)
    )
    return [_read_batch(row) for row in connection.execute(query)]


def list_current_batches(connection: Connection) -> list[Batch]:
    """The open ones, and of the closed ones those anybody still asks for; newest first."""
    order = (BATCH.c.opened_on.desc(), BATCH.c.code.desc())
    near = select(BATCH.c.code).order_by(*order).limit(MAX_CLOSED)
    query = select(BATCH).where(BATCH.c.closed_at.is_(None) | BATCH.c.code.in_(near))
    return [_read_batch(row) for row in connection.execute(query.order_by(*order))]


def list_open_batches(connection: Connection) -> list[Batch]:
    """Newest first."""
    query = select(BATCH).where(BATCH.c.closed_at.is_(None))
    query = query.order_by(BATCH.c.opened_on.desc().nulls_last(), BATCH.c.code.desc())
    return [_read_batch(row) for row in connection.execute(query)]


def list_open_since(connection: Connection, since: str, *, newest: int) -> list[Batch]:
    """Those that are open, or were closed after a moment (UTC text); newest first, so many."""
    is_near = BATCH.c.closed_at.is_(None) | (BATCH.c.closed_at > since)
    query = select(BATCH).where(is_near).limit(newest)
    query = query.order_by(BATCH.c.opened_on.desc().nulls_last(), BATCH.c.code.desc())
    return [_read_batch(row) for row in connection.execute(query)]


# Made once: every push asks it.
_NAMED = select(BATCH).where(BATCH.c.code.in_(bindparam("codes", expanding=True)))


def list_named_batches(connection: Connection, codes: Iterable[Any]) -> list[Batch]:
    """Those of the codes that are known; whatever else comes is no batch's code."""
    asked = sorted({code for code in codes if is_storable(code)})
    return [_read_batch(row) for row in connection.execute(_NAMED, {"codes": asked})]


def _read_batch(row: Row[Any]) -> Batch:
    values = row._asdict()
    return cast(Batch, {**values, **{key: json.loads(values[key]) for key in JSON_COLUMNS}})
