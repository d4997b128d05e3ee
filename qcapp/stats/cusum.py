"""Cumulative sums: small lasting changes add up until they are plain."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, log1p

import numpy as np
import scipy

from qcapp.errors import BadInput
from qcapp.stats.interval import check_share

# A sum longer than this needs more stoves than any yard makes.
MAX_STEPS = 5000


@dataclass(frozen=True)
class TabularCusum:
    """Sums above and below the target, one of each for each value, in its unit; >= 0.

    first_signal: index (from 0) of the first value at which a sum is above the decision limit.
    """

    above: tuple[float, ...]
    below: tuple[float, ...]
    signals: tuple[int, ...]
    first_signal: int | None


def tabular_cusum(
    values: Sequence[float], target: float, slack: float, decision: float
) -> TabularCusum:
    """Two-sided tabular CUSUM of readings, both sums started at 0 and not reset.

    Parameters
    ----------
    values : sequence of float
        Readings in one unit, in the order made.
    target : float
        Where the making should be, same unit.
    slack : float
        Taken off at each step, >= 0; half of the smallest shift worth finding.
    decision : float
        Limit for either sum, > 0; 4 or 5 standard deviations of a reading are usual.

    Returns
    -------
    TabularCusum
        signals: every index at which either sum is strictly above the decision limit.

    Raises
    ------
    BadInput
        For a slack below 0, a decision limit not above 0, or a non-finite value.

    References
    ----------
    Page, E. S. (1954). Continuous inspection schemes. Biometrika 41, 100-115.
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3 (CUSUM control charts).
    """
    if slack < 0 or not decision > 0 or not np.all(np.isfinite(np.asarray(values, dtype=float))):
        raise BadInput(
            "a CUSUM needs finite values, slack >= 0, decision > 0", "values", "check them"
        )
    above, below = [0.0], [0.0]
    for value in values:
        above.append(max(0.0, above[-1] + value - target - slack))
        below.append(max(0.0, below[-1] + target - slack - value))
    signals = tuple(i for i in range(len(values)) if max(above[i + 1], below[i + 1]) > decision)
    return TabularCusum(
        tuple(above[1:]), tuple(below[1:]), signals, signals[0] if signals else None
    )


@dataclass(frozen=True)
class BernoulliPlan:
    """A Bernoulli CUSUM in whole points.

    A failed stove adds rise points, a passed one takes 1 away (never below 0); at limit points the
    chart signals. usual_run, worse_run: mean number of stoves until a signal at the usual and at
    the worse rate. tuned_rate: the worse rate for which whole points are exactly the best ones.
    """

    rise: int
    limit: int
    usual_run: float
    worse_run: float
    tuned_rate: float


@dataclass(frozen=True)
class BernoulliCusum:
    """Sum after each stove (points) and the indexes (from 0) of the signals; 0 again after each."""

    sums: tuple[int, ...]
    signals: tuple[int, ...]


def design_bernoulli_cusum(usual_rate: float, worse_rate: float, usual_run: float) -> BernoulliPlan:
    """Points and limit of a stove-by-stove chart for a rise of the failure rate.

    Parameters
    ----------
    usual_rate, worse_rate : float
        Fractions, 0 < usual < worse < 1: the rate to live with, and one to be found soon.
    usual_run : float
        Mean stoves between false alarms at the usual rate, at least 1; the plan gives no fewer.

    Returns
    -------
    BernoulliPlan
        Smallest limit that keeps the run; the runs are exact for the whole-point chart, started at
        0.

    Raises
    ------
    BadInput
        For rates out of order, a run that would take over 5000 points, or a usual rate at which
        the sum does not fall on average.

    References
    ----------
    Reynolds, M. R. and Stoumbos, Z. G. (1999). A CUSUM chart for monitoring a proportion when
    inspecting continuously. Journal of Quality Technology 31, 87-108.
    Brook, D. and Evans, D. A. (1972). An approach to the probability distribution of CUSUM run
    length. Biometrika 59, 539-549 (run lengths by the Markov chain).
    """
    check_share(usual_rate, "usual_rate")
    check_share(worse_rate, "worse_rate")
    if worse_rate <= usual_rate or usual_run < 1:
        raise BadInput(
            "the worse rate must lie above the usual one, the run be 1 or more",
            "worse_rate",
            "check them",
        )
    # Reynolds and Stoumbos: one failure weighs as many passes as its log likelihood ratio says.
    by_failure, by_pass = log(worse_rate / usual_rate), log1p(-usual_rate) - log1p(-worse_rate)
    rise = max(1, round(by_failure / by_pass))
    if rise * usual_rate >= 1 - usual_rate:
        raise BadInput(
            "so many fail as a rule that the sum would rise by itself",
            "usual_rate",
            "teach the step first",
        )
    limit = _smallest_limit(rise, usual_rate, usual_run)
    return BernoulliPlan(
        rise,
        limit,
        bernoulli_run_length(rise, limit, usual_rate),
        bernoulli_run_length(rise, limit, worse_rate),
        _tuned_rate(rise, usual_rate),
    )


def _smallest_limit(rise: int, rate: float, run: float) -> int:
    low, high = 0, 1
    while bernoulli_run_length(rise, high, rate) < run:
        low, high = high, 2 * high
        if high > MAX_STEPS:
            raise BadInput(
                "these rates are too close for so long a run", "usual_run", "ask for less"
            )
    while high - low > 1:
        middle = (low + high) // 2
        if bernoulli_run_length(rise, middle, rate) < run:
            low = middle
        else:
            high = middle
    return high


def _tuned_rate(rise: int, usual_rate: float) -> float:
    low, high = usual_rate, 1.0 - 1e-12
    for _ in range(60):
        middle = (low + high) / 2
        weight = log(middle / usual_rate) / (log1p(-usual_rate) - log1p(-middle))
        low, high = (middle, high) if weight > rise else (low, middle)
    return (low + high) / 2


def bernoulli_run_length(rise: int, limit: int, rate: float) -> float:
    """Mean number of stoves until a Bernoulli CUSUM started at 0 signals.

    Parameters
    ----------
    rise, limit : int
        As in `BernoulliPlan`, >= 1.
    rate : float
        Fraction of stoves that fail, 0 < rate < 1.

    Returns
    -------
    float
        Exact, from one linear equation for each sum 0 to limit - 1.

    References
    ----------
    Brook and Evans (1972), see `design_bernoulli_cusum`.
    """
    # run[s] = 1 + rate run[s + rise] + (1 - rate) run[max(0, s - 1)], and 0 from limit on.
    above = min(rise, limit - 1)
    bands = np.zeros((above + 2, limit))
    bands[above, :] = 1.0
    bands[above, 0] -= 1 - rate
    bands[above + 1, : limit - 1] = -(1 - rate)
    if above == rise:
        bands[0, rise:] = -rate
    return float(scipy.linalg.solve_banded((1, above), bands, np.ones(limit))[0])


def bernoulli_cusum(failed: Sequence[bool | int], plan: BernoulliPlan) -> BernoulliCusum:
    """Run a plan over stoves in the order made.

    Parameters
    ----------
    failed : sequence of bool
        Whether each stove failed.
    plan : BernoulliPlan

    Returns
    -------
    BernoulliCusum
        The sum at a signal is shown, then the next stove starts from 0.

    References
    ----------
    Reynolds and Stoumbos (1999), see `design_bernoulli_cusum`.
    """
    sums: list[int] = []
    signals: list[int] = []
    total = 0
    for index, has_failed in enumerate(failed):
        total = max(0, total + (plan.rise if has_failed else -1))
        sums.append(total)
        if total >= plan.limit:
            signals.append(index)
            total = 0
    return BernoulliCusum(tuple(sums), tuple(signals))
