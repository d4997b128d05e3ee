"""Did what was given by lot change the rates? The person is the unit, the lot the whole model."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from math import comb, floor, sqrt
from typing import NamedTuple

import numpy as np

from qcapp.stats.array import Array
from qcapp.stats.interval import Estimate, check_counts, check_share
from qcapp.stats.seeded_draws import start_draws

# Up to here every lot that could have fallen is looked at; beyond it, this many drawn ones.
MAX_LOTS = 20_000
# Fewer people have so few lots that no result could show anything at 5 %.
MIN_PEOPLE = 8
# Fewer faulty stoves in all: the rates hardly move from one lot to another.
MIN_FAULTS = 5
_STREAM = 21
_TINY = 1e-12


class PersonPeriods(NamedTuple):
    """One person's stoves of one step: was it given first, and the counts before it was given to
    anybody and while only the first half had it.
    """

    is_first: bool
    before_failed: int
    before_inspected: int
    during_failed: int
    during_inspected: int


@dataclass(frozen=True)
class LotEffect:
    """change: rate of the usual person with it minus without it, in fractions; p: two-sided;
    lots: how many were looked at; is_complete: all that there are.
    """

    change: Estimate
    p: float
    lots: int
    is_complete: bool


@lru_cache(maxsize=16)
def estimate_lot_effect(people: tuple[PersonPeriods, ...], level: float = 0.95) -> LotEffect | None:
    """The change that the lot explains, with the interval of every change that it does not refuse.

    Parameters
    ----------
    people : tuple of PersonPeriods
        Each with at least one stove before and during.
    level : float
        Two-sided confidence, 0 < level < 1.

    Returns
    -------
    LotEffect or None
        None where it cannot be told: fewer than MIN_PEOPLE people, nobody in one of the halves,
        fewer than MIN_FAULTS faulty or good stoves during.

    Raises
    ------
    BadInput
        For counts that cannot be (0 of 0 among them), and for a level outside (0, 1).

    Notes
    -----
    The outcome is each person's rate during, all people weighing the same; the rate before is
    allowed for (analysis of covariance). What decides is how far the halves differ among all the
    lots that could have fallen, and nothing is taken for granted of how people or stoves scatter.
    A change is inside the interval unless at most 1 - level of the lots give a larger t, once it
    is taken off those who had it: the test turned round. Two columns of a stepped design, before
    and during, tell the halves apart; once all have it, they tell nothing more without a model of
    time.

    References
    ----------
    Gail, M. H., Mark, S. D., Carroll, R. J., Green, S. B. and Pee, D. (1996). On design
    considerations and randomization-based inference for community intervention trials. Statistics
    in Medicine 15, 1069-1092.
    Rosenbaum, P. R. (2002). Covariance adjustment in randomized experiments and observational
    studies. Statistical Science 17, 286-327.
    Hussey, M. A. and Hughes, J. P. (2007). Design and analysis of stepped wedge cluster randomized
    trials. Contemporary Clinical Trials 28, 182-191.
    Phipson, B. and Smyth, G. K. (2010). Permutation p-values should never be zero. Statistical
    Applications in Genetics and Molecular Biology 9, article 39 (drawn lots count the one that
    fell).
    """
    check_share(level, "level")
    for one in people:
        check_counts(one.before_failed, one.before_inspected)
        check_counts(one.during_failed, one.during_inspected)
    failed = sum(one.during_failed for one in people)
    good = sum(one.during_inspected for one in people) - failed
    first = sum(one.is_first for one in people)
    if len(people) < MIN_PEOPLE or first in (0, len(people)) or min(failed, good) < MIN_FAULTS:
        return None
    fallen = np.array([one.is_first for one in people], dtype=float)
    before = np.array([one.before_failed / one.before_inspected for one in people])
    during = np.array([one.during_failed / one.during_inspected for one in people])
    lots = _list_lots(len(people), first)
    is_complete = comb(len(people), first) <= MAX_LOTS
    if not is_complete:
        lots = np.vstack([lots, fallen])
    change, p = turn_test_round(lots, fallen, before, during, level)
    return LotEffect(change, p, len(lots), is_complete)


def turn_test_round(
    lots: Array, fallen: Array, before: Array, during: Array, level: float
) -> tuple[Estimate, float]:
    """(change with its interval, two-sided p).

    lots: (lots, people), 1 for who has it; fallen: the row that fell; before, during: rates.

    With the rate before taken out of everything (a projection), the t of a lot z is the
    correlation of z with what is left of `during`. A change c taken off leaves r - c f, so that
    |t| of z reaches that of the lot that fell, f, for every c of one interval round the estimate:
    between the roots of t_z(c) = t_f(c) and t_z(c) = -t_f(c). The shares of these intervals give
    p for each c.
    """
    left_during, left_fallen = _take_out(during, before), _take_out(fallen, before)
    spread = before - before.mean()
    square = float(spread @ spread)
    size = fallen.sum() * (1 - fallen.mean())
    along = (lots @ spread) ** 2 / square if square > _TINY else np.zeros(len(lots))
    # Length of each lot's column, without the rate before. A lot that is the rate before itself
    # tells nothing: it refuses no change.
    lengths = np.sqrt(np.maximum(size - along, _TINY))
    own = sqrt(max(float(left_fallen @ left_fallen), _TINY))
    t, slope = lots @ left_during / lengths, lots @ left_fallen / lengths
    own_t = float(left_fallen @ left_during) / own
    ends = np.stack([_divide(own_t - t, own - slope), _divide(own_t + t, own + slope)])
    is_useless = size - along <= 10 * _TINY
    low = np.where(is_useless, -np.inf, np.where(np.isnan(ends).any(0), -np.inf, ends.min(0)))
    high = np.where(is_useless, np.inf, np.where(np.isnan(ends).any(0), np.inf, ends.max(0)))
    kept = floor((1 - level) * len(lots) + 1e-9)
    value = own_t / own
    estimate = Estimate(
        value,
        max(-1.0, min(value, float(np.partition(low, kept)[kept]))),
        min(1.0, max(value, float(-np.partition(-high, kept)[kept]))),
        level,
    )
    p = float(((np.abs(t) >= abs(own_t) - 1e-9) | is_useless).mean())
    return estimate, p


def _divide(above: Array, below: Array) -> Array:
    """Not a number for the lot itself and for the one that turns it round: they refuse nothing."""
    with np.errstate(divide="ignore", invalid="ignore"):
        found: Array = np.where(np.abs(below) < 1e-9, np.nan, above / below)
    return found


def _take_out(values: Array, covariate: Array) -> Array:
    """What is left of the values once mean and covariate are taken out (least squares)."""
    spread = covariate - covariate.mean()
    left: Array = values - values.mean()
    square = float(spread @ spread)
    return left - spread * float(spread @ left) / square if square > _TINY else left


@lru_cache(maxsize=4)
def _list_lots(people: int, first: int) -> Array:
    """Every lot, a row each, or MAX_LOTS - 1 drawn ones."""
    if comb(people, first) <= MAX_LOTS:
        chosen = np.array(list(combinations(range(people), first)))
    else:
        everyone = np.tile(np.arange(people), (MAX_LOTS - 1, 1))
        chosen = start_draws(_STREAM).permuted(everyone, axis=1)[:, :first]
    lots = np.zeros((len(chosen), people))
    np.put_along_axis(lots, chosen, 1.0, axis=1)
    return lots
