"""How often a first look misses a fault or sees one that is not there, and the rate without both.

The second look is taken as right. It is not always: where both looks err alike, more is missed than
can be seen here. Judgements of one stove go together, so stoves are what is weighed.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from qcapp.errors import BadInput
from qcapp.stats.array import Array
from qcapp.stats.interval import Estimate, check_counts, check_share
from qcapp.stats.seeded_draws import start_draws

DRAWS = 4000
# Under so many judgements of either kind no rate is corrected: the shares are hardly known.
FEWEST = 10
# Of so many counts the last answers are kept: a page asks for each step's, and mostly again for the
# same. An answer is a function of its counts, since the draws are the same every time.
KEPT_ERRORS, KEPT_RATES = 16, 256
# Draws in which a look says no more than chance leave no rate; more of them, and none is given.
MAX_UNKNOWN = 0.025


@dataclass(frozen=True)
class LookPair:
    """Judgements of one stove by both looks: both failed, failed by the second alone (missed), by
    the first alone (false alarm), both passed.
    """

    both_failed: int
    missed: int
    false_alarms: int
    both_passed: int


@dataclass(frozen=True, eq=False)
class LookErrors:
    """missed of failed (by the second look), false_alarms of passed; shares None of nothing.

    drawn: both shares, as far as the stoves leave them open; a row for each draw. Two are the same
    only where they are one object: equal sums of other stoves draw other shares.
    """

    stoves: int
    missed: int
    failed: int
    false_alarms: int
    passed: int
    missed_share: Estimate | None
    false_share: Estimate | None
    drawn: Array = field(repr=False)

    @property
    def is_enough(self) -> bool:
        """Whether a rate may be corrected by it."""
        return min(self.failed, self.passed) >= FEWEST


def find_look_errors(pairs: Sequence[LookPair], level: float = 0.95) -> LookErrors:
    """Shares missed and falsely failed, with intervals.

    Parameters
    ----------
    pairs : sequence of LookPair
        One for each stove that was looked at twice.
    level : float
        Probability that each interval holds.

    Returns
    -------
    LookErrors

    Raises
    ------
    BadInput
        For a negative count or a level outside (0, 1).

    Notes
    -----
    Stoves are weighed at random (Bayesian bootstrap), and half a judgement is added to each of the
    four cells, so that no interval has width zero.

    References
    ----------
    Rubin, D. B. (1981). The Bayesian bootstrap. Annals of Statistics 9, 130-134. Jeffreys, H.
    (1961). Theory of Probability, 3rd ed. Clarendon Press, Oxford (half a judgement).
    """
    check_share(level, "level")
    return _find_look_errors(tuple(pairs), level)


@lru_cache(maxsize=KEPT_ERRORS)
def _find_look_errors(pairs: tuple[LookPair, ...], level: float) -> LookErrors:
    cells = np.array(
        [(one.both_failed, one.missed, one.false_alarms, one.both_passed) for one in pairs],
        dtype=float,
    ).reshape(-1, 4)
    if cells.size and cells.min() < 0:
        raise BadInput("a count is below 0", "pairs", "check the counts")
    both_failed, missed, false_alarms, both_passed = (int(sum_) for sum_ in cells.sum(0))
    drawn = _draw(cells)
    drawn.flags.writeable = False
    failed, passed = both_failed + missed, both_passed + false_alarms
    return LookErrors(
        len(pairs),
        missed,
        failed,
        false_alarms,
        passed,
        _estimate(missed, failed, drawn[:, 0], level),
        _estimate(false_alarms, passed, drawn[:, 1], level),
        drawn,
    )


def _draw(cells: Array) -> Array:
    rng = start_draws()
    sums = rng.standard_gamma(0.5, size=(DRAWS, 4))
    if len(cells):
        kinds, times = np.unique(cells, axis=0, return_counts=True)
        weights = rng.standard_gamma(times.astype(float), size=(DRAWS, len(kinds)))
        # As many stoves as there are, however they are weighed.
        weights *= len(cells) / weights.sum(1, keepdims=True)
        sums = sums + weights @ kinds
    both_failed, missed, false_alarms, both_passed = sums.T
    shares: Array = np.stack(
        (missed / (missed + both_failed), false_alarms / (false_alarms + both_passed)), axis=1
    )
    return shares


def _estimate(count: int, of: int, drawn: Array, level: float) -> Estimate | None:
    if of == 0:
        return None
    share = count / of
    low, high = np.quantile(drawn, [(1 - level) / 2, (1 + level) / 2])
    return Estimate(share, min(share, float(low)), max(share, float(high)), level)


def correct_rate(
    failed: int,
    inspected: int,
    errors: LookErrors,
    level: float = 0.95,
    dispersion: float = 1.0,
) -> Estimate | None:
    """The rate of faults as second looks would show it on all stoves, from the first looks' rate.

    Parameters
    ----------
    failed, inspected : int
        Of all first looks, in the unit in which the looks were paired.
    errors : LookErrors
    level : float
        Probability that the interval holds.
    dispersion : float
        >= 1: how much more the failures vary than independent ones (`find_dispersion`).

    Returns
    -------
    Estimate or None
        Fractions. None with fewer than FEWEST judgements of either kind by second looks, where
        these do not show that a first look says more than chance, or where they contradict the
        rate: more false alarms than all faults found.

    Raises
    ------
    BadInput
        For counts that cannot be or a level outside (0, 1).

    Notes
    -----
    (rate - false) / (1 - missed - false), cut to 0 and 1. The interval comes from drawing the rate
    (Jeffreys) and both shares together.

    References
    ----------
    Rogan, W. J. and Gladen, B. (1978). Estimating prevalence from the results of a screening test.
    American Journal of Epidemiology 107, 71-76.
    """
    check_share(level, "level")
    check_counts(failed, inspected)
    return _correct_rate(failed, inspected, errors, level, dispersion)


@lru_cache(maxsize=KEPT_RATES)
def _correct_rate(
    failed: int, inspected: int, errors: LookErrors, level: float, dispersion: float
) -> Estimate | None:
    if not errors.is_enough or errors.missed_share is None or errors.false_share is None:
        return None
    sides = failed / dispersion + 0.5, (inspected - failed) / dispersion + 0.5
    rates = start_draws(stream=1).beta(*sides, DRAWS)
    missed, false = errors.drawn.T
    told = 1 - missed - false
    if np.mean(told <= 0) > MAX_UNKNOWN:
        return None
    known = told > 0
    drawn = (rates[known] - false[known]) / told[known]
    low, high = np.quantile(drawn, [(1 - level) / 2, (1 + level) / 2])
    if high <= 0 or low >= 1:
        return None
    value = rogan_gladen(
        failed / inspected, 1 - errors.missed_share.value, 1 - errors.false_share.value
    )
    low, high = max(0.0, float(low)), min(1.0, float(high))
    return Estimate(value, min(value, low), max(value, high), level)


def rogan_gladen(rate: float, sensitivity: float, specificity: float) -> float:
    """The true rate behind an apparent one, cut to 0 and 1; see `correct_rate`.

    All fractions; sensitivity + specificity > 1.
    """
    return min(1.0, max(0.0, (rate + specificity - 1) / (sensitivity + specificity - 1)))
