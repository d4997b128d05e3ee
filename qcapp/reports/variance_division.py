"""How the variance of one check's readings divides: measuring, artisans, templates, the rest."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from qcapp.checklist.base_check import NumberCheck
from qcapp.inspection.observations import CheckObservation
from qcapp.inspection.pieces import LOAD_STAGE
from qcapp.reports.agreement import ReadingAgreement
from qcapp.reports.row_groups import Template
from qcapp.reports.verdict_risk import Range
from qcapp.stats.capability import Capability
from qcapp.stats.uncertainty import COVERAGE
from qcapp.stats.variance_share import VarianceShare, find_variance_share


@dataclass(frozen=True)
class Division:
    """How the variance divides. measuring: share by the stated uncertainty; artisans, templates:
    shares between them with intervals, None with fewer than two; rest: what is left inside one
    artisan's stoves after measuring. by_artisan: (code, n, mean).
    """

    measuring: float
    artisans: VarianceShare | None
    templates: VarianceShare | None
    rest: float
    by_artisan: tuple[tuple[str, int, float], ...]


def divide_variance(
    check: NumberCheck,
    observations: Sequence[CheckObservation],
    found: Capability,
    templates: Sequence[Template],
) -> Division:
    """Of the observations those that have a value, each by its artisan and by the template used."""
    by_artisan: dict[str, list[float]] = {}
    by_template: dict[str, list[float]] = {}
    own = [template for template in templates if template.step == check.step]
    is_load = all(observation.stage == LOAD_STAGE for observation in observations)
    for observation in observations:
        if observation.artisan is not None and observation.value is not None:
            by_artisan.setdefault(observation.artisan, []).append(observation.value)
            named = next(
                (template.name for template in own if observation.artisan in template.artisans),
                observation.artisan,
            )
            by_template.setdefault(named, []).append(observation.value)
    measuring = min(1.0, (check.uncertainty / COVERAGE) ** 2 / found.s**2)
    artisans = _share(by_artisan.values())
    between = artisans.between.value if artisans else 0.0
    return Division(
        measuring=measuring,
        artisans=artisans,
        templates=_share(by_template.values()) if own and not is_load else None,
        rest=max(0.0, 1 - measuring - between),
        by_artisan=tuple(
            (code, len(values), sum(values) / len(values))
            for code, values in sorted(by_artisan.items())
        ),
    )


def share_of_measuring(found: ReadingAgreement, seen: Capability) -> Range:
    """Of the variance seen in the yard, what an agreement study of the same check gives to
    measuring.

    The ends are those of the study's own interval; that of the yard's spread is left out.
    """
    measuring = found.study.measuring
    value, low, high = (
        min(1.0, end**2 / seen.s**2) for end in (measuring.value, measuring.low, measuring.high)
    )
    return Range(value, low, high)


def _share(groups: Iterable[Sequence[float]]) -> VarianceShare | None:
    kept = [group for group in groups if len(group) > 1]
    spread = {value for group in kept for value in group}
    return find_variance_share(kept) if len(kept) > 1 and len(spread) > 1 else None
