"""Every change of a draft in words; the practice of it; its publication."""

from itertools import groupby
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import Response
from pydantic import BaseModel

from qcapp.errors import Clash
from qcapp.i18n.phrase import phrase
from qcapp.usecases.practise_draft import LINK_HOURS, make_practice_link
from qcapp.web.checklists.draft_page import DRAFT, DraftPage, DraftPageDep, list_error_pages
from qcapp.web.checklists.publishing import publish_draft
from qcapp.web.layout.qr import draw_code
from qcapp.web.reach import find_reach
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklists/{checklist_id}", include_in_schema=False)


class SeenForm(BaseModel):
    """seen: names the changes and notices that the page showed."""

    seen: str = ""


@router.get("/changes", dependencies=[allow(DRAFT)])
def show_changes(page: DraftPageDep) -> Response:
    return changes_page(page)


@router.post("/practise", dependencies=[allow(DRAFT, "draft_practised")])
def practise(page: DraftPageDep) -> Response:
    token = make_practice_link(page.store, page.draft, page.now)
    address = find_reach(page.request).link(f"phone/#/practice/{token}")
    return changes_page(
        page,
        fresh={
            "here": f"/phone/#/practice/{token}",
            "address": address,
            "picture": draw_code(address) if address else "",
            "hours": LINK_HOURS,
        },
    )


@router.post("/publish", dependencies=[allow("write_checklists", "checklist_published")])
def publish(page: DraftPageDep, form: Annotated[SeenForm, Form()]) -> Response:
    try:
        done = publish_draft(
            page.request,
            page.store,
            page.draft.editor,
            page.draft.checked,
            form.seen,
            page.now,
            is_kept=True,
        )
    except Clash as error:
        page.request.state.about = None
        return changes_page(page, error=error)
    return done or changes_page(page)


def changes_page(
    page: DraftPage, fresh: dict[str, object] | None = None, error: Clash | None = None
) -> Response:
    changes = page.draft.checked.changes
    answer = page.render(
        "changes.html",
        title=phrase("What changes"),
        groups=[(name, list(group)) for name, group in groupby(changes, lambda one: one.of)],
        error_pages=list_error_pages(page),
        fresh=fresh or {},
        error=error,
        reach=find_reach(page.request),
    )
    answer.status_code = 409 if error else 200
    return answer
