"""Facts about this server itself, by a key (table meta)."""

from sqlalchemy import Connection, delete, insert, select

from qcapp.store.tables import Meta

META = Meta.__table__


def find_fact(connection: Connection, key: str) -> str | None:
    """A fact about this server (table meta), None when it was never noted."""
    return connection.execute(select(META.c.value).where(META.c.key == key)).scalar()


def set_fact(connection: Connection, key: str, value: str) -> None:
    connection.execute(delete(META).where(META.c.key == key))
    connection.execute(insert(META), [{"key": key, "value": value}])
