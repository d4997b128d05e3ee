"""Does the making fit the limits: each check and size, with what a study says of its readings."""

from dataclasses import dataclass

from qcapp.checklist.history import CheckRef
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
    """others: rows of the same check and size, judged by other limits; studied: the newest study
    that has readings of it, and how well they agree.
    """

    measuring: Measuring
    row: LimitRow
    others: tuple[LimitRow, ...]
    studied: tuple[Study, ReadingAgreement] | None


def load_limits(store: Store, settings: Settings) -> tuple[Measuring, list[LimitRow]]:
    measuring = load_measuring(store, settings)
    return measuring, build_limit_rows(
        measuring.observations,
        measuring.history,
        measuring.templates,
        min_count=measuring.min_count,
    )


def load_limit(
    store: Store, settings: Settings, check: CheckRef, size: str, judged_by: str = ""
) -> LimitView:
    """judged_by: key of the criteria; "": those in force, or the newest. Raises NotFound."""
    measuring, rows = load_limits(store, settings)
    here = [row for row in rows if (row.ref, row.size) == (check, size)]
    row = next((row for row in here if judged_by in ("", row.criteria.key)), None)
    if row is None:
        raise NotFound(
            phrase("there is no reading of this check and size"),
            " ".join((*check, size, judged_by)).strip(),
            phrase("see the list under Limits and measuring"),
        )
    others = tuple(one for one in here if one is not row)
    studied = load_studies(store).find_reading_study(row.criteria.hashes, check.check, size)
    return LimitView(measuring, row, others, studied)
