"""A funnel plot: rates of places of different size against the limits that chance alone allows.

Places are not ranked. One inside the limits is not shown to differ from all of them together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
import scipy

from qcapp.stats.array import Array
from qcapp.stats.discrete import hypergeometric_cdf
from qcapp.stats.interval import check_counts, check_share

# Two tails of a bell curve at about two and three standard deviations.
ALERT, ALARM = 0.95, 0.998
# The share of places at either end whose z is drawn in, so that one odd place does not widen the
# limits that it should be found by.
WINSOR = 0.1
# Below this chance alone is not believed, and places are taken to differ among themselves.
MAX_CHANCE = 0.05
# Of two that differ, neither is the odd one.
MIN_PLACES = 3


@dataclass(frozen=True)
class Dispersion:
    """ratio: variance of the places' rates over that of chance, odd places drawn in (phi); p: how
    likely such a ratio or more is by chance alone; between: standard deviation between places
    beyond chance (tau), as a share, 0 where there is none.
    """

    ratio: float
    p: float
    between: float


def exact_limit(target: float, inspected: int, tail: float) -> float:
    """The share below which a rate falls with probability `tail`; binomial, interpolated.

    Parameters
    ----------
    target : float
        Rate of all, 0 to 1.
    inspected : int
        Stoves of the place, 1 at least.
    tail : float
        0.025 for the lower limit of 95 %, 0.975 for the upper one.

    Returns
    -------
    float
        From 0 to 1.

    Notes
    -----
    With r the smallest count whose cumulative chance reaches `tail`, the limit is (r - a) / n with
    a = (P(R <= r) - tail) / P(R = r). It moves evenly with n where the plain quantile jumps.

    References
    ----------
    Spiegelhalter, D. J. (2005). Funnel plots for comparing institutional performance. Statistics in
    Medicine 24, 1185-1202, appendix A.1.1.
    """
    check_counts(0, inspected)
    check_share(tail, "tail")
    if not 0 < target < 1:
        return target
    chances = scipy.special.bdtr(np.arange(inspected + 1), inspected, target)
    count = int(np.searchsorted(chances, tail))
    below = chances[count - 1] if count else 0.0
    share = (chances[count] - tail) / (chances[count] - below)
    return min(1.0, max(0.0, float(count - share) / inspected))


def find_dispersion(counts: Sequence[tuple[int, int]], target: float) -> Dispersion:
    """How much more the places' rates vary than chance allows.

    Parameters
    ----------
    counts : sequence of (failed, inspected)
        One pair a place, at least one inspected in each.
    target : float
        Rate of all, 0 to 1.

    Returns
    -------
    Dispersion
        between is 0 where the ratio is no more than chance gives on average.

    References
    ----------
    Spiegelhalter (2005), section 4.4 and appendix A.3 (drawn-in z, test of the ratio, places that
    truly differ). DerSimonian, R. and Laird, N. (1986). Meta-analysis in clinical trials.
    Controlled Clinical Trials 7, 177-188 (tau by moments).
    """
    for failed, inspected in counts:
        check_counts(failed, inspected)
    if len(counts) < 2 or not 0 < target < 1:
        return Dispersion(1.0, 1.0, 0.0)
    table = np.array(counts, dtype=float)
    variance = target * (1 - target) / table[:, 1]
    z = _draw_in((table[:, 0] / table[:, 1] - target) / np.sqrt(variance))
    total = float((z**2).sum())
    p = float(scipy.special.chdtrc(len(counts) - 1, total))
    weights = 1 / variance
    spare = weights.sum() - (weights**2).sum() / weights.sum()
    between = max(0.0, (total - (len(counts) - 1)) / spare)
    return Dispersion(total / len(counts), p, sqrt(between))


def _draw_in(z: Array) -> Array:
    """The outermost tenth at either end takes the value of the last one kept."""
    ordered = np.sort(z)
    at = int(len(z) * WINSOR)
    return np.clip(z, ordered[at], ordered[len(z) - 1 - at])


def wide_limit(target: float, inspected: int, between: float, tail: float) -> float:
    """As exact_limit where places truly differ: a bell curve of both variances.

    between : float
        Standard deviation between places, as a share.

    References
    ----------
    Spiegelhalter (2005), appendix A.3, the additive form.
    """
    check_counts(0, inspected)
    spread = sqrt(target * (1 - target) / inspected + between**2)
    return min(1.0, max(0.0, target + float(scipy.special.ndtri(tail)) * spread))


def find_standing_out(counts: Sequence[tuple[int, int]]) -> frozenset[int]:
    """Places (by index) that stand out from all the others together.

    Parameters
    ----------
    counts : sequence of (failed, inspected)
        At least one inspected in each.

    Returns
    -------
    frozenset of int
        Empty with fewer than three places; never half of them or more.

    Notes
    -----
    One odd place lifts the line of all and widens the limits, and so hides itself, the more the
    fewer places there are. So each is held against the line and the spread of the others, their
    line's own uncertainty included; the farthest beyond the 99.8 % limits is set apart, and the
    rest are held against each other again. A test holds how often equal places are named.

    References
    ----------
    Limits found without the odd ones: ISO 7870-2:2023 speaks so of the first limits of a control
    chart (title from memory). Holding each against the rest: Marshall, E. C. and Spiegelhalter,
    D. J. (2003). Approximate cross-validatory predictive checks in disease mapping models.
    Statistics in Medicine 22, 1649-1660.
    """
    apart: set[int] = set()
    while len(counts) - len(apart) >= MIN_PLACES and 2 * (len(apart) + 1) < len(counts):
        left = [at for at in range(len(counts)) if at not in apart]
        beyond = {at: _excess(counts, left, at) for at in left}
        farthest = max(left, key=lambda at: beyond[at])
        if beyond[farthest] <= 0:
            break
        apart.add(farthest)
    return frozenset(apart)


def _excess(counts: Sequence[tuple[int, int]], left: Sequence[int], at: int) -> float:
    """How far beyond its 99.8 % limits the place lies, in standard deviations; <= 0 inside."""
    others = [counts[other] for other in left if other != at]
    of_others = sum(n for _, n in others)
    # A half failure more and less, so that a line of nothing failed leaves room for chance.
    target = (sum(failed for failed, _ in others) + 0.5) / (of_others + 1)
    spread = find_dispersion(others, target)
    between = spread.between if spread.p < MAX_CHANCE else 0.0
    failed, inspected = counts[at]
    variance = target * (1 - target)
    unsure = sqrt(between**2 + variance / of_others)
    share, z = failed / inspected, -float(scipy.special.ndtri((1 - ALARM) / 2))
    spread_all = sqrt(variance / inspected + unsure**2)
    beyond = abs(share - target) / spread_all - z
    lost = sum(failed for failed, _ in others)
    return beyond if _chance(failed, inspected, lost, of_others) < 1 - ALARM else min(beyond, 0.0)


def _chance(failed: int, inspected: int, lost: int, of_others: int) -> float:
    """Fisher's exact test: chance of so uneven a share or more, both tails alike."""
    table = (inspected + of_others, failed + lost, inspected)
    below = hypergeometric_cdf(failed, *table)
    above = 1 - hypergeometric_cdf(failed - 1, *table)
    return min(1.0, 2 * min(below, above))
