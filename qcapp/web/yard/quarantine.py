"""The yard lead's list of records held back; rejects a group of them at once."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel, Field, StringConstraints

from qcapp.i18n.phrase import phrase
from qcapp.store.registry.devices import list_device_names
from qcapp.sync.quarantine import list_records
from qcapp.sync.quarantine_groups import list_groups, reject_group
from qcapp.sync.unpublished import list_brought
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow
from qcapp.web.yard.quarantine_form import DECIDE, MAX_REASON

router = APIRouter(include_in_schema=False)
MAX_SHOWN = 200


class GroupForm(BaseModel):
    """What the page showed of a group; see HeldGroup."""

    sender: Annotated[str, StringConstraints(max_length=200)]
    code: Annotated[str, StringConstraints(max_length=64)]
    last: Annotated[int, Field(ge=1, lt=2**53)]
    reason: Annotated[str, StringConstraints(min_length=1, max_length=MAX_REASON)]


@router.get("/yard/quarantine", dependencies=[allow(DECIDE)])
def show_quarantined(request: Request, store: StoreDep) -> HTMLResponse:
    with store.reading() as connection:
        records = list_records(connection)
        names = list_device_names(connection)
        brought = list_brought(connection)
    waiting = [record for record in records if record.decision is None]
    decided = [record for record in records if record.decision is not None]
    return page(
        request,
        "yard/quarantine.html",
        title=phrase("Records held back"),
        waiting=waiting,
        decided=decided,
        brought=brought,
        groups=list_groups(waiting),
        names=names,
        most=MAX_SHOWN,
    )


@router.post(
    "/yard/quarantine",
    dependencies=[allow(DECIDE, "records_rejected")],
)
def reject_all(
    request: Request,
    form: Annotated[GroupForm, Form()],
    store: StoreDep,
    now: NowDep,
    caller: CallerDep,
) -> Response:
    count = reject_group(store, **form.model_dump(), by=caller.code or "", now=now)
    request.state.about = {"records": str(count), "sender": form.sender[:64], "reason": form.code}
    return RedirectResponse("/yard/quarantine", status_code=303)
