"""One check of a draft: its words, limits, faults, answers, and where it belongs."""

from collections.abc import Collection, Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Form
from fastapi.responses import Response

from qcapp.charts.drawing import hide_beside_words
from qcapp.checklist.check_kinds import NUMBER_KINDS
from qcapp.checklist.draft_fields import Source, read_fields
from qcapp.checklist.edit import set_fields
from qcapp.checklist.edit_items import change_list, get_item, list_of, set_catcher
from qcapp.checklist.edit_stages import CATCHERS
from qcapp.checklist.field_words import CODES as KIND_WORDS
from qcapp.errors import BadInput, Clash
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.usecases.form import OpenForm, TypedForm
from qcapp.web.checklists.check_view import CheckPage, view_check
from qcapp.web.checklists.draft_links import (
    list_before,
    list_catchers,
    list_others,
    list_possible_catchers,
    read_catcher,
)
from qcapp.web.checklists.draft_page import DRAFT, MAX_FORM_BYTES, DraftPage, DraftPageDep
from qcapp.web.checklists.error_places import find_place
from qcapp.web.checklists.plain_errors import say_with_place
from qcapp.web.deps import MAX_SHEET_FIELDS
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklists/{checklist_id}", include_in_schema=False)
CHANGED = "checklist_drafted"


class FieldsForm(OpenForm):
    """version: of the draft that the page showed. Further fields: by their key in the YAML."""

    version: str = ""


class ListItemForm(TypedForm):
    """A new fault or answer of a check, or one more check that is before it: that must come first,
    or of an earlier stage (“stage:check”).
    """

    words: str = ""
    side: str = ""
    verdict: str = "fail"
    fault: str = ""
    before: str = ""


@router.get("/checks/{check_id}", dependencies=[allow(DRAFT)])
def show_check(page: DraftPageDep, check_id: str) -> Response:
    return check_page(page, check_id, FieldsForm())


@router.post(
    "/checks/{check_id}",
    dependencies=[allow(DRAFT, CHANGED, max_bytes=MAX_FORM_BYTES)],
    form_limits={"max_fields": MAX_SHEET_FIELDS},
)
def save_check(page: DraftPageDep, check_id: str, form: Annotated[FieldsForm, Form()]) -> Response:
    get_item(page.draft.source, "checks", check_id)
    mine = {key: text for key, text in form.values.items() if key.startswith(f"checks.{check_id}.")}
    try:
        page.change(lambda source, _codes: set_fields(source, mine), form.version)
    except Clash as error:
        form.refuse("", phrase("%(what)s: %(todo)s.", what=error.what, todo=error.todo))
        return check_page(page, check_id, form)
    return page.go(f"/checks/{check_id}?saved=1")


def check_page(page: DraftPage, check_id: str, form: FieldsForm) -> Response:
    """Raises NotFound for a check that is not in the draft."""
    source = page.draft.source
    check = get_item(source, "checks", check_id)
    view = view_check(page.fields(form.values), check)
    picture = check.get("picture")
    drawn = page.drawings.get(f"pictures/{picture}.svg") if picture else None
    return page.render(
        "check.html",
        title=phrase("Check: %(check)s", check=text_of(check["ask"])),
        form=form,
        check=view,
        kind_words=KIND_WORDS[view.kind],
        kinds_of_number=NUMBER_KINDS,
        picture=hide_beside_words(drawn) if drawn else "",
        found=list_found(page, places := list_places(view, source)),
        part_name=next(
            (text_of(part["title"]) for part in source["parts"] if part["id"] == check["part"]), ""
        ),
        places=places,
        before=list_before(source, check),
        others=list_others(source, check),
        catchers=list_catchers(page.draft, check),
        possible_catchers=list_possible_catchers(page.draft, check),
    )


def list_found(page: DraftPage, places: Collection[str]) -> list[tuple[str, str]]:
    """(key of the field, what is wrong with it, after its name) of each error of this page."""
    return [
        (place, say_with_place(error, page.draft.source))
        for error in page.draft.checked.errors
        if (place := find_place(error, places))
    ]


def list_places(view: CheckPage, source: Source) -> list[str]:
    """Every key at which an error of this check may stand."""
    fields = [key for key in read_fields(source) if key.startswith(f"{view.key}.")]
    shown = (*view.numbers, *view.belongs, *view.possible, *view.rows)
    inner = f"{view.key}.{view.kind}"
    groups = [
        inner,
        f"{view.key}.faults",
        f"{inner}.options",
        f"{inner}.possible",
        f"{view.key}.after",
    ]
    return [
        view.key,
        *fields,
        *(field.key for field in shown),
        *(size.key for size in view.sizes),
        *(item.key for item in (*view.faults, *view.options)),
        *groups,
    ]


@router.post("/checks/{check_id}/{group}", dependencies=[allow(DRAFT, CHANGED)])
def add_to_check(
    page: DraftPageDep, check_id: str, group: str, form: Annotated[ListItemForm, Form()]
) -> Response:
    check = get_item(page.draft.source, "checks", check_id)
    if group == CATCHERS:
        stage, earlier = read_catcher(page.draft, check, form.before)
        page.change(lambda source, _: set_catcher(source, check_id, stage, earlier, is_named=True))
        return page.go(f"/checks/{check_id}?saved=1#{group}")
    if group == "after":
        item: Any = form.before
        get_item(page.draft.source, "checks", form.before)
    elif group in ("faults", "options"):
        item = build_list_item(page, check, group, form)
    else:
        raise BadInput(phrase("there is no such list"), group, phrase("open the check again"))
    items = [*list_of(check, group), item]
    page.change(lambda source, _codes: change_list(source, check_id, group, items))
    return page.go(f"/checks/{check_id}?saved=1#{group}")


def build_list_item(
    page: DraftPage, check: Mapping[str, Any], group: str, form: ListItemForm
) -> dict[str, Any]:
    """Raises BadInput without words."""
    if not form.words:
        raise BadInput(
            phrase("a name is missing"), phrase("name"), phrase("say in words what it is called")
        )
    code = page.draft.codes.make(page.draft.source, f"{group}.{check['id']}", form.words)
    item: dict[str, Any] = {"id": code, "title": {"en": form.words}}
    if group == "faults":
        return item | ({"side": form.side} if form.side else {})
    item["verdict"] = form.verdict
    return item | ({"fault": form.fault} if form.fault and form.verdict == "fail" else {})
