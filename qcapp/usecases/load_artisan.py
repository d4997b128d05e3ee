"""One artisan's figures, with the newest photos of the faults."""

from typing import Any

from qcapp.checklist.history import StepRef
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.reports.apprentice import ArtisanReport
from qcapp.store.engine import Store
from qcapp.store.queries import artisan_queries
from qcapp.usecases.load_trainer import find_steps
from qcapp.usecases.trainer_figures import TrainerFigures

SEE_NAMES = phrase("see the names under Steps by people")


def load_artisan(
    store: Store, figures: TrainerFigures, code: str, *, see: str = SEE_NAMES
) -> ArtisanReport:
    """Raises NotFound. see: where the artisans' codes are found."""
    if code not in figures.people:
        raise NotFound(phrase("there is no such artisan"), code, see)
    with store.reading() as connection:
        own = artisan_queries.list_step_inspections(
            connection, code, figures.counted, find_steps(figures.history, figures.filters)
        )
    return figures.build_artisan(code, own)


def list_fault_photos(
    store: Store, figures: TrainerFigures, report: ArtisanReport
) -> list[dict[str, Any]]:
    """The newest photos of the artisan's faults."""
    steps = [StepRef(step.checklist, step.step) for step in report.steps]
    with store.reading() as connection:
        return artisan_queries.list_fault_photos(
            connection, report.artisan, steps, since=figures.counted.since
        )
