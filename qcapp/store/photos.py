"""Photos: named by the SHA-256 of their bytes, grown piece by piece until whole."""

import hashlib
from collections.abc import Collection

from sqlalchemy import Connection, delete, insert, select, update

from qcapp.errors import BadInput, Clash
from qcapp.store.tables import Photo

PHOTO = Photo.__table__
# A phone sends about 100 kB; a very rough surface at 1280 px may take ten times that.
MOST_BYTES = 2_000_000


def find_length(connection: Connection, sha256: str) -> int | None:
    """Bytes kept so far, None when nothing of it is here."""
    content = connection.execute(select(PHOTO.c.content).where(PHOTO.c.sha256 == sha256)).scalar()
    return None if content is None else len(content)


def append_piece(connection: Connection, sha256: str, *, size: int, offset: int, piece: bytes) -> int:
    """Adds a piece at its place and gives the new length in bytes.

    Raises Clash when offset is not the length kept (its `where` is the right one). When
    the whole does not hash to its name the pieces are dropped and 0 is given, so that the
    phone sends it afresh.
    """
    row = connection.execute(select(PHOTO).where(PHOTO.c.sha256 == sha256)).first()
    kept = row.content if row else b""
    if row and row.is_whole:
        return len(kept)
    if offset != len(kept):
        raise Clash("the piece does not follow what is kept", str(len(kept)), "send from this offset")
    content = kept + piece
    if size > MOST_BYTES or len(content) > size:
        raise BadInput("the photo is larger than announced or allowed", sha256, f"at most {MOST_BYTES} bytes")
    is_whole = len(content) == size
    if is_whole and hashlib.sha256(content).hexdigest() != sha256:
        connection.execute(delete(PHOTO).where(PHOTO.c.sha256 == sha256))
        return 0
    values = {"size": size, "is_whole": is_whole, "content": content}
    if row:
        connection.execute(update(PHOTO).where(PHOTO.c.sha256 == sha256).values(**values))
    else:
        connection.execute(insert(PHOTO), [{"sha256": sha256, **values}])
    return len(content)


def find_photo(connection: Connection, sha256: str) -> bytes | None:
    """The bytes of a whole photo, None while it is on its way."""
    query = select(PHOTO.c.content).where(PHOTO.c.sha256 == sha256, PHOTO.c.is_whole)
    return connection.execute(query).scalar()


def list_whole(connection: Connection, names: Collection[str]) -> list[str]:
    """Those of the named photos that are here as a whole."""
    return list(connection.execute(select(PHOTO.c.sha256).where(PHOTO.c.sha256.in_(list(names)), PHOTO.c.is_whole)).scalars())
