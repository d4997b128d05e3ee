"""The start page and the yard lead's page: phones, join codes, what was set aside."""

from typing import Annotated

import segno
from fastapi import APIRouter, Depends, Form, Request

from qcapp.access.devices import make_join_code
from qcapp.store import devices, log
from qcapp.sync.aside import list_aside
from qcapp.web.deps import NowDep, SettingsDep, StoreDep, refuse_foreign
from qcapp.web.pages import page

router = APIRouter(include_in_schema=False, dependencies=[Depends(refuse_foreign)])


@router.get("/")
def show_start(request: Request):
    return page(request, "start.html", title="Start")


@router.get("/yard")
def show_yard(request: Request, store: StoreDep):
    return _yard_page(request, store)


@router.post("/yard/join-codes")
def add_join_code(request: Request, store: StoreDep, settings: SettingsDep, now: NowDep, name: Annotated[str, Form(min_length=1, max_length=40)]):
    code = make_join_code(store, name=name.strip(), minutes=settings.join_minutes, now=now)
    address = f"{request.base_url}phone/#join={code}"
    picture = segno.make(address, error="m").svg_inline(scale=5, dark="#201a15", light="#fffaf0", border=2)
    fresh = {"name": name.strip(), "code": code, "address": address, "picture": picture, "minutes": settings.join_minutes}
    return _yard_page(request, store, fresh)


def _yard_page(request: Request, store: StoreDep, fresh: dict | None = None):
    with store.reading() as connection:
        phones = [{**row._mapping, "stored": log.count_device_events(connection, row.id)} for row in devices.list_devices(connection)]
        aside = sum(record.decision is None for record in list_aside(connection))
    return page(request, "yard.html", title="Phones and records", phones=phones, aside=aside, fresh=fresh)
