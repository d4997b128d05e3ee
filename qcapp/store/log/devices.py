"""How many records of each phone are here, and which of its numbers."""

from sqlalchemy import Connection, case, func, select

from qcapp.store.tables import Log

LOG = Log.__table__


def count_device_events(connection: Connection, device_id: str) -> int:
    query = select(func.count(func.distinct(LOG.c.id))).where(LOG.c.device_id == device_id)
    return connection.execute(query).scalar_one()


def list_device_counts(connection: Connection) -> list:
    """Rows (device_id, records, numbers, last): records kept, different numbers among them, the last one."""
    number = case((LOG.c.dev_seq >= 1, LOG.c.dev_seq))
    columns = (
        func.count(func.distinct(LOG.c.id)).label("records"),
        func.count(func.distinct(number)).label("numbers"),
        func.coalesce(func.max(number), 0).label("last"),
    )
    return list(connection.execute(select(LOG.c.device_id, *columns).group_by(LOG.c.device_id)))


def list_device_numbers(connection: Connection, device_id: str) -> list[int]:
    """The different numbers of a phone's records that are kept here."""
    query = (
        select(LOG.c.dev_seq).where(LOG.c.device_id == device_id).distinct().order_by(LOG.c.dev_seq)
    )
    return list(connection.execute(query).scalars())
