"""The drawing of a draft: uploaded, its parts named and placed by tapping or by numbers."""

from typing import Annotated

from fastapi import APIRouter, Form, UploadFile
from fastapi.responses import Response
from pydantic import BaseModel

from qcapp.charts.drawing import mark_drawing
from qcapp.checklist.edit import read_number
from qcapp.checklist.part_marks import (
    MAX_DRAWING_BYTES,
    Mark,
    ViewBox,
    list_marks,
    read_view_box,
)
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.usecases.draw_checklist import find_drawn, put_part, upload_drawing
from qcapp.usecases.form import TypedForm
from qcapp.web.checklists.draft_page import DRAFT, MAX_FORM_BYTES, DraftPage, DraftPageDep
from qcapp.web.middleware.security_headers import PRINT_POLICY
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklists/{checklist_id}", include_in_schema=False)
CHANGED = "checklist_drafted"


class DrawingForm(BaseModel):
    file: UploadFile | None = None


class PlaceForm(TypedForm):
    """x, y: the middle in the drawing's own units, from its left and top; width: of the mark."""

    part: str = ""
    x: str = ""
    y: str = ""
    width: str = ""


@router.get("/drawing", dependencies=[allow(DRAFT)])
def show_drawing(page: DraftPageDep, part: str = "") -> Response:
    return drawing_page(page, PlaceForm(part=part))


@router.post("/drawing", dependencies=[allow(DRAFT, CHANGED, max_bytes=MAX_FORM_BYTES)])
def upload(page: DraftPageDep, form: Annotated[DrawingForm, Form()]) -> Response:
    content = form.file.file.read(MAX_DRAWING_BYTES + 1) if form.file else b""
    page.request.state.about = None
    upload_drawing(page.store, page.draft, content, by=page.caller, now=page.now)
    return page.go("/drawing?saved=1")


@router.post("/drawing/parts", dependencies=[allow(DRAFT, CHANGED)])
def place(page: DraftPageDep, form: Annotated[PlaceForm, Form()]) -> Response:
    page.request.state.about = None
    svg = page.drawings.get(page.draft.source["drawing"])
    if svg is None:
        raise NotFound(
            phrase("there is no drawing yet"), form.part, phrase("upload one, then place its parts")
        )
    try:
        mark = Mark(form.part, *(_number(form.get(name), name) for name in ("x", "y", "width")))
        put_part(page.store, page.draft, svg, mark, by=page.caller, now=page.now)
    except BadInput as error:
        form.refuse("x", phrase("%(what)s: %(todo)s.", what=error.what, todo=error.todo))
        return drawing_page(page, form)
    return page.go("/drawing?saved=1")


def _number(text: str, name: str) -> float:
    number = read_number(text)
    if isinstance(number, str):
        raise BadInput(
            phrase("a place is missing"),
            name,
            phrase("tap on the drawing, or type three numbers"),
        )
    return float(number)


def drawing_page(page: DraftPage, form: PlaceForm) -> Response:
    source = page.draft.source
    svg = page.drawings.get(source["drawing"], "")
    drawn = find_drawn(page.draft, page.drawings)
    marks = {mark.part: mark for mark in list_marks(svg)} if svg else {}
    used = {check["part"] for check in source["checks"]}
    parts = [
        (part["id"], text_of(part["title"]), part["id"] in drawn, marks.get(part["id"]))
        for part in source["parts"]
    ]
    answer = page.render(
        "drawing.html",
        title=phrase("Parts and drawing"),
        form=form,
        places=[f"parts.{part['id']}" for part in source["parts"]] + ["drawing"],
        svg=_number_parts(svg, [one[0] for one in parts]),
        parts=parts,
        used=used,
        placeable=[one for one in parts if not one[2] or one[3]],
        box=_box(svg),
    )
    answer.headers["Content-Security-Policy"] = PRINT_POLICY
    return answer


def _number_parts(svg: str, parts: list[str]) -> str:
    """The drawing with the number of each part in the list beside it."""
    if not svg:
        return ""
    return mark_drawing(
        svg,
        {part: place for place, part in enumerate(parts, start=1)},
        title=phrase("Drawing"),
        description=phrase("Each part has its number in the list"),
        locale=get_active_locale(),
        tones_largest=False,
    )


def _box(svg: str) -> ViewBox | None:
    return read_view_box(svg) if svg else None
