"""The lead's page of the laptop: its state at a glance, and what is done on it."""

from datetime import datetime, timedelta
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, StringConstraints

from qcapp.errors import QcappError
from qcapp.i18n.phrase import phrase, phrase_n
from qcapp.machine.sign_in_start import switch_off, switch_on
from qcapp.store.engine import Store
from qcapp.usecases.keep_backups import BackupKeeper
from qcapp.usecases.laptop import (
    Laptop,
    LaptopView,
    back_up_to,
    choose_folder,
    list_restorable,
    load_laptop,
)
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.laptop.here import KeeperDep, LaptopDep, find_laptop
from qcapp.web.layout.page import page
from qcapp.web.layout.qr import draw_code
from qcapp.web.rules import allow

router = APIRouter(prefix="/laptop", include_in_schema=False)
Text = Annotated[str, StringConstraints(max_length=1000)]


class StickForm(BaseModel):
    """chosen: a place that was found; typed: another folder; keys: the yard's keys go along."""

    chosen: Text = ""
    typed: Text = ""
    keys: bool = False


class AddressForm(BaseModel):
    address: Text


class OwnStartForm(BaseModel):
    is_on: bool = False


@router.get("", dependencies=[allow("keep_laptop")])
def show_laptop(request: Request, store: StoreDep, now: NowDep) -> Response:
    laptop = find_laptop(request)
    if laptop is None:
        return page(
            request,
            "laptop/elsewhere.html",
            title=phrase("This laptop"),
            address=request.app.state.laptop and request.app.state.laptop.address,
        )
    return _laptop_page(request, laptop, store, now)


@router.post("/backup", dependencies=[allow("keep_laptop", "stick_backup_made")])
def back_up(
    request: Request,
    laptop: LaptopDep,
    keeper: KeeperDep,
    store: StoreDep,
    now: NowDep,
    form: Annotated[StickForm, Form()],
) -> Response:
    try:
        place = choose_folder(form.chosen, form.typed)
        made = back_up_to(keeper, place, laptop.list_keys() if form.keys else ())
    except QcappError as error:
        request.state.about = None
        return _laptop_page(request, laptop, store, now, wrong=error)
    done = phrase(
        "The backup is on the stick: %(file)s. It was read back, and what is in it was looked "
        "through. Take the stick out by the system's own way.",
        file=str(made.path),
    )
    return _laptop_page(request, laptop, store, now, done=done)


@router.post("/phones", dependencies=[allow("keep_laptop", "phones_let_in")])
def let_phones_in(
    request: Request,
    laptop: LaptopDep,
    store: StoreDep,
    now: NowDep,
    form: Annotated[AddressForm, Form()],
) -> Response:
    try:
        laptop.open_network(form.address.strip())
    except QcappError as error:
        request.state.about = None
        return _laptop_page(request, laptop, store, now, wrong=error)
    request.state.about = {"address": form.address.strip()}
    return RedirectResponse("/laptop", status_code=303)


@router.post("/own-start", dependencies=[allow("keep_laptop", "own_start_changed")])
def change_own_start(laptop: LaptopDep, form: Annotated[OwnStartForm, Form()]) -> Response:
    (switch_on if form.is_on else switch_off)(laptop.start_file)
    return RedirectResponse("/laptop#own-start", status_code=303)


def _laptop_page(
    request: Request,
    laptop: Laptop,
    store: Store,
    now: datetime,
    *,
    done: str | None = None,
    wrong: QcappError | None = None,
) -> Response:
    """done, wrong: what came of the button that was pressed."""
    keeper: BackupKeeper | None = request.app.state.backups
    # Where the database is no file of this machine, its own folder is what can fill up.
    folder = keeper.plan.folder if keeper else Path.home()
    view = load_laptop(store, laptop, folder)
    backups = keeper.describe() if keeper else None
    newest = backups.backups[0].made_at if backups and backups.backups else None
    answer = page(
        request,
        "laptop/laptop.html",
        title=describe_state(view),
        laptop=laptop,
        view=view,
        backups=backups,
        backup_age=describe_age(now - newest) if newest else None,
        restorable=list_restorable(keeper, view.places) if keeper else [],
        addresses=[] if view.network else laptop.list_addresses(),
        picture=draw_code(view.network.first_page) if view.network else None,
        folder=folder.parent,
        version=request.app.version,
        done=done or laptop.note,
        wrong=wrong,
    )
    answer.status_code = 400 if wrong else 200
    return answer


def describe_state(view: LaptopView) -> str:
    if view.network is None:
        return phrase("The server is on. No phone can reach it yet.")
    if view.network.is_open:
        return phrase("The server is on. Phones reach it.")
    return phrase("The server is on, but phones do not reach it now.")


def describe_age(age: timedelta) -> str:
    hours = int(age.total_seconds() // 3600)
    if hours < 1:
        return phrase("less than an hour old")
    if hours < 48:
        return phrase_n("%(n)s hour old", "%(n)s hours old", hours)
    return phrase_n("%(n)s day old", "%(n)s days old", hours // 24)
