"""Draw the lines along which a field passes zero, looking only at the few pixels beside them."""

from __future__ import annotations

import numpy as np

from .arrays import Floats


def contours(field: Floats) -> list[Floats]:
    """The closed lines that part what lies above zero from the rest (marching squares, linear between pixel centres).

    Where two corners of a square of four pixels lie above zero across from each other, the mean of all four tells
    whether they are joined. A large field of which most is far from any line takes a fraction of the time and memory
    that general routines do.

    Parameters
    ----------
    field : (h, w) float array
        Nothing on its rim lies above zero.

    Returns
    -------
    list of (n, 2) array
        Points (column, row), the last equal to the first; counter-clockwise (with rows counted upwards) around what
        lies above zero, clockwise around a hole in it.
    """
    import cv2

    above = (field > 0).view(np.uint8)
    square = np.ones((2, 2), np.uint8)
    passed = cv2.dilate(above, square, anchor=(0, 0)) != cv2.erode(above, square, anchor=(0, 0))
    # the squares that a line passes, by the pixel at their upper left; nothing passes through the last row and column
    rows, columns = np.nonzero(passed[:-1, :-1])
    if not len(rows):
        return []
    # the corners of a square in turn, and the sides from each to the next, each side of two squares by one number
    down, right = np.array([[0, 0, 1, 1], [0, 1, 1, 0]])
    corners = field[rows[:, None] + down, columns[:, None] + right].astype(float)
    wide = field.shape[1]
    first = 2 * (rows * wide + columns)[:, None]
    sides = first + np.array([0, 3, 2 * wide, 1])
    inside = corners > 0
    leaves, enters = inside & ~np.roll(inside, -1, axis=1), ~inside & np.roll(inside, -1, axis=1)
    # a line begins where the way around the square leaves what is above zero, and ends where it comes back
    at, begin = np.nonzero(leaves)
    twice = leaves.sum(axis=1) == 2
    joined = corners.mean(axis=1) > 0
    end = np.where(twice[at], (begin + np.where(joined[at], 1, 3)) % 4, enters[at].argmax(axis=1))
    begins, ends = sides[at, begin], sides[at, end]
    one, other = corners[at, begin], corners[at, (begin + 1) % 4]
    share = (one / (one - other))[:, None]
    places = (
        np.c_[columns[at], rows[at]]
        + (1 - share) * np.c_[right, down][begin]
        + share * np.c_[right, down][(begin + 1) % 4]
    )
    order = np.argsort(begins)
    following: list[int] = order[np.searchsorted(begins[order], ends)].tolist()
    rings: list[Floats] = []
    left = [True] * len(following)
    for start in range(len(following)):
        ring, now = [], start
        while left[now]:
            left[now] = False
            ring.append(now)
            now = following[now]
        if ring:
            rings.append(places[[*ring, start]])
    return rings
