"""Do inspectors see the same? Kappa for verdicts; see `repeat_study` for readings."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
import numpy.typing as npt

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.stats.array import Array
from qcapp.stats.interval import two_sided_z


@dataclass(frozen=True)
class Agreement:
    """observed, expected: shares of agreement seen, and by chance alone; kappa with its interval.

    kappa, low and high are None when chance alone would agree always (one verdict only): nothing
    can then be learnt from agreement.
    """

    observed: float
    expected: float
    kappa: float | None
    low: float | None
    high: float | None
    level: float


def cohen_kappa(table: Sequence[Sequence[int]], level: float = 0.95) -> Agreement:
    """Agreement of two inspectors on the same stoves.

    Parameters
    ----------
    table : k by k counts
        Row: verdict of the first inspector, column: of the second, same order of verdicts.
    level : float
        Two-sided confidence.

    Returns
    -------
    Agreement

    Raises
    ------
    BadInput
        For a table that is not square, empty, or has negative counts; a level outside (0, 1).

    Notes
    -----
    Kappa is low when nearly every stove passes, however well the two agree: show `observed` too.
    The large-sample standard error is used; with under some 30 stoves the interval is a rough one.

    References
    ----------
    Cohen, J. (1960). A coefficient of agreement for nominal scales. Educational and Psychological
    Measurement 20, 37-46.
    Fleiss, J. L., Cohen, J. and Everitt, B. S. (1969). Large sample standard errors of kappa and
    weighted kappa. Psychological Bulletin 72, 323-327.
    """
    return weighted_kappa(table, 1 - np.eye(len(table)), level)


def weighted_kappa(
    table: Sequence[Sequence[int]], disagreement: npt.ArrayLike, level: float = 0.95
) -> Agreement:
    """Agreement of two inspectors where some disagreements matter more than others.

    Parameters
    ----------
    table : k by k counts
        As `cohen_kappa`.
    disagreement : k by k
        Weight of each pair of verdicts, >= 0, 0 on the diagonal, not all 0.
    level : float
        Two-sided confidence.

    Returns
    -------
    Agreement
        observed and expected are 1 minus the mean weight over the largest weight.

    Raises
    ------
    BadInput
        As `cohen_kappa`, and for weights of another shape or sign.

    References
    ----------
    Cohen, J. (1968). Weighted kappa: nominal scale agreement with provision for scaled disagreement
    or partial credit. Psychological Bulletin 70, 213-220. Fleiss, Cohen and Everitt (1969) as
    above.
    """
    z, counts, cost = two_sided_z(level), _square(table), np.asarray(disagreement, dtype=float)
    if (
        cost.shape != counts.shape
        or cost.min() < 0
        or cost.max() == 0
        or np.any(np.diag(cost) != 0)
    ):
        raise BadInput(
            phrase("the weights do not fit the table"),
            "disagreement",
            phrase("use 0 on the diagonal and values above 0 elsewhere"),
        )
    stoves, share, weight = counts.sum(), counts / counts.sum(), 1 - cost / cost.max()
    rows, columns = share.sum(1), share.sum(0)
    observed, expected = (
        float((weight * share).sum()),
        float((weight * np.outer(rows, columns)).sum()),
    )
    if expected >= 1 - 1e-12:
        return Agreement(observed, expected, None, None, None, level)
    kappa = (observed - expected) / (1 - expected)
    by_row, by_column = weight @ columns, rows @ weight
    terms = weight * (1 - expected) - (by_row[:, None] + by_column[None, :]) * (1 - observed)
    inner = (share * terms**2).sum() - (observed * expected - 2 * expected + observed) ** 2
    error = sqrt(max(0.0, float(inner)) / stoves) / (1 - expected) ** 2
    return Agreement(
        observed, expected, kappa, max(-1.0, kappa - z * error), min(1.0, kappa + z * error), level
    )


def fleiss_kappa(counts: Sequence[Sequence[int]], level: float = 0.95) -> Agreement:
    """Agreement of several inspectors, the same number on every stove.

    Parameters
    ----------
    counts : stoves by verdicts
        How many inspectors gave each verdict to each stove; every row adds up to the same number,
        at least 2; at least 2 stoves.
    level : float
        Two-sided confidence.

    Returns
    -------
    Agreement
        Interval by the jackknife over stoves.

    Raises
    ------
    BadInput
        For rows of different sums, fewer than two stoves or inspectors, or a level outside (0, 1).

    References
    ----------
    Fleiss, J. L. (1971). Measuring nominal scale agreement among many raters. Psychological
    Bulletin 76, 378-382. Efron, B. and Tibshirani, R. J. (1993). An Introduction to the Bootstrap.
    Chapman and Hall, New York, chapter 11 (jackknife).
    """
    z, given = two_sided_z(level), np.asarray(counts, dtype=float)
    if (
        given.ndim != 2
        or len(given) < 2
        or given.min() < 0
        or given[0].sum() < 2
        or np.ptp(given.sum(1)) > 0
    ):
        raise BadInput(
            phrase("every stove needs the same two or more inspectors"),
            "counts",
            phrase("leave out the others"),
        )
    observed, expected, kappa = _fleiss(given)
    if kappa is None:
        return Agreement(observed, expected, None, None, None, level)
    without = [_fleiss(np.delete(given, stove, axis=0))[2] for stove in range(len(given))]
    # Leaving out the only stove that differed leaves no kappa: its own value stands for "no news".
    left = np.array([kappa if value is None else value for value in without])
    reach = z * sqrt((len(left) - 1) / len(left) * float(((left - left.mean()) ** 2).sum()))
    return Agreement(
        observed, expected, kappa, max(-1.0, kappa - reach), min(1.0, kappa + reach), level
    )


def _fleiss(counts: Array) -> tuple[float, float, float | None]:
    inspectors = counts[0].sum()
    observed = float(((counts**2).sum(1) - inspectors).mean() / (inspectors * (inspectors - 1)))
    expected = float(((counts.sum(0) / counts.sum()) ** 2).sum())
    return (
        observed,
        expected,
        None if expected >= 1 - 1e-12 else (observed - expected) / (1 - expected),
    )


def _square(table: Sequence[Sequence[int]]) -> Array:
    counts = np.asarray(table, dtype=float)
    if (
        counts.ndim != 2
        or counts.shape[0] != counts.shape[1]
        or counts.min() < 0
        or counts.sum() == 0
    ):
        raise BadInput(
            phrase("a square table of counts is needed"),
            "table",
            phrase("one row and column for each verdict"),
        )
    return counts
