"""What the batches before let one expect of the next."""

from collections.abc import Sequence
from math import sqrt

import numpy as np
import scipy

from qcapp.errors import BadInput
from qcapp.stats.interval import Interval, check_counts, check_share

FEWEST_BATCHES = 3


def predict_rate(counts: Sequence[tuple[int, int]], n: int, level: float = 0.95) -> Interval:
    """Between which shares the next batch's lies, if it is made as the batches before.

    Parameters
    ----------
    counts : sequence of (count, of), three at least
        One pair for each batch before; each `of` >= 1.
    n : int
        Stoves of the next batch, >= 1.
    level : float
        Two-sided, 0 < level < 1.

    Returns
    -------
    Interval
        Fractions, cut at 0 and 1.

    Raises
    ------
    BadInput
        For fewer than three batches, counts that cannot be or a level outside (0, 1).

    Notes
    -----
    The t interval for one further value, on distances from the pooled share that are standardised
    by each batch's own binomial spread; batches that differ less than the binomial allows count as
    differing just as much. Half a stove is added on either side, so that a pooled share of 0 or 1
    leaves room. In simulations (tests/stats/test_next_batch.py) it leaves out at most 5 % of
    batches that are made alike, from three batches before on.

    References
    ----------
    Hahn, G. J. and Meeker, W. Q. (1991). Statistical Intervals. Wiley, New York, 4.8 (one future
    observation); the binomial spread as in Laney (2002), see `laney_p_chart`.
    """
    check_share(level, "level")
    if len(counts) < FEWEST_BATCHES or n < 1:
        raise BadInput("three batches before are needed", "counts", "wait for more")
    for count, of in counts:
        check_counts(count, of)
    both = np.array(counts, dtype=float)
    total = float(both[:, 1].sum())
    centre = (float(both[:, 0].sum()) + 0.5) / (total + 1)
    distance = (both[:, 0] / both[:, 1] - centre) / np.sqrt(centre * (1 - centre) / both[:, 1])
    spread = max(1.0, float(np.std(distance, ddof=1)))
    quantile = float(scipy.special.stdtrit(len(counts) - 1, (1 + level) / 2))
    half = quantile * spread * sqrt(centre * (1 - centre) * (1 / n + 1 / total))
    return Interval(max(0.0, centre - half), min(1.0, centre + half), level)
