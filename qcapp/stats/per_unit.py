"""Faults per unit: how many on a stove, and how sure that is."""

from collections.abc import Sequence

import numpy as np
import scipy

from qcapp.errors import BadInput
from qcapp.stats.interval import Estimate, check_share


def poisson_interval(count: float, units: float, level: float = 0.95) -> tuple[float, float]:
    """Exact limits of a rate of independent events.

    Parameters
    ----------
    count : float
        Events, >= 0; need not be whole.
    units : float
        What they were counted on, > 0.
    level : float
        Two-sided confidence, 0 < level < 1.

    Returns
    -------
    low, high : float
        Events per unit; low is 0 for no event.

    Raises
    ------
    BadInput
        For counts that cannot be or a level outside (0, 1).

    References
    ----------
    Garwood, F. (1936). Fiducial limits for the Poisson distribution. Biometrika 28, 437-442.
    """
    check_share(level, "level")
    if count < 0 or not units > 0:
        raise BadInput(f"{count} on {units} cannot be", "count, units", "check the counts")
    tail = (1 - level) / 2
    low = float(scipy.special.gammaincinv(count, tail)) if count else 0.0
    return low / units, float(scipy.special.gammainccinv(count + 1, tail)) / units


def find_dispersion(counts: Sequence[int]) -> float:
    """How much more the counts of equal units differ than a Poisson's would; never below 1.

    Variance over mean, 1 where fewer than two units or no event leave nothing to compare.

    References
    ----------
    McCullagh, P. and Nelder, J. A. (1989). Generalized Linear Models, 2nd ed. Chapman and Hall,
    London, 6.2.3 (the dispersion of counts).
    """
    given = np.asarray(counts, dtype=float)
    if len(given) < 2 or given.sum() == 0:
        return 1.0
    return max(1.0, float(given.var(ddof=1) / given.mean()))


def rate_per_unit(counts: Sequence[int], level: float = 0.95) -> Estimate:
    """Mean events per unit, with an interval that allows for units differing more than chance.

    Parameters
    ----------
    counts : sequence of int, at least one
        Events of each unit.
    level : float
        Two-sided confidence, 0 < level < 1.

    Returns
    -------
    Estimate
        Events per unit.

    Raises
    ------
    BadInput
        For no units, a count below 0 or a level outside (0, 1).

    Notes
    -----
    Faults come together: a stove cut on a worn template fails several checks at once, so the
    faults of a batch are not independent and Garwood's limits alone are too narrow. Both count and
    units are divided by the dispersion, which keeps the rate and widens the limits.

    References
    ----------
    As `poisson_interval` and `find_dispersion`.
    """
    if not counts or min(counts) < 0:
        raise BadInput("a rate needs counts of units", "counts", "leave the rate out")
    dispersion = find_dispersion(counts)
    total, units = sum(counts), len(counts)
    low, high = poisson_interval(total / dispersion, units / dispersion, level)
    return Estimate(total / units, low, high, level)
