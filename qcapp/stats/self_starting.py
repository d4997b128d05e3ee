"""Has a row of readings begun to move, when nobody knows where it should be or how it scatters?

Each reading is held against all those before it, so that the chart needs no trial run: the scores
of readings that do not change are independent and standard normal from the third one on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np
import scipy

from qcapp.errors import BadInput

# No score counts for more than this: one reading alone never makes a signal.
MAX_SCORE = 3.0
CELLS = 120


@dataclass(frozen=True)
class Drift:
    """direction: above or below. seen: index (from 0) of the reading at which the sum passed its
    limit; began: of the first reading after the sum was last at 0, where the change most likely
    began.
    """

    direction: str
    began: int
    seen: int


def score_readings(values: Sequence[float], min_spread: float) -> tuple[float, ...]:
    """Where each reading lies among those before it, as a standard normal score; 0 for the first
    two.

    Parameters
    ----------
    values : sequence of float
        Readings in one unit, in the order made.
    least_spread : float
        > 0, same unit: the standard deviation is never taken as smaller (a tool read to whole
        millimetres scatters by 1 / sqrt(12) mm even when all readings are equal).

    Returns
    -------
    tuple of float
        Cut at -3 and 3.

    Raises
    ------
    BadInput
        For a non-finite value or a least_spread not above 0.

    References
    ----------
    Hawkins, D. M. (1987). Self-starting CUSUM charts for location and scale. The Statistician 36,
    299-315.
    """
    given = np.asarray(values, dtype=float)
    if not np.all(np.isfinite(given)) or not min_spread > 0:
        raise BadInput(
            "finite readings and a spread above 0 are needed", "values, least_spread", "check them"
        )
    if len(given) < 3:
        return (0.0,) * len(given)
    before = np.arange(2, len(given))
    # From a fixed origin, so that the squares of large readings do not swallow their differences.
    moved = given - given[0]
    means = np.cumsum(moved)[1:-1] / before
    squares = np.cumsum(moved**2)[1:-1] - before * means**2
    spread = np.sqrt(np.maximum(np.maximum(squares, 0) / (before - 1), min_spread**2))
    distance = (moved[2:] - means) / spread * np.sqrt(before / (before + 1))
    # The tail on the far side is the exact one: 1 - tail would lose its digits.
    tails = scipy.special.stdtr(before - 1, -np.abs(distance))
    scores = np.sign(distance) * np.minimum(
        -scipy.special.ndtri(np.maximum(tails, 1e-300)), MAX_SCORE
    )
    return (0.0, 0.0, *(float(score) for score in scores))


def sum_scores(
    scores: Sequence[float], slack: float
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Sums above and below after each score, both started at 0, each never below 0.

    Parameters
    ----------
    scores : sequence of float
        Of `score_readings`, in standard deviations.
    slack : float
        Taken off at each step, >= 0, same unit.

    Returns
    -------
    above, below : tuple of float
        One of each for each score.

    References
    ----------
    Page, E. S. (1954). Continuous inspection schemes. Biometrika 41, 100-115.
    """
    above, below = [0.0], [0.0]
    for score in scores:
        above.append(max(0.0, above[-1] + score - slack))
        below.append(max(0.0, below[-1] - score - slack))
    return tuple(above[1:]), tuple(below[1:])


def find_drift(scores: Sequence[float], slack: float, limit: float, fewest: int) -> Drift | None:
    """The first lasting change in a row of scores, or None.

    Parameters
    ----------
    scores : sequence of float
        As `score_readings` gives them.
    slack, limit : float
        As `find_limit`.
    fewest : int
        Nothing is said before so many readings.

    Returns
    -------
    Drift or None

    References
    ----------
    Page (1954) as `sum_scores`; the last zero as estimate of the beginning: Hawkins, D. M. and
    Olwell, D. H. (1998). Cumulative Sum Charts and Charting for Quality Improvement. Springer, New
    York.
    """
    sums = sum_scores(scores, slack)
    for seen in range(max(0, fewest - 1), len(scores)):
        for direction, row in zip(("above", "below"), sums, strict=True):
            if row[seen] > limit:
                zeros = [at for at in range(seen) if row[at] == 0]
                return Drift(direction, zeros[-1] + 1 if zeros else 0, seen)
    return None


def run_length(slack: float, limit: float, shift: float = 0.0) -> float:
    """Mean number of scores until a one-sided sum started at 0 passes the limit.

    Parameters
    ----------
    slack, limit : float
        In standard deviations, slack >= 0, limit > 0.
    shift : float
        Mean of the scores; 0 when nothing has changed.

    Returns
    -------
    float
        Of normal scores that are not cut: the cut makes the true one a little longer. Both sides
        together: half of it, when shift is 0.

    References
    ----------
    Brook, D. and Evans, D. A. (1972). An approach to the probability distribution of CUSUM run
    length. Biometrika 59, 539-549.
    """
    if slack < 0 or not limit > 0:
        raise BadInput("slack must be 0 or more, the limit above 0", "slack, limit", "check them")
    width = 2 * limit / (2 * CELLS - 1)
    places = np.arange(CELLS) * width
    ends = places[None, :] + width / 2 - places[:, None] + slack - shift
    up_to = scipy.special.ndtr(ends)
    moves = np.diff(up_to, axis=1, prepend=0.0)
    return float(np.linalg.solve(np.eye(CELLS) - moves, np.ones(CELLS))[0])


@lru_cache(maxsize=64)
def find_limit(slack: float, run: float) -> float:
    """Smallest limit of a two-sided sum with at least `run` scores between false signals, on
    average.

    Parameters
    ----------
    slack : float
        In standard deviations, > 0; half of the shift worth finding.
    run : float
        At least 10.

    Returns
    -------
    float
        To 0.01.

    Raises
    ------
    BadInput
        For a slack not above 0 or a run below 10.
    """
    if not slack > 0 or run < 10:
        raise BadInput("slack must be above 0, the run 10 or more", "slack, run", "check them")
    low, high = 0.01, 1.0
    while run_length(slack, high) < 2 * run:
        low, high = high, 2 * high
    while high - low > 0.005:
        middle = (low + high) / 2
        low, high = (middle, high) if run_length(slack, middle) < 2 * run else (low, middle)
    return round(high + 0.005, 2)


def min_spread_of(resolution: float) -> float:
    """Standard deviation of reading a tool to its resolution, in the resolution's unit: uniform, so
    a step over sqrt(12) (JCGM 100:2008, F.2.2.1).
    """
    return resolution / sqrt(12)
