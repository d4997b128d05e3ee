"""Copies rows of one database into another: records, photos, and what the yard keeps up to date."""

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, Integer, Row, Table, delete, func, insert, select, text
from sqlmodel import SQLModel

from qcapp.errors import BadInput
from qcapp.store import log
from qcapp.store.chunks import CHUNK_SIZE, chunked
from qcapp.store.projections.stove_projection import refresh_stoves
from qcapp.store.tables import (
    CHECK_KEY,
    INSPECTION,
    LOG,
    MADE_FROM,
    META,
    PHOTO,
    RESULT,
    STOVE,
    SUMMARY,
    TALLY,
)

# Made from the log again, so not copied. The latter have no row numbers: compared as they are.
NUMBERED_PROJECTIONS = {CHECK_KEY, STOVE, INSPECTION, RESULT}
PLAIN_PROJECTIONS = (SUMMARY, TALLY, MADE_FROM)
# A new table is copied as it is: people, batches, phones, checklists, links, accounts.
REGISTRY = [
    table
    for table in SQLModel.metadata.sorted_tables
    if table not in {LOG, PHOTO, META, *NUMBERED_PROJECTIONS, *PLAIN_PROJECTIONS}
]


def copy_records(read: Connection, write: Connection, head: log.Head) -> log.Head:
    """The next records after the target's head and the figures of their stoves; the new head.

    Raises BadInput where the source's running hash does not match.
    """
    query = select(LOG).where(LOG.c.seq > head.seq).order_by(LOG.c.seq).limit(CHUNK_SIZE)
    rows = read.execute(query).all()
    for row in rows:
        head = log.Head(head.seq + 1, log.link(head.chain, row.id, row.hash))
        if (row.seq, row.chain) != (head.seq, head.chain):
            raise BadInput(
                "the source's running hash does not match",
                f"record {row.seq}",
                "somebody altered it; restore a backup first",
            )
    if rows:
        _insert(write, LOG, rows)
        refresh_stoves(
            write, (row.stove_key for row in rows if row.stove_key and row.state == "counted")
        )
    return head


def copy_changed_photos(read: Connection, write: Connection, names: Sequence[str]) -> None:
    here, there = _list_lengths(read, names), _list_lengths(write, names)
    changed = [name for name in names if here.get(name) != there.get(name)]
    if changed:
        write.execute(delete(PHOTO).where(PHOTO.c.sha256.in_(changed)))
        _insert(write, PHOTO, read.execute(select(PHOTO).where(PHOTO.c.sha256.in_(changed))))


def _list_lengths(connection: Connection, names: Sequence[str]) -> dict[str, tuple[bool, int]]:
    """A photo only grows: one of the same length is the same."""
    query = select(PHOTO.c.sha256, PHOTO.c.is_whole, func.length(PHOTO.c.content)).where(
        PHOTO.c.sha256.in_(names)
    )
    return {name: (is_whole, length) for name, is_whole, length in connection.execute(query)}


def replace_registry(read: Connection, write: Connection, but_facts: Sequence[str]) -> None:
    """Everything that is neither record, photo nor made from records.

    but_facts: the target's own, which stay.
    """
    for table in reversed(REGISTRY):
        write.execute(delete(table))
    others = META.c.key.not_in(but_facts)
    write.execute(delete(META).where(others))
    _insert(write, META, read.execute(select(META).where(others)))
    for table in REGISTRY:
        with read.execute(select(table).execution_options(yield_per=CHUNK_SIZE)) as rows:
            _insert(write, table, rows)
        _go_on_numbering(write, table)


def _insert(write: Connection, table: Table, rows: Iterable[Row[Any]]) -> None:
    for piece in chunked(rows):
        write.execute(insert(table), [row._asdict() for row in piece])


def _go_on_numbering(write: Connection, table: Table) -> None:
    """PostgreSQL counts apart from the rows: the next number must follow those that were copied."""
    number = table.autoincrement_column
    if write.dialect.name != "postgresql" or number is None or not isinstance(number.type, Integer):
        return
    last = select(func.coalesce(func.max(number), 0) + 1).scalar_subquery()
    sequence = func.pg_get_serial_sequence(table.name, number.name)
    write.execute(select(func.setval(sequence, last, text("false"))))
