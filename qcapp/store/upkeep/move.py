"""Carries a yard from one database to another (SQLite or PostgreSQL, either way) and proves that nothing changed.

Records and photos go over in pieces, each in a transaction of its own, and each stove's figures are folded
anew from the records on the way. A mark in the target says that it is half filled: nobody serves it, and the
same command goes on with it. The last transaction compares everything and takes the mark away. The source is
only read.
"""

import itertools
from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy import Connection, Integer, delete, func, insert, inspect, select, text
from sqlmodel import SQLModel

from qcapp.errors import BadInput, Clash, QcappError
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.log.read import CHUNK
from qcapp.store.projections.stove_projection import refresh_stoves
from qcapp.store.projections.stove_rows import list_figure_rows
from qcapp.store.projections.tallies import Tally
from qcapp.store.registry import facts
from qcapp.store.registry.summaries import rebuild_summaries
from qcapp.store.tables import CheckKey, Inspection, Log, Meta, Photo, Result, Stove, Summary
from qcapp.store.upkeep.migrate import is_newest_shape, migrate

LOG, META, PHOTO, SUMMARY = Log.__table__, Meta.__table__, Photo.__table__, Summary.__table__
MOVING = "moving"
IDENTITY = ("server_id", MOVING)
# Made from the log again, so not copied; those of the second line have no row numbers and can be compared as they are.
NUMBERED = {table.__table__ for table in (CheckKey, Stove, Inspection, Result)}
PLAIN = (SUMMARY, Tally.__table__)
REST = [
    table
    for table in SQLModel.metadata.sorted_tables
    if table not in {LOG, PHOTO, META, *NUMBERED, *PLAIN}
]
PIECE = CHUNK
PHOTOS_AT_ONCE = 20
Tell = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Moved:
    """late: records that came to the source meanwhile and are not in the target yet; then its mark stays."""

    records: int
    chain: str
    stoves: int
    photos: int
    late: int


def move_yard(source: Store, target: Store, tell: Tell) -> Moved:
    """Raises Clash for a target that is in use or another yard's; then nothing is changed there.

    tell: called with what goes on, how many are done, how many there are.
    """
    if not is_newest_shape(source):
        raise BadInput(
            "this database was made by an older version",
            source.short_name,
            "run qcapp rebuild with it first, then move it",
        )
    with source.reading() as read:
        server_id, head = log.get_server_id(read), log.get_head(read)
        _refuse_foreign(target, server_id)
        migrate(target)
        if facts.find_fact(read, MOVING):
            raise Clash(
                "this database is itself only half filled",
                source.short_name,
                "end the move that fills it first",
            )
        _claim(read, target, server_id)
    with target.reading() as connection:
        # An earlier run may have brought some over already.
        tell("records", log.get_head(connection).seq, head.seq)
    _copy_rest(source, target)
    while _copy_piece(source, target, lambda done: tell("records", done, max(done, head.seq))):
        pass
    _copy_photos(source, target, tell)
    return _finish(source, target, tell)


def refuse_half_filled(connection: Connection, name: str) -> None:
    """Raises Clash for a database into which a yard is being moved."""
    if facts.find_fact(connection, MOVING):
        raise Clash(
            "this database is only half filled: a move into it has not ended",
            name,
            "run the same qcapp move again",
        )


def _refuse_foreign(target: Store, server_id: str) -> None:
    """Looked at before the target's shape is touched."""
    with target.reading() as connection:
        tables = inspect(connection).get_table_names()
        if tables and not {"meta", "log"} <= set(tables):
            raise Clash(
                "the target is used by another program",
                target.short_name,
                "name a new, empty database; nothing was changed",
            )
        if tables and facts.find_fact(connection, "server_id") not in (None, server_id):
            raise Clash(
                "the target holds another yard",
                target.short_name,
                "name a new, empty database; nothing was changed",
            )


def _claim(read: Connection, target: Store, server_id: str) -> None:
    with target.writing() as write:
        found = facts.find_fact(write, "server_id")
        if found is None and not any(
            write.execute(select(table).limit(1)).first() for table in (LOG, PHOTO, *REST)
        ):
            write.execute(
                insert(META),
                [{"key": "server_id", "value": server_id}, {"key": MOVING, "value": "in"}],
            )
        elif found is None:
            raise Clash(
                "the target is not empty",
                target.short_name,
                "name a new, empty database; nothing was changed",
            )
        elif not facts.find_fact(write, MOVING):
            raise Clash(
                "the target already holds this yard, whole",
                target.short_name,
                "set QCAPP_DATABASE_URL to it; nothing was changed",
            )
        else:
            head = log.get_head(write)
            if log.find_chain(read, head.seq) != head.chain:
                raise Clash(
                    "what is in the target is not the source's past",
                    target.short_name,
                    "name a new, empty database; nothing was changed",
                )


def _copy_rest(source: Store, target: Store) -> None:
    """Everything that is neither record, photo nor made from records: people, batches, phones, checklists, links, accounts."""
    with source.reading() as read, target.writing() as write:
        _replace_rest(read, write)


def _replace_rest(read: Connection, write: Connection) -> None:
    for table in reversed(REST):
        write.execute(delete(table))
    write.execute(delete(META).where(META.c.key.not_in(IDENTITY)))
    _insert(write, META, read.execute(select(META).where(META.c.key.not_in(IDENTITY))))
    for table in REST:
        with read.execute(select(table).execution_options(yield_per=PIECE)) as rows:
            _insert(write, table, rows)
        _go_on_numbering(write, table)


def _insert(write: Connection, table, rows) -> None:
    for piece in _batched(rows, PIECE):
        write.execute(insert(table), [dict(row._mapping) for row in piece])


def _batched(rows, size: int):
    rows = iter(rows)
    while piece := list(itertools.islice(rows, size)):
        yield piece


def _go_on_numbering(write: Connection, table) -> None:
    """PostgreSQL counts apart from the rows: the next number must follow those that were copied."""
    number = table.autoincrement_column
    if (
        write.dialect.name == "postgresql"
        and number is not None
        and isinstance(number.type, Integer)
    ):
        last = select(func.coalesce(func.max(number), 0) + 1).scalar_subquery()
        write.execute(
            select(
                func.setval(
                    func.pg_get_serial_sequence(table.name, number.name), last, text("false")
                )
            )
        )


def _copy_piece(source: Store, target: Store, tell: Callable[[int], None]) -> bool:
    """The next records and the figures of their stoves; False when there are no more."""
    with source.reading() as read, target.writing() as write:
        head = log.get_head(write)
        _copy_records(read, write, head)
        after = log.get_head(write)
    if after.seq > head.seq:
        tell(after.seq)
    return after.seq > head.seq


def _copy_records(read: Connection, write: Connection, head: log.Head) -> None:
    rows = read.execute(
        select(LOG).where(LOG.c.seq > head.seq).order_by(LOG.c.seq).limit(PIECE)
    ).all()
    chain = head.chain
    for expected, row in enumerate(rows, head.seq + 1):
        chain = log.link(chain, row.id, row.hash)
        if (row.seq, row.chain) != (expected, chain):
            raise BadInput(
                "the source's running hash does not fit",
                f"record {row.seq}",
                "somebody altered it; restore a backup first",
            )
    if rows:
        write.execute(insert(LOG), [dict(row._mapping) for row in rows])
        refresh_stoves(
            write, (row.stove_key for row in rows if row.stove_key and row.state == "counted")
        )


def _copy_photos(source: Store, target: Store, tell: Tell) -> None:
    with source.reading() as read:
        total, done = read.execute(select(func.count()).select_from(PHOTO)).scalar_one(), 0
        for names in _batched(
            read.execute(select(PHOTO.c.sha256).order_by(PHOTO.c.sha256)).scalars().all(),
            PHOTOS_AT_ONCE,
        ):
            with target.writing() as write:
                _copy_changed_photos(read, write, names)
            done += len(names)
            tell("photos", done, total)


def _copy_changed_photos(read: Connection, write: Connection, names: list[str]) -> None:
    here, there = _list_lengths(read, names), _list_lengths(write, names)
    changed = [name for name in names if here.get(name) != there.get(name)]
    if changed:
        write.execute(delete(PHOTO).where(PHOTO.c.sha256.in_(changed)))
        _insert(write, PHOTO, read.execute(select(PHOTO).where(PHOTO.c.sha256.in_(changed))))


def _list_lengths(connection: Connection, names: list[str]) -> dict[str, tuple]:
    """A photo only grows: one of the same length is the same."""
    query = select(PHOTO.c.sha256, PHOTO.c.is_whole, func.length(PHOTO.c.content)).where(
        PHOTO.c.sha256.in_(names)
    )
    return {row[0]: tuple(row)[1:] for row in connection.execute(query)}


def _finish(source: Store, target: Store, tell: Tell) -> Moved:
    """Copies what changed meanwhile, compares, and takes the mark away: one view of the source, one transaction."""
    with source.reading() as read, target.writing() as write:
        head = log.get_head(read)
        while log.get_head(write).seq < head.seq:
            _copy_records(read, write, log.get_head(write))
        names = read.execute(select(PHOTO.c.sha256).order_by(PHOTO.c.sha256)).scalars().all()
        for part in _batched(names, PHOTOS_AT_ONCE):
            _copy_changed_photos(read, write, part)
        _replace_rest(read, write)
        rebuild_summaries(write)
        stoves = _compare(read, write, tell)
        with source.reading() as later:
            late = log.get_head(later).seq - head.seq
        if not late:
            write.execute(delete(META).where(META.c.key == MOVING))
    return Moved(head.seq, head.chain, stoves, len(names), late)


def _compare(read: Connection, write: Connection, tell: Tell) -> int:
    """Raises QcappError naming the first difference; gives the stoves compared."""
    if log.get_head(read) != log.get_head(write):
        raise _differ("the running hash at the end", f"record {log.get_head(read).seq}")
    keys = sorted(
        set(read.execute(select(Stove.stove_key)).scalars())
        | set(write.execute(select(Stove.stove_key)).scalars())
    )
    for done in range(0, len(keys), PIECE):
        part = keys[done : done + PIECE]
        here, there = list_figure_rows(read, part), list_figure_rows(write, part)
        for key in part:
            if not _is_same(here.get(key), there.get(key)):
                raise _differ("the figures", f"stove {key}")
        tell("stoves compared", done + len(part), len(keys))
    for table in (*PLAIN, *REST):
        query = (
            select(table).order_by(*table.primary_key.columns).execution_options(yield_per=PIECE)
        )
        with read.execute(query) as ours, write.execute(query) as theirs:
            for here, there in itertools.zip_longest(ours, theirs):
                if here is None or there is None or not _is_same(tuple(here), tuple(there)):
                    raise _differ(f"a row of {table.name}", str((here or there)[0]))
    return len(keys)


def _is_same(here, there) -> bool:
    """PostgreSQL takes no zero character beside a record; the record itself holds it as an escape."""
    return here == there or repr(here).replace(r"\x00", "\N{REPLACEMENT CHARACTER}") == repr(
        there
    ).replace(r"\x00", "\N{REPLACEMENT CHARACTER}")


def _differ(what: str, where: str) -> QcappError:
    return QcappError(
        f"{what} differs between source and target",
        where,
        "run qcapp rebuild with the source, then the move again; the target is not in use",
    )
