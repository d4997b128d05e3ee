"""The skill sheet: set by a tap, printed on one page."""

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field

from qcapp.documents.skills_pdf import build_skills_pdf
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.reports.skills import LEVELS
from qcapp.usecases.keep_skills import load_skills, set_skill
from qcapp.web.deps import NowDep, StoreDep, YardNameDep
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.rules import allow
from qcapp.web.trainer.figures import FiguresDep, figures_page

router = APIRouter(include_in_schema=False)


class SkillForm(BaseModel):
    """set: artisan, step and level, with blanks between; no level takes it back."""

    set: Annotated[str, Field(max_length=300)]


@router.get("/trainer/skills", dependencies=[allow("see_cards")])
def show_skills(
    request: Request,
    store: StoreDep,
    figures: FiguresDep,
    opened: Annotated[str, Query(alias="open", max_length=100)] = "",
) -> Response:
    """open: id of the step that stands unfolded, as after a tap in it."""
    return figures_page(
        request,
        "trainer/skills.html",
        figures,
        title=phrase("Skill sheet"),
        blocks=load_skills(store, figures),
        levels=LEVELS,
        opened=opened,
    )


@router.post("/trainer/skills", dependencies=[allow("set_skills", "skill_set")])
def change_skill(
    request: Request,
    store: StoreDep,
    figures: FiguresDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[SkillForm, Form()],
) -> Response:
    artisan, step, level = (*form.set.split(" "), "", "")[:3]
    set_skill(store, figures, artisan=artisan, step=step, level=level, by=by, now=now)
    request.state.about = {"code": artisan}
    return RedirectResponse(f"/trainer/skills?open={quote(step)}#s-{quote(step)}", status_code=303)


@router.get("/trainer/skills.pdf", dependencies=[allow("see_cards")])
def get_skills_pdf(
    store: StoreDep, figures: FiguresDep, yard_name: YardNameDep, now: NowDep
) -> Response:
    content = build_skills_pdf(
        load_skills(store, figures),
        yard=yard_name,
        since=figures.counted.since,
        dated=now,
        language=get_active_locale().language,
    )
    headers = {"Content-Disposition": 'inline; filename="skills.pdf"', "Cache-Control": "no-store"}
    return Response(content, media_type="application/pdf", headers=headers)
