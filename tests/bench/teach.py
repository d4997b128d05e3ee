"""How often "teach next" names the planted step, and how often it accuses when nothing is planted.

Yards are drawn from written-down rates with seeded random numbers and go through the same report
as the page. People differ, although nothing is planted; batches differ in difficulty and apprentices
get more of the hard ones, so that a report that took stoves for people, or lumped batches together,
would accuse.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.special import expit, logit

from qcapp.checklist.history import StepRef
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.groups import ApprenticeRule
from qcapp.reports.teach import NAMED, build_teach_rows

STEPS = 12
BATCHES = 6
PLANTED = "step-00"
RULE = ApprenticeRule(days=180)
# Standard deviation of the log odds between people of one group, about what the demo's yard
# shows (tests/reports/test_demo_people.py holds it there), and twice that.
FITTED = 1.0
SPREADS = (0.0, FITTED, 2 * FITTED)
GROUPS = ((2, 4), (3, 6), (1, 5))


@dataclass(frozen=True)
class Yard:
    """apprentices, experienced: people. stoves: in all. base: the usual person's rate of a fault in
    an average batch; spread: between people, standard deviation of the log odds. planted: the usual
    apprentice's rate on one step, or None. careless: share of the spread's variance that a person
    has in all steps alike. outliers: on every fourth step one person, whoever, has so much more.
    """

    apprentices: int
    experienced: int
    spread: float
    stoves: int = 400
    base: float = 0.04
    planted: float | None = None
    careless: float = 0.0
    outliers: float = 0.0

    @property
    def name(self) -> str:
        planted = "nothing planted" if self.planted is None else f"planted {self.planted:.0%}"
        more = "".join(
            words
            for words, given in (
                (f", base {self.base:.0%}", self.base != 0.04),
                (f", {self.stoves:,} stoves", self.stoves != 400),
                (", the same people worse in all steps", self.careless > 0),
                (", one odd person in a step", self.outliers > 0),
            )
            if given
        )
        return (
            f"{planted}, {self.apprentices} against {self.experienced}, "
            f"spread {self.spread:g}{more}"
        )


NOTHING = [Yard(*groups, spread) for groups in GROUPS for spread in SPREADS]
HARDER = [
    Yard(2, 4, FITTED, careless=1.0),
    Yard(3, 6, FITTED, careless=1.0),
    Yard(2, 4, FITTED / 2),
    Yard(3, 6, FITTED / 2),
    Yard(2, 4, FITTED / 2, outliers=2.5),
    Yard(2, 4, FITTED, base=0.10),
    Yard(3, 6, FITTED, stoves=1600),
    Yard(2, 2, FITTED),
]
EFFECTS = [
    Yard(*groups, spread, planted=planted)
    for groups in GROUPS[:2]
    for spread in (0.0, FITTED / 2, FITTED)
    for planted in (0.15, 0.30)
]
MANY_STOVES_OR_PEOPLE = [
    Yard(3, 6, FITTED, stoves=1600, planted=0.15),
    Yard(3, 6, FITTED, stoves=1600, planted=0.30),
    Yard(6, 12, FITTED, stoves=1600, planted=0.15),
    Yard(6, 12, FITTED, stoves=1600, planted=0.30),
]
YARDS = [*NOTHING, *HARDER, *EFFECTS, *MANY_STOVES_OR_PEOPLE]


@dataclass(frozen=True)
class Score:
    """Shares of runs: named (the planted step), named_first (it stands first), accused (any step
    named that was not planted). false_share: mean share of the named steps that were not planted
    (0 where none is named).
    """

    yard: str
    runs: int
    named_first: float
    named: float
    accused: float
    false_share: float


def score_yard(yard: Yard, runs: int, seed: int) -> Score:
    people = {
        **{f"N{place}": {"started_on": "2026-09-01"} for place in range(yard.apprentices)},
        **{f"E{place}": {"started_on": "2015-01-01"} for place in range(yard.experienced)},
    }
    first = named = accused = 0
    false_share = 0.0
    planted = PLANTED if yard.planted is not None else None
    for run in range(runs):
        tallies = draw_tallies(yard, np.random.default_rng([seed, run]))
        rows = build_teach_rows(tallies, {}, people, rule=RULE, min_count=20)
        shown = [row.step for row in rows if row.strength in NAMED]
        wrong = sum(step != planted for step in shown)
        first += bool(shown) and shown[0] == planted
        named += planted in shown
        accused += wrong > 0
        false_share += wrong / len(shown) if shown else 0.0
    counts = (first, named, accused, false_share)
    return Score(yard.name, runs, *(count / runs for count in counts))


def draw_tallies(yard: Yard, rng: np.random.Generator) -> list[StepTally]:
    inspected = _draw_crews(yard, rng)
    rates = expit(_draw_people(yard, rng)[:, :, None] + np.linspace(-0.7, 0.7, BATCHES))
    failed = rng.binomial(inspected, rates)
    codes = [f"N{place}" for place in range(yard.apprentices)]
    codes += [f"E{place}" for place in range(yard.experienced)]
    return [
        StepTally(
            StepRef("bench", f"step-{step:02}"),
            code,
            f"B{batch}",
            "2026-11-01",
            int(inspected[who, batch]),
            int(failed[step, who, batch]),
            major=int(failed[step, who, batch]),
        )
        for step in range(STEPS)
        for who, code in enumerate(codes)
        for batch in range(BATCHES)
        if inspected[who, batch]
    ]


def _draw_crews(yard: Yard, rng: np.random.Generator) -> np.ndarray:
    """Stoves by person and batch; the hard batches go to the apprentices."""
    per_batch = yard.stoves // BATCHES
    by_apprentices = rng.binomial(per_batch, np.linspace(0.15, 0.55, BATCHES))
    halves = [
        rng.multinomial(stoves, np.full(people, 1 / people))
        for people, group in (
            (yard.apprentices, by_apprentices),
            (yard.experienced, per_batch - by_apprentices),
        )
        for stoves in group
    ]
    return np.vstack([np.array(halves[:BATCHES]).T, np.array(halves[BATCHES:]).T])


def _draw_people(yard: Yard, rng: np.random.Generator) -> np.ndarray:
    """Log odds by step and person in an average batch."""
    count = yard.apprentices + yard.experienced
    own = np.sqrt(1 - yard.careless) * rng.normal(size=(STEPS, count))
    log_odds = logit(yard.base) + yard.spread * (
        own + np.sqrt(yard.careless) * rng.normal(size=count)
    )
    if yard.outliers:
        steps = np.arange(0, STEPS, 4)
        log_odds[steps, rng.integers(count, size=len(steps))] += yard.outliers
    if yard.planted is not None:
        log_odds[0, : yard.apprentices] += logit(yard.planted) - logit(yard.base)
    return log_odds


def list_scores(runs: int, seed: int = 20261125) -> Iterator[Score]:
    return (score_yard(yard, runs, seed) for yard in YARDS)
