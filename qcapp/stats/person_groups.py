"""Two groups of people compared, the person as the unit: stoves of one person are no witnesses of
each other.

People differ. Of two groups drawn from people who only differ by chance, one is always the worse;
how much of that to expect is what the spread between people says. With few people one step cannot
tell that spread; all steps together can.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from qcapp.stats.array import Array
from qcapp.stats.interval import Estimate, check_share

# Spreads between people looked at: standard deviations of the log odds (or of their change).
SPREADS: Array = np.array(
    [0, 0.15, 0.25, 0.4, 0.55, 0.7, 0.85, 1, 1.25, 1.5, 1.75, 2, 2.5, 3], dtype=float
)
# How much the steps may differ in spread: standard deviations of its logarithm, all as likely.
UNLIKE = (0.15, 0.5, 1.0)
# What the other steps say about the spread does not count whole: the same people did them, and
# somebody careless is careless in several.
OTHERS_COUNT = 0.3
# Of the largest weight: less than what a sum of such numbers can tell.
NOTHING = 1e-17
# Below this a spread is taken for none when spreads are held against each other.
NO_SPREAD = 0.07

# Log likelihoods of each person on one grid: (person, in group a) to shape (points,).
Likelihoods = Mapping[tuple[str, bool], Array]


@dataclass(frozen=True)
class Comparison:
    """Group a against group b.

    p: two-sided, that the means are on their sides by chance. joint: shape (points, points), how
    likely each pair of means of a (rows) and b is; adds up to 1. spread: standard deviation between
    people of one group, with its interval. points: of the grid.
    """

    p: float
    joint: Array
    spread: Estimate
    points: Array


def compare_people(
    steps: Sequence[Likelihoods], points: Array, log_prior: Array, level: float = 0.95
) -> list[Comparison]:
    """Means of two groups of people on each step, a normal spread between people integrated out.

    Parameters
    ----------
    steps : sequence of mappings
        For each step the log likelihood of every person over `points` (see `person_likelihood`),
        keyed by person and whether that part of the person's stoves belongs to group a.
    points : array, shape (points,)
        Evenly spaced values.
    log_prior : array, shape (points,)
        Of either group's mean.
    level : float
        Of the intervals.

    Returns
    -------
    list of Comparison
        In the order given. Where a group has nobody, its mean is the prior's.

    Raises
    ------
    BadInput
        For a level outside (0, 1).

    Notes
    -----
    A person's value is normal about the group's mean. Spreads of the steps are log-normal about a
    median that all share, uniform between 0 and 3; how unlike they are is one of UNLIKE. All of it
    is summed on the grid, so nothing rests on large numbers: with one step and people of very many
    stoves p is close to that of Student's t. p is a tail of the posterior; that it keeps its error
    rate is shown by simulation (tests/reports/PROMISES.md), not by theory.

    References
    ----------
    Breslow, N. E. and Clayton, D. G. (1993). Approximate inference in generalized linear mixed
    models. Journal of the American Statistical Association 88, 9-25 (the model).
    Gelman, A. (2006). Prior distributions for variance parameters in hierarchical models. Bayesian
    Analysis 1, 515-534 (uniform spread; several groups share one).
    Smyth, G. K. (2004). Linear models and empirical Bayes methods for assessing differential
    expression in microarray experiments. Statistical Applications in Genetics and Molecular Biology
    3, article 3 (spread borrowed from many comparisons).
    """
    check_share(level, "level")
    likely = [_weigh_means(step, points, log_prior) for step in steps]
    # The more a spread explains, the likelier: shape (steps, spreads).
    evidence = np.array([one.add_up() for one in likely])
    found = []
    for one, each, weight in zip(likely, evidence, _share_spread(evidence), strict=True):
        joint = one.mix(weight / np.maximum(each, 1e-300))
        found.append(Comparison(_tail(joint), joint, estimate_from(SPREADS, weight, level), points))
    return found


@dataclass(frozen=True)
class _Means:
    """How likely each mean is under each spread, up to a factor common to all spreads.

    a, b: shape (spreads, points). both: of people in both groups, (spreads, points, points), which
    ties the means together; None without them.
    """

    a: Array
    b: Array
    both: Array | None

    def add_up(self) -> Array:
        if self.both is None:
            return np.asarray(self.a.sum(1) * self.b.sum(1))
        return np.asarray(np.einsum("ta,tab,tb->t", self.a, self.both, self.b, optimize=True))

    def mix(self, weights: Array) -> Array:
        """All spreads together: (points, points)."""
        weighted = self.a * weights[:, None]
        if self.both is None:
            return np.asarray(weighted.T @ self.b)
        return np.asarray(np.einsum("ta,tab,tb->ab", weighted, self.both, self.b, optimize=True))


def _weigh_means(step: Likelihoods, points: Array, log_prior: Array) -> _Means:
    kernels = _make_kernels(len(points), float(points[1] - points[0]))
    sides = {in_a: np.tile(log_prior, (len(kernels), 1)) for in_a in (True, False)}
    both: Array | None = None
    for person in sorted({person for person, _ in step}):
        a, b = step.get((person, True)), step.get((person, False))
        if a is not None and b is not None:
            tied = _log_of_both(a, b, kernels)
            # Added up at once: a matrix for each spread and person would fill the memory.
            both = tied if both is None else np.add(both, tied, out=both)
        elif a is not None:
            sides[True] += _safe_log(kernels @ np.exp(a))
        elif b is not None:
            sides[False] += _safe_log(kernels @ np.exp(b))
    return _Means(
        np.exp(sides[True] - sides[True].max()),
        np.exp(sides[False] - sides[False].max()),
        None if both is None else np.exp(both - both.max()),
    )


def _log_of_both(a: Array, b: Array, kernels: Array) -> Array:
    """Of somebody with stoves in both groups: off the mean by the same in both."""
    size = len(a)
    reach = size // 2
    places = np.clip(np.arange(size) + np.arange(-reach, reach + 1)[:, None], 0, size - 1)
    of_a, of_b = np.exp(a)[places], np.exp(b)[places]
    off = kernels[:, size // 2, size // 2 - reach : size // 2 + reach + 1]
    both = np.empty((len(kernels), size, size))
    for one, weights in zip(both, off, strict=True):
        # A small spread reaches few points.
        used = weights > NOTHING * weights.max()
        np.matmul(of_a[used].T * weights[used], of_b[used], out=one)
    return np.log(np.maximum(both, 1e-300, out=both), out=both)


def _safe_log(values: Array) -> Array:
    return np.asarray(np.log(np.maximum(values, 1e-300)))


@cache
def _make_kernels(size: int, step: float) -> Array:
    """Normal spread about each point of the grid: (spreads, points, points), rows add up to 1."""
    apart = (np.arange(size)[:, None] - np.arange(size)[None, :]) * step
    kernels = [np.eye(size)]
    for spread in SPREADS[1:]:
        kernel = np.exp(-0.5 * (apart / spread) ** 2)
        kernels.append(kernel / kernel.sum(1, keepdims=True))
    return np.array(kernels)


@cache
def _list_yards() -> tuple[Array, Array]:
    """Shapes of a yard's spreads, (shapes, spreads) each adding up to 1, and their weights."""
    logs = np.log(np.maximum(SPREADS, NO_SPREAD))
    width = np.gradient(logs)
    shapes, weights = [], []
    for middle, weight in zip(logs, np.gradient(SPREADS), strict=True):
        for unlike in UNLIKE:
            shape = width * np.exp(-0.5 * ((logs - middle) / unlike) ** 2)
            shapes.append(shape / shape.sum())
            weights.append(weight)
    return np.array(shapes), np.array(weights) / sum(weights)


def _share_spread(evidence: Array) -> Array:
    """How likely each spread is on each step, after what the other steps say: as `evidence`."""
    shapes, prior = _list_yards()
    each = np.log(evidence @ shapes.T)
    others = OTHERS_COUNT * (each.sum(0) - each)
    weights = prior * np.exp(others - others.max(1, keepdims=True))
    spreads = (weights @ shapes) * evidence
    return np.asarray(spreads / spreads.sum(1, keepdims=True))


def _tail(joint: Array) -> float:
    equal = np.trace(joint) / 2
    above = np.tril(joint, -1).sum() + equal
    return float(min(1.0, 2 * min(above, joint.sum() - above)))


def estimate_from(
    values: Array, weights: Array, level: float, order: NDArray[np.intp] | None = None
) -> Estimate:
    """Median and equal-tailed interval of values with weights that add up to 1, any shape alike.

    order: places of the values from the smallest, where the caller has them sorted already.
    """
    places = np.argsort(values, axis=None, kind="stable") if order is None else order
    sorted_values, sorted_weights = values.ravel()[places], weights.ravel()[places]
    middles = np.cumsum(sorted_weights) - sorted_weights / 2
    shares = (0.5, (1 - level) / 2, (1 + level) / 2)
    value, low, high = np.interp(shares, middles, sorted_values)
    return Estimate(float(value), float(low), float(high), level)
