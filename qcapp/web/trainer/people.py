"""Steps by people as one matrix, and the page behind each of its cells."""

from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from qcapp.checklist.history import StepRef
from qcapp.i18n.phrase import phrase
from qcapp.reports.drift_causes import find_causes
from qcapp.reports.people_matrix import SHADES, build_people_matrix, find_shade
from qcapp.reports.reading_drift import ReadingRow
from qcapp.reports.run_chart import say_finding
from qcapp.usecases.load_inspectors import load_uneven_steps
from qcapp.usecases.load_measuring import Measuring, load_measuring
from qcapp.usecases.load_person_step import load_person_step
from qcapp.web.deps import SettingsDep, StoreDep
from qcapp.web.middleware.security_headers import PRINT_POLICY
from qcapp.web.rules import allow
from qcapp.web.trainer.charts import draw_faults, draw_learning
from qcapp.web.trainer.drift import address_of
from qcapp.web.trainer.figures import FiguresDep, figures_page

router = APIRouter(prefix="/trainer/steps", include_in_schema=False)


@router.get("", dependencies=[allow("see_figures")])
def show_matrix(request: Request, store: StoreDep, figures: FiguresDep) -> Response:
    return figures_page(
        request,
        "trainer/matrix.html",
        figures,
        title=phrase("Steps by people"),
        blocks=build_people_matrix(figures.step_tables),
        unnamed=[table for table in figures.step_tables if not table.rows],
        shade_of=partial(find_shade, min_count=figures.min_count),
        shades=[round(100 * end) for end in SHADES],
        uneven=load_uneven_steps(store, figures),
    )


@router.get("/{checklist}/{step}/{code}", dependencies=[allow("see_figures")])
def show_person_step(
    request: Request,
    ref: Annotated[StepRef, Depends(StepRef)],
    code: str,
    store: StoreDep,
    settings: SettingsDep,
    figures: FiguresDep,
) -> Response:
    view = load_person_step(store, figures, ref, code)
    answer = figures_page(
        request,
        "trainer/person_step.html",
        figures,
        title=phrase("%(who)s: %(step)s", who=view.row.name, step=view.table.title),
        view=view,
        chart=draw_learning(view.step),
        fault_chart=draw_faults(view.faults) if view.faults else None,
        moved=_list_moved(load_measuring(store, settings), ref, code),
        uneven=[],
    )
    answer.headers["Content-Security-Policy"] = PRINT_POLICY
    return answer


def _list_moved(measuring: Measuring, ref: StepRef, code: str) -> list[tuple[str, str]]:
    """(address, finding) of the rows with this person that have shifted, one of each cause: what
    is the person's alone first.
    """
    found = []
    for cause in find_causes(measuring.drift):
        own = [row for row in cause.rows if row.step == ref and code in row.group.artisans]
        own.sort(key=lambda row: (len(row.group.artisans), not isinstance(row, ReadingRow)))
        found += [(address_of(row), str(say_finding(row))) for row in own[:1]]
    return found
