"""The eight run rules: patterns that scatter alone seldom makes."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from qcapp.errors import BadInput
from qcapp.stats.array import Array


@dataclass(frozen=True)
class RunSignal:
    """rule: 1 to 8; index: the point (from 0) at which the pattern is complete."""

    rule: int
    index: int


def nelson_signals(sigmas: Sequence[float]) -> tuple[RunSignal, ...]:
    """Every point at which one of Nelson's eight rules is met.

    Parameters
    ----------
    sigmas : sequence of float
        Distances from the centre line in standard deviations (`Chart.sigmas`), in the order made.

    Returns
    -------
    tuple of RunSignal
        Ordered by index, then rule. A pattern that goes on signals again at each further point.

    Raises
    ------
    BadInput
        For a non-finite distance.

    Notes
    -----
    1 one point beyond 3; 2 nine in a row on one side; 3 six in a row rising or falling; 4 fourteen
    in a row up and down in turn; 5 two of three beyond 2 on one side; 6 four of five beyond 1 on
    one side; 7 fifteen in a row within 1; 8 eight in a row beyond 1 on either side, both sides
    among them. Beyond is strict: a point on a line is not beyond it, one on the centre line is on
    no side. In 5 and 6 the newest point must be one of those beyond, so that the point named is the
    one seen.

    References
    ----------
    Nelson, L. S. (1984). The Shewhart control chart - tests for special causes. Journal of Quality
    Technology 16, 237-239.
    """
    given = np.asarray(sigmas, dtype=float)
    if not np.all(np.isfinite(given)):
        raise BadInput("a distance is not finite", "sigmas", "check the chart")
    return tuple(
        RunSignal(rule, index)
        for index in range(len(given))
        for rule, (needed, span, is_met) in NELSON_RULES.items()
        if index + 1 >= needed and is_met(given[max(0, index + 1 - span) : index + 1])
    )


def _on_one_side(points: Array) -> bool:
    return bool(np.all(points > 0) or np.all(points < 0))


def _rising_or_falling(points: Array) -> bool:
    return _on_one_side(np.diff(points))


def _up_and_down(points: Array) -> bool:
    steps = np.diff(points)
    return bool(np.all(steps[1:] * steps[:-1] < 0))


def _beyond(points: Array, line: float, enough: int) -> bool:
    side = points * np.sign(points[-1])
    return bool(side[-1] > line and (side > line).sum() >= enough)


def _on_both_sides(points: Array) -> bool:
    return bool(np.all(np.abs(points) > 1) and points.min() < 0 < points.max())


# Rule number: points it needs at least, points it looks back over, and whether they meet it.
NELSON_RULES: dict[int, tuple[int, int, Callable[[Array], bool]]] = {
    1: (1, 1, lambda points: _beyond(points, 3, 1)),
    2: (9, 9, _on_one_side),
    3: (6, 6, _rising_or_falling),
    4: (14, 14, _up_and_down),
    5: (2, 3, lambda points: _beyond(points, 2, 2)),
    6: (4, 5, lambda points: _beyond(points, 1, 4)),
    7: (15, 15, lambda points: bool(np.all(np.abs(points) < 1))),
    8: (8, 8, _on_both_sides),
}
