"""How sure a rate is: intervals for failed of inspected, and how many stoves a given width takes.

All functions take failed (stoves or answers that failed) and inspected (those looked at), both
counts, and refuse 0 of 0 with BadInput: without a stove there is no rate.
"""

from math import ceil, sqrt

import scipy

from qcapp.errors import BadInput
from qcapp.stats.interval import Interval, check_counts, check_share, two_sided_z


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


def clopper_pearson_interval(failed: int, inspected: int, level: float = 0.95) -> Interval:
    """Exact interval of a rate from equal binomial tails.

    Parameters, returns and errors as `wilson_interval`.

    Notes
    -----
    Never covers less than its level, and so is wider than needed: for a promise, not for a look.

    References
    ----------
    Clopper, C. J. and Pearson, E. S. (1934). The use of confidence or fiducial limits illustrated
    in the case of the binomial. Biometrika 26, 404-413.
    """
    check_counts(failed, inspected)
    check_share(level, "level")
    tail, passed = (1 - level) / 2, inspected - failed
    low = 0.0 if failed == 0 else float(scipy.special.betaincinv(failed, passed + 1, tail))
    high = 1.0 if passed == 0 else float(scipy.special.betaincinv(failed + 1, passed, 1 - tail))
    return Interval(low, high, level)


def mid_p_interval(failed: int, inspected: int, level: float = 0.95) -> Interval:
    """Exact interval with half the probability of what was observed in each tail.

    Parameters, returns and errors as `wilson_interval`.

    Notes
    -----
    Between Wilson and Clopper-Pearson: holds its level on average, seldom much below it.

    References
    ----------
    Lancaster, H. O. (1961). Significance tests in discrete distributions. Journal of the American
    Statistical Association 56, 223-234.
    Newcombe, R. G. (1998). Statistics in Medicine 17, 857-872 (method 6).
    """
    check_counts(failed, inspected)
    check_share(level, "level")
    tail, passed = (1 - level) / 2, inspected - failed
    low = 0.0 if failed == 0 else _mid_p_low(failed, inspected, tail)
    high = 1.0 if passed == 0 else 1.0 - _mid_p_low(passed, inspected, tail)
    return Interval(low, high, level)


def _mid_p_low(failed: int, inspected: int, tail: float) -> float:
    def excess(rate: float) -> float:
        above = scipy.stats.binom.sf(failed, inspected, rate)
        return float(above + scipy.stats.binom.pmf(failed, inspected, rate) / 2 - tail)

    # At rate 1 and failed == inspected the mid tail is one half, which is above any tail asked for.
    return float(scipy.optimize.brentq(excess, 0.0, failed / inspected, xtol=1e-14, rtol=1e-12))


def stoves_for_half_width(half_width: float, rate: float = 0.5, level: float = 0.95) -> int:
    """Stoves to inspect so that Wilson's interval is at most +/- half_width about its middle.

    Parameters
    ----------
    half_width : float
        Fraction, 0 < half_width < 0.5.
    rate : float
        The rate expected, 0 <= rate <= 1; 0.5 asks for the most stoves and is the safe guess.
    level : float
        Two-sided confidence.

    Returns
    -------
    int
        The smallest number, at least 1.

    Raises
    ------
    BadInput
        For a half width, rate or level outside the ranges above.

    References
    ----------
    Wilson's half width (see `wilson_interval`) solved for the number; it falls steadily with the
    number at any rate, so the solution is the smallest.
    """
    if not 0 < half_width < 0.5:
        raise BadInput(
            f"half width {half_width} is not between 0 and 0.5", "half_width", "give 0.05, say"
        )
    if not 0 <= rate <= 1:
        raise BadInput(f"rate {rate} is not between 0 and 1", "rate", "give a fraction")
    z2, scatter = two_sided_z(level) ** 2, rate * (1 - rate)
    # With m = inspected + z^2:  w^2 m^2 - z^2 pq m - z^4 (1/4 - pq) = 0.
    root = sqrt(scatter**2 + 4 * half_width**2 * (0.25 - scatter))
    total = z2 * (scatter + root) / (2 * half_width**2)
    return max(1, ceil(total - z2 - 1e-9))
