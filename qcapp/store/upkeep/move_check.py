"""Proves that nothing changed on the way from one database to another."""

import itertools
from collections.abc import Callable

from sqlalchemy import Connection, Table, select

from qcapp.errors import QcappError
from qcapp.store import log
from qcapp.store.chunks import CHUNK_SIZE, chunked
from qcapp.store.projections.stove_rows import list_figure_rows
from qcapp.store.tables import STOVE
from qcapp.store.upkeep.move_rows import PLAIN_PROJECTIONS, REGISTRY


def compare_stores(read: Connection, write: Connection, tell: Callable[[int, int], None]) -> int:
    """Raises QcappError naming the first difference; gives the stoves compared."""
    if log.get_head(read) != log.get_head(write):
        raise _differ("the running hash at the end", f"record {log.get_head(read).seq}")
    stoves = _compare_stoves(read, write, tell)
    for table in (*PLAIN_PROJECTIONS, *REGISTRY):
        _compare_rows(read, write, table)
    return stoves


def _compare_stoves(read: Connection, write: Connection, tell: Callable[[int, int], None]) -> int:
    query = select(STOVE.c.stove_key)
    keys = sorted({*read.execute(query).scalars(), *write.execute(query).scalars()})
    done = 0
    for piece in chunked(keys):
        here, there = list_figure_rows(read, piece), list_figure_rows(write, piece)
        for key in piece:
            if not _is_same(here.get(key), there.get(key)):
                raise _differ("the figures", f"stove {key}")
        done += len(piece)
        tell(done, len(keys))
    return len(keys)


def _compare_rows(read: Connection, write: Connection, table: Table) -> None:
    query = select(table).order_by(*table.primary_key.columns)
    query = query.execution_options(yield_per=CHUNK_SIZE)
    with read.execute(query) as ours, write.execute(query) as theirs:
        for here, there in itertools.zip_longest(ours, theirs):
            row = here or there
            if here is None or there is None or not _is_same(tuple(here), tuple(there)):
                raise _differ(f"a row of {table.name}", str(row[0] if row else ""))


def _is_same(here: object, there: object) -> bool:
    """PostgreSQL takes no zero character beside a record; the record holds it as an escape."""
    return here == there or _without_zeros(here) == _without_zeros(there)


def _without_zeros(row: object) -> str:
    return repr(row).replace(r"\x00", "\N{REPLACEMENT CHARACTER}")


def _differ(what: str, where: str) -> QcappError:
    return QcappError(
        f"{what} differs between source and target",
        where,
        "run qcapp rebuild with the source, then the move again; the target is not in use",
    )
