"""What a card says of one artisan, from this artisan's stoves alone."""

from datetime import date, timedelta

import numpy as np
import pytest

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.card import NOW_DAYS, build_card, say_change
from qcapp.reports.card_wording import say_counts, say_interval
from qcapp.reports.groups import build_rate

TODAY = date(2026, 11, 30)
CUT, EDGE, RIVET = (StepRef("finished", name) for name in ("cut", "edge", "rivet"))
STEPS = {
    ref: Step(id=ref.step, trade="metalwork", title={"en": ref.step.title()})
    for ref in (CUT, EDGE, RIVET)
}
FIRST_NOW = TODAY - timedelta(days=NOW_DAYS - 1)


def count(step, day, inspected, failed, severity="major"):
    return StepTally(
        step, "A02", "", day.isoformat(), inspected, failed, **{severity: failed} if failed else {}
    )


def build(*tallies, min_count=20):
    return build_card(
        "A02",
        tallies,
        STEPS,
        {"finished": "finished"},
        since="2026-06-04",
        today=TODAY,
        min_count=min_count,
    )


def test_step_to_work_on_is_the_one_whose_own_faults_weigh_most():
    """Three critical faults weigh 27, seven major ones 21, eight minor ones 8: see teach.py."""
    card = build(
        count(CUT, TODAY, 40, 7),
        count(EDGE, TODAY, 40, 8, "minor"),
        count(RIVET, TODAY, 40, 3, "critical"),
    )
    assert card.aim.step.ref == RIVET


def test_one_faulty_stove_and_few_stoves_are_no_step_to_work_on():
    assert build(count(CUT, TODAY, 40, 1)).aim is None
    assert build(count(CUT, TODAY, 19, 9)).aim is None
    assert build(count(CUT, TODAY, 20, 2)).aim.step.ref == CUT


def test_what_goes_well_is_sure_to_be_low_and_never_the_step_to_work_on():
    card = build(
        count(CUT, TODAY, 200, 2), count(EDGE, TODAY, 60, 1, "minor"), count(RIVET, TODAY, 25, 0)
    )
    assert (card.aim.step.ref, card.well.ref) == (CUT, EDGE)
    # 0 of 21 may still be 15 of 100, which is not sure to be low.
    assert build(count(EDGE, TODAY, 21, 0)).well is None
    assert build(count(EDGE, TODAY, 22, 0)).well.ref == EDGE


def test_now_begins_thirty_days_ago_and_before_is_what_comes_before_it():
    card = build(
        count(CUT, FIRST_NOW, 40, 3),
        count(CUT, FIRST_NOW - timedelta(days=1), 38, 9),
        count(CUT, date(2026, 6, 4), 2, 1),
    )
    assert (card.aim.now.failed, card.aim.now.inspected) == (3, 40)
    assert (card.aim.before.failed, card.aim.before.inspected) == (10, 40)
    assert (card.aim.step.rate.failed, card.aim.step.rate.inspected) == (13, 80)


@pytest.mark.parametrize(
    ("now", "before", "says"),
    [
        # Fisher's exact test, two-sided (scipy.stats.fisher_exact): p = 0.063, 0.013, 0.013.
        ((3, 40), (9, 38), "not_shown"),
        ((2, 40), (11, 40), "fewer"),
        ((11, 40), (2, 40), "more"),
        ((0, 19), (19, 40), "too_few"),
        ((0, 40), (19, 19), "too_few"),
    ],
)
def test_change_is_named_only_beyond_chance(now, before, says):
    rates = (build_rate(inspected, failed) for failed, inspected in (now, before))
    assert say_change(*rates, 20) == says


def test_chosen_step_that_only_recovers_by_luck_is_not_called_better():
    """Five steps alike, the worst of them chosen by now and before together: a change is named in
    at most 5 % of cards, although the worst was often worst by luck. Chosen by what came before
    alone, with the same draws, 7 % would be named.
    """
    draws = np.random.default_rng([22, 1])
    refs = [StepRef("finished", f"s{n}") for n in range(5)]
    steps = {ref: Step(id=ref.step, trade="clay", title={"en": ref.step}) for ref in refs}
    named = 0
    for _ in range(400):
        tallies = [
            count(ref, day, 40, int(draws.binomial(40, 0.2)))
            for ref in refs
            for day in (TODAY, date(2026, 9, 1))
        ]
        card = build_card("A02", tallies, steps, {}, since="2026-06-04", today=TODAY, min_count=20)
        named += card.aim.says in ("fewer", "more")
    assert named / 400 <= 0.05


def test_words_name_what_was_inspected_and_round_the_interval_outwards():
    rate = build_rate(40, 3)
    assert str(say_counts(rate, "finished")) == "3 of 40 stoves faulty"
    assert str(say_counts(rate, "green-liner")) == "3 of 40 liners faulty"
    # Wilson's interval of 3 of 40 is 0.0258 to 0.1986 (statsmodels proportion_confint).
    assert str(say_interval(rate)) == "of 100 like these, 2 to 20"
    assert say_interval(build_rate(0, 0)) == ""
