"""How much of the spread of readings lies between groups (people, templates), and how much inside
them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from qcapp.errors import BadInput
from qcapp.stats.array import Array
from qcapp.stats.interval import Estimate, check_share


@dataclass(frozen=True)
class VarianceShare:
    """between: share of the variance that lies between groups (0 to 1) with its interval.
    between_sd, within_sd: standard deviations in the unit of the readings. groups, n: how many of
    each.
    """

    groups: int
    n: int
    between: Estimate
    between_sd: float
    within_sd: float


def find_variance_share(groups: Sequence[Sequence[float]], level: float = 0.95) -> VarianceShare:
    """One-way random effects: groups drawn from many like them, of any sizes.

    Parameters
    ----------
    groups : sequence of sequences of float
        Readings of each group in one unit; two groups at least, and one of them with two readings.
    level : float
        Two-sided confidence.

    Returns
    -------
    VarianceShare
        A component estimated below 0 is 0; the interval is cut at 0 and 1. With few groups its
        upper end is far away, and that is the truth.

    Raises
    ------
    BadInput
        For fewer groups or readings, non-finite or all equal readings, or a level outside (0, 1).

    Notes
    -----
    Components by analysis of variance; the interval by the unweighted mean square of the group
    means with the harmonic mean of the sizes, exact when all sizes are equal.

    References
    ----------
    Thomas, J. D. and Hultquist, R. A. (1978). Interval estimation for the unbalanced case of the
    one-way random effects model. Annals of Statistics 6, 582-587.
    Shrout, P. E. and Fleiss, J. L. (1979). Intraclass correlations: uses in assessing rater
    reliability. Psychological Bulletin 86, 420-428 (equal sizes, their case 1).
    """
    check_share(level, "level")
    given = [np.asarray(group, dtype=float) for group in groups if len(group)]
    sizes = np.array([len(group) for group in given])
    everything = np.concatenate(given) if given else np.array([])
    if len(given) < 2 or sizes.max() < 2 or not np.all(np.isfinite(everything)):
        raise BadInput("two groups of finite readings are needed", "groups", "wait for more")
    if np.ptp(everything) == 0:
        raise BadInput("all readings are equal", "groups", "nothing spreads here")
    means, n, count = np.array([group.mean() for group in given]), len(everything), len(given)
    free = n - count
    within = sum(float(((group - group.mean()) ** 2).sum()) for group in given) / free
    among = float((sizes * (means - everything.mean()) ** 2).sum()) / (count - 1)
    usual_size = (n - float((sizes**2).sum()) / n) / (count - 1)
    between = max(0.0, (among - within) / usual_size)
    share = between / (between + within) if between + within > 0 else 0.0
    low, high = _interval(means, sizes, within, free, level)
    estimate = Estimate(share, min(low, share), max(high, share), level)
    return VarianceShare(count, n, estimate, float(np.sqrt(between)), float(np.sqrt(within)))


def _interval(
    means: Array, sizes: Array, within: float, free: int, level: float
) -> tuple[float, float]:
    if within == 0:
        return 0.0, 1.0
    size = len(sizes) / float((1 / sizes).sum())
    ratio = size * float(means.var(ddof=1)) / within
    ends = []
    for tail in ((1 + level) / 2, (1 - level) / 2):
        over = max(0.0, (ratio / scipy.special.fdtri(len(sizes) - 1, free, tail) - 1) / size)
        ends.append(over / (1 + over))
    return ends[0], ends[1]
