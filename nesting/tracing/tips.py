"""Give the points of spikes and the ends of narrow bays back what blur takes off them."""

from __future__ import annotations

import numpy as np

from .arrays import Floats
from .curve import sharpness
from .limits import METHOD

TIPS = METHOD.tips


def sharpened(ring: Floats, cover: Floats, blur: float) -> Floats:
    """The ring with its tips drawn out to where their straight sides meet.

    A wedge narrower than the blur fades before it ends, but blur only spreads what it shows: beyond the outline as much
    leather (floor, in a bay) can still be summed up as lay there. Where both sides run straight towards each other,
    they are extended as far as makes up a wedge of that area, cut off square where it ends before they meet.

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
    done: list[Floats] = []
    for stretch, bluntest in ((1.0, TIPS.bluntest_deg), (TIPS.frayed_times, TIPS.bluntest_frayed_deg)):
        ring = _drawn_out(ring, cover, blur, stretch, bluntest, done)
    return ring


def _drawn_out(ring: Floats, cover: Floats, blur: float, stretch: float, bluntest: float, done: list[Floats]) -> Floats:
    near = round(stretch * (TIPS.near_pixels + TIPS.near_blurs * blur))
    far = round(stretch * (TIPS.far_pixels + TIPS.far_blurs * blur))
    even, before, after, turn = sharpness(ring, near, far)
    count = len(even)
    keep = np.ones(count, bool)
    added: dict[int, Floats] = {}
    for at in np.argsort(turn).tolist():
        if turn[at] > bluntest:
            break
        if turn[at] < TIPS.sharpest_deg or not keep[(at + np.arange(-far, far + 1)) % count].all():
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


def _meeting(p: Floats, u: Floats, q: Floats, v: Floats, end: Floats) -> Floats | None:
    """Where the two sides meet, if that is ahead of the end and not far."""
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < TIPS.parallel:
        return None
    offset = q - p
    s, t = (offset[0] * v[1] - offset[1] * v[0]) / cross, (offset[0] * u[1] - offset[1] * u[0]) / cross
    tip: Floats = p + s * u
    ahead, away = (tip - end) @ (u + v), np.hypot(*(tip - end))
    return tip if s > 0 and t > 0 and ahead > 0 and TIPS.least_pixels < away < TIPS.furthest_pixels else None


def _end(
    sides: tuple[Floats, Floats, Floats, Floats],
    end: Floats,
    meeting: Floats,
    stretch: float,
    angle_deg: float,
    cover: Floats,
) -> Floats | None:
    """The one or two corners, (k, 2), in which a wedge ends by the area that shows of it; None if that is no further
    out.

    ``sides`` are a point and the direction of each; ``stretch`` is how far they were seen to run straight before it.
    How wide the wedge is there is summed up from what it covers too, so that an outline that lies too far out or in
    changes nothing.
    """
    import cv2

    p, u, q, v = sides
    way = (u + v) / np.hypot(*(u + v))
    side = np.array([-way[1], way[0]])
    slope = 2 * np.tan(np.radians(angle_deg) / 2)
    begins = min((meeting - p) @ way, (meeting - q) @ way)
    x, y = np.clip(np.round(meeting - (begins + stretch) * way).astype(int), 0, np.array(cover.shape[::-1]) - 1)
    before = np.arange(begins + stretch, -3 * TIPS.margin_pixels, -0.5) - 0.25
    across = np.arange(-(slope * before[0] / 2 + TIPS.margin_pixels), slope * before[0] / 2 + TIPS.margin_pixels, 0.5)
    grid = (meeting - before[:, None, None] * way + across[:, None] * side).astype(np.float32)
    seen = np.clip(cv2.remap(cover, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR), -0.25, 1.25)
    seen = np.where(
        np.abs(across) <= slope * np.maximum(before, 0)[:, None] / 2 + TIPS.margin_pixels,
        seen if cover[y, x] > 0.5 else 1 - seen,
        0,
    )
    widths, straight, outline = 0.5 * seen.sum(axis=1), before > begins, (meeting - end) @ way
    wide = widths[straight].mean() - slope * (before[straight].mean() - outline)
    if wide < 0 or widths[before < -TIPS.margin_pixels].mean() > TIPS.goes_on_share * wide:
        return None
    # what shows beyond a gap is something else
    beyond = (before < outline) & (np.cumsum((before < outline) & (widths < TIPS.gap_share * wide)) == 0)
    left = np.sqrt(max(wide**2 - slope * TIPS.unseen_times * widths[beyond].sum(), 0.0))
    tip = outline - (wide - left) / slope
    if outline - tip < TIPS.least_pixels:
        return None
    middle: Floats = meeting - max(tip, 0.0) * way
    if left < TIPS.point_pixels:
        return middle[None]
    return np.array([middle + sign * left / 2 * side for sign in np.sign([(p - q) @ side, (q - p) @ side])])
