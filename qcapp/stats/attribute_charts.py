"""Charts of counts over time: failures of the stoves inspected, or faults per stove.

Batches or days come in the order they were made. In the field: charts for attributes.
"""

from collections.abc import Sequence
from math import sqrt

import numpy as np
import scipy

from qcapp.errors import BadInput
from qcapp.stats.array import Array
from qcapp.stats.chart import D2, Chart, ChartPoint, make_point, to_floats
from qcapp.stats.discrete import binomial_limits, poisson_limits
from qcapp.stats.interval import check_counts

# Fewer failures (or passes) expected than this: the plain three sigma limits mislead.
SMALL_COUNT = 5


def p_chart(counts: Sequence[tuple[int, int]]) -> Chart:
    """Chart of rates with three sigma limits of its own for each point.

    Parameters
    ----------
    counts : sequence of (failed, inspected)
        One pair for each batch or day, in order; each inspected >= 1.

    Returns
    -------
    Chart
        Fractions; spread is 1.

    Raises
    ------
    BadInput
        For no points or counts that cannot be.

    Notes
    -----
    Where fewer than 5 failures or passes are expected, the limits are exact binomial ones instead:
    each leaves out at most 0.00135 of good points, as three sigma does for a normal spread. With 10
    stoves at 5 % the plain limit calls out in 1.2 % of good batches. (Wilson's limits do not serve:
    a Wilson interval misses the centre exactly when the plain limits are passed, and one laid about
    the centre ends above 0 and would call out every batch without a failure.) A centre of 0 or 1
    has no spread, and no point of such a chart can be out.

    References
    ----------
    Shewhart, W. A. (1931). Economic Control of Quality of Manufactured Product. Van Nostrand,
    New York.
    Ryan, T. P. and Schwertman, N. C. (1997). Optimal limits for attributes control charts. Journal
    of Quality Technology 29, 86-98 (why probability limits for small counts).
    """
    return _rate_chart(counts, is_laney=False)


def laney_p_chart(counts: Sequence[tuple[int, int]]) -> Chart:
    """p chart whose limits are as wide as the points really scatter from one to the next.

    Parameters, errors and small counts as `p_chart` (the tail that of the widened limits); two
    points at least.

    Returns
    -------
    Chart
        spread is the mean moving range of the standardised points over 1.128: above 1 when batches
        differ more than the binomial allows (large batches nearly always do), below 1 when less.

    References
    ----------
    Laney, D. B. (2002). Improved control charts for attributes. Quality Engineering 14, 531-537.
    """
    _check_two(counts)
    return _rate_chart(counts, is_laney=True)


def _rate_chart(counts: Sequence[tuple[int, int]], is_laney: bool) -> Chart:
    failed, inspected = _rates(counts)
    centre = float(failed.sum() / inspected.sum())
    if centre in (0, 1):
        return _still_chart(centre, len(counts))
    rates = failed / inspected
    distance = (rates - centre) / np.sqrt(centre * (1 - centre) / inspected)
    spread = _find_spread(distance, is_laney)
    points = (
        _rate_point(rate, centre, int(stoves), 3 * spread)
        for rate, stoves in zip(rates, inspected, strict=True)
    )
    return Chart(centre, spread, tuple(points), _standardise(distance, spread))


def _rate_point(rate: float, centre: float, inspected: int, width: float) -> ChartPoint:
    if inspected * min(centre, 1 - centre) < SMALL_COUNT:
        tail = float(scipy.special.ndtr(-width))
        fewest, most = binomial_limits(tail, inspected, centre)
        low, high = fewest / inspected, most / inspected
    else:
        half = width * sqrt(centre * (1 - centre) / inspected)
        low, high = max(0.0, centre - half), min(1.0, centre + half)
    return make_point(float(rate), low, high)


def c_chart(counts: Sequence[int]) -> Chart:
    """Chart of counts on units that are all alike, such as faults on one stove after another.

    Parameters
    ----------
    counts : sequence of int
        One for each unit, in order; >= 0.

    Returns
    -------
    Chart
        Counts; spread is 1.

    Raises
    ------
    BadInput
        For no points or a count below 0.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1 (counts control charts).
    """
    return u_chart([(count, 1) for count in counts])


def u_chart(counts: Sequence[tuple[int, int]]) -> Chart:
    """Chart of events per unit with three sigma limits of its own for each point.

    Parameters
    ----------
    counts : sequence of (events, units)
        One pair for each batch or day, in order; events >= 0, units >= 1.

    Returns
    -------
    Chart
        Events per unit; spread is 1.

    Raises
    ------
    BadInput
        For no points or counts that cannot be.

    Notes
    -----
    Where fewer than 5 events are expected the limits are exact Poisson ones, as those of `p_chart`:
    each leaves out at most 0.00135 of good points.

    References
    ----------
    Shewhart (1931), as `p_chart`.
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1 (counts control charts).
    """
    return _count_chart(counts, is_laney=False)


def laney_u_chart(counts: Sequence[tuple[int, int]]) -> Chart:
    """u chart whose limits are as wide as the points really scatter from one to the next.

    Parameters and errors as `u_chart`; two points at least. spread as `laney_p_chart`.

    References
    ----------
    Laney, D. B. (2002). Improved control charts for attributes. Quality Engineering 14, 531-537.
    """
    _check_two(counts)
    return _count_chart(counts, is_laney=True)


def _count_chart(counts: Sequence[tuple[int, int]], is_laney: bool) -> Chart:
    if not counts:
        raise BadInput("a chart needs at least one point", "counts", "wait for the first batch")
    if any(events < 0 or units < 1 for events, units in counts):
        raise BadInput("counts from 0 on units from 1 are needed", "counts", "check the counts")
    both = np.array(counts, dtype=float)
    events, units = both[:, 0], both[:, 1]
    centre = float(events.sum() / units.sum())
    if centre == 0:
        return _still_chart(centre, len(counts))
    rates = events / units
    distance = (rates - centre) / np.sqrt(centre / units)
    spread = _find_spread(distance, is_laney)
    points = (
        _count_point(rate, centre, stoves, 3 * spread)
        for rate, stoves in zip(rates, units, strict=True)
    )
    return Chart(centre, spread, tuple(points), _standardise(distance, spread))


def _count_point(rate: float, centre: float, units: float, width: float) -> ChartPoint:
    expected = units * centre
    if expected < SMALL_COUNT:
        fewest, most = poisson_limits(float(scipy.special.ndtr(-width)), expected)
        low, high = fewest / units, most / units
    else:
        half = width * sqrt(centre / units)
        low, high = max(0.0, centre - half), centre + half
    return make_point(float(rate), low, high)


def _rates(counts: Sequence[tuple[int, int]]) -> tuple[Array, Array]:
    """Counts as two arrays, failed and inspected, once they are fit for a chart."""
    if not counts:
        raise BadInput("a chart needs at least one point", "counts", "wait for the first batch")
    for failed, inspected in counts:
        check_counts(failed, inspected)
    both = np.array(counts, dtype=float)
    return both[:, 0], both[:, 1]


def _check_two(counts: Sequence[tuple[int, int]]) -> None:
    if len(counts) < 2:
        raise BadInput("scatter from point to point needs two points", "counts", "wait for more")


def _still_chart(centre: float, points: int) -> Chart:
    """Of points that are all the same: none can be out."""
    return Chart(
        centre, 1.0, (ChartPoint(centre, centre, centre, False),) * points, (0.0,) * points
    )


def _find_spread(distance: Array, is_laney: bool) -> float:
    """Laney's factor from standardised points, 1 for the plain chart."""
    return float(np.abs(np.diff(distance)).mean() / D2) if is_laney else 1.0


def _standardise(distance: Array, spread: float) -> tuple[float, ...]:
    return to_floats(distance / spread if spread > 0 else np.zeros_like(distance))
