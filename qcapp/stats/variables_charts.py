"""Charts of readings over time: has the making changed, or is it only scatter?

In the field: charts for variables.
"""

from collections.abc import Sequence
from math import sqrt

import numpy as np

from qcapp.errors import BadInput
from qcapp.stats.array import Array
from qcapp.stats.chart import D2, Chart, make_point, to_floats
from qcapp.stats.interval import check_share

# Upper limit of a moving range of two over the mean range: 1 + 3 sqrt(2 - D2^2) / D2 = 3.2665.
D4 = 1 + 3 * sqrt(2 - D2**2) / D2


def individuals_chart(values: Sequence[float]) -> Chart:
    """Single readings with limits from their moving range of two.

    Parameters
    ----------
    values : sequence of float, at least two
        Readings in one unit, in the order made.

    Returns
    -------
    Chart
        In that unit; spread is the mean moving range over 1.128.

    Raises
    ------
    BadInput
        For fewer than two or non-finite values.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals control charts).
    """
    given = _readings(values, fewest=2)
    centre, spread = float(given.mean()), float(np.abs(np.diff(given)).mean() / D2)
    points = tuple(make_point(float(v), centre - 3 * spread, centre + 3 * spread) for v in given)
    sigmas = (given - centre) / spread if spread > 0 else np.zeros_like(given)
    return Chart(centre, spread, points, to_floats(sigmas))


def moving_range_chart(values: Sequence[float]) -> Chart:
    """Absolute difference of each reading from the one before; one point fewer than values.

    Parameters and errors as `individuals_chart`.

    Returns
    -------
    Chart
        In the unit of the values: centre is the mean range, limits 0 and 3.267 times it; spread is
        the standard deviation of a range.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals control charts).
    """
    ranges = np.abs(np.diff(_readings(values, fewest=2)))
    centre = float(ranges.mean())
    spread = centre * (D4 - 1) / 3
    points = tuple(make_point(float(r), 0.0, D4 * centre) for r in ranges)
    sigmas = (ranges - centre) / spread if spread > 0 else np.zeros_like(ranges)
    return Chart(centre, spread, points, to_floats(sigmas))


def ewma_chart(
    values: Sequence[float], target: float, sigma: float, weight: float = 0.2, width: float = 3.0
) -> Chart:
    """Exponentially weighted mean of readings, started at the target: sees slow drift early.

    Parameters
    ----------
    values : sequence of float, at least one
    target, sigma : float
        Where the making should be, and the standard deviation of one reading (> 0), same unit.
    weight : float
        Of the newest reading, 0 < weight < 1.
    width : float
        Limits in sigma of the weighted mean, > 0.

    Returns
    -------
    Chart
        Limits are exact for each point: narrow at the start, steady later.

    Raises
    ------
    BadInput
        For no or non-finite values, or a sigma, weight or width out of range.

    References
    ----------
    Roberts, S. W. (1959). Control chart tests based on geometric moving averages. Technometrics 1,
    239-250.
    Lucas, J. M. and Saccucci, M. S. (1990). Exponentially weighted moving average control schemes:
    properties and enhancements. Technometrics 32, 1-12.
    """
    given = _readings(values, fewest=1)
    if not sigma > 0:
        raise BadInput(
            f"sigma {sigma} is not above 0", "sigma", "take it from an individuals chart"
        )
    check_share(weight, "weight")
    if not width > 0:
        raise BadInput(f"width {width} is not above 0", "width", "3 is usual")
    mean, variance, points, sigmas = target, 0.0, [], []
    for value in given:
        mean = weight * float(value) + (1 - weight) * mean
        variance = weight**2 * sigma**2 + (1 - weight) ** 2 * variance
        spread = sqrt(variance)
        points.append(make_point(mean, target - width * spread, target + width * spread))
        sigmas.append((mean - target) / spread)
    return Chart(target, sqrt(variance), tuple(points), tuple(sigmas))


def _readings(values: Sequence[float], fewest: int) -> Array:
    given = np.asarray(values, dtype=float)
    if len(given) < fewest or not np.all(np.isfinite(given)):
        raise BadInput(
            f"at least {fewest} finite readings are needed", "values", "check the readings"
        )
    return given
