"""Calls of the phone: join, greet, fetch, push, pull, photos."""

from typing import Annotated

from fastapi import APIRouter, Header, Response
from fastapi.responses import JSONResponse

from qcapp.access.devices import join_device
from qcapp.errors import BadInput, Clash, NotFound
from qcapp.store import photos
from qcapp.sync.feed import build_hello, build_reference, pull_events
from qcapp.sync.protocol import PullAnswer, PushAnswer
from qcapp.sync.receive import parse_push, receive_push
from qcapp.web.deps import BytesDep, DrawingsDep, JsonDep, NowDep, PhoneDep, SettingsDep, StoreDep

router = APIRouter()
HEX = frozenset("0123456789abcdef")


@router.post("/api/devices/enrol")
def enrol(data: JsonDep, store: StoreDep, now: NowDep) -> dict:
    if not isinstance(data, dict) or not all(isinstance(data.get(key), str) for key in ("code", "device_id")):
        raise BadInput("code and device_id are needed as text", "body", "enter the code again")
    return vars(join_device(store, code=data["code"], device_id=data["device_id"], now=now))


@router.get("/api/sync/hello")
def hello(store: StoreDep, settings: SettingsDep, drawings: DrawingsDep, now: NowDep) -> dict:
    return build_hello(store, yard_name=settings.yard_name, drawings=drawings, now=now)


@router.get("/api/sync/reference")
def reference(
    store: StoreDep,
    settings: SettingsDep,
    drawings: DrawingsDep,
    _phone: PhoneDep,
    if_none_match: Annotated[str | None, Header()] = None,
) -> Response:
    answer = build_reference(store, yard_name=settings.yard_name, drawings=drawings)
    tag = f'"{answer["tag"]}"'
    if if_none_match == tag:
        return Response(status_code=304, headers={"ETag": tag})
    return JSONResponse(answer, headers={"ETag": tag, "Cache-Control": "no-cache"})


@router.post("/api/sync/push")
def push(data: JsonDep, store: StoreDep, phone: PhoneDep, now: NowDep) -> PushAnswer:
    return receive_push(store, parse_push(data), relayed_by=phone, now=now)


@router.get("/api/sync/pull")
def pull(store: StoreDep, phone: PhoneDep, cursor: str = "", limit: int = 200) -> PullAnswer:
    return pull_events(store, device_id=phone, cursor=cursor, limit=limit)


@router.head("/api/photos/{sha256}")
def get_photo_length(sha256: str, store: StoreDep, _phone: PhoneDep) -> Response:
    with store.reading() as connection:
        length = photos.find_length(connection, _checked(sha256))
    return Response(headers={"Upload-Offset": str(length or 0), "Cache-Control": "no-store"})


@router.patch("/api/photos/{sha256}")
def append_photo(
    sha256: str,
    piece: BytesDep,
    store: StoreDep,
    _phone: PhoneDep,
    upload_length: Annotated[int, Header(ge=1)],
    upload_offset: Annotated[int, Header(ge=0)],
) -> Response:
    try:
        with store.writing() as connection:
            length = photos.append_piece(
                connection, _checked(sha256), size=upload_length, offset=upload_offset, piece=piece
            )
    except Clash as trouble:
        return Response(status_code=409, headers={"Upload-Offset": trouble.where})
    return Response(status_code=204, headers={"Upload-Offset": str(length)})


@router.get("/photos/{sha256}")
def show_photo(sha256: str, store: StoreDep) -> Response:
    with store.reading() as connection:
        content = photos.find_photo(connection, _checked(sha256))
    if content is None:
        raise NotFound("this photo has not arrived yet", sha256[:12], "it comes when the phone is near signal")
    headers = {"X-Content-Type-Options": "nosniff", "Content-Security-Policy": "default-src 'none'", "Cache-Control": "private"}
    return Response(content, media_type="image/jpeg", headers=headers)


def _checked(sha256: str) -> str:
    if len(sha256) != 64 or not set(sha256) <= HEX:
        raise BadInput("a photo is named by 64 hex digits", "address", "send the photo's SHA-256")
    return sha256


