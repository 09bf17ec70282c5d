"""Give the points of spikes and the ends of narrow bays back what blur takes off them."""

from __future__ import annotations

import numpy as np

SHARPEST_DEG, BLUNTEST_DEG, BLUNTEST_FRAYED_DEG = 4.0, 60.0, 32.0
FURTHEST = 28.0
"""Pixels by which a tip may be drawn out."""
STRIP = 2.5
"""Half the width in pixels of the strip in which a faded tip is looked for."""


def sharpened(ring: np.ndarray, cover: np.ndarray, blur: float) -> np.ndarray:
    """The ring with its tips drawn out to where their straight sides meet.

    A wedge narrower than the blur fades before it ends, but blur only spreads what it shows: beyond the outline as much
    leather (floor, in a bay) can still be summed up as lay there. Where both sides run straight towards each other, they
    are extended as far as makes up a triangle of that area, and no further than where they meet.

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


def _drawn_out(ring: np.ndarray, cover: np.ndarray, blur: float, stretch: float, bluntest: float, done: list[np.ndarray]) -> np.ndarray:
    step = np.hypot(*np.diff(ring, axis=0).T)
    along = np.concatenate([[0], np.cumsum(step)])
    count = int(along[-1])
    if count < 80:
        return ring
    even = np.column_stack([np.interp(np.linspace(0, along[-1], count, endpoint=False), along, axis) for axis in ring.T])
    near, far = int(round(stretch * (4 + 2 * blur))), int(round(stretch * (14 + 4 * blur)))
    before = _chords(even, -near, -far)
    after = _chords(even, near, far)
    # Both sides, looking towards the tip.
    turn = np.degrees(np.arccos(np.clip((before * after).sum(axis=1), -1, 1)))
    keep = np.ones(count, bool)
    added: dict[int, np.ndarray] = {}
    for at in np.argsort(turn):
        if turn[at] > bluntest:
            break
        if turn[at] < SHARPEST_DEG or not keep[(at + np.arange(-far, far + 1)) % count].all():
            continue
        if any(np.hypot(*(even[at] - other)) < 2 * far for other in done):
            continue
        tip = _meeting(even[(at - near) % count], before[at], even[(at + near) % count], after[at], even[at])
        tip = None if tip is None else _faded(even[at], tip, turn[at], cover, blur)
        if tip is None:
            continue
        keep[(at + np.arange(-near + 1, near)) % count] = False
        added[at] = tip
    done.extend(added.values())
    if not added:
        return ring
    points = [added[at] if at in added else even[at] for at in range(count) if keep[at] or at in added]
    return np.array([*points, points[0]])


def _chords(points: np.ndarray, near: int, far: int) -> np.ndarray:
    """Unit vectors along the outline from ``far`` to ``near`` steps away from each point, towards it."""
    ahead = np.roll(points, -near, axis=0) - np.roll(points, -far, axis=0)
    return ahead / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]


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


def _faded(end: np.ndarray, tip: np.ndarray, angle_deg: float, cover: np.ndarray, blur: float) -> np.ndarray | None:
    """Where the wedge ends by the area of it that shows beyond the outline."""
    import cv2

    length = np.hypot(*(tip - end))
    way = (tip - end) / length
    side = np.array([-way[1], way[0]])
    x, y = np.clip(np.round(end - 2.5 * max(blur, 1) * way).astype(int), 0, np.array(cover.shape[::-1]) - 1)
    ahead, across = np.arange(0.25, length + 3, 0.5), np.arange(-STRIP, STRIP + 0.1, 0.5)
    grid = (end + ahead[:, None, None] * way + across[:, None] * side).astype(np.float32)
    # A shadow beside the tip is less like leather than the floor is: it takes nothing off.
    seen = np.clip(cv2.remap(cover, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR), -0.1, 1.1)
    area = 0.25 * float((seen if cover[y, x] > 0.5 else 1 - seen).sum())
    reach = min(length, np.sqrt(max(area, 0) / np.tan(np.radians(angle_deg) / 2)))
    return end + reach * way if reach > 1 else None
