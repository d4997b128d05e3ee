"""Photos: named by the SHA-256 of their bytes, grown piece by piece until whole."""

import hashlib
from collections.abc import Collection, Iterable

from sqlalchemy import Connection, delete, insert, select, update

from qcapp.errors import BadInput, Clash
from qcapp.i18n.phrase import phrase
from qcapp.store.tables import PHOTO, PHOTO_NAME

# A phone sends about 100 kB; a very rough surface at 1280 px may take ten times that.
MAX_BYTES = 2_000_000


def find_length(connection: Connection, sha256: str) -> int | None:
    """Bytes kept so far, None when nothing of it is here."""
    content = connection.execute(select(PHOTO.c.content).where(PHOTO.c.sha256 == sha256)).scalar()
    return None if content is None else len(content)


def find_pieces(connection: Connection, sha256: str) -> bytes:
    """What is kept so far, whole or not; nothing when nothing is here."""
    return (
        connection.execute(select(PHOTO.c.content).where(PHOTO.c.sha256 == sha256)).scalar() or b""
    )


def append_piece(
    connection: Connection, sha256: str, *, size: int, offset: int, piece: bytes, is_sound: bool
) -> int:
    """Adds a piece at its place and gives the new length in bytes.

    is_sound: the bytes of this name were looked at and may be kept; asked only when it is whole.
    Raises Clash when offset is not the length kept (its `where` is the right one). When the
    whole does not hash to its name or is not sound the pieces are dropped and 0 is given, so
    that the phone sends it afresh.
    """
    row = connection.execute(select(PHOTO).where(PHOTO.c.sha256 == sha256)).first()
    kept = row.content if row else b""
    if row and row.is_whole:
        return len(kept)
    if offset != len(kept):
        raise Clash(
            phrase("this part of the photo does not continue what the server has"),
            str(len(kept)),
            phrase("send from this offset"),
        )
    content = kept + piece
    if size > MAX_BYTES or len(content) > size:
        raise BadInput(
            phrase("the photo is larger than announced or allowed"),
            sha256,
            phrase("at most %(max_bytes)s bytes", max_bytes=MAX_BYTES),
        )
    is_whole = len(content) == size
    if is_whole and not (is_sound and hashlib.sha256(content).hexdigest() == sha256):
        drop_pieces(connection, sha256)
        return 0
    values = {"size": size, "is_whole": is_whole, "content": content}
    if row:
        connection.execute(update(PHOTO).where(PHOTO.c.sha256 == sha256).values(**values))
    else:
        connection.execute(insert(PHOTO), [{"sha256": sha256, **values}])
    return len(content)


def drop_pieces(connection: Connection, sha256: str) -> None:
    """Forgets a photo that is not whole."""
    connection.execute(delete(PHOTO).where(PHOTO.c.sha256 == sha256, PHOTO.c.is_whole.is_not(True)))


def find_photo(connection: Connection, sha256: str) -> bytes | None:
    """The bytes of a whole photo, None while it is on its way."""
    query = select(PHOTO.c.content).where(PHOTO.c.sha256 == sha256, PHOTO.c.is_whole)
    return connection.execute(query).scalar()


def list_whole(connection: Connection, names: Collection[str]) -> set[str]:
    """Those of the names whose photo is here, whole."""
    query = select(PHOTO.c.sha256).where(PHOTO.c.sha256.in_(sorted(names)), PHOTO.c.is_whole)
    return set(connection.execute(query).scalars())


def add_names(connection: Connection, names: Iterable[str]) -> None:
    """Remembers that a record names these photos; only such a photo is ever shown."""
    wanted = sorted(set(names))
    if not wanted:
        return
    known = set(
        connection.execute(
            select(PHOTO_NAME.c.sha256).where(PHOTO_NAME.c.sha256.in_(wanted))
        ).scalars()
    )
    fresh = [{"sha256": name} for name in wanted if name not in known]
    if fresh:
        connection.execute(insert(PHOTO_NAME), fresh)


def is_named(connection: Connection, sha256: str) -> bool:
    return (
        connection.execute(select(PHOTO_NAME.c.sha256).where(PHOTO_NAME.c.sha256 == sha256)).first()
        is not None
    )
