"""The engine and its two kinds of transaction: reading and writing.

SQLite in WAL is the embedded default. A writer takes the write lock at its start
(BEGIN IMMEDIATE), so that log numbers appear in commit order and two writers wait for
each other instead of failing half-way. synchronous=FULL, because an acknowledged
inspection must survive a power cut.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlalchemy.pool import NullPool, StaticPool

from qcapp.errors import StoreTrouble
from qcapp.store.turns import Turns

# What SQLite says: what it means, what to do, when to try again in seconds.
TROUBLES = {
    "locked": ("the database is busy", "phones try again by themselves", 5),
    "full": ("there is no room for the database", "free disk space; phones keep their work and send it again", 60),
    "disk I/O": ("the disk does not take the database", "look for room and for damage; phones keep their work and send it again", 60),
    "readonly": ("the database cannot be written", "make its file and folder writable; phones keep their work and send it again", 60),
    "unable to open": ("the database cannot be opened", "look for its folder, room and rights; phones keep their work", 60),
    "malformed": ("the database is damaged", "stop the server and restore a backup; phones send again what is missing", 600),
    "not a database": ("the file is no database", "stop the server and restore a backup; phones send again what is missing", 600),
}
PRAGMAS = ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "busy_timeout=10000")


class Store:
    """Gives connections; the only thing the rest of the program holds of the database."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.engine = _create_engine(url)
        self._held: Connection | None = None
        self._turns = Turns()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view; nothing written through it is kept."""
        with _translated(self.url), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One writer transaction: all of it is kept, or nothing. Writers of this process take turns."""
        with self._turns.take(), _translated(self.url), self.engine.connect().execution_options(qcapp_writes=True) as connection:
            with connection.begin():
                yield connection

    def hold(self) -> None:
        """Keeps one connection open while a server runs: so restoring can tell that it does.

        It also spares SQLite from folding its write-ahead log after each request.
        """
        if self._held is None and isinstance(self.engine.pool, NullPool):
            self._held = self.engine.connect()

    def close(self) -> None:
        if self._held is not None:
            self._held.close()
            self._held = None
        self.engine.dispose()


def _create_engine(url: str) -> Engine:
    if not url.startswith("sqlite"):
        return create_engine(url, hide_parameters=True)
    path = url.removeprefix("sqlite:///")
    in_memory = path in ("", ":memory:", "sqlite://")
    if not in_memory and not path.startswith("file:"):
        Path(path).expanduser().parent.mkdir(parents=True, exist_ok=True)
    engine = create_engine(
        url,
        # An error message must not quote what somebody typed.
        hide_parameters=True,
        poolclass=StaticPool if in_memory else NullPool,
        connect_args={"check_same_thread": False},
    )
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(raw, _record) -> None:
    # The driver's own transaction handling would leave CREATE TABLE outside the
    # transaction; with it off, the BEGIN below is the only one.
    raw.isolation_level = None
    for pragma in PRAGMAS:
        raw.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("qcapp_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def _translated(url: str) -> Iterator[None]:
    """Disk full, read-only, locked for too long, damaged: a message that says what to do."""
    try:
        yield
    except DatabaseError as trouble:
        reason = str(trouble.orig)
        known = next((words for sign, words in TROUBLES.items() if sign in reason), None)
        if known is None and not isinstance(trouble, OperationalError):
            raise
        what, todo, retry_after_s = known or ("the database did not take it", "see the server's log; phones keep their work", 60)
        raise StoreTrouble(f"{what}: {reason}", _without_folder(url), todo, retry_after_s=retry_after_s) from trouble


def _without_folder(url: str) -> str:
    """A phone is told which file, not where a machine keeps it, nor a password."""
    return url.rsplit("/", 1)[-1]
