"""A new check of a draft: its kind, its words, and the part and step that it belongs to."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import Response

from qcapp.checklist.check_kinds import CHECK_KINDS, NUMBER_KINDS
from qcapp.checklist.draft_fields import Source
from qcapp.checklist.edit_items import add_item, build_check, kind_of
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.terms import SEVERITIES
from qcapp.usecases.edit_checklist import Codes
from qcapp.usecases.form import TypedForm
from qcapp.web.checklists.draft_page import DRAFT, DraftPage, DraftPageDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklists/{checklist_id}", include_in_schema=False)
KINDS = {
    "tick": phrase("Look or feel: pass or fail"),
    "measure": phrase("Measure one number"),
    "count": phrase("Count"),
    "readings": phrase("Measure at several places"),
    "choice": phrase("Choose one of several answers"),
    "calculated": phrase("Calculate from other checks"),
}
# What stands as the source until the lead gives one: of the checklist's data, in one language.
NO_SOURCE = "placeholder: replace by your own drawing"


class NewCheckForm(TypedForm):
    """fault: the first fault's name; new_step, new_part: names of ones that are not there yet."""

    kind: str = "tick"
    ask: str = ""
    how: str = ""
    part: str = ""
    new_part: str = ""
    step: str = ""
    new_step: str = ""
    trade: str = ""
    severity: str = "major"
    fault: str = ""
    basis: str = ""
    unit: str = "mm"
    caution: str = ""


@router.get("/new-check", dependencies=[allow(DRAFT)])
def show_new_check(page: DraftPageDep, kind: str = "", part: str = "") -> Response:
    return new_check_page(page, NewCheckForm(kind=kind, part=part))


@router.post("/new-check", dependencies=[allow(DRAFT, "checklist_drafted")])
def add_check(page: DraftPageDep, form: Annotated[NewCheckForm, Form()]) -> Response:
    refuse_missing(form)
    if form.wrong:
        page.request.state.about = None
        return new_check_page(page, form)
    code = page.draft.codes.make(page.draft.source, "checks", form.ask)
    page.change(lambda source, codes: put_check(source, codes, form, code))
    return page.go(f"/checks/{code}?saved=1#limits")


def refuse_missing(form: NewCheckForm) -> None:
    needed = {
        "ask": phrase("The question is missing: write what the inspector is asked."),
        "how": phrase("How it is done is missing: write it so that everybody does it alike."),
        "fault": phrase("The fault is missing: write what is wrong when the check fails."),
    }
    for name, text in needed.items():
        if not form.get(name):
            form.refuse(name, text)
    if form.kind not in CHECK_KINDS:
        form.refuse("kind", phrase("Choose how it is answered."))
    if not (form.part or form.new_part):
        form.refuse("part", phrase("Choose a part, or name a new one."))
    if not (form.step or form.new_step):
        form.refuse("step", phrase("Choose a step, or name a new one."))
    if form.kind in NUMBER_KINDS and not form.unit:
        form.refuse("unit", phrase("The unit is missing: write it, such as mm."))


def put_check(source: Source, codes: Codes, form: NewCheckForm, code: str) -> Source:
    """The draft with the check, and its part and step where they are new."""
    part, step = form.part, form.step
    if form.new_part:
        part = codes.make(source, "parts", form.new_part)
        source = add_item(source, "parts", {"id": part, "title": {"en": form.new_part}})
    if form.new_step:
        step = codes.make(source, "steps", form.new_step)
        item = {"id": step, "trade": form.trade or "metalwork", "title": {"en": form.new_step}}
        source = add_item(source, "steps", item)
    given = {
        "id": code,
        "part": part,
        "step": step,
        "severity": form.severity,
        "ask": form.ask,
        "how": form.how,
        "fault": form.fault,
        "basis": form.basis or NO_SOURCE,
        "unit": form.unit,
    }
    check = build_check(source, form.kind, given)
    if form.caution:
        check["caution"] = {"en": form.caution}
    return add_item(source, "checks", check)


def new_check_page(page: DraftPage, form: NewCheckForm) -> Response:
    source = page.draft.source
    return page.render(
        "new_check.html",
        title=phrase("A new check"),
        form=form,
        kinds=list(KINDS.items()),
        number_kinds=NUMBER_KINDS,
        severities=list(SEVERITIES.items()),
        parts=[(one["id"], text_of(one["title"])) for one in source["parts"]],
        steps=[(one["id"], text_of(one["title"])) for one in source["steps"]],
        retired=[(one["id"], text_of(one["ask"])) for one in page.draft.retired],
        kind_of=kind_of,
    )
