"""Pictures and voice notes of lessons, each content once, by its SHA-256."""

import hashlib
from collections.abc import Collection
from typing import NamedTuple

from sqlalchemy import Connection, delete, insert, select

from qcapp.store.tables import LESSON_MEDIA


class Media(NamedTuple):
    type: str
    content: bytes


def keep_media(connection: Connection, media: Media) -> str:
    """Its SHA-256; the same content again changes nothing."""
    sha256 = hashlib.sha256(media.content).hexdigest()
    known = select(LESSON_MEDIA.c.sha256).where(LESSON_MEDIA.c.sha256 == sha256)
    if connection.execute(known).first() is None:
        row = {"sha256": sha256, "type": media.type, "content": media.content}
        connection.execute(insert(LESSON_MEDIA), [row])
    return sha256


def find_media(connection: Connection, sha256: str) -> Media | None:
    columns = (LESSON_MEDIA.c.type, LESSON_MEDIA.c.content)
    row = connection.execute(select(*columns).where(LESSON_MEDIA.c.sha256 == sha256)).first()
    return Media(row.type, bytes(row.content)) if row else None


def delete_all_but(connection: Connection, used: Collection[str]) -> None:
    """A voice that was taken back is heard by nobody any more."""
    connection.execute(delete(LESSON_MEDIA).where(LESSON_MEDIA.c.sha256.not_in(sorted(used))))
