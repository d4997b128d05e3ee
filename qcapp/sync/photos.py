"""Taking photos piece by piece, and giving them to those who see a record that names them."""

import hashlib
import json
import re
from collections.abc import Iterator
from datetime import datetime
from itertools import islice
from typing import Any

from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import photos
from qcapp.sync.allowance import Allowance
from qcapp.sync.image import find_image_error
from qcapp.sync.photo_refusals import REFUSALS

# A record has about thirty checks, and one photo of most faults.
MAX_NAMED = 100
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


def receive_piece(
    store: Store,
    sha256: str,
    *,
    size: int,
    offset: int,
    piece: bytes,
    sender: str | None,
    now: datetime,
) -> int:
    """Keeps a piece and gives the length kept, 0 when it has to be sent afresh.

    sender: the phone whose allowance it takes from, None for the lead. Raises Clash for a wrong
    offset, TooMany for more than a day's allowance, and BadInput for what is no photo: then nothing
    of it is kept.
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
        _take_from_allowance(connection, sha256, piece, sender, now)
        return photos.append_piece(
            connection, sha256, size=size, offset=offset, piece=piece, is_sound=is_right
        )


def _take_from_allowance(
    connection: Connection, sha256: str, piece: bytes, sender: str | None, now: datetime
) -> None:
    allowance = Allowance(connection, sender, now)
    allowance.take_piece(
        sha256,
        len(piece),
        is_first=photos.find_length(connection, sha256) is None,
        is_named=photos.is_named(connection, sha256),
    )
    allowance.keep()


def receive_whole(
    store: Store, sha256: str, content: bytes, *, sender: str | None, now: datetime
) -> bool:
    """Keeps bytes that hash to this name, instead of pieces; gives whether they are new. Raises
    BadInput.
    """
    with store.reading() as connection:
        if photos.find_photo(connection, check_name(sha256)) is not None:
            return False
    _refuse_error(store, sha256, content)
    with store.writing() as connection:
        _take_from_allowance(connection, sha256, content, sender, now)
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


# Nearly no record has one: a look at its text tells without a walk through all it holds.
SOME_PHOTO = re.compile(r'"photos": ?\["')


def list_named(raw: str) -> list[str]:
    """Photos of a record (as the log keeps it) that may be shown, the first ones of one that names
    more than any has.
    """
    if not SOME_PHOTO.search(raw):
        return []
    return list(islice(list_photo_names(json.loads(raw)), MAX_NAMED))


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
