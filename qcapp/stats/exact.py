"""An exact test over batches: do two groups fail alike inside every batch?"""

from collections.abc import Sequence

import numpy as np

from qcapp.stats.array import Array
from qcapp.stats.discrete import hypergeometric_chances
from qcapp.stats.interval import check_counts
from qcapp.stats.strata import Stratum


def stratified_exact_p(strata: Sequence[Stratum]) -> float | None:
    """Two-sided mid-p that group a fails as often as group b inside each stratum.

    Parameters
    ----------
    strata : sequence of Stratum
        One for each batch; a group may be empty (0 of 0) in a batch, which then says nothing.

    Returns
    -------
    float or None
        Twice the smaller tail, the observed table counted half, at most 1. None when no stratum
        has both groups and at least one failed and one passed stove.

    Raises
    ------
    BadInput
        For counts that cannot be.

    Notes
    -----
    With every batch's margins given, the failures of group a in a batch follow a hypergeometric
    distribution; their sum over batches follows the convolution. No large-sample theory is used,
    so it holds for many batches with a few stoves each. With one stratum the tails are those of
    Fisher's exact test.

    References
    ----------
    Gart, J. J. (1970). Point and interval estimation of the common odds ratio in the combination
    of 2 x 2 tables with fixed marginals. Biometrika 57, 471-475.
    Lancaster, H. O. (1961). Significance tests in discrete distributions. Journal of the American
    Statistical Association 56, 223-234 (mid-p).
    """
    chances, observed = np.ones(1), 0
    for stratum in strata:
        pmf, low = _batch_distribution(stratum)
        if pmf is None:
            continue
        chances = np.convolve(chances, pmf)
        observed += stratum.a_failed - low
    if len(chances) == 1:
        return None
    chances /= chances.sum()
    here = chances[observed] / 2
    upper, lower = chances[observed + 1 :].sum() + here, chances[:observed].sum() + here
    return float(min(1.0, 2 * min(upper, lower)))


def _batch_distribution(stratum: Stratum) -> tuple[Array | None, int]:
    """Chances of each possible count of failed stoves of group a, and the smallest such count."""
    pairs = ((stratum.a_failed, stratum.a_inspected), (stratum.b_failed, stratum.b_inspected))
    for failed, inspected in pairs:
        if (failed, inspected) != (0, 0):
            check_counts(failed, inspected)
    failed = stratum.a_failed + stratum.b_failed
    inspected = stratum.a_inspected + stratum.b_inspected
    low, high = max(0, failed - stratum.b_inspected), min(failed, stratum.a_inspected)
    if low == high:
        return None, low
    return hypergeometric_chances(inspected, failed, stratum.a_inspected)[1], low
