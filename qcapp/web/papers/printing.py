"""The yard lead's papers: check sheets and stove tags to print."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from qcapp.documents.photo_frame import Paper, build_photo_frame_pdf
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.inspection.serial import has_checked_serials
from qcapp.usecases.load_batch import list_open_batches
from qcapp.usecases.print_paper import MAX_TAGS, print_sheet, print_tags
from qcapp.usecases.yard_state import read_state
from qcapp.web.deps import DrawingsDep, NowDep, StoreDep, YardNameDep
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
Word = Annotated[str, Query(max_length=64)]


@dataclass(frozen=True)
class SheetQuery:
    """Which check sheet. An empty size is every size, an empty batch none."""

    checklist: Word
    size: Word = ""
    stoves: int = 1
    batch: Word = ""


@router.get("/yard/sheets", dependencies=[allow("print_paper")])
def show_sheets(request: Request, store: StoreDep) -> Response:
    state = read_state(store)
    return page(
        request,
        "papers/sheets.html",
        title=phrase("Check sheets on paper"),
        batches=list_open_batches(store),
        checklists=state.current,
        sizes=list(dict.fromkeys(size for one in state.current for size in one["sizes"])),
    )


@router.get("/yard/sheets.pdf", dependencies=[allow("print_paper")])
def get_sheet(
    store: StoreDep,
    drawings: DrawingsDep,
    yard_name: YardNameDep,
    now: NowDep,
    query: Annotated[SheetQuery, Depends()],
) -> Response:
    content = print_sheet(
        store,
        drawings,
        query.checklist,
        yard=yard_name,
        now=now,
        size=query.size or None,
        stoves=query.stoves,
        batch_code=query.batch or None,
    )
    return _pdf(content, f"sheet-{query.checklist}.pdf")


@router.get("/yard/tags", dependencies=[allow("print_paper")])
def show_tags(request: Request, store: StoreDep) -> Response:
    rows = [(batch, has_checked_serials(batch)) for batch in list_open_batches(store)]
    return page(request, "papers/tags.html", title=phrase("Stove tags"), rows=rows, most=MAX_TAGS)


@router.get("/yard/tags.pdf", dependencies=[allow("print_paper")])
def get_tags(
    store: StoreDep,
    yard_name: YardNameDep,
    now: NowDep,
    batch: Word,
    first: int = 1,
    last: int | None = None,
) -> Response:
    content = print_tags(store, batch, yard=yard_name, now=now, first=first, last=last)
    return _pdf(content, "tags.pdf")


@router.get("/yard/photo-frame.pdf", dependencies=[allow("print_paper")])
def get_photo_frame(yard_name: YardNameDep, now: NowDep, paper: Paper = "a4") -> Response:
    language = get_active_locale().language
    content = build_photo_frame_pdf(paper, yard=yard_name, dated=now, language=language)
    return _pdf(content, f"photo-frame-{paper}.pdf")


def _pdf(content: bytes, name: str) -> Response:
    headers = {
        "Content-Disposition": f'inline; filename="{name}"',
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "no-store",
    }
    return Response(content, media_type="application/pdf", headers=headers)
