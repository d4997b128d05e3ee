"""Records that are kept and count nowhere until the yard lead decides."""

import json

from sqlalchemy import Connection, select, text

from qcapp.store.log.read import list_server_events
from qcapp.store.tables import Log

LOG = Log.__table__
# Written out, as in its index: a value handed over would not be seen to fit it.
QUARANTINED = text("log.state != 'counted'")


def list_quarantined(connection: Connection) -> list:
    """Quarantined and conflicting rows, newest first: what a person must look at."""
    # Ordered here: asked for in order, the database would walk the whole log instead of the few set aside.
    return sorted(connection.execute(select(LOG).where(QUARANTINED)), key=lambda row: -row.seq)


def count_waiting(connection: Connection) -> int:
    """Of the same rows, those about which nobody has decided; reads none of them."""
    hashes = connection.execute(select(LOG.c.hash).where(QUARANTINED)).scalars().all()
    decided = list_decided_hashes(connection)
    return sum(content_hash not in decided for content_hash in hashes)


def count_quarantined(connection: Connection, batch: str) -> int:
    """Records of a batch about which nobody has decided yet. The written-out state lets the index serve."""
    waiting = (
        connection.execute(select(LOG.c.hash).where(LOG.c.batch == batch, QUARANTINED))
        .scalars()
        .all()
    )
    return len(set(waiting) - list_decided_hashes(connection)) if waiting else 0


def list_decided_hashes(connection: Connection) -> set[str]:
    """Hashes of the contents that quarantine decisions are about."""
    return {
        json.loads(row.raw)["body"]["original_hash"]
        for row in list_server_events(connection, ("quarantine_decision",))
    }


def find_counted(connection: Connection, event_id: str):
    """The row that counts under an id before any decision, None when there is none."""
    return connection.execute(
        select(LOG).where(LOG.c.id == event_id, LOG.c.state == "counted")
    ).first()
