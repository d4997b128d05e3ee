"""The card of one artisan: what goes well, the one step to work on, the own counts now and before.

It holds this artisan's stoves and nothing else: no other person's figure, no mean, no rank. It
speaks of the task, because feedback that turns the mind to the self helped less, or did harm.

References: Kluger, A. N. and DeNisi, A. (1996). The effects of feedback interventions on
performance. Psychological Bulletin 119, 254-284.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.groups import ApprenticeRule, GroupRate, sum_tallies
from qcapp.reports.teach import TeachRow, build_teach_rows, find_step_to_teach
from qcapp.stats.compare import fisher_exact

# Days that are "now", today with them; all that counts before them is "before".
NOW_DAYS = 30
# A step goes well where even the high end of the own rate's interval is below this.
MAX_WELL = 0.15
MAX_P = 0.05
# What is said of a change; card_wording.py has the words.
TOO_FEW, FEWER, MORE, NOT_SHOWN = "too_few", "fewer", "more", "not_shown"


@dataclass(frozen=True)
class CardStep:
    """One step of one checklist with the artisan's own counts over all that counts here. stage: of
    the checklist, which says what is counted: stoves, liners.
    """

    ref: StepRef
    title: str
    stage: str
    rate: GroupRate


@dataclass(frozen=True)
class CardAim:
    """The step to work on. now: the newest NOW_DAYS days; before: what comes before them, since
    the card's first day. says: FEWER, MORE, NOT_SHOWN or TOO_FEW.
    """

    step: CardStep
    now: GroupRate
    before: GroupRate
    says: str


@dataclass(frozen=True)
class Card:
    """well, aim: None where no step has stoves enough to say so. since: the first day that counts,
    ISO.
    """

    artisan: str
    since: str
    well: CardStep | None
    aim: CardAim | None


def build_card(
    artisan: str,
    own: Iterable[StepTally],
    steps: Mapping[StepRef, Step],
    stages: Mapping[str, str],
    *,
    since: str,
    today: date,
    min_count: int,
) -> Card:
    """own: the artisan's first passes since that day; stages: by checklist.

    The step to work on is that of Teach next, read for this artisan alone: with nobody beside him
    or her that is the step whose faults weigh most, with the same two faulty stoves at least, and
    only where min_count stoves were inspected.

    It is chosen by all the stoves that count, now and before together. So it is not chosen for
    being worse before, and an exact test that takes the faulty stoves as given asks only on which
    side they lie: no lucky recovery of the chosen step is called a change.
    """
    kept = list(own)
    # There is nobody to be compared with, so that who is an apprentice changes nothing.
    rule = ApprenticeRule(days=0)
    rows = [
        row
        for row in build_teach_rows(kept, steps, {}, rule=rule, min_count=min_count)
        if row.everybody.inspected >= min_count
    ]
    chosen = find_step_to_teach(rows)
    well = _find_well([row for row in rows if row is not chosen])
    aim = None
    if chosen:
        of_step = [one for one in kept if one.step == chosen.ref]
        aim = _build_aim(_read_step(chosen, stages), of_step, today, min_count)
    return Card(artisan, since, _read_step(well, stages) if well else None, aim)


def _read_step(row: TeachRow, stages: Mapping[str, str]) -> CardStep:
    return CardStep(row.ref, row.title, stages.get(row.checklist, ""), row.everybody)


def _find_well(rows: Sequence[TeachRow]) -> TeachRow | None:
    """The step whose own rate is surest to be low."""
    found = [
        (row.everybody.interval.high, row.step, row)
        for row in rows
        if row.everybody.interval and row.everybody.interval.high <= MAX_WELL
    ]
    return min(found, key=lambda one: one[:2])[2] if found else None


def _build_aim(step: CardStep, own: Sequence[StepTally], today: date, min_count: int) -> CardAim:
    first_now = (today - timedelta(days=NOW_DAYS - 1)).isoformat()
    now = sum_tallies(one for one in own if one.day >= first_now)
    before = sum_tallies(one for one in own if one.day < first_now)
    return CardAim(step, now, before, say_change(now, before, min_count))


def say_change(now: GroupRate, before: GroupRate, min_count: int) -> str:
    if min(now.inspected, before.inspected) < min_count:
        return TOO_FEW
    p = fisher_exact(now.failed, now.inspected, before.failed, before.inspected)
    if p > MAX_P:
        return NOT_SHOWN
    is_fewer = now.failed * before.inspected < before.failed * now.inspected
    return FEWER if is_fewer else MORE
