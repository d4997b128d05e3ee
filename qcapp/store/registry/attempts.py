"""Counted tries, kept in the database so that a restart forgives nobody."""

from collections.abc import Sequence

from sqlalchemy import Connection, delete, insert, select, update

from qcapp.store.tables import ATTEMPT


def find_attempts(connection: Connection, keys: Sequence[str]) -> dict[str, tuple[int, str]]:
    """{key: (how many, when the first was)} of those that have any."""
    query = select(ATTEMPT.c.key, ATTEMPT.c.count, ATTEMPT.c.since).where(ATTEMPT.c.key.in_(keys))
    return {key: (count, since) for key, count, since in connection.execute(query)}


def add_attempt(connection: Connection, key: str, now: str) -> None:
    """Counts one more; the first begins a stretch of time."""
    more = update(ATTEMPT).where(ATTEMPT.c.key == key).values(count=ATTEMPT.c.count + 1)
    if connection.execute(more).rowcount == 0:
        connection.execute(insert(ATTEMPT), [{"key": key, "count": 1, "since": now}])


def take_back_attempt(connection: Connection, key: str) -> None:
    query = update(ATTEMPT).where(ATTEMPT.c.key == key, ATTEMPT.c.count > 0)
    connection.execute(query.values(count=ATTEMPT.c.count - 1))


def find_count(connection: Connection, key: str) -> int:
    return connection.execute(select(ATTEMPT.c.count).where(ATTEMPT.c.key == key)).scalar() or 0


def forget_attempts(connection: Connection, key: str) -> int:
    """Gives how many tries were forgotten."""
    query = delete(ATTEMPT).where(ATTEMPT.c.key == key).returning(ATTEMPT.c.count)
    return connection.execute(query).scalar() or 0


def drop_attempts(connection: Connection, *, until: str, after: str) -> None:
    """Those that began at the one time or earlier, or later than the other."""
    since = ATTEMPT.c.since
    connection.execute(delete(ATTEMPT).where((since <= until) | (since > after)))
