"""Is group a worse than group b, and could it be chance? Two rates side by side.

In every function a_failed of a_inspected and b_failed of b_inspected are counts; differences and
ratios are a against b. Several batches at once: see `strata`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, exp, log, sqrt

import numpy as np
import scipy

from qcapp.errors import BadInput
from qcapp.stats.discrete import hypergeometric_chances
from qcapp.stats.interval import Estimate, check_counts, check_share
from qcapp.stats.normal import two_sided_z
from qcapp.stats.proportion import wilson_interval


def newcombe_difference(
    a_failed: int, a_inspected: int, b_failed: int, b_inspected: int, level: float = 0.95
) -> Estimate:
    """Difference of two rates (a minus b) with Newcombe's hybrid score interval.

    Parameters
    ----------
    a_failed, a_inspected, b_failed, b_inspected : int
        Counts; each group needs at least one inspected stove.
    level : float
        Two-sided confidence.

    Returns
    -------
    Estimate
        Fractions between -1 and 1.

    Raises
    ------
    BadInput
        For counts that cannot be or a level outside (0, 1).

    References
    ----------
    Newcombe, R. G. (1998). Interval estimation for the difference between independent proportions:
    comparison of eleven methods. Statistics in Medicine 17, 873-890 (method 10).
    """
    a = wilson_interval(a_failed, a_inspected, level)
    b = wilson_interval(b_failed, b_inspected, level)
    a_rate, b_rate = a_failed / a_inspected, b_failed / b_inspected
    value = a_rate - b_rate
    low = value - sqrt((a_rate - a.low) ** 2 + (b.high - b_rate) ** 2)
    high = value + sqrt((a.high - a_rate) ** 2 + (b_rate - b.low) ** 2)
    return Estimate(value, max(-1.0, low), min(1.0, high), level)


def fisher_exact(a_failed: int, a_inspected: int, b_failed: int, b_inspected: int) -> float:
    """Two-sided p of Fisher's exact test that both groups fail at one rate.

    Parameters
    ----------
    a_failed, a_inspected, b_failed, b_inspected : int
        Counts; each group needs at least one inspected stove.

    Returns
    -------
    float
        The probability, margins given, of every table no likelier than the observed one.

    Raises
    ------
    BadInput
        For counts that cannot be.

    References
    ----------
    Fisher, R. A. (1935). The Design of Experiments. Oliver and Boyd, Edinburgh, chapter 2.
    """
    check_counts(a_failed, a_inspected)
    check_counts(b_failed, b_inspected)
    failed = a_failed + b_failed
    fewest, chances = hypergeometric_chances(a_inspected + b_inspected, failed, a_inspected)
    observed = float(chances[a_failed - fewest])
    # Tables as likely as the observed one count; rounding must not throw one of a tie out.
    return min(1.0, float(chances[chances <= observed * (1 + 1e-7)].sum()))


@dataclass(frozen=True)
class RiskRatio:
    """Rate of a over rate of b; `is_corrected` when halves had to be added to the counts."""

    value: float
    low: float
    high: float
    level: float
    is_corrected: bool


def find_risk_ratio(
    a_failed: int, a_inspected: int, b_failed: int, b_inspected: int, level: float = 0.95
) -> RiskRatio | None:
    """Ratio of two rates with the log interval of Katz; None when nobody failed in either group.

    Parameters
    ----------
    a_failed, a_inspected, b_failed, b_inspected : int
        Counts; each group needs at least one inspected stove.
    level : float
        Two-sided confidence.

    Returns
    -------
    RiskRatio or None
        None for 0 against 0: such counts say nothing about a ratio.

    Raises
    ------
    BadInput
        For counts that cannot be or a level outside (0, 1).

    Notes
    -----
    The 0.5 rule: when one group has no failure, or every stove failed in both, 0.5 is added to the
    failed and to the passed of both groups, for the value as well as for the interval.

    References
    ----------
    Katz, D., Baptista, J., Azen, S. P. and Pike, M. C. (1978). Obtaining confidence intervals for
    the risk ratio in cohort studies. Biometrics 34, 469-474.
    Walter, S. D. (1975). The distribution of Levin's measure of attributable risk. Biometrika 62,
    371-374 (adding one half).
    """
    check_counts(a_failed, a_inspected)
    check_counts(b_failed, b_inspected)
    z = two_sided_z(level)
    if a_failed == 0 and b_failed == 0:
        return None
    all_failed = a_failed == a_inspected and b_failed == b_inspected
    is_corrected = a_failed == 0 or b_failed == 0 or all_failed
    half = 0.5 if is_corrected else 0.0
    a, a_all, b, b_all = (
        a_failed + half,
        a_inspected + 2 * half,
        b_failed + half,
        b_inspected + 2 * half,
    )
    middle = log(a / a_all) - log(b / b_all)
    reach = z * sqrt(1 / a - 1 / a_all + 1 / b - 1 / b_all)
    return RiskRatio(exp(middle), exp(middle - reach), exp(middle + reach), level, is_corrected)


def benjamini_hochberg(p_values: Sequence[float]) -> tuple[float, ...]:
    """Adjusted p values that hold the false discovery rate over all the steps looked at.

    Parameters
    ----------
    p_values : sequence of float, length m
        One p for each thing tested, each between 0 and 1; may be empty.

    Returns
    -------
    tuple of float, length m
        In the order given. Naming those <= q keeps the expected share of false ones among the
        named at q or below, for independent or positively dependent tests.

    Raises
    ------
    BadInput
        For a p outside 0 to 1.

    References
    ----------
    Benjamini, Y. and Hochberg, Y. (1995). Controlling the false discovery rate: a practical and
    powerful approach to multiple testing. Journal of the Royal Statistical Society B 57, 289-300.
    """
    given = np.asarray(p_values, dtype=float)
    if not np.all((given >= 0) & (given <= 1)):
        raise BadInput("a p value is not between 0 and 1", "p_values", "give probabilities")
    order = np.argsort(given)[::-1]
    ranks = np.arange(len(given), 0, -1)
    adjusted = np.empty_like(given)
    adjusted[order] = np.minimum.accumulate(np.minimum(1.0, given[order] * len(given) / ranks))
    return tuple(float(p) for p in adjusted)


def find_stoves_to_distinguish(
    a_rate: float,
    b_rate: float,
    level: float = 0.95,
    power: float = 0.8,
    b_per_a: float = 1.0,
    between: float = 0.0,
) -> int | None:
    """Stoves of group a that would show the difference, if the two rates are what they seem.

    Parameters
    ----------
    a_rate, b_rate : float
        Fractions, 0 to 1.
    level : float
        Two-sided confidence of the comparison; power : chance to see the difference.
    b_per_a : float
        Stoves of group b for each one of group a, > 0.
    between : float
        Variance of the difference that more stoves of the same people do not lessen, because
        people differ; >= 0.

    Returns
    -------
    int or None
        Stoves of group a in all (the caller takes off those already inspected; group b needs
        b_per_a times as many). None when no number would tell: the rates are equal, or people
        differ too much.

    Raises
    ------
    BadInput
        For a rate, level, power or b_per_a out of range.

    References
    ----------
    Fleiss, J. L., Levin, B. and Paik, M. C. (2003). Statistical Methods for Rates and Proportions,
    3rd ed. Wiley, New York, chapter 4 (without continuity correction).
    Donner, A. and Klar, N. (2000). Design and Analysis of Cluster Randomization Trials in Health
    Research. Arnold, London, chapter 5 (what clusters leave over).
    """
    check_share(power, "power")
    if not (0 <= a_rate <= 1 and 0 <= b_rate <= 1 and b_per_a > 0 and between >= 0):
        raise BadInput(
            "rates lie between 0 and 1, b_per_a above 0 and between not below",
            "a_rate, b_rate, b_per_a, between",
            "check them",
        )
    both = two_sided_z(level) + float(scipy.special.ndtri(power))
    left = (a_rate - b_rate) ** 2 - both**2 * between
    if a_rate == b_rate or left <= 0:
        return None
    pooled = (a_rate + b_per_a * b_rate) / (1 + b_per_a)
    alike = sqrt(pooled * (1 - pooled) * (1 + 1 / b_per_a))
    apart = sqrt(a_rate * (1 - a_rate) + b_rate * (1 - b_rate) / b_per_a)
    reach = two_sided_z(level) * alike + float(scipy.special.ndtri(power)) * apart
    return max(1, ceil(reach**2 / left - 1e-9))
