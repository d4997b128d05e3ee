"""Chances of counts: a sample drawn from a batch, and independent stoves of one rate.

scipy.stats has them too, but takes most of a second to load; of what it offers only this is needed.
"""

from collections.abc import Callable
from math import fsum

import numpy as np
import scipy

from qcapp.stats.array import Array


def hypergeometric_chances(population: int, marked: int, drawn: int) -> tuple[int, Array]:
    """Chances of every count of marked ones in a sample drawn without putting back.

    Parameters
    ----------
    population, marked, drawn : int
        Stoves in all, marked ones among them, stoves drawn; 0 <= marked, drawn <= population.

    Returns
    -------
    smallest : int
        The smallest count that can be.
    chances : array
        Of smallest, smallest + 1 and so on, up to the largest count that can be; they add up to 1.

    Notes
    -----
    From the likeliest count outwards by the ratio of neighbours, so that nothing cancels or
    overflows: within 3e-15 of the exact fractions for populations to 3000, relative.

    References
    ----------
    Johnson, N. L., Kemp, A. W. and Kotz, S. (2005). Univariate Discrete Distributions, 3rd ed.
    Wiley, New York, chapter 6.
    """
    others = population - marked
    smallest, largest = max(0, drawn - others), min(marked, drawn)
    counts = np.arange(smallest, largest, dtype=np.float64)
    ratios = (marked - counts) * (drawn - counts) / ((counts + 1) * (others - drawn + counts + 1))
    likeliest = (marked + 1) * (drawn + 1) // (population + 2)
    at = min(max(likeliest, smallest), largest) - smallest
    below = np.cumprod(1 / ratios[:at][::-1])[::-1]
    weights = np.concatenate((below, [1.0], np.cumprod(ratios[at:])))
    return smallest, weights / fsum(weights)


def hypergeometric_cdf(count: int, population: int, marked: int, drawn: int) -> float:
    """Chance of so many marked ones in the sample, or fewer; any count, also one that cannot be.

    Parameters and source as `hypergeometric_chances`.
    """
    smallest, chances = hypergeometric_chances(population, marked, drawn)
    up_to = count - smallest + 1
    if up_to <= 0:
        return 0.0
    return 1.0 if up_to >= len(chances) else min(1.0, fsum(chances[:up_to]))


def binomial_limits(tail: float, n: int, rate: float) -> tuple[int, int]:
    """The numbers of failures that leave out no more than this chance on either side.

    Parameters
    ----------
    tail : float
        Chance of fewer than the first, and of more than the second; 0 < tail < 0.5.
    n : int
        Stoves, >= 1.
    rate : float
        Fraction of stoves that fail, 0 < rate < 1.

    Returns
    -------
    low, high : int
        0 to n.

    References
    ----------
    Johnson, Kemp and Kotz (2005), chapter 3: the binomial tail as an incomplete beta function.
    """
    # Both tails fall or rise all the way: halving finds each end without a list of n chances.
    low = _first(n, lambda count: float(scipy.special.betaincc(count + 1, n - count, rate)) >= tail)
    high = _first(n, lambda count: float(scipy.special.betainc(count + 1, n - count, rate)) <= tail)
    return low, high


def _first(n: int, holds: Callable[[int], bool]) -> int:
    """The smallest count under n from which on it holds; n where it never does."""
    low, high = 0, n
    while low < high:
        middle = (low + high) // 2
        if holds(middle):
            high = middle
        else:
            low = middle + 1
    return low


def poisson_limits(tail: float, mean: float) -> tuple[int, int]:
    """The numbers of events that leave out no more than this chance on either side.

    Parameters
    ----------
    tail : float
        Chance of fewer than the first, and of more than the second; 0 < tail <= 0.5.
    mean : float
        Events expected, > 0.

    Returns
    -------
    low, high : int
        From 0.

    References
    ----------
    Johnson, Kemp and Kotz (2005), chapter 4: the Poisson tail as an incomplete gamma function.
    """
    # No tail that a chart asks for lies further out.
    events = np.arange(int(mean + 40 * mean**0.5) + 40)
    or_fewer = scipy.special.gammaincc(events + 1, mean)
    more = scipy.special.gammainc(events + 1, mean)
    return int(np.count_nonzero(or_fewer < tail)), int(np.count_nonzero(more > tail))
