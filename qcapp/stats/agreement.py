"""Do inspectors see the same? Kappa for verdicts; see `repeat_study` for readings.

Intervals are Bayesian (`seeded_draws`). The usual large-sample ones have no width at all
when everybody agrees, and with 20 stoves they held as little as 9 % instead of 95 % in a trial; a
bootstrap of stoves that all agree has none either. Here the stoves are weighed at random (the
Bayesian bootstrap), together with one imagined stove: for the low end one on which any two verdicts
are as likely, for the high end one on which everybody agrees. A test holds what the intervals
cover.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.stats.array import Array
from qcapp.stats.interval import check_share
from qcapp.stats.seeded_draws import Generator, start_draws

# So many that the ends of an interval move by about 0.01 from one seed to another.
DRAWS = 4000
# Of so many tables the last answers are kept: a page asks for each check's, mostly again for the
# same, and an answer is a function of its table.
KEPT_TABLES = 512
# Draws are made in portions of so many numbers, so that many stoves do not fill the memory.
PORTION = 1_000_000
# Chance agreement nearer to 1 than this leaves nothing to divide by.
CERTAIN = 1 - 1e-12


@dataclass(frozen=True)
class Agreement:
    """observed, expected: shares of agreement seen, and by chance alone; kappa with its interval.

    kappa, low and high are None when chance alone would agree always (one verdict only): nothing
    can then be learnt from agreement. low < high otherwise.
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
        Probability that the interval holds.

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

    References
    ----------
    Cohen, J. (1960). A coefficient of agreement for nominal scales. Educational and Psychological
    Measurement 20, 37-46.
    Walley, P. (1996). Inferences from multinomial data: learning about a bag of marbles. Journal of
    the Royal Statistical Society B 58, 3-57 (one imagined observation, put where it counts against
    each end).
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
        Probability that the interval holds.

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
    or partial credit. Psychological Bulletin 70, 213-220. Walley (1996) as above.
    """
    check_share(level, "level")
    counts, cost = _square(table), np.asarray(disagreement, dtype=float)
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
    rows, costs = (tuple(map(tuple, given.tolist())) for given in (counts, cost))
    return _agree_by_weight(rows, costs, level)


@lru_cache(maxsize=KEPT_TABLES)
def _agree_by_weight(
    table: tuple[tuple[float, ...], ...], costs: tuple[tuple[float, ...], ...], level: float
) -> Agreement:
    counts, cost = np.array(table), np.array(costs)
    weight = 1 - cost / cost.max()
    observed, expected = _agree_in_pairs(counts, weight)
    rng = start_draws()
    stoves = rng.standard_gamma(counts, size=(DRAWS, *counts.shape))
    ends = [
        _kappa(*_agree_in_pairs(stoves + imagined, weight))
        for imagined in _imagine(rng, DRAWS, len(counts))
    ]
    return _describe(float(observed), float(expected), ends, level)


def _imagine(rng: Generator, rows: int, verdicts: int) -> tuple[Array, Array]:
    """Weights of the imagined stove by pair of verdicts: any two as likely; always the same two."""
    apart = rng.standard_gamma(1 / verdicts**2, size=(rows, verdicts, verdicts))
    alike = rng.standard_gamma(1 / verdicts, size=(rows, 1, verdicts)) * np.eye(verdicts)
    return apart, alike


def _agree_in_pairs(counts: Array, weight: Array) -> tuple[Array, Array]:
    """Observed and chance agreement of the last two axes (first by second inspector)."""
    share = counts / counts.sum((-2, -1), keepdims=True)
    by_chance = share.sum(-1)[..., :, None] * share.sum(-2)[..., None, :]
    return (share * weight).sum((-2, -1)), (by_chance * weight).sum((-2, -1))


def fleiss_kappa(counts: Sequence[Sequence[int]], level: float = 0.95) -> Agreement:
    """Agreement of several inspectors, not necessarily as many on every stove.

    Parameters
    ----------
    counts : stoves by verdicts
        How many inspectors gave each verdict to each stove; every row adds up to 2 or more; at
        least 2 stoves.
    level : float
        Probability that the interval holds.

    Returns
    -------
    Agreement
        observed: the share of pairs of inspectors that agree on a stove, averaged over stoves.
        expected: from the share of each verdict on a stove, averaged over stoves.

    Raises
    ------
    BadInput
        For a row under 2, fewer than two stoves, or a level outside (0, 1).

    References
    ----------
    Fleiss, J. L. (1971). Measuring nominal scale agreement among many raters. Psychological
    Bulletin 76, 378-382.
    Gwet, K. L. (2014). Handbook of Inter-Rater Reliability, 4th ed. Advanced Analytics,
    Gaithersburg, chapter 2 (inspectors that differ in number).
    Rubin, D. B. (1981). The Bayesian bootstrap. Annals of Statistics 9, 130-134. Perks (1947) as
    above.
    """
    check_share(level, "level")
    given = np.asarray(counts, dtype=float)
    if given.ndim != 2 or len(given) < 2 or given.min() < 0 or given.sum(1).min() < 2:
        raise BadInput(
            phrase("every stove needs two or more inspectors"),
            "counts",
            phrase("leave out the others"),
        )
    patterns, times = np.unique(given, axis=0, return_counts=True)
    stoves = times.astype(float)
    inspectors = patterns.sum(1)
    agreed = ((patterns**2).sum(1) - inspectors) / (inspectors * (inspectors - 1))
    shares = patterns / inspectors[:, None]
    observed = float(stoves @ agreed / stoves.sum())
    expected = float(((stoves @ shares / stoves.sum()) ** 2).sum())
    return _describe(observed, expected, _draw_ends(agreed, shares, stoves), level)


def _draw_ends(agreed: Array, shares: Array, stoves: Array) -> list[Array]:
    """Kappas of the stoves weighed at random with either imagined one, drawn in portions."""
    rng, verdicts = start_draws(), shares.shape[1]
    portion = max(1, PORTION // (len(stoves) + verdicts**2))
    ends: tuple[list[Array], list[Array]] = ([], [])
    for start in range(0, DRAWS, portion):
        rows = min(portion, DRAWS - start)
        weights = rng.standard_gamma(stoves, size=(rows, len(stoves)))
        for end, pairs in zip(ends, _imagine(rng, rows, verdicts), strict=True):
            total = weights.sum(1) + pairs.sum((1, 2))
            observed = (weights @ agreed + np.trace(pairs, axis1=1, axis2=2)) / total
            margins = (weights @ shares + (pairs.sum(1) + pairs.sum(2)) / 2) / total[:, None]
            end.append(_kappa(observed, (margins**2).sum(1)))
    return [np.concatenate(end) for end in ends]


def _kappa(observed: Array, expected: Array) -> Array:
    """Not a number where chance alone agrees always."""
    room = np.where(expected < CERTAIN, 1 - expected, np.nan)
    return (observed - expected) / room


def _describe(observed: float, expected: float, ends: Sequence[Array], level: float) -> Agreement:
    """ends: the kappas drawn for the low and for the high end."""
    if expected >= CERTAIN:
        return Agreement(observed, expected, None, None, None, level)
    kappa = (observed - expected) / (1 - expected)
    low = float(np.nanquantile(ends[0], (1 - level) / 2))
    high = float(np.nanquantile(ends[1], (1 + level) / 2))
    return Agreement(observed, expected, kappa, min(low, kappa), max(high, kappa), level)


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
