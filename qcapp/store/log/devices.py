"""How many records of each phone are here, and which of its numbers."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, and_, bindparam, case, func, not_, or_, select

from qcapp.store.chunks import chunked
from qcapp.store.tables import LOG


class DeviceCount(NamedTuple):
    """records: kept that are its own; numbers: different ones among them; last: the highest one;
    named: all that name it, others' among them.
    """

    device_id: str
    records: int
    numbers: int
    last: int
    named: int


@dataclass(frozen=True)
class OwnRecords:
    """Which records are a phone's own: what is held back for one of these reasons may be another's,
    unless its content (by its hash) was let count all the same.
    """

    but_reasons: Collection[str]
    accepted: Collection[str]

    def build_condition(self) -> ColumnElement[bool]:
        is_other = or_(*(LOG.c.reason.like(f'{{"code":"{code}"%') for code in self.but_reasons))
        is_accepted = LOG.c.hash.in_(self.accepted)
        return or_(LOG.c.reason.is_(None), not_(is_other), is_accepted)


# Made once: every push asks it.
_NUMBERED = select(LOG.c.dev_seq, LOG.c.id, LOG.c.reason).where(
    LOG.c.device_id == bindparam("device"),
    LOG.c.dev_seq.in_(bindparam("numbers", expanding=True)),
)


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
            asked = {"device": device_id, "numbers": wanted}
            for number, event_id, reason in connection.execute(_NUMBERED, asked):
                if reason is None or json.loads(reason)["code"] not in but_reasons:
                    ids.setdefault(number, set()).add(event_id)
        shared = [number for number, same in ids.items() if len(same) > 1]
        if shared:
            found[device_id] = max(shared)
    return found


def count_device_events(connection: Connection, device_id: str) -> int:
    query = select(func.count(func.distinct(LOG.c.id))).where(LOG.c.device_id == device_id)
    return connection.execute(query).scalar_one()


def list_device_counts(connection: Connection, own: OwnRecords) -> list[DeviceCount]:
    is_own = own.build_condition()
    number = case((and_(is_own, LOG.c.dev_seq >= 1), LOG.c.dev_seq))
    query = select(
        LOG.c.device_id,
        func.count(func.distinct(case((is_own, LOG.c.id)))),
        func.count(func.distinct(number)),
        func.coalesce(func.max(number), 0),
        func.count(func.distinct(LOG.c.id)),
    ).group_by(LOG.c.device_id)
    return [DeviceCount(*row) for row in connection.execute(query)]


def list_device_numbers(connection: Connection, device_id: str, own: OwnRecords) -> list[int]:
    """The different numbers of a phone's own records that are kept here."""
    query = (
        select(LOG.c.dev_seq)
        .where(LOG.c.device_id == device_id, own.build_condition())
        .distinct()
        .order_by(LOG.c.dev_seq)
    )
    return list(connection.execute(query).scalars())
