"""The engine and its two kinds of transaction: reading and writing.

SQLite in WAL is the embedded default; PostgreSQL (postgresql.py) is for several processes or
machines. On SQLite a writer takes the write lock at its start (BEGIN IMMEDIATE), so that log
numbers appear in commit order and two writers wait for each other instead of failing half-way.
synchronous=FULL, because an acknowledged inspection must survive a power cut.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.pool import ConnectionPoolEntry, QueuePool, StaticPool

from qcapp.errors import NotFound
from qcapp.store import postgresql
from qcapp.store.db_errors import get_short_name, translated
from qcapp.store.write_lock import WriteLock

# Who works with a connection names its type from here, and needs no SQL for it.
__all__ = ["Connection", "Store", "find_missing", "has_tables", "refuse_missing"]
PRAGMAS = ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "busy_timeout=10000")
# Of a server's connections so many are kept between requests; there may be any number at once.
KEPT: dict[str, Any] = {
    "poolclass": QueuePool,
    "pool_size": 5,
    "max_overflow": -1,
    "pool_use_lifo": True,
}


class Store:
    """Gives connections; the only thing the rest of the program holds of the database."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.is_sqlite = url.startswith("sqlite")
        self.engine = (
            _create_sqlite_engine(url)
            if self.is_sqlite
            else postgresql.create_postgresql_engine(url)
        )
        self._is_file = self.is_sqlite and isinstance(self.engine.pool, QueuePool)
        self._held: Connection | None = None
        self._write_lock = WriteLock()

    @property
    def short_name(self) -> str:
        """The file or database, for messages: without the machine, the user, a password."""
        return get_short_name(self.url)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view; nothing written through it is kept."""
        options = {} if self.is_sqlite else postgresql.READS
        with translated(self.url), self._connect().execution_options(**options) as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One writer transaction: all of it is kept, or nothing.

        Writers of this process take turns.
        """
        options = {"qcapp_writes": True} if self.is_sqlite else postgresql.WRITES
        with (
            self._write_lock.take(),
            translated(self.url),
            self._connect().execution_options(**options) as connection,
            connection.begin(),
        ):
            if not self.is_sqlite:
                postgresql.lock_writers(connection)
            yield connection

    def hold(self) -> None:
        """Keeps one connection open while a server runs: so restoring can tell that it does.

        It also spares SQLite from folding its write-ahead log after each request. Until the end the
        others are kept too, for the next request: a new one reads the tables' shapes, and every row
        from the disk's cache, before it answers.
        """
        if self._held is None and self._is_file:
            self._held = self.engine.connect()

    def _connect(self) -> Connection:
        connection = self.engine.connect()
        if self._is_file and self._held is None:
            # Closed at its end, not kept: a command leaves one file, its log folded in.
            connection.detach()
        return connection

    def close(self) -> None:
        if self._held is not None:
            self._held.close()
            self._held = None
        self.engine.dispose()


def has_tables(connection: Connection) -> bool:
    """Whether there is a yard's database behind it, not an empty one."""
    return inspect(connection).has_table("log")


def find_missing(url: str) -> Path | None:
    """The SQLite file that is not there; None for one that is, and for every other database."""
    path = url.removeprefix("sqlite:///")
    if (
        not url.startswith("sqlite")
        or path in ("", ":memory:", "sqlite://")
        or path.startswith("file:")
        or Path(path).expanduser().exists()
    ):
        return None
    return Path(path).expanduser()


def refuse_missing(url: str) -> None:
    """Raises NotFound for a SQLite file that is not there: opening it would make an empty one."""
    if find_missing(url):
        raise NotFound(
            "there is no database", url, "name the yard's database in QCAPP_DATABASE_URL"
        )


def make_private(path: Path) -> None:
    """Makes an empty database file, or takes from other users what they may do with one that is
    here: it holds names, and hashes of passwords. SQLite gives what it lays beside it the same
    rights.
    """
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    if os.name != "posix":
        return
    # By its name: a file that is opened and closed here would lose the server's locks on it.
    for here in (path, Path(f"{path}-wal"), Path(f"{path}-shm")):
        with suppress(FileNotFoundError, PermissionError):
            if here.stat().st_mode & 0o077:
                here.chmod(0o600)


def _create_sqlite_engine(url: str) -> Engine:
    path = url.removeprefix("sqlite:///")
    in_memory = path in ("", ":memory:", "sqlite://")
    if not in_memory and not path.startswith("file:"):
        make_private(Path(path).expanduser())
    engine = create_engine(
        url,
        # An error message must not quote what somebody typed.
        hide_parameters=True,
        **({"poolclass": StaticPool} if in_memory else KEPT),
        connect_args={"check_same_thread": False},
    )
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(raw: DBAPIConnection, _record: ConnectionPoolEntry) -> None:
    # The driver's own transaction handling would leave CREATE TABLE outside the
    # transaction; with it off, the BEGIN below is the only one.
    raw.isolation_level = None
    for pragma in PRAGMAS:
        raw.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("qcapp_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
