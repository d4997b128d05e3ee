"""What a route may ask for: the store, the settings, the time, the phone behind a token."""

import asyncio
import json
import tempfile
import threading
import zlib
from collections import defaultdict
from collections.abc import AsyncIterator
from datetime import datetime
from typing import Annotated, Any, BinaryIO

from fastapi import Depends, Header, Request
from fastapi.concurrency import run_in_threadpool

from qcapp.errors import BadInput, NotPaired, TooLarge
from qcapp.i18n.phrase import phrase
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.sync.protocol import MAX_BYTES, MAX_FILE_BYTES
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.one_import import only_one_import
from qcapp.usecases.yard_state import read_yard_name

# Of a form with fields for each check of a sheet or a checklist; the framework stops at 1000.
MAX_SHEET_FIELDS = 5000
# Unpacked at once.
INFLATED = 262_144
# By phone: one that sends a file slowly keeps no other one waiting.
SPOOLS: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)
JSON_SLOTS = asyncio.Semaphore(4)


def get_store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


def get_settings(request: Request) -> Settings:
    settings: Settings = request.app.state.settings
    return settings


def get_now(request: Request) -> datetime:
    """The server's time; tests put another clock into the app's state."""
    now: datetime = request.app.state.clock()
    return now


def get_drawings(request: Request) -> KeptDrawings:
    drawings: KeptDrawings = request.app.state.drawings
    return drawings


def get_yard_name_here(request: Request) -> str:
    state = request.app.state
    return read_yard_name(state.store, state.settings.yard_name)


StoreDep = Annotated[Store, Depends(get_store)]
SettingsDep = Annotated[Settings, Depends(get_settings)]
DrawingsDep = Annotated[KeptDrawings, Depends(get_drawings)]
NowDep = Annotated[datetime, Depends(get_now)]
YardNameDep = Annotated[str, Depends(get_yard_name_here)]


def get_phone(
    request: Request, _authorization: Annotated[str | None, Header(alias="authorization")] = None
) -> str:
    """The id of the phone that was let in. The header is named here for the description at
    /api/openapi.json.
    """
    device_id: str | None = request.state.caller.device_id
    if device_id is None:
        raise NotPaired(
            phrase("this phone must join again"),
            "token",
            phrase("enter a new join code; unsent work is safe"),
        )
    return device_id


PhoneDep = Annotated[str, Depends(get_phone)]


async def read_body(request: Request) -> bytes:
    """The request's bytes, inflated when gzip, never more than MAX_BYTES either way."""
    return await _read_at_most(request, MAX_BYTES, "send fewer events at once")


async def read_file_body(request: Request, phone: PhoneDep) -> AsyncIterator[BinaryIO]:
    """The same for a whole file handed over; it lies on the disk until the answer is made.

    Raises TooMany while another of this phone is on its way.
    """
    with only_one_import(SPOOLS[phone]), tempfile.TemporaryFile() as spool:
        async for part in _inflate(
            request, MAX_FILE_BYTES, "hand over fewer photos; the records are small"
        ):
            await run_in_threadpool(spool.write, part)
        yield spool


async def _read_at_most(request: Request, max_bytes: int, todo: str) -> bytes:
    return b"".join([part async for part in _inflate(request, max_bytes, todo)])


async def _inflate(request: Request, max_bytes: int, todo: str) -> AsyncIterator[bytes]:
    """Piece by piece, unpacked when gzip. Raises TooLarge as soon as it is too much either way."""
    too_large = TooLarge(
        phrase("the body has more than %(most)s bytes", most=max_bytes), "body", todo
    )
    is_packed = request.headers.get("content-encoding", "").lower() == "gzip"
    inflater = zlib.decompressobj(wbits=31)
    came = size = 0
    async for part in request.stream():
        came += len(part)
        left = part
        while left:
            piece, left = await _unpack(inflater, left) if is_packed else (left, b"")
            size += len(piece)
            if max(came, size) > max_bytes:
                raise too_large
            yield piece


async def _unpack(inflater: Any, part: bytes) -> tuple[bytes, bytes]:
    """(at most INFLATED bytes, what is left of the part)."""
    try:
        piece = await run_in_threadpool(inflater.decompress, part, INFLATED)
    except zlib.error as error:
        raise BadInput(
            phrase("the body is not compressed with gzip"),
            "Content-Encoding",
            phrase("send it again"),
        ) from error
    return piece, inflater.unconsumed_tail


async def read_json(body: Annotated[bytes, Depends(read_body)]) -> AsyncIterator[Any]:
    """Few at a time: 262 kB of text can be 20 MB of objects, and writers take turns anyway."""
    async with JSON_SLOTS:
        try:
            read = json.loads(body)
        except (ValueError, RecursionError) as error:
            raise BadInput(
                phrase("the body is not JSON"), "body", phrase("send it again; nothing was stored")
            ) from error
        yield read


JsonDep = Annotated[Any, Depends(read_json)]
BytesDep = Annotated[bytes, Depends(read_body)]
FileBodyDep = Annotated[BinaryIO, Depends(read_file_body)]


def get_buyer_batch(request: Request) -> str | None:
    """Of a phone of the buyer's inspector the batch that it checks again."""
    batch: str | None = request.state.caller.buyer_batch
    return batch


BuyerBatchDep = Annotated[str | None, Depends(get_buyer_batch)]
