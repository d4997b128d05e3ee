"""The yard lead's page of batches: open one, change it, close it, open it again."""

from collections.abc import Mapping
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel

from qcapp.i18n.phrase import phrase
from qcapp.inspection.serial import CHECKED
from qcapp.store.engine import Store
from qcapp.usecases import open_batch
from qcapp.usecases.load_batch import count_inspected, read_batch
from qcapp.usecases.open_batch import BatchForm
from qcapp.usecases.yard_state import list_attributes, read_state
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.rules import allow
from qcapp.web.yard.setup import lead_on

router = APIRouter(prefix="/yard/batches", include_in_schema=False)


@router.get("", dependencies=[allow("set_up")])
def show_batches(
    request: Request,
    store: StoreDep,
    now: NowDep,
    closed: Annotated[str, Query(max_length=100)] = "",
) -> Response:
    """closed: the batch that was just closed, which can be reopened at once."""
    form = open_batch.propose_batch(read_state(store), now)
    return _batches_page(request, store, form, closed)


@router.post("", dependencies=[allow("set_up", "batch_opened")])
def add_batch(request: Request, store: StoreDep, form: Annotated[BatchForm, Form()]) -> Response:
    code = open_batch.open_batch(store, form)
    if form.wrong:
        return _batches_page(request, store, form)
    request.state.about = {"batch": code}
    return lead_on(store, "/yard/batches")


@router.get("/{code}", dependencies=[allow("set_up")])
def show_batch(request: Request, code: str, store: StoreDep) -> Response:
    batch = read_batch(store, code)
    return _batch_page(request, store, batch, fill_form(batch))


@router.post("/{code}", dependencies=[allow("set_up", "batch_changed")])
def change_batch(
    request: Request, code: str, store: StoreDep, form: Annotated[BatchForm, Form()]
) -> Response:
    open_batch.change_batch(store, code, form)
    if form.wrong:
        return _batch_page(request, store, read_batch(store, code), form)
    return RedirectResponse("/yard/batches", status_code=303)


class CloseForm(BaseModel):
    """is_sure: what is still open was shown."""

    is_sure: bool = False


@router.get("/{code}/close", dependencies=[allow("set_up")])
def ask_to_close(request: Request, code: str, store: StoreDep) -> Response:
    return page(
        request,
        "yard/close_batch.html",
        title=phrase("Close batch %(code)s", code=code),
        batch=read_batch(store, code),
        waiting=open_batch.list_unfinished(store, code),
    )


@router.post("/{code}/close", dependencies=[allow("set_up", "batch_closed")])
def close_batch(
    request: Request, code: str, store: StoreDep, now: NowDep, form: Annotated[CloseForm, Form()]
) -> Response:
    """A batch with something still open is closed only when the lead has seen what."""
    if not form.is_sure and open_batch.list_unfinished(store, code):
        request.state.about = None
        return RedirectResponse(f"/yard/batches/{quote(code)}/close", status_code=303)
    open_batch.close_batch(store, code, now)
    return RedirectResponse(f"/yard/batches?closed={quote(code)}", status_code=303)


@router.post("/{code}/reopen", dependencies=[allow("set_up", "batch_reopened")])
def reopen_batch(code: str, store: StoreDep) -> Response:
    open_batch.reopen_batch(store, code)
    return RedirectResponse("/yard/batches", status_code=303)


def fill_form(batch: Mapping[str, Any]) -> BatchForm:
    attributes = {
        f"attribute.{name}": "on" if value is True else str(value)
        for name, value in batch["attributes"].items()
        if value is not False
    }
    plain = {key: str(batch[key] or "") for key in BatchForm.model_fields if key != "checklist_ids"}
    crew = {f"crew.{trade}": code for trade, code in batch["crew"].items()}
    return BatchForm.model_validate(
        {**plain, **attributes, **crew, "checklist_ids": batch["checklist_ids"]}
    )


def _batches_page(request: Request, store: Store, form: BatchForm, closed: str = "") -> Response:
    state = read_state(store)
    just_closed = [one for one in state.batches if one["code"] == closed and one["closed_at"]]
    return yard_page(
        request,
        store,
        "yard/batches.html",
        form,
        title=phrase("Open and close batches"),
        state=state,
        inspected=count_inspected(store, (batch["code"] for batch in state.batches)),
        attributes=list_attributes(state),
        checked=CHECKED,
        just_closed=just_closed,
    )


def _batch_page(
    request: Request, store: Store, batch: Mapping[str, Any], form: BatchForm
) -> Response:
    state = read_state(store)
    return yard_page(
        request,
        store,
        "yard/batch.html",
        form,
        title=phrase("Batch %(code)s", code=batch["code"]),
        batch=batch,
        state=state,
        attributes=list_attributes(state),
        checked=CHECKED,
    )
