"""The part of an incomplete crossed study in which everybody has every stove equally often."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Counts = npt.NDArray[np.int_]
MIN_COLUMNS = 2


def choose_block(
    counts: Sequence[Sequence[int]], *, min_rows: int, min_repeats: int
) -> tuple[list[int], int, list[int]]:
    """(columns, repeats, rows) of the complete block with the most readings; repeats 0: none.

    counts: readings by row (stove) and column (inspector); at least one of each. Columns are taken
    out one at a time, each time the one whom the block misses least, so that an inspector who
    measured a single stove does not cost all the others.
    """
    table = np.array(counts, dtype=int)
    columns = list(range(table.shape[1]))
    best = _size_block(table, columns, min_rows, min_repeats), columns
    while len(columns) > MIN_COLUMNS:
        fewer = [[one for one in columns if one != out] for out in columns]
        columns = max(fewer, key=lambda some: _size_block(table, some, min_rows, min_repeats))
        found = _size_block(table, columns, min_rows, min_repeats), columns
        best = max(best, found, key=lambda one: one[0][0])
    (_readings, repeats), chosen = best
    kept = np.flatnonzero(table[:, chosen].min(1) >= max(repeats, 1))
    return chosen, repeats, kept.tolist()


def _size_block(
    table: Counts, columns: Sequence[int], min_rows: int, min_repeats: int
) -> tuple[int, int]:
    """Readings in the largest complete block of these columns, and its repeats (0: none)."""
    done = table[:, columns].min(1)
    sizes = [
        (repeats * int((done >= repeats).sum()) * len(columns), repeats)
        for repeats in range(min_repeats, int(done.max()) + 1)
        if (done >= repeats).sum() >= min_rows
    ]
    return max(sizes, key=lambda size: (size[0], -size[1]), default=(0, 0))
