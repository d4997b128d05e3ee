"""How sure a rate is: its interval, for failed of inspected.

The functions take failed (stoves or answers that failed) and inspected (those looked at), both
counts, and refuse 0 of 0 with BadInput: without a stove there is no rate.
"""

from collections.abc import Sequence
from math import exp, log, prod, sqrt

from qcapp.stats.interval import Estimate, Interval, check_counts
from qcapp.stats.normal import two_sided_z


def wilson_interval(failed: int, inspected: int, level: float = 0.95) -> Interval:
    """Interval of a rate by Wilson's score method, without continuity correction.

    Parameters
    ----------
    failed, inspected : int
        Counts, 0 <= failed <= inspected, inspected >= 1.
    level : float
        Two-sided confidence, 0 < level < 1.

    Returns
    -------
    Interval
        Fractions. 0 of n gives low = 0 exactly, n of n gives high = 1 exactly.

    Raises
    ------
    BadInput
        For counts that cannot be (0 of 0 among them) and for a level outside (0, 1).

    Notes
    -----
    The house method for every rate: holds its level on average down to a handful of stoves, and
    never collapses to a point at 0 of n as the simple +/- z s.e. does.

    References
    ----------
    Wilson, E. B. (1927). Probable inference, the law of succession, and statistical inference.
    Journal of the American Statistical Association 22, 209-212.
    Newcombe, R. G. (1998). Two-sided confidence intervals for the single proportion: comparison
    of seven methods. Statistics in Medicine 17, 857-872 (method 3).
    """
    check_counts(failed, inspected)
    low, high = wilson_limits(failed / inspected, inspected, two_sided_z(level))
    return Interval(0.0 if failed == 0 else low, 1.0 if failed == inspected else high, level)


def wilson_limits(rate: float, inspected: int, z: float) -> tuple[float, float]:
    """Wilson's two limits for a rate (fraction, need not be a whole count) and z sigma."""
    spread = z * z / inspected
    middle = (rate + spread / 2) / (1 + spread)
    half = z * sqrt(rate * (1 - rate) / inspected + spread / (4 * inspected)) / (1 + spread)
    return max(0.0, middle - half), min(1.0, middle + half)


def multiply_rates(counts: Sequence[tuple[int, int]], level: float = 0.95) -> Estimate:
    """Product of independent rates, such as the rolled yield of stages one after the other.

    Parameters
    ----------
    counts : sequence of (int, int)
        (good, inspected) of each stage; different stoves at each, or stages that have nothing to
        do with each other.
    level : float
        Two-sided confidence, 0 < level < 1.

    Returns
    -------
    Estimate
        Fractions. One rate alone has Wilson's interval; where a rate is 0, the product is 0 and its
        upper end that of Wilson's there.

    Raises
    ------
    BadInput
        As `wilson_interval`.

    Notes
    -----
    Wilson's limits of each rate are put together on the log scale by their distances from it
    (MOVER). That the stages are independent is taken for granted: a piece that fails at one stage
    is as likely to fail at the next as any other.

    References
    ----------
    Zou, G. Y. and Donner, A. (2008). Construction of confidence limits about effect measures: a
    general approach. Statistics in Medicine 27, 1693-1702.
    """
    limits = [wilson_interval(good, inspected, level) for good, inspected in counts]
    value = prod(good / inspected for good, inspected in counts)
    if value == 0:
        empty = (end.high for (good, _of), end in zip(counts, limits, strict=True) if not good)
        return Estimate(0.0, 0.0, min(empty), level)
    rates = [log(good / inspected) for good, inspected in counts]
    below = sqrt(sum((one - log(end.low)) ** 2 for one, end in zip(rates, limits, strict=True)))
    above = sqrt(sum((log(end.high) - one) ** 2 for one, end in zip(rates, limits, strict=True)))
    return Estimate(value, value * exp(-below), min(1.0, value * exp(above)), level)
