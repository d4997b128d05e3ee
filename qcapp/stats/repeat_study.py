"""How far readings of the same stove lie apart: one inspector again, and one inspector to the
next.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
import numpy.typing as npt
import scipy

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.stats.array import Array
from qcapp.stats.interval import Estimate, check_share

# Interaction this unlikely to be real is put together with the repeat scatter.
POOL_ABOVE_P = 0.25
# A crossed study with less of any of these has no scatter to divide.
MIN_STOVES = MIN_INSPECTORS = MIN_REPEATS = 2
Counts = npt.NDArray[np.int_]


@dataclass(frozen=True)
class RepeatStudy:
    """Standard deviations in the unit of the readings.

    repeatability: one inspector again. reproducibility: between inspectors, their disagreement that
    changes from stove to stove included. measuring: both together. stoves: between the stoves.
    share_of_total: measuring over the whole spread. is_pooled: no such changing disagreement was
    seen, and it was left out.
    """

    repeatability: Estimate
    reproducibility: float
    measuring: Estimate
    stoves: float
    share_of_total: float
    is_pooled: bool


def study_repeats(
    readings: Sequence[Sequence[Sequence[float]]], level: float = 0.95, step: float = 0.0
) -> RepeatStudy:
    """Variance components of a crossed study: every inspector measures every stove several times.

    Parameters
    ----------
    readings : stoves by inspectors by repeats
        In one unit; at least 2 of each, none missing.
    level : float
        Two-sided confidence of the two intervals.
    step : float
        The tool's, unit of the readings, >= 0. Not known (0): the smallest difference between two
        readings stands for it.

    Returns
    -------
    RepeatStudy

    Raises
    ------
    BadInput
        For a study that is not complete, readings without any spread, or a level outside (0, 1).

    Notes
    -----
    Analysis of variance, both factors random; a component estimated below 0 is 0. Repeats that
    never differ have not shown that there is no scatter, only that the tool does not show it: it
    is then that of rounding, step / sqrt(12), so that no interval has width zero. Repeatability is
    exact by chi-square; measuring, a sum of mean squares with positive weights, by Graybill and
    Wang. With three inspectors its upper end is far away, and that is the truth: between inspectors
    there are then two degrees of freedom.

    References
    ----------
    Burdick, R. K., Borror, C. M. and Montgomery, D. C. (2003). A review of methods for measurement
    systems capability analysis. Journal of Quality Technology 35, 342-354.
    Graybill, F. A. and Wang, C.-M. (1980). Confidence intervals on nonnegative linear combinations
    of variances. Journal of the American Statistical Association 75, 869-873.
    """
    check_share(level, "level")
    given = _complete(readings)
    stoves, inspectors, repeats = given.shape
    squares, freedom = _mean_squares(given)
    if not np.any(np.ptp(given, axis=2)):
        squares["repeat"] = _rounding(given, step)
        squares["both"] = max(squares["both"], squares["repeat"])
    is_pooled = (
        scipy.special.fdtrc(freedom["both"], freedom["repeat"], squares["both"] / squares["repeat"])
        > POOL_ABOVE_P
    )
    if is_pooled:
        together = freedom["both"] + freedom["repeat"]
        pooled = (
            squares["both"] * freedom["both"] + squares["repeat"] * freedom["repeat"]
        ) / together
        squares["repeat"] = squares["both"] = pooled
        freedom["repeat"] = together
    between = max(0.0, (squares["inspector"] - squares["both"]) / (stoves * repeats))
    changing = 0.0 if is_pooled else max(0.0, (squares["both"] - squares["repeat"]) / repeats)
    own = max(0.0, (squares["stove"] - squares["both"]) / (inspectors * repeats))
    measuring = squares["repeat"] + between + changing
    return RepeatStudy(
        repeatability=_spread(squares["repeat"], [(squares["repeat"], freedom["repeat"])], level),
        reproducibility=sqrt(between + changing),
        measuring=_spread(
            measuring, _measuring_terms(squares, freedom, given.shape, is_pooled), level
        ),
        stoves=sqrt(own),
        share_of_total=sqrt(measuring / (measuring + own)),
        is_pooled=bool(is_pooled),
    )


def _rounding(given: Array, step: float) -> float:
    """Variance of readings that are rounded to the tool's step (JCGM 100:2008, F.2.2.1)."""
    return float(step or np.diff(np.unique(given)).min()) ** 2 / 12


def _measuring_terms(
    squares: dict[str, float], freedom: dict[str, int], shape: tuple[int, ...], is_pooled: bool
) -> list[tuple[float, int]]:
    """The weighted mean squares that add up to the variance of measuring, with their freedom."""
    stoves, _, repeats = shape
    inspector = (squares["inspector"] / (stoves * repeats), freedom["inspector"])
    if is_pooled:
        return [inspector, (squares["repeat"] * (1 - 1 / (stoves * repeats)), freedom["repeat"])]
    both = (squares["both"] * (stoves - 1) / (stoves * repeats), freedom["both"])
    return [inspector, both, (squares["repeat"] * (1 - 1 / repeats), freedom["repeat"])]


def _spread(variance: float, terms: list[tuple[float, int]], level: float) -> Estimate:
    """Standard deviation with the interval of Graybill and Wang for a sum of mean squares."""
    total, tail = sum(term for term, _ in terms), (1 - level) / 2
    down = sqrt(
        sum(
            (term * (1 - freedom / scipy.special.chdtri(freedom, tail))) ** 2
            for term, freedom in terms
        )
    )
    up = sqrt(
        sum(
            (term * (freedom / (2 * scipy.special.gammaincinv(freedom / 2, tail)) - 1)) ** 2
            for term, freedom in terms
        )
    )
    # A component cut at 0 may put the variance above the plain sum; the interval still holds it.
    low, high = min(variance, max(0.0, total - down)), max(variance, total + up)
    return Estimate(sqrt(variance), sqrt(low), sqrt(high), level)


def _mean_squares(given: Array) -> tuple[dict[str, float], dict[str, int]]:
    stoves, inspectors, repeats = given.shape
    grand, cells = given.mean(), given.mean(2)
    by_stove, by_inspector = given.mean((1, 2)), given.mean((0, 2))
    sums = {
        "stove": inspectors * repeats * ((by_stove - grand) ** 2).sum(),
        "inspector": stoves * repeats * ((by_inspector - grand) ** 2).sum(),
        "both": repeats * ((cells - by_stove[:, None] - by_inspector + grand) ** 2).sum(),
        "repeat": ((given - cells[:, :, None]) ** 2).sum(),
    }
    freedom = {
        "stove": stoves - 1,
        "inspector": inspectors - 1,
        "both": (stoves - 1) * (inspectors - 1),
        "repeat": stoves * inspectors * (repeats - 1),
    }
    return {name: float(value) / freedom[name] for name, value in sums.items()}, freedom


def _complete(readings: Sequence[Sequence[Sequence[float]]]) -> Array:
    try:
        given = np.asarray(readings, dtype=float)
    except ValueError:
        raise BadInput(
            phrase("a reading is missing"),
            "readings",
            phrase("every inspector must measure every stove equally often"),
        ) from None
    if given.ndim != 3 or min(given.shape) < 2 or not np.all(np.isfinite(given)):
        raise BadInput(
            phrase("at least 2 stoves, 2 inspectors and 2 repeats are needed"),
            "readings",
            phrase("complete the study"),
        )
    if np.ptp(given) == 0:
        raise BadInput(
            phrase("all readings are equal"), "readings", phrase("use a finer tool or other stoves")
        )
    return given


def choose_block(readings: Sequence[Sequence[int]]) -> tuple[list[int], int, list[int]]:
    """The complete part of a study with the most readings.

    Parameters
    ----------
    readings : stoves by inspectors
        How often each was measured by each.

    Returns
    -------
    inspectors, repeats, stoves
        Places of inspectors and of stoves that have so many repeats of each; repeats 0 where two of
        each cannot be had.

    Notes
    -----
    Inspectors are taken out one at a time, each time the one whom the block misses least, so that
    one who measured a single stove does not cost all the others.
    """
    counts = np.array(readings, dtype=int)
    who = list(range(counts.shape[1]))
    best = _size_block(counts, who), who
    while len(who) > MIN_INSPECTORS:
        fewer = [[one for one in who if one != out] for out in who]
        who = max(fewer, key=lambda some: _size_block(counts, some))
        best = max(best, (_size_block(counts, who), who), key=lambda found: found[0][0])
    (_readings, repeats), chosen = best
    kept = np.flatnonzero(counts[:, chosen].min(1) >= max(repeats, 1))
    return chosen, repeats, kept.tolist() if repeats else []


def _size_block(counts: Counts, who: Sequence[int]) -> tuple[int, int]:
    """Readings in the largest complete block of these inspectors, and its repeats (0: none)."""
    done = counts[:, who].min(1)
    sizes = [
        (repeats * int((done >= repeats).sum()) * len(who), repeats)
        for repeats in range(MIN_REPEATS, int(done.max()) + 1)
        if (done >= repeats).sum() >= MIN_STOVES
    ]
    return max(sizes, key=lambda size: (size[0], -size[1]), default=(0, 0))
