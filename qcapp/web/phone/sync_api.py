"""Calls of the phone: join, greet, fetch, push, pull, photos."""

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Header, Query, Request, Response
from fastapi.responses import JSONResponse

from qcapp.access.devices import rotate_token
from qcapp.errors import BadInput, Clash
from qcapp.i18n.phrase import phrase
from qcapp.store.registry import photos
from qcapp.sync.buyers_reference import build_buyers_reference
from qcapp.sync.photos import check_name, get_photo, receive_piece
from qcapp.sync.protocol import MAX_WHOLE, PullAnswer, PushAnswer
from qcapp.sync.pull import pull_events, pull_nothing
from qcapp.sync.push import parse_push, receive_push
from qcapp.sync.reference import build_hello, build_reference
from qcapp.usecases.join_phone import JoiningPhone, join_phone
from qcapp.usecases.keep_lesson_parts import load_media
from qcapp.usecases.log_checkpoints import show_log, take_doubt
from qcapp.usecases.practise_draft import load_practised
from qcapp.usecases.take_in_file import take_in_file
from qcapp.web.deps import (
    BuyerBatchDep,
    BytesDep,
    FileBodyDep,
    JsonDep,
    NowDep,
    PhoneDep,
    SettingsDep,
    StoreDep,
    YardNameDep,
    get_phone,
)
from qcapp.web.layout.lesson_media import send_media
from qcapp.web.rules import MAX_FILE_BODY_BYTES, allow

router = APIRouter()


@router.post("/api/devices/enrol", dependencies=[allow("join_phone")])
def enrol(request: Request, data: JsonDep, store: StoreDep, now: NowDep) -> dict[str, Any]:
    if not isinstance(data, dict) or not all(
        isinstance(data.get(key), str) for key in ("code", "device_id")
    ):
        raise BadInput(
            phrase("code and device_id are needed as text"), "body", phrase("enter the code again")
        )
    address = request.client.host if request.client else ""
    key, secret = (
        value if isinstance(value := data.get(name), str) else None for name in ("key", "secret")
    )
    phone = JoiningPhone(data["code"], data["device_id"], key, secret)
    joined = join_phone(store, phone, address=address, now=now)
    return vars(joined)


@router.post("/api/devices/rotate", dependencies=[allow("sync")])
def rotate(store: StoreDep, phone: PhoneDep) -> dict[str, str]:
    return {"device_id": phone, "token": rotate_token(store, phone)}


@router.get("/api/sync/hello", dependencies=[allow("greet")])
def hello(
    request: Request,
    *,
    store: StoreDep,
    settings: SettingsDep,
    yard_name: YardNameDep,
    buyer_batch: BuyerBatchDep,
    now: NowDep,
    since: Annotated[int | None, Query(ge=0, le=MAX_WHOLE)] = None,
) -> dict[str, Any]:
    # Whoever has no phone of this yard makes no key.
    shown = show_log(store, settings.key_file, since) if settings.key_file.exists() else None
    greeting = build_hello(store, yard_name=yard_name, now=now) | {"log": shown}
    if buyer_batch is None:
        return greeting
    phone = get_phone(request)
    reference = build_buyers_reference(store, buyer_batch, phone, yard_name=yard_name)
    return {**greeting, "reference_tag": reference["tag"]}


@router.get("/api/sync/reference", dependencies=[allow("sync")])
def reference(
    store: StoreDep,
    yard_name: YardNameDep,
    phone: PhoneDep,
    buyer_batch: BuyerBatchDep,
    if_none_match: Annotated[str | None, Header()] = None,
) -> Response:
    if buyer_batch is None:
        answer = build_reference(store, yard_name=yard_name)
    else:
        answer = build_buyers_reference(store, buyer_batch, phone, yard_name=yard_name)
    tag = f'"{answer["tag"]}"'
    if if_none_match == tag:
        return Response(status_code=304, headers={"ETag": tag})
    return JSONResponse(answer, headers={"ETag": tag, "Cache-Control": "no-cache"})


@router.get("/api/practice/{token}", dependencies=[allow("sync")])
def get_practised_draft(
    token: str,
    store: StoreDep,
    settings: SettingsDep,
    _phone: PhoneDep,
    now: NowDep,
) -> Response:
    """A draft to walk in practice; the phone keeps nothing of it."""
    found = load_practised(store, settings.checklists_dir, token, now)
    return JSONResponse(asdict(found), headers={"Cache-Control": "no-store"})


@router.post("/api/sync/push", dependencies=[allow("sync")])
def push(
    request: Request,
    *,
    data: JsonDep,
    store: StoreDep,
    settings: SettingsDep,
    phone: PhoneDep,
    buyer_batch: BuyerBatchDep,
    now: NowDep,
) -> PushAnswer:
    asked = parse_push(data)
    answer = receive_push(store, asked, relayed_by=phone, now=now, buyer_batch=buyer_batch)
    if asked.doubt is not None:
        take_doubt(store, settings.key_file, asked.doubt, device_id=phone, now=now)
    answer.log = show_log(store, settings.key_file, asked.since)
    if answer.log and request.app.state.keep_checkpoint:
        request.app.state.keep_checkpoint(answer.log.note)
    return answer


@router.post(
    "/api/sync/import", dependencies=[allow("share_records", max_bytes=MAX_FILE_BODY_BYTES)]
)
def take_file(
    content: FileBodyDep, store: StoreDep, phone: PhoneDep, now: NowDep
) -> dict[str, Any]:
    result = take_in_file(store, content, relayed_by=phone, now=now)
    return asdict(result) | {"quarantined": [one.model_dump() for one in result.quarantined]}


@router.get("/api/sync/pull", dependencies=[allow("sync")])
def pull(
    *,
    store: StoreDep,
    phone: PhoneDep,
    buyer_batch: BuyerBatchDep,
    cursor: str = "",
    limit: int = 200,
    device: str = "",
) -> PullAnswer:
    if buyer_batch is not None:
        return pull_nothing(store)
    # A phone that lost records makes new ones under another id than its token's, and may lack what
    # it made before.
    return pull_events(store, device_id=device or phone, cursor=cursor, limit=limit)


@router.head("/api/photos/{sha256}", dependencies=[allow("sync")])
def get_photo_length(sha256: str, store: StoreDep, _phone: PhoneDep) -> Response:
    with store.reading() as connection:
        length = photos.find_length(connection, check_name(sha256))
    return Response(headers={"Upload-Offset": str(length or 0), "Cache-Control": "no-store"})


@router.patch("/api/photos/{sha256}", dependencies=[allow("sync")])
def append_photo(
    sha256: str,
    *,
    piece: BytesDep,
    store: StoreDep,
    phone: PhoneDep,
    now: NowDep,
    upload_length: Annotated[int, Header(ge=1)],
    upload_offset: Annotated[int, Header(ge=0)],
) -> Response:
    try:
        length = receive_piece(
            store,
            sha256,
            size=upload_length,
            offset=upload_offset,
            piece=piece,
            sender=phone,
            now=now,
        )
    except Clash as error:
        return Response(status_code=409, headers={"Upload-Offset": error.where})
    return Response(status_code=204, headers={"Upload-Offset": str(length)})


@router.get("/api/photos/{sha256}", dependencies=[allow("share_records")])
def get_photo_as_phone(sha256: str, store: StoreDep, _phone: PhoneDep) -> Response:
    return _show(sha256, get_photo(store, sha256))


@router.get("/photos/{sha256}", include_in_schema=False, dependencies=[allow("see_photos")])
def get_photo_as_page(sha256: str, store: StoreDep) -> Response:
    """Open to whoever may open the pages, which show the records that name the photo."""
    return _show(sha256, get_photo(store, sha256))


@router.get("/api/lesson-media/{sha256}", dependencies=[allow("fetch_lessons")])
def get_lesson_media_as_phone(sha256: str, store: StoreDep, _phone: PhoneDep) -> Response:
    return send_media(load_media(store, sha256))


@router.get("/lesson-media/{sha256}", include_in_schema=False, dependencies=[allow("see_figures")])
def get_lesson_media_as_page(sha256: str, store: StoreDep) -> Response:
    return send_media(load_media(store, sha256))


def _show(sha256: str, content: bytes) -> Response:
    headers = {
        "X-Content-Type-Options": "nosniff",
        "Content-Disposition": f'inline; filename="{sha256[:12]}.jpg"',
        "Content-Security-Policy": "default-src 'none'; sandbox",
        "Cache-Control": "no-store",
    }
    return Response(content, media_type="image/jpeg", headers=headers)
