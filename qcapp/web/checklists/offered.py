"""A checklist that the programme offers to this yard: what would change, take it or decline it."""

from typing import Annotated, Literal

from fastapi import APIRouter, Form, Path, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, StringConstraints

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.usecases.decide_offered_checklist import decline_offer, get_offered_here, take_offer
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/offered-checklists", include_in_schema=False)
HashPath = Annotated[str, Path(pattern="^[0-9a-f]{64}$")]


class DecisionForm(BaseModel):
    """reason: needed to decline."""

    action: Literal["take", "decline"]
    reason: Annotated[str, StringConstraints(max_length=500, strip_whitespace=True)] = ""


@router.get("/{checklist_hash}", dependencies=[allow("write_checklists")])
def show_offered(request: Request, checklist_hash: HashPath, store: StoreDep) -> Response:
    with store.reading() as connection:
        offered = get_offered_here(connection, checklist_hash)
    return yard_page(
        request,
        store,
        "checklists/offered.html",
        title=phrase("Checklist offered by the programme"),
        offered=offered,
    )


@router.post(
    "/{checklist_hash}",
    dependencies=[allow("write_checklists", "offered_checklist_decided")],
)
def decide_offered(
    request: Request,
    checklist_hash: HashPath,
    form: Annotated[DecisionForm, Form()],
    store: StoreDep,
    now: NowDep,
    caller: CallerDep,
) -> Response:
    by = caller.code or ""
    if form.action == "take":
        take_offer(store, checklist_hash, by=by, now=now)
    elif form.reason:
        decline_offer(store, checklist_hash, by=by, reason=form.reason, now=now)
    else:
        raise BadInput(
            phrase("the reason is missing"),
            "reason",
            phrase("go back and say why; it is passed on"),
        )
    request.state.about = {"checklist": checklist_hash[:16], "decision": form.action}
    return RedirectResponse("/yard/checklists", status_code=303)
