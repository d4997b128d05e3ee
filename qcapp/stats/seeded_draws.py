"""Draws that average over what is not known: the same numbers every time.

The only place in `stats` where numbers are drawn. The seed is fixed, so a figure is a function of
its counts; a page does not move when it is opened again.
"""

import numpy as np

Generator = np.random.Generator
SEED = 20


def start_draws(stream: int = 0) -> Generator:
    """Draws from their beginning; another stream is independent of the first."""
    return np.random.default_rng([SEED, stream])
