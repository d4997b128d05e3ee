"""What the trainer's pages share: the figures under the filters of the address."""

from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse

from qcapp.usecases.load_trainer import load_figures
from qcapp.usecases.trainer_figures import TrainerFigures
from qcapp.web.deps import SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.trainer.filters import FiltersDep, build_query


def get_figures(store: StoreDep, settings: SettingsDep, filters: FiltersDep) -> TrainerFigures:
    return load_figures(store, settings, filters)


FiguresDep = Annotated[TrainerFigures, Depends(get_figures)]


def figures_page(
    request: Request, template: str, figures: TrainerFigures, **values: Any
) -> HTMLResponse:
    shared = {"figures": figures, "filters": figures.filters, "query": build_query(figures.filters)}
    return page(request, template, **shared, **values)
