"""Steps, tools, parts, sizes and names of a draft."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import Response

from qcapp.checklist.draft_fields import Source, read_fields
from qcapp.checklist.edit import make_slug, set_fields
from qcapp.checklist.edit_items import add_item, add_size, list_first_piece_steps
from qcapp.checklist.edit_stages import JOINTS
from qcapp.errors import BadInput, Clash
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size
from qcapp.inspection.terms import TRADES
from qcapp.usecases.form import TypedForm
from qcapp.web.checklists.check_view import list_items
from qcapp.web.checklists.draft_check import FieldsForm
from qcapp.web.checklists.draft_page import DRAFT, MAX_FORM_BYTES, DraftPage, DraftPageDep
from qcapp.web.checklists.draft_stages import JOINT_WORDS, view_stages
from qcapp.web.deps import MAX_SHEET_FIELDS
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklists/{checklist_id}", include_in_schema=False)
CHANGED = "checklist_drafted"


class NewItemForm(TypedForm):
    """words: its name; trade: of a step; known: a step of another checklist, which is the same
    work; like: the size whose limits a new size begins with.
    """

    words: str = ""
    trade: str = ""
    known: str = ""
    like: str = ""


@router.get("/steps", dependencies=[allow(DRAFT)])
def show_steps(page: DraftPageDep) -> Response:
    return steps_page(page, FieldsForm())


@router.post(
    "/names",
    dependencies=[allow(DRAFT, CHANGED, max_bytes=MAX_FORM_BYTES)],
    form_limits={"max_fields": MAX_SHEET_FIELDS},
)
def save_names(page: DraftPageDep, form: Annotated[FieldsForm, Form()]) -> Response:
    """Of the checklist, its steps, tools and parts."""
    mine = {
        key: text
        for key, text in form.values.items()
        if key.startswith(("title.", "steps.", "tools.", "parts."))
    }
    try:
        page.change(lambda source, _codes: set_fields(source, mine), form.version)
    except Clash as error:
        form.refuse("", phrase("%(what)s: %(todo)s.", what=error.what, todo=error.todo))
        return steps_page(page, form)
    return page.go("/steps?saved=1")


def steps_page(page: DraftPage, form: FieldsForm) -> Response:
    source, fields = page.draft.source, page.fields(form.values)
    used = {
        group: {check.get(word) for check in source["checks"]}
        for group, word in (("steps", "step"), ("tools", "tool"), ("parts", "part"))
    }
    groups = {
        group: list_items(fields, {}, "", group, source.get(group, ()), used[group])
        for group in used
    }
    places = [key for key in read_fields(source) if not key.startswith("checks.")]
    places += ["first_piece", "stage", *JOINTS]
    items = [item.key for group in groups.values() for item in group]
    return page.render(
        "steps.html",
        title=phrase("Steps, tools and names"),
        form=form,
        places=[*places, *items],
        title_text=fields.title(),
        groups=groups,
        trades=list(TRADES.items()),
        first_pieces=list_first_pieces(source),
        known=list_known_steps(page),
        stages=view_stages(page),
        joint_words=JOINT_WORDS,
    )


def list_first_pieces(source: Source) -> dict[str, bool]:
    """Whether its first piece is checked, of each step that has a check for one or names one."""
    named = source.get("first_piece", ())
    return {step: step in named for step in {*list_first_piece_steps(source), *named}}


def list_known_steps(page: DraftPage) -> list[tuple[str, str]]:
    """Steps of the yard's other checklists: the same code is the same work."""
    here = {step["id"] for step in page.draft.source["steps"]}
    return [
        (step.id, text_of(step.title)) for step in page.draft.works.values() if step.id not in here
    ]


@router.post("/new/{group}", dependencies=[allow(DRAFT, CHANGED)])
def add_to_draft(page: DraftPageDep, group: str, form: Annotated[NewItemForm, Form()]) -> Response:
    if group == "sizes":
        return _add_size(page, form)
    if group not in ("steps", "parts", "tools"):
        raise BadInput(phrase("there is no such list"), group, phrase("open the draft again"))
    known = page.draft.works.get(form.known) if group == "steps" else None
    if known is None and not form.words:
        raise BadInput(
            phrase("a name is missing"), phrase("name"), phrase("say in words what it is called")
        )
    if known is not None:
        item = {"id": known.id, "trade": known.trade, "title": dict(known.title)}
    else:
        code = page.draft.codes.make(page.draft.source, group, form.words)
        item = {"id": code, "title": {"en": form.words}}
        if group == "steps":
            item["trade"] = make_slug(form.trade) or "metalwork"
    page.change(lambda source, _codes: add_item(source, group, item))
    return page.go("/drawing?saved=1" if group == "parts" else f"/steps?saved=1#{group}")


# --- Sizes


@router.get("/sizes", dependencies=[allow(DRAFT)])
def show_sizes(page: DraftPageDep) -> Response:
    sizes = page.draft.source["sizes"]
    return page.render(
        "sizes.html",
        title=phrase("Sizes"),
        sizes=[(size, name_size(size)) for size in sizes],
        in_batches=page.draft.sizes_in_batches,
    )


def _add_size(page: DraftPage, form: NewItemForm) -> Response:
    size = make_slug(form.words)
    if not size[:1].isalpha() or size == "all":
        raise BadInput(
            phrase("this is no name of a size"),
            phrase("name"),
            phrase("begin with a letter, such as large or extra large"),
        )
    if size in page.draft.source["sizes"]:
        raise BadInput(phrase("this size is there already"), size, phrase("choose another name"))
    page.change(lambda source, _codes: add_size(source, size, form.like))
    return page.go("/sizes?saved=1")
