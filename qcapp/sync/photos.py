"""Taking photos piece by piece, and giving them to those who see a record that names them."""

import hashlib
from collections.abc import Iterator
from typing import Any

from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import photos
from qcapp.sync.image import find_image_error
from qcapp.sync.photo_refusals import REFUSALS

HEX = frozenset("0123456789abcdef")


def check_name(sha256: str) -> str:
    """The name itself. Raises BadInput when it is no SHA-256 in lower-case hex."""
    if not _is_name(sha256):
        raise BadInput(
            phrase("a photo is named by 64 hex digits"),
            "address",
            phrase("send the photo's SHA-256"),
        )
    return sha256


def receive_piece(store: Store, sha256: str, *, size: int, offset: int, piece: bytes) -> int:
    """Keeps a piece and gives the length kept, 0 when it has to be sent afresh.

    Raises Clash for a wrong offset, and BadInput for what is no photo: then nothing of it is kept.
    """
    # Looked at before the write lock is taken; the name says that it is still the same bytes there.
    with store.reading() as connection:
        whole = photos.find_pieces(connection, check_name(sha256)) + piece
    is_right = (
        len(whole) == size <= photos.MAX_BYTES and hashlib.sha256(whole).hexdigest() == sha256
    )
    if is_right:
        _refuse_error(store, sha256, whole)
    with store.writing() as connection:
        return photos.append_piece(
            connection, sha256, size=size, offset=offset, piece=piece, is_sound=is_right
        )


def receive_whole(store: Store, sha256: str, content: bytes) -> bool:
    """Keeps bytes that hash to this name, instead of pieces; gives whether they are new. Raises
    BadInput.
    """
    with store.reading() as connection:
        if photos.find_photo(connection, check_name(sha256)) is not None:
            return False
    _refuse_error(store, sha256, content)
    with store.writing() as connection:
        photos.drop_pieces(connection, sha256)
        photos.append_piece(
            connection, sha256, size=len(content), offset=0, piece=content, is_sound=True
        )
    return True


def _refuse_error(store: Store, sha256: str, content: bytes) -> None:
    error = find_image_error(content)
    if error:
        with store.writing() as connection:
            photos.drop_pieces(connection, sha256)
        raise BadInput(
            phrase("photo refused: %(error)s", error=REFUSALS.word(error)),
            sha256[:12],
            phrase("the phone keeps it; take it again in the app"),
            reason=error,
        )


def get_photo(store: Store, sha256: str) -> bytes:
    """JPEG bytes of a whole photo that some record names. Raises NotFound."""
    with store.reading() as connection:
        content = photos.find_photo(connection, check_name(sha256))
        is_named = photos.is_named(connection, sha256)
    if not is_named:
        raise NotFound(
            phrase("no record names this photo"), sha256[:12], phrase("check the address")
        )
    if content is None:
        raise NotFound(
            phrase("this photo has not arrived yet"),
            sha256[:12],
            phrase("it arrives when the phone is near signal"),
        )
    return content


def list_photo_names(event: Any) -> Iterator[str]:
    """Every photo an event names, in itself or in its answers; whatever shape it came in."""
    waiting = [event]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            named = value.get("photos")
            yield from (
                name
                for name in (named if isinstance(named, list) else ())
                if isinstance(name, str) and _is_name(name)
            )
            waiting.extend(value.values())
        elif isinstance(value, list):
            waiting.extend(value)


def _is_name(text: str) -> bool:
    return len(text) == 64 and set(text) <= HEX
