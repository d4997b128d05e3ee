"""Records that are kept and count nowhere until the yard lead decides."""

import json
from typing import NamedTuple

from sqlalchemy import Connection, select, text

from qcapp.store.log.read import LogRecord, list_server_events
from qcapp.store.tables import LOG

# Written out, as in its index: a value handed over would not be seen to fit it.
QUARANTINED = text("log.state != 'counted'")


def list_quarantined(connection: Connection) -> list[LogRecord]:
    """Quarantined and conflicting ones, newest first: what a person must look at."""
    rows = connection.execute(select(LOG).where(QUARANTINED))
    # Sorted here: asked for an order, the database would walk the whole log for these few.
    return sorted((LogRecord(*row) for row in rows), key=lambda record: -record.seq)


class WaitingRecords(NamedTuple):
    """since: when the oldest one arrived, UTC text; None where there is none."""

    records: int
    since: str | None


def find_waiting(connection: Connection) -> WaitingRecords:
    """Of the same records, those about which nobody has decided; reads none of them."""
    rows = connection.execute(select(LOG.c.hash, LOG.c.received_at).where(QUARANTINED)).all()
    decided = list_decided_hashes(connection) if rows else set()
    waiting = [row.received_at for row in rows if row.hash not in decided]
    return WaitingRecords(len(waiting), min(waiting, default=None))


def count_waiting(connection: Connection) -> int:
    return find_waiting(connection).records


def count_quarantined(connection: Connection, batch: str) -> int:
    """Records of a batch about which nobody has decided yet."""
    query = select(LOG.c.hash).where(LOG.c.batch == batch, QUARANTINED)
    waiting = set(connection.execute(query).scalars())
    return len(waiting - list_decided_hashes(connection)) if waiting else 0


def list_decided_hashes(connection: Connection) -> set[str]:
    """Hashes of the contents that quarantine decisions are about."""
    return {
        json.loads(record.raw)["body"]["original_hash"]
        for record in list_server_events(connection, ("quarantine_decision",))
    }


def find_counted(connection: Connection, event_id: str) -> LogRecord | None:
    """The record that counts under an id before any decision, None when there is none."""
    query = select(LOG).where(LOG.c.id == event_id, LOG.c.state == "counted")
    row = connection.execute(query).first()
    return LogRecord(*row) if row else None
