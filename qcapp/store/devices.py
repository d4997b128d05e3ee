"""Phones and the one-time codes they join with."""

from sqlalchemy import Connection, insert, select, update

from qcapp.store.tables import Device, JoinCode

DEVICE = Device.__table__
JOIN_CODE = JoinCode.__table__


def add_join_code(connection: Connection, *, code_hash: str, name: str, expires_at: str) -> None:
    connection.execute(insert(JOIN_CODE), [{"code_hash": code_hash, "name": name, "expires_at": expires_at}])


def use_join_code(connection: Connection, code_hash: str, now: str) -> str | None:
    """Marks the code as used and gives the phone's name; None when unknown, used or too old."""
    query = (
        update(JOIN_CODE)
        .where(JOIN_CODE.c.code_hash == code_hash, JOIN_CODE.c.used_at.is_(None), JOIN_CODE.c.expires_at > now)
        .values(used_at=now)
        .returning(JOIN_CODE.c.name)
    )
    return connection.execute(query).scalar()


def save_device(connection: Connection, *, device_id: str, name: str, token_hash: str, now: str) -> None:
    """A new phone, or a known one that joins again: it keeps its id and gets a new token."""
    found = connection.execute(select(DEVICE.c.id).where(DEVICE.c.id == device_id)).first()
    if found:
        connection.execute(update(DEVICE).where(DEVICE.c.id == device_id).values(name=name, token_hash=token_hash))
        return
    row = {"id": device_id, "name": name, "token_hash": token_hash, "joined_at": now}
    connection.execute(insert(DEVICE), [row])


def find_device(connection: Connection, token_hash: str) -> str | None:
    return connection.execute(select(DEVICE.c.id).where(DEVICE.c.token_hash == token_hash)).scalar()


def note_contact(connection: Connection, device_id: str, **values) -> None:
    """Keeps what the phone said of itself: last_seen_at, created, acked, app_build, clock_offset_ms."""
    connection.execute(update(DEVICE).where(DEVICE.c.id == device_id).values(**values))


def list_devices(connection: Connection) -> list:
    return list(connection.execute(select(DEVICE).order_by(DEVICE.c.joined_at)))
