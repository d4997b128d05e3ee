"""Every change of a draft in words; the practice of it; its publication."""

from itertools import groupby
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import Response
from pydantic import BaseModel

from qcapp.errors import Clash
from qcapp.i18n.phrase import phrase
from qcapp.usecases.practise_draft import LINK_HOURS, make_practice_link
from qcapp.web.checklists.draft_page import DRAFT, Desk, DeskDep, list_error_pages
from qcapp.web.checklists.publishing import publish_draft
from qcapp.web.layout.qr import draw_code
from qcapp.web.reach import find_reach
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklists/{checklist_id}", include_in_schema=False)


class SeenForm(BaseModel):
    """seen: names the changes and notices that the page showed."""

    seen: str = ""


@router.get("/changes", dependencies=[allow(DRAFT)])
def show_changes(desk: DeskDep) -> Response:
    return changes_page(desk)


@router.post("/practise", dependencies=[allow(DRAFT, "draft_practised")])
def practise(desk: DeskDep) -> Response:
    token = make_practice_link(desk.store, desk.draft, desk.now)
    address = find_reach(desk.request).link(f"phone/#/practice/{token}")
    return changes_page(
        desk,
        fresh={
            "here": f"/phone/#/practice/{token}",
            "address": address,
            "picture": draw_code(address) if address else "",
            "hours": LINK_HOURS,
        },
    )


@router.post("/publish", dependencies=[allow("write_checklists", "checklist_published")])
def publish(desk: DeskDep, form: Annotated[SeenForm, Form()]) -> Response:
    try:
        done = publish_draft(
            desk.request,
            desk.store,
            desk.draft.editor,
            desk.draft.checked,
            form.seen,
            desk.now,
            is_kept=True,
        )
    except Clash as error:
        desk.request.state.about = None
        return changes_page(desk, error=error)
    return done or changes_page(desk)


def changes_page(
    desk: Desk, fresh: dict[str, object] | None = None, error: Clash | None = None
) -> Response:
    changes = desk.draft.checked.changes
    answer = desk.page(
        "changes.html",
        title=phrase("What changes"),
        groups=[(name, list(group)) for name, group in groupby(changes, lambda one: one.of)],
        error_pages=list_error_pages(desk),
        fresh=fresh or {},
        error=error,
        reach=find_reach(desk.request),
    )
    answer.status_code = 409 if error else 200
    return answer
