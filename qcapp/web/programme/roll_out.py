"""The programme lead offers one checklist to every yard, and sees which of them use it."""

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, StringConstraints

from qcapp.checklist.model import Checklist
from qcapp.checklist.source import LONGEST_FILE, ChecklistError
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.usecases.load_programme import Yards
from qcapp.usecases.roll_out_checklist import (
    list_roll_outs,
    list_sources,
    offer_to_all,
    read_offer,
    write_source,
)
from qcapp.web.deps import NowDep, SettingsDep
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/checklists", include_in_schema=False)
ROLL_OUT = "roll_out_checklists"
MAX_FORM_BYTES = 3 * LONGEST_FILE


class SourceForm(BaseModel):
    """used: hash of a checklist that a yard uses; or file, in YAML."""

    used: Annotated[str, StringConstraints(pattern="^([0-9a-f]{64})?$")] = ""
    file: UploadFile | None = None


class OfferForm(BaseModel):
    """text: YAML, as the page showed it. hash: of the checklist that the page showed."""

    text: Annotated[str, StringConstraints(max_length=LONGEST_FILE)]
    hash: Annotated[str, StringConstraints(pattern="^[0-9a-f]{64}$")]


@router.get("", dependencies=[allow(ROLL_OUT)])
def show_roll_outs(request: Request) -> Response:
    return _page(request)


@router.post("/look", dependencies=[allow(ROLL_OUT, max_bytes=MAX_FORM_BYTES)])
def look_at_offer(
    request: Request, settings: SettingsDep, form: Annotated[SourceForm, Form()]
) -> Response:
    yards: Yards = request.app.state.yards
    text = _read_file(form.file) if form.file and form.file.size else write_source(yards, form.used)
    if text is None:
        raise BadInput(phrase("no checklist was chosen"), "", phrase("choose one, or a file"))
    checklist, errors = read_offer(yards, text, settings.checklists_dir)
    return _page(request, text=text, checklist=checklist, errors=errors)


@router.post("", dependencies=[allow(ROLL_OUT, "checklist_offered", max_bytes=MAX_FORM_BYTES)])
def offer(
    request: Request,
    settings: SettingsDep,
    form: Annotated[OfferForm, Form()],
    now: NowDep,
    caller: CallerDep,
) -> Response:
    yards: Yards = request.app.state.yards
    checklist, errors = read_offer(yards, form.text, settings.checklists_dir)
    if checklist is None or checklist.hash != form.hash:
        # A yard published one meanwhile, so the number has moved on: it is shown again.
        request.state.about = None
        return _page(request, text=form.text, checklist=checklist, errors=errors)
    failed = offer_to_all(yards, checklist, by=caller.code or "", now=now)
    request.state.about = {"checklist": checklist.key, "not_reached": ", ".join(failed)}
    return RedirectResponse("/checklists", status_code=303)


def _read_file(file: UploadFile) -> str:
    content = file.file.read(LONGEST_FILE + 1)
    try:
        if len(content) > LONGEST_FILE:
            raise UnicodeError
        return content.decode("utf-8-sig")
    except UnicodeError as error:
        todo = phrase(
            "choose a YAML file of at most %(longest_file)s bytes", longest_file=LONGEST_FILE
        )
        raise BadInput(phrase("the file is not text, or too large"), "file", todo) from error


def _page(
    request: Request,
    *,
    text: str = "",
    checklist: Checklist | None = None,
    errors: Sequence[ChecklistError] = (),
) -> Response:
    yards: Yards = request.app.state.yards
    answer = page(
        request,
        "programme/roll_out.html",
        title=phrase("One checklist for all yards"),
        roll_outs=list_roll_outs(yards),
        sources=list_sources(yards),
        text=text,
        checklist=checklist,
        errors=errors,
    )
    answer.status_code = 422 if errors else 200
    return answer
