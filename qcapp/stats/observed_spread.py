"""The spread of true values behind readings that a tool has blurred, whatever its shape."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import pi, sqrt

import numpy as np

from qcapp.errors import BadInput
from qcapp.stats.array import Array

# Silverman's factor for the width of a normal kernel.
KERNEL = 0.9


@dataclass(frozen=True)
class ObservedSpread:
    """A mixture of normal spreads: middles with their weights (adding up to 1), one width, one
    unit.
    """

    middles: tuple[float, ...]
    weights: tuple[float, ...]
    width: float

    # As arrays once: an integral asks for hundreds of densities.
    @cached_property
    def _places(self) -> Array:
        return np.array(self.middles)

    @cached_property
    def _shares(self) -> Array:
        return np.array(self.weights)

    def pdf(self, value: float) -> float:
        distance = (value - self._places) / self.width
        return float(np.exp(-(distance**2) / 2) @ self._shares) / (self.width * sqrt(2 * pi))

    def ppf(self, share: float) -> float:
        """Only for the ends: a point beyond which less than 1e-13 lies, below or above."""
        return (
            min(self.middles) - 7.5 * self.width
            if share < 0.5
            else max(self.middles) + 7.5 * self.width
        )

    def move(self, by: float, times: float) -> "ObservedSpread":
        """The same shape about a middle that is `by` further and `times` as wide."""
        middle = sum(
            weight * place for weight, place in zip(self.weights, self.middles, strict=True)
        )
        places = tuple(middle + by + times * (place - middle) for place in self.middles)
        return ObservedSpread(places, self.weights, self.width * times)


def find_observed_spread(readings: Sequence[float], measuring_sd: float) -> ObservedSpread:
    """True values behind readings: the readings' own shape, drawn in to the variance left for the
    stoves.

    Parameters
    ----------
    readings : sequence of float, at least two, not all equal
    measuring_sd : float
        Standard uncertainty of one reading, same unit, >= 0 and below the readings' own spread.

    Returns
    -------
    ObservedSpread
        Its mean is the readings', its variance theirs less that of measuring.

    Raises
    ------
    BadInput
        For too few, non-finite or equal readings, or when measuring leaves nothing for the stoves.

    References
    ----------
    Silverman, B. W. (1986). Density Estimation for Statistics and Data Analysis. Chapman and Hall,
    London, 3.4.2 (kernel width) and 6.4 (shrinking the places so that the variance is kept).
    """
    given = np.asarray(readings, dtype=float)
    if len(given) < 2 or not np.all(np.isfinite(given)) or np.ptp(given) == 0:
        raise BadInput("two different finite readings are needed", "readings", "wait for more")
    variance = float(given.var(ddof=1))
    left = variance - measuring_sd**2
    if left <= 0:
        raise BadInput("measuring explains the whole spread", "measuring_sd", "use a better tool")
    width = KERNEL * sqrt(left) * len(given) ** -0.2
    shrink = sqrt(max(0.0, left - width**2) / variance)
    counts = Counter(float(value) for value in given)
    mean = float(given.mean())
    places = tuple(mean + shrink * (value - mean) for value in counts)
    return ObservedSpread(places, tuple(count / len(given) for count in counts.values()), width)
