"""Rates of two groups of people, and their changes, with the person as the unit."""

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import scipy

from qcapp.stats.array import Array
from qcapp.stats.interval import Estimate
from qcapp.stats.person_groups import compare_people, estimate_from
from qcapp.stats.person_likelihood import (
    CHANGES,
    RATES,
    PersonCount,
    change_likelihood,
    rate_likelihoods,
)


@cache
def _rate_prior() -> Array:
    """Half a fault and half a good stove: no rate is 0 or 1, and neither group is favoured
    (Jeffreys).
    """
    prior: Array = (scipy.special.log_expit(RATES) + scipy.special.log_expit(-RATES)) / 2
    return prior


@cache
def _change_prior() -> Array:
    """Of one faulty stove before or after, either is as likely."""
    prior: Array = scipy.special.log_expit(CHANGES) + scipy.special.log_expit(-CHANGES)
    return prior


@cache
def _list_apart() -> tuple[Array, npt.NDArray[np.intp]]:
    """How far two rates are apart, for each pair, and the places of these in order."""
    shares: Array = scipy.special.expit(RATES)
    apart = shares[:, None] - shares[None, :]
    return apart, np.argsort(apart, axis=None, kind="stable")


@dataclass(frozen=True)
class RateComparison:
    """difference: rate of the usual person of group a minus that of b, in the usual batch.

    p: two-sided. spread: standard deviation of the log odds between people of one group.
    """

    p: float
    difference: Estimate
    spread: Estimate


class PersonSides(NamedTuple):
    """Stoves of one person, in group a or not, before and after a day."""

    in_a: bool
    before_failed: int
    before_inspected: int
    after_failed: int
    after_inspected: int


@dataclass(frozen=True)
class ChangeComparison:
    """a_fell_more: the odds of group a fell more, or rose less, than those of b. p: two-sided."""

    p: float
    a_fell_more: bool


# Kept, because a page is opened far more often than its counts change.
@lru_cache(maxsize=16)
def compare_rates(
    steps: tuple[tuple[PersonCount, ...], ...], level: float = 0.95
) -> tuple[RateComparison, ...]:
    """Group a against b on each step; all steps together say how much people differ.

    Parameters
    ----------
    steps : tuple of tuples of PersonCount
        Stoves by person and batch; a person may be in both groups, at different times.
    level : float
        Of the intervals.

    Returns
    -------
    tuple of RateComparison
        In the order given.

    Raises
    ------
    BadInput
        For a level outside (0, 1).

    References
    ----------
    See `compare_people`.
    """
    likelihoods = [rate_likelihoods(counts) for counts in steps]
    apart, order = _list_apart()
    return tuple(
        RateComparison(one.p, estimate_from(apart, one.joint, level, order), one.spread)
        for one in compare_people(likelihoods, RATES, _rate_prior(), level)
    )


@lru_cache(maxsize=64)
def compare_changes(people: tuple[PersonSides, ...]) -> ChangeComparison:
    """Whether group a changed otherwise than b, each person held against himself or herself.

    Parameters
    ----------
    people : tuple of PersonSides
        People with stoves on both sides.

    Returns
    -------
    ChangeComparison

    References
    ----------
    See `change_likelihood` and `compare_people`.
    """
    likelihoods = {
        (str(place), one.in_a): change_likelihood(*one[1:]) for place, one in enumerate(people)
    }
    (found,) = compare_people([likelihoods], CHANGES, _change_prior())
    of_a, of_b = found.joint.sum(1) @ CHANGES, found.joint.sum(0) @ CHANGES
    return ChangeComparison(found.p, bool(of_a < of_b))
