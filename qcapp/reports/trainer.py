"""The trainer's question: which step do apprentices get wrong more often than the others."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from qcapp.checklist.model import Step
from qcapp.inspection.tallies import StepTally
from qcapp.stats.compare import newcombe_difference
from qcapp.stats.interval import Estimate, Interval
from qcapp.stats.proportion import wilson_interval


@dataclass(frozen=True)
class GroupRate:
    """Stoves on which a group did the step: inspected and failed at first pass."""

    inspected: int
    failed: int
    rate: float | None
    interval: Interval | None


@dataclass(frozen=True)
class StepRow:
    """difference: apprentices' rate minus the others', with Newcombe's interval.

    verdict: worse, better, no-difference-shown (the interval holds 0) or too-few.
    """

    step: str
    title: str
    trade: str
    apprentices: GroupRate
    others: GroupRate
    not_assigned: GroupRate
    difference: Estimate | None
    verdict: str


@dataclass(frozen=True)
class TrainerReport:
    """apprentices: codes counted as apprentices on `today` under `apprentice_days`."""

    today: date
    apprentice_days: int
    min_count: int
    apprentices: tuple[str, ...]
    rows: tuple[StepRow, ...]


def list_apprentices(people: Iterable[Mapping], *, today: date, apprentice_days: int) -> tuple[str, ...]:
    """Codes of artisans whose first day is at most `apprentice_days` before `today`."""
    earliest = (today - timedelta(days=apprentice_days)).isoformat()
    return tuple(sorted(p["code"] for p in people if p["trades"] and (p["started_on"] or "") >= earliest))


def build_trainer_report(
    tallies: Iterable[StepTally],
    steps: Mapping[str, Step],
    people: Iterable[Mapping],
    *,
    today: date,
    apprentice_days: int,
    min_count: int,
) -> TrainerReport:
    """One row a step that was ever looked at, the largest excess of the apprentices first."""
    apprentices = list_apprentices(people, today=today, apprentice_days=apprentice_days)
    by_step: dict[str, list[StepTally]] = {}
    for tally in tallies:
        by_step.setdefault(tally.step, []).append(tally)
    rows = [_build_row(step, found, steps, set(apprentices), min_count) for step, found in by_step.items()]
    # Rows that cannot tell yet come last, whatever their rate happens to be.
    rows.sort(key=lambda row: (row.verdict == "too-few", -_excess(row), row.step))
    return TrainerReport(today, apprentice_days, min_count, apprentices, tuple(rows))


def _excess(row: StepRow) -> float:
    return row.difference.value if row.difference else 0.0


def _build_row(step: str, tallies: list[StepTally], steps: Mapping[str, Step], apprentices: set, min_count: int) -> StepRow:
    new = _rate(tally for tally in tallies if tally.artisan in apprentices)
    others = _rate(tally for tally in tallies if tally.artisan is not None and tally.artisan not in apprentices)
    unknown = _rate(tally for tally in tallies if tally.artisan is None)
    difference = None
    if new.inspected and others.inspected:
        difference = newcombe_difference(new.failed, new.inspected, others.failed, others.inspected)
    known = steps.get(step)
    return StepRow(
        step=step,
        title=known.title["en"] if known else step,
        trade=known.trade if known else "",
        apprentices=new,
        others=others,
        not_assigned=unknown,
        difference=difference,
        verdict=_word(new, others, difference, min_count),
    )


def _rate(tallies: Iterable[StepTally]) -> GroupRate:
    kept = list(tallies)
    inspected, failed = sum(t.inspected for t in kept), sum(t.failed for t in kept)
    if inspected == 0:
        return GroupRate(0, 0, None, None)
    return GroupRate(inspected, failed, failed / inspected, wilson_interval(failed, inspected))


def _word(new: GroupRate, others: GroupRate, difference: Estimate | None, min_count: int) -> str:
    if difference is None or min(new.inspected, others.inspected) < min_count:
        return "too-few"
    if difference.low > 0:
        return "worse"
    return "better" if difference.high < 0 else "no-difference-shown"
