"""The page of a checklist that a phone brought along: accept it, or reject it."""

from typing import Annotated

from fastapi import APIRouter, Form, Path, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry.devices import list_device_names
from qcapp.sync.brought_drawings import list_refusals
from qcapp.sync.unpublished import accept_checklist, get_brought, reject_checklist
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow
from qcapp.web.yard.quarantine_form import DECIDE, QuarantineForm, decision_page, read_reason

router = APIRouter(include_in_schema=False)
HashPath = Annotated[str, Path(pattern="^[0-9a-f]{64}$")]


@router.get("/yard/quarantine/checklists/{checklist_hash}", dependencies=[allow(DECIDE)])
def show_brought(request: Request, checklist_hash: HashPath, store: StoreDep) -> HTMLResponse:
    return _brought_page(request, store, checklist_hash)


@router.post(
    "/yard/quarantine/checklists/{checklist_hash}",
    dependencies=[allow(DECIDE, "brought_checklist_decided")],
)
def decide_brought(
    request: Request,
    checklist_hash: HashPath,
    form: Annotated[QuarantineForm, Form()],
    store: StoreDep,
    now: NowDep,
    caller: CallerDep,
) -> Response:
    try:
        reason = read_reason(form)
    except BadInput as error:
        return _brought_page(request, store, checklist_hash, form, error)
    by = caller.code or ""
    if form.action == "accept":
        accept_checklist(store, checklist_hash, reason=reason, by=by, now=now)
    else:
        reject_checklist(store, checklist_hash, reason=reason, by=by, now=now)
    return RedirectResponse("/yard/quarantine", status_code=303)


def _brought_page(
    request: Request,
    store: Store,
    checklist_hash: str,
    form: QuarantineForm | None = None,
    error: BadInput | None = None,
) -> HTMLResponse:
    with store.reading() as connection:
        brought = get_brought(connection, checklist_hash)
        names = list_device_names(connection)
        refusals = list_refusals(connection, checklist_hash)
    return decision_page(
        request,
        "yard/brought_checklist.html",
        form,
        error,
        title=phrase("Checklist of records held back"),
        brought=brought,
        refusals=refusals,
        names=names,
    )
