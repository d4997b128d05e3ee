"""Does what scatters from one piece to the next fit between the limits, in a stable making?"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import expm1, log1p, sqrt

import numpy as np
import scipy

from qcapp.stats.array import Array
from qcapp.stats.capability import check_readings
from qcapp.stats.capability_index import estimate_indices
from qcapp.stats.interval import Estimate
from qcapp.stats.variables_charts import individuals_chart

# Chance that a stable making of any length is called not stable: half for a single reading that
# stands out, half for drift.
FALSE_CALL = 0.05
# The normal approximation of the drift test needs so many readings.
MIN_FOR_DRIFT = 10
# Degrees of freedom of a mean moving range over those of a standard deviation (Cryer and Ryan).
MOVING_RANGE_WORTH = 0.605


@dataclass(frozen=True)
class WithinCapability:
    """What scatters from one piece to the next, and whether the making stood still meanwhile.

    s: standard deviation from the mean moving range, unit of the readings. reach: of the limits, in
    s. signals: places (from 0) of readings beyond them. drift_p: of neighbours being no more alike
    than any two readings. cp, cpk: as `Capability`, but of this s; None unless stable, and where s
    is 0.
    """

    s: float
    reach: float
    signals: tuple[int, ...]
    drift_p: float
    cp: Estimate | None
    cpk: Estimate | None

    @property
    def is_drifting(self) -> bool:
        return self.drift_p < FALSE_CALL / 2

    @property
    def is_stable(self) -> bool:
        return not self.signals and not self.is_drifting


def measure_within(
    readings: Sequence[float], lower: float | None, upper: float | None, level: float = 0.95
) -> WithinCapability:
    """Cp and Cpk of readings in the order made, if their individuals chart is stable.

    Parameters and errors as `measure_capability`.

    Notes
    -----
    Limits at three standard deviations call out one of 370 good readings, so of long rows nearly
    every one. Here they are as far away as the row is long, and drift is tested once for the whole
    row, by the mean square of successive differences: a stable row is called not stable in about
    one of twenty. The mean moving range says as much about the spread as 0.605 times as many
    readings do by the usual standard deviation, and the intervals go by that.

    References
    ----------
    ISO 22514-2:2017 (capability is of a process in statistical control).
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals control charts).
    von Neumann, J., Kent, R. H., Bellinson, H. R. and Hart, B. I. (1941). The mean square
    successive difference. Annals of Mathematical Statistics 12, 153-162.
    Cryer, J. D. and Ryan, T. P. (1990). The estimation of sigma for an X chart: MR/d2 or S/c4?
    Journal of Quality Technology 22, 187-192 (its variance, 0.826 against 0.5 over n).
    """
    given = check_readings(readings, lower, upper)
    chart, count = individuals_chart(given.tolist()), len(given)
    tail = -expm1(log1p(-FALSE_CALL / 2) / count) / 2
    reach = float(-scipy.special.ndtri(tail))
    signals = tuple(at for at, distance in enumerate(chart.sigmas) if abs(distance) > reach)
    found = WithinCapability(chart.spread, reach, signals, _drift_p(given), None, None)
    if not found.is_stable:
        return found
    freedom = max(1.0, MOVING_RANGE_WORTH * (count - 1))
    spread = (chart.centre, chart.spread)
    cp, cpk = estimate_indices((lower, upper), spread, count, freedom, level)
    return replace(found, cp=cp, cpk=cpk)


def _drift_p(given: Array) -> float:
    """One-sided p of the mean square successive difference against the variance."""
    count, variance = len(given), float(given.var())
    if variance == 0 or count < MIN_FOR_DRIFT:
        return 1.0
    ratio = float((np.diff(given) ** 2).sum()) / (2 * count * variance)
    return float(scipy.special.ndtr((ratio - 1) / sqrt((count - 2) / (count**2 - 1))))
