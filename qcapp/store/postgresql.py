"""What PostgreSQL needs that SQLite does not: a pool, one writer among all servers, one order.

Several processes and several machines may write. Each writer transaction takes one lock of the
whole database before it numbers its records and keeps it until they are committed, so that
numbers appear to every reader in their order: who has seen number n will never be shown a smaller
one later. READ COMMITTED, because a writer must see what was committed while it waited for the
lock; readers get one snapshot.
"""

from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import ConnectionPoolEntry

from qcapp.errors import BadInput, StartError

SCHEMES = {"postgres": "postgresql+psycopg", "postgresql": "postgresql+psycopg"}
# Any number will do, as long as every server takes the same.
WRITERS_LOCK = 7_120_734
# With the wait in this process before it (write_lock.py), below a phone's own patience of 20 s.
MAX_WAIT_MS = 4_000
# Of each process; PostgreSQL's own usual limit is 100 for all together.
POOL = {
    "pool_size": 3,
    "max_overflow": 12,
    "pool_timeout": 10,
    "pool_pre_ping": True,
    "pool_recycle": 1800,
}
# A server that vanished (power, cable) must not keep the lock: PostgreSQL asks within a minute.
KEEPALIVE = ("tcp_keepalives_idle = 30", "tcp_keepalives_interval = 10", "tcp_keepalives_count = 3")
READS = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
WRITES = {"isolation_level": "READ COMMITTED"}


def create_postgresql_engine(url: str) -> Engine:
    """Raises BadInput for an address that is none, StartError where the driver is missing."""
    try:
        address = make_url(url)
        engine = create_engine(
            address.set(drivername=SCHEMES.get(address.drivername, address.drivername)),
            connect_args={"connect_timeout": 10, "application_name": "qcapp"},
            hide_parameters=True,
            **POOL,
        )
    except ArgumentError as error:
        raise BadInput(
            "this is not the address of a database",
            url.split(":", 1)[0],
            "write sqlite:///FILE or postgresql+psycopg://USER@HOST/NAME",
        ) from error
    except ModuleNotFoundError as error:
        raise StartError(
            f"the driver {error.name} is not installed",
            "QCAPP_DATABASE_URL",
            'pip install "qcapp[postgresql]"',
        ) from error
    event.listen(engine, "connect", _prepare)
    return engine


def _prepare(raw: Any, _record: ConnectionPoolEntry) -> None:
    # Here, because the driver is an extra: who keeps to SQLite does not have it.
    from psycopg.types.string import StrDumper  # noqa: PLC0415

    class TextDumper(StrDumper):
        """PostgreSQL takes no zero character.

        Records hold it as an escape; this is for names and reasons beside them.
        """

        def dump(self, obj: str) -> Any:
            return super().dump(obj.replace("\0", "\N{REPLACEMENT CHARACTER}"))

    raw.adapters.register_dumper(str, TextDumper)
    raw.autocommit = True
    for setting in KEEPALIVE:
        raw.execute(f"SET {setting}")
    raw.autocommit = False


def lock_writers(connection: Connection) -> None:
    """Waits until no other writer is at work anywhere; given back by the end of the transaction."""
    connection.execute(text(f"SET LOCAL lock_timeout = {MAX_WAIT_MS}"))
    connection.execute(text(f"SELECT pg_advisory_xact_lock({WRITERS_LOCK})"))


def sort_by_bytes(connection: Connection) -> None:
    """Gives every text column the order of its bytes, as in SQLite; part of a migration.

    A database's usual order is that of a language: there "~" comes before letters, timestamps
    would not sort as text, and an update of the system's own tables can silently spoil an index.
    """
    query = text("""
        SELECT format('ALTER TABLE %I %s', c.relname,
                      string_agg(format('ALTER COLUMN %I TYPE %s COLLATE "C"', a.attname,
                                        format_type(a.atttypid, a.atttypmod)), ', '))
        FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
        WHERE c.relnamespace = current_schema()::regnamespace
          AND c.relkind IN ('r', 'p') AND NOT c.relispartition
          AND a.attnum > 0 AND NOT a.attisdropped AND a.attcollation = 'default'::regcollation
        GROUP BY c.relname ORDER BY c.relname""")
    for statement in connection.execute(query).scalars().all():
        connection.exec_driver_sql(statement)
