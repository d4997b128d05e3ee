"""Carries a yard from one database to another (SQLite or PostgreSQL, either way).

Records and photos go over in pieces, each in a transaction of its own, and each stove's figures
are folded anew from the records on the way. A mark in the target says that it is half filled:
nobody serves it, and the same command goes on with it. The last transaction compares everything
(move_check.py) and takes the mark away. The source is only read.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, delete, insert, inspect, select

from qcapp.errors import BadInput, Clash
from qcapp.store import log
from qcapp.store.chunks import chunked
from qcapp.store.engine import Store
from qcapp.store.projections.summaries import rebuild_summaries
from qcapp.store.registry import facts
from qcapp.store.tables import LOG, META, PHOTO
from qcapp.store.upkeep.migrate import is_newest_shape, migrate
from qcapp.store.upkeep.move_check import compare_stores
from qcapp.store.upkeep.move_rows import (
    REGISTRY,
    copy_changed_photos,
    copy_records,
    replace_registry,
)

MOVING = "moving"
IDENTITY = ("server_id", MOVING)
PHOTOS_AT_ONCE = 20
Tell = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Moved:
    """late: records that came to the source meanwhile and are still to go; then the mark stays."""

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
                "the move into this database has not finished",
                source.short_name,
                "finish that move first",
            )
        _claim(read, target, server_id)
    with target.reading() as connection:
        # An earlier run may have brought some over already.
        tell("records", log.get_head(connection).seq, head.seq)
    with source.reading() as read, target.writing() as write:
        replace_registry(read, write, IDENTITY)
    while done := _copy_piece(source, target):
        tell("records", done, max(done, head.seq))
    _copy_photos(source, target, tell)
    return _finish(source, target, tell)


def refuse_half_filled(connection: Connection, name: str) -> None:
    """Raises Clash for a database into which a yard is being moved."""
    if facts.find_fact(connection, MOVING):
        raise Clash(
            "this database is incomplete: a move into it has not finished",
            name,
            "run the same qcapp move again",
        )


def _refuse_foreign(target: Store, server_id: str) -> None:
    """Looked at before the target's shape is touched."""
    with target.reading() as connection:
        tables = inspect(connection).get_table_names()
        if tables and not {"meta", "log"} <= set(tables):
            raise _refuse(target, "the target is used by another program")
        if tables and facts.find_fact(connection, "server_id") not in (None, server_id):
            raise _refuse(target, "the target holds another yard")


def _claim(read: Connection, target: Store, server_id: str) -> None:
    with target.writing() as write:
        found = facts.find_fact(write, "server_id")
        if found is None:
            filled = (LOG, PHOTO, *REGISTRY)
            if any(write.execute(select(table).limit(1)).first() for table in filled):
                raise _refuse(target, "the target is not empty")
            write.execute(
                insert(META),
                [{"key": "server_id", "value": server_id}, {"key": MOVING, "value": "in"}],
            )
            return
        if not facts.find_fact(write, MOVING):
            raise Clash(
                "the target already has all of this yard",
                target.short_name,
                "set QCAPP_DATABASE_URL to it; nothing was changed",
            )
        head = log.get_head(write)
        if log.find_chain(read, head.seq) != head.chain:
            raise _refuse(target, "what is in the target is not the source's past")


def _refuse(target: Store, what: str) -> Clash:
    return Clash(what, target.short_name, "name a new, empty database; nothing was changed")


def _copy_piece(source: Store, target: Store) -> int:
    """The next records and the figures of their stoves; gives the last number, 0 at the end."""
    with source.reading() as read, target.writing() as write:
        before = log.get_head(write)
        after = copy_records(read, write, before)
    return after.seq if after.seq > before.seq else 0


def _copy_photos(source: Store, target: Store, tell: Tell) -> None:
    with source.reading() as read:
        names, done = _list_photos(read), 0
        for piece in chunked(names, PHOTOS_AT_ONCE):
            with target.writing() as write:
                copy_changed_photos(read, write, piece)
            done += len(piece)
            tell("photos", done, len(names))


def _list_photos(read: Connection) -> Sequence[str]:
    return read.execute(select(PHOTO.c.sha256).order_by(PHOTO.c.sha256)).scalars().all()


def _finish(source: Store, target: Store, tell: Tell) -> Moved:
    """Copies what changed meanwhile, compares, and takes the mark away.

    It is one view of the source and one transaction of the target.
    """
    with source.reading() as read, target.writing() as write:
        head = log.get_head(read)
        while (before := log.get_head(write)).seq < head.seq:
            copy_records(read, write, before)
        names = _list_photos(read)
        for piece in chunked(names, PHOTOS_AT_ONCE):
            copy_changed_photos(read, write, piece)
        replace_registry(read, write, IDENTITY)
        rebuild_summaries(write)
        stoves = compare_stores(
            read, write, lambda done, total: tell("stoves compared", done, total)
        )
        with source.reading() as later:
            late = log.get_head(later).seq - head.seq
        if not late:
            write.execute(delete(META).where(META.c.key == MOVING))
    return Moved(head.seq, head.chain, stoves, len(names), late)
