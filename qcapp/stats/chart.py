"""A control chart as numbers: a centre, and for each point its value, its limits and whether it is
strictly beyond them. Points come in the order in which they were made.

Charts of counts are in attribute_charts.py, charts of readings in variables_charts.py.
"""

from dataclasses import dataclass
from math import pi, sqrt

from qcapp.stats.array import Array

# Mean range of two standard normal readings (ASTM E2587 table; exact value).
D2 = 2 / sqrt(pi)


@dataclass(frozen=True)
class ChartPoint:
    """value, low and high in one unit; is_out: strictly beyond a limit."""

    value: float
    low: float
    high: float
    is_out: bool


@dataclass(frozen=True)
class Chart:
    """centre and points in one unit; sigmas: standardised distances of the points from the centre.

    spread: the standard deviation of one value for an individuals chart; for a p chart Laney's
    factor on the binomial spread (1 when not used).
    """

    centre: float
    spread: float
    points: tuple[ChartPoint, ...]
    sigmas: tuple[float, ...]


def make_point(value: float, low: float, high: float) -> ChartPoint:
    """A value with its limits, all in one unit."""
    # Binary rounding alone must not put a value on the limit outside it.
    slack = 1e-9 * max(1.0, abs(value))
    return ChartPoint(value, low, high, value < low - slack or value > high + slack)


def to_floats(values: Array) -> tuple[float, ...]:
    """Plain numbers, as a chart keeps them."""
    return tuple(float(v) for v in values)
