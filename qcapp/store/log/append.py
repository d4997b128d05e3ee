"""Adds records to the end of the log."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import Connection, update

from qcapp.store.insert_rows import insert_rows
from qcapp.store.log.chain import Head, get_head, link
from qcapp.store.log.tree import extend_tree, hash_entry
from qcapp.store.tables import LOG

State = Literal["counted", "quarantined", "conflict"]


@dataclass(frozen=True)
class Entry:
    """An event on its way into the log; raw is its JSON text as kept for ever."""

    id: str
    hash: str
    state: State
    reason: str | None
    kind: str
    device_id: str
    dev_seq: int
    stove_key: str | None
    batch: str | None
    raw: str
    signature: str | None = None


def note_proof(connection: Connection, seq: int, entry: Entry) -> None:
    """The record at a number has now come with its signature: that, and what else holds it back."""
    fresh = {"signature": entry.signature}
    if entry.reason:
        fresh["reason"] = entry.reason
    connection.execute(update(LOG).where(LOG.c.seq == seq).values(**fresh))


def append(
    connection: Connection,
    entries: Sequence[Entry],
    *,
    received_at: str,
    relayed_by: str | None,
    clock_offset_ms: int | None,
) -> Head:
    """Adds entries in order inside the caller's writer transaction; gives the new head."""
    before = head = get_head(connection)
    rows = []
    for entry in entries:
        head = Head(head.seq + 1, link(head.chain, entry.id, entry.hash))
        rows.append(
            {
                **vars(entry),
                "seq": head.seq,
                "chain": head.chain,
                "received_at": received_at,
                "relayed_by": relayed_by,
                "clock_offset_ms": clock_offset_ms,
            }
        )
    if rows:
        insert_rows(connection, LOG, rows)
        leaves = [hash_entry(entry.id, entry.hash) for entry in entries]
        extend_tree(connection, before.seq, leaves)
    return head
