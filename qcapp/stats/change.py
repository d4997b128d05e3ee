"""How large is a lasting change, when its beginning was searched in the same readings?

The plain difference before and since the likeliest beginning holds for neither reason: another
beginning may be the true one, and a row is looked at only because its sum passed a limit, which a
small change does by luck. In a trial its 95 % interval held from 14 to 97 %.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from qcapp.errors import BadInput
from qcapp.stats.array import Array
from qcapp.stats.interval import Estimate, check_share

# Readings that stay on either side of the beginning, so that a mean and a spread are left.
MIN_SIDE = 2
# Beginnings that together weigh less than this are left out.
NEGLIGIBLE = 1e-3
PLACES = 400
ROUGH_PLACES = 40
# How far the sum is ahead of its expected path: it never falls below 0, and oversteps its limit.
# Set so that the intervals of rows drawn at random hold.
HEAD_START = 5.0
# No change counts as less likely to signal than this: it would weigh beyond all bounds.
MIN_CHANCE = 0.01


@dataclass(frozen=True)
class Detection:
    """The chart that made the row speak: is_larger, the direction it saw; slack and limit of its
    sum, in standard deviations (`self_starting`).
    """

    is_larger: bool
    slack: float
    limit: float


@dataclass(frozen=True)
class _Beginnings:
    """For each possible beginning: readings before it, weight, difference, spread of a reading."""

    before: Array
    weight: Array
    difference: Array
    spread: Array


def estimate_change(
    values: Sequence[float], detection: Detection, min_spread: float, level: float = 0.95
) -> Estimate | None:
    """Mean since a change less the mean before, whenever it began.

    Parameters
    ----------
    values : sequence of float
        All readings of the row in one unit, in the order made.
    detection : Detection
    min_spread : float
        > 0, same unit: the standard deviation is never taken as smaller.
    level : float
        Probability that the interval holds.

    Returns
    -------
    Estimate or None
        Median and equal-tailed ends, same unit; None with fewer than five readings.

    Raises
    ------
    BadInput
        For a non-finite value, a min_spread not above 0 or a level outside (0, 1).

    Notes
    -----
    Every beginning is weighed by what the readings say for it (flat on both means, the spread
    common and unknown), and each possible change by the inverse of its chance to make a signal: of
    rows that signalled, small changes are over-represented among the large differences. That
    chance is taken from the expected path of the sum. A test holds what the intervals cover.

    References
    ----------
    Smith, A. F. M. (1975). A Bayesian approach to inference about a change-point in a sequence of
    random variables. Biometrika 62, 407-416.
    Hedges, L. V. (1984). Estimation of effect size under nonrandom sampling: the effects of
    censoring studies yielding statistically insignificant mean differences. Journal of Educational
    Statistics 9, 61-85 (the likelihood of what is shown only when it signals).
    """
    check_share(level, "level")
    given = np.asarray(values, dtype=float)
    if not np.all(np.isfinite(given)) or not min_spread > 0:
        raise BadInput("finite readings and a spread above 0 are needed", "values", "check them")
    if len(given) < 2 * MIN_SIDE + 1:
        return None
    sign = 1 if detection.is_larger else -1
    places, density = _weigh_changes(
        _weigh_beginnings(sign * given, min_spread), len(given), detection
    )
    whole = np.cumsum(density)
    low, middle, high = np.interp(
        [(1 - level) / 2, 0.5, (1 + level) / 2], whole / whole[-1], places
    )
    ends = sorted((sign * float(low), sign * float(high)))
    return Estimate(sign * float(middle), ends[0], ends[1], level)


def _weigh_beginnings(given: Array, min_spread: float) -> _Beginnings:
    count = len(given)
    before = np.arange(MIN_SIDE, count - MIN_SIDE + 1)
    since = count - before
    # From a fixed origin, so that the squares of large readings do not swallow their differences.
    moved = given - given[0]
    sums, squares = np.cumsum(moved), np.cumsum(moved**2)
    mean_before, mean_since = sums[before - 1] / before, (sums[-1] - sums[before - 1]) / since
    left = squares[-1] - before * mean_before**2 - since * mean_since**2
    left = np.maximum(left, (count - 2) * min_spread**2)
    log_weight = -np.log(before * since) / 2 - (count - 2) / 2 * np.log(left)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    kept = weight > min(NEGLIGIBLE, float(weight.max()) / 2)
    spread = np.sqrt(left / (count - 2))
    return _Beginnings(
        before[kept].astype(float), weight[kept], (mean_since - mean_before)[kept], spread[kept]
    )


def _weigh_changes(found: _Beginnings, count: int, detection: Detection) -> tuple[Array, Array]:
    """Evenly spaced changes, and how much each is worth."""
    since = count - found.before
    error = found.spread * np.sqrt(1 / found.before + 1 / since)
    places = np.linspace(
        float((found.difference - 8 * error).min()),
        float((found.difference + 8 * error).max()),
        PLACES,
    )
    rough = np.linspace(places[0], places[-1], ROUGH_PLACES)
    density = np.zeros(PLACES)
    for at, weight in enumerate(found.weight):
        distance = (places - found.difference[at]) / error[at]
        likelihood = np.exp(-(count - 1) / 2 * np.log1p(distance**2 / (count - 2)))
        chance = signal_chance(
            rough / found.spread[at], int(found.before[at]), int(since[at]), detection
        )
        seen = np.maximum(np.interp(places, rough, chance), MIN_CHANCE)
        density += weight / error[at] * likelihood / seen
    return places, density


def signal_chance(shifts: Array, before: int, since: int, detection: Detection) -> Array:
    """About how likely a row signals, for each shift in standard deviations.

    before, since: readings before and after the shift. As the readings drag the mean and the spread
    of the row along, each further score is expected nearer to 0.
    """
    further = np.arange(1, since + 1)
    earlier = before + further - 1.0
    shift = shifts[:, None]
    expected = shift * before / earlier * np.sqrt(earlier / (earlier + 1))
    expected = expected / np.sqrt(1 + shift**2 * (further - 1) * before / earlier**2)
    path = HEAD_START + np.cumsum(expected - detection.slack, axis=1)
    chance: Array = scipy.special.ndtr(((path - detection.limit) / np.sqrt(further)).max(axis=1))
    return chance
