"""The eight run rules: patterns that scatter alone seldom makes."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qcapp.errors import BadInput
from qcapp.stats.array import Array

Flags = npt.NDArray[np.bool_]


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
    found = [
        (index, rule)
        for rule, (needed, span, is_met) in NELSON_RULES.items()
        for index in _list_met(given, needed, span, is_met)
    ]
    return tuple(RunSignal(rule, index) for index, rule in sorted(found))


def _list_met(
    given: Array, needed: int, span: int, is_met: Callable[[Array], Flags]
) -> Iterable[int]:
    """Indexes of the points at which a rule is met that looks back over span points."""
    # Points before the first lie on the centre line: they are beyond nothing.
    padded = np.concatenate((np.zeros(span - needed), given))
    if len(padded) < span:
        return ()
    met = is_met(np.lib.stride_tricks.sliding_window_view(padded, span))
    return (np.flatnonzero(met) + needed - 1).tolist()


def _on_one_side(points: Array) -> Flags:
    met: Flags = np.all(points > 0, axis=1) | np.all(points < 0, axis=1)
    return met


def _rising_or_falling(points: Array) -> Flags:
    return _on_one_side(np.diff(points))


def _up_and_down(points: Array) -> Flags:
    steps = np.diff(points)
    met: Flags = np.all(steps[:, 1:] * steps[:, :-1] < 0, axis=1)
    return met


def _beyond(points: Array, line: float, enough: int) -> Flags:
    side = points * np.sign(points[:, -1:])
    met: Flags = (side[:, -1] > line) & ((side > line).sum(axis=1) >= enough)
    return met


def _within(points: Array) -> Flags:
    met: Flags = np.all(np.abs(points) < 1, axis=1)
    return met


def _on_both_sides(points: Array) -> Flags:
    is_beyond = np.all(np.abs(points) > 1, axis=1)
    met: Flags = is_beyond & (points.min(axis=1) < 0) & (points.max(axis=1) > 0)
    return met


# Rule number: points it needs at least, points it looks back over, and which windows of these (a
# row each) meet it.
NELSON_RULES: dict[int, tuple[int, int, Callable[[Array], Flags]]] = {
    1: (1, 1, lambda points: _beyond(points, 3, 1)),
    2: (9, 9, _on_one_side),
    3: (6, 6, _rising_or_falling),
    4: (14, 14, _up_and_down),
    5: (2, 3, lambda points: _beyond(points, 2, 2)),
    6: (4, 5, lambda points: _beyond(points, 1, 4)),
    7: (15, 15, _within),
    8: (8, 8, _on_both_sides),
}
