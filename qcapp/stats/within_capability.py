"""Does what scatters from one piece to the next fit between the limits, in a stable making?"""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.stats.capability import check_readings
from qcapp.stats.capability_index import estimate_indices
from qcapp.stats.chart import individuals_chart
from qcapp.stats.interval import Estimate
from qcapp.stats.run_rules import nelson_signals

# Nelson's rules that speak against a stable chart: the two whose false signals are known and few.
STABLE_RULES = (1, 2)
# Degrees of freedom of a mean moving range over those of a standard deviation (Cryer and Ryan).
MOVING_RANGE_WORTH = 0.605


@dataclass(frozen=True)
class WithinCapability:
    """What scatters from one piece to the next, and whether the making stood still meanwhile.

    s: standard deviation from the mean moving range, unit of the readings. signals: places (from 0)
    at which the chart says that it did not stand still. cp, cpk: as `Capability`, but of this s;
    None unless the chart is stable, and where s is 0.
    """

    s: float
    signals: tuple[int, ...]
    cp: Estimate | None
    cpk: Estimate | None

    @property
    def is_stable(self) -> bool:
        return not self.signals


def measure_within(
    readings: Sequence[float], lower: float | None, upper: float | None, level: float = 0.95
) -> WithinCapability:
    """Cp and Cpk of readings in the order made, if their individuals chart is stable.

    Parameters and errors as `measure_capability`.

    Notes
    -----
    Stable: no point beyond three standard deviations, no nine in a row on one side of the centre
    (the first two of Nelson's rules). The mean moving range says as much about the spread as 0.605
    times as many readings do by the usual standard deviation, and the intervals go by that.

    References
    ----------
    ISO 22514-2:2017 (capability is of a process in statistical control).
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals control charts).
    Cryer, J. D. and Ryan, T. P. (1990). The estimation of sigma for an X chart: MR/d2 or S/c4?
    Journal of Quality Technology 22, 187-192 (its variance, 0.826 against 0.5 over n).
    """
    given = check_readings(readings, lower, upper)
    chart = individuals_chart(given.tolist())
    signals = tuple(
        sorted(
            {found.index for found in nelson_signals(chart.sigmas) if found.rule in STABLE_RULES}
        )
    )
    cp = cpk = None
    if not signals:
        freedom = max(1.0, MOVING_RANGE_WORTH * (len(given) - 1))
        spread = (chart.centre, chart.spread)
        cp, cpk = estimate_indices((lower, upper), spread, len(given), freedom, level)
    return WithinCapability(chart.spread, signals, cp, cpk)
