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
from sqlalchemy.exc import OperationalError
from sqlalchemy.pool import NullPool, StaticPool

from qcapp.errors import StoreTrouble

PRAGMAS = ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "busy_timeout=10000")


class Store:
    """Gives connections; the only thing the rest of the program holds of the database."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.engine = _create_engine(url)
        self._held: Connection | None = None

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view; nothing written through it is kept."""
        with _translated(self.url), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One writer transaction: all of it is kept, or nothing."""
        with _translated(self.url), self.engine.connect().execution_options(qcapp_writes=True) as connection:
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
        return create_engine(url)
    path = url.removeprefix("sqlite:///")
    in_memory = path in ("", ":memory:", "sqlite://")
    if not in_memory and not path.startswith("file:"):
        Path(path).expanduser().parent.mkdir(parents=True, exist_ok=True)
    engine = create_engine(
        url,
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
    """Disk full, read-only, locked for too long: a message that says what to do."""
    try:
        yield
    except OperationalError as trouble:
        reason = str(trouble.orig)
        raise StoreTrouble(
            f"the database did not take it: {reason}",
            url,
            "free disk space or make the file writable; phones keep their work and send it again",
        ) from trouble
