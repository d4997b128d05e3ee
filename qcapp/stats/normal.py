"""Quantiles of the standard normal distribution."""

import scipy

from qcapp.stats.interval import check_share


def two_sided_z(level: float) -> float:
    """Standard normal quantile that leaves (1 - level) / 2 in each tail: 1.95996 for 0.95."""
    check_share(level, "level")
    return float(scipy.special.ndtri((1 + level) / 2))
