"""What is in a backup, before anybody decides to put it in the place of the database."""

import sqlite3
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, create_engine, func, select
from sqlalchemy.exc import DatabaseError
from sqlalchemy.pool import NullPool

from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.queries.overview import count_finished_stoves
from qcapp.store.tables.columns import get_table
from qcapp.store.tables.records import Log
from qcapp.store.upkeep.backup import Copied, check_database

LOG = get_table(Log)


@dataclass(frozen=True)
class BackupContents:
    """found: its last record and whose it is; stoves: finished ones; last_at: when its last record
    came, None where there is none; size: bytes.
    """

    found: Copied
    stoves: int
    last_at: str | None
    size: int


def read_contents(file: Path) -> BackupContents:
    """Raises NotFound, and BadInput for a file that is no whole database of this program."""
    if not file.is_file():
        raise NotFound(
            phrase("there is no such file"), str(file), phrase("choose a backup of this program")
        )
    # A copy on a read-only stick can be opened only when nobody asks to write beside it.
    how = "mode=ro" if Path(f"{file}-wal").exists() else "immutable=1"
    address = f"file:{quote(str(file.resolve()))}?{how}"
    found = check_database(file, address=address)
    engine = create_engine(
        "sqlite://", creator=lambda: sqlite3.connect(address, uri=True), poolclass=NullPool
    )
    try:
        with engine.connect() as connection:
            stoves = count_finished_stoves(connection)
            last_at = find_last_moment(connection)
    except DatabaseError as error:
        raise BadInput(
            phrase("this backup cannot be read"), str(file), phrase("use another one")
        ) from error
    return BackupContents(found, stoves, last_at, file.stat().st_size)


def find_last_moment(connection: Connection) -> str | None:
    """When the last record came."""
    last: str | None = connection.execute(select(func.max(LOG.c.received_at))).scalar()
    return last
