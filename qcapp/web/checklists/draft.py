"""The draft of a checklist: its checks in the order of the walk, what is moved, retired, undone."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, model_validator

from qcapp.checklist import edit_items
from qcapp.checklist.draft_fields import Source
from qcapp.checklist.edit_items import add_item, get_item, kind_of
from qcapp.checklist.edit_stages import CATCHERS
from qcapp.checklist.write import write_yaml
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.usecases.edit_checklist import discard_draft, undo_change
from qcapp.web.checklists.draft_page import DRAFT, DraftPage, DraftPageDep, list_error_pages
from qcapp.web.deps import StoreDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklists/{checklist_id}", include_in_schema=False)
CHANGED = "checklist_drafted"
IN_CHECK = ("faults", "options", "after", CATCHERS)


class ItemForm(BaseModel):
    """What one button does. group: checks, steps, parts, tools, sizes, first_piece (of a step), or
    faults, options, after, should_be_caught_by of a check; item: its code, of the last one
    “stage:check”.
    """

    action: Literal["up", "down", "retire", "restore", "add"]
    group: Literal[
        "checks",
        "steps",
        "parts",
        "tools",
        "sizes",
        "first_piece",
        "faults",
        "options",
        "after",
        "should_be_caught_by",
    ]
    item: str
    check: str = ""

    @model_validator(mode="before")
    @classmethod
    def _read_button(cls, given: Any) -> Any:
        """A button says all of it at once: “up checks door-fit”."""
        words = str(given.get("what", "")).split() if isinstance(given, dict) else []
        return dict(zip(("action", "group", "item", "check"), words, strict=False)) or given


@router.get("", dependencies=[allow(DRAFT)])
def show_draft(page: DraftPageDep) -> Response:
    source = page.draft.source
    by_part = [
        (part, [check for check in source["checks"] if check["part"] == part["id"]])
        for part in source["parts"]
    ]
    return page.render(
        "draft.html",
        title=phrase("Checklist: %(title)s", title=text_of(page.draft.source["title"])),
        by_part=by_part,
        lost=[
            check
            for check in source["checks"]
            if check["part"] not in {part["id"] for part in source["parts"]}
        ],
        kind_of=kind_of,
        error_pages=list_error_pages(page),
    )


@router.post("/items", dependencies=[allow(DRAFT, CHANGED)])
def change_item(page: DraftPageDep, form: Annotated[ItemForm, Form()]) -> Response:
    page.change(lambda source, _codes: work_on(source, page, form))
    return page.go(find_page(form))


def work_on(source: Source, page: DraftPage, form: ItemForm) -> Source:
    """Raises NotFound for what is not in the draft."""
    if form.action == "restore":
        return restore_check(source, page, form.item)
    if form.group in IN_CHECK:
        return _work_in_check(source, form)
    if form.group == "first_piece":
        return edit_items.set_first_piece(source, form.item, is_checked=form.action == "add")
    if form.action == "add":
        raise BadInput(phrase("there is no such list"), form.group, phrase("open the draft again"))
    if form.group == "sizes":
        if form.action == "retire":
            return edit_items.retire_size(source, form.item)
        return edit_items.move_size(source, form.item, form.action)
    if form.action == "retire":
        return edit_items.retire_item(source, form.group, form.item)
    return edit_items.move_item(source, form.group, form.item, form.action)


def _work_in_check(source: Source, form: ItemForm) -> Source:
    if form.group == CATCHERS:
        stage, _colon, earlier = form.item.partition(":")
        return edit_items.set_catcher(source, form.check, stage, earlier, is_named=False)
    items = edit_items.list_of(get_item(source, "checks", form.check), form.group)
    if form.group == "after":
        left = [one for one in items if one != form.item]
    elif form.action == "retire":
        left = [one for one in items if one["id"] != form.item]
    elif form.action in ("up", "down"):
        left = edit_items.move_in(items, form.item, "up" if form.action == "up" else "down")
    else:
        left = items
    return edit_items.change_list(source, form.check, form.group, left)


def restore_check(source: Source, page: DraftPage, check_id: str) -> Source:
    """A retired check as it was last, with its part, step and tool where they are gone too."""
    check = next((one for one in page.draft.retired if one["id"] == check_id), None)
    if check is None:
        raise NotFound(
            phrase("no such check was retired"), check_id, phrase("open the draft again")
        )
    for group, word in (("parts", "part"), ("steps", "step"), ("tools", "tool")):
        here = {item["id"] for item in source.get(group, ())}
        wanted = check.get(word)
        if wanted and wanted not in here:
            source = add_item(source, group, _find_old(page, group, wanted))
    return add_item(source, "checks", check)


def _find_old(page: DraftPage, group: str, item_id: str) -> Source:
    for one in page.draft.editor.older:
        for item in one.compiled().get(group, ()):
            if item["id"] == item_id:
                found: Source = item
                return found
    raise NotFound(phrase("this is not known any more"), item_id, phrase("open the draft again"))


def find_page(form: ItemForm) -> str:
    """Where the button stood, with the item in sight."""
    if form.action == "restore":
        return f"/checks/{form.item}"
    if form.group in IN_CHECK:
        return f"/checks/{form.check}#{form.group}"
    page = {"steps": "/steps", "tools": "/steps", "parts": "/drawing", "sizes": "/sizes"}
    if form.group == "first_piece":
        return f"/steps#f-steps.{form.item}"
    return page.get(form.group, "" if form.action == "retire" else f"#{form.item}")


@router.post("/undo", dependencies=[allow(DRAFT, CHANGED)])
def undo(request: Request, checklist_id: str, store: StoreDep) -> Response:
    request.state.about = None
    undo_change(store, checklist_id)
    return RedirectResponse(f"/yard/checklists/{checklist_id}", status_code=303)


@router.post("/discard", dependencies=[allow(DRAFT, "checklist_draft_discarded")])
def discard(checklist_id: str, store: StoreDep) -> Response:
    discard_draft(store, checklist_id)
    return RedirectResponse("/yard/checklists", status_code=303)


@router.get("/draft.yaml", dependencies=[allow(DRAFT)])
def get_draft_yaml(page: DraftPageDep) -> Response:
    number = page.draft.editor.next_revision
    name = f"{page.draft.editor.in_use.id}-{number}-draft.yaml"
    return Response(
        write_yaml({**page.draft.source, "revision": number}),
        media_type="application/yaml",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
