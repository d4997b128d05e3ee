"""The two indices of a spread between limits, with their intervals: Pp and Ppk, or Cp and Cpk."""

from math import inf, sqrt

import scipy

from qcapp.stats.interval import Estimate
from qcapp.stats.normal import two_sided_z


def find_room(mean: float, lower: float | None, upper: float | None) -> tuple[float, float]:
    """From the mean to either limit, endless where there is none."""
    return inf if lower is None else mean - lower, inf if upper is None else upper - mean


def estimate_indices(
    limits: tuple[float | None, float | None],
    spread: tuple[float, float],
    n: int,
    freedom: float,
    level: float,
) -> tuple[Estimate | None, Estimate | None]:
    """The index of the width (None with one limit) and that of the nearer limit; both None where
    nothing spreads.

    limits: lower and upper; spread: mean and standard deviation, all in one unit; n: readings;
    freedom: degrees of freedom of the standard deviation.
    """
    (lower, upper), (mean, s) = limits, spread
    if s == 0:
        return None, None
    nearer = nearer_index(min(find_room(mean, lower, upper)) / (3 * s), n, freedom, level)
    whole = None
    if lower is not None and upper is not None:
        whole = width_index((upper - lower) / (6 * s), freedom, level)
    return whole, nearer


def nearer_index(index: float, n: int, freedom: float, level: float) -> Estimate:
    """Interval of Ppk or Cpk from n readings, by Bissell's approximation (see
    `capability`); freedom: degrees of freedom of the spread (n - 1 for the usual one).
    """
    reach = two_sided_z(level) * sqrt(1 / (9 * n) + index**2 / (2 * freedom))
    return Estimate(index, index - reach, index + reach, level)


def width_index(index: float, freedom: float, level: float) -> Estimate:
    """Interval of Pp or Cp: exact for the usual spread, by chi-square (see
    `capability`); freedom: as `nearer_index`.
    """
    low, high = (
        sqrt(2 * scipy.special.gammaincinv(freedom / 2, tail) / freedom)
        for tail in ((1 - level) / 2, (1 + level) / 2)
    )
    return Estimate(index, index * low, index * high, level)
