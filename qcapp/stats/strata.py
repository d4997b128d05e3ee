"""Two groups compared within each batch (or yard), then put together, so that an easy batch does
not flatter whoever happened to make it (Simpson's paradox).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
import scipy

from qcapp.stats.array import Array
from qcapp.stats.interval import Estimate, check_counts
from qcapp.stats.normal import two_sided_z


@dataclass(frozen=True)
class Stratum:
    """Counts of one batch or yard: failed of inspected in group a and in group b."""

    a_failed: int
    a_inspected: int
    b_failed: int
    b_inspected: int


@dataclass(frozen=True)
class MantelHaenszel:
    """Group a against b over all strata; None where the counts cannot give the figure.

    strata_used: those in which both groups have stoves; the others say nothing.
    p_value: of the test that a and b fail alike in every stratum.
    """

    risk_difference: Estimate | None
    risk_ratio: Estimate | None
    odds_ratio: Estimate | None
    p_value: float | None
    strata_used: int


def mantel_haenszel(strata: Sequence[Stratum], level: float = 0.95) -> MantelHaenszel:
    """Common risk difference, risk ratio and odds ratio of a against b over strata, with a test.

    Parameters
    ----------
    strata : sequence of Stratum
        One for each batch; a group may be empty (0 of 0) in a batch.
    level : float
        Two-sided confidence of the three intervals.

    Returns
    -------
    MantelHaenszel
        Everything None when no stratum has both groups, or none (or all) of their stoves failed.
        The ratios are also None when one of their two sums is zero.

    Raises
    ------
    BadInput
        For counts that cannot be or a level outside (0, 1).

    Notes
    -----
    Intervals: Klingenberg's for the difference (Sato's variance taken at each possible difference)
    and Robins, Breslow and Greenland for the odds ratio, both good for few large batches as well as
    for many batches of a few stoves; Greenland and Robins for the risk ratio. Their variance of the
    difference is not used: it takes a batch with a single stove of one group as known for certain.
    The test is that of Mantel and Haenszel without continuity correction.

    References
    ----------
    Mantel, N. and Haenszel, W. (1959). Statistical aspects of the analysis of data from
    retrospective studies of disease. Journal of the National Cancer Institute 22, 719-748.
    Robins, J., Breslow, N. and Greenland, S. (1986). Estimators of the Mantel-Haenszel variance
    consistent in both sparse data and large-strata limiting models. Biometrics 42, 311-323.
    Greenland, S. and Robins, J. M. (1985). Estimation of a common effect parameter from sparse
    follow-up data. Biometrics 41, 55-68.
    Sato, T. (1989). On the variance estimator for the Mantel-Haenszel risk difference. Biometrics
    45, 1323-1324 (letter).
    Klingenberg, B. (2014). A new and improved confidence interval for the Mantel-Haenszel risk
    difference. Statistics in Medicine 33, 2968-2983.
    """
    z = two_sided_z(level)
    table = _usable(strata)
    failed, inspected = table[:, [0, 2]].sum(), table[:, [1, 3]].sum()
    if failed in (0, inspected):
        return MantelHaenszel(None, None, None, None, len(table))
    return MantelHaenszel(
        _risk_difference(table, z, level),
        _risk_ratio(table, z, level),
        _odds_ratio(table, z, level),
        _test_alike(table),
        len(table),
    )


def _usable(strata: Sequence[Stratum]) -> Array:
    for stratum in strata:
        for failed, inspected in (
            (stratum.a_failed, stratum.a_inspected),
            (stratum.b_failed, stratum.b_inspected),
        ):
            if (failed, inspected) != (0, 0):
                check_counts(failed, inspected)
    rows = [
        (s.a_failed, s.a_inspected, s.b_failed, s.b_inspected)
        for s in strata
        if s.a_inspected and s.b_inspected
    ]
    return np.array(rows, dtype=float).reshape(-1, 4)


def _risk_difference(table: Array, z: float, level: float) -> Estimate:
    a, a_all, b, b_all = table.T
    total = a_all + b_all
    weight = (a_all * b_all / total).sum()
    value = float(((a * b_all - b * a_all) / total).sum() / weight)
    slope = ((a_all**2 * b - b_all**2 * a + a_all * b_all * (b_all - a_all) / 2) / total**2).sum()
    level_part = ((a * (b_all - b) + b * (a_all - a)) / total).sum() / 2
    # All d with (value - d)^2 <= z^2 (d slope + level_part) / weight^2, a quadratic in d.
    middle = float(value + z**2 * slope / weight**2 / 2)
    reach = sqrt(max(0.0, middle**2 - value**2 + z**2 * level_part / weight**2))
    return Estimate(value, max(-1.0, middle - reach), min(1.0, middle + reach), level)


def _risk_ratio(table: Array, z: float, level: float) -> Estimate | None:
    a, a_all, b, b_all = table.T
    total = a_all + b_all
    upper, lower = (a * b_all / total).sum(), (b * a_all / total).sum()
    if upper == 0 or lower == 0:
        return None
    scatter = (((a + b) * a_all * b_all - a * b * total) / total**2).sum()
    return _log_estimate(upper / lower, scatter / (upper * lower), z, level)


def _odds_ratio(table: Array, z: float, level: float) -> Estimate | None:
    a, a_all, b, b_all = table.T
    total = a_all + b_all
    same, cross = a * (b_all - b) / total, b * (a_all - a) / total
    if same.sum() == 0 or cross.sum() == 0:
        return None
    share_same, share_cross = (a + b_all - b) / total, (b + a_all - a) / total
    variance = (
        (share_same * same).sum() / same.sum() ** 2
        + (share_same * cross + share_cross * same).sum() / (same.sum() * cross.sum())
        + (share_cross * cross).sum() / cross.sum() ** 2
    ) / 2
    return _log_estimate(same.sum() / cross.sum(), variance, z, level)


def _log_estimate(value: float, log_variance: float, z: float, level: float) -> Estimate:
    reach = z * sqrt(max(0.0, log_variance))
    return Estimate(float(value), exp(log(value) - reach), exp(log(value) + reach), level)


def _test_alike(table: Array) -> float | None:
    a, a_all, b, b_all = table.T
    total, failed = a_all + b_all, a + b
    excess = (a - failed * a_all / total).sum()
    variance = (a_all * b_all * failed * (total - failed) / (total**2 * (total - 1))).sum()
    return float(scipy.special.chdtrc(1, excess**2 / variance)) if variance > 0 else None
