"""Issued summaries: a table made from their events, so that the newest is found at once."""

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, delete, insert

from qcapp.inspection.event import is_summary_body
from qcapp.store import log
from qcapp.store.tables import SUMMARY


def save_summary(connection: Connection, batch: str, seq: int, body: Mapping[str, Any]) -> None:
    """Writes the row of a summary event with this body; part of the caller's transaction."""
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


def rebuild_summaries(connection: Connection) -> None:
    """Drops every row and makes them again from the log.

    A record without the form of a summary was not written by this program: it gets no row, and
    `qcapp verify --log` names it.
    """
    connection.execute(delete(SUMMARY))
    for record in log.list_server_events(connection, ("summary",)):
        body = json.loads(record.raw).get("body")
        if record.batch and is_summary_body(body):
            save_summary(connection, record.batch, record.seq, body)
