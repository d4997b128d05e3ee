"""How often "teach next" names the planted step, and how often it accuses when nothing is planted.

Yards are drawn from written-down rates with seeded random numbers and go through the same report
as the page. Batches differ in difficulty and apprentices get more of the hard ones, so that a
report that lumped batches together would accuse.
"""

from dataclasses import dataclass

import numpy as np

from qcapp.checklist.history import StepRef
from qcapp.inspection.tallies import StepTally
from qcapp.reports.groups import ApprenticeRule
from qcapp.reports.teach import NAMED, build_teach_rows

STEPS = 12
BATCHES = 6
PLANTED = "step-00"
RULE = ApprenticeRule(days=180)
PEOPLE = {"NEW": {"started_on": "2026-09-01"}, "OLD": {"started_on": "2015-01-01"}}


@dataclass(frozen=True)
class Yard:
    """stoves: in all. base: everyone's rate of a fault in an average batch. planted: the
    apprentices' rate on one step, or None. confounded: hard batches go to the apprentices."""

    name: str
    stoves: int
    base: float
    planted: float | None
    confounded: bool = True


YARDS = (
    Yard("nothing planted, 400 stoves", 400, 0.04, None),
    Yard("nothing planted, 1,600 stoves", 1600, 0.04, None),
    Yard("nothing planted, 10 % faults", 400, 0.10, None),
    Yard("4 % against 10 %, 400 stoves", 400, 0.04, 0.10),
    Yard("4 % against 15 %, 400 stoves", 400, 0.04, 0.15),
    Yard("4 % against 25 %, 400 stoves", 400, 0.04, 0.25),
    Yard("4 % against 10 %, 1,600 stoves", 1600, 0.04, 0.10),
)


@dataclass(frozen=True)
class Score:
    """Shares of runs: named_first (the planted step stands first), named (named at all),
    accused (any step named that was not planted)."""

    yard: str
    runs: int
    named_first: float
    named: float
    accused: float


def score_yard(yard: Yard, runs: int, seed: int) -> Score:
    first = named = accused = 0
    for run in range(runs):
        rows = build_teach_rows(
            _draw(yard, np.random.default_rng([seed, run])), {}, PEOPLE, rule=RULE, min_count=20
        )
        shown = [row.step for row in rows if row.strength in NAMED]
        planted = PLANTED if yard.planted is not None else None
        first += bool(shown) and shown[0] == planted
        named += planted in shown
        accused += any(step != planted for step in shown)
    return Score(yard.name, runs, first / runs, named / runs, accused / runs)


def _draw(yard: Yard, rng: np.random.Generator) -> list[StepTally]:
    hard = np.exp(np.linspace(-0.7, 0.7, BATCHES))
    share_new = np.linspace(0.15, 0.55, BATCHES) if yard.confounded else np.full(BATCHES, 0.3)
    per_batch = yard.stoves // BATCHES
    tallies = []
    for batch in range(BATCHES):
        new = rng.random(per_batch) < share_new[batch]
        for step in range(STEPS):
            rates = np.where(new & (step == 0), yard.planted or yard.base, yard.base) * hard[batch]
            failed = rng.random(per_batch) < np.minimum(rates, 1.0)
            for who, own in (("NEW", failed[new]), ("OLD", failed[~new])):
                tallies.append(
                    StepTally(
                        StepRef("bench", f"step-{step:02}"),
                        who,
                        f"B{batch}",
                        "2026-11-01",
                        len(own),
                        int(own.sum()),
                        major=int(own.sum()),
                    )
                )
    return tallies


def list_scores(runs: int, seed: int = 20261125) -> list[Score]:
    return [score_yard(yard, runs, seed) for yard in YARDS]
