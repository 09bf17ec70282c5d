"""Follow spikes and bays on where they have become thinner than the blur of the photo."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from .colours import disc

NEAR, FAR, BLUNTEST_DEG = 3, 12, 60.0
"""Pixels along the outline, from where to where the sides of a tip are looked at, and the angle between them at most."""
SHORTEST_RING = 80
"""Pixels around an outline that is too small to have tips."""
LONGEST, SHORTEST = 64, 4
"""Pixels that a needle is followed at most (what goes on is a line on the floor) and at least; no longer and it is blur."""
HALF, BESIDE = 3.0, (8.0, 11.5)
"""Half the breadth in pixels of the window across a needle, and how far to either side the same window shows how rough all is."""
LEAST, ABOVE, OWN = 0.35, 3.0, 3
"""A needle is seen where so many pixels of its width show, and so many times as much as shows beside it, further than so many
pixels from what is known to be of its kind."""
THINNER = 0.75
"""Share of the width at its root that a needle's last third may have."""
STOUT, BASE = 1.7, 4
"""Pixels that a needle is wide at least over so many steps from its root: the outline ends where about two pixels are left, so
what is thinner there is a line that the tip happens to touch (measured on rendered photos)."""
TURNING, BACK = 0.2, 6
"""How readily its direction follows its middle, seen over so many steps."""
ASIDE_DEG = 20.0
"""A needle leads no further aside from where its root points: what does is a line on the floor that the tip happens to touch."""
SPREAD, ROOT = 1, 2.0
"""Steps by which blur lets it seem too long; pixels by which it begins within the outline."""


def followed(outline: Polygon, cover: np.ndarray) -> Polygon:
    """The outline with its tips drawn on along what still shows of them.

    Across a needle thinner than the blur no pixel is half covered, but what all of them show sums up to its width, and its
    middle is where they show most.

    Parameters
    ----------
    outline : Polygon
        In pixels (column, row).
    cover : (h, w) float array
        Share of each pixel covered by leather, not smoothed.

    Returns
    -------
    Polygon
    """
    import cv2

    even, before, after, turn = corners(np.asarray(outline.exterior.coords), NEAR, FAR)
    count = len(even)
    whole = np.zeros(cover.shape, np.uint8)
    cv2.fillPoly(whole, [np.round(even).astype(np.int32)], 1)
    own = {leather: cv2.dilate(whole if leather else 1 - whole, disc(OWN)) for leather in (True, False)}
    tips, taken = [], np.zeros(count, bool)
    for at in np.argsort(turn):
        if turn[at] > BLUNTEST_DEG:
            break
        if not taken[at]:
            taken[(at + np.arange(-FAR, FAR + 1)) % count] = True
            tips.append(at)
    ways = unit(before[tips] + after[tips])
    columns, rows = np.clip(np.round(even[tips] - 4 * ways).astype(int), 0, np.array(cover.shape[::-1]) - 1).T
    leather = cover[rows, columns] > 0.5
    spikes = _needles(even[tips][leather], ways[leather], cover, own[True])
    bays = _needles(even[tips][~leather], ways[~leather], 1 - cover, own[False])
    if not spikes and not bays:
        return outline
    drawn = outline.union(shapely.union_all(spikes)).difference(shapely.union_all(bays))
    whole = max(shapely.get_parts(drawn), key=lambda part: part.area)
    return Polygon(whole.exterior, outline.interiors)


def corners(ring: np.ndarray, near: int, far: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """How sharp a closed outline, (n, 2), is along its length.

    Gives points a pixel apart, (m, 2); unit vectors along both sides of each, towards it, seen from ``far`` to ``near`` pixels
    away, (m, 2) each; and the angle between them, degrees, (m,). There are none on an outline too short to tell.
    """
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    count = int(along[-1]) if along[-1] >= SHORTEST_RING else 0
    even = np.column_stack(
        [np.interp(np.linspace(0, along[-1], count, endpoint=False), along, axis) for axis in ring.T]
    )
    before, after = (unit(np.roll(even, sign * near, axis=0) - np.roll(even, sign * far, axis=0)) for sign in (1, -1))
    return even, before, after, np.degrees(np.arccos(np.clip((before * after).sum(axis=1), -1, 1)))


def unit(vectors: np.ndarray) -> np.ndarray:
    """Vectors, (2,) or (n, 2), made one long."""
    return vectors / np.maximum(np.hypot(*vectors.T), 1e-9)[..., None]


def _needles(tips: np.ndarray, ways: np.ndarray, shown: np.ndarray, own: np.ndarray) -> list[Polygon]:
    """What goes on beyond some of the tips, (n, 2), that point along ``ways``, (n, 2), each with its root inside it.

    ``shown`` is the share that each pixel shows of what the tips are made of; where ``own``, that is no roughness of the rest.
    """
    import cv2

    if not len(tips):
        return []
    across = np.arange(-BESIDE[1] - HALF, BESIDE[1] + HALF + 0.1, 0.5)
    windows = np.array([np.abs(across - centre) <= HALF for centre in (0.0, *BESIDE, *(-apart for apart in BESIDE))])
    middles, widths = np.zeros((LONGEST + 1, len(tips), 2)), np.zeros((LONGEST, len(tips)))
    middles[0] = tips - ROOT * ways
    lengths, some, place, way = np.full(len(tips), LONGEST), np.arange(len(tips)), tips, ways
    for step in range(LONGEST):
        side = way[:, ::-1] * (-1, 1)
        grid = (
            place[:, None, None]
            + np.arange(-1, 2)[:, None, None] * way[:, None, None]
            + across[:, None] * side[:, None, None]
        )
        seen = np.clip(_looked_up(shown, grid, cv2.INTER_LINEAR), -0.25, 1.25).mean(axis=1)
        rest = seen * (_looked_up(own, grid[:, 1], cv2.INTER_NEAREST) == 0)
        width = 0.5 * seen[:, windows[0]].sum(axis=1)
        rough = np.sqrt(np.square(0.5 * rest @ windows[1:].T).mean(axis=1))
        on = width >= np.maximum(LEAST, ABOVE * rough)
        lengths[some[~on]] = step
        if not on.any():
            break
        some, place, way, side, seen, width = (part[on] for part in (some, place, way, side, seen, width))
        off = (seen * across)[:, windows[0]].sum(axis=1) / (2 * width)
        place = place + np.clip(off, -0.7, 0.7)[:, None] * side
        middles[step + 1, some], widths[step, some] = place, width
        way = unit((1 - TURNING) * way + TURNING * unit(place - middles[max(step + 1 - BACK, 0), some]))
        place = place + way
    needles = (
        _drawn(middles[: n + 1, at], widths[:n, at], ways[at])
        for at, n in enumerate(lengths)
        if SHORTEST + SPREAD <= n < LONGEST
    )
    return [needle for needle in needles if needle is not None]


def _looked_up(picture: np.ndarray, places: np.ndarray, how: int) -> np.ndarray:
    """The picture at (n, ..., 2) places (column, row), (n, ...)."""
    import cv2

    x, y = np.moveaxis(places.reshape(len(places), -1, 2).astype(np.float32), -1, 0)
    return cv2.remap(
        picture, np.ascontiguousarray(x), np.ascontiguousarray(y), how, borderMode=cv2.BORDER_REPLICATE
    ).reshape(places.shape[:-1])


def _drawn(middles: np.ndarray, widths: np.ndarray, straight: np.ndarray) -> Polygon | None:
    """A needle whose root and steps have these middles, (n + 1, 2), and whose steps have these widths, (n,); None if it is none."""
    third = len(widths) // 3
    if np.mean(widths[:BASE]) < STOUT or np.mean(widths[-third:]) > THINNER * np.mean(widths[:third]):
        return None
    ends = middles[:-SPREAD]
    if unit(ends[-1] - ends[0]) @ straight < np.cos(np.radians(ASIDE_DEG)):
        return None
    aside = unit(np.gradient(ends, axis=0))[:, ::-1] * (-1, 1) * np.array([widths[0], *widths[:-SPREAD]])[:, None] / 2
    left, right = ends + aside, ends - aside
    return shapely.union_all(
        [Polygon([*left[n : n + 2], *right[n : n + 2][::-1]]).convex_hull for n in range(len(ends) - 1)]
    )
