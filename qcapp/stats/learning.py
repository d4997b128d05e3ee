"""Does a maker fail less with each stove made, and how many stoves until the rate is good?"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, exp, floor, inf, log, log1p

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.stats.interval import Estimate, check_share
from qcapp.stats.logistic import (
    LogisticData,
    covariance,
    fit_firth,
    gather,
    profile_drop,
    profile_end,
    wald_rate,
)
from qcapp.stats.normal import two_sided_z

# Beyond this nobody makes stoves: an end further out is reported as open.
MAX_STOVES = 1_000_000


@dataclass(frozen=True)
class LearningCurve:
    """logit(rate) = intercept + slope * log(1 + stoves made before).

    slope below 0: learning; exp(slope * log 2) is about the factor on the odds at each doubling.
    is_clear: the interval of the slope leaves out 0. most_made: largest number made before seen.
    """

    intercept: Estimate
    slope: Estimate
    is_clear: bool
    max_made: int
    inspected: int
    failed: int
    data: LogisticData


@dataclass(frozen=True)
class StovesNeeded:
    """Stoves made until the rate is at the target; high None: the data set no upper end.

    is_beyond_data: more than the maker has made so far, so the curve is carried on by faith.
    """

    made: int
    low: int
    high: int | None
    level: float
    is_beyond_data: bool


def fit_learning_curve(
    made_before: Sequence[int], failed: Sequence[bool | int], level: float = 0.95
) -> LearningCurve:
    """Firth-penalised logistic curve of failing on log(1 + stoves made before).

    Parameters
    ----------
    made_before : sequence of int, length n
        Stoves the maker had made before each inspected one, >= 0; n counts stoves.
    failed : sequence of bool, length n
        Whether that stove failed.
    level : float
        Two-sided confidence.

    Returns
    -------
    LearningCurve
        Intervals by profile penalised likelihood, not symmetric; an open end is +/- inf.

    Raises
    ------
    BadInput
        For a negative count, lists of different length, fewer than two different counts, or a level
        outside (0, 1).

    References
    ----------
    Firth, D. (1993). Bias reduction of maximum likelihood estimates. Biometrika 80, 27-38.
    Heinze, G. and Schemper, M. (2002). A solution to the problem of separation in logistic
    regression. Statistics in Medicine 21, 2409-2419 (profile penalised likelihood).
    Wright, T. P. (1936). Factors affecting the cost of airplanes. Journal of the Aeronautical
    Sciences 3, 122-128 (a constant factor at each doubling).
    """
    return _fit_curve(tuple(made_before), tuple(failed), level)


# Kept, because a page is opened far more often than its counts change.
@lru_cache(maxsize=256)
def _fit_curve(
    made_before: tuple[int, ...], failed: tuple[bool, ...], level: float
) -> LearningCurve:
    check_share(level, "level")
    if any(made < 0 for made in made_before):
        raise BadInput(
            phrase("the number of stoves made before is negative"),
            "made_before",
            phrase("check the rows"),
        )
    data = gather([log1p(made) for made in made_before], failed)
    fit = fit_firth(data)
    slope = _profile_estimate(data, fit, None, level)
    return LearningCurve(
        intercept=_profile_estimate(data, fit, 0.0, level),
        slope=slope,
        is_clear=slope.low > 0 or slope.high < 0,
        max_made=int(max(made_before)),
        inspected=len(failed),
        failed=int(data.failed.sum()),
        data=data,
    )


def _profile_estimate(
    data: LogisticData, fit: tuple[float, float], fixed_x: float | None, level: float
) -> Estimate:
    """The slope (fixed_x None) or the logit at fixed_x, with its profile interval."""

    def drop(value: float) -> float:
        return profile_drop(data, fit, fixed_x, value)

    value = fit[1] if fixed_x is None else fit[0] + fit[1] * fixed_x
    low, high = profile_end(drop, value, -0.25, level), profile_end(drop, value, 0.25, level)
    return Estimate(value, low, high, level)


def rate_after(curve: LearningCurve, made_before: int, level: float = 0.95) -> Estimate:
    """Rate of the curve for a maker with so many stoves behind him or her.

    Parameters
    ----------
    curve : LearningCurve
    made_before : int
        >= 0.
    level : float
        Two-sided confidence.

    Returns
    -------
    Estimate
        Fractions; interval by Wald on the logit, for drawing the band (point by point).

    Raises
    ------
    BadInput
        For a negative count or a level outside (0, 1).

    References
    ----------
    Agresti, A. (2013). Categorical Data Analysis, 3rd ed. Wiley, Hoboken, section 5.1.
    """
    if made_before < 0:
        raise BadInput(
            phrase("the number of stoves made before is negative"),
            "made_before",
            phrase("give 0 or more"),
        )
    fit = (curve.intercept.value, curve.slope.value)
    spread = covariance(curve.data, *fit)
    return Estimate(*wald_rate(fit, spread, log1p(made_before), two_sided_z(level)), level)


def find_stoves_needed(
    curve: LearningCurve, target_rate: float, level: float = 0.95
) -> StovesNeeded | None:
    """Stoves made until the curve is down at a target rate; None where the data cannot tell.

    Parameters
    ----------
    curve : LearningCurve
    target_rate : float
        Fraction, 0 < target_rate < 1.
    level : float
        Two-sided confidence.

    Returns
    -------
    StovesNeeded or None
        None unless the rate clearly falls at this level (slope and its interval below 0), and None
        when even the best guess is over a million stoves. 0 when the curve starts at the target.

    Raises
    ------
    BadInput
        For a target or level outside (0, 1).

    Notes
    -----
    The interval holds every number of stoves at which "the rate is just the target here" is not
    rejected by the profile penalised likelihood ratio.

    References
    ----------
    Heinze and Schemper (2002), see `fit_learning_curve`; for inverting the test, Fieller, E. C.
    (1954). Some problems in interval estimation. Journal of the Royal Statistical Society B 16,
    175-185.
    """
    check_share(target_rate, "target_rate")
    check_share(level, "level")
    fit, data = (curve.intercept.value, curve.slope.value), curve.data
    target = log(target_rate / (1 - target_rate))
    if fit[1] >= 0 or _profile_estimate(data, fit, None, level).high >= 0:
        return None
    place = (target - fit[0]) / fit[1]
    if place > log(MAX_STOVES):
        return None

    def drop(x: float) -> float:
        return profile_drop(data, fit, x, target)

    low, high = profile_end(drop, place, -0.1, level), profile_end(drop, place, 0.1, level)
    made = _made_at(place)
    return StovesNeeded(
        made=ceil(made - 1e-9),
        low=floor(_made_at(low)),
        high=None if high > log(MAX_STOVES) else ceil(_made_at(high) - 1e-9),
        level=level,
        is_beyond_data=made > curve.max_made,
    )


def _made_at(x: float) -> float:
    return 0.0 if x <= 0 or x == -inf else exp(x) - 1
