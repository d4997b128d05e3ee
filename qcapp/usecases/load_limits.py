"""Does the making fit the limits: each check and size, with what a study says of its readings."""

from dataclasses import dataclass

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.study import Study
from qcapp.reports.agreement import ReadingAgreement
from qcapp.reports.limits import LimitRow, build_limit_rows
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.usecases.load_measuring import Measuring, load_measuring
from qcapp.usecases.load_studies import load_studies


@dataclass(frozen=True)
class LimitView:
    """studied: the newest study that has readings of it, and how well they agree."""

    measuring: Measuring
    row: LimitRow
    studied: tuple[Study, ReadingAgreement] | None


def load_limits(store: Store, settings: Settings) -> tuple[Measuring, list[LimitRow]]:
    measuring = load_measuring(store, settings)
    return measuring, build_limit_rows(
        measuring.observations, measuring.checks, measuring.templates, min_count=measuring.min_count
    )


def load_limit(store: Store, settings: Settings, check: str, size: str) -> LimitView:
    """Raises NotFound."""
    measuring, rows = load_limits(store, settings)
    row = next((row for row in rows if (row.check.id, row.size) == (check, size)), None)
    if row is None:
        raise NotFound(
            phrase("there is no reading of this check and size"),
            f"{check} {size}",
            phrase("see the list under Limits and measuring"),
        )
    return LimitView(measuring, row, load_studies(store).find_reading_study(check, size))
