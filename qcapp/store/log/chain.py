"""The running hash: each record names the one before, so that a changed row is noticed."""

import hashlib
import secrets
from dataclasses import dataclass

from sqlalchemy import Connection, insert, select

from qcapp.store.chunks import CHUNK_SIZE
from qcapp.store.tables import LOG, META


@dataclass(frozen=True)
class Head:
    """The end of the log: its last number and running hash (hex)."""

    seq: int
    chain: str


def get_server_id(connection: Connection) -> str:
    """chain_0: a random identity made when the database was made."""
    server_id: str = connection.execute(
        select(META.c.value).where(META.c.key == "server_id")
    ).scalar_one()
    return server_id


def ensure_server_id(connection: Connection) -> None:
    found = connection.execute(select(META.c.value).where(META.c.key == "server_id")).first()
    if found is None:
        connection.execute(insert(META), [{"key": "server_id", "value": secrets.token_hex(32)}])


# Made once: every push asks it.
_HEAD = select(LOG.c.seq, LOG.c.chain).order_by(LOG.c.seq.desc()).limit(1)


def get_head(connection: Connection) -> Head:
    row = connection.execute(_HEAD).first()
    return Head(row.seq, row.chain) if row else Head(0, get_server_id(connection))


def find_chain(connection: Connection, seq: int) -> str | None:
    """The running hash at a number, None when the log never got that far."""
    if seq == 0:
        return get_server_id(connection)
    return connection.execute(select(LOG.c.chain).where(LOG.c.seq == seq)).scalar()


def link(chain: str, event_id: str, event_hash: str) -> str:
    """The next running hash, hex."""
    return hashlib.sha256(
        (chain + event_id + event_hash).encode("utf-8", "surrogatepass")
    ).hexdigest()


def find_broken_link(connection: Connection) -> int | None:
    """The first number whose running hash does not follow from the row before, or None."""
    chain = get_server_id(connection)
    query = select(LOG.c.seq, LOG.c.id, LOG.c.hash, LOG.c.chain).order_by(LOG.c.seq)
    with connection.execute(query.execution_options(yield_per=CHUNK_SIZE)) as rows:
        for expected, row in enumerate(rows, 1):
            chain = link(chain, row.id, row.hash)
            if row.seq != expected or row.chain != chain:
                return int(row.seq)
    return None
