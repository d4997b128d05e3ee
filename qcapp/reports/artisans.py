"""Step by artisan: counts, raw rate and the rate after allowing for chance."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import Any

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.groups import ApprenticeRule, GroupRate, People, build_rate, sum_tallies
from qcapp.stats.interval import Interval
from qcapp.stats.shrinkage import Shrinkage, ShrunkRate, shrink_rates

ALONE = phrase("alone")
NOBODY = Shrinkage(0.0, inf, is_pooled=True, level=0.95, people=())


@dataclass(frozen=True)
class ArtisanRow:
    """One artisan on one step. raw, raw_interval: the rate of the stoves inspected; rate, low,
    high: shrunk towards the rate of the average artisan.

    mark: above (even the low end is over the average's, and enough stoves), below, not shown
    (to differ: which is not the same as alike), too few (no one is called worse on fewer than the
    minimum count), or alone (nobody to be held against).
    """

    artisan: str
    name: str
    is_apprentice: bool
    inspected: int
    failed: int
    raw: float | None
    raw_interval: Interval | None
    rate: float
    low: float
    high: float
    mark: str


@dataclass(frozen=True)
class StepTable:
    """Artisans of one step of one checklist in order of code.

    mean: the rate of the average artisan; not_assigned: of nobody known, which no row counts.

    is_pooled: two artisans at least, and the counts show no difference between them beyond chance;
    a small number of stoves shows none either.
    """

    checklist: str
    step: str
    title: str
    trade: str
    inspected: int
    failed: int
    mean: float
    is_pooled: bool
    rows: tuple[ArtisanRow, ...]
    not_assigned: GroupRate


@dataclass(slots=True)
class _Sum:
    """One artisan's stoves of one step. latest: a tally of the last day."""

    failed: int
    inspected: int
    latest: StepTally

    def add(self, one: StepTally) -> None:
        self.failed += one.failed
        self.inspected += one.inspected
        if one.day > self.latest.day:
            self.latest = one


def build_step_tables(
    tallies: Iterable[StepTally],
    steps: Mapping[StepRef, Step],
    people: People,
    *,
    rule: ApprenticeRule,
    min_count: int,
) -> list[StepTable]:
    """One table a step, in the checklists' order; without rows where nothing is assigned."""
    by_step: dict[StepRef, dict[str, _Sum]] = {}
    unknown: dict[StepRef, list[StepTally]] = {}
    for one in tallies:
        own = by_step.get(one.step)
        if own is None:
            own = by_step[one.step] = {}
        if one.artisan is None:
            unknown.setdefault(one.step, []).append(one)
        elif one.artisan in own:
            own[one.artisan].add(one)
        else:
            own[one.artisan] = _Sum(one.failed, one.inspected, one)
    places = {step: place for place, step in enumerate(steps)}
    ordered = sorted(by_step, key=lambda step: (places.get(step, len(places)), step))
    return [
        replace(
            _build_table(step, by_step[step], steps.get(step), people, rule, min_count),
            not_assigned=sum_tallies(unknown.get(step, [])),
        )
        for step in ordered
    ]


def _build_table(
    ref: StepRef,
    by_artisan: dict[str, _Sum],
    known_step: Step | None,
    people: People,
    rule: ApprenticeRule,
    min_count: int,
) -> StepTable:
    codes = sorted(by_artisan)
    counts = [(by_artisan[code].failed, by_artisan[code].inspected) for code in codes]
    shrunk = shrink_rates(counts) if counts else NOBODY
    rows = tuple(
        _build_row(
            code,
            person,
            known=people.get(code, {}),
            latest=by_artisan[code].latest,
            rule=rule,
            mark=_mark(person, shrunk.mean, min_count) if len(codes) > 1 else ALONE,
        )
        for code, person in zip(codes, shrunk.people, strict=True)
    )
    return StepTable(
        *ref,
        text_of(known_step.title) if known_step else ref.step,
        known_step.trade if known_step else "",
        sum(inspected for _failed, inspected in counts),
        sum(failed for failed, _inspected in counts),
        shrunk.mean,
        shrunk.is_pooled and len(rows) > 1,
        rows,
        build_rate(0, 0),
    )


def _build_row(
    code: str,
    person: ShrunkRate,
    *,
    known: Mapping[str, Any],
    latest: StepTally,
    rule: ApprenticeRule,
    mark: str,
) -> ArtisanRow:
    """known: of the person, empty for one who is erased. latest: the newest tally."""
    return ArtisanRow(
        artisan=code,
        name=known.get("name", code),
        is_apprentice=rule.is_apprentice(latest, known.get("started_on")),
        inspected=person.inspected,
        failed=person.failed,
        raw=person.raw,
        raw_interval=build_rate(person.inspected, person.failed).interval,
        rate=person.rate,
        low=person.low,
        high=person.high,
        mark=mark,
    )


def _mark(person: ShrunkRate, mean: float, min_count: int) -> str:
    if person.inspected < min_count:
        return phrase("too few")
    if person.low > mean:
        return phrase("above")
    return phrase("below") if person.high < mean else phrase("not shown")
