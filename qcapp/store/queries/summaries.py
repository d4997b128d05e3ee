"""Issued summaries, found by batch or by design."""

import json
from collections.abc import Sequence
from typing import Any, NamedTuple

from sqlalchemy import Connection, func, select

from qcapp.store.tables import SUMMARY


class IssuedSummary(NamedTuple):
    batch: str
    number: int
    sha256: str
    issued_at: str
    seq: int


class DecidedLot(NamedTuple):
    """What a batch's first deciding summary means for the inspection of the next batches."""

    batch: str
    result: str
    may_reduce: bool
    is_restart: bool


def has_summaries(connection: Connection) -> bool:
    """Whether any was ever issued here."""
    return connection.execute(select(SUMMARY.c.number).limit(1)).first() is not None


def list_offered_batches(connection: Connection, newest: int) -> list[str]:
    """Codes of the batches of which a summary was issued, the newest summary first."""
    last = func.max(SUMMARY.c.seq)
    query = select(SUMMARY.c.batch).group_by(SUMMARY.c.batch).order_by(last.desc()).limit(newest)
    return list(connection.execute(query).scalars())


def list_summaries(connection: Connection, batch: str) -> list[IssuedSummary]:
    """Newest first."""
    columns = (SUMMARY.c[name] for name in IssuedSummary._fields)
    query = select(*columns).where(SUMMARY.c.batch == batch).order_by(SUMMARY.c.number.desc())
    return [IssuedSummary(*row) for row in connection.execute(query)]


def list_batches_with(connection: Connection, batches: Sequence[str]) -> set[str]:
    """Those of the batches of which a summary was issued."""
    query = select(SUMMARY.c.batch).where(SUMMARY.c.batch.in_(batches)).distinct()
    return set(connection.execute(query).scalars())


def find_proof(
    connection: Connection, batch: str, number: int | None = None
) -> dict[str, Any] | None:
    """The signed summary of that number, or the newest one; None when there is none."""
    query = select(SUMMARY.c.proof).where(SUMMARY.c.batch == batch)
    if number is not None:
        query = query.where(SUMMARY.c.number == number)
    text = connection.execute(query.order_by(SUMMARY.c.number.desc()).limit(1)).scalar()
    return json.loads(text) if text else None


def list_decided(connection: Connection, design: str) -> list[DecidedLot]:
    """In the order of their first deciding summary.

    Later ones of the same batch are of stoves presented again and do not count for the stages.
    """
    columns = (SUMMARY.c[name] for name in DecidedLot._fields)
    query = (
        select(*columns)
        .where(SUMMARY.c.design == design, SUMMARY.c.result.is_not(None))
        .order_by(SUMMARY.c.seq)
    )
    first: dict[str, DecidedLot] = {}
    for row in connection.execute(query):
        first.setdefault(row.batch, DecidedLot(*row))
    return list(first.values())
