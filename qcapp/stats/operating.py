"""What a sample can and cannot promise: chance of acceptance, risks, the bad stoves left,
designs.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor

import scipy

from qcapp.errors import BadInput
from qcapp.stats.discrete import hypergeometric_cdf
from qcapp.stats.interval import check_share


@dataclass(frozen=True)
class CurvePoint:
    """bad stoves in the batch, their share of it, and the chance that the batch is accepted."""

    bad: int
    share: float
    acceptance: float


def acceptance_chance(lot: int, bad: int, n: int, ac: int) -> float:
    """Chance that a batch with so many bad stoves passes a sample drawn without putting back.

    Parameters
    ----------
    lot, bad, n, ac : int
        Stoves in the batch, bad ones among them, stoves inspected, bad ones still accepted.

    Returns
    -------
    float
        Exact (hypergeometric).

    Raises
    ------
    BadInput
        Unless 0 <= bad <= lot, 1 <= n <= lot, ac >= 0, lot >= 1.

    References
    ----------
    Dodge, H. F. and Romig, H. G. (1959). Sampling Inspection Tables, 2nd ed. Wiley, New York
    (the batch itself, type A curve).
    """
    _check_sample(lot, n, ac)
    if not 0 <= bad <= lot:
        raise BadInput(f"{bad} bad of {lot} stoves cannot be", "bad", "check the counts")
    return hypergeometric_cdf(ac, lot, bad, n)


def process_acceptance_chance(rate: float, n: int, ac: int) -> float:
    """Chance that batches of a steady process with a failure rate are accepted (binomial, type B).

    Parameters
    ----------
    rate : float
        Fraction of stoves that fail, 0 to 1.
    n, ac : int
        Stoves inspected, bad ones still accepted.

    Returns
    -------
    float

    Raises
    ------
    BadInput
        For a rate outside 0 to 1, n below 1 or ac below 0.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.2.3.2.
    """
    if not 0 <= rate <= 1 or n < 1 or ac < 0:
        raise BadInput(
            "a rate lies between 0 and 1, n above 0, ac from 0", "rate, n, ac", "check them"
        )
    return float(scipy.stats.binom.cdf(ac, n, rate))


def operating_curve(lot: int, n: int, ac: int) -> tuple[CurvePoint, ...]:
    """Chance of acceptance for every number of bad stoves a batch can hold.

    Parameters
    ----------
    lot, n, ac : int
        As `acceptance_chance`.

    Returns
    -------
    tuple of CurvePoint
        lot + 1 points, bad = 0 to lot, exact.

    Errors and source as `acceptance_chance`.
    """
    _check_sample(lot, n, ac)
    return tuple(
        CurvePoint(bad, bad / lot, hypergeometric_cdf(ac, lot, bad, n)) for bad in range(lot + 1)
    )


def producers_risk(lot: int, rate: float, n: int, ac: int) -> float:
    """Chance that a good batch is rejected: one with at most the given share of bad stoves.

    Parameters
    ----------
    lot, n, ac : int
        As `acceptance_chance`.
    rate : float
        Share still good (the AQL as a fraction), 0 < rate < 1; the bad stoves are rounded down.

    Returns
    -------
    float

    Errors and source as `acceptance_chance`.
    """
    check_share(rate, "rate")
    return 1 - acceptance_chance(lot, _most_good(lot, rate), n, ac)


def consumers_risk(lot: int, rate: float, n: int, ac: int) -> float:
    """Chance that a bad batch is accepted: one with at least the given share of bad stoves.

    Parameters as `producers_risk`, the bad stoves rounded up. Errors and source as
    `acceptance_chance`.
    """
    check_share(rate, "rate")
    return acceptance_chance(lot, _fewest_bad(lot, rate), n, ac)


def bad_stoves_bound(lot: int, n: int, found: int, level: float = 0.95) -> int:
    """Most bad stoves left among those not inspected, by what the sample found.

    Parameters
    ----------
    lot, n, found : int
        Stoves in the batch, stoves inspected, bad ones among these.
    level : float
        One-sided confidence: a batch with more bad stoves left would have shown more in the sample
        than were found in at least this share of samples.

    Returns
    -------
    int
        0 to lot - n; the found ones are known and not in it. 0 when every stove was inspected.

    Raises
    ------
    BadInput
        For counts that cannot be or a level outside (0, 1).

    References
    ----------
    Buonaccorsi, J. P. (1987). A note on confidence intervals for proportions in finite populations.
    The American Statistician 41, 215-218 (exact limits from the hypergeometric tail).
    """
    _check_sample(lot, n, 0)
    check_share(level, "level")
    if not 0 <= found <= n:
        raise BadInput(f"{found} found in {n} inspected cannot be", "found", "check the counts")
    low, high = found, found + lot - n
    while low < high:  # the tail falls as bad stoves are added: halve the range
        middle = (low + high + 1) // 2
        if hypergeometric_cdf(found, lot, middle, n) > 1 - level:
            low = middle
        else:
            high = middle - 1
    return low - found


@dataclass(frozen=True)
class TwoPointPlan:
    """Smallest sample that keeps both risks, and the risks it has."""

    n: int
    ac: int
    producers_risk: float
    consumers_risk: float


def design_plan(
    lot: int,
    good_rate: float,
    bad_rate: float,
    producers_limit: float = 0.05,
    consumers_limit: float = 0.1,
) -> TwoPointPlan:
    """Smallest sample of a batch that keeps both risks, exact for its size.

    Parameters
    ----------
    lot : int
        Stoves in the batch, >= 1.
    good_rate, bad_rate : float
        Fractions, 0 < good < bad < 1: shares to be accepted, to be rejected. Bad stoves are
        rounded down for the first and up for the second.
    producers_limit, consumers_limit : float
        Largest risk of rejecting the first, of accepting the second.

    Returns
    -------
    TwoPointPlan
        At worst every stove, which has no risk.

    Raises
    ------
    BadInput
        For rates or risks out of range or order.

    References
    ----------
    Schilling, E. G. and Neubauer, D. V. (2009). Acceptance Sampling in Quality Control, 2nd ed.
    CRC Press, Boca Raton (two-point designs).
    """
    _check_points(good_rate, bad_rate, producers_limit, consumers_limit)
    _check_sample(lot, lot, 0)
    good, bad = _most_good(lot, good_rate), _fewest_bad(lot, bad_rate)
    return _smallest(
        lambda n, ac: 1 - hypergeometric_cdf(ac, lot, good, n),
        lambda n, ac: hypergeometric_cdf(ac, lot, bad, n),
        (producers_limit, consumers_limit),
        lot,
    )


def design_process_plan(
    good_rate: float, bad_rate: float, producers_limit: float = 0.05, consumers_limit: float = 0.1
) -> TwoPointPlan:
    """As `design_plan` for a steady process or a batch far larger than the sample (binomial).

    Raises BadInput also when more than a million stoves would be needed.

    References
    ----------
    Schilling and Neubauer (2009), see `design_plan`.
    """
    _check_points(good_rate, bad_rate, producers_limit, consumers_limit)
    return _smallest(
        lambda n, ac: 1 - float(scipy.stats.binom.cdf(ac, n, good_rate)),
        lambda n, ac: float(scipy.stats.binom.cdf(ac, n, bad_rate)),
        (producers_limit, consumers_limit),
        1_000_000,
    )


def _smallest(
    rejects_good: Callable[[int, int], float],
    accepts_bad: Callable[[int, int], float],
    risks: tuple[float, float],
    most: int,
) -> TwoPointPlan:
    n = 1
    for ac in range(most):

        def is_enough(size: int, ac: int = ac) -> bool:
            return accepts_bad(size, ac) <= risks[1]

        n = _fewest(is_enough, n, most)
        if rejects_good(n, ac) <= risks[0]:
            return TwoPointPlan(n, ac, rejects_good(n, ac), accepts_bad(n, ac))
    raise BadInput(
        "these rates are too close for these risks", "good_rate, bad_rate", "move them apart"
    )


def _fewest(is_enough: Callable[[int], bool], low: int, most: int) -> int:
    """Smallest size from low to most for which is_enough holds; it must hold from there on."""
    size = low
    while size < most and not is_enough(size):
        low, size = size + 1, min(most, 2 * size)
    if not is_enough(size):
        raise BadInput("no sample is large enough", "good_rate, bad_rate", "move the rates apart")
    while low < size:
        middle = (low + size) // 2
        low, size = (low, middle) if is_enough(middle) else (middle + 1, size)
    return size


def _most_good(lot: int, rate: float) -> int:
    return floor(lot * rate + 1e-9)


def _fewest_bad(lot: int, rate: float) -> int:
    return ceil(lot * rate - 1e-9)


def _check_sample(lot: int, n: int, ac: int) -> None:
    if lot < 1 or not 1 <= n <= lot or ac < 0:
        raise BadInput(
            f"{n} of {lot} stoves accepting {ac} cannot be", "lot, n, ac", "check the numbers"
        )


def _check_points(
    good_rate: float, bad_rate: float, producers_limit: float, consumers_limit: float
) -> None:
    check_share(good_rate, "good_rate")
    check_share(bad_rate, "bad_rate")
    check_share(producers_limit, "producers_limit")
    check_share(consumers_limit, "consumers_limit")
    if good_rate >= bad_rate:
        raise BadInput(
            "the good rate must lie below the bad one", "good_rate, bad_rate", "swap them"
        )
