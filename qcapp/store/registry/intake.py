"""What each phone handed in on a day, and its photos that no record names yet."""

from typing import NamedTuple

from sqlalchemy import Connection, bindparam, delete, func, insert, select, update

from qcapp.store.tables import INTAKE, PHOTO, PHOTO_NAME, PHOTO_UPLOAD


class Taken(NamedTuple):
    """Of one phone on one day: new records, photos begun, bytes of both."""

    records: int = 0
    photos: int = 0
    bytes: int = 0


# Made once: every push asks it.
_TAKEN = select(*(INTAKE.c[name] for name in Taken._fields)).where(
    INTAKE.c.device_id == bindparam("device"), INTAKE.c.day == bindparam("day")
)


_ADD = (
    update(INTAKE)
    .where(INTAKE.c.device_id == bindparam("of_device"), INTAKE.c.day == bindparam("of_day"))
    .values({name: INTAKE.c[name] + bindparam(f"more_{name}") for name in Taken._fields})
)


def find_taken(connection: Connection, device_id: str, day: str) -> Taken:
    row = connection.execute(_TAKEN, {"device": device_id, "day": day}).first()
    return Taken(*row) if row else Taken()


def add_taken(connection: Connection, device_id: str, day: str, more: Taken) -> None:
    """Rows of earlier days go: the allowance is a day's."""
    added = {f"more_{name}": count for name, count in more._asdict().items()}
    if connection.execute(_ADD, {"of_device": device_id, "of_day": day, **added}).rowcount == 0:
        connection.execute(delete(INTAKE).where(INTAKE.c.device_id == device_id))
        row = {"device_id": device_id, "day": day, **more._asdict()}
        connection.execute(insert(INTAKE), [row])


def begin_upload(connection: Connection, sha256: str, device_id: str, day: str) -> None:
    known = select(PHOTO_UPLOAD.c.sha256).where(PHOTO_UPLOAD.c.sha256 == sha256)
    if connection.execute(known).first() is None:
        row = {"sha256": sha256, "device_id": device_id, "day": day}
        connection.execute(insert(PHOTO_UPLOAD), [row])


def count_nameless(connection: Connection, device_id: str) -> int:
    """Photos that this phone began and no record names."""
    query = select(func.count()).where(
        PHOTO_UPLOAD.c.device_id == device_id,
        PHOTO_UPLOAD.c.sha256.not_in(select(PHOTO_NAME.c.sha256)),
    )
    return connection.execute(query).scalar_one()


def drop_nameless(connection: Connection, before: str) -> None:
    """Forgets photos begun before that day which no record names, and what is done with."""
    named = select(PHOTO_NAME.c.sha256)
    old = select(PHOTO_UPLOAD.c.sha256).where(
        PHOTO_UPLOAD.c.day < before, PHOTO_UPLOAD.c.sha256.not_in(named)
    )
    connection.execute(delete(PHOTO).where(PHOTO.c.sha256.in_(old)))
    connection.execute(delete(PHOTO_UPLOAD).where(PHOTO_UPLOAD.c.day < before))
