"""The trainer's figures as JSON, described at /api/openapi.json."""

from fastapi import APIRouter

from qcapp.i18n.phrase import phrase
from qcapp.reports.apprentice import ArtisanReport
from qcapp.reports.artisans import StepTable
from qcapp.reports.escapes import StageEscapes
from qcapp.reports.faults import StepFaults
from qcapp.reports.lessons import LessonRow
from qcapp.reports.pieces import PieceReport
from qcapp.reports.teach import TeachRow
from qcapp.usecases.load_artisan import load_artisan
from qcapp.web.deps import StoreDep
from qcapp.web.rules import allow
from qcapp.web.trainer.figures import FiguresDep

router = APIRouter(prefix="/api/trainer", tags=["trainer"])


@router.get("/teach", dependencies=[allow("see_figures")])
def get_teach(figures: FiguresDep) -> list[TeachRow]:
    """Steps, what to teach next first, each with both groups' counts and the strength of
    evidence.
    """
    return figures.teach_rows


@router.get("/artisans", dependencies=[allow("see_figures")])
def get_artisans(figures: FiguresDep) -> list[StepTable]:
    """Step by artisan: counts, raw rate and shrunk rate with its interval."""
    return figures.step_tables


@router.get("/artisans/{code}", dependencies=[allow("see_figures")])
def get_artisan(code: str, store: StoreDep, figures: FiguresDep) -> ArtisanReport:
    """One artisan: learning curve, runs of stoves, faults."""
    return load_artisan(store, figures, code, see=phrase("see /api/trainer/artisans"))


@router.get("/faults", dependencies=[allow("see_figures")])
def get_faults(figures: FiguresDep) -> list[StepFaults]:
    """Fault kinds of each step in Pareto order."""
    return figures.step_faults


@router.get("/lessons", dependencies=[allow("see_figures")])
def get_lessons(figures: FiguresDep) -> list[LessonRow]:
    """Lessons with the taught artisans' rates before and after."""
    return figures.lesson_rows


@router.get("/pieces", dependencies=[allow("see_figures")])
def get_pieces(figures: FiguresDep) -> PieceReport:
    """First-pass yield of each stage, and over the stages for pieces that are linked."""
    return figures.pieces.report


@router.get("/escapes", dependencies=[allow("see_figures")])
def get_escapes(figures: FiguresDep) -> list[StageEscapes]:
    """Of the pieces that each stage passed and a later one looked at, those with a fault that it
    let through.
    """
    return figures.escapes
