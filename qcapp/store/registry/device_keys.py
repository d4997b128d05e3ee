"""Keys with which phones sign, and which ids are one phone's."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from sqlalchemy import Connection, bindparam, func, insert, or_, select, update

from qcapp.store.tables import DEVICE, DEVICE_KEY


@dataclass(frozen=True)
class Author:
    """A phone whose records come. first_id: the id that it had before all others, by which its ids
    are known to be one phone's; keys: those it signs with now, under any of these ids; retired:
    those it signed with before; buyer_batch: see the table of phones.
    """

    first_id: str
    is_revoked: bool
    keys: tuple[str, ...]
    retired: tuple[str, ...]
    buyer_batch: str | None = None

    @property
    def has_key(self) -> bool:
        return bool(self.keys or self.retired)


class DeviceKey(NamedTuple):
    """See the table."""

    device_id: str
    public_key: str
    from_seq: int
    retired_at: str | None


_FIRST_ID = func.coalesce(DEVICE.c.restart_of, DEVICE.c.id)
_FIRSTS = select(_FIRST_ID).where(DEVICE.c.id.in_(bindparam("ids", expanding=True)))
# Made once: to build it takes longer than to run it. A restarted phone that has not joined under
# its new id goes on with the token of the first.
_SAME_PHONES = select(
    DEVICE.c.id,
    _FIRST_ID.label("first_id"),
    DEVICE.c.revoked_at,
    DEVICE.c.buyer_batch,
    (DEVICE.c.token_hash == "").label("is_guest"),
).where(or_(DEVICE.c.id.in_(_FIRSTS), DEVICE.c.restart_of.in_(_FIRSTS)))
_ALL_KEYS = select(
    DEVICE_KEY.c.device_id,
    DEVICE_KEY.c.public_key,
    DEVICE_KEY.c.from_seq,
    DEVICE_KEY.c.retired_at,
).order_by(DEVICE_KEY.c.from_seq, DEVICE_KEY.c.device_id, DEVICE_KEY.c.public_key)
_KEYS_OF = _ALL_KEYS.where(DEVICE_KEY.c.device_id.in_(bindparam("ids", expanding=True)))


def load_authors(connection: Connection, device_ids: Iterable[str]) -> Mapping[str, Author]:
    """By id, those of them that are the yard's."""
    rows = connection.execute(_SAME_PHONES, {"ids": sorted(set(device_ids))}).all()
    first_ids = {row.id: row.first_id for row in rows}
    buyer_batches = {row.id: row.buyer_batch for row in rows}
    revoked = {row.id for row in rows if row.revoked_at is not None}
    revoked |= {row.id for row in rows if row.is_guest and row.first_id in revoked}
    keys: dict[str, list[DeviceKey]] = {first: [] for first in first_ids.values()}
    for row in connection.execute(_KEYS_OF, {"ids": list(first_ids)}):
        key = DeviceKey(*row)
        keys[first_ids[key.device_id]].append(key)
    return {
        device_id: Author(
            first,
            device_id in revoked,
            tuple(key.public_key for key in keys[first] if key.retired_at is None),
            tuple(key.public_key for key in keys[first] if key.retired_at is not None),
            buyer_batches[device_id],
        )
        for device_id, first in first_ids.items()
    }


def list_device_keys(connection: Connection) -> list[DeviceKey]:
    return [DeviceKey(*row) for row in connection.execute(_ALL_KEYS)]


def has_own_key(connection: Connection, device_id: str) -> bool:
    """Whether one was ever registered under this very id."""
    query = select(DEVICE_KEY.c.device_id).where(DEVICE_KEY.c.device_id == device_id)
    return connection.execute(query).first() is not None


def add_key(
    connection: Connection, device_id: str, public_key: str, *, from_seq: int, now: str
) -> None:
    """The phone's key from now on; others under the same id are retired."""
    own = DEVICE_KEY.c.device_id == device_id
    retiring = update(DEVICE_KEY).where(own, DEVICE_KEY.c.retired_at.is_(None))
    is_other = DEVICE_KEY.c.public_key != public_key
    retired = connection.execute(retiring.where(is_other).values(retired_at=now)).rowcount
    known = update(DEVICE_KEY).where(own, DEVICE_KEY.c.public_key == public_key)
    if connection.execute(known.values(retired_at=None)).rowcount == 0:
        row = {"device_id": device_id, "public_key": public_key}
        connection.execute(
            insert(DEVICE_KEY), [{**row, "from_seq": from_seq, "registered_at": now}]
        )
    if retired:
        connection.execute(
            update(DEVICE).where(DEVICE.c.id == device_id).values(key_changed_at=now)
        )
