"""Inner corners of a chessboard in a photograph, found without the phone's code.

A corner is a saddle of the brightness: the determinant of the second derivatives is most negative
there (Beaudet 1978). The saddle of a fitted quadratic gives it to a fraction of a pixel (Lucchese
and Mitra 2002).
"""

import numpy as np
from scipy import ndimage

ROWS, COLUMNS, SQUARE = 6, 9, 25.0


def find_saddles(
    grey: np.ndarray, sigma: float = 2.0, most: int = 200
) -> tuple[np.ndarray, np.ndarray]:
    """Points (n, 2) x, y of a grey picture, strongest first, with their strength."""
    picture = grey.astype(float)
    second = {
        name: ndimage.gaussian_filter(picture, sigma, order=order)
        for name, order in {"xx": (0, 2), "xy": (1, 1), "yy": (2, 0)}.items()
    }
    strength = second["xy"] ** 2 - second["xx"] * second["yy"]
    peaks = (strength == ndimage.maximum_filter(strength, 9)) & (strength > 0.05 * strength.max())
    rows, columns = np.nonzero(peaks)
    order = np.argsort(-strength[rows, columns])[:most]
    points = np.column_stack([columns[order], rows[order]]).astype(float)
    smooth = ndimage.gaussian_filter(picture, 1.0)
    strengths = strength[rows[order], columns[order]]
    return np.array([refine(smooth, point) for point in points]), strengths


def refine(picture: np.ndarray, start: np.ndarray, reach: int = 4) -> np.ndarray:
    """The saddle of the quadratic through the pixels round a point."""
    point = start.copy()
    offsets = np.arange(-reach, reach + 1)
    x, y = (one.ravel() for one in np.meshgrid(offsets, offsets))
    terms = np.column_stack([x * x, x * y, y * y, x, y, np.ones_like(x)])
    for _ in range(5):
        values = ndimage.map_coordinates(picture, [y + point[1], x + point[0]], order=1)
        a, b, c, d, e, _f = np.linalg.lstsq(terms, values, rcond=None)[0]
        move = np.linalg.solve([[2 * a, b], [b, 2 * c]], [-d, -e])
        point += np.clip(move, -1, 1)
    return point


def find_corners(grey: np.ndarray) -> np.ndarray | None:
    """Inner corners (ROWS, COLUMNS, 2) x, y; None where the board is not seen whole."""
    points, strength = find_saddles(grey)
    for start in range(min(len(points), 10)):
        found = cut_out(grow(points, start), strength)
        if found is not None:
            return points[found]
    return None


def grow(points: np.ndarray, start: int) -> dict[tuple[int, int], int]:
    """Indices of points by (row, column) from one on, each where the last ones foretell it."""
    steps = points - points[start]
    far = np.hypot(*steps.T)
    near = np.argsort(far)[1:9]
    first = steps[near[0]]
    across = [
        steps[at]
        for at in near
        if abs(first[0] * steps[at][1] - first[1] * steps[at][0]) > 0.7 * far[near[0]] * far[at]
    ]
    if not across:
        return {}
    lattice = {(0, 0): start}
    waiting = [(0, 0, first, across[0])]
    while waiting:
        row, column, right, down = waiting.pop(0)
        here = points[lattice[row, column]]
        for (to_row, to_column), step in {
            (row, column + 1): right,
            (row, column - 1): -right,
            (row + 1, column): down,
            (row - 1, column): -down,
        }.items():
            if (to_row, to_column) in lattice:
                continue
            away = np.hypot(*(points - here - step).T)
            best = int(np.argmin(away))
            if away[best] > 0.25 * np.hypot(*step):
                continue
            lattice[to_row, to_column] = best
            moved = points[best] - here
            if to_row == row:
                waiting.append((to_row, to_column, moved * (to_column - column), down))
            else:
                waiting.append((to_row, to_column, right, moved * (to_row - row)))
    return lattice


def cut_out(lattice: dict[tuple[int, int], int], strength: np.ndarray) -> list | None:
    """The window of the lattice whose weakest corner is strongest: the board's outer corners are no
    saddles. Indices of points, (ROWS, COLUMNS); None where no window is whole.
    """
    best, found = 0.0, None
    for row, column in lattice:
        for rows, columns in ((ROWS, COLUMNS), (COLUMNS, ROWS)):
            places = [[(row + r, column + c) for c in range(columns)] for r in range(rows)]
            if not all(place in lattice for line in places for place in line):
                continue
            grid = np.array([[lattice[place] for place in line] for line in places])
            weakest = float(strength[grid].min())
            if weakest > best:
                best, found = weakest, grid if rows == ROWS else grid.T
    return found
