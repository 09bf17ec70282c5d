"""What parts the convex parts of a layout's items from each other."""

from __future__ import annotations

import numpy as np

from .compiled import compiled


@compiled()
def partings(corners, offsets, owners, xy, radius, near):
    """For every two convex parts of different items closer than ``near``: items i and j, the unit normal from i to j
    of the edge line that parts them best, and how far they are apart along it, (rows, 5)."""
    count = owners.shape[0]
    rows, used = np.empty((256, 5)), 0
    for a in range(count):
        i = owners[a]
        for b in range(a + 1, count):
            j = owners[b]
            dx, dy = xy[j, 0] - xy[i, 0], xy[j, 1] - xy[i, 1]
            apart = radius[i] + radius[j] + near
            if i == j or dx * dx + dy * dy > apart * apart:
                continue
            best, nx, ny = -np.inf, 0.0, 0.0
            for turn in range(2):
                p, q, sign = (a, b, 1.0) if turn == 0 else (b, a, -1.0)
                start, end = offsets[p], offsets[p + 1]
                for k in range(start, end):
                    after = k + 1 if k + 1 < end else start
                    ex, ey = corners[after, 0] - corners[k, 0], corners[after, 1] - corners[k, 1]
                    length = np.hypot(ex, ey)
                    if length < 1e-9:
                        continue
                    ux, uy = ey / length, -ex / length
                    gap = np.inf
                    for v in range(offsets[q], offsets[q + 1]):
                        gap = min(
                            gap,
                            ux * (corners[v, 0] + sign * dx - corners[k, 0])
                            + uy * (corners[v, 1] + sign * dy - corners[k, 1]),
                        )
                    if gap > best:
                        best, nx, ny = gap, sign * ux, sign * uy
            if best > near:
                continue
            if used == rows.shape[0]:
                longer = np.empty((2 * used, 5))
                for n in range(used):
                    for k in range(5):
                        longer[n, k] = rows[n, k]
                rows = longer
            rows[used, 0], rows[used, 1], rows[used, 2], rows[used, 3], rows[used, 4] = i, j, nx, ny, best
            used += 1
    return rows[:used]
