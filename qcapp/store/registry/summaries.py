"""Issued summaries: a table made from their events, so that the newest is found at once."""

import json
from collections.abc import Mapping

from sqlalchemy import Connection, delete, insert, select

from qcapp.inspection.event import is_summary_body
from qcapp.store import log
from qcapp.store.tables import Summary

SUMMARY = Summary.__table__
SHOWN = (SUMMARY.c.batch, SUMMARY.c.number, SUMMARY.c.sha256, SUMMARY.c.issued_at, SUMMARY.c.seq)


def save_summary(connection: Connection, batch: str, seq: int, body: Mapping) -> None:
    """Writes the row of a summary event with this body; part of the caller's writer transaction."""
    lot = body["lot"]
    row = {
        "batch": batch,
        "number": body["number"],
        "sha256": body["sha256"],
        "issued_at": body["proof"]["summary"]["issued_at"],
        "seq": seq,
        "design": lot["design"],
        "result": lot["result"],
        "may_reduce": lot["may_reduce"],
        "is_restart": lot["is_restart"],
        # Sorted, so that the row made at issue and the one made again from the log are the same.
        "proof": json.dumps(body["proof"], ensure_ascii=False, sort_keys=True),
    }
    connection.execute(insert(SUMMARY), [row])


def rebuild_summaries(connection: Connection) -> int:
    """Drops every row and makes them again from the log; gives the summaries made.

    A record without the form of a summary was not written by this program: it gets no row, and
    `qcapp verify --log` names it.
    """
    connection.execute(delete(SUMMARY))
    bodies = [
        (row, json.loads(row.raw).get("body"))
        for row in log.list_server_events(connection, ("summary",))
    ]
    fitting = [(row, body) for row, body in bodies if row.batch and is_summary_body(body)]
    for row, body in fitting:
        save_summary(connection, row.batch, row.seq, body)
    return len(fitting)


def list_summaries(connection: Connection, batch: str) -> list:
    """Rows (batch, number, sha256, issued_at, seq), newest first."""
    return list(
        connection.execute(
            select(*SHOWN).where(SUMMARY.c.batch == batch).order_by(SUMMARY.c.number.desc())
        )
    )


def find_proof(connection: Connection, batch: str, number: int | None = None) -> dict | None:
    """The signed summary of that number, or the newest one; None when there is none."""
    query = select(SUMMARY.c.proof).where(SUMMARY.c.batch == batch)
    if number is not None:
        query = query.where(SUMMARY.c.number == number)
    text = connection.execute(query.order_by(SUMMARY.c.number.desc()).limit(1)).scalar()
    return json.loads(text) if text else None


def list_decided(connection: Connection, design: str) -> list:
    """Rows (batch, result, may_reduce, is_restart): the first deciding summary of each batch, in order.

    Later ones of the same batch are of stoves presented again and do not count for the stages.
    """
    columns = (SUMMARY.c.batch, SUMMARY.c.result, SUMMARY.c.may_reduce, SUMMARY.c.is_restart)
    query = (
        select(*columns)
        .where(SUMMARY.c.design == design, SUMMARY.c.result.is_not(None))
        .order_by(SUMMARY.c.seq)
    )
    first: dict[str, object] = {}
    for row in connection.execute(query):
        first.setdefault(row.batch, row)
    return list(first.values())
