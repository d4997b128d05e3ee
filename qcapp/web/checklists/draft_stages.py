"""The stage of a draft, and the earlier stages that it goes on from."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import Response

from qcapp.checklist.edit import make_slug
from qcapp.checklist.edit_stages import JOINTS, read_joints, set_stages
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.web.checklists.draft_check import FieldsForm
from qcapp.web.checklists.draft_page import DRAFT, MAX_FORM_BYTES, DraftPage, DraftPageDep
from qcapp.web.deps import MAX_SHEET_FIELDS
from qcapp.web.layout.labels import STAGES
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklists/{checklist_id}", include_in_schema=False)
JOINED = "joined."
JOINT_WORDS = {
    "": phrase("not joined"),
    "made_from": phrase("its pieces are built in, with serials of their own"),
    "same_serial": phrase("it is the same piece, under the same serial"),
}


@dataclass(frozen=True)
class StagesView:
    """stage: the draft's own; choices: codes of all that can be chosen; joints: by earlier stage,
    how it is joined, empty for not at all.
    """

    stage: str
    choices: tuple[str, ...]
    joints: Mapping[str, str]

    @property
    def joined(self) -> dict[str, str]:
        return {stage: joint for stage, joint in self.joints.items() if joint}


def view_stages(page: DraftPage) -> StagesView:
    source = page.draft.source
    known = read_joints(source)
    others = [checklist.stage for checklist in page.draft.editor.others]
    choices = tuple(dict.fromkeys((*STAGES, *others, *known, source["stage"])))
    joints = {stage: known.get(stage, "") for stage in choices if stage != source["stage"]}
    return StagesView(source["stage"], choices, joints)


@router.post(
    "/stage",
    dependencies=[allow(DRAFT, "checklist_drafted", max_bytes=MAX_FORM_BYTES)],
    form_limits={"max_fields": MAX_SHEET_FIELDS},
)
def save_stage(page: DraftPageDep, form: Annotated[FieldsForm, Form()]) -> Response:
    """Fields: stage, new_stage in words, joined.STAGE for each earlier one."""
    known = view_stages(page)
    typed = form.values
    stage = make_slug(typed.get("new_stage", "")) or typed.get("stage", "")
    if not stage[:1].isalpha() or (stage not in known.choices and not typed.get("new_stage")):
        raise BadInput(
            phrase("this is no name of a stage"),
            stage or phrase("name"),
            phrase("choose one of the list, or write a name that begins with a letter"),
        )
    joints = {one: typed[JOINED + one] for one in known.joints if JOINED + one in typed}
    for joint in joints.values():
        if joint and joint not in JOINTS:
            raise BadInput(phrase("there is no such choice"), joint, phrase("open the draft again"))
    page.change(lambda source, _codes: set_stages(source, stage, joints), form.version)
    return page.go("/steps?saved=1#stage")
