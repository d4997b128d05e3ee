"""Counted tries, kept in the database so that a restart forgives nobody."""

from sqlalchemy import Connection, delete, insert, select, update

from qcapp.store.tables import ATTEMPT


def add_attempt(
    connection: Connection, key: str, *, now: str, forgotten_before: str
) -> tuple[int, str]:
    """Counts one more; gives (how many in this stretch, when the stretch began)."""
    row = connection.execute(select(ATTEMPT).where(ATTEMPT.c.key == key)).mappings().first()
    if row is None:
        connection.execute(insert(ATTEMPT), [{"key": key, "count": 1, "since": now}])
        return 1, now
    count, since = (row["count"] + 1, row["since"]) if row["since"] > forgotten_before else (1, now)
    connection.execute(update(ATTEMPT).where(ATTEMPT.c.key == key).values(count=count, since=since))
    return count, since


def take_back_attempt(connection: Connection, key: str) -> None:
    query = update(ATTEMPT).where(ATTEMPT.c.key == key, ATTEMPT.c.count > 0)
    connection.execute(query.values(count=ATTEMPT.c.count - 1))


def find_count(connection: Connection, key: str) -> int:
    return connection.execute(select(ATTEMPT.c.count).where(ATTEMPT.c.key == key)).scalar() or 0


def forget_attempts(connection: Connection, key: str) -> int:
    """Gives how many tries were forgotten."""
    query = delete(ATTEMPT).where(ATTEMPT.c.key == key).returning(ATTEMPT.c.count)
    return connection.execute(query).scalar() or 0


def drop_old_attempts(connection: Connection, forgotten_before: str) -> None:
    connection.execute(delete(ATTEMPT).where(ATTEMPT.c.since <= forgotten_before))
