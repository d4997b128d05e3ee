"""Do two groupings of the same stoves go together, such as who made them and who inspected them?"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from qcapp.errors import BadInput


@dataclass(frozen=True)
class Association:
    """p: of the test that the two have nothing to do with each other. gaps: for each row, the
    largest difference between its share of a column and that of the other rows together.
    """

    p: float
    gaps: tuple[float, ...]


def find_association(table: Sequence[Sequence[int]]) -> Association | None:
    """Chi-square test of a table of counts, and how unevenly its rows use the columns.

    Parameters
    ----------
    table : rows by columns of counts

    Returns
    -------
    Association or None
        gaps has a value for each row, 0 for an empty one. None with fewer than two rows or two
        columns that are not empty.

    Raises
    ------
    BadInput
        For rows of different length or a negative count.

    Notes
    -----
    Batches are often inspected by one person, so p is soon small: it says that the two go together
    in these stoves, not why.

    References
    ----------
    Pearson, K. (1900). On the criterion that a given system of deviations from the probable in the
    case of a correlated system of variables is such that it can be reasonably supposed to have
    arisen from random sampling. Philosophical Magazine 50, 157-175.
    """
    if len({len(row) for row in table}) > 1 or any(count < 0 for row in table for count in row):
        raise BadInput("the rows are not counts of the same columns", "table", "check the counts")
    given = np.array(table, dtype=float).reshape(len(table), len(table[0]) if table else 0)
    rows, columns = given.sum(1), given.sum(0)
    if np.count_nonzero(rows) < 2 or np.count_nonzero(columns) < 2:
        return None
    used = given[rows > 0][:, columns > 0]
    expected = np.outer(used.sum(1), used.sum(0)) / used.sum()
    freedom = (used.shape[0] - 1) * (used.shape[1] - 1)
    p = float(scipy.special.chdtrc(freedom, float(((used - expected) ** 2 / expected).sum())))
    gaps = [
        float(np.abs(row / own - (columns - row) / (rows.sum() - own)).max()) if own else 0.0
        for row, own in zip(given, rows, strict=True)
    ]
    return Association(p, tuple(gaps))
