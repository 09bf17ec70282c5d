"""Give the points of spikes and the ends of narrow bays back what blur takes off them."""

from __future__ import annotations

import numpy as np

from .needles import corners

SHARPEST_DEG, BLUNTEST_DEG, BLUNTEST_FRAYED_DEG = 4.0, 60.0, 32.0
FURTHEST = 28.0
"""Pixels by which a tip may be drawn out."""
MARGIN = 3.0
"""Pixels beside a wedge, and beyond the meeting of its sides, over which blur may have spread it."""
GAP = 0.1
"""A wedge has ended for good where no more of its width shows than this share of what it had at the outline's end."""
GOES_ON = 0.25
"""What still shows as much of that width beyond the meeting of the sides is no wedge but a line on the floor, such as a seam."""
UNSEEN = 1.3
"""How many times what shows of a point makes up the whole of it: its faintest end is lost (measured on rendered photos)."""
POINT = 1.0
"""An end narrower than this, in pixels, is drawn as a point."""


def sharpened(ring: np.ndarray, cover: np.ndarray, blur: float) -> np.ndarray:
    """The ring with its tips drawn out to where their straight sides meet.

    A wedge narrower than the blur fades before it ends, but blur only spreads what it shows: beyond the outline as much
    leather (floor, in a bay) can still be summed up as lay there. Where both sides run straight towards each other, they
    are extended as far as makes up a wedge of that area, cut off square where it ends before they meet.

    Parameters
    ----------
    ring : (n, 2) array
        Closed outline in pixels (column, row), the last point equal to the first.
    cover : (h, w) float array
        Share of each pixel covered by leather, not smoothed.
    blur : float
        Standard deviation of the smoothing that made the ring.

    Returns
    -------
    (m, 2) array
        Closed.
    """
    # Where noise frays the sides, their direction shows only further from the tip.
    done: list[np.ndarray] = []
    for stretch, bluntest in ((1.0, BLUNTEST_DEG), (2.0, BLUNTEST_FRAYED_DEG)):
        ring = _drawn_out(ring, cover, blur, stretch, bluntest, done)
    return ring


def _drawn_out(
    ring: np.ndarray, cover: np.ndarray, blur: float, stretch: float, bluntest: float, done: list[np.ndarray]
) -> np.ndarray:
    near, far = int(round(stretch * (4 + 2 * blur))), int(round(stretch * (14 + 4 * blur)))
    even, before, after, turn = corners(ring, near, far)
    count = len(even)
    keep = np.ones(count, bool)
    added: dict[int, np.ndarray] = {}
    for at in np.argsort(turn):
        if turn[at] > bluntest:
            break
        if turn[at] < SHARPEST_DEG or not keep[(at + np.arange(-far, far + 1)) % count].all():
            continue
        if any(np.hypot(*(even[at] - other)) < 2 * far for other in done):
            continue
        sides = even[(at - near) % count], before[at], even[(at + near) % count], after[at]
        meeting = _meeting(*sides, even[at])
        tip = None if meeting is None else _end(sides, even[at], meeting, far - near, turn[at], cover)
        if tip is None:
            continue
        keep[(at + np.arange(-near + 1, near)) % count] = False
        added[at] = tip
    done.extend(ends.mean(axis=0) for ends in added.values())
    if not added:
        return ring
    points = np.concatenate([added.get(at, even[at : at + 1]) for at in range(count) if keep[at] or at in added])
    return np.concatenate([points, points[:1]])


def _meeting(p: np.ndarray, u: np.ndarray, q: np.ndarray, v: np.ndarray, end: np.ndarray) -> np.ndarray | None:
    """Where the two sides meet, if that is ahead of the end and not far."""
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.05:
        return None
    offset = q - p
    s, t = (offset[0] * v[1] - offset[1] * v[0]) / cross, (offset[0] * u[1] - offset[1] * u[0]) / cross
    tip = p + s * u
    ahead = (tip - end) @ (u + v)
    return tip if s > 0 and t > 0 and ahead > 0 and 1.0 < np.hypot(*(tip - end)) < FURTHEST else None


def _end(
    sides, end: np.ndarray, meeting: np.ndarray, stretch: float, angle_deg: float, cover: np.ndarray
) -> np.ndarray | None:
    """The one or two corners, (k, 2), in which a wedge ends by the area that shows of it; None if that is no further out.

    ``sides`` are a point and the direction of each; ``stretch`` is how far they were seen to run straight before it. How wide
    the wedge is there is summed up from what it covers too, so that an outline that lies too far out or in changes nothing.
    """
    import cv2

    p, u, q, v = sides
    way = (u + v) / np.hypot(*(u + v))
    side = np.array([-way[1], way[0]])
    slope = 2 * np.tan(np.radians(angle_deg) / 2)
    begins = min((meeting - p) @ way, (meeting - q) @ way)
    x, y = np.clip(np.round(meeting - (begins + stretch) * way).astype(int), 0, np.array(cover.shape[::-1]) - 1)
    before = np.arange(begins + stretch, -3 * MARGIN, -0.5) - 0.25
    across = np.arange(-(slope * before[0] / 2 + MARGIN), slope * before[0] / 2 + MARGIN, 0.5)
    grid = (meeting - before[:, None, None] * way + across[:, None] * side).astype(np.float32)
    seen = np.clip(cv2.remap(cover, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR), -0.25, 1.25)
    seen = np.where(
        np.abs(across) <= slope * np.maximum(before, 0)[:, None] / 2 + MARGIN,
        seen if cover[y, x] > 0.5 else 1 - seen,
        0,
    )
    widths, straight, outline = 0.5 * seen.sum(axis=1), before > begins, (meeting - end) @ way
    wide = widths[straight].mean() - slope * (before[straight].mean() - outline)
    if wide < 0 or widths[before < -MARGIN].mean() > GOES_ON * wide:
        return None
    # what shows beyond a gap is something else
    beyond = (before < outline) & (np.cumsum((before < outline) & (widths < GAP * wide)) == 0)
    left = np.sqrt(max(wide**2 - slope * UNSEEN * widths[beyond].sum(), 0.0))
    tip = outline - (wide - left) / slope
    if outline - tip < 1:
        return None
    middle = meeting - max(tip, 0.0) * way
    if left < POINT:
        return middle[None]
    return np.array([middle + sign * left / 2 * side for sign in np.sign([(p - q) @ side, (q - p) @ side])])
