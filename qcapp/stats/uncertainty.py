"""How sure a verdict on a measured reading is, the tool being no better than it is."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import scipy

from qcapp.errors import BadInput

# Expanded uncertainty U is twice the standard uncertainty u (JCGM 100, k = 2).
COVERAGE = 2
# Of so many the last answers are kept: a page asks for those of each check and size, by two rules
# and five spreads, mostly again for the same, and an answer is a function of what is given.
KEPT_RISKS = 512


class Spread(Hashable, Protocol):
    """How the true values of what is made spread, for instance scipy.stats.norm(mean, sd)."""

    def pdf(self, value: float) -> float: ...

    def ppf(self, share: float) -> float: ...


@dataclass(frozen=True)
class Limits:
    """Limits on the true value, in the unit of the reading; None: no such limit."""

    lower: float | None
    upper: float | None


def guard_limits(limits: Limits, expanded: float, guard_factor: float) -> Limits:
    """Limits moved inwards by guard_factor times the expanded uncertainty.

    Parameters
    ----------
    limits : Limits
    expanded : float
        Expanded uncertainty (k = 2), unit of the limits, >= 0.
    guard_factor : float
        r >= 0: 0 simple acceptance, 1 the editions of ISO 14253-1 before 2017, 0.825 that of 2017.

    Returns
    -------
    Limits
        May be out of order when the tool is too coarse: then no reading can be accepted.

    Raises
    ------
    BadInput
        For no limit, limits out of order, an uncertainty or a factor below 0.

    References
    ----------
    JCGM 106:2012, 8.3 (guard bands). ISO 14253-1:2017 (default by 95 % conformance).
    """
    _check(limits, expanded)
    if guard_factor < 0:
        raise BadInput(f"guard factor {guard_factor} is below 0", "guard_factor", "0 for none")
    band = guard_factor * expanded
    lower = None if limits.lower is None else limits.lower + band
    return Limits(lower, None if limits.upper is None else limits.upper - band)


@dataclass(frozen=True)
class VerdictRisks:
    """Shares of all stoves: wrongly passed, wrongly failed, and truly outside the limits."""

    wrongly_passed: float
    wrongly_failed: float
    outside: float


def verdict_risks(
    spread: Spread, limits: Limits, acceptance: Limits, expanded: float
) -> VerdictRisks:
    """How many stoves a check passes and fails wrongly, from how the making spreads.

    Parameters
    ----------
    spread : Spread
        Of the true values (the observed spread less that of measuring).
    limits, acceptance : Limits
        On the true value; on the reading (equal for simple acceptance, see `guard_limits`).
    expanded : float
        Expanded uncertainty (k = 2), > 0, same unit.

    Returns
    -------
    VerdictRisks
        Fractions, by numerical integration.

    Raises
    ------
    BadInput
        As `guard_limits`, and for an uncertainty of 0.

    References
    ----------
    JCGM 106:2012, 9.5 (global consumer's and producer's risk; example 9.5.4).
    """
    _check(limits, expanded)
    if expanded == 0:
        raise BadInput(
            "a tool without uncertainty decides nothing wrongly", "expanded", "give it above 0"
        )
    return _find_risks(spread, limits, acceptance, expanded)


@lru_cache(maxsize=KEPT_RISKS)
def _find_risks(
    spread: Spread, limits: Limits, acceptance: Limits, expanded: float
) -> VerdictRisks:
    u = expanded / COVERAGE
    low, high = float(spread.ppf(1e-13)), float(spread.ppf(1 - 1e-13))
    lower = low if limits.lower is None else min(max(limits.lower, low), high)
    upper = high if limits.upper is None else min(max(limits.upper, low), high)

    def passed(value: float) -> float:
        above = (
            1.0
            if acceptance.upper is None
            else float(scipy.special.ndtr((acceptance.upper - value) / u))
        )
        return max(
            0.0,
            above
            - (
                0.0
                if acceptance.lower is None
                else float(scipy.special.ndtr((acceptance.lower - value) / u))
            ),
        )

    wrongly_passed = _integrate(spread, passed, low, lower) + _integrate(
        spread, passed, upper, high
    )
    wrongly_failed = _integrate(spread, lambda value: 1 - passed(value), lower, upper)
    outside = _find_share(spread, low, lower) + _find_share(spread, upper, high)
    return VerdictRisks(wrongly_passed, wrongly_failed, outside)


@lru_cache(maxsize=KEPT_RISKS)
def _find_share(spread: Spread, start: float, end: float) -> float:
    """Of the true values between two; the same whatever reading is accepted."""
    return _integrate(spread, lambda _: 1.0, start, end)


def _integrate(spread: Spread, weight: Callable[[float], float], start: float, end: float) -> float:
    integral, _ = scipy.integrate.quad(
        lambda value: weight(value) * float(spread.pdf(value)), start, end, limit=200
    )
    return float(integral)


def _check(limits: Limits, expanded: float) -> None:
    if limits.lower is None and limits.upper is None:
        raise BadInput("a verdict needs a limit", "limits", "give one of them")
    if limits.lower is not None and limits.upper is not None and limits.lower >= limits.upper:
        raise BadInput("limits are out of order", "limits", "swap them")
    if not expanded >= 0:
        raise BadInput(f"uncertainty {expanded} is below 0", "expanded", "0 for none")
