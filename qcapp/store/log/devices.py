"""How many records of each phone are here, and which of its numbers."""

import json
from collections.abc import Collection, Mapping
from typing import NamedTuple

from sqlalchemy import Connection, case, func, select

from qcapp.store.chunks import chunked
from qcapp.store.tables import LOG


class DeviceCount(NamedTuple):
    """records: kept; numbers: different ones among them; last: the highest one."""

    device_id: str
    records: int
    numbers: int
    last: int


def list_shared_numbers(
    connection: Connection, numbers: Mapping[str, Collection[int]], but_reasons: Collection[str]
) -> dict[str, int]:
    """Phones of which two different records here bear one of these numbers: the last such one.

    numbers: of records, by phone. but_reasons: codes for which a record may be another's.
    """
    found: dict[str, int] = {}
    for device_id, own in numbers.items():
        ids: dict[int, set[str]] = {}
        for wanted in chunked(own):
            query = select(LOG.c.dev_seq, LOG.c.id, LOG.c.reason).where(
                LOG.c.device_id == device_id, LOG.c.dev_seq.in_(wanted)
            )
            for number, event_id, reason in connection.execute(query):
                if reason is None or json.loads(reason)["code"] not in but_reasons:
                    ids.setdefault(number, set()).add(event_id)
        shared = [number for number, same in ids.items() if len(same) > 1]
        if shared:
            found[device_id] = max(shared)
    return found


def count_device_events(connection: Connection, device_id: str) -> int:
    query = select(func.count(func.distinct(LOG.c.id))).where(LOG.c.device_id == device_id)
    return connection.execute(query).scalar_one()


def list_device_counts(connection: Connection) -> list[DeviceCount]:
    number = case((LOG.c.dev_seq >= 1, LOG.c.dev_seq))
    query = select(
        LOG.c.device_id,
        func.count(func.distinct(LOG.c.id)),
        func.count(func.distinct(number)),
        func.coalesce(func.max(number), 0),
    ).group_by(LOG.c.device_id)
    return [DeviceCount(*row) for row in connection.execute(query)]


def list_device_numbers(connection: Connection, device_id: str) -> list[int]:
    """The different numbers of a phone's records that are kept here."""
    query = (
        select(LOG.c.dev_seq).where(LOG.c.device_id == device_id).distinct().order_by(LOG.c.dev_seq)
    )
    return list(connection.execute(query).scalars())
