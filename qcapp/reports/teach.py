"""Teach next: the steps that apprentices get wrong more often than the experienced, by weight."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.groups import (
    MIN_TO_CARRY,
    ApprenticeRule,
    GroupRate,
    People,
    PersonRate,
    count_people,
    find_carriers,
    list_people,
    split_tallies,
    sum_tallies,
)
from qcapp.reports.teach_evidence import StovesMore, compare_steps, find_stoves_more
from qcapp.stats.compare import benjamini_hochberg
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
CHANCE, BETTER = phrase("chance"), phrase("better")
TOO_FEW, TOO_FEW_FAULTS = phrase("too few"), phrase("too few faults")
TOO_FEW_PEOPLE = phrase("too few people")
NAMED = tuple(word for limit, word in STRENGTHS if limit <= 0.05)
# One person is no group: below this in either group nothing is said of apprentices.
MIN_PEOPLE = 2
# Fewer faulty stoves in all could show nothing however they fell, and testing them would only
# make the others harder to show (Tarone 1990, A modified Bonferroni method for discrete data,
# Biometrics 46, 515-522).
MIN_FAULTS = 5


@dataclass(frozen=True)
class TeachRow:
    """One step of one checklist.

    difference: rate of the usual apprentice minus that of the usual experienced
    maker, in a batch of the usual difficulty; None where the groups are not compared.

    strength: very strong, strong, good, weak, chance (q above 0.2), better (fewer faults than
    the experienced), or why they are not compared: too few (stoves), too few people, too few
    faults. p: with the person as the unit, before; q: after allowing for the steps looked at.
    spread: standard deviation of the log odds between people of one group. who: everybody, the
    most faulty stoves first; carriers: the one or two with most of them. excess: apprentices minus
    experienced in these stoves, inside batches (Mantel-Haenszel). weight: what one failed stove of
    an apprentice weighs; score: extra weighted faults per 100 stoves; burden: everybody's weighted
    faults.
    """

    checklist: str
    step: str
    title: str
    trade: str
    apprentices: GroupRate
    experienced: GroupRate
    not_assigned: GroupRate
    everybody: GroupRate
    apprentice_people: int
    experienced_people: int
    who: tuple[PersonRate, ...]
    carriers: tuple[PersonRate, ...]
    batches_compared: int
    excess: float | None
    difference: Estimate | None
    spread: Estimate | None
    p: float | None
    q: float | None
    strength: str
    weight: float
    score: float
    burden: float
    stoves_more: StovesMore | None

    @property
    def ref(self) -> StepRef:
        return StepRef(self.checklist, self.step)


@dataclass(frozen=True)
class _Groups:
    new: list[StepTally]
    old: list[StepTally]
    unknown: list[StepTally]


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
    groups = {step: _Groups(*split_tallies(own, people, rule)) for step, own in by_step.items()}
    rows = [
        _build_row(step, own, steps.get(step), people, costs[step], min_count)
        for step, own in groups.items()
    ]
    return sorted(_judge_rows(rows, groups), key=_order)


def sort_by_burden(rows: Iterable[TeachRow]) -> list[TeachRow]:
    """Steps by the weight of everybody's faults, whoever makes them and whatever is shown of the
    groups: a large problem stands on top although one person has it.
    """
    return sorted(rows, key=lambda row: (-row.burden, row.step, row.checklist))


def find_step_to_teach(rows: Sequence[TeachRow]) -> TeachRow | None:
    """The first that shows a difference between the groups; where none does, the one with the
    largest burden. One faulty stove is no problem to teach about.

    rows: as build_teach_rows gives them.
    """
    if rows and rows[0].strength in NAMED:
        return rows[0]
    several = [row for row in rows if row.everybody.failed >= MIN_TO_CARRY]
    return next(iter(sort_by_burden(several)), None)


def _list_costs(seen: Iterable[StepRef], steps: Mapping[StepRef, Step]) -> dict[StepRef, float]:
    """Relative cost of rework by step, 1 on the average of those that name it."""
    minutes = {ref: step.rework_minutes for ref, step in steps.items() if step.rework_minutes}
    mean = sum(minutes.values()) / len(minutes) if minutes else 1.0
    return {step: minutes.get(step, mean) / mean for step in seen}


def _build_row(
    ref: StepRef,
    groups: _Groups,
    known: Step | None,
    people: People,
    cost: float,
    min_count: int,
) -> TeachRow:
    compared = mantel_haenszel(_list_strata(groups.new, groups.old))
    excess = compared.risk_difference.value if compared.risk_difference else None
    weight, everybody = cost * _mean_weight(groups.new), [*groups.new, *groups.old, *groups.unknown]
    who = list_people(groups.new, groups.old, people)
    row = TeachRow(
        checklist=ref.checklist,
        step=ref.step,
        title=text_of(known.title) if known else ref.step,
        trade=known.trade if known else "",
        apprentices=sum_tallies(groups.new),
        experienced=sum_tallies(groups.old),
        not_assigned=sum_tallies(groups.unknown),
        everybody=sum_tallies(everybody),
        apprentice_people=count_people(groups.new),
        experienced_people=count_people(groups.old),
        who=who,
        carriers=find_carriers(who),
        batches_compared=compared.strata_used,
        excess=excess,
        difference=None,
        spread=None,
        p=None,
        q=None,
        strength="",
        weight=weight,
        score=100 * weight * max(0.0, excess or 0.0),
        burden=cost * _mean_weight(everybody) * sum(one.failed for one in everybody),
        stoves_more=None,
    )
    return replace(row, strength=_find_reason(row, min_count))


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
    failed = dict.fromkeys(SEVERITY_WEIGHT, 0)
    for one in tallies:
        failed["critical"] += one.critical
        failed["major"] += one.major
        failed["minor"] += one.minor
    count = sum(failed.values())
    return sum(SEVERITY_WEIGHT[name] * failed[name] for name in failed) / count if count else 1.0


def _find_reason(row: TeachRow, min_count: int) -> str:
    """Why the groups are not compared; empty where they are. A step that is not compared costs the
    others nothing.
    """
    if min(row.apprentice_people, row.experienced_people) < MIN_PEOPLE:
        return TOO_FEW_PEOPLE
    inspected = min(row.apprentices.inspected, row.experienced.inspected)
    if inspected < min_count or row.batches_compared == 0:
        return TOO_FEW
    failed = row.apprentices.failed + row.experienced.failed
    passed = row.apprentices.inspected + row.experienced.inspected - failed
    return TOO_FEW_FAULTS if min(failed, passed) < MIN_FAULTS else ""


def _judge_rows(rows: Sequence[TeachRow], groups: Mapping[StepRef, _Groups]) -> list[TeachRow]:
    """Adds the comparison with its word. Steps that only tell how people differ are read too."""
    found = compare_steps(
        {row.ref: (groups[row.ref].new, groups[row.ref].old) for row in rows},
        [row.ref for row in rows if not row.strength],
    )
    adjusted = dict(zip(found, benjamini_hochberg([one.p for one in found.values()]), strict=True))
    judged = []
    for row in rows:
        if row.ref in found:
            one = found[row.ref]
            compared = replace(
                row, p=one.p, q=adjusted[row.ref], difference=one.difference, spread=one.spread
            )
            judged.append(_name(compared))
        else:
            judged.append(replace(row, stoves_more=_find_more(row)))
    return judged


def _name(row: TeachRow) -> TeachRow:
    q = 1.0 if row.q is None else row.q
    word = next((word for limit, word in STRENGTHS if q <= limit), CHANCE)
    if word != CHANCE and row.difference and row.difference.value < 0:
        word = BETTER
    more = _find_more(row) if word in ("weak", CHANCE) else None
    return replace(row, strength=word, stoves_more=more)


def _find_more(row: TeachRow) -> StovesMore | None:
    people = (row.apprentice_people, row.experienced_people)
    spread = row.spread.value if row.spread else 0.0
    return find_stoves_more(row.apprentices, row.experienced, people, spread)


def _order(row: TeachRow) -> tuple[int, float, str, str]:
    groups = {"weak": 1, CHANCE: 2, BETTER: 2, TOO_FEW_PEOPLE: 3, TOO_FEW: 4, TOO_FEW_FAULTS: 4}
    return (groups.get(row.strength, 0), -row.score, row.step, row.checklist)
