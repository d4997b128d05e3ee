"""The trainer's page."""

from fastapi import APIRouter, Request

from qcapp.checklist.model import Checklist
from qcapp.reports.trainer import TrainerReport, build_trainer_report
from qcapp.store import checklists, figures, people
from qcapp.web.deps import NowDep, SettingsDep, StoreDep
from qcapp.web.pages import page

router = APIRouter()


def load_trainer_report(store: StoreDep, settings: SettingsDep, now: NowDep) -> TrainerReport:
    with store.reading() as connection:
        current = [Checklist.from_compiled(compiled) for _key, compiled in checklists.list_current(connection)]
        return build_trainer_report(
            figures.list_step_tallies(connection),
            {step.id: step for checklist in current for step in checklist.steps},
            people.list_people(connection),
            today=now.date(),
            apprentice_days=settings.apprentice_days,
            min_count=settings.min_count,
        )


@router.get("/trainer", include_in_schema=False)
def show_trainer(request: Request, store: StoreDep, settings: SettingsDep, now: NowDep):
    report = load_trainer_report(store, settings, now)
    return page(request, "trainer.html", title="Which step to teach next", report=report)


@router.get("/api/trainer")
def get_trainer(store: StoreDep, settings: SettingsDep, now: NowDep) -> TrainerReport:
    """The figures of the trainer's page."""
    return load_trainer_report(store, settings, now)
