"""The yard lead's papers: check sheets and stove tags to print."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from qcapp.i18n.phrase import phrase
from qcapp.inspection.serial import has_checked_serials
from qcapp.store.registry import batches, checklists
from qcapp.usecases.print_paper import MAX_TAGS, print_sheet, print_tags
from qcapp.web.deps import DrawingsDep, NowDep, StoreDep, YardNameDep
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
Word = Annotated[str, Query(max_length=64)]


@router.get("/yard/sheets", dependencies=[allow("print_paper")])
def show_sheets(request: Request, store: StoreDep):
    with store.reading() as connection:
        found = batches.list_batches(connection)
        lists = [one.compiled for one in checklists.list_current_definitions(connection)]
    sizes = list(dict.fromkeys(size for compiled in lists for size in compiled["sizes"]))
    return page(
        request,
        "papers/sheets.html",
        title=phrase("Check sheets on paper"),
        batches=_open(found),
        checklists=lists,
        sizes=sizes,
    )


@router.get("/yard/sheets.pdf", dependencies=[allow("print_paper")])
def get_sheet(
    store: StoreDep,
    drawings: DrawingsDep,
    yard_name: YardNameDep,
    now: NowDep,
    checklist: Word,
    size: Word = "",
    stoves: int = 1,
    batch: Word = "",
):
    with store.reading() as connection:
        content = print_sheet(
            connection,
            drawings,
            checklist,
            yard=yard_name,
            now=now,
            size=size or None,
            stoves=stoves,
            batch_code=batch or None,
        )
    return _pdf(content, f"sheet-{checklist}.pdf")


@router.get("/yard/tags", dependencies=[allow("print_paper")])
def show_tags(request: Request, store: StoreDep):
    with store.reading() as connection:
        found = _open(batches.list_batches(connection))
    rows = [(batch, has_checked_serials(batch)) for batch in found]
    return page(request, "papers/tags.html", title=phrase("Stove tags"), rows=rows, most=MAX_TAGS)


@router.get("/yard/tags.pdf", dependencies=[allow("print_paper")])
def get_tags(
    store: StoreDep,
    yard_name: YardNameDep,
    now: NowDep,
    batch: Word,
    first: int = 1,
    last: int | None = None,
):
    with store.reading() as connection:
        content = print_tags(connection, batch, yard=yard_name, now=now, first=first, last=last)
    return _pdf(content, "tags.pdf")


def _open(found: list[dict]) -> list[dict]:
    return [batch for batch in found if batch["closed_at"] is None]


def _pdf(content: bytes, name: str) -> Response:
    headers = {
        "Content-Disposition": f'inline; filename="{name}"',
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "no-store",
    }
    return Response(content, media_type="application/pdf", headers=headers)
