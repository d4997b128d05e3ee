"""Does the making fit between the limits? Measured readings of one check against its limits.

Two spreads, two names (ISO 22514-2): Pp and Ppk, performance, are of all readings, whatever
happened to the making meanwhile. Cp and Cpk, capability, are of what scatters from one piece to the
next, and say something only of a making whose chart is stable: see `within_capability`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt

import numpy as np
import scipy

from qcapp.errors import BadInput
from qcapp.stats.array import Array
from qcapp.stats.capability_index import estimate_indices, find_room
from qcapp.stats.interval import Estimate, check_share

# The 0.135 % and 99.865 % points are those that three sigma leave out on each side.
OUTER = (0.00135, 0.99865)
# Fewer readings say nothing about points so far out.
FEWEST_FOR_PERCENTILES = 100


@dataclass(frozen=True)
class Capability:
    """Readings of one check against its limits; lengths in the unit of the readings.

    s: of all readings. pp: width between the limits over six s; None with one limit. ppk: the
    nearer limit over three s. Both None when all readings are equal. below, above: readings beyond
    the limits; share_below, share_above: fractions beyond them if the making is normal. threatened:
    the nearer limit, lower or upper.
    """

    n: int
    mean: float
    s: float
    pp: Estimate | None
    ppk: Estimate | None
    below: int
    above: int
    share_below: float
    share_above: float
    threatened: str


def measure_capability(
    readings: Sequence[float], lower: float | None, upper: float | None, level: float = 0.95
) -> Capability:
    """Pp and Ppk with intervals, and the share outside, for normal readings.

    Parameters
    ----------
    readings : sequence of float, at least two
        In one unit, from one design and size.
    lower, upper : float or None
        Limits in that unit, one at least; lower < upper.
    level : float
        Two-sided confidence.

    Returns
    -------
    Capability
        s is the standard deviation with n - 1. Readings on a limit are inside.

    Raises
    ------
    BadInput
        For fewer than two or non-finite readings, no limit, limits out of order, or a bad level.

    Notes
    -----
    Look at `normality_p` first; the interval is wide below some 50 readings, and that is the truth.

    References
    ----------
    ISO 22514-2:2017. Statistical methods in process management - Capability and performance - Part
    2 (the names).
    Kane, V. E. (1986). Process capability indices. Journal of Quality Technology 18, 41-52.
    Chou, Y., Owen, D. B. and Borrego, S. A. (1990). Lower confidence limits on process capability
    indices. Journal of Quality Technology 22, 223-229 (index of the width, exact by chi-square).
    Bissell, A. F. (1990). How reliable is your capability index? Applied Statistics 39, 331-340
    (index of the nearer limit).
    """
    check_share(level, "level")
    given = check_readings(readings, lower, upper)
    n, mean, s = len(given), float(given.mean()), float(given.std(ddof=1))
    room_below, room_above = find_room(mean, lower, upper)
    pp, ppk = estimate_indices((lower, upper), (mean, s), n, n - 1, level)
    return Capability(
        n,
        mean,
        s,
        pp,
        ppk,
        below=0 if lower is None else int((given < lower).sum()),
        above=0 if upper is None else int((given > upper).sum()),
        share_below=_share_beyond(room_below, s),
        share_above=_share_beyond(room_above, s),
        threatened="lower" if room_below <= room_above else "upper",
    )


def spread_interval(s: float, n: int, level: float = 0.95) -> Estimate:
    """Interval of the standard deviation of n >= 2 normal readings: exact, by chi-square.

    s and the interval in the unit of the readings; level: two-sided confidence.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.3.1 (chi-square test of one variance).
    """
    low, high = (
        sqrt((n - 1) / scipy.special.chdtri(n - 1, tail))
        for tail in ((1 - level) / 2, (1 + level) / 2)
    )
    return Estimate(s, s * low, s * high, level)


def part_ties(readings: Sequence[float], step: float) -> tuple[float, ...]:
    """Readings rounded to a tool's step (> 0, same unit), laid evenly over what each stands for.

    As many as given, sorted.

    For a test of shape only: a rule read to whole millimetres makes any spread look lumpy.
    """
    values, counts = np.unique(np.asarray(readings, dtype=float), return_counts=True)
    parted = [
        value + step * ((at + 0.5) / count - 0.5)
        for value, count in zip(values, counts, strict=True)
        for at in range(count)
    ]
    return tuple(float(value) for value in sorted(parted))


def normal_places(n: int) -> tuple[float, ...]:
    """Where n >= 1 sorted readings stand on average if they are normal, in standard deviations.

    n values, rising, around 0.

    References
    ----------
    Blom, G. (1958). Statistical Estimates and Transformed Beta-Variables. Wiley, New York.
    """
    return tuple(float(scipy.special.ndtri((at - 0.375) / (n + 0.25))) for at in range(1, n + 1))


def _share_beyond(room: float, s: float) -> float:
    if s == 0:
        return 0.0 if room >= 0 else 1.0
    return float(scipy.special.ndtr(-room / s))


def find_percentile_ppk(
    readings: Sequence[float], lower: float | None, upper: float | None
) -> float | None:
    """Ppk by percentiles, for readings that are not normal; None under 100 readings.

    Parameters and errors as `measure_capability`.

    Returns
    -------
    float or None
        The smaller of (upper - median) / (99.865 % point - median) and the same below; also None
        when the readings do not spread on the side asked for. Under about 740 readings the outer
        points are the smallest and the largest reading, which flatters.

    References
    ----------
    ISO 22514-2:2017. Statistical methods in process management - Capability and performance - Part
    2 (percentile method).
    Hyndman, R. J. and Fan, Y. (1996). Sample quantiles in statistical packages. The American
    Statistician 50, 361-365 (their definition 8).
    """
    given = check_readings(readings, lower, upper)
    if len(given) < FEWEST_FOR_PERCENTILES:
        return None
    low, middle, high = np.quantile(given, [OUTER[0], 0.5, OUTER[1]], method="median_unbiased")
    sides = []
    if lower is not None and middle > low:
        sides.append((middle - lower) / (middle - low))
    if upper is not None and high > middle:
        sides.append((upper - middle) / (high - middle))
    return float(min(sides)) if sides else None


def normality_p(readings: Sequence[float]) -> float:
    """p of the Anderson-Darling test that readings are normal, mean and spread unknown.

    Parameters
    ----------
    readings : sequence of float, at least eight, not all equal

    Returns
    -------
    float
        Small: not normal. Readings to whole units look less normal than they are when the unit is
        coarse against their spread.

    Raises
    ------
    BadInput
        For fewer than eight, non-finite or all equal readings.

    References
    ----------
    Stephens, M. A. (1986). Tests based on EDF statistics. In D'Agostino, R. B. and Stephens, M. A.
    (eds), Goodness-of-Fit Techniques. Marcel Dekker, New York, table 4.9.
    """
    given = np.sort(np.asarray(readings, dtype=float))
    if len(given) < 8 or not np.all(np.isfinite(given)) or given[0] == given[-1]:
        raise BadInput("eight different finite readings are needed", "readings", "wait for more")
    n, z = len(given), (given - given.mean()) / given.std(ddof=1)
    ranks = 2 * np.arange(1, n + 1) - 1
    distance = (
        -n
        - float((ranks * (scipy.special.log_ndtr(z) + scipy.special.log_ndtr(-z[::-1]))).sum()) / n
    )
    a = distance * (1 + 0.75 / n + 2.25 / n**2)
    if a >= 0.6:
        return exp(1.2937 - 5.709 * min(a, 13) + 0.0186 * min(a, 13) ** 2)
    if a >= 0.34:
        return exp(0.9177 - 4.279 * a - 1.38 * a**2)
    if a >= 0.2:
        return 1 - exp(-8.318 + 42.796 * a - 59.938 * a**2)
    return 1 - exp(-13.436 + 101.14 * a - 223.73 * a**2)


def check_readings(readings: Sequence[float], lower: float | None, upper: float | None) -> Array:
    """Raise BadInput unless there are two finite readings and a limit, limits in order."""
    given = np.asarray(readings, dtype=float)
    if len(given) < 2 or not np.all(np.isfinite(given)):
        raise BadInput("two finite readings are needed", "readings", "wait for more")
    if lower is None and upper is None:
        raise BadInput("capability needs a limit", "lower, upper", "give one of them")
    if lower is not None and upper is not None and lower >= upper:
        raise BadInput(f"limits {lower} and {upper} are out of order", "lower, upper", "swap them")
    return given
