"""Checkpoints of other logs that this server keeps: a programme's, of its yards."""

from collections.abc import Iterable
from typing import NamedTuple

from sqlalchemy import Connection, delete, insert, select

from qcapp.store.tables import SEEN_CHECKPOINT


class SeenCheckpoint(NamedTuple):
    """size: records under it; root: hex; note: the signed text."""

    size: int
    root: str
    seen_at: str
    note: str


def list_seen(connection: Connection, address: str) -> list[SeenCheckpoint]:
    """Of the yard at an address, as they came."""
    columns = (SEEN_CHECKPOINT.c[name] for name in SeenCheckpoint._fields)
    query = select(*columns).where(SEEN_CHECKPOINT.c.address == address)
    order = (SEEN_CHECKPOINT.c.seen_at, SEEN_CHECKPOINT.c.size)
    return [SeenCheckpoint(*row) for row in connection.execute(query.order_by(*order))]


def keep_seen(
    connection: Connection,
    address: str,
    fresh: SeenCheckpoint,
    *,
    instead_of: Iterable[SeenCheckpoint],
) -> None:
    """Keeps one more in place of those that it continues: it stands for them too."""
    for old in [*instead_of, fresh]:
        connection.execute(
            delete(SEEN_CHECKPOINT).where(
                SEEN_CHECKPOINT.c.address == address,
                SEEN_CHECKPOINT.c.size == old.size,
                SEEN_CHECKPOINT.c.root == old.root,
            )
        )
    connection.execute(insert(SEEN_CHECKPOINT), [{"address": address, **fresh._asdict()}])
