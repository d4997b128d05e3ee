"""Penalised logistic regression on one explaining number; the ground under `learning`."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf, log, sqrt

import numpy as np
import scipy

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.stats.array import Array
from qcapp.stats.interval import check_share

NOWHERE = 1e12


@dataclass(frozen=True)
class LogisticData:
    """Arrays of one length: the explaining number x, stoves that failed at it, stoves at it."""

    x: Array
    failed: Array
    inspected: Array


def gather(x: Sequence[float], failed: Sequence[bool | int]) -> LogisticData:
    """Put stoves with one x together. Raise BadInput unless two different x are there."""
    if len(x) != len(failed):
        what = phrase(
            "%(places)s places but %(results)s results", places=len(x), results=len(failed)
        )
        raise BadInput(what, "x, failed", phrase("give one result each"))
    given, hit = np.asarray(x, dtype=float), np.asarray(failed, dtype=float)
    if not np.all(np.isfinite(given)) or not np.all((hit == 0) | (hit == 1)):
        raise BadInput(
            phrase("x must be finite, and failed must be true or false"),
            "x, failed",
            phrase("check the rows"),
        )
    places, back = np.unique(given, return_inverse=True)
    if len(places) < 2:
        raise BadInput(
            phrase("a curve needs stoves at two places or more"),
            "x",
            phrase("wait for more stoves"),
        )
    return LogisticData(
        places, np.bincount(back, weights=hit).astype(float), np.bincount(back).astype(float)
    )


def penalised_log_likelihood(data: LogisticData, intercept: float, slope: float) -> float:
    """Binomial log likelihood plus half the log determinant of the information (natural log)."""
    chance = scipy.special.expit(intercept + slope * data.x)
    passing = scipy.special.expit(-intercept - slope * data.x)
    plain = scipy.special.xlogy(data.failed, chance) + scipy.special.xlogy(
        data.inspected - data.failed, passing
    )
    weight = data.inspected * chance * passing
    total = weight.sum()
    if total <= 0:
        return -inf
    spread = (weight * (data.x - (weight * data.x).sum() / total) ** 2).sum()
    return float(plain.sum()) + 0.5 * (log(total) + log(spread)) if spread > 0 else -inf


def fit_firth(data: LogisticData) -> tuple[float, float]:
    """Intercept and slope by Firth's penalised likelihood.

    Parameters
    ----------
    data : LogisticData
        From `gather`: two different x at least.

    Returns
    -------
    (float, float)
        On the logit scale. Finite whatever the data: also when every early stove failed and every
        later one passed, where plain likelihood runs away.

    Raises
    ------
    BadInput
        When the iteration does not settle (not seen; kept so that no wrong figure comes out).

    References
    ----------
    Firth, D. (1993). Bias reduction of maximum likelihood estimates. Biometrika 80, 27-38.
    Heinze, G. and Schemper, M. (2002). A solution to the problem of separation in logistic
    regression. Statistics in Medicine 21, 2409-2419.
    """
    middle, scale = float(data.x.mean()), float(data.x.std())
    unit = LogisticData((data.x - middle) / scale, data.failed, data.inspected)
    at = np.zeros(2)
    value = penalised_log_likelihood(unit, *at)
    for _ in range(100):
        step = _newton_step(unit, at)
        ahead = penalised_log_likelihood(unit, *(at + step))
        while ahead < value and np.abs(step).max() > 1e-9:
            step = step / 2
            ahead = penalised_log_likelihood(unit, *(at + step))
        at, value = at + step, ahead
        if np.abs(step).max() <= 1e-9:
            return float(at[0] - at[1] * middle / scale), float(at[1] / scale)
    raise BadInput(
        phrase("the learning curve does not settle"), "failed", phrase("report these rows")
    )


def _newton_step(data: LogisticData, at: Array) -> Array:
    score, information = _score(data, at)
    width = 1e-5
    by_each = [
        (_score(data, at + move)[0] - _score(data, at - move)[0]) / (2 * width)
        for move in width * np.eye(2)
    ]
    curvature = -np.array(by_each)
    # Far from the top the penalised curvature may point the wrong way; the information never does.
    is_bowl = curvature[0, 0] > 0 and np.linalg.det(curvature) > 0
    step = np.linalg.solve(curvature if is_bowl else information, score)
    # No leap onto the flat ends of the logit.
    return np.asarray(step / max(1.0, float(np.abs(step).max()) / 3), dtype=np.float64)


def _score(data: LogisticData, at: Array) -> tuple[Array, Array]:
    """Slope of the penalised log likelihood, shape (2,), and the information, shape (2, 2)."""
    design = np.column_stack([np.ones_like(data.x), data.x])
    chance = scipy.special.expit(design @ at)
    weight = data.inspected * chance * (1 - chance)
    information = design.T @ (weight[:, None] * design)
    leverage = weight * np.einsum("ij,ij->i", design @ np.linalg.inv(information), design)
    return design.T @ (
        data.failed - data.inspected * chance + leverage * (0.5 - chance)
    ), information


def covariance(data: LogisticData, intercept: float, slope: float) -> Array:
    """Inverse information at the fit, shape (2, 2), order intercept, slope."""
    design = np.column_stack([np.ones_like(data.x), data.x])
    chance = scipy.special.expit(design @ np.array([intercept, slope]))
    weight = data.inspected * chance * (1 - chance)
    return np.linalg.inv(design.T @ (weight[:, None] * design))


def profile_drop(
    data: LogisticData, fit: tuple[float, float], fixed_x: float | None, value: float
) -> float:
    """How much twice the penalised log likelihood falls when the curve is tied down.

    fixed_x None: the slope is `value`. Otherwise the logit at x = fixed_x is `value`. The other
    direction is left free and the best is taken.
    """
    best = penalised_log_likelihood(data, *fit)
    at_fit = fit[0] + fit[1] * float(data.x.mean()) if fixed_x is None else fit[1]

    def line(free: float) -> float:
        if fixed_x is None:
            at = (free - value * float(data.x.mean()), value)
        else:
            at = (value - free * fixed_x, free)
        # Far out the likelihood is nothing at all; the search wants numbers that it can subtract.
        return min(-penalised_log_likelihood(data, *at), NOWHERE)

    # The value at a top is flat: a place good to 1e-6 gives it to 1e-12.
    found = scipy.optimize.minimize_scalar(
        line, bracket=(at_fit - 0.5, at_fit + 0.5), options={"xtol": 1e-6}
    )
    return 2 * (best + float(found.fun))


def profile_end(
    drop: Callable[[float], float], start: float, step: float, level: float, reach: float = 60.0
) -> float:
    """Where `drop(place)`, 0 at start, passes the chi-square quantile of level; +/- inf if nowhere.

    step: first stride, its sign the direction; strides double until `reach` from start.
    """
    check_share(level, "level")
    limit = float(2 * scipy.special.gammaincinv(1 / 2, level))
    inside, stride = start, step
    while abs(inside - start) < reach:
        outside = inside + stride
        if drop(outside) > limit:
            return float(
                scipy.optimize.brentq(lambda place: drop(place) - limit, inside, outside, xtol=1e-6)
            )
        inside, stride = outside, stride * 2
    return inf if step > 0 else -inf


def wald_rate(
    fit: tuple[float, float], spread: Array, x: float, z: float
) -> tuple[float, float, float]:
    """Rate at x with its limits from the logit +/- z standard errors."""
    middle = fit[0] + fit[1] * x
    reach = z * sqrt(float(np.array([1.0, x]) @ spread @ np.array([1.0, x])))
    return (
        float(scipy.special.expit(middle)),
        float(scipy.special.expit(middle - reach)),
        float(scipy.special.expit(middle + reach)),
    )
