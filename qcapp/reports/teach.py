"""Teach next: the steps that apprentices get wrong more often than the experienced, by weight."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from qcapp.checklist.history import StepRef
from qcapp.checklist.model import Step
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.tallies import StepTally
from qcapp.reports.groups import ApprenticeRule, GroupRate, People, split_tallies, sum_tallies
from qcapp.stats.compare import benjamini_hochberg, find_stoves_to_distinguish
from qcapp.stats.exact import stratified_exact_p
from qcapp.stats.interval import Estimate
from qcapp.stats.strata import Stratum, mantel_haenszel

# What one failed stove weighs. A choice of ours, shown on the page: a fault that can hurt
# someone weighs as much as nine that only look bad.
SEVERITY_WEIGHT = {"critical": 9, "major": 3, "minor": 1}
# Adjusted p up to which a difference is called by each word. Naming a step at q <= 0.05
# holds the expected share of false namings among the named at 5 %.
STRENGTHS = (
    (0.001, phrase("very strong")),
    (0.01, phrase("strong")),
    (0.05, phrase("good")),
    (0.2, phrase("weak")),
)
TOO_FEW, CHANCE, BETTER = phrase("too few"), phrase("chance"), phrase("better")
NAMED = tuple(word for limit, word in STRENGTHS if limit <= 0.05)
# When no difference is seen yet, the page says how many stoves would show one of this size.
MIN_WORTH_TEACHING = 0.10


@dataclass(frozen=True)
class TeachRow:
    """One step of one checklist.

    difference: apprentices minus experienced, inside batches (Mantel-Haenszel).

    strength: very strong, strong, good, weak, chance (q above 0.2), better (fewer faults than
    the experienced), too few. p: exact, before; q: after allowing for the steps looked at.
    weight: what one failed stove of the step weighs. score: extra weighted faults per 100 stoves.
    stoves_more: of apprentices, that would tell at 95 % confidence and 80 % power, or None.
    """

    checklist: str
    step: str
    title: str
    trade: str
    apprentices: GroupRate
    experienced: GroupRate
    not_assigned: GroupRate
    batches_compared: int
    difference: Estimate | None
    p: float | None
    q: float | None
    strength: str
    weight: float
    score: float
    stoves_more: int | None

    @property
    def ref(self) -> StepRef:
        return StepRef(self.checklist, self.step)


def build_teach_rows(
    tallies: Iterable[StepTally],
    steps: Mapping[StepRef, Step],
    people: People,
    *,
    rule: ApprenticeRule,
    min_count: int,
) -> list[TeachRow]:
    """One row a step that was looked at; what to teach next first.

    people: by code. Where any step has its rework minutes set, they multiply the weight; a step
    without them then costs as much as the mean of those that have.
    """
    by_step: dict[StepRef, list[StepTally]] = {}
    for one in tallies:
        by_step.setdefault(one.step, []).append(one)
    costs = _list_costs(by_step, steps)
    rows = [
        _build_row(step, found, steps.get(step), people, rule, costs[step])
        for step, found in by_step.items()
    ]
    return sorted(_judge_rows(rows, min_count), key=_order)


def _list_costs(seen: Iterable[StepRef], steps: Mapping[StepRef, Step]) -> dict[StepRef, float]:
    """Relative cost of rework by step, 1 on the average of those that name it."""
    minutes = {ref: step.rework_minutes for ref, step in steps.items() if step.rework_minutes}
    mean = sum(minutes.values()) / len(minutes) if minutes else 1.0
    return {step: minutes.get(step, mean) / mean for step in seen}


def _build_row(
    ref: StepRef,
    tallies: Iterable[StepTally],
    known: Step | None,
    people: People,
    rule: ApprenticeRule,
    cost: float,
) -> TeachRow:
    new, old, unknown = split_tallies(tallies, people, rule)
    strata = _list_strata(new, old)
    compared = mantel_haenszel(strata)
    weight = cost * _mean_weight(new)
    difference = compared.risk_difference
    return TeachRow(
        checklist=ref.checklist,
        step=ref.step,
        title=text_of(known.title) if known else ref.step,
        trade=known.trade if known else "",
        apprentices=sum_tallies(new),
        experienced=sum_tallies(old),
        not_assigned=sum_tallies(unknown),
        batches_compared=compared.strata_used,
        difference=difference,
        p=stratified_exact_p(strata),
        q=None,
        strength="",
        weight=weight,
        score=100 * weight * max(0.0, difference.value) if difference else 0.0,
        stoves_more=None,
    )


def _list_strata(new: list[StepTally], old: list[StepTally]) -> list[Stratum]:
    """One for each batch: an easy or hard batch must not make anyone look good or bad."""
    counts: dict[str, list[int]] = {}
    for place, group in ((0, new), (2, old)):
        for one in group:
            batch = counts.setdefault(one.batch, [0, 0, 0, 0])
            batch[place] += one.failed
            batch[place + 1] += one.inspected
    return [Stratum(*counts[batch]) for batch in sorted(counts)]


def _mean_weight(tallies: Iterable[StepTally]) -> float:
    failed = {name: sum(getattr(one, name) for one in tallies) for name in SEVERITY_WEIGHT}
    count = sum(failed.values())
    return sum(SEVERITY_WEIGHT[name] * failed[name] for name in failed) / count if count else 1.0


def _judge_rows(rows: list[TeachRow], min_count: int) -> list[TeachRow]:
    """Adds q and the word. A step with too few stoves is not tested, so it costs the others
    nothing.
    """
    p_by_step = {
        row.ref: row.p for row in rows if _has_enough(row, min_count) and row.p is not None
    }
    adjusted = dict(zip(p_by_step, benjamini_hochberg(list(p_by_step.values())), strict=True))
    return [_judge_row(row, adjusted.get(row.ref), min_count) for row in rows]


def _judge_row(row: TeachRow, q: float | None, min_count: int) -> TeachRow:
    if not _has_enough(row, min_count):
        return replace(row, strength=TOO_FEW, stoves_more=_stoves_more(row, min_count))
    if q is None:
        return replace(row, strength=CHANCE, stoves_more=_stoves_more(row, min_count))
    word = next((word for limit, word in STRENGTHS if q <= limit), CHANCE)
    if word != CHANCE and row.difference and row.difference.value < 0:
        word = BETTER
    needs_more = word in ("weak", CHANCE)
    return replace(
        row, q=q, strength=word, stoves_more=_stoves_more(row, min_count) if needs_more else None
    )


def _has_enough(row: TeachRow, min_count: int) -> bool:
    return (
        min(row.apprentices.inspected, row.experienced.inspected) >= min_count
        and row.batches_compared > 0
    )


def _stoves_more(row: TeachRow, min_count: int) -> int | None:
    """Apprentices' stoves still to be inspected before the difference now seen would be shown.

    Where none is seen, before one of MIN_WORTH_TEACHING above the experienced would be.
    """
    base = row.experienced.rate if row.experienced.rate is not None else 0.0
    seen = row.apprentices.rate if row.apprentices.rate is not None else base
    if seen <= base:
        seen = min(1.0, base + MIN_WORTH_TEACHING)
    ratio = (
        row.experienced.inspected / row.apprentices.inspected
        if row.apprentices.inspected and row.experienced.inspected
        else 1.0
    )
    needed = find_stoves_to_distinguish(seen, base, b_per_a=ratio)
    if needed is None:
        return None
    more = max(needed, min_count) - row.apprentices.inspected
    return more if more > 0 else None


def _order(row: TeachRow) -> tuple[int, float, str, str]:
    groups = {"weak": 1, CHANCE: 2, BETTER: 2, TOO_FEW: 3}
    return (groups.get(row.strength, 0), -row.score, row.step, row.checklist)
