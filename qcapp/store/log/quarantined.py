"""Records that are kept and count nowhere until the yard lead decides."""

import json

from sqlalchemy import Connection, select, text

from qcapp.store.log.read import list_own
from qcapp.store.tables import Log

LOG = Log.__table__
# Written out, as in its index: a value handed over would not be seen to fit it.
SET_ASIDE = text("log.state != 'counted'")


def list_set_aside(connection: Connection) -> list:
    """Quarantined and conflicting rows, newest first: what a person must look at."""
    # Ordered here: asked for in order, the database would walk the whole log instead of the few set aside.
    return sorted(connection.execute(select(LOG).where(SET_ASIDE)), key=lambda row: -row.seq)


def count_waiting(connection: Connection) -> int:
    """Of the same rows, those about which nobody has decided; reads none of them."""
    hashes = connection.execute(select(LOG.c.hash).where(SET_ASIDE)).scalars().all()
    decided = list_decided_hashes(connection)
    return sum(content_hash not in decided for content_hash in hashes)


def count_set_aside(connection: Connection, batch: str) -> int:
    """Records of a batch about which nobody has decided yet. The written-out state lets the index serve."""
    waiting = (
        connection.execute(select(LOG.c.hash).where(LOG.c.batch == batch, SET_ASIDE))
        .scalars()
        .all()
    )
    return len(set(waiting) - list_decided_hashes(connection)) if waiting else 0


def list_decided_hashes(connection: Connection) -> set[str]:
    """Hashes of the contents that admissions are about."""
    return {
        json.loads(row.raw)["body"]["original_hash"] for row in list_own(connection, ("admission",))
    }


def find_counted(connection: Connection, event_id: str):
    """The row that counts under an id before any decision, None when there is none."""
    return connection.execute(
        select(LOG).where(LOG.c.id == event_id, LOG.c.state == "counted")
    ).first()
