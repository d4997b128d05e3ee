"""The trainer's first page, which names the step to teach, and the page of one step."""

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from qcapp.charts.control import draw_control
from qcapp.charts.dots import draw_dot_column
from qcapp.checklist.history import StepRef
from qcapp.checklist.model import Checklist
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.reports.drift_causes import find_causes
from qcapp.reports.faults import name_fault
from qcapp.reports.groups import PersonRate
from qcapp.reports.run_chart import build_run_chart
from qcapp.reports.teach import MIN_FAULTS, MIN_PEOPLE, NAMED, SEVERITY_WEIGHT, TeachRow
from qcapp.reports.teach_evidence import MIN_WORTH_TEACHING
from qcapp.usecases.keep_lesson_parts import load_lesson_parts
from qcapp.usecases.load_first_pieces import load_first_pieces
from qcapp.usecases.load_inspectors import load_uneven_steps
from qcapp.usecases.load_measuring import Measuring, load_measuring
from qcapp.usecases.load_step import find_photo_of_commonest, find_step, list_photos
from qcapp.usecases.trainer_figures import TrainerFigures, describe_apprentices
from qcapp.web.deps import DrawingsDep, NowDep, SettingsDep, StoreDep, get_drawings
from qcapp.web.layout.template_filters import as_localized
from qcapp.web.middleware.security_headers import PRINT_POLICY, RECORD_PERMISSIONS, RECORD_POLICY
from qcapp.web.rules import allow
from qcapp.web.trainer.charts import (
    draw_commonest,
    draw_faults,
    draw_parts,
    draw_step,
    draw_step_groups,
    list_group_marks,
)
from qcapp.web.trainer.drift import address_of
from qcapp.web.trainer.figures import FiguresDep, figures_page

router = APIRouter(prefix="/trainer", include_in_schema=False)
# Names on the first page; those after them are summed up.
SHOWN_PEOPLE = 5


@dataclass(frozen=True)
class Rest:
    """People who are not named, with their stoves."""

    people: int
    failed: int
    inspected: int


@router.get("", dependencies=[allow("see_figures")])
def show_teach(
    request: Request, store: StoreDep, figures: FiguresDep, drawings: DrawingsDep, now: NowDep
) -> Response:
    row = figures.row_to_teach
    view = find_step(figures, row.ref) if row else None
    answer = figures_page(
        request,
        "trainer/teach.html",
        figures,
        title=phrase("What to teach next"),
        view=view,
        is_named=row is not None and row.strength in NAMED,
        chart=draw_step_groups(row) if row else None,
        photo=find_photo_of_commonest(store, figures, view) if view else None,
        pictures=draw_commonest(figures, view.faults if view else None, drawings, most=1),
        shown_people=SHOWN_PEOPLE,
        rest=_sum_rest(row.who) if row else None,
        maps=_draw_maps(figures, drawings),
        uneven=load_uneven_steps(store, figures),
        rule=describe_apprentices(figures, now),
        min_people=MIN_PEOPLE,
        min_faults=MIN_FAULTS,
        weights=SEVERITY_WEIGHT,
        least=MIN_WORTH_TEACHING,
        **_draw_rows(figures.rows_by_burden, figures.min_count),
    )
    return _let_print(answer)


def _let_print(answer: HTMLResponse) -> HTMLResponse:
    answer.headers["Content-Security-Policy"] = PRINT_POLICY
    return answer


def _sum_rest(who: tuple[PersonRate, ...]) -> Rest:
    """Everybody who is not named: those after the first names, and those without a fault."""
    named = [one for one in who if one.rate.failed][:SHOWN_PEOPLE]
    rest = [one.rate for one in who if one not in named]
    return Rest(len(rest), sum(one.failed for one in rest), sum(one.inspected for one in rest))


def _draw_rows(rows: list[TeachRow], enough: int) -> dict[str, Any]:
    """What the table of steps needs: those with a fault on one axis; the others are only named."""
    faulty = [row for row in rows if row.everybody.failed]
    named = [(row.title, list_group_marks(row)) for row in faulty]
    column = draw_dot_column(named, enough, locale=get_active_locale())
    return {
        "rows": list(zip(faulty, column.dots, strict=True)),
        "column": column,
        "faultless": [row for row in rows if not row.everybody.failed],
    }


def _draw_maps(figures: TrainerFigures, drawings: DrawingsDep) -> list[tuple[str, str]]:
    return [
        (as_localized(checklist.title), draw_parts(figures, checklist, drawings))
        for checklist in figures.checklists
        if _is_seen(figures, checklist)
    ]


def _is_seen(figures: TrainerFigures, checklist: Checklist) -> bool:
    stage = figures.filters.stage or "finished"
    return checklist.stage == stage and any(
        figures.parts.get((checklist.id, part.id)) for part in checklist.parts
    )


@router.get("/steps/{checklist}/{step}", dependencies=[allow("see_figures")])
def show_step(
    request: Request,
    checklist: str,
    step: str,
    store: StoreDep,
    settings: SettingsDep,
    figures: FiguresDep,
) -> Response:
    ref = StepRef(checklist, step)
    view = find_step(figures, ref)
    answer = figures_page(
        request,
        "trainer/step.html",
        figures,
        title=view.row.title,
        view=view,
        row=view.row,
        chart=draw_step_groups(view.row),
        people_chart=draw_step(view.table),
        fault_chart=draw_faults(view.faults) if view.faults else None,
        pictures=draw_commonest(figures, view.faults, get_drawings(request)),
        photos=list_photos(store, figures, ref),
        points=figures.history.find_key_points(ref),
        uneven=load_uneven_steps(store, figures, {ref}),
        min_people=MIN_PEOPLE,
        first=load_first_pieces(store, figures, ref),
        asks_first=ref.step in _list_first_steps(figures, ref),
        name_fault=name_fault,
        parts=load_lesson_parts(store, step),
        **_list_drift(load_measuring(store, settings), ref),
    )
    answer.headers["Content-Security-Policy"] = RECORD_POLICY
    answer.headers["Permissions-Policy"] = RECORD_PERMISSIONS
    return answer


def _list_first_steps(figures: TrainerFigures, ref: StepRef) -> tuple[str, ...]:
    """Steps of the checklist in use whose first piece is checked."""
    current = figures.history.current_by_id.get(ref.checklist)
    return current.first_piece if current else ()


def _list_drift(measuring: Measuring, ref: StepRef) -> dict[str, Any]:
    """The causes at this step of this checklist, each with its run chart."""
    own = [row for row in measuring.drift.rows if row.step == ref]
    causes = [one for one in find_causes(measuring.drift) if one.head.step == ref]
    return {
        "moved": [
            (
                cause.head,
                address_of(cause.head),
                draw_control(
                    build_run_chart(cause.head), name=f"cause-{place}", locale=get_active_locale()
                ),
            )
            for place, cause in enumerate(causes)
        ],
        "drift_rows": len(own),
    }
