"""How much more counts vary than independent ones: faults come together on a stove."""

from collections.abc import Iterable
from math import sqrt
from typing import NamedTuple

import scipy

from qcapp.stats.interval import Estimate


class ClusterCounts(NamedTuple):
    """Stoves that should be alike: how many, the sum of their failed steps, and of its squares.

    expected: variance of one stove's count if its steps failed independently.
    """

    stoves: int
    failed: int
    squares: int
    expected: float


def find_dispersion(groups: Iterable[ClusterCounts]) -> float:
    """Observed over expected variance of the stoves' counts, inside the groups; 1 at least.

    References
    ----------
    McCullagh, P. and Nelder, J. A. (1989). Generalized Linear Models, 2nd ed. Chapman and Hall,
    London, section 4.5 (over-dispersion).
    """
    seen = expected = 0.0
    for group in groups:
        if group.stoves > 1:
            seen += group.squares - group.failed**2 / group.stoves
            expected += group.expected * (group.stoves - 1)
    return max(1.0, seen / expected) if expected > 0 else 1.0


def widen_estimate(estimate: Estimate, dispersion: float) -> Estimate:
    """Both arms of an interval longer by the square root of the dispersion."""
    root = sqrt(dispersion)
    return Estimate(
        estimate.value,
        estimate.value - root * (estimate.value - estimate.low),
        estimate.value + root * (estimate.high - estimate.value),
        estimate.level,
    )


def weaken_p(p: float, dispersion: float) -> float:
    """p of a chi-square with one degree of freedom that was made too large by so much."""
    return float(scipy.special.chdtrc(1, scipy.special.chdtri(1, p) / dispersion))
