"""The trainer's figures as JSON, described at /api/openapi.json."""

from fastapi import APIRouter

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.reports.apprentice import ArtisanReport
from qcapp.reports.artisans import StepTable
from qcapp.reports.faults import StepFaults
from qcapp.reports.lessons import LessonRow
from qcapp.reports.teach import TeachRow
from qcapp.usecases.load_trainer import load_artisan, load_figures
from qcapp.web.deps import SettingsDep, StoreDep
from qcapp.web.rules import allow
from qcapp.web.trainer.filters import FiltersDep

router = APIRouter(prefix="/api/trainer", tags=["trainer"])


@router.get("/teach", dependencies=[allow("see_figures")])
def get_teach(store: StoreDep, settings: SettingsDep, filters: FiltersDep) -> list[TeachRow]:
    """Steps, what to teach next first, each with both groups' counts and the strength of evidence."""
    return load_figures(store, settings, filters).teach_rows


@router.get("/artisans", dependencies=[allow("see_figures")])
def get_artisans(store: StoreDep, settings: SettingsDep, filters: FiltersDep) -> list[StepTable]:
    """Step by artisan: counts, raw rate and shrunk rate with its interval."""
    return load_figures(store, settings, filters).step_tables


@router.get("/artisans/{code}", dependencies=[allow("see_figures")])
def get_artisan(
    code: str, store: StoreDep, settings: SettingsDep, filters: FiltersDep
) -> ArtisanReport:
    """One artisan: learning curve, runs of stoves, faults."""
    figures = load_figures(store, settings, filters)
    if code not in figures.people:
        raise NotFound(
            phrase("there is no such artisan"), code, phrase("ask /api/trainer/artisans")
        )
    return load_artisan(store, figures, code)


@router.get("/faults", dependencies=[allow("see_figures")])
def get_faults(store: StoreDep, settings: SettingsDep, filters: FiltersDep) -> list[StepFaults]:
    """Fault kinds of each step in Pareto order."""
    return load_figures(store, settings, filters).step_faults


@router.get("/lessons", dependencies=[allow("see_figures")])
def get_lessons(store: StoreDep, settings: SettingsDep, filters: FiltersDep) -> list[LessonRow]:
    """Lessons with the taught artisans' rates before and after."""
    return load_figures(store, settings, filters).lesson_rows
