"""Facts about this server, by a key (table meta)."""

from sqlalchemy import Connection, delete, insert, select

from qcapp.store.tables import META

# It marks a database as a demo's: the day for which its yard is invented.
DEMO_DAY = "demo_day"
# When an invented yard was filled to its end.
DEMO_FILLED = "demo_filled"
# Digest of the folder of checklists whose files are all published here.
FOLDER_READ = "checklists_read"


def find_fact(connection: Connection, key: str) -> str | None:
    """None when it was never noted."""
    return connection.execute(select(META.c.value).where(META.c.key == key)).scalar()


def set_fact(connection: Connection, key: str, value: str) -> None:
    connection.execute(delete(META).where(META.c.key == key))
    connection.execute(insert(META), [{"key": key, "value": value}])
