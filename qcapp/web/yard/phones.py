"""The yard lead's page of phones: join codes, what waits for a decision, files from phones."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, StringConstraints

from qcapp.access.devices import make_join_code, revoke_device
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.sync.push import IMPORTED
from qcapp.usecases.load_batch import read_batch
from qcapp.usecases.load_phones import load_phones
from qcapp.usecases.take_in_file import find_held_back, take_in_file
from qcapp.web.deps import NowDep, SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.layout.qr import draw_code
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.reach import find_reach
from qcapp.web.rules import FEW_TEXTS, MAX_FILE_BODY_BYTES, allow

router = APIRouter(include_in_schema=False)


class PhoneForm(BaseModel):
    """buyer_batch: of a phone of the buyer's inspector; empty for the yard's own."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=40)]
    buyer_batch: Annotated[str, StringConstraints(max_length=100)] = ""


class FileForm(BaseModel):
    file: UploadFile | None = None


@router.get("/yard", dependencies=[allow("manage_phones")])
def show_yard(request: Request, store: StoreDep) -> Response:
    return _yard_page(request, store)


@router.post("/yard/join-codes", dependencies=[allow("manage_phones", "join_code_made")])
def add_join_code(
    request: Request,
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    form: Annotated[PhoneForm, Form()],
) -> Response:
    name = form.name.strip()
    if form.buyer_batch:
        read_batch(store, form.buyer_batch)
    code = make_join_code(
        store,
        name=name,
        minutes=settings.join_minutes,
        now=now,
        buyer_batch=form.buyer_batch or None,
    )
    address = find_reach(request).link(f"phone/#join={code}")
    fresh = {
        "name": name,
        "code": code,
        "address": address,
        "picture": draw_code(address) if address else None,
        "minutes": settings.join_minutes,
    }
    return _yard_page(request, store, fresh)


@router.post(
    "/yard/phones/{device_id}/revoke",
    dependencies=[allow("manage_phones", "phone_signed_off")],
)
def sign_off_phone(device_id: str, store: StoreDep, now: NowDep) -> Response:
    revoke_device(store, device_id, now=now)
    return RedirectResponse("/yard", status_code=303)


@router.get("/yard/import", dependencies=[allow("manage_phones")])
def show_import(request: Request) -> Response:
    return page(
        request, "yard/import_file.html", title=phrase("Import a file"), result=None, rows={}
    )


@router.post(
    "/yard/import",
    dependencies=[allow("manage_phones", "file_imported", max_bytes=MAX_FILE_BODY_BYTES)],
    form_limits=FEW_TEXTS,
)
def take_file(
    request: Request, form: Annotated[FileForm, Form()], store: StoreDep, now: NowDep
) -> Response:
    if form.file is None:
        raise BadInput(
            phrase("no file was chosen"), "file", phrase("choose the file saved on the phone")
        )
    result = take_in_file(store, form.file.file, relayed_by=IMPORTED, now=now)
    return page(
        request,
        "yard/import_file.html",
        title=phrase("File imported"),
        result=result,
        rows=find_held_back(store, result),
    )


def _yard_page(request: Request, store: Store, fresh: dict[str, Any] | None = None) -> Response:
    """fresh: the join code just made, shown once."""
    found = load_phones(store)
    return yard_page(
        request,
        store,
        "yard/phones.html",
        title=phrase("Phones and records"),
        phones=found.phones,
        joined=found.joined,
        quarantined=found.waiting,
        offered=found.offered,
        doubts=found.doubts,
        names={phone.id: phone.name for phone in found.phones},
        fresh=fresh,
        reach=find_reach(request),
    )
