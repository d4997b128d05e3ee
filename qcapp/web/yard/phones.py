"""The start page and the yard lead's page: phones, join codes, what was set aside."""

from typing import Annotated

import segno
from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse

from qcapp.access.devices import make_join_code, revoke_device
from qcapp.access.roles import may
from qcapp.i18n.phrase import phrase
from qcapp.store import log
from qcapp.sync.device_states import list_devices_seen
from qcapp.sync.export_file import IMPORTED, import_export_file, parse_export_file
from qcapp.usecases.set_up_yard import load_guide
from qcapp.web.deps import NowDep, SettingsDep, StoreDep, UploadDep
from qcapp.web.layout.page import page
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import MAX_FILE_BODY_BYTES, allow

router = APIRouter(include_in_schema=False)


@router.get("/", dependencies=[allow("open_app")])
def show_start(request: Request, store: StoreDep, caller: CallerDep):
    guide = load_guide(store) if may(caller.role, "set_up") else None
    return page(request, "yard/start.html", title=phrase("Start"), guide=guide)


@router.get("/yard", dependencies=[allow("manage_phones")])
def show_yard(request: Request, store: StoreDep):
    return _yard_page(request, store)


@router.post("/yard/join-codes", dependencies=[allow("manage_phones", "join_code_made")])
def add_join_code(
    request: Request,
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    name: Annotated[str, Form(min_length=1, max_length=40)],
):
    code = make_join_code(store, name=name.strip(), minutes=settings.join_minutes, now=now)
    address = f"{request.base_url}phone/#join={code}"
    picture = segno.make(address, error="m").svg_inline(
        scale=5, dark="#201a15", light="#fffaf0", border=2
    )
    fresh = {
        "name": name.strip(),
        "code": code,
        "address": address,
        "picture": picture,
        "minutes": settings.join_minutes,
    }
    return _yard_page(request, store, fresh)


@router.post(
    "/yard/phones/{device_id}/revoke",
    dependencies=[allow("manage_phones", "phone_signed_off")],
)
def sign_off_phone(device_id: str, store: StoreDep, now: NowDep):
    revoke_device(store, device_id, now=now)
    return RedirectResponse("/yard", status_code=303)


@router.get("/yard/import", dependencies=[allow("manage_phones")])
def show_import(request: Request):
    return page(
        request, "yard/import_file.html", title=phrase("Take in a file"), result=None, rows={}
    )


@router.post(
    "/yard/import",
    dependencies=[allow("manage_phones", "file_imported", max_bytes=MAX_FILE_BODY_BYTES)],
)
def take_file(request: Request, content: UploadDep, store: StoreDep, now: NowDep):
    result = import_export_file(store, parse_export_file(content), relayed_by=IMPORTED, now=now)
    with store.reading() as connection:
        rows = (
            {row.id: row.seq for row in log.list_quarantined(connection)}
            if result.quarantined
            else {}
        )
    return page(
        request, "yard/import_file.html", title=phrase("File taken in"), result=result, rows=rows
    )


def _yard_page(request: Request, store: StoreDep, fresh: dict | None = None):
    with store.reading() as connection:
        phones = list_devices_seen(connection)
        quarantined = log.count_waiting(connection)
    joined = sum(phone.joined_at is not None for phone in phones)
    return yard_page(
        request,
        store,
        "yard/phones.html",
        title=phrase("Phones and records"),
        phones=phones,
        joined=joined,
        quarantined=quarantined,
        fresh=fresh,
    )
