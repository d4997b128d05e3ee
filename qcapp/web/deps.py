"""What a route may ask for: the store, the settings, the time, the phone behind a token."""

import json
import zlib
from datetime import datetime
from typing import Annotated, Any

from fastapi import Depends, Header, Request
from fastapi.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from qcapp.errors import BadInput, NotPaired, TooLarge
from qcapp.i18n.phrase import phrase
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.registry.yard_facts import get_yard_name
from qcapp.sync.export_file import MAX_FILE_BYTES
from qcapp.sync.protocol import MAX_BYTES

FORM_BYTES = 10_000
MAX_FIELDS = 200
MAX_LONG_FIELDS = 5000


def get_store(request: Request) -> Store:
    return request.app.state.store


def get_settings(request: Request) -> Settings:
    return request.app.state.settings


def get_now(request: Request) -> datetime:
    """The server's time; tests put another clock into the app's state."""
    return request.app.state.clock()


def get_drawings(request: Request) -> dict[str, str]:
    """SVG text by file name, read once at start."""
    return request.app.state.drawings


def get_yard_name_here(request: Request) -> str:
    state = request.app.state
    with state.store.reading() as connection:
        return get_yard_name(connection, state.settings.yard_name)


StoreDep = Annotated[Store, Depends(get_store)]
SettingsDep = Annotated[Settings, Depends(get_settings)]
DrawingsDep = Annotated[dict[str, str], Depends(get_drawings)]
NowDep = Annotated[datetime, Depends(get_now)]
YardNameDep = Annotated[str, Depends(get_yard_name_here)]


def get_phone(request: Request, authorization: Annotated[str | None, Header()] = None) -> str:
    """The id of the phone the gate let in. The header is named here for the description at /api/openapi.json."""
    device_id = request.state.caller.device_id
    if device_id is None:
        raise NotPaired(
            phrase("this phone must be paired again"),
            "token",
            phrase("enter a new join code; unsent work is safe"),
        )
    return device_id


PhoneDep = Annotated[str, Depends(get_phone)]


async def read_form(request: Request) -> dict[str, str]:
    """The text fields of a form whose field names are not known beforehand."""
    return await _read_fields(request, max_files=0, max_fields=MAX_FIELDS)


async def read_long_form(request: Request) -> dict[str, str]:
    """The same of a form with fields for each check of a sheet or a checklist."""
    return await _read_fields(request, max_fields=MAX_LONG_FIELDS)


async def _read_fields(request: Request, **limits: int) -> dict[str, str]:
    async with request.form(**limits) as form:
        return {key: value for key, value in form.items() if isinstance(value, str)}


FormDep = Annotated[dict[str, str], Depends(read_form)]
LongFormDep = Annotated[dict[str, str], Depends(read_long_form)]


async def read_body(request: Request) -> bytes:
    """The request's bytes, inflated when gzip, never more than MAX_BYTES either way."""
    return await _read_at_most(request, MAX_BYTES, "send fewer events at once")


async def read_file_body(request: Request) -> bytes:
    """The same for a whole file handed over."""
    return await _read_at_most(
        request, MAX_FILE_BYTES, "hand over fewer photos; the records are small"
    )


async def _read_at_most(request: Request, most: int, todo: str) -> bytes:
    too_large = TooLarge(phrase("the body has more than %(most)s bytes", most=most), "body", todo)
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > most:
            raise too_large
        parts.append(part)
    body = b"".join(parts)
    if request.headers.get("content-encoding", "").lower() != "gzip":
        return body
    inflater = zlib.decompressobj(wbits=31)
    try:
        inflated = await run_in_threadpool(inflater.decompress, body, most)
    except zlib.error as error:
        raise BadInput(
            phrase("the body is not gzip"), "Content-Encoding", phrase("send it again")
        ) from error
    if inflater.unconsumed_tail:
        raise too_large
    return inflated


async def read_upload(request: Request) -> bytes:
    """The one file of a form. Its length is looked at before anything is taken in."""
    length = request.headers.get("content-length", "")
    if not length.isascii() or not length.isdigit():
        raise BadInput(
            phrase("the form does not say how long it is"),
            "Content-Length",
            phrase("send it from the page"),
        )
    if int(length) > MAX_FILE_BYTES + FORM_BYTES:
        raise TooLarge(
            phrase(
                "the file has more than %(max_file_bytes)s bytes", max_file_bytes=MAX_FILE_BYTES
            ),
            "file",
            phrase("hand over fewer photos; the records are small"),
        )
    async with request.form(max_files=1, max_fields=MAX_FIELDS) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile):
            raise BadInput(
                phrase("no file was chosen"), "file", phrase("choose the file saved on the phone")
            )
        return await file.read()


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
UploadDep = Annotated[bytes, Depends(read_upload)]
