"""What a route may ask for: the store, the settings, the time, the phone behind a token."""

import json
import zlib
from datetime import datetime
from typing import Annotated, Any

from fastapi import Depends, Header, Request
from fastapi.concurrency import run_in_threadpool

from qcapp.errors import BadInput, NotPaired, TooLarge
from qcapp.i18n.phrase import phrase
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.sync.export_file import MAX_FILE_BYTES
from qcapp.sync.protocol import MAX_BYTES
from qcapp.usecases.yard_state import read_yard_name

# Of a form with fields for each check of a sheet or a checklist; the framework stops at 1000.
MAX_SHEET_FIELDS = 5000


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


def get_drawings(request: Request) -> dict[str, str]:
    """SVG text by file name, read once at start."""
    drawings: dict[str, str] = request.app.state.drawings
    return drawings


def get_yard_name_here(request: Request) -> str:
    state = request.app.state
    return read_yard_name(state.store, state.settings.yard_name)


StoreDep = Annotated[Store, Depends(get_store)]
SettingsDep = Annotated[Settings, Depends(get_settings)]
DrawingsDep = Annotated[dict[str, str], Depends(get_drawings)]
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


async def read_file_body(request: Request) -> bytes:
    """The same for a whole file handed over."""
    return await _read_at_most(
        request, MAX_FILE_BYTES, "hand over fewer photos; the records are small"
    )


async def _read_at_most(request: Request, max_bytes: int, todo: str) -> bytes:
    too_large = TooLarge(
        phrase("the body has more than %(most)s bytes", most=max_bytes), "body", todo
    )
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > max_bytes:
            raise too_large
        parts.append(part)
    body = b"".join(parts)
    if request.headers.get("content-encoding", "").lower() != "gzip":
        return body
    inflater = zlib.decompressobj(wbits=31)
    try:
        inflated = await run_in_threadpool(inflater.decompress, body, max_bytes)
    except zlib.error as error:
        raise BadInput(
            phrase("the body is not compressed with gzip"),
            "Content-Encoding",
            phrase("send it again"),
        ) from error
    if inflater.unconsumed_tail:
        raise too_large
    return inflated


async def read_json(body: Annotated[bytes, Depends(read_body)]) -> Any:
    try:
        return json.loads(body)
    except (ValueError, RecursionError) as error:
        raise BadInput(
            phrase("the body is not JSON"), "body", phrase("send it again; nothing was stored")
        ) from error


JsonDep = Annotated[Any, Depends(read_json)]
BytesDep = Annotated[bytes, Depends(read_body)]
FileBodyDep = Annotated[bytes, Depends(read_file_body)]
