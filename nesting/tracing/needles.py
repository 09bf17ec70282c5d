"""Follow spikes and bays on where they have become thinner than the blur of the photo."""

from __future__ import annotations

from typing import cast

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..geometry import largest_polygon
from .arrays import Floats, Picture
from .colours import disc
from .curve import CURVE, sharpness, unit
from .limits import METHOD

NEEDLES = METHOD.needles


def followed(outline: Polygon, cover: Floats) -> Polygon:
    """The outline with its tips drawn on along what still shows of them.

    Across a needle thinner than the blur no pixel is half covered, but what all of them show sums up to its width, and
    its middle is where they show most.

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

    ring = np.asarray(outline.exterior.coords)
    even, before, after, turn = sharpness(ring, CURVE.near_pixels, CURVE.far_pixels)
    count = len(even)
    whole = np.zeros(cover.shape, np.uint8)
    cv2.fillPoly(whole, [np.round(even).astype(np.int32)], 1)
    own = {leather: cv2.dilate(whole if leather else 1 - whole, disc(NEEDLES.own_pixels)) for leather in (True, False)}
    tips: list[int] = []
    taken = np.zeros(count, bool)
    for at in np.argsort(turn).tolist():
        if turn[at] > NEEDLES.bluntest_deg:
            break
        if not taken[at]:
            taken[(at + np.arange(-CURVE.far_pixels, CURVE.far_pixels + 1)) % count] = True
            tips.append(at)
    ways = unit(before[tips] + after[tips])
    columns, rows = np.clip(
        np.round(even[tips] - NEEDLES.inward_pixels * ways).astype(int), 0, np.array(cover.shape[::-1]) - 1
    ).T
    leather = cover[rows, columns] > 0.5
    spikes = _needles(even[tips][leather], ways[leather], cover, own[True])
    bays = _needles(even[tips][~leather], ways[~leather], 1 - cover, own[False])
    if not spikes and not bays:
        return outline
    drawn = outline.union(shapely.union_all(spikes)).difference(shapely.union_all(bays))
    largest = largest_polygon(drawn) or outline
    return Polygon(largest.exterior, [*outline.interiors])


def _needles(tips: Floats, ways: Floats, shown: Floats, own: Picture) -> list[Polygon]:
    """What goes on beyond some of the tips, (n, 2), that point along ``ways``, (n, 2), each with its root inside it.

    ``shown`` is the share that each pixel shows of what the tips are made of; where ``own``, that is no roughness of
    the rest.
    """
    import cv2

    if not len(tips):
        return []
    beside, far_beside, longest = NEEDLES.beside_pixels, NEEDLES.far_beside_pixels, NEEDLES.longest_pixels
    across = np.arange(-far_beside - NEEDLES.half_pixels, far_beside + NEEDLES.half_pixels + 0.1, 0.5)
    centres = (0.0, beside, far_beside, -beside, -far_beside)
    windows = np.array([np.abs(across - centre) <= NEEDLES.half_pixels for centre in centres])
    middles, widths = np.zeros((longest + 1, len(tips), 2)), np.zeros((longest, len(tips)))
    middles[0] = tips - NEEDLES.root_pixels * ways
    lengths, some, place, way = np.full(len(tips), longest), np.arange(len(tips)), tips, ways
    for step in range(longest):
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
        on = width >= np.maximum(NEEDLES.least_pixels, NEEDLES.above_times * rough)
        lengths[some[~on]] = step
        if not on.any():
            break
        some, place, way, side, seen, width = (each[on] for each in (some, place, way, side, seen, width))
        off = (seen * across)[:, windows[0]].sum(axis=1) / (2 * width)
        place = place + np.clip(off, -NEEDLES.most_off_pixels, NEEDLES.most_off_pixels)[:, None] * side
        middles[step + 1, some], widths[step, some] = place, width
        seen_way = unit(place - middles[max(step + 1 - NEEDLES.back_pixels, 0), some])
        way = unit((1 - NEEDLES.turning) * way + NEEDLES.turning * seen_way)
        place = place + way
    needles = (
        _drawn(middles[: n + 1, at], widths[:n, at], ways[at])
        for at, n in enumerate(lengths)
        if NEEDLES.shortest_pixels + NEEDLES.spread_pixels <= n < longest
    )
    return [needle for needle in needles if needle is not None]


def _looked_up(picture: Floats | Picture, places: Floats, how: int) -> Floats:
    """The picture at (n, ..., 2) places (column, row), (n, ...)."""
    import cv2

    x, y = np.moveaxis(places.reshape(len(places), -1, 2).astype(np.float32), -1, 0)
    x, y = np.ascontiguousarray(x), np.ascontiguousarray(y)
    seen: Floats = cv2.remap(picture, x, y, how, borderMode=cv2.BORDER_REPLICATE)
    return seen.reshape(places.shape[:-1])


def _drawn(middles: Floats, widths: Floats, straight: Floats) -> Polygon | None:
    """A needle whose root and steps have these middles, (n + 1, 2), and whose steps have these widths, (n,); None if it
    is none."""
    third = len(widths) // 3
    if np.mean(widths[: NEEDLES.base_pixels]) < NEEDLES.stout_pixels:
        return None
    if np.mean(widths[-third:]) > NEEDLES.thinner_share * np.mean(widths[:third]):
        return None
    ends = middles[: -NEEDLES.spread_pixels]
    if unit(ends[-1] - ends[0]) @ straight < np.cos(np.radians(NEEDLES.aside_deg)):
        return None
    wide = np.array([widths[0], *widths[: -NEEDLES.spread_pixels]])[:, None]
    aside = unit(np.gradient(ends, axis=0))[:, ::-1] * (-1, 1) * wide / 2
    left, right = ends + aside, ends - aside
    quads = [Polygon([*left[n : n + 2], *right[n : n + 2][::-1]]).convex_hull for n in range(len(ends) - 1)]
    return cast(Polygon, shapely.union_all(quads))
